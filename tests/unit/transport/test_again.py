"""A solver that has run a recipe before answers as if it were the first time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.planning.machines import built_in
from ullage.formats.recipe_file import parse_recipe
from ullage.transport.examples import recipe_template
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
