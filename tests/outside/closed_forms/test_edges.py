"""Does the solver get the small things right that a pencil can follow?"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.outside.closed_forms.answers import Regime, share
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
from ullage.circuit.parts import HeldBy
from ullage.transport.layout import FINE
from ullage.transport.recipe import (
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Extend,
    Retract,
    SwapFilter,
)
from ullage.transport.result import Run
from ullage.transport.solve import simulate


def litres(run: Run, part: str) -> float:
    """Return the fluid that a part holds at the end."""
    return float(run.parts[part].fluid_m3[0]) / LITRE


@pytest.mark.parametrize("regime", ["plug", "laminar"])
def test_parts_that_stand_still_keep_what_they_hold(regime: Regime) -> None:
    """A pair gives back more than it takes: nothing comes from the pump, all stays old."""
    legs = [
        leg("a", "block", line_l=0.05, stroke_l=0.2, dead_l=0.02, start_share=0.9, opposes="b"),
        leg("b", "block", line_l=0.15, stroke_l=0.1, dead_l=0.02, start_share=0.1),
    ]
    machine = circuit(
        [line("suction", 0.1), node("body", 0.1), node("block", 0.2)],
        reservoir(2.0, brim_l=3.0),
        legs=legs,
    )
    run = simulate(machine, recipe(Retract(legs=("a",))), regime=regime)

    assert {part: share(run, part) for part in run.parts} == pytest.approx(
        dict.fromkeys(run.parts, 1.0), abs=1e-12
    )


@pytest.mark.parametrize("regime", ["plug", "laminar"])
def test_legs_may_take_all_that_flows(regime: Regime) -> None:
    """Their window is cut to what the pump gives; what is behind them stands while they extend.

    Whether rounding leaves nothing or next to nothing of the flow depends on the strokes.
    """
    exercise = Exercise(groups=("all",), period_s=7.0)
    for k in range(20):
        legs = [
            leg(
                f"leg-{i}",
                "block",
                line_l=0.1 + 0.1 * i,
                stroke_l=0.3 + 0.013 * k + 0.1 * i,
                dead_l=0.1,
                start_share=0.5,
                group="all",
            )
            for i in range(3)
        ]
        machine = circuit(
            [line("supply", 0.3), node("block", 0.2), line("back", 0.37), node("cooler", 0.9)],
            reservoir(3.0),
            legs=legs,
        )
        run = simulate(
            machine, recipe(Exchange(litres_m3=2.0 * LITRE, exercise=exercise)), regime=regime
        )
        out = float(run.steps[0].waste_old_m3[0])
        old = math.fsum(float(part.old_m3[0]) for part in run.parts.values())
        before = math.fsum(float(part.fluid_m3[0]) for part in run.parts.values())

        assert old + out == pytest.approx(before, abs=1e-12)


@pytest.mark.parametrize(
    "step", [Circulate(duration_s=2.0), Exchange(litres_m3=0.1 * LITRE)], ids=["round", "out"]
)
def test_a_pump_that_starts_on_an_empty_reservoir_stops_the_run(
    step: Circulate | Exchange,
) -> None:
    """Empty with the pump running: the run stops there and every part keeps what it holds."""
    machine = circuit([line("pipe", 0.1), node("block", 0.2)], reservoir(1.0))
    run = simulate(machine, recipe(DrawOff(leave_m3=0.0), step), regime="plug")

    assert run.stop is not None
    assert run.stop.step == 2
    assert [litres(run, part) for part in ("reservoir", "pipe", "block")] == pytest.approx(
        [0.0, 0.1, 0.2]
    )
    assert float(run.parts["pipe"].old_m3[0]) / LITRE == pytest.approx(0.1, abs=1e-12)


def test_a_dry_strainer_fills_before_legs_extend_through_it() -> None:
    """Extending runs the pump: the housing on its way takes its 0.3 L first."""
    machine = circuit(
        [node("strainer", 0.3, element=True), line("pipe", 0.1), node("block", 0.2)],
        reservoir(2.0),
        legs=[leg("one", "block", line_l=0.05, stroke_l=0.2, dead_l=0.02)],
    )
    run = simulate(machine, recipe(SwapFilter(prefilled=False), Extend()), regime="plug")

    assert litres(run, "strainer") == pytest.approx(0.3)
    assert litres(run, "reservoir") == pytest.approx(2.0 - 0.3 - 0.2)


def test_a_dry_filter_fills_from_the_reservoir_while_what_is_behind_it_stands() -> None:
    """Circulating six seconds: 0.3 L for the housing, then 0.1 L through it."""
    machine = circuit(
        [line("pipe", 0.5), node("filter", 0.3, element=True), line("back", 0.5)], reservoir(2.0)
    )
    work = recipe(SwapFilter(prefilled=False), *RENEWED, Circulate(duration_s=6.0))
    run = simulate(machine, work, regime="plug", resolution=FINE)
    came_back = 0.1 - 1.7 * (1.0 - math.exp(-0.1 / 1.7))

    assert litres(run, "reservoir") == pytest.approx(1.7)
    assert share(run, "pipe") == pytest.approx((0.1 + came_back) / 0.5, abs=1e-4)
    assert share(run, "back") == pytest.approx(1.0, abs=1e-12)


def test_a_leg_under_its_controller_never_moves() -> None:
    """Named or in a group that is exercised, it stays where it stands and keeps its old fluid."""
    legs = [
        leg("free", "block", line_l=0.01, stroke_l=0.2, dead_l=0.02, group="all"),
        replace(
            leg("held", "block", line_l=0.01, stroke_l=0.2, dead_l=0.02, group="all"),
            held_by=HeldBy.CONTROLLER,
        ),
    ]
    machine = circuit([line("pipe", 0.1), node("block", 0.1)], reservoir(3.0), legs=legs)
    exercise = Exercise(groups=("all",), period_s=60.0)
    work = recipe(
        *RENEWED, Exchange(litres_m3=2.0 * LITRE, exercise=exercise), Extend(legs=("free", "held"))
    )
    run = simulate(machine, work, regime="plug")

    assert litres(run, "free.chamber") == pytest.approx(0.22)
    assert litres(run, "held.chamber") == pytest.approx(0.02)
    assert share(run, "held.line") == 1.0


def test_a_return_over_the_brim_spills_what_is_mixed() -> None:
    """0.1 L of old return fill up to the brim, 0.2 L more push the mixture over it."""
    machine = circuit(
        [line("pipe", 0.1), node("block", 0.2), line("back", 0.1)],
        reservoir(2.0, brim_l=2.1),
        legs=[leg("one", "block", line_l=0.05, stroke_l=0.3, dead_l=0.02, start_share=1.0)],
    )
    run = simulate(machine, recipe(*RENEWED, Retract()), regime="plug", resolution=FINE)
    full = 0.1 / 2.1

    assert float(run.steps[-1].spilled_m3[0]) / LITRE == pytest.approx(0.2, abs=1e-12)
    assert share(run, "reservoir") == pytest.approx(
        1.0 - (1.0 - full) * math.exp(-0.2 / 2.1), abs=5e-4
    )


def test_the_parts_add_up_to_the_books() -> None:
    """What the parts hold is what the balance says is left."""
    legs = [
        leg("a", "block", line_l=0.3, stroke_l=0.2, dead_l=0.02, fittings=1, gas_oil_l=0.1),
        leg("b", "block", line_l=0.1, stroke_l=0.3, dead_l=0.05, start_share=0.4),
    ]
    machine = circuit(
        [line("pipe", 0.3, fittings=1), node("block", 0.2)], reservoir(2.0, brim_l=3.0), legs=legs
    )
    work = recipe(
        *RENEWED,
        Exchange(litres_m3=2.0 * LITRE, exercise=Exercise(groups=("a", "b"), period_s=20.0)),
    )
    for regime in ("plug", "laminar"):
        run = simulate(machine, work, regime=regime)
        old = math.fsum(float(part.old_m3[0]) for part in run.parts.values())

        assert old == pytest.approx(run.balance.old_left_m3, abs=1e-15)
