"""When does the outflow look fresh, and what would have been left, had one stopped there?

The moment is read off a run's outflow; ``recipe_until`` cuts a recipe there, so that the solver can
say what every part holds at that moment.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ullage.drawing.figures import middle
from ullage.transport.recipe import Exchange, Recipe
from ullage.transport.result import Run

#: Outflow with no more old fluid than this looks fresh beside new fluid; our own choice.
LOOKS_FRESH = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A moment of an exchange: in which step, what had been poured, and how old the outflow is.

    ``step`` counts from 1; ``into_step_m3`` is what that step had sent to waste, ``poured_m3``
    all new fluid since the job began. ``looks_fresh`` is False where the outflow never does: then
    it is the end of the last exchange."""

    step: int
    into_step_m3: float
    poured_m3: float
    outflow_old_share: float
    looks_fresh: bool


def moment_of(run: Run) -> Moment | None:
    """Return when the outflow first looks fresh; None where nothing went through a diverter."""
    found: Moment | None = None
    for outflow in run.outflow:
        before = sum(middle(step.poured_m3) for step in run.steps[: outflow.step - 1])
        for end_m3, shares in zip(outflow.waste_m3, outflow.old_share, strict=True):
            if not np.any(np.isfinite(shares)):
                break
            share = middle(shares)
            found = Moment(
                step=outflow.step,
                into_step_m3=float(end_m3),
                poured_m3=before + float(end_m3),
                outflow_old_share=share,
                looks_fresh=share <= LOOKS_FRESH,
            )
            if found.looks_fresh:
                return found
    return found


def recipe_until(recipe: Recipe, moment: Moment) -> Recipe:
    """Return the recipe as somebody would have carried it out who stops at the moment."""
    last = recipe.steps[moment.step - 1]
    if not isinstance(last, Exchange):
        raise TypeError(f"step {moment.step} is no exchange, so nothing flowed out in it")
    cut = replace(last, litres_m3=moment.into_step_m3)
    return replace(recipe, steps=(*recipe.steps[: moment.step - 1], cut))
