"""What all members answer, side by side, filled block by block.

One piece of memory, cut up: asking for each array by itself costs as much as a short run."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import accumulate, pairwise

import numpy as np
from numpy.typing import NDArray

from ullage.transport import kernel
from ullage.transport.block import Answer
from ullage.transport.course import Course, Tally
from ullage.transport.recipe import Exchange, Recipe

Floats = NDArray[np.float64]

OUTFLOW_BIN_M3 = 1e-4
# Figures of each step and member: by the books, gone by the kernel, inside by the kernel.
_BOOKED, _GONE, _INSIDE = 4, 4, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """The books of a recipe, as carried out on some columns.

    ``figures`` are what was poured, the lowest level, the time it took and the level at the end,
    (4, steps, columns)."""

    course: Course
    tallies: list[Tally]
    figures: Floats = field(init=False)

    def __post_init__(self) -> None:
        found = np.array(
            [
                [tally.poured_m3 for tally in self.tallies],
                [np.maximum(tally.lowest_m3, 0.0) for tally in self.tallies],
                [tally.duration_s for tally in self.tallies],
                [tally.level_m3 for tally in self.tallies],
            ]
        )
        object.__setattr__(self, "figures", found)


class Gathered:
    """The answers of all members; steps, parts or bins come first, members last."""

    def __init__(self, recipe: Recipe, *, parts: int, members: int) -> None:
        steps = len(recipe.steps)
        bins = [
            bin_ends(step.litres_m3 if isinstance(step, Exchange) else 0.0) for step in recipe.steps
        ]
        self.edges = [ends for ends, _ in bins]
        self.widths = [widths for _, widths in bins]
        sizes = [_BOOKED * steps, _GONE * steps, _INSIDE * steps, 2 * parts]
        ends = [*accumulate([*sizes, *(len(edges) for edges in self.edges)], initial=0)]
        whole = np.full((ends[-1], members), np.nan)
        booked, gone, inside, both, *self.bins = [whole[a:b] for a, b in pairwise(ends)]
        self.booked = booked.reshape(_BOOKED, steps, members)
        self.gone = gone.reshape(_GONE, steps, members)
        self.inside = inside.reshape(_INSIDE, steps, members)
        self.parts = both.reshape(2, parts, members)
        self.poured, self.lowest, self.duration, self.level = self.booked
        self.waste, self.waste_old, self.spilled, self.spilled_old = self.gone
        self.fluid, self.held = self.inside
        self.fluid_before = np.zeros(members)
        self.stopped = np.zeros(members, dtype=np.bool_)
        self.made = 0

    def take(
        self, answer: Answer, books: Books, who: NDArray[np.intp] | slice, columns: slice
    ) -> None:
        """Put a block's answer where its members belong."""
        told, tallies = answer.told, books.tallies
        steps = len(tallies)
        self.booked[:, :steps, who] = books.figures[:, :, columns]
        self.waste[:steps, who] = told.waste_m3
        self.waste_old[:steps, who] = told.waste[:, 0]
        self.spilled[:steps, who] = told.spilled_m3
        self.spilled_old[:steps, who] = told.spilled[:, 0]
        self.fluid[:steps, who] = told.fluid_m3
        self.held[:steps, who] = told.held[:, 0]
        self.parts[:, :, who] = answer.parts
        self.fluid_before[who] = answer.fluid_before_m3
        self.stopped[who] = books.course.alive[columns] == 0.0
        self.made += answer.made
        for tally in tallies:
            if tally.trace_rows:
                edges = self.edges[tally.index]
                rows = slice(tally.first_trace, tally.first_trace + tally.trace_rows)
                bins = np.empty((len(edges), told.trace.shape[1]))
                kernel.bin_means(told.trace_m3[rows], told.trace[rows], edges, bins)
                self.bins[tally.index][:, who] = bins
        if steps < len(self.poured):
            self._stand_still(steps, who)

    def _stand_still(self, done: int, who: NDArray[np.intp] | slice) -> None:
        """Let members whose run ended early keep what they held in the steps that others still
        make.
        """
        for flow in (self.poured, self.duration, *self.gone):
            flow[done:, who] = 0.0
        for state in (self.lowest, self.level, *self.inside):
            state[done:, who] = state[done - 1, who]


@lru_cache(maxsize=64)
def bin_ends(litres_m3: float) -> tuple[Floats, Floats]:
    """Return how the outflow of an exchange is cut into bins.

    Parameters
    ----------
    litres_m3 : scalar
        What goes to waste. [m3]

    Returns
    -------
    ends_and_widths : two arrays of (bins,)
        Upper end of each bin, and its width; the last one may be narrower. [m3]

    Source
    ------
    Arithmetic.
    """
    whole = int(litres_m3 / OUTFLOW_BIN_M3 + 1e-9)
    ends: Floats = OUTFLOW_BIN_M3 * np.arange(1.0, whole + 1.0)
    if litres_m3 - whole * OUTFLOW_BIN_M3 > 1e-9:
        ends = np.append(ends, litres_m3)
    widths = np.diff(ends, prepend=0.0)
    ends.flags.writeable = widths.flags.writeable = False
    return ends, widths
