"""Does the second solver itself give what algebra gives?"""

from __future__ import annotations

import math

import pytest

from tests.outside.closed_forms.circuits import (
    LITRE,
    RENEWED,
    circuit,
    leg,
    line,
    node,
    recipe,
    reservoir,
)
from tests.outside.segments.solver import Outcome, extrapolated, simulate
from ullage.circuit.parts import Path
from ullage.circuit.uncertain import exact
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Extend,
    Fill,
    Release,
    Retract,
    Stand,
    SwapFilter,
)


def share(outcome: Outcome, part: str) -> float:
    """Return the old share of a part."""
    return outcome.old_m3[part] / outcome.fluid_m3[part]


def old_out(outcome: Outcome) -> float:
    """Return all old fluid that went to waste."""
    return math.fsum(book.waste_old_m3 for book in outcome.steps)


def test_two_mixed_parts_in_series_follow_the_exponentials() -> None:
    """Two equal vessels: theta e^-theta + e^-theta in the second."""
    machine = circuit([node("second", 1.0)], reservoir(1.0))
    found = extrapolated(machine, recipe(Exchange(litres_m3=2.0 * LITRE)), step_m3=2e-5)

    assert found.old_m3["reservoir"] / LITRE == pytest.approx(math.exp(-2.0), abs=1e-12)
    assert found.old_m3["second"] / LITRE == pytest.approx(3.0 * math.exp(-2.0), abs=1e-7)


def test_halving_the_step_quarters_the_error() -> None:
    """The scheme is of second order, which the extrapolation relies on."""
    machine = circuit([node("second", 1.0)], reservoir(1.0))
    work = recipe(Exchange(litres_m3=2.0 * LITRE))
    true = 3.0 * math.exp(-2.0)
    errors = [
        share(simulate(machine, work, step_m3=1e-5, refine=n), "second") - true for n in (1, 2, 4)
    ]

    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.02)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.02)


def test_a_plug_line_delays_and_nothing_else() -> None:
    """Behind a renewed reservoir a plug line of 1 L holds 1 - theta."""
    machine = circuit([line("pipe", 1.0)], reservoir(5.0))
    outcome = simulate(machine, recipe(*RENEWED, Exchange(litres_m3=0.73 * LITRE)), regime="plug")

    assert share(outcome, "pipe") == pytest.approx(0.27, abs=1e-12)


def test_a_laminar_line_holds_a_quarter_over_theta() -> None:
    """Pure convection: 1/(4 theta) left inside, as far as 64 lanes resolve it."""
    machine = circuit([line("pipe", 0.5)], reservoir(5.0))
    outcome = simulate(
        machine, recipe(*RENEWED, Exchange(litres_m3=1.0 * LITRE)), regime="laminar", lanes=64
    )

    assert share(outcome, "pipe") == pytest.approx(0.125, abs=2e-4)


def test_a_laminar_line_that_turns_plug_keeps_its_old_fluid_in_place() -> None:
    """Levelling the cross-section moves nothing along the line and loses nothing."""
    from tests.outside.segments.contents import Pipe

    pipe = Pipe(1.0, fittings=1, lanes=8, is_laminar=True)
    pipe.pull(0.2, forward=True)
    pipe.push([(0.2, 0.0)], forward=True)
    laminar = pipe.old_m3
    pipe.set_regime(is_laminar=False)
    plug = pipe.old_m3
    far_half = pipe.pull(0.5, forward=True)
    pipe.push([(0.5, 0.0)], forward=True)
    pipe.set_regime(is_laminar=True)

    assert laminar == pytest.approx(0.8, abs=1e-12)
    assert plug == pytest.approx(laminar, abs=1e-12)
    assert math.fsum(v * x for v, x in far_half) == pytest.approx(0.5, abs=1e-12)
    assert pipe.old_m3 == pytest.approx(0.3, abs=1e-12)


def test_dead_share_and_bypass_follow_cholette_and_cloutier() -> None:
    """Inside: m exp(-n theta/m) + 1 - m."""
    machine = circuit([line("pipe", 0.05)], reservoir(2.0, dead_share=0.2, bypass_share=0.3))
    outcome = simulate(machine, recipe(Exchange(litres_m3=3.0 * LITRE)), regime="plug")

    expected = 0.8 * math.exp(-0.7 * 1.5 / 0.8) + 0.2
    assert share(outcome, "reservoir") == pytest.approx(expected, abs=1e-12)


def test_a_falling_and_rising_reservoir_follows_the_power_law() -> None:
    """Old fluid comes back while a leg takes and gives: 1 - (V1/V0)^(2 Q/e)."""
    machine = circuit(
        [line("long", 3.0), node("block", 0.1)],
        reservoir(2.0),
        legs=[leg("one", "block", line_l=0.1, stroke_l=0.4, dead_l=0.1)],
    )
    work = recipe(
        *RENEWED, Circulate(duration_s=60.0, exercise=Exercise(groups=("one",), period_s=60.0))
    )
    outcome = simulate(machine, work, regime="plug")

    expected = 1.0 - (1.6 / 2.0) ** (2.0 * 1.0 / 0.8)
    assert share(outcome, "reservoir") == pytest.approx(expected, abs=1e-9)
    assert outcome.steps[-1].lowest_m3 == pytest.approx(1.6e-3, abs=1e-12)
    assert outcome.steps[-1].level_m3 == pytest.approx(2.0e-3, abs=1e-12)


@pytest.mark.parametrize(("line_l", "left"), [(0.1, (0.16 / 0.3) ** 3), (0.24, 1.0), (0.4, 1.0)])
def test_a_chamber_is_renewed_only_by_what_its_stroke_holds_more_than_its_line(
    line_l: float, left: float
) -> None:
    """((dead + line)/(dead + stroke))^n, and never where the line holds the stroke or more."""
    machine = circuit(
        [node("feed", 0.05), node("gallery", 0.05)],
        reservoir(60.0),
        divert_after="gallery",
        legs=[leg("one", "feed", line_l=line_l, stroke_l=0.24, dead_l=0.06, returns_to="gallery")],
    )
    work = recipe(
        *RENEWED,
        Exchange(litres_m3=2.5 * LITRE),
        Exchange(litres_m3=3.0 * LITRE, exercise=Exercise(groups=("one",), period_s=60.0)),
    )
    outcome = simulate(machine, work, regime="plug")

    assert share(outcome, "one.chamber") == pytest.approx(left, abs=1e-9)


def test_gas_oil_moves_through_the_leg_and_back() -> None:
    """Released and charged twice: ((dead + line)/(dead + oil))^2, the level up and down."""
    machine = circuit(
        [node("feed", 0.05), node("gallery", 0.05)],
        reservoir(5.0, brim_l=7.0),
        legs=[
            leg(
                "one",
                "feed",
                line_l=0.1,
                stroke_l=0.0,
                dead_l=0.05,
                gas_oil_l=0.3,
                returns_to="gallery",
            )
        ],
    )
    flush = Exchange(litres_m3=2.5 * LITRE)
    work = recipe(
        *RENEWED, Release(), *RENEWED, flush, Charge(), Release(), *RENEWED, flush, Charge()
    )
    outcome = simulate(machine, work, regime="plug")

    assert share(outcome, "one.chamber") == pytest.approx((0.15 / 0.35) ** 2, abs=1e-9)
    assert outcome.steps[-1].level_m3 == pytest.approx(4.7e-3, abs=1e-12)


def test_extending_draws_down_and_retracting_gives_back() -> None:
    """The level shows what the legs hold; partners of a pair move the other way."""
    legs = [
        leg("up", "block", line_l=0.05, stroke_l=0.4, dead_l=0.1, start_share=0.25, opposes="down"),
        leg("down", "block", line_l=0.05, stroke_l=0.3, dead_l=0.1, start_share=0.75),
    ]
    machine = circuit(
        [line("pipe", 0.2), node("block", 0.1)], reservoir(2.0, brim_l=3.0), legs=legs
    )
    extended = simulate(machine, recipe(Extend(legs=("up",))))
    retracted = simulate(machine, recipe(Extend(legs=("up",)), Retract(legs=("up",))))

    assert extended.steps[-1].level_m3 == pytest.approx((2.0 - 0.3 + 0.225) * LITRE, abs=1e-12)
    assert retracted.steps[-1].level_m3 == pytest.approx((2.0 + 0.1 - 0.075) * LITRE, abs=1e-12)
    assert retracted.position == {"up": pytest.approx(0.0), "down": pytest.approx(1.0)}


def test_bleeding_pushes_the_line_out_first() -> None:
    """What leaves is the chamber, mixed with the line's old fluid, then with new fluid."""
    machine = circuit(
        [node("block", 0.02)],
        reservoir(5.0),
        divert_after="block",
        legs=[leg("one", "block", line_l=0.2, stroke_l=0.0, dead_l=0.1)],
    )
    work = recipe(
        *RENEWED, Exchange(litres_m3=1.0 * LITRE), Bleed(leg="one", litres_m3=0.35 * LITRE)
    )
    outcome = simulate(machine, work, regime="plug", step_m3=1e-6)

    assert share(outcome, "one.chamber") == pytest.approx(math.exp(-1.5), abs=1e-9)
    assert outcome.steps[-1].waste_m3 == pytest.approx(0.35 * LITRE, abs=1e-12)


def test_parallel_paths_share_the_flow() -> None:
    """A closed path leaves its share to the open ones; an undiverted path returns."""
    parts = [node("split", 0.01), line("left", 1.0), line("right", 1.0), node("meet", 0.01)]
    paths = [
        Path(id="a", through=("split", "left", "meet"), share=exact(0.6), divert_after="left"),
        Path(id="b", through=("split", "right", "meet"), share=exact(0.2)),
        Path(id="c", through=("split", "meet"), share=exact(0.2), opens_above_k=350.0),
    ]
    machine = circuit(parts, reservoir(9000.0), paths=paths)
    work = recipe(*RENEWED, Exchange(litres_m3=0.75 * LITRE))
    outcome = simulate(machine, work, regime="plug")

    assert share(outcome, "left") == pytest.approx(1.0 - 0.75 + 0.0075, abs=2e-5)
    assert share(outcome, "right") == pytest.approx(1.0 - 0.25 + 0.0025, abs=2e-5)
    assert outcome.steps[-1].duration_s == pytest.approx(60.0)
    assert outcome.steps[-1].poured_m3 == pytest.approx(0.75 * LITRE, abs=1e-12)


def test_a_dry_filter_fills_from_the_reservoir_first() -> None:
    """Its volume leaves the level; the parts behind it stand still meanwhile."""
    machine = circuit(
        [line("pipe", 0.5), node("filter", 0.3, element=True), line("back", 0.5)], reservoir(2.0)
    )
    work = recipe(
        SwapFilter(prefilled=False), DrawOff(leave_m3=0.0), Fill(), Circulate(duration_s=6.0)
    )
    outcome = simulate(machine, work, regime="plug")

    assert outcome.steps[-1].level_m3 == pytest.approx(1.7 * LITRE, abs=1e-12)
    # Old fluid that comes back meanwhile mixes into the 1.7 L left.
    came_back = 0.1 - 1.7 * (1.0 - math.exp(-0.1 / 1.7))
    assert share(outcome, "pipe") == pytest.approx((0.1 + came_back) / 0.5, abs=1e-6)
    assert share(outcome, "back") == pytest.approx(1.0, abs=1e-12)
    assert old_out(outcome) == pytest.approx(2.3 * LITRE, abs=1e-12)


def test_standing_between_exchanges_drains_through_the_diverter() -> None:
    """0.2 L a minute for three minutes lower the level by 0.6 L; not before the first exchange."""
    path = Path(
        id="main", through=("pipe",), divert_after="pipe", drains_m3_s=exact(0.2 * LITRE / 60.0)
    )
    machine = circuit([line("pipe", 0.5)], reservoir(2.0), paths=[path])
    stand = Stand(duration_s=180.0)
    run = Exchange(litres_m3=0.1 * LITRE)
    outcome = simulate(machine, recipe(stand, run, stand, run, stand), regime="plug")

    assert [book.level_m3 / LITRE for book in outcome.steps] == pytest.approx([2, 2, 1.4, 1.4, 1.4])


def test_an_empty_reservoir_stops_the_run() -> None:
    """A leg larger than the reservoir empties it, its dead share included."""
    machine = circuit(
        [node("block", 0.1)],
        reservoir(0.3, dead_share=0.5),
        legs=[leg("one", "block", line_l=0.05, stroke_l=0.5, dead_l=0.1)],
    )
    outcome = simulate(machine, recipe(Extend(), Fill()))

    assert outcome.stopped
    assert len(outcome.steps) == 1
    assert outcome.fluid_m3["reservoir"] == pytest.approx(0.0, abs=1e-12)


def test_a_circuit_that_only_circulates_keeps_its_old_fluid() -> None:
    """Whatever moves, the total of old fluid stays to rounding."""
    legs = [
        leg("a", "block", line_l=0.1, stroke_l=0.3, dead_l=0.05, start_share=0.3, fittings=1),
        leg("b", "block", line_l=0.3, stroke_l=0.2, dead_l=0.05, start_share=0.8),
    ]
    machine = circuit(
        [line("pipe", 0.4, fittings=2), node("block", 0.2)], reservoir(2.0, brim_l=3.0), legs=legs
    )
    exercise = Exercise(groups=("a", "b"), period_s=30.0, together=True)
    for regime in ("plug", "laminar"):
        outcome = simulate(
            machine, recipe(*RENEWED, Circulate(duration_s=400.0, exercise=exercise)), regime=regime
        )
        before = 0.4 + 0.2 + 0.1 + 0.3 + 0.05 + 0.09 + 0.05 + 0.16

        assert math.fsum(outcome.old_m3.values()) / LITRE == pytest.approx(before, abs=1e-12)
