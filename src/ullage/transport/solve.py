"""Runs a recipe on a circuit: once at the best values, or for an ensemble of machines that it
might be.

This is the door of the solver. It numbers the circuit, keeps the books of the recipe, runs the
kernel block by block on all cores, audits the balance and puts the answer together. It picks no
model silently: what was capped, shortened or changed stands in the notes."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate, pairwise

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.errors import OutOfRange
from ullage.transport import kernel, structure
from ullage.transport.balance import audited
from ullage.transport.block import BLOCK, Answer, Runner, old_fluid, part_names
from ullage.transport.course import Course, Tally
from ullage.transport.lanes import LANES, Regime
from ullage.transport.layout import FAST, Kind, Layout, Pattern, Resolution
from ullage.transport.recipe import Exchange, Recipe
from ullage.transport.result import Bracket, Outflow, PartResult, Run, StepResult, Trace
from ullage.transport.steps import Steps
from ullage.transport.values import Values, values_of

Floats = NDArray[np.float64]

OUTFLOW_BIN_M3 = 1e-4
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

    course: Course
    tallies: list[Tally]
    runner: Runner


@dataclass(kw_only=True)
class _Gathered:
    """The answers of all members, filled block by block; last axis members."""

    poured: Floats
    waste: Floats
    waste_old: Floats
    spilled: Floats
    spilled_old: Floats
    fluid: Floats
    held: Floats
    lowest: Floats
    duration: Floats
    level: Floats
    parts: Floats
    parts_old: Floats
    fluid_before: Floats
    bins: list[Floats]
    edges: list[Floats]
    widths: list[Floats]
    stopped: NDArray[np.bool_]
    made: int = 0


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
            course = Course(layout, self._values)
            tallies = Steps(course, recipe).carry_out()
            ready = _Ready(
                course=course, tallies=tallies, runner=Runner(course, tallies, old_fluid(layout))
            )
            if len(self._programs) >= PROGRAMS_KEPT:
                self._programs.pop(next(iter(self._programs)))
            self._programs[mixing, recipe] = ready
        gathered = _room(layout, recipe, 1)
        with ready.runner.first_member() as answer:
            first = slice(0, 1)
            _take(gathered, answer, ready.course, ready.tallies, first, first)
        return _run_of(layout, ready.tallies, gathered, ready.course, members=1, seed=seed)

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
        gathered = _room(self._layout(mixing), recipe, members)
        longest: list[Tally] = []
        course: Course | None = None
        done = 0
        with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
            for number, (_, kind) in enumerate(structure.CLASSES):
                forced = mixing.regime if mixing.regime is not None else kind.regime
                layout = self._layout(replace(kind, regime=forced, lanes=self.lanes))
                chosen = np.flatnonzero(classes == number)
                for mine in np.split(chosen, range(CHUNK, len(chosen), CHUNK)):
                    if not len(mine):
                        continue
                    course = Course(layout, values.columns(np.concatenate([[0], mine + 1])))
                    tallies = Steps(course, recipe).carry_out()
                    longest = max(longest, tallies, key=len)
                    runner = Runner(course, tallies, old_fluid(layout))
                    starts = range(0, len(mine), BLOCK)
                    answers = pool.map(
                        runner.run,
                        [a + 1 for a in starts],
                        [min(a + BLOCK, len(mine)) + 1 for a in starts],
                    )
                    for first, answer in zip(starts, answers, strict=True):
                        who = mine[first : first + BLOCK]
                        columns = slice(first + 1, first + 1 + len(who))
                        _take(gathered, answer, course, tallies, who, columns)
                        done += len(who)
                        if progress is not None:
                            progress(done, members)
        if course is None:
            raise ValueError("an ensemble without members")
        run = _run_of(self._layout(mixing), longest, gathered, course, members=members, seed=seed)
        return replace(run, best=best, bracket=best.bracket, stop=best.stop)


@lru_cache(maxsize=64)
def _bin_ends(litres_m3: float) -> tuple[Floats, Floats]:
    """Return the upper ends of the bins of an exchange's outflow, and their widths [m3]."""
    whole = int(litres_m3 / OUTFLOW_BIN_M3 + 1e-9)
    ends: Floats = OUTFLOW_BIN_M3 * np.arange(1.0, whole + 1.0)
    if litres_m3 - whole * OUTFLOW_BIN_M3 > 1e-9:
        ends = np.append(ends, litres_m3)
    widths = np.diff(ends, prepend=0.0)
    ends.flags.writeable = widths.flags.writeable = False
    return ends, widths


def _room(layout: Layout, recipe: Recipe, members: int) -> _Gathered:
    """Return room for the answers of all members."""
    steps, parts = len(recipe.steps), len(part_names(layout))
    bins = [
        _bin_ends(step.litres_m3 if isinstance(step, Exchange) else 0.0) for step in recipe.steps
    ]
    sizes = [steps] * 10 + [parts] * 2 + [len(ends) for ends, _ in bins]
    # One piece of memory, cut up: asking for each array by itself costs as much as a short run.
    whole = np.full((sum(sizes), members), np.nan)
    at = [0, *accumulate(sizes)]
    rooms = [whole[first:last] for first, last in pairwise(at)]
    return _Gathered(
        poured=rooms[0],
        waste=rooms[1],
        waste_old=rooms[2],
        spilled=rooms[3],
        spilled_old=rooms[4],
        fluid=rooms[5],
        held=rooms[6],
        lowest=rooms[7],
        duration=rooms[8],
        level=rooms[9],
        parts=rooms[10],
        parts_old=rooms[11],
        fluid_before=np.zeros(members),
        bins=rooms[12:],
        edges=[ends for ends, _ in bins],
        widths=[widths for _, widths in bins],
        stopped=np.zeros(members, dtype=np.bool_),
    )


def _take(
    into: _Gathered,
    answer: Answer,
    course: Course,
    tallies: list[Tally],
    who: NDArray[np.intp] | slice,
    columns: slice,
) -> None:
    """Put a block's answer where its members belong."""
    told = answer.told
    steps = len(tallies)
    into.waste[:steps, who] = told.waste_m3
    into.waste_old[:steps, who] = told.waste[:, 0]
    into.spilled[:steps, who] = told.spilled_m3
    into.spilled_old[:steps, who] = told.spilled[:, 0]
    into.fluid[:steps, who] = told.fluid_m3
    into.held[:steps, who] = told.held[:, 0]
    into.parts[:, who] = answer.parts_m3
    into.parts_old[:, who] = answer.parts_old_m3
    into.fluid_before[who] = answer.fluid_before_m3
    into.stopped[who] = course.alive[columns] == 0.0
    into.made += answer.made
    for tally in tallies:
        i = tally.index
        into.poured[i, who] = tally.poured_m3[columns]
        into.lowest[i, who] = np.maximum(tally.lowest_m3[columns], 0.0)
        into.duration[i, who] = tally.duration_s[columns]
        into.level[i, who] = tally.level_m3[columns]
        if tally.trace_rows:
            rows = slice(tally.first_trace, tally.first_trace + tally.trace_rows)
            bins = np.empty((len(into.edges[i]), told.trace.shape[1]))
            kernel.bin_means(told.trace_m3[rows], told.trace[rows], into.edges[i], bins)
            into.bins[i][:, who] = bins
    _stand_still(into, steps, who)


def _stand_still(into: _Gathered, done: int, who: NDArray[np.intp] | slice) -> None:
    """Let members whose run ended early keep what they held in the steps that others still make."""
    if done == len(into.poured):
        return
    for flow in (into.poured, into.waste, into.waste_old, into.spilled, into.spilled_old):
        flow[done:, who] = 0.0
    into.duration[done:, who] = 0.0
    for state in (into.fluid, into.held, into.lowest, into.level):
        state[done:, who] = state[done - 1, who]


def _run_of(
    layout: Layout,
    tallies: list[Tally],
    found: _Gathered,
    course: Course,
    *,
    members: int,
    seed: int,
) -> Run:
    """Put the answer together and close the books."""
    steps = len(tallies)
    last = steps - 1
    balance = audited(
        old_before_m3=found.fluid_before,
        fluid_before_m3=found.fluid_before,
        poured_m3=found.poured[:steps].sum(axis=0),
        waste_m3=found.waste[:steps].sum(axis=0),
        waste_old_m3=found.waste_old[:steps].sum(axis=0),
        spilled_m3=found.spilled[:steps].sum(axis=0),
        spilled_old_m3=found.spilled_old[:steps].sum(axis=0),
        fluid_left_m3=found.fluid[last],
        old_left_m3=found.held[last],
        parts_m3=found.parts,
        parts_old_m3=found.parts_old,
        outflow_m3=found.widths,
        outflow_share=found.bins,
    )
    # The audit has found nothing beyond rounding outside these ends; clipping takes that away.
    found.parts = np.maximum(found.parts, 0.0)
    found.parts_old = np.clip(found.parts_old, 0.0, found.parts)
    shares = np.clip(found.held / found.fluid, 0.0, 1.0)
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
    parts = {
        name: PartResult(fluid_m3=found.parts[i], old_m3=found.parts_old[i])
        for i, name in enumerate(part_names(layout))
    }
    outflow = tuple(
        Outflow(
            step=t.index + 1,
            waste_m3=found.edges[t.index],
            old_share=np.clip(found.bins[t.index], 0, 1),
        )
        for t in tallies
        if t.trace_rows
    )
    return Run(
        members=members,
        seed=seed,
        steps=results,
        remaining_share=shares[last],
        parts=parts,
        outflow=outflow,
        trace=_trace(found, tallies),
        balance=balance,
        stop=course.stop,
        stopped_members=int(found.stopped.sum()),
        kernel_steps=found.made,
    )


def _trace(found: _Gathered, tallies: list[Tally]) -> Trace:
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
