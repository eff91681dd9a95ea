"""Runs a recipe on a circuit: once at the best values, or for an ensemble of machines that it might be.

This is the door of the solver. It numbers the circuit, keeps the books of the recipe, runs the kernel block
by block on all cores, audits the balance and puts the answer together. It picks no model silently: what was
capped, shortened or changed stands in the notes.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.errors import OutOfRange
from ullage.transport import kernel, structure
from ullage.transport.balance import audited
from ullage.transport.block import BLOCK, Answer, Runner, old_fluid, part_names
from ullage.transport.course import Course, Tally
from ullage.transport.lanes import LANES, Regime
from ullage.transport.layout import FAST, Layout, Resolution
from ullage.transport.recipe import Exchange, Recipe
from ullage.transport.result import Bracket, Outflow, PartResult, Run, StepResult, Trace
from ullage.transport.steps import Steps
from ullage.transport.values import Values, values_of

Floats = NDArray[np.float64]

OUTFLOW_BIN_M3 = 1e-4
#: Where the regime of the legs moves the remainder by more than this, the answer carries the bracket.
BRACKET_FROM = 0.01
#: Members whose books are kept at once; bounds the memory of large ensembles.
CHUNK = 1024
MOST_MEMBERS = 1_000_000

Progress = Callable[[int, int], None]


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
    """Return what is left where after a recipe.

    Parameters
    ----------
    circuit, recipe : values
        What it is done to, and what is done.
    members : scalar
        1 runs the best values with the structure as stated; more draws that many machines, structure
        included. [-]
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
        Arrays over members; the run of the best values stands in ``best`` when there is more than one.

    Raises
    ------
    OutOfRange
        If the number of members is not between 1 and ``MOST_MEMBERS``.
    NotConverged
        If the books do not close.

    Validity
    --------
    Reservoir, nodes and chambers mix at once. Lines are plugs or laminar lanes; nothing diffuses. Flows are those of a
    rigid, air-free circuit.

    Source
    ------
    Washout models of [levenspiel1999]; method in docs/notes.
    """
    if not 1 <= members <= MOST_MEMBERS:
        raise OutOfRange("members", members, f"from 1 to {MOST_MEMBERS}", "use 2000 for a plan")
    forced = None if regime is None else Regime(regime)
    mixing = structure.Mixing(regime=forced, lanes=lanes)
    values = values_of(circuit)
    layout = Layout(circuit=circuit, mixing=mixing, resolution=resolution, best=values)
    best = _best(layout, recipe, seed, values)
    if bracket and forced is None and circuit.legs:
        best = replace(best, bracket=_bracket(layout, recipe, seed, best, values))
    if members == 1:
        return best
    return _ensemble(circuit, recipe, members, seed, mixing, resolution, threads, best, progress)


def _best(layout: Layout, recipe: Recipe, seed: int, values: Values) -> Run:
    """Run the best values alone."""
    course = Course(layout, values)
    tallies = Steps(course, recipe).carry_out()
    answer = Runner(course, tallies, old_fluid(layout)).run(0, 1)
    gathered = _room(layout, recipe, tallies, 1)
    _take(gathered, answer, course, tallies, np.zeros(1, dtype=np.intp), slice(0, 1))
    return _run_of(layout, recipe, tallies, gathered, course, members=1, seed=seed)


def _bracket(layout: Layout, recipe: Recipe, seed: int, best: Run, values: Values) -> Bracket | None:
    """Compare plug and laminar flow in the legs; None where it moves the answer by a point at most."""
    found: dict[Regime, float] = {}
    for kind in Regime:
        mixing = replace(layout.mixing, leg_regime=kind)
        other = Layout(circuit=layout.circuit, mixing=mixing, resolution=layout.resolution, best=values)
        found[kind] = float(_best(other, recipe, seed, values).remaining_share[0])
    if abs(found[Regime.PLUG] - found[Regime.LAMINAR]) <= BRACKET_FROM:
        return None
    return Bracket(plug_share=found[Regime.PLUG], laminar_share=found[Regime.LAMINAR])


def _ensemble(
    circuit: Circuit,
    recipe: Recipe,
    members: int,
    seed: int,
    mixing: structure.Mixing,
    resolution: Resolution,
    threads: int | None,
    best: Run,
    progress: Progress | None,
) -> Run:
    """Run all members, class by class of structure, in chunks of blocks."""
    values = values_of(circuit, members=members, seed=seed)
    classes = structure.draw_classes(seed=seed, count=members)
    workers = threads or os.cpu_count() or 1
    gathered: _Gathered | None = None
    longest: list[Tally] = []
    done = 0
    zero = np.zeros(1, dtype=np.intp)
    course: Course | None = None
    layout: Layout | None = None
    with ThreadPoolExecutor(workers) as pool:
        for number, (_, kind) in enumerate(structure.CLASSES):
            chosen = np.flatnonzero(classes == number)
            forced = mixing.regime if mixing.regime is not None else kind.regime
            layout = Layout(
                circuit=circuit,
                mixing=replace(kind, regime=forced, lanes=mixing.lanes),
                resolution=resolution,
                best=values.columns(zero),
            )
            for start in range(0, len(chosen), CHUNK):
                mine = chosen[start : start + CHUNK]
                course = Course(layout, values.columns(np.concatenate([zero, mine + 1])))
                tallies = Steps(course, recipe).carry_out()
                if gathered is None:
                    gathered = _room(layout, recipe, tallies, members)
                if len(tallies) > len(longest):
                    longest = tallies
                runner = Runner(course, tallies, old_fluid(layout))
                blocks = [
                    (first, min(first + BLOCK, len(mine))) for first in range(0, len(mine), BLOCK)
                ]
                answers = pool.map(lambda b, r=runner: r.run(b[0] + 1, b[1] + 1), blocks)
                for (first, last), answer in zip(blocks, answers, strict=True):
                    _take(gathered, answer, course, tallies, mine[first:last], slice(first + 1, last + 1))
                    done += last - first
                    if progress is not None:
                        progress(done, members)
    if gathered is None or course is None or layout is None:
        raise ValueError("an ensemble without members")
    run = _run_of(layout, recipe, longest, gathered, course, members=members, seed=seed)
    return replace(
        run, best=best, bracket=best.bracket, stop=best.stop, stopped_members=int(gathered.stopped.sum())
    )


def _room(layout: Layout, recipe: Recipe, tallies: list[Tally], members: int) -> _Gathered:
    """Return room for the answers of all members."""
    steps, parts = len(recipe.steps), len(part_names(layout))

    def room(rows: int) -> Floats:
        return np.full((rows, members), np.nan)

    edges: list[Floats] = []
    for step in recipe.steps:
        litres = step.litres_m3 if isinstance(step, Exchange) else 0.0
        whole = int(litres / OUTFLOW_BIN_M3 + 1e-9)
        ends = OUTFLOW_BIN_M3 * np.arange(1, whole + 1)
        if litres - whole * OUTFLOW_BIN_M3 > 1e-9:
            ends = np.append(ends, litres)
        edges.append(ends)
    return _Gathered(
        poured=room(steps), waste=room(steps), waste_old=room(steps), spilled=room(steps),
        spilled_old=room(steps), fluid=room(steps), held=room(steps), lowest=room(steps),
        duration=room(steps), level=room(steps), parts=room(parts), parts_old=room(parts),
        fluid_before=np.zeros(members), bins=[room(len(e)) for e in edges], edges=edges,
        stopped=np.zeros(members, dtype=np.bool_),
    )  # fmt: skip


def _take(
    into: _Gathered, answer: Answer, course: Course, tallies: list[Tally], who: NDArray[np.intp], columns: slice
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
    into.parts_old[:, who] = np.clip(answer.parts_old_m3, 0.0, answer.parts_m3)
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
            bins = np.empty((len(into.edges[i]), len(who)))
            kernel.bin_means(told.trace_m3[rows], told.trace[rows], into.edges[i], bins)
            into.bins[i][:, who] = bins


def _run_of(
    layout: Layout, recipe: Recipe, tallies: list[Tally], found: _Gathered, course: Course, *, members: int,
    seed: int,
) -> Run:  # fmt: skip
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
    ) if steps else None  # fmt: skip
    if balance is None:
        raise OutOfRange("steps", 0, "one at least", "add [[step]] entries to the recipe")
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
            step=t.index + 1, waste_m3=found.edges[t.index], old_share=np.clip(found.bins[t.index], 0, 1)
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
    poured = [0.0]
    shares = [np.ones_like(found.fluid_before)]
    total = 0.0
    before = found.fluid_before
    for t in tallies:
        i = t.index
        if t.trace_rows:
            edges = found.edges[i]
            widths = np.diff(edges, prepend=0.0)
            gone = np.cumsum(np.nan_to_num(found.bins[i]) * widths[:, None], axis=0)
            for n, edge in enumerate(edges[:-1]):
                poured.append(total + float(edge))
                shares.append(np.clip((before - gone[n]) / found.fluid[i], 0.0, 1.0))
        total += float(np.nanmedian(found.poured[i]))
        poured.append(total)
        shares.append(np.clip(found.held[i] / found.fluid[i], 0.0, 1.0))
        before = found.held[i]
    return Trace(poured_m3=np.array(poured), remaining_share=np.array(shares))
