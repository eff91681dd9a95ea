"""The screen of figures, against sums done by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ullage.circuit.catalogue import circuit_template, circuit_templates
from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg
from ullage.circuit.sanity import Renewal, sanity
from ullage.circuit.uncertain import exact
from ullage.errors import NotFound
from ullage.formats.circuit_file import parse_circuit


def built_in(name: str) -> Circuit:
    """Return a built-in circuit."""
    return parse_circuit(circuit_template(name).text, name)


@pytest.fixture(scope="module")
def van() -> Circuit:
    """Return the levelling van."""
    return built_in("levelling-van")


def with_leg(circuit: Circuit, name: str, **changes: object) -> Circuit:
    """Return a circuit with one leg changed."""
    legs: list[Leg] = [
        replace(leg, **changes) if leg.id == name else leg  # type: ignore[arg-type]
        for leg in circuit.legs
    ]
    return replace(circuit, legs=tuple(legs))


def renewal(circuit: Circuit, name: str) -> tuple[Renewal, str]:
    """Return the verdict on one leg."""
    found = next(reach for reach in sanity(circuit).reaches if reach.leg == name)
    return found.renewal, found.sentence


def test_shares_add_up(van: Circuit) -> None:
    """Reservoir, loop and legs are the whole; each leg is part of the legs."""
    screen = sanity(van)
    share = {row.name: row for row in screen.shares}
    each = [share[leg.id].volume_m3 for leg in van.legs]

    assert sum(share[n].share for n in ("reservoir", "loop", "legs")) == pytest.approx(1.0)
    assert sum(each) == pytest.approx(share["legs"].volume_m3)
    assert screen.total_low_m3 < screen.total_m3 < screen.total_high_m3


def test_a_leg_holds_line_dead_stroke_and_oil_behind_gas(van: Circuit) -> None:
    """pi/4 8^2 3200 mm3 + 0.16 + 0.25 + 0.45 (1 - 61.01325 / 121.01325) l."""
    share = {row.name: row for row in sanity(van).shares}
    by_hand_l = math.pi / 4 * 0.64 * 320 / 1e3 + 0.16 + 0.25 + 0.45 * (1 - 61.01325 / 121.01325)

    assert share["front-left"].volume_m3 * 1e3 == pytest.approx(by_hand_l, rel=1e-9)


def test_seconds_to_the_minimum(van: Circuit) -> None:
    """1.7 l over 14 ml x 750 x 88 %; at worst 2.565 - 1.15 l over 14.42 ml x 750 x 95 %."""
    screen = sanity(van)

    assert screen.idle_flow_m3_s * 60e3 == pytest.approx(9.24)
    assert screen.seconds_to_minimum == pytest.approx(1.7 / 9.24 * 60)
    assert screen.seconds_to_minimum_sure == pytest.approx((2.565 - 1.15) / 10.27425 * 60)


def test_reynolds_numbers(van: Circuit) -> None:
    """4 Q / (pi d nu), in the supply's 12 mm with the old fluid at 60 degC."""
    flow = next(row for row in sanity(van).line_flows if row.line == "supply")
    nu = van.fluid.nu_m2_s(333.15)

    assert flow.re_warm == pytest.approx(4 * 9.24e-3 / 60 / (math.pi * 0.012 * nu), rel=1e-9)
    assert (flow.regime_cool, flow.regime_warm) == ("laminar", "laminar")


def test_two_legs_of_a_group_share_the_flow(van: Circuit) -> None:
    """Front left and right rise together: each line sees half of it."""
    flow = {row.line: row.flow_m3_s for row in sanity(van).line_flows}

    assert flow["front-left.line"] == pytest.approx(flow["supply"] / 2)


def test_the_other_side_of_a_pair_takes_no_flow() -> None:
    """One side of a steering rack fills while the other empties."""
    flow = {row.line: row.flow_m3_s for row in sanity(built_in("rack-steering")).line_flows}

    assert flow["rack-left.line"] == pytest.approx(flow["return"])


def test_parallel_paths_share_the_flow() -> None:
    """80 % through the work, 20 % through the cooler, all of it through the suction."""
    flow = {row.line: row.flow_m3_s for row in sanity(built_in("compact-loader")).line_flows}

    assert flow["supply"] / flow["suction"] == pytest.approx(0.8)
    assert flow["to-cooler"] / flow["suction"] == pytest.approx(0.2)


def test_a_long_line_only_shuttles(van: Circuit) -> None:
    """Where the line holds more than the stroke moves, pouring renews nothing."""
    verdict, sentence = renewal(with_leg(van, "rear-left", stroke_m3=exact(0.5e-3)), "rear-left")

    assert verdict is Renewal.SHUTTLES
    assert "no amount of pouring renews it; bleed it" in sentence


def test_less_of_the_stroke_is_less_renewal(van: Circuit) -> None:
    """0.62 l of stroke do not help where only 80 % of them are used."""
    verdict, _ = renewal(with_leg(van, "rear-left", stroke_use_share=exact(0.8)), "rear-left")

    assert verdict is Renewal.SHUTTLES


def test_a_narrow_margin_is_said_to_be_one(van: Circuit) -> None:
    """0.62 against 0.55 l, with 25 and 40 % of spread, may go either way."""
    verdict, sentence = renewal(van, "rear-left")

    assert verdict is Renewal.MAY_SHUTTLE
    assert "measure its bore and length first" in sentence


def test_what_five_strokes_leave(van: Circuit) -> None:
    """((dead + gas + line) / (dead + gas + stroke))^5, by hand: 9 %."""
    dead_l = 0.16 + 0.45 * (1 - 61.01325 / 121.01325)
    line_l = math.pi / 4 * 0.64 * 320 / 1e3
    by_hand = ((dead_l + line_l) / (dead_l + 0.5)) ** 5
    verdict, sentence = renewal(van, "front-left")

    assert verdict is Renewal.RENEWS
    assert f"after 5 strokes {by_hand * 100:.0f} % of the chamber is still old" in sentence


@pytest.mark.parametrize(
    ("changes", "verdict", "words"),
    [
        ({"held_by": HeldBy.CONTROLLER}, Renewal.FLOOR, "what it holds is a floor"),
        ({"stroke_m3": exact(0.0)}, Renewal.GAS_ONLY, "releasing and charging"),
        ({"stroke_m3": exact(0.0), "gas": None}, Renewal.BLEED_ONLY, "bleed it"),
        (
            {"stroke_m3": exact(0.0), "gas": None, "bleed": False},
            Renewal.BLEED_ONLY,
            "no bleed point either, so it is a floor",
        ),
    ],
)
def test_what_does_not_move(
    van: Circuit, changes: dict[str, object], verdict: Renewal, words: str
) -> None:
    """Each reason why exercising does not reach a leg has its own sentence."""
    found, sentence = renewal(with_leg(van, "front-left", **changes), "front-left")

    assert (found, words in sentence) == (verdict, True)


def test_a_hand_pump_has_its_own_flow() -> None:
    """0.2 l at 0.3 l/min: 40 s."""
    assert sanity(built_in("wheel-brakes")).seconds_to_minimum == pytest.approx(40.0)


def test_there_are_six_circuits_with_a_purpose() -> None:
    """Each begins with one line that says what it is for."""
    found = circuit_templates()

    assert len(found) == 6
    assert [t.name for t in found if len(t.purpose) < 20 or t.purpose.startswith("#")] == []


def test_an_unknown_circuit_names_the_known_ones() -> None:
    """The answer lists what there is."""
    with pytest.raises(NotFound, match="levelling-van"):
        circuit_template("levelling-bus")
