"""What machines that it might be would show while the recipe is carried out: the forward model.

The full solver runs them, all at once, and keeps after every step what each part holds, where legs
stand and where the level is. Cycles that were counted at the machine replace those of the recipe.
Leaves out what a reading makes of that (``readings``) and which machines fit (``update``)."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers
from ullage.evidence.replay import LEAST_PIECE_M3, Replay
from ullage.evidence.waiting import ALONE, Waiting
from ullage.transport import kernel, structure
from ullage.transport.block import BLOCK, Runner, old_fluid
from ullage.transport.course import Course, Tally
from ullage.transport.gathered import bin_ends
from ullage.transport.lanes import LANES
from ullage.transport.latent import Latents, latents_of
from ullage.transport.layout import FAST, Kind, Layout, Pattern, Resolution
from ullage.transport.recipe import Exchange, Exercise, Recipe, Step
from ullage.transport.steps import Steps
from ullage.transport.values import Values, values_of

Floats = NDArray[np.float64]

#: Finer than a plan needs: single samples of legs are compared here, not the total alone.
CUT = replace(FAST, leg_cell_m3=15e-6, path_step_m3=100e-6, leg_step_m3=50e-6, closed_factor=1.5)
#: What somebody who waits is told while machines run.
RUNNING = "trying machines"

#: One input of all machines changed: what a hypothesis says against the files.
Change = Callable[[Values], Values]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """Where everything stands when a step has ended; the last axis is members.

    ``parts_m3`` and ``old_m3`` follow ``Shown.parts``; ``stirred_vfrac`` is the old share of what
    mixes in the reservoir; ``place`` is the share of its stroke that each leg is extended by.
    Volumes to waste and poured count this step alone."""

    parts_m3: Floats
    old_m3: Floats
    stirred_vfrac: Floats
    level_m3: Floats
    place: Floats
    charged: tuple[bool, ...]
    waste_m3: Floats
    waste_old_m3: Floats
    poured_m3: Floats
    spilled_m3: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """What ran out at the diverter in one step: ends of the bins [m3], and old shares, (bins,
    members)."""

    ends_m3: Floats
    old_vfrac: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What machines showed, piece by piece of a replay; ``before`` is the state before the first.

    ``numbers`` answers for what of a circuit no run needs."""

    parts: tuple[str, ...]
    replay: Replay
    values: Values
    numbers: Numbers
    before: Stage
    stages: tuple[Stage, ...]
    traces: Mapping[int, Trace]  # by the place of the piece, from 0

    @property
    def job_steps(self) -> int:
        """Return how many steps the recipe itself has."""
        return self.replay.job_steps

    @property
    def count(self) -> int:
        """Return the number of machines."""
        return int(self.before.level_m3.size)

    def after(self, step: int, at_m3: float | None = None) -> Stage:
        """Return the state after a step counted from 1 (0: before the first), or within it."""
        piece = self.replay.piece(step, at_m3)
        return self.stages[piece - 1] if piece else self.before

    def pieces(self, step: int) -> range:
        """Return the places of a step's pieces among the stages."""
        return range(self.replay.piece(step - 1), self.replay.piece(step))

    def part(self, stage: Stage, name: str) -> Floats:
        """Return the old share of one part, (members,) [m3/m3]."""
        i = self.parts.index(name)
        return np.asarray(stage.old_m3[i] / np.maximum(stage.parts_m3[i], LEAST_PIECE_M3))


class _Steps(Steps):
    """Carries a recipe out with the cycles that were counted, and remembers where legs stood."""

    def __init__(self, course: Course, replay: Replay) -> None:
        super().__init__(course, replay.recipe)
        self.replay = replay
        self.made: dict[tuple[int, str], int] = {}
        self.places: list[Floats] = []
        self.charged: list[tuple[bool, ...]] = []
        self.ends: list[int] = []

    def _act(self, step: Step) -> None:
        super()._act(step)
        self.places.append(self.course.place[:, 1:].copy())
        self.charged.append(tuple(self.course.charged))
        self.ends.append(len(self.course.phases) + 1)  # the snapshot that closes the step

    def _turns(self, exercise: Exercise, drivers: dict[str, list[int]], fits: int) -> list[str]:
        """Return which group moves in each cycle: as many as were counted, in turn.

        A step in pieces makes its cycles from the first piece on."""
        turns = super()._turns(exercise, drivers, fits)
        step = self.replay.step_of[self.index]
        left = {name: turns.count(name) for name in drivers}
        for name in drivers:
            for group in name.split(" + "):
                count = self.replay.counted.get((step, group), exercise.cycles)
                if count is not None:
                    left[name] = max(count - self.made.get((step, name), 0), 0)
            left[name] = round(left[name] * self.replay.cycle_factor)
        if left == {name: turns.count(name) for name in drivers}:
            return self._remember(step, turns)
        made: list[str] = []
        while len(made) < fits and any(left.values()):
            for name in drivers:
                if left[name] > 0 and len(made) < fits:
                    made.append(name)
                    left[name] -= 1
        self.course.turn += len(made) - len(turns)
        return self._remember(step, made)

    def _remember(self, step: int, turns: list[str]) -> list[str]:
        """Count the cycles of a step over its pieces."""
        for name in turns:
            self.made[step, name] = self.made.get((step, name), 0) + 1
        return turns


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """What one block of members showed."""

    parts_m3: list[Floats]
    old_m3: list[Floats]
    stirred: list[Floats]
    told: kernel.Told


class _Watcher(Runner):
    """Runs a block of members and looks at every part after every step."""

    def watch(self, first: int, last: int, ends: list[int]) -> _Seen:
        """Run the columns from ``first`` up to ``last``, stopping after the phases ``ends``."""
        block, held, told, _ = self.laid_out(first, last)
        kernel.begin(self.program, block, held)
        parts, olds, stirred = [], [], []
        for i, (start, end) in enumerate(zip([0, *ends], [*ends, None], strict=True)):
            fluid, old = self._parts(block, held)
            parts.append(fluid)
            olds.append(np.clip(old, 0.0, fluid))
            share = held.mixed[0] / np.maximum(held.mixed_m3, 1e-12)
            stirred.append(np.clip(np.where(held.mixed_m3 > 1e-9, share, 0.0), 0.0, 1.0))
            if end is not None:
                piece = self.program._replace(phases=self.program.phases[start:end])
                # Within one call the kernel counts steps from the first of what it is given.
                mine = told._replace(
                    waste_m3=told.waste_m3[i:],
                    waste=told.waste[i:],
                    spilled_m3=told.spilled_m3[i:],
                    spilled=told.spilled[i:],
                )
                kernel.run(piece, block, held, mine)
        return _Seen(parts_m3=parts, old_m3=olds, stirred=stirred, told=told)


class Forward:
    """A circuit and a recipe made ready to be tried on many machines."""

    def __init__(
        self,
        circuit: Circuit,
        replay: Replay,
        *,
        change: Change | None = None,
        lanes: int = LANES,
        resolution: Resolution = CUT,
        threads: int | None = None,
    ) -> None:
        self.circuit = circuit
        self.change = change
        self.replay = replay
        self.latents: Latents = latents_of(circuit)
        self._lanes = lanes
        self._resolution = resolution
        self._threads = threads or os.cpu_count() or 1
        self._patterns: dict[Kind, Pattern] = {}

    def run(self, uniforms: Floats, *, waiting: Waiting = ALONE, what: str = RUNNING) -> Shown:
        """Return what machines with these uniforms show, (names, members).

        ``waiting`` is told under the name ``what``.
        """
        values = values_of(self.circuit, drawn=self.latents.numbers(uniforms))
        if self.change is not None:
            values = self.change(values)
        classes = self.latents.classes(uniforms)
        groups = [(kind, classes == n) for n, (_, kind) in enumerate(structure.CLASSES)]
        return self.run_as(
            values, self.latents.numbers(uniforms), groups, waiting=waiting, what=what
        )

    def run_as(
        self,
        values: Values,
        numbers: Numbers,
        groups: list[tuple[structure.Mixing, NDArray[np.bool_]]],
        *,
        waiting: Waiting = ALONE,
        what: str = RUNNING,
    ) -> Shown:
        """Return what machines show, each group of members with a mixing of its own.

        Column 0 of ``values`` holds the best values, which decide how the run is cut."""
        count = values.count - 1
        room: _Room | None = None
        done = 0
        with ThreadPoolExecutor(self._threads) as pool:
            for kind, belongs in groups:
                mine = np.flatnonzero(belongs)
                if not len(mine):
                    continue
                waiting.tell(what, done, count)
                layout = Layout(
                    circuit=self.circuit,
                    mixing=replace(kind, lanes=self._lanes),
                    resolution=self._resolution,
                    best=values.columns(np.zeros(1, dtype=np.intp)),
                    patterns=self._patterns,
                )
                if room is None:
                    room = _Room(
                        layout.part_names, self.replay.recipe, count, len(self.circuit.legs)
                    )
                course = Course(layout, values.columns(np.concatenate([[0], mine + 1])))
                room.begin(course, mine)
                steps = _Steps(course, self.replay)
                tallies = steps.carry_out()
                room.books(steps)
                runner = _Watcher(course, tallies, old_fluid(layout))
                blocks = _evenly(len(mine), self._threads)

                def watch(ends: tuple[int, int], r: _Watcher = runner, s: _Steps = steps) -> _Seen:
                    waiting.ask()  # once it is called off the blocks that are left fall through
                    return r.watch(ends[0] + 1, ends[1] + 1, s.ends)

                seen = pool.map(watch, blocks)
                for (first, last), found in zip(blocks, seen, strict=True):
                    room.take(found, steps, tallies, mine[first:last], slice(first + 1, last + 1))
                    done += last - first
                    waiting.tell(what, done, count)
        if room is None:
            raise ValueError("an ensemble without members")
        return room.shown(self.replay, values, numbers)


def _evenly(count: int, threads: int) -> list[tuple[int, int]]:
    """Return blocks of members, as even as they can be, none above ``BLOCK``."""
    pieces = max(-(-count // BLOCK), min(threads, -(-count // 16)))
    marks = np.linspace(0, count, pieces + 1).round().astype(int)
    return [(int(a), int(b)) for a, b in itertools.pairwise(marks) if b > a]


class _Room:
    """Arrays for all members, filled block by block; first axis stages, the start before them."""

    def __init__(self, parts: tuple[str, ...], recipe: Recipe, count: int, legs: int) -> None:
        self.parts = parts
        self.count = count
        self.steps = len(recipe.steps)
        self.parts_m3 = self._room(self.steps + 1, len(parts))
        self.old_m3 = self._room(self.steps + 1, len(parts))
        self.stirred = self._room(self.steps + 1)
        self.level = self._room(self.steps + 1)
        self.place = self._room(self.steps + 1, legs)
        self.charged: list[tuple[bool, ...]] = []
        # Rows: to waste, old fluid to waste, poured, spilled.
        self.flows = np.zeros((4, self.steps + 1, count))
        self.ends = [
            bin_ends(step.litres_m3)[0] if isinstance(step, Exchange) else None
            for step in recipe.steps
        ]
        self.bins = {
            i: self._room(len(ends)) for i, ends in enumerate(self.ends) if ends is not None
        }

    def _room(self, *shape: int) -> Floats:
        return np.full((*shape, self.count), np.nan)

    def begin(self, course: Course, who: NDArray[np.intp]) -> None:
        """Note how things stand before the first step."""
        self.level[0, who] = course.level_m3[1:]
        self.place[0][:, who] = course.place[:, 1:]
        self.charged = [tuple(course.charged)]

    def books(self, steps: _Steps) -> None:
        """Note which gas volumes are charged; what never happened stays as it was."""
        self.charged = [self.charged[0], *steps.charged]
        self.charged += [self.charged[-1]] * (self.steps + 1 - len(self.charged))

    def take(
        self,
        seen: _Seen,
        steps: _Steps,
        tallies: list[Tally],
        who: NDArray[np.intp],
        columns: slice,
    ) -> None:
        """Put a block's answer where its members belong."""
        last = len(tallies)
        mine = slice(columns.start - 1, columns.stop - 1)
        for stage in range(self.steps + 1):
            told = min(stage, last)
            self.parts_m3[stage][:, who] = seen.parts_m3[told]
            self.old_m3[stage][:, who] = seen.old_m3[told]
            self.stirred[stage, who] = seen.stirred[told]
            if told:
                self.level[stage, who] = tallies[told - 1].level_m3[columns]
                self.place[stage][:, who] = steps.places[told - 1][:, mine]
            else:
                self.place[stage][:, who] = self.place[0][:, who]
        for tally in tallies:
            i = tally.index
            self.flows[0, i + 1, who] = seen.told.waste_m3[i]
            self.flows[1, i + 1, who] = seen.told.waste[i, 0]
            self.flows[2, i + 1, who] = tally.poured_m3[columns]
            self.flows[3, i + 1, who] = seen.told.spilled_m3[i]
            ends = self.ends[i]
            if tally.trace_rows and ends is not None:
                rows = slice(tally.first_trace, tally.first_trace + tally.trace_rows)
                bins = np.empty((len(ends), len(who)))
                kernel.bin_means(seen.told.trace_m3[rows], seen.told.trace[rows], ends, bins)
                self.bins[i][:, who] = np.clip(bins, 0.0, 1.0)

    def shown(self, replay: Replay, values: Values, numbers: Numbers) -> Shown:
        """Return everything as one value."""
        stages = tuple(
            Stage(
                parts_m3=self.parts_m3[i],
                old_m3=self.old_m3[i],
                stirred_vfrac=self.stirred[i],
                level_m3=self.level[i],
                place=self.place[i],
                charged=self.charged[i],
                waste_m3=self.flows[0, i],
                waste_old_m3=self.flows[1, i],
                poured_m3=self.flows[2, i],
                spilled_m3=self.flows[3, i],
            )
            for i in range(self.steps + 1)
        )
        traces = {
            i: Trace(ends_m3=ends, old_vfrac=self.bins[i])
            for i, ends in enumerate(self.ends)
            if ends is not None
        }
        return Shown(
            parts=self.parts,
            replay=replay,
            values=values,
            numbers=numbers,
            before=stages[0],
            stages=stages[1:],
            traces=traces,
        )
