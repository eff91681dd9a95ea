"""A solver that has run a recipe before answers as if it were the first time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.planning.machines import built_in
from ullage.formats.recipe_file import parse_recipe
from ullage.transport.examples import recipe_template
from ullage.transport.recipe import Exchange, Extend
from ullage.transport.result import Run
from ullage.transport.solve import Solver


def told(run: Run) -> list[bytes]:
    """Return every number of a run."""
    parts = [a for part in run.parts.values() for a in (part.fluid_m3, part.old_m3)]
    out = [bins.old_share for bins in run.outflow]
    return [a.tobytes() for a in (run.remaining_share, run.trace.remaining_share, *parts, *out)]


@pytest.mark.parametrize("regime", ["plug", "laminar"])
def test_what_one_run_left_behind_does_not_reach_the_next(regime: str) -> None:
    """The same recipe again, another one between, and a solver that has run nothing: same bytes."""
    circuit = built_in("levelling-van")
    recipe = parse_recipe(recipe_template("levelling-van-divert-axles").text, "axles")
    other = replace(recipe, steps=recipe.steps[:2])
    solver = Solver(circuit)

    first = told(solver.run(recipe, regime=regime, bracket=False))
    between = solver.run(other, regime=regime, bracket=False)
    again = told(solver.run(recipe, regime=regime, bracket=False))

    assert again == first == told(Solver(circuit).run(recipe, regime=regime, bracket=False))
    assert np.all(between.remaining_share >= 0.0)


@pytest.mark.parametrize("regime", ["plug", "laminar"])
def test_a_cycle_is_remembered_only_for_the_same_motion(regime: str) -> None:
    """Other litres take it as it was; another period, or legs that stand elsewhere, do not."""
    circuit = built_in("levelling-van")
    recipe = parse_recipe(recipe_template("levelling-van-divert-axles").text, "axles")
    at = next(n for n, step in enumerate(recipe.steps) if isinstance(step, Exchange))
    step = recipe.steps[at]
    assert isinstance(step, Exchange)
    before, after = recipe.steps[:at], recipe.steps[at + 1 :]
    slower = replace(step.exercise, period_s=1.5 * step.exercise.period_s)
    others = [
        (*before, replace(step, litres_m3=0.8 * step.litres_m3), *after),
        (*before, replace(step, exercise=slower), *after),
        (*before, Extend(), step, *after),
    ]
    used = Solver(circuit)
    used.run(recipe, regime=regime, bracket=False)

    for steps in others:
        other = replace(recipe, steps=steps)
        fresh = told(Solver(circuit).run(other, regime=regime, bracket=False))
        assert told(used.run(other, regime=regime, bracket=False)) == fresh
