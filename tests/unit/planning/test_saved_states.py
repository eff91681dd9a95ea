"""Runs in pieces end where the run in one piece ends, and a saved state stays as it was."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.planning.machines import built_in
from ullage.formats.recipe_file import parse_recipe
from ullage.planning.rehearsal import coarse
from ullage.transport.examples import recipe_template
from ullage.transport.recipe import DrawOff, Exchange, Fill
from ullage.transport.saved import SavedSolver
from ullage.transport.solve import Solver

EXAMPLES = (
    ("levelling-van", "levelling-van-divert-axles"),
    ("compact-loader", "compact-loader-divert"),
    ("wheel-brakes", "wheel-brakes-bleed"),
    ("auto-gearbox", "auto-gearbox-cooler-hose"),
)


@pytest.mark.parametrize(("machine", "name"), EXAMPLES)
def test_pieces_end_like_the_whole(machine: str, name: str) -> None:
    """Step by step from saved states, to the digits that rounding leaves."""
    circuit = built_in(machine)
    recipe = parse_recipe(recipe_template(name).text, name)
    whole = Solver(circuit).run(recipe, members=40, seed=7, bracket=False)

    with SavedSolver(circuit, members=40, seed=7, temperature_k=recipe.temperature_k) as solver:
        state = solver.start()
        for step in recipe.steps:
            state = solver.carry_on(state, [step])

    assert state.old_m3 / state.fluid_m3 == pytest.approx(whole.remaining_share, abs=1e-9)
    poured = np.sum([step.poured_m3 for step in whole.steps], axis=0)
    assert state.poured_m3 == pytest.approx(poured, abs=1e-12)


def test_a_state_is_not_changed_by_what_follows() -> None:
    """Two ways on from one state do not know of each other."""
    with SavedSolver(built_in("rack-steering"), members=30, seed=1, temperature_k=333.15) as solver:
        state = solver.carry_on(solver.start(), (DrawOff(), Fill()))
        first = solver.carry_on(state, (Exchange(litres_m3=0.5e-3),))
        solver.carry_on(state, (Exchange(litres_m3=2e-3),))
        again = solver.carry_on(state, (Exchange(litres_m3=0.5e-3),))

    assert np.array_equal(first.old_m3, again.old_m3)
    assert np.all(first.old_m3 < state.old_m3)


@pytest.mark.parametrize(("machine", "name"), EXAMPLES)
def test_the_coarse_resolution_is_near_enough(machine: str, name: str) -> None:
    """What the search judges by errs by less than a point at the confident end."""
    circuit = built_in(machine)
    recipe = parse_recipe(recipe_template(name).text, name)
    fine = Solver(circuit).run(recipe, members=60, seed=3, bracket=False).remaining_share
    content = sum(
        float(part.fluid_m3[0])
        for part in Solver(circuit).run(recipe, bracket=False).parts.values()
    )

    with SavedSolver(
        circuit,
        members=60,
        seed=3,
        temperature_k=recipe.temperature_k,
        lanes=4,
        resolution=coarse(content),
    ) as solver:
        state = solver.carry_on(solver.start(), recipe.steps)
    apart = np.quantile(state.old_m3 / state.fluid_m3, 0.95) - np.quantile(fine, 0.95)

    assert abs(float(apart)) < 0.01
