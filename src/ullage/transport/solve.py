"""Runs a recipe on a circuit: once at the best values, or for an ensemble of machines that it
might be.

This is the door of the solver. It numbers the circuit, keeps the books of the recipe, runs the
kernel block by block on all cores, audits the balance and puts the answer together. It picks no
model silently: what was capped, shortened or changed stands in the notes."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.errors import OutOfRange
from ullage.transport import structure
from ullage.transport.balance import audited
from ullage.transport.block import BLOCK, Answer, Runner, old_fluid
from ullage.transport.course import Course, Known, Tally
from ullage.transport.gathered import Books, Gathered
from ullage.transport.lanes import LANES, Regime
from ullage.transport.layout import FAST, Kind, Layout, Pattern, Resolution
from ullage.transport.recipe import Recipe
from ullage.transport.result import Bracket, Outflow, Parts, Run, StepResult, Trace
from ullage.transport.steps import Steps
from ullage.transport.values import Values, values_of

Floats = NDArray[np.float64]

#: Where the regime of the legs moves the remainder by more than this, the answer carries the
#: bracket.
BRACKET_FROM = 0.01
#: Members whose books are kept at once; bounds the memory of large ensembles.
CHUNK = 4096
MOST_MEMBERS = 1_000_000

#: Programs of the best values that a solver keeps: asking again costs the kernel alone.
PROGRAMS_KEPT = 16

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    """A recipe worked out for the best values."""

    books: Books
    runner: Runner


def simulate(
    circuit: Circuit,
    recipe: Recipe,
    *,
    members: int = 1,
    seed: int = 0,
    regime: Regime | str | None = None,
    lanes: int = LANES,
    resolution: Resolution = FAST,
    threads: int | None = None,
    bracket: bool = True,
    progress: Progress | None = None,
) -> Run:
    """Return what is left where after a recipe; see ``Solver`` for many recipes on one circuit.

    Parameters
    ----------
    circuit, recipe : values
        What it is done to, and what is done.
    members : scalar
        1 runs the best values with the structure as stated; more draws that many machines,
        structure included. [-]
    seed : scalar
        Names the draws; the same seed gives the same bytes. [-]
    regime : value
        Forces plug or laminar flow in every line; None decides by Reynolds number.
    lanes : scalar
        Lanes of a laminar line. [-]
    resolution : value
        How finely the run is cut.
    threads : scalar
        Blocks that run side by side; None takes all cores. [-]
    bracket : value
        Whether to compare plug and laminar flow in the legs.
    progress : callable
        Told how many members of how many are done.

    Returns
    -------
    run : Run
        Arrays over members; the run of the best values stands in ``best`` when there is more than
        one.

    Raises
    ------
    OutOfRange
        If the number of members is not between 1 and ``MOST_MEMBERS``.
    NotConverged
        If the books do not close.

    Validity
    --------
    Reservoir, nodes and chambers mix at once. Lines are plugs or laminar lanes; nothing diffuses.
    Flows are those of a rigid, air-free circuit.

    Source
    ------
    Washout models of [levenspiel-1999]; method in docs/notes.
    """
    solver = Solver(circuit, lanes=lanes, resolution=resolution)
    return solver.run(
        recipe,
        members=members,
        seed=seed,
        regime=regime,
        threads=threads,
        bracket=bracket,
        progress=progress,
    )


class Solver:
    """A circuit made ready for many recipes: its numbering, its patterns and its draws are kept."""

    def __init__(
        self, circuit: Circuit, *, lanes: int = LANES, resolution: Resolution = FAST
    ) -> None:
        self.circuit = circuit
        self.lanes = lanes
        self.resolution = resolution
        self._values = values_of(circuit)
        self._patterns: dict[Kind, Pattern] = {}
        self._layouts: dict[structure.Mixing, Layout] = {}
        self._draws: dict[tuple[int, int], Values] = {}
        self._known: dict[structure.Mixing, Known] = {}
        self._programs: dict[tuple[structure.Mixing, Recipe], _Ready] = {}

    def run(
        self,
        recipe: Recipe,
        *,
        members: int = 1,
        seed: int = 0,
        regime: Regime | str | None = None,
        threads: int | None = None,
        bracket: bool = True,
        progress: Progress | None = None,
    ) -> Run:
        """Return what is left where after a recipe; see ``simulate``."""
        if not 1 <= members <= MOST_MEMBERS:
            raise OutOfRange("members", members, f"from 1 to {MOST_MEMBERS}", "2000 do for a plan")
        if not recipe.steps:
            raise OutOfRange("steps", 0, "one at least", "add [[step]] entries to the recipe")
        mixing = structure.Mixing(
            regime=None if regime is None else Regime(regime), lanes=self.lanes
        )
        best = self._best(recipe, seed, mixing)
        if bracket and regime is None and self.circuit.legs:
            best = replace(best, bracket=self._bracket(recipe, seed, mixing))
        if members == 1:
            return best
        return self._ensemble(recipe, members, seed, mixing, threads, best, progress)

    def _layout(self, mixing: structure.Mixing) -> Layout:
        found = self._layouts.get(mixing)
        if found is None:
            found = self._layouts[mixing] = Layout(
                circuit=self.circuit,
                mixing=mixing,
                resolution=self.resolution,
                best=self._values,
                patterns=self._patterns,
            )
        return found

    def _best(self, recipe: Recipe, seed: int, mixing: structure.Mixing) -> Run:
        """Run the best values alone."""
        layout = self._layout(mixing)
        ready = self._programs.get((mixing, recipe))
        if ready is None:
            known = self._known.get(mixing)
            if known is None:
                known = self._known[mixing] = Known(layout, self._values)
            course = Course(layout, self._values, known)
            tallies = Steps(course, recipe).carry_out()
            ready = _Ready(
                books=Books(course=course, tallies=tallies),
                runner=Runner(course, tallies, old_fluid(layout)),
            )
            if len(self._programs) >= PROGRAMS_KEPT:
                self._programs.pop(next(iter(self._programs)))
            self._programs[mixing, recipe] = ready
        gathered = Gathered(recipe, parts=len(layout.part_names), members=1)
        with ready.runner.first_member() as answer:
            gathered.take(answer, ready.books, slice(0, 1), slice(0, 1))
        return _run_of(layout, ready.books, gathered, members=1, seed=seed)

    def _bracket(self, recipe: Recipe, seed: int, mixing: structure.Mixing) -> Bracket | None:
        """Compare plug and laminar flow in the legs; None where it moves the answer by a point at
        most.
        """
        plug, laminar = (
            float(self._best(recipe, seed, replace(mixing, leg_regime=kind)).remaining_share[0])
            for kind in (Regime.PLUG, Regime.LAMINAR)
        )
        if abs(plug - laminar) <= BRACKET_FROM:
            return None
        return Bracket(plug_share=plug, laminar_share=laminar)

    def _values_of(self, members: int, seed: int) -> Values:
        found = self._draws.get((members, seed))
        if found is None:
            self._draws.clear()
            found = self._draws[members, seed] = values_of(self.circuit, members=members, seed=seed)
        return found

    def _ensemble(
        self,
        recipe: Recipe,
        members: int,
        seed: int,
        mixing: structure.Mixing,
        threads: int | None,
        best: Run,
        progress: Progress | None,
    ) -> Run:
        """Run all members, class by class of structure, in chunks of blocks."""
        values = self._values_of(members, seed)
        classes = structure.draw_classes(seed=seed, count=members)
        parts = len(self._layout(mixing).part_names)
        gathered = Gathered(recipe, parts=parts, members=members)
        longest: Books | None = None
        done = 0
        with _side_by_side(threads or os.cpu_count() or 1) as spread:
            for number, (_, kind) in enumerate(structure.CLASSES):
                forced = mixing.regime if mixing.regime is not None else kind.regime
                layout = self._layout(replace(kind, regime=forced, lanes=self.lanes))
                chosen = np.flatnonzero(classes == number)
                for mine in np.split(chosen, range(CHUNK, len(chosen), CHUNK)):
                    if not len(mine):
                        continue
                    course = Course(layout, values.columns(np.concatenate([[0], mine + 1])))
                    books = Books(course=course, tallies=Steps(course, recipe).carry_out())
                    if longest is None or len(books.tallies) > len(longest.tallies):
                        longest = books
                    runner = Runner(course, books.tallies, old_fluid(layout))
                    starts = range(0, len(mine), BLOCK)
                    answers = spread(
                        runner.run,
                        [a + 1 for a in starts],
                        [min(a + BLOCK, len(mine)) + 1 for a in starts],
                    )
                    for first, answer in zip(starts, answers, strict=True):
                        who = mine[first : first + BLOCK]
                        columns = slice(first + 1, first + 1 + len(who))
                        gathered.take(answer, books, who, columns)
                        done += len(who)
                        if progress is not None:
                            progress(done, members)
        if longest is None:
            raise ValueError("an ensemble without members")
        run = _run_of(self._layout(mixing), longest, gathered, members=members, seed=seed)
        return replace(run, best=best, bracket=best.bracket, stop=best.stop)


@contextmanager
def _side_by_side(threads: int) -> Iterator[Callable[..., Iterable[Answer]]]:
    """Give what ``map`` does, on so many threads; one thread needs no other to hand work to."""
    if threads == 1:
        yield map
        return
    with ThreadPoolExecutor(threads) as pool:
        yield pool.map


def _run_of(layout: Layout, books: Books, found: Gathered, *, members: int, seed: int) -> Run:
    """Put the answer together and close the books."""
    tallies = books.tallies
    steps = len(tallies)
    last = steps - 1
    waste, waste_old, spilled, spilled_old = found.gone[:, :steps].sum(axis=1)
    balance = audited(
        old_before_m3=found.fluid_before,
        fluid_before_m3=found.fluid_before,
        poured_m3=found.poured[:steps].sum(axis=0),
        waste_m3=waste,
        waste_old_m3=waste_old,
        spilled_m3=spilled,
        spilled_old_m3=spilled_old,
        left_m3=found.inside[:, last],
        parts_m3=found.parts,
        outflow_m3=found.widths,
        outflow_share=found.bins,
    )
    # The audit has found nothing beyond rounding outside these ends; clipping takes that away.
    held_m3 = np.maximum(found.parts, 0.0)
    np.minimum(held_m3[1], held_m3[0], out=held_m3[1])
    shares = (found.held / found.fluid).clip(0.0, 1.0)
    results = tuple(
        StepResult(
            index=t.index,
            do=t.do,
            poured_m3=found.poured[t.index],
            waste_m3=found.waste[t.index],
            waste_old_m3=found.waste_old[t.index],
            spilled_m3=found.spilled[t.index],
            remaining_share=shares[t.index],
            lowest_m3=found.lowest[t.index],
            duration_s=found.duration[t.index],
            level_m3=found.level[t.index],
            cycles=dict(t.cycles),
            notes=tuple(t.notes),
        )
        for t in tallies
    )
    outflow = tuple(
        Outflow(
            step=t.index + 1,
            waste_m3=found.edges[t.index],
            old_share=found.bins[t.index].clip(0.0, 1.0),
        )
        for t in tallies
        if t.trace_rows
    )
    return Run(
        members=members,
        seed=seed,
        steps=results,
        remaining_share=shares[last],
        parts=Parts(names=layout.part_names, held_m3=held_m3),
        outflow=outflow,
        trace_made=partial(_trace, found, tallies),
        balance=balance,
        stop=books.course.stop,
        stopped_members=int(found.stopped.sum()),
        kernel_steps=found.made,
    )


def _trace(found: Gathered, tallies: list[Tally]) -> Trace:
    """Return how the remainder fell against the volume poured, bin by bin within exchanges."""
    poured = [np.zeros(1)]
    shares = [np.ones((1, len(found.fluid_before)))]
    total = 0.0
    before = found.fluid_before
    for t in tallies:
        i = t.index
        if t.trace_rows:
            edges, came = found.edges[i], found.bins[i]
            came = np.where(np.isnan(came), 0.0, came) * found.widths[i][:, None]
            gone = np.cumsum(came, axis=0)
            poured.append(total + edges[:-1])
            shares.append((before - gone[:-1]) / found.fluid[i])
        one = found.poured[i]
        total += float(one[0] if one.size == 1 else np.median(one))
        poured.append(np.array([total]))
        shares.append((found.held[i] / found.fluid[i])[None, :])
        before = found.held[i]
    return Trace(
        poured_m3=np.concatenate(poured), remaining_share=np.clip(np.concatenate(shares), 0.0, 1.0)
    )
