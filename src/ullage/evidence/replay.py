"""A recipe as it was really carried out, cut where something was read in the middle of a step.

Leaves out what machines show while it is carried out (``forward``)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ullage.transport.recipe import Bleed, Exchange, Recipe, Step

#: Pieces of a step, and contents, smaller than this are none.
LEAST_PIECE_M3 = 1e-6

#: Cycles that a group really made in a step, by the step's number from 1 and the group's name.
Counted = Mapping[tuple[int, str], int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """A recipe cut where something was read in the middle of a step, with further steps behind it.

    ``step_of`` is the number, from 1, of the step that each piece belongs to; further steps go on
    counting. ``ends`` says after how many pieces a step has ended, ``within`` the same for a volume
    of a step gone to waste. ``cycle_factor`` multiplies every number of cycles."""

    recipe: Recipe
    job_steps: int
    step_of: tuple[int, ...]
    ends: tuple[int, ...]
    within: Mapping[tuple[int, float], int]
    counted: Counted
    cycle_factor: float = 1.0

    def piece(self, step: int, at_m3: float | None = None) -> int:
        """Return after how many pieces a step had ended, or had sent ``at_m3`` to waste."""
        if at_m3 is not None and (step, at_m3) in self.within:
            return self.within[step, at_m3]
        return self.ends[step - 1] if step else 0

    def with_further(self, further: tuple[Step, ...]) -> Replay:
        """Return the same with further steps behind it, each in one piece."""
        pieces, last = len(self.step_of), self.job_steps
        numbers = range(1, len(further) + 1)
        return replace(
            self,
            recipe=replace(self.recipe, steps=(*self.recipe.steps, *further)),
            step_of=(*self.step_of, *(last + n for n in numbers)),
            ends=(*self.ends, *(pieces + n for n in numbers)),
        )


def replay_of(
    recipe: Recipe,
    *,
    cuts: Mapping[int, tuple[float, ...]] | None = None,
    counted: Counted | None = None,
) -> Replay:
    """Return a recipe ready to be replayed.

    ``cuts`` are volumes of steps, counted from 1, gone to waste when something was read [m3]. A
    cycle that is under way at a cut counts as idle running.
    """
    pieces: list[Step] = []
    step_of: list[int] = []
    ends: list[int] = []
    within: dict[tuple[int, float], int] = {}
    for number, step in enumerate(recipe.steps, start=1):
        done = 0.0
        marks = sorted(set((cuts or {}).get(number, ())))
        if isinstance(step, Exchange | Bleed):
            for mark in marks:
                if mark - done > LEAST_PIECE_M3 and step.litres_m3 - mark > LEAST_PIECE_M3:
                    pieces.append(replace(step, litres_m3=mark - done))
                    step_of.append(number)
                    done = mark
                if step.litres_m3 - mark > LEAST_PIECE_M3:
                    within[number, mark] = len(pieces)
            step = replace(step, litres_m3=step.litres_m3 - done)
        pieces.append(step)
        step_of.append(number)
        ends.append(len(pieces))
    return Replay(
        recipe=replace(recipe, steps=tuple(pieces)),
        job_steps=len(recipe.steps),
        step_of=tuple(step_of),
        ends=tuple(ends),
        within=within,
        counted=dict(counted or {}),
    )
