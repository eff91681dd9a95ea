"""The door of the washout kernel: what a program of operations is, and the arrays it works on.

The kernel carries out such a program on a block of members side by side. ``line_records`` and
``operations`` say how, compiled; this file knows their arrays and needs no compiler, so the books
of a recipe are kept without one.

Arrays: the last axis is the member within the block, contiguous; the one before it the species. Row
numbers in a program point into ``volumes``, one row a flow, in m3 per sub-step. Everything here is
private to ``transport``; ``course`` writes what ``operations`` reads.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from ctypes import addressof, c_char
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.transport.kernel import machine_code

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Operations. Each row of a program: code, a, b, c, first edge, last edge.
RESERVOIR_OUT = 0  # a: row out, b: row poured (-1 none), c: row returning (-1 none)
LINE = 1  # a: line, b: row through, c: slot it fills
NODE = 2  # a: node, b: row in, c: slot it fills
NODE_FILL = 3  # a: dry node, b: row in
EXTEND = 4  # a: leg, b: row, c: slot that feeds it; first edge: cells moved by the best values
RETRACT = 5  # a: leg, b: row, c: slot it fills; first edge: as for EXTEND
BLEED = 6  # a: leg, b: row, c: slot that feeds it; first edge: as for EXTEND
WASTE = 7  # edges go to waste; a: 1 if it counts as outflow of the diverter
RESERVOIR_IN = 8  # a: row poured (-1), b: row out (-1); edges return
DRAW = 9  # a: row from the mixed part, b: row from the dead part
FILL = 10  # a: row into the mixed part, b: row into the dead part
MERGE = 11  # a: row, 1 where the dead part joins the mixed one
NODE_EMPTY = 12  # a: node, b: 1 if refilled with new fluid, c: row, 1 for members that go on
REGIME = 13  # a: line, b: regime
SNAP = 14  # a: step that ends here

RESERVOIR_SLOT = 0
NEW_FLUID_SLOT = 1
FIRST_PART_SLOT = 2

PLUG = 0
LAMINAR = 1
UNSET = -1

#: Cells below which nothing moved: what rounding leaves of a flow carries nothing on.
STILL = 1e-9
#: Cells below which two positions are the same: moving there and back again leaves rounding behind.
SAME = 1e-7


class Program(NamedTuple):
    """What to do: operations, the phases that repeat them, and the edges that feed parts."""

    ops: Ints
    phases: Ints  # first op, last op, sub-steps, first trace row (-1: none)
    edge_slot: Ints
    edge_row: Ints
    lane_flow: Floats  # (2, lines, lanes), by regime
    lane_delay: Floats  # in whole lines; a segment takes its part of that
    lane_count: Ints  # (2,)
    segments: Ints  # (lines,)
    first_segment: Ints
    first_ring: Ints
    ring: Ints  # rows per segment, a power of two
    origin: Ints  # (lines,), where coordinates begin, so that they never fall below zero
    reach: Ints  # (lines,), cells a leg's line ever moves either way; below, records stay as begun
    path_lines: int  # lines before this index stand on paths, the others in legs
    passes: Floats  # (nodes, species): share of a species that a node lets through


class Block(NamedTuple):
    """The numbers of the members of one block; last axis members."""

    volumes: Floats  # (rows, members)
    cells_per_m3: Floats  # (lines, members)
    span: Floats  # (lines, members), cells of a whole line
    line_m3: Floats  # (lines, members)
    node_m3: Floats
    brim_m3: Floats
    bypass: Floats
    new: Floats  # (species,)
    first: Floats  # (species,), concentration everywhere at the start
    most: Floats  # (species,), no concentration ever exceeds it


class Held(NamedTuple):
    """The state of a block: what every part holds."""

    mixed_m3: Floats
    dead_m3: Floats
    mixed: Floats  # (species, members), amounts
    dead: Floats
    returning: Floats  # (species, members), last concentration of the return
    leaving: Floats  # (species, members), amount that leaves the reservoir in this sub-step
    node_m3: Floats
    node: Floats  # (nodes, species, members), concentrations
    caught: Floats  # (nodes, species, members), amounts held back by elements
    near_y: Floats  # (lines, members), cells: head of the record written from the inlet
    far_y: Floats  # (lines, members), cells: head of the one written from the chamber
    near_head: Floats  # (segments, species, members), integral at the head
    far_head: Floats
    near_end: Floats  # (segments * lanes, species, members), integral at the lane's interface
    far_end: Floats
    start: Floats  # (lines, species, members), what the line was filled with when its records began
    near_len: Floats  # (lines * lanes, members), cells of the lane that came from the inlet
    near_ring: Floats  # rows, species and members in one: the look-ups want one index
    far_ring: Floats
    chamber_m3: Floats
    chamber: Floats  # (legs, species, members), amounts
    regime: Ints  # (lines,)
    slot: Floats  # (slots, species, members), mean concentration leaving each part
    rise: Floats  # (slots, species, members), by how much it rose within the sub-step; nodes only


class Told(NamedTuple):
    """What a run reports; last axis members."""

    waste_m3: Floats  # (steps, members)
    waste: Floats  # (steps, species, members)
    spilled_m3: Floats
    spilled: Floats
    fluid_m3: Floats  # (steps, members), content when the step ended
    held: Floats  # (steps, species, members)
    trace_m3: Floats  # (trace rows, members), gone through the diverter in this step so far
    trace: Floats  # (trace rows, members), of the first species


class Work(NamedTuple):
    """Room to work in; last axis members."""

    low_at: NDArray[np.uint32]  # (lanes + 3, members)
    high_at: NDArray[np.uint32]
    reached: Ints  # (lanes,)
    part: Floats  # (lanes + 1, members)
    work: Floats  # (8 + 3 species, members)
    c: Floats  # (species, members)
    keep: Floats  # (nodes, members)
    mean: Floats
    line_held: Floats  # (lines, members)


# Jobs.
BEGIN = 0
RUN = 1
LINES_HELD = 2
BIN_MEANS = 3

# Where the arrays of each tuple begin in the table.
PROGRAM_AT = 0
BLOCK_AT = PROGRAM_AT + len(Program._fields)
HELD_AT = BLOCK_AT + len(Block._fields)
TOLD_AT = HELD_AT + len(Held._fields)
WORK_AT = TOLD_AT + len(Told._fields)
SLOTS = WORK_AT + len(Work._fields)


_KINDS = (np.dtype(np.float64), np.dtype(np.int64), np.dtype(np.uint32))


def _rows(values: Iterable[NDArray[np.generic] | int]) -> list[int]:
    """Return the rows of arrays in the table, four numbers each: address, and up to three sizes.

    Raises
    ------
    TypeError
        If the machine code would misread an array.
    """
    rows: list[int] = []
    for value in values:
        if isinstance(value, int):
            rows += (value, 0, 0, 0)
            continue
        if value.dtype not in _KINDS or not value.flags.c_contiguous or not 1 <= value.ndim <= 3:
            raise TypeError(
                f"the kernel takes plain contiguous arrays, not {value.dtype} by {value.strides}"
            )
        if not value.flags.writeable:
            rows.append(value.__array_interface__["data"][0])
        else:
            # The quickest way to an address; an array without elements has none.
            view = c_char.from_buffer(value) if value.size else None  # type: ignore[arg-type]
            rows.append(0 if view is None else addressof(view))
        rows += value.shape
        rows += (0,) * (3 - value.ndim)
    return rows


class Session:
    """A block's arrays, made known to the machine code; several calls may follow.

    Each session belongs to one thread at a time.
    """

    def __init__(self, p: Program, k: Block, h: Held, t: Told | None = None) -> None:
        members, species = k.brim_m3.size, k.first.size
        lanes, nodes, lines = p.lane_flow.shape[2], len(h.node_m3), len(p.segments)
        work = Work(
            low_at=np.zeros((lanes + 3, members), dtype=np.uint32),
            high_at=np.zeros((lanes + 3, members), dtype=np.uint32),
            reached=np.zeros(lanes, dtype=np.int64),
            part=np.zeros((lanes + 1, members)),
            work=np.zeros((8 + 3 * species, members)),
            c=np.zeros((species, members)),
            keep=np.zeros((nodes, members)),
            mean=np.zeros((nodes, members)),
            line_held=np.zeros((lines, members)),
        )
        # The machine code sees addresses: what they point at must live as long as this does.
        self._kept = (p, k, h, t, work)
        told = [0] * (4 * len(Told._fields)) if t is None else _rows(t)
        self._table = array("q", [*_rows((*p, *k, *h)), *told, *_rows(work)])
        self._at = self._table.buffer_info()[0]
        self._enter = machine_code.entrance()

    def begin(self) -> None:
        """Fill everything with the first fluid; volumes of reservoir and chambers are set
        already.
        """
        self._enter(BEGIN, self._at)

    def run(self) -> int:
        """Carry out the program; return the number of sub-steps made."""
        if self._kept[3] is None:
            raise TypeError("a session without room for a report can't run")
        return self._enter(RUN, self._at)

    def lines_held(self) -> Floats:
        """Return the amount of the first species in every whole line, (lines, members)."""
        self._enter(LINES_HELD, self._at)
        return self._kept[4].line_held


def begin(p: Program, k: Block, h: Held) -> None:
    """Fill everything with the first fluid; see ``Session``."""
    Session(p, k, h).begin()


def run(p: Program, k: Block, h: Held, t: Told) -> int:
    """Carry out a program; return the number of sub-steps made."""
    return Session(p, k, h, t).run()


def bin_means(gone_m3: Floats, gone: Floats, edges_m3: Floats, into: Floats) -> None:
    """Write the mean concentration of each bin of outflow, (bins, members); NaN where nothing came.

    ``gone_m3`` and ``gone`` (rows, members) are what had passed after each sub-step; ``edges_m3``
    (bins,) the upper ends of the bins."""
    rows = _rows((gone_m3, gone, edges_m3, into))
    table = array("q", [*rows, *(0,) * (4 * SLOTS - len(rows))])
    machine_code.entrance()(BIN_MEANS, table.buffer_info()[0])
