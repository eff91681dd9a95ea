"""Runs that stop, are kept, and go on in several ways: what a search over recipes stands on.

A state holds, for a small ensemble, what every part holds and where the books stand. Carrying on
from it runs only the new steps; the state itself stays as it was, so any number of continuations
may start there. Members, draws and structure are those of ``Solver`` under the same seed, and a
run in pieces ends with the figures of the run in one piece (a test holds them together). Leaves
out what only a report needs: outflow, parts, notes of all members."""

from __future__ import annotations

import copy
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.errors import NotConverged
from ullage.transport import kernel, structure
from ullage.transport.block import Species, old_fluid, program_of
from ullage.transport.course import Course, Tally
from ullage.transport.lanes import LANES, Regime
from ullage.transport.layout import FAST, Kind, Layout, Pattern, Resolution
from ullage.transport.recipe import Bleed, Charge, Circulate, Exchange, Extend, Recipe, Step
from ullage.transport.result import Floats, Note
from ullage.transport.steps import Steps
from ullage.transport.values import Values, values_of

# Fluid that may ever be bled from one leg, over its line's volume; bounds only index arithmetic.
_MOST_BLED = 100.0
#: Steps in which the pump runs.
PUMPED = (Exchange, Circulate, Extend, Charge, Bleed)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Branch:
    """One class of structure: the books, and what its parts hold."""

    course: Course
    held: kernel.Held


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """How a step went litre by litre: what had gone to waste, and what of it was old,
    (points, members)."""

    waste_m3: Floats
    old_m3: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """Where a run stands. Arrays are (members,); sums count from the start of the job.

    ``spare_m3`` is the least that the level stayed above the minimum while the pump ran or a step
    ended; ``pieces`` has the exchanges of the last continuation; ``level_m3`` and ``place`` are
    those of the best values beside the members'."""

    branches: tuple[_Branch, ...]
    old_m3: Floats
    fluid_m3: Floats
    poured_m3: Floats
    waste_m3: Floats
    spilled_m3: Floats
    spare_m3: Floats
    level_m3: Floats
    duration_s: float
    best_level_m3: float
    notes: tuple[Note, ...] = ()
    pieces: tuple[Piece | None, ...] = ()
    stopped: bool = False


class SavedSolver:
    """A small ensemble of one circuit whose runs can be saved and carried on."""

    def __init__(
        self,
        circuit: Circuit,
        *,
        members: int,
        seed: int,
        temperature_k: float,
        lanes: int = LANES,
        resolution: Resolution = FAST,
        threads: int | None = None,
    ) -> None:
        self.circuit = circuit
        self.members = members
        self.temperature_k = temperature_k
        self.steps_made = 0
        values = values_of(circuit, members=members, seed=seed)
        best = values_of(circuit)
        classes = structure.draw_classes(seed=seed, count=members)
        self.values = values
        self._who: list[NDArray[np.intp]] = []
        self._layouts: list[Layout] = []
        self._values: list[Values] = []
        patterns: dict[Kind, Pattern] = {}
        for number, (_, kind) in enumerate(structure.CLASSES):
            mine = np.flatnonzero(classes == number)
            if not len(mine):
                continue
            mixing = structure.Mixing(
                regime=kind.regime, more_fittings=kind.more_fittings, lanes=lanes
            )
            self._layouts.append(
                Layout(
                    circuit=circuit,
                    mixing=mixing,
                    resolution=resolution,
                    best=best,
                    patterns=patterns,
                )
            )
            self._who.append(mine)
            self._values.append(values.columns(np.concatenate([[0], mine + 1])))
        self._rooms = [
            _roomy(layout, own) for layout, own in zip(self._layouts, self._values, strict=True)
        ]
        self._pool = ThreadPoolExecutor(threads or os.cpu_count() or 1)

    def close(self) -> None:
        """Let the threads go."""
        self._pool.shutdown()

    def __enter__(self) -> SavedSolver:
        return self

    def __exit__(self, *gone: object) -> None:
        self.close()

    def start(self) -> Saved:
        """Return the state before the first step: everything full of old fluid."""
        branches: list[_Branch] = []
        old, level = np.empty(self.members), np.empty(self.members)
        for who, layout, own, room in zip(
            self._who, self._layouts, self._values, self._rooms, strict=True
        ):
            course = Course(layout, own)
            held = _empty(course, room)
            block = _block(course, np.zeros((0, own.count)), old_fluid(layout))
            kernel.begin(room, block, held)
            branches.append(_Branch(course=course, held=held))
            old[who] = (
                held.mixed_m3
                + held.dead_m3
                + held.node_m3.sum(axis=0)
                + held.chamber_m3.sum(axis=0)
                + block.line_m3.sum(axis=0)
            )
            level[who] = course.level_m3[1:]
        none = np.zeros(self.members)
        return Saved(
            branches=tuple(branches),
            old_m3=old,
            fluid_m3=old.copy(),
            poured_m3=none,
            waste_m3=none,
            spilled_m3=none,
            spare_m3=np.full(self.members, np.inf),
            level_m3=level,
            duration_s=0.0,
            best_level_m3=float(branches[0].course.level_m3[0]),
        )

    def carry_on(self, state: Saved, steps: Sequence[Step]) -> Saved:
        """Return the state after further steps; the one given stays as it was."""
        recipe = Recipe(name="", steps=tuple(steps), temperature_k=self.temperature_k)
        old, fluid = np.empty(self.members), np.empty(self.members)
        poured, waste = state.poured_m3.copy(), state.waste_m3.copy()
        spilled, spare = state.spilled_m3.copy(), state.spare_m3.copy()
        level = np.empty(self.members)
        traces: list[list[tuple[NDArray[np.intp], Floats, Floats]]] = [[] for _ in steps]
        branches: list[_Branch] = []
        notes: dict[Note, None] = {}
        stopped = state.stopped
        duration = 0.0
        ready = [
            self._prepare(branch, room, recipe)
            for branch, room in zip(state.branches, self._rooms, strict=True)
        ]
        made = list(self._pool.map(lambda job: kernel.run(*job[2]), ready))
        self.steps_made += sum(made)
        for who, (course, tallies, (_, _, held, told)) in zip(self._who, ready, strict=True):
            branches.append(_Branch(course=course, held=held))
            last = len(tallies) - 1
            stopped = stopped or len(tallies) < len(recipe.steps) or course.stop is not None
            old[who], fluid[who] = told.held[last, 0], told.fluid_m3[last]
            level[who] = course.level_m3[1:]
            minimum = course.values.minimum_m3[1:]
            duration = float(sum(tally.duration_s[0] for tally in tallies))
            for tally in tallies:
                poured[who] += tally.poured_m3[1:]
                waste[who] += told.waste_m3[tally.index]
                spilled[who] += told.spilled_m3[tally.index]
                if isinstance(recipe.steps[tally.index], PUMPED):
                    spare[who] = np.minimum(spare[who], tally.lowest_m3[1:] - minimum)
                notes |= dict.fromkeys(tally.notes)
                if tally.trace_rows:
                    rows = slice(tally.first_trace, tally.first_trace + tally.trace_rows)
                    traces[tally.index].append((who, told.trace_m3[rows], told.trace[rows]))
        return Saved(
            branches=tuple(branches),
            old_m3=old,
            fluid_m3=fluid,
            poured_m3=poured,
            waste_m3=waste,
            spilled_m3=spilled,
            spare_m3=spare,
            level_m3=level,
            duration_s=state.duration_s + duration,
            best_level_m3=float(branches[0].course.level_m3[0]),
            notes=tuple(notes),
            pieces=tuple(self._piece(found) for found in traces),
            stopped=stopped,
        )

    def held_by_nodes(self, state: Saved, nodes: Sequence[str]) -> tuple[Floats, Floats]:
        """Return the fluid, and the old fluid, that some nodes hold now, both (members,) [m3]."""
        fluid, old = np.zeros(self.members), np.zeros(self.members)
        for who, branch in zip(self._who, state.branches, strict=True):
            index = branch.course.layout.node_index
            for node in nodes:
                if node in index:
                    held = branch.held.node_m3[index[node]]
                    fluid[who] += held
                    old[who] += held * branch.held.node[index[node], 0]
        return fluid, old

    def _prepare(
        self, branch: _Branch, room: kernel.Program, recipe: Recipe
    ) -> tuple[Course, list[Tally], tuple[kernel.Program, kernel.Block, kernel.Held, kernel.Told]]:
        """Write the books of further steps, and lay out what the kernel needs to carry them out."""
        course = _fork(branch.course)
        tallies = Steps(course, recipe).carry_out()
        species = old_fluid(course.layout)
        own = program_of(course, species)
        if np.any(course.most_cells > _most_cells(course)):
            raise NotConverged(
                "a sub-step moves more than a saved line has room for; this is a defect of the "
                "program: please report it with the circuit file",
                float(np.max(course.most_cells / _most_cells(course))),
            )
        program = own._replace(
            first_ring=room.first_ring, ring=room.ring, origin=room.origin, reach=room.reach
        )
        rows = np.concatenate(course.rows) if course.rows else np.zeros((0, course.values.count))
        block = _block(course, rows, species)
        # The checker sees a tuple of mixed arrays, not one array after the other.
        held = kernel.Held(*[array.copy() for array in branch.held])  # type: ignore[arg-type]
        steps, members = len(tallies), course.values.count - 1

        def zeros(*shape: int) -> Floats:
            return np.zeros((*shape, members))

        told = kernel.Told(
            waste_m3=zeros(steps),
            waste=zeros(steps, 1),
            spilled_m3=zeros(steps),
            spilled=zeros(steps, 1),
            fluid_m3=zeros(steps),
            held=zeros(steps, 1),
            trace_m3=zeros(course.trace_rows),
            trace=zeros(course.trace_rows),
        )
        return course, tallies, (program, block, held, told)

    def _piece(self, found: list[tuple[NDArray[np.intp], Floats, Floats]]) -> Piece | None:
        """Put the traces of all classes side by side; None where they were not cut alike."""
        if len(found) != len(self._who) or len({waste.shape[0] for _, waste, _ in found}) != 1:
            return None
        points = found[0][1].shape[0]
        waste_m3, old_m3 = np.empty((points, self.members)), np.empty((points, self.members))
        for who, waste, old in found:
            waste_m3[:, who], old_m3[:, who] = waste, old
        return Piece(waste_m3=waste_m3, old_m3=old_m3)


def _fork(course: Course) -> Course:
    """Return books that go on from others, with an empty program."""
    new = copy.copy(course)
    new.place, new.bled_m3 = course.place.copy(), course.bled_m3.copy()
    new.charged, new.dry, new.regimes = [*course.charged], [*course.dry], [*course.regimes]
    new.rows, new.ops, new.edges, new.phases = [], [], [], []
    new.row_count = new.op_count = new.edge_count = new.trace_rows = 0
    new.most_cells = np.ones_like(course.most_cells)
    return new


def _most_cells(course: Course) -> Floats:
    """Return how many cells of each line one sub-step may ever move, (lines,)."""
    resolution = course.layout.resolution
    legs = max(len(course.layout.circuit.legs), 1)
    volume = max(resolution.path_step_m3, legs * resolution.leg_step_m3)
    most: Floats = 2.0 * resolution.closed_factor * volume * course.cells_per_m3.max(axis=1)
    return most


def _roomy(layout: Layout, values: Values) -> kernel.Program:
    """Return a program without operations whose line records are long enough for any recipe."""
    course = Course(layout, values)
    course.most_cells = _most_cells(course)
    if layout.mixing.regime is not Regime.PLUG:
        lines = range(len(layout.line_index))
        course.act(*((kernel.REGIME, line, kernel.LAMINAR, 0, 0, 0) for line in lines))
    course.bled_m3 = _MOST_BLED * (values.leg_line_m3 + values.leg_dead_m3)
    return program_of(course, old_fluid(layout))


def _block(course: Course, rows: Floats, species: Species) -> kernel.Block:
    """Return the numbers of all members; column 0, the best values, stays in the books alone."""
    layout, values = course.layout, course.values

    def part(array: Floats) -> Floats:
        return np.array(array[..., 1:], order="C")

    return kernel.Block(
        volumes=part(rows),
        cells_per_m3=part(course.cells_per_m3),
        span=part(course.span),
        line_m3=part(course.known.line_m3),
        node_m3=part(values.parts_m3[layout.node_rows]),
        brim_m3=part(values.brim_m3),
        bypass=part(values.bypass_share),
        new=species.new,
        first=species.first,
        most=species.most,
    )


def _empty(course: Course, room: kernel.Program) -> kernel.Held:
    """Return room for what all parts hold, volumes of reservoir, nodes and chambers set."""
    layout, values = course.layout, course.values
    members, lines = values.count - 1, len(room.segments)
    segments, lanes = int(room.segments.sum()), room.lane_flow.shape[2]
    nodes, legs = len(layout.node_index), len(layout.circuit.legs)
    rings = int((room.segments * room.ring).sum())

    def zeros(*shape: int) -> Floats:
        return np.zeros((*shape, members))

    def part(array: Floats) -> Floats:
        return np.array(array[..., 1:], order="C")

    return kernel.Held(
        mixed_m3=part(course.first_mixed_m3),
        dead_m3=part(course.first_dead_m3),
        mixed=zeros(1),
        dead=zeros(1),
        returning=zeros(1),
        leaving=zeros(1),
        node_m3=part(values.parts_m3[layout.node_rows]),
        node=zeros(nodes, 1),
        caught=zeros(nodes, 1),
        near_y=zeros(lines),
        far_y=zeros(lines),
        near_head=zeros(segments, 1),
        far_head=zeros(segments, 1),
        near_end=zeros(segments * lanes, 1),
        far_end=zeros(segments * lanes, 1),
        start=zeros(lines, 1),
        near_len=zeros(lines * lanes),
        near_ring=np.zeros(rings * members),
        far_ring=np.zeros((rings if legs else 1) * members),
        chamber_m3=part(course.first_chamber_m3),
        chamber=zeros(legs, 1),
        regime=np.zeros(lines, dtype=np.int64),
        slot=zeros(layout.slots, 1),
        rise=zeros(layout.slots, 1),
    )
