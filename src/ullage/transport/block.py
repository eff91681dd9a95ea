"""Between the books and the kernel: a block of members as the arrays that the kernel works on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.transport import kernel
from ullage.transport.course import Course, Tally
from ullage.transport.layout import Layout

Floats = NDArray[np.float64]

#: Most members that run side by side: enough to hide what an operation costs by itself.
BLOCK = 128
_NO_OPS = np.zeros((0, 6), dtype=np.int64)
_NO_EDGES = np.zeros((0, 2), dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """What is carried: concentrations of the first fluid and of the new one, and what elements let
    through.

    ``passes`` is (nodes, species) in the kernel's order; ``most`` is never exceeded. Old fluid
    comes first."""

    first: Floats
    new: Floats
    most: Floats
    passes: Floats


def old_fluid(layout: Layout) -> Species:
    """Return old fluid alone: share 1 at first, 0 in new fluid; no element holds it back."""
    one = np.ones(1)
    return Species(
        first=one, new=np.zeros(1), most=one, passes=np.ones((len(layout.node_index), 1))
    )


def program_of(course: Course, species: Species) -> kernel.Program:
    """Return a course's program as the kernel reads it; line records are as long as it needs
    them.
    """
    layout = course.layout
    flow, delay, count = layout.lane_tables
    lines = len(layout.segments)
    legs = len(layout.circuit.legs)
    ops = np.concatenate([_NO_OPS, *course.ops])
    edges = np.concatenate([_NO_EDGES, *course.edges])
    laminar = ops[(ops[:, 0] == kernel.REGIME) & (ops[:, 2] == kernel.LAMINAR), 1]
    depth = course.span.max(axis=1, initial=0.0)
    deepest = np.maximum(1.0, delay[kernel.LAMINAR].max(axis=1, initial=0.0) / layout.segments)
    depth[laminar] = (depth * deepest)[laminar]
    reach = np.zeros(lines)
    if legs:
        values = course.values
        travel = values.leg_stroke_m3 + values.leg_gas_m3 + course.bled_m3
        reach[layout.path_lines :] = (travel * course.cells_per_m3[layout.path_lines :]).max(axis=1)
        reach = np.ceil(reach) + 3
        depth[layout.path_lines :] = np.minimum(depth, 2 * reach)[layout.path_lines :]
    need = np.ceil(depth) + np.ceil(course.most_cells) + 6
    ring = np.array([1 << math.ceil(math.log2(n)) for n in need], dtype=np.int64)
    segments = layout.segments
    return kernel.Program(
        ops=ops,
        phases=np.array(course.phases, dtype=np.int64).reshape(-1, 4),
        edge_slot=edges[:, 0].copy(),
        edge_row=edges[:, 1].copy(),
        lane_flow=flow,
        lane_delay=delay,
        lane_count=count,
        segments=segments,
        first_segment=np.concatenate([[0], np.cumsum(segments)[:-1]]).astype(np.int64)
        if lines
        else segments,
        first_ring=np.concatenate([[0], np.cumsum(segments * ring)[:-1]]).astype(np.int64)
        if lines
        else segments,
        ring=ring,
        origin=ring * np.ceil((reach + ring) / ring).astype(np.int64),
        reach=reach.astype(np.int64),
        path_lines=layout.path_lines,
        passes=species.passes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a block reports, last axis members; ``parts`` is the fluid, and the old fluid, of each
    part, (2, parts, members).
    """

    told: kernel.Told
    parts: Floats
    fluid_before_m3: Floats
    made: int


class _Laid:
    """The kernel's arrays of the first member, laid out once and put back to the start for each
    run.
    """

    def __init__(self, runner: Runner) -> None:
        block, held, self.told, self.before = runner.laid_out(0, 1)
        self.block, self.held = block, held
        self.session = kernel.Session(runner.program, block, held, self.told)
        # Records are written anew when a line takes up a regime; nothing reads them before.
        moving = [a for a in held if a is not held.near_ring and a is not held.far_ring]
        self.first = [(array, array.copy()) for array in moving]

    def put_back(self) -> None:
        """Undo what a run did."""
        for array, first in self.first:
            array[...] = first
        for array in self.told:
            array.fill(0.0)


class Runner:
    """Runs blocks of one course; each call has arrays of its own, so that calls may run side by
    side.
    """

    def __init__(self, course: Course, tallies: list[Tally], species: Species) -> None:
        self.course = course
        self.tallies = tallies
        self.species = species
        self.program = program_of(course, species)
        self.volumes = (
            np.concatenate(course.rows) if course.rows else np.zeros((0, course.values.count))
        )
        layout = course.layout
        self.line_m3 = course.known.line_m3
        self.rings = int((self.program.segments * self.program.ring).sum())
        self.far_rings = self.rings if layout.circuit.legs else 1
        self._laid: list[_Laid] = []

    def run(self, first: int, last: int) -> Answer:
        """Run the columns from ``first`` up to ``last``."""
        block, held, told, before = self.laid_out(first, last)
        session = kernel.Session(self.program, block, held, told)
        return self._answer(session, block, held, told, before)

    @contextmanager
    def first_member(self) -> Iterator[Answer]:
        """Run the first column; the answer is good until the block of the caller ends.

        Runs that follow find the arrays laid out: making them takes longer than a short run."""
        try:
            laid = self._laid.pop()
        except IndexError:
            laid = _Laid(self)
        else:
            laid.put_back()
        yield self._answer(laid.session, laid.block, laid.held, laid.told, laid.before)
        self._laid.append(laid)

    def _answer(
        self,
        session: kernel.Session,
        block: kernel.Block,
        held: kernel.Held,
        told: kernel.Told,
        before: Floats,
    ) -> Answer:
        session.begin()
        made = session.run()
        parts = self._parts(block, held, session)
        return Answer(told=told, parts=parts, fluid_before_m3=before, made=made)

    def laid_out(
        self, first: int, last: int
    ) -> tuple[kernel.Block, kernel.Held, kernel.Told, Floats]:
        """Return the kernel's arrays for some columns at the start, and their fluid."""
        p, course, layout = self.program, self.course, self.course.layout
        values, species = course.values, self.species
        members, kinds = last - first, len(species.first)
        lines, legs = len(p.segments), len(layout.circuit.legs)
        segments, lanes = int(p.segments.sum()), p.lane_flow.shape[2]
        nodes = len(layout.node_index)
        columns = slice(first, last)

        def zeros(*shape: int) -> Floats:
            return np.zeros((*shape, members))

        def part(array: Floats) -> Floats:
            return np.array(array[..., columns], order="C")

        node_m3 = part(values.parts_m3[layout.node_rows])
        block = kernel.Block(
            volumes=part(self.volumes),
            cells_per_m3=part(course.cells_per_m3),
            span=part(course.span),
            line_m3=part(self.line_m3),
            node_m3=node_m3,
            brim_m3=part(values.brim_m3),
            bypass=part(values.bypass_share),
            new=species.new,
            first=species.first,
            most=species.most,
        )
        held = kernel.Held(
            mixed_m3=part(course.first_mixed_m3),
            dead_m3=part(course.first_dead_m3),
            mixed=zeros(kinds),
            dead=zeros(kinds),
            returning=zeros(kinds),
            leaving=zeros(kinds),
            node_m3=node_m3.copy(),
            node=zeros(nodes, kinds),
            caught=zeros(nodes, kinds),
            near_y=zeros(lines),
            far_y=zeros(lines),
            near_head=zeros(segments, kinds),
            far_head=zeros(segments, kinds),
            near_end=zeros(segments * lanes, kinds),
            far_end=zeros(segments * lanes, kinds),
            start=zeros(lines, kinds),
            near_len=zeros(lines * lanes),
            near_ring=np.zeros(self.rings * kinds * members),
            far_ring=np.zeros(self.far_rings * kinds * members),
            chamber_m3=part(course.first_chamber_m3),
            chamber=zeros(legs, kinds),
            regime=np.zeros(lines, dtype=np.int64),
            slot=zeros(layout.slots, kinds),
            rise=zeros(layout.slots, kinds),
        )
        steps = len(self.tallies)
        told = kernel.Told(
            waste_m3=zeros(steps),
            waste=zeros(steps, kinds),
            spilled_m3=zeros(steps),
            spilled=zeros(steps, kinds),
            fluid_m3=zeros(steps),
            held=zeros(steps, kinds),
            trace_m3=zeros(course.trace_rows),
            trace=zeros(course.trace_rows),
        )
        before = held.mixed_m3 + held.dead_m3 + node_m3.sum(axis=0)
        before = before + held.chamber_m3.sum(axis=0)
        return block, held, told, before + block.line_m3.sum(axis=0)

    def _parts(
        self, block: kernel.Block, held: kernel.Held, session: kernel.Session | None = None
    ) -> Floats:
        """Return the fluid, and the old fluid, that each part holds, (2, parts, members) [m3]."""
        layout = self.course.layout
        lines = (session or kernel.Session(self.program, block, held)).lines_held()
        both = np.empty((2, len(layout.part_names), block.brim_m3.size))
        fluid, old = both
        fluid[0], old[0] = held.mixed_m3 + held.dead_m3, held.mixed[0] + held.dead[0]
        nodes, lines_at, chambers = layout.part_places
        fluid[nodes], old[nodes] = held.node_m3, held.node_m3 * held.node[:, 0]
        fluid[lines_at], old[lines_at] = block.line_m3, lines
        fluid[chambers], old[chambers] = held.chamber_m3, held.chamber[:, 0]
        return both
