"""Which moments of a recipe are worth a picture, and what had been done by then?

As found, after each step, and inside long exchanges now and then: that is where most fluid moves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ullage.transport.recipe import Exchange, Recipe, Stand

#: An exchange is shown in pieces of about this many litres, in so many at most.
_PIECE_M3 = 1.5e-3
_MOST_PIECES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanMoment:
    """A moment: after so many whole steps, and ``into_m3`` into the next, an exchange."""

    after_step: int
    into_m3: float = 0.0

    @property
    def is_between_steps(self) -> bool:
        """Tell whether no step is under way."""
        return self.into_m3 == 0.0


def moments_of(recipe: Recipe) -> tuple[PlanMoment, ...]:
    """Return the moments of a recipe in order, the first as found, the last at its end."""
    found = [PlanMoment(after_step=0)]
    for number, step in enumerate(recipe.steps):
        if isinstance(step, Exchange):
            pieces = min(max(math.floor(step.litres_m3 / _PIECE_M3), 1), _MOST_PIECES)
            found += [
                PlanMoment(after_step=number, into_m3=step.litres_m3 * piece / pieces)
                for piece in range(1, pieces)
            ]
        found.append(PlanMoment(after_step=number + 1))
    return tuple(found)


def recipe_at(recipe: Recipe, moment: PlanMoment) -> Recipe:
    """Return what had been carried out of a recipe at a moment; as found, nobody did anything."""
    steps = recipe.steps[: moment.after_step]
    if not moment.is_between_steps:
        under_way = recipe.steps[moment.after_step]
        if not isinstance(under_way, Exchange):
            raise TypeError(f"step {moment.after_step + 1} is no exchange, so nothing flows in it")
        steps = (*steps, replace(under_way, litres_m3=moment.into_m3))
    return replace(recipe, steps=steps or (Stand(duration_s=0.0),))
