"""Levels by hand for warmth, strokes and gas; the solver's own levels after it moved everything."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import OIL, bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.circuit.uncertain import exact
from ullage.planning.level_target import level_target
from ullage.transport.recipe import Charge, Extend, Fill, Recipe, Release, Retract, Step
from ullage.transport.solve import simulate
from ullage.units.convert import kelvin_from_degc

MARK_K = kelvin_from_degc(20.0)


def filled(name: str) -> Circuit:
    """Return a built-in circuit that stands at its full mark."""
    circuit = built_in(name)
    return replace(
        circuit, reservoir=replace(circuit.reservoir, start_m3=circuit.reservoir.full_m3)
    )


def test_at_the_mark_it_is_at_the_mark() -> None:
    """Same state, same temperature: nothing to add."""
    found = level_target(built_in("levelling-van"), temperature_k=MARK_K)

    assert found.height_m == pytest.approx(0.0, abs=1e-12)
    assert found.volume_m3 == pytest.approx(2.8e-3)
    assert found.caveats == ()


def test_all_fluid_swells_not_that_of_the_reservoir_alone() -> None:
    """3.5 l by 40 K: the factor of table 54D on all of it, over 0.02 m2."""
    found = level_target(bench(), temperature_k=kelvin_from_degc(60.0))
    factor = OIL.volume_factor(kelvin_from_degc(60.0)) / OIL.volume_factor(MARK_K)

    assert found.swell_m3 == pytest.approx(3.5e-3 * (factor - 1.0))
    assert found.height_m == pytest.approx(3.5e-3 * (factor - 1.0) / 0.02)


def test_twelve_litres_and_sixty_kelvin_are_half_a_litre() -> None:
    """The van holds 13 l: hot fluid stands about 25 mm higher than cold."""
    found = level_target(built_in("levelling-van"), temperature_k=kelvin_from_degc(80.0))

    assert 0.5e-3 < found.swell_m3 < 0.7e-3
    assert found.height_m is not None
    assert 0.02 < found.height_m < 0.035
    assert found.low_m is not None
    assert found.high_m is not None
    assert found.low_m < found.height_m < found.high_m


def test_let_down_and_released_it_would_run_over() -> None:
    """Half of all strokes, and 60/121 of the gas volumes, come back into 2.8 l."""
    found = level_target(built_in("levelling-van"), temperature_k=MARK_K, state=State.RELEASED)

    assert found.strokes_m3 == pytest.approx(0.5 * 2 * (0.50 + 0.62) * 1e-3)
    assert found.gas_m3 == pytest.approx(2 * (0.45 + 0.65) * 1e-3 * (1 - 61.01325 / 121.01325))
    assert {c.code for c in found.caveats} == {"over-the-brim", "not-the-state-of-the-mark"}


@pytest.mark.parametrize(
    ("name", "steps", "state"),
    [
        ("levelling-van", (Extend(),), State.EXTENDED),
        ("scissor-lift", (Extend(),), State.EXTENDED),
        ("compact-loader", (Extend(),), State.EXTENDED),
        ("compact-loader", (Extend(), Retract()), State.RETRACTED),
        ("levelling-van", (Release(), Charge()), State.RETRACTED),
        ("levelling-van", (Release(),), State.RELEASED),
    ],
)
def test_the_solver_ends_at_the_same_level(
    name: str, steps: tuple[Step, ...], state: State
) -> None:
    """It moves fluid piece by piece; the target follows from what is where."""
    circuit = filled(name)
    roomy = replace(circuit, reservoir=replace(circuit.reservoir, brim_m3=exact(0.05)))
    run = simulate(roomy, Recipe(name="move", steps=(Fill(), *steps)), bracket=False)
    found = level_target(circuit, temperature_k=circuit.reservoir.mark_k, state=state)

    assert found.volume_m3 == pytest.approx(float(run.steps[-1].level_m3[0]), abs=1e-9)


def test_extended_takes_the_reservoir_below_its_minimum() -> None:
    """With the struts out 0.56 + 0.56 l are missing, still above; the lift empties its tank."""
    van = level_target(built_in("levelling-van"), temperature_k=MARK_K, state=State.EXTENDED)
    tight = built_in("levelling-van")
    high = replace(tight, reservoir=replace(tight.reservoir, minimum_m3=exact(2.0e-3)))
    found = level_target(high, temperature_k=MARK_K, state=State.EXTENDED)

    assert van.volume_m3 == pytest.approx(2.8e-3 - 1.12e-3)
    assert "below-the-minimum" in {c.code for c in found.caveats}


def test_a_table_of_heights_is_read_on_both_sides() -> None:
    """A reservoir that widens: 40 mm for the first 2 l, 40 mm for the next 4 l, and so on."""
    machine = bench()
    table = ((0.0, 0.0), (0.04, 2e-3), (0.08, 6e-3))
    wide = replace(machine, reservoir=replace(machine.reservoir, area_m2=None, table=table))
    hot = level_target(wide, temperature_k=kelvin_from_degc(60.0))
    cold = level_target(wide, temperature_k=kelvin_from_degc(-20.0))

    assert hot.height_m == pytest.approx(hot.swell_m3 * 0.04 / 4e-3)
    assert cold.height_m == pytest.approx(cold.swell_m3 * 0.04 / 4e-3)


def test_without_area_there_are_litres_only() -> None:
    """No height is made up."""
    machine = bench()
    blind = replace(machine, reservoir=replace(machine.reservoir, area_m2=None))
    found = level_target(blind, temperature_k=kelvin_from_degc(60.0))

    assert found.height_m is None
    assert found.volume_m3 > 3e-3
