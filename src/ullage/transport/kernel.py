"""The washout kernel: carries out a program of operations on a block of members side by side.

What it holds on to
-------------------
*Lines never move data.* Whatever enters a line is written once, as the running integral of its
concentration, on a grid of equal cells along the coordinate "volume that has entered". A lane of
the line is a window on that record: its outlet reads the integral one delay further back, so a
step costs two look-ups a lane, however many cells there are, and nothing is smeared twice.

*A leg's line is two such records facing each other*: one written from the node's side, one from
the chamber's. Both are stacks: the line runs back by popping one and pushing the other. In each
lane one interface divides what came from either side, and moves like a piston with play between
the ends of the lane; what the chamber receives follows from that alone. Where the stroke holds
less than the line, the interface never arrives and nothing is renewed, whatever the cell size.

*Balance is an identity*: volumes out are differences of the same integrals that volumes in add to,
and the mixed vessels use the same two coefficients for what stays and for what leaves.

Arrays: the last axis is the member within the block, contiguous; the one before it the species. Row
numbers in a program point into ``volumes``, one row a flow, in m3 per sub-step. Everything here is
private to ``transport``; ``program`` writes what this file reads.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.transport.compiled import numba

cgutils = numba.core.cgutils
intrinsic = numba.extending.intrinsic

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Rows = NDArray[np.uint32]

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


@intrinsic
def _borrowed(typing_context: Any, array: Any) -> Any:
    """Return an array that counts no references: the caller holds it, and counting is half of a
    short loop's time.
    """

    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        view = context.make_array(signature.args[0])(context, builder, value=values[0])
        view.meminfo = cgutils.get_null_value(view.meminfo.type)
        view.parent = cgutils.get_null_value(view.parent.type)
        return view._getvalue()

    return array(array), generate


_jit = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath=False)
_apart = numba.njit(nogil=True, error_model="numpy", cache=True)
# Woven into ``run``: handing over a tuple of arrays costs more than a short loop over a block.
_woven = numba.njit(nogil=True, error_model="numpy", inline="always")


@_woven
def _cut(p: Program, line: int, regime: int) -> int:
    """Return into how many segments a line is cut: fittings do nothing to a plug."""
    return 1 if regime == PLUG else p.segments[line]


@_apart
def _set_uniform(p: Program, k: Block, h: Held, line: int, mean: Floats, regime: int) -> None:
    """Fill a line with uniform concentrations, (species, members), in a regime."""
    members = k.brim_m3.size
    species = k.first.size
    lanes = p.lane_flow.shape[2]
    count = p.lane_count[regime]
    ring = p.ring[line]
    mask = ring - 1
    is_leg = line >= p.path_lines
    segments = _cut(p, line, regime)
    h.regime[line] = regime
    origin = p.origin[line]
    for m in range(members):
        for s in range(species):
            h.start[line, s, m] = mean[s, m]
        h.near_y[line, m] = origin
        h.far_y[line, m] = origin
    for lane in range(lanes):
        for m in range(members):
            h.near_len[line * lanes + lane, m] = 0.0
    for i in range(segments):
        seg = p.first_segment[line] + i
        base = p.first_ring[line] + i * ring
        for s in range(species):
            for m in range(members):
                h.near_head[seg, s, m] = 0.0
                h.far_head[seg, s, m] = 0.0
            for j in range(-(ring - 2), 2):
                row = ((base + ((origin + j) & mask)) * species + s) * members
                for m in range(members):
                    h.near_ring[row + m] = mean[s, m] * j
                if is_leg:
                    for m in range(members):
                        h.far_ring[row + m] = mean[s, m] * j
            for lane in range(count):
                delay = p.lane_delay[regime, line, lane] / segments
                tap = seg * lanes + lane
                for m in range(members):
                    back = -mean[s, m] * delay * k.span[line, m]
                    h.near_end[tap, s, m] = 0.0 if is_leg else back
                    if is_leg:
                        h.far_end[tap, s, m] = back


@_apart
def _line_held(p: Program, k: Block, h: Held, line: int, s: int, into: Floats) -> None:
    """Write the amount of a species that a line holds, (members,)."""
    members = k.brim_m3.size
    regime = h.regime[line]
    if regime == UNSET:
        for m in range(members):
            into[m] = k.first[s] * k.line_m3[line, m]
        return
    lanes = p.lane_flow.shape[2]
    is_leg = line >= p.path_lines
    segments = _cut(p, line, regime)
    for m in range(members):
        into[m] = 0.0
    for i in range(segments):
        seg = p.first_segment[line] + i
        for lane in range(p.lane_count[regime]):
            flow = p.lane_flow[regime, line, lane]
            tap = seg * lanes + lane
            for m in range(members):
                into[m] += flow * (h.near_head[seg, s, m] - h.near_end[tap, s, m])
            if is_leg:
                for m in range(members):
                    into[m] += flow * (h.far_head[seg, s, m] - h.far_end[tap, s, m])
    for m in range(members):
        into[m] /= k.cells_per_m3[line, m]


@_apart
def _set_regime(p: Program, k: Block, h: Held, line: int, regime: int) -> None:
    """Take a line into a regime; where it was in another one, it is mixed along."""
    if h.regime[line] == regime:
        return
    members = k.brim_m3.size
    species = k.first.size
    mean = np.empty((species, members))
    for s in range(species):
        _line_held(p, k, h, line, s, mean[s])
        for m in range(members):
            mean[s, m] /= k.line_m3[line, m]
    _set_uniform(p, k, h, line, mean, regime)


@_woven
def _write(
    record: Floats,
    wide: int,
    mask: int,
    head: Floats,
    c: Floats,
    was: Floats,
    first: Rows,
    rows: int,
) -> None:
    """Write the grid points that a push of constant concentration crosses, and one more."""
    for q in range(1, rows + 1):
        for m in range(head.size):
            j = first[m] + q
            record[(j & mask) * wide + m] = head[m] + c[m] * (j - was[m])


@_woven
def _write_rising(
    record: Floats,
    wide: int,
    mask: int,
    head: Floats,
    c: Floats,
    bend: Floats,
    moved: Floats,
    was: Floats,
    first: Rows,
    rows: int,
) -> None:
    """Write the grid points of a push whose concentration rises evenly about its mean.

    ``bend`` is half the rise over the cells moved.
    """
    for q in range(1, rows + 1):
        for m in range(head.size):
            j = first[m] + q
            x = j - was[m]
            record[(j & mask) * wide + m] = head[m] + x * (c[m] + bend[m] * (x - moved[m]))


@_woven
def _run_line(
    p: Program,
    k: Block,
    h: Held,
    line: int,
    row: int,
    c: Floats,
    low_at: Rows,
    high_at: Rows,
    part: Floats,
    work: Floats,
) -> None:
    """Send a sub-step's volume through a line on a path; ``c`` (species, members) in, then out."""
    members = k.brim_m3.size
    species = c.shape[0]
    wide = species * members
    lanes = p.lane_flow.shape[2]
    regime = h.regime[line]
    count = p.lane_count[regime]
    ring = p.ring[line]
    mask = ring - 1
    moved, was, out, per = work[0], work[1], work[2], work[3]
    volume = k.volumes[row]
    scale = k.cells_per_m3[line]
    span = k.span[line]
    y = h.near_y[line]
    segments = _cut(p, line, regime)
    first = low_at[count]
    most = 0.0
    for m in range(members):
        was[m] = y[m]
        first[m] = np.uint32(was[m])
    for m in range(members):
        moved[m] = volume[m] * scale[m]
        y[m] += moved[m]
    for m in range(members):
        per[m] = 1.0 / moved[m] if moved[m] > STILL else 0.0
    for m in range(members):
        most = max(most, y[m] - first[m])
    rows = int(most) + 1
    for lane in range(count):
        delay = p.lane_delay[regime, line, lane] / segments
        a, b, f = low_at[lane], high_at[lane], part[lane]
        for m in range(members):
            at = y[m] - delay * span[m]
            j = np.int32(at)
            f[m] = at - j
            a[m] = np.uint32((j & mask) * wide + m)
            b[m] = np.uint32(((j + 1) & mask) * wide + m)
    for i in range(segments):
        seg = p.first_segment[line] + i
        base = (p.first_ring[line] + i * ring) * wide
        for s in range(species):
            record = h.near_ring[base + s * members : base + ring * wide]
            head = h.near_head[seg, s]
            cs = c[s]
            _write(record, wide, mask, head, cs, was, first, rows)
            for m in range(members):
                head[m] += cs[m] * moved[m]
            for m in range(members):
                out[m] = 0.0
            for lane in range(count):
                flow = p.lane_flow[regime, line, lane]
                a, b, f = low_at[lane], high_at[lane], part[lane]
                end = h.near_end[seg * lanes + lane, s]
                for m in range(members):
                    low = record[a[m]]
                    new = low + f[m] * (record[b[m]] - low)
                    out[m] += flow * (new - end[m])
                    end[m] = new
            for m in range(members):
                cs[m] = out[m] * per[m]


@_woven
def _shuttle(
    p: Program,
    h: Held,
    line: int,
    moved: Floats,
    span: Floats,
    inward: bool,
    c: Floats,
    rise: Floats,
    low_at: Rows,
    high_at: Rows,
    part: Floats,
    work: Floats,
    reached: Ints,
) -> None:
    """Move so many cells (members,) along a leg's line, towards the chamber (``inward``) or back.

    ``c`` (species, members) is what enters at the end that pushes, and then what leaves at the
    other."""
    members = moved.size
    species = c.shape[0]
    wide = species * members
    lanes = p.lane_flow.shape[2]
    regime = h.regime[line]
    count = p.lane_count[regime]
    ring = p.ring[line]
    mask = ring - 1
    segments = _cut(p, line, regime)
    was, popped, out, in_cell, per = work[1], work[2], work[3], work[4], work[5]
    back = work[7]
    push_ring, pop_ring = h.near_ring, h.far_ring
    push_head, pop_head = h.near_head, h.far_head
    push_end, pop_end = h.near_end, h.far_end
    push_y, pop_y = h.near_y[line], h.far_y[line]
    if not inward:
        push_ring, pop_ring = h.far_ring, h.near_ring
        push_head, pop_head = h.far_head, h.near_head
        push_end, pop_end = h.far_end, h.near_end
        push_y, pop_y = h.far_y[line], h.near_y[line]
    first, top, top_next = low_at[count], low_at[count + 1], high_at[count + 1]
    pop_low, pop_high, pop_part = low_at[count + 2], high_at[count + 2], part[count]
    for m in range(members):
        was[m] = push_y[m]
        first[m] = np.uint32(was[m])
    for m in range(members):
        push_y[m] += moved[m]
        pop_y[m] -= moved[m]
    for m in range(members):
        per[m] = 1.0 / moved[m] if moved[m] > STILL else 0.0
    for m in range(members):
        j = np.int32(push_y[m])
        in_cell[m] = push_y[m] - j
        top[m] = np.uint32((j & mask) * wide + m)
        top_next[m] = np.uint32(((j + 1) & mask) * wide + m)
    for m in range(members):
        j = np.int32(pop_y[m])
        pop_part[m] = pop_y[m] - j
        pop_low[m] = np.uint32((j & mask) * wide + m)
        pop_high[m] = np.uint32(((j + 1) & mask) * wide + m)
    most = 0.0
    for m in range(members):
        most = max(most, push_y[m] - first[m])
    rows = int(most) + 1
    # Where each lane's interface comes to lie. A part of -1 marks a lane that still gives what the
    # other end pushed before; a lane of which no member has got further needs nothing else. A part
    # below -2 marks fluid that has stood there since the records began: how far below their
    # origin.
    origin = p.origin[line]
    deep = float(origin - p.reach[line])
    start = h.start[line]
    bulk = 0.0
    for lane in range(count):
        delay = p.lane_delay[regime, line, lane] / segments
        length = h.near_len[line * lanes + lane]
        a, b, f = low_at[lane], high_at[lane], part[lane]
        furthest = -1.0
        for m in range(members):
            back[m] = delay * span[m]
        if inward:
            for m in range(members):
                f[m] = length[m] + moved[m] - back[m]
                length[m] = min(length[m] + moved[m], back[m])
        else:
            for m in range(members):
                f[m] = moved[m] - length[m]
                length[m] = max(length[m] - moved[m], 0.0)
        for m in range(members):
            furthest = max(furthest, f[m])
        reached[lane] = 1 if furthest > SAME else 0
        if furthest <= SAME:
            bulk += p.lane_flow[regime, line, lane]
            continue
        for m in range(members):
            at = push_y[m] - back[m]
            j = np.int32(max(at, deep))
            where = at - j if at >= deep else at - origin
            f[m] = where if f[m] > SAME else -1.0
            a[m] = np.uint32((j & mask) * wide + m)
            b[m] = np.uint32(((j + 1) & mask) * wide + m)
    for step in range(segments):
        i = step if inward else segments - 1 - step
        seg = p.first_segment[line] + i
        base = (p.first_ring[line] + i * ring) * wide
        for s in range(species):
            pushing = push_ring[base + s * members : base + ring * wide]
            popping = pop_ring[base + s * members : base + ring * wide]
            head = push_head[seg, s]
            under = pop_head[seg, s]
            cs = c[s]
            if step == 0 and inward:
                bend = work[6]
                for m in range(members):
                    bend[m] = 0.5 * rise[s, m] * per[m]
                _write_rising(pushing, wide, mask, head, cs, bend, moved, was, first, rows)
            else:
                _write(pushing, wide, mask, head, cs, was, first, rows)
            for m in range(members):
                head[m] += cs[m] * moved[m]
            # The cell that the head stands in is known by its mean: make the next grid point say
            # so.
            for m in range(members):
                low = pushing[top[m]]
                slope = (head[m] - low) / in_cell[m] if in_cell[m] > 1e-9 else cs[m]
                pushing[top_next[m]] = low + slope
            for m in range(members):
                low = popping[pop_low[m]]
                popped[m] = low + pop_part[m] * (popping[pop_high[m]] - low)
            for m in range(members):
                out[m] = bulk * (under[m] - popped[m])
            for lane in range(count):
                if reached[lane] == 0:
                    continue
                flow = p.lane_flow[regime, line, lane]
                a, b, f = low_at[lane], high_at[lane], part[lane]
                ours = push_end[seg * lanes + lane, s]
                theirs = pop_end[seg * lanes + lane, s]
                for m in range(members):
                    if f[m] == -1.0:
                        out[m] += flow * (under[m] - popped[m])
                    else:
                        low = pushing[a[m]]
                        new = low + f[m] * (pushing[b[m]] - low)
                        if f[m] < 0.0:
                            new = f[m] * start[s, m]
                        out[m] += flow * ((under[m] - theirs[m]) + (new - ours[m]))
                        ours[m] = new
                        theirs[m] = popped[m]
            for m in range(members):
                under[m] = popped[m]
            for m in range(members):
                cs[m] = out[m] * per[m]


@_woven
def _run_leg(
    p: Program,
    k: Block,
    h: Held,
    line: int,
    row: int,
    cells: int,
    inward: bool,
    c: Floats,
    rise: Floats,
    low_at: Rows,
    high_at: Rows,
    part: Floats,
    work: Floats,
    reached: Ints,
) -> None:
    """Move a sub-step's volume along a leg's line; see ``_shuttle``.

    Where fittings re-mix lanes, fluid crosses them cell by cell: handing over the mean of a larger
    volume would mix along the line, and a reversal would not undo it. What a node gives changes
    within the sub-step; the line is told by how much, since it will give it back in reverse.
    """
    members = k.brim_m3.size
    species = k.first.size
    volume = k.volumes[row]
    scale = k.cells_per_m3[line]
    moved = work[0]
    for m in range(members):
        moved[m] = volume[m] * scale[m]
    times = 1
    if h.regime[line] != PLUG and p.segments[line] > 1:
        times = cells
    entering = work[8 : 8 + species]
    rising = work[8 + species : 8 + 2 * species]
    summed = work[8 + 2 * species : 8 + 3 * species]
    for s in range(species):
        for m in range(members):
            room = 2.0 * min(c[s, m], k.most[s] - c[s, m])
            rising[s, m] = min(max(rise[s, m], -room), room) / times
        for m in range(members):
            entering[s, m] = c[s, m]
            summed[s, m] = 0.0
    for m in range(members):
        moved[m] /= times
    for i in range(times):
        place = i + 0.5 - 0.5 * times
        for s in range(species):
            for m in range(members):
                c[s, m] = entering[s, m] + place * rising[s, m]
        _shuttle(
            p, h, line, moved, k.span[line], inward, c, rising, low_at, high_at, part, work, reached
        )
        for s in range(species):
            for m in range(members):
                summed[s, m] += c[s, m]
    for s in range(species):
        for m in range(members):
            c[s, m] = summed[s, m] / times


@_woven
def _stays(volume: float, inflow: float, after: float) -> float:
    """Return the share of a difference that survives while ``inflow`` enters a vessel whose level
    moves.

    (V0/V1)^(qi/(qi-qo)), and exp(-qi/V) where the level stays.
    """
    if inflow <= 0.0:
        return 1.0
    if volume <= 0.0:
        return 0.0
    r = (after - volume) / (after + volume)
    if abs(r) < 1e-4:
        return math.exp(-2.0 * inflow / (volume + after) * (1.0 + r * r / 3.0))
    return math.exp(-inflow * math.log(after / volume) / (after - volume))


@_woven
def _reservoir_out(k: Block, h: Held, row_out: int, row_pour: int, row_back: int) -> None:
    """Let fluid leave the reservoir; the return of this sub-step is foreseen as that of the last
    one.
    """
    members = k.brim_m3.size
    for s in range(k.first.size):
        for m in range(members):
            out = k.volumes[row_out, m]
            pour = k.volumes[row_pour, m] if row_pour >= 0 else 0.0
            back = k.volumes[row_back, m] if row_back >= 0 else 0.0
            held = h.mixed_m3[m]
            amount = h.mixed[s, m]
            inflow = pour + back
            entering = 0.0
            if inflow > 0.0:
                entering = (pour * k.new[s] + back * h.returning[s, m]) / inflow
            past = min(k.bypass[m] * inflow, out)
            mixing = inflow - past
            after = max(held + inflow - out, 1e-15)
            c = amount / held if held > 0.0 else entering
            end = entering + (c - entering) * _stays(held, mixing, after)
            leaves = past * entering + (amount + mixing * entering - after * end)
            known = amount + pour * k.new[s]
            least = known + (back - after) * k.most[s]
            leaves = min(max(leaves, least, 0.0), known)
            h.leaving[s, m] = leaves
            h.slot[RESERVOIR_SLOT, s, m] = leaves / out if out > 0.0 else c


@_woven
def _gather(p: Program, k: Block, h: Held, first: int, last: int, row: int, c: Floats) -> None:
    """Mix what the edges bring into the mean concentration that enters a part, (species,
    members).
    """
    members = k.brim_m3.size
    for s in range(k.first.size):
        if last - first == 1:
            slot = p.edge_slot[first]
            for m in range(members):
                c[s, m] = h.slot[slot, s, m]
            continue
        for m in range(members):
            c[s, m] = 0.0
        for e in range(first, last):
            slot = p.edge_slot[e]
            r = p.edge_row[e]
            for m in range(members):
                c[s, m] += k.volumes[r, m] * h.slot[slot, s, m]
        for m in range(members):
            total = k.volumes[row, m]
            c[s, m] = c[s, m] / total if total > 0.0 else h.slot[p.edge_slot[first], s, m]


@_apart
def _snap(p: Program, k: Block, h: Held, t: Told, step: int, work: Floats) -> None:
    """Record what the whole circuit holds."""
    members = k.brim_m3.size
    total = t.fluid_m3[step]
    for m in range(members):
        total[m] = h.mixed_m3[m] + h.dead_m3[m]
    for n in range(h.node_m3.shape[0]):
        for m in range(members):
            total[m] += h.node_m3[n, m]
    for leg in range(h.chamber_m3.shape[0]):
        for m in range(members):
            total[m] += h.chamber_m3[leg, m]
    for line in range(p.segments.size):
        for m in range(members):
            total[m] += k.line_m3[line, m]
    for s in range(k.first.size):
        held = t.held[step, s]
        for m in range(members):
            held[m] = h.mixed[s, m] + h.dead[s, m]
        for n in range(h.node_m3.shape[0]):
            for m in range(members):
                held[m] += h.node[n, s, m] * h.node_m3[n, m]
        for leg in range(h.chamber_m3.shape[0]):
            for m in range(members):
                held[m] += h.chamber[leg, s, m]
        for line in range(p.segments.size):
            _line_held(p, k, h, line, s, work[0])
            for m in range(members):
                held[m] += work[0, m]


@_jit
def begin(p: Program, k: Block, h: Held) -> None:
    """Fill everything with the first fluid; volumes of reservoir and chambers are set by the
    caller.
    """
    members = k.brim_m3.size
    for line in range(p.segments.size):
        h.regime[line] = UNSET
    for s in range(k.first.size):
        for m in range(members):
            h.mixed[s, m] = k.first[s] * h.mixed_m3[m]
            h.dead[s, m] = k.first[s] * h.dead_m3[m]
            h.returning[s, m] = k.first[s]
        for n in range(h.node_m3.shape[0]):
            for m in range(members):
                h.node[n, s, m] = k.first[s]
                h.caught[n, s, m] = 0.0
        for leg in range(h.chamber_m3.shape[0]):
            for m in range(members):
                h.chamber[leg, s, m] = k.first[s] * h.chamber_m3[leg, m]
        for slot in range(h.slot.shape[0]):
            for m in range(members):
                h.slot[slot, s, m] = k.new[s] if slot == NEW_FLUID_SLOT else k.first[s]


@_jit
def line_held(p: Program, k: Block, h: Held, line: int, into: Floats) -> None:
    """Write the amount of the first species in a whole line, (members,)."""
    _line_held(p, k, h, line, 0, into)


@_jit
def run(p: Program, k: Block, h: Held, t: Told) -> int:
    """Carry out a program; return the number of sub-steps made."""
    p = Program(
        _borrowed(p.ops),
        _borrowed(p.phases),
        _borrowed(p.edge_slot),
        _borrowed(p.edge_row),
        _borrowed(p.lane_flow),
        _borrowed(p.lane_delay),
        _borrowed(p.lane_count),
        _borrowed(p.segments),
        _borrowed(p.first_segment),
        _borrowed(p.first_ring),
        _borrowed(p.ring),
        _borrowed(p.origin),
        _borrowed(p.reach),
        p.path_lines,
        _borrowed(p.passes),
    )
    k = Block(
        _borrowed(k.volumes),
        _borrowed(k.cells_per_m3),
        _borrowed(k.span),
        _borrowed(k.line_m3),
        _borrowed(k.node_m3),
        _borrowed(k.brim_m3),
        _borrowed(k.bypass),
        _borrowed(k.new),
        _borrowed(k.first),
        _borrowed(k.most),
    )
    h = Held(
        _borrowed(h.mixed_m3),
        _borrowed(h.dead_m3),
        _borrowed(h.mixed),
        _borrowed(h.dead),
        _borrowed(h.returning),
        _borrowed(h.leaving),
        _borrowed(h.node_m3),
        _borrowed(h.node),
        _borrowed(h.caught),
        _borrowed(h.near_y),
        _borrowed(h.far_y),
        _borrowed(h.near_head),
        _borrowed(h.far_head),
        _borrowed(h.near_end),
        _borrowed(h.far_end),
        _borrowed(h.start),
        _borrowed(h.near_len),
        _borrowed(h.near_ring),
        _borrowed(h.far_ring),
        _borrowed(h.chamber_m3),
        _borrowed(h.chamber),
        _borrowed(h.regime),
        _borrowed(h.slot),
        _borrowed(h.rise),
    )
    t = Told(
        _borrowed(t.waste_m3),
        _borrowed(t.waste),
        _borrowed(t.spilled_m3),
        _borrowed(t.spilled),
        _borrowed(t.fluid_m3),
        _borrowed(t.held),
        _borrowed(t.trace_m3),
        _borrowed(t.trace),
    )
    members = k.brim_m3.size
    species = k.first.size
    lanes = p.lane_flow.shape[2]
    low_at = np.zeros((lanes + 3, members), dtype=np.uint32)
    high_at = np.zeros((lanes + 3, members), dtype=np.uint32)
    reached = np.zeros(lanes, dtype=np.int64)
    part = np.zeros((lanes + 1, members))
    work = np.zeros((8 + 3 * species, members))
    c = np.zeros((species, members))
    nodes = h.node_m3.shape[0]
    keep = np.zeros((nodes, members))
    mean = np.zeros((nodes, members))
    step = 0
    made = 0
    for phase in range(p.phases.shape[0]):
        first_op = p.phases[phase, 0]
        last_op = p.phases[phase, 1]
        trace = p.phases[phase, 3]
        for o in range(first_op, last_op):
            if p.ops[o, 0] == NODE:
                n = p.ops[o, 1]
                row = p.ops[o, 2]
                for m in range(members):
                    held = h.node_m3[n, m]
                    x = k.volumes[row, m] / held if held > 0.0 else np.inf
                    keep[n, m] = math.exp(-x)
                    mean[n, m] = -math.expm1(-x) / x if x > 0.0 else 1.0
        for i in range(p.phases[phase, 2]):
            made += 1
            for o in range(first_op, last_op):
                code = p.ops[o, 0]
                a = p.ops[o, 1]
                b = p.ops[o, 2]
                d = p.ops[o, 3]
                e0 = p.ops[o, 4]
                e1 = p.ops[o, 5]
                if code in (LINE, NODE, NODE_FILL):
                    _gather(p, k, h, e0, e1, b, c)
                elif code in (EXTEND, BLEED):
                    for s in range(species):
                        for m in range(members):
                            c[s, m] = h.slot[d, s, m]
                elif code == RETRACT:
                    for s in range(species):
                        for m in range(members):
                            held = h.chamber_m3[a, m]
                            c[s, m] = h.chamber[a, s, m] / held if held > 1e-15 else 0.0
                            h.chamber[a, s, m] -= c[s, m] * k.volumes[b, m]
                    for m in range(members):
                        h.chamber_m3[a, m] = max(h.chamber_m3[a, m] - k.volumes[b, m], 0.0)
                if code in (EXTEND, BLEED, RETRACT):
                    _run_leg(
                        p,
                        k,
                        h,
                        p.path_lines + a,
                        b,
                        e0,
                        code != RETRACT,
                        c,
                        h.rise[d],
                        low_at,
                        high_at,
                        part,
                        work,
                        reached,
                    )
                if code == LINE:
                    _run_line(p, k, h, a, b, c, low_at, high_at, part, work)
                    for s in range(species):
                        for m in range(members):
                            h.slot[d, s, m] = c[s, m]
                elif code == NODE:
                    for s in range(species):
                        through = p.passes[a, s]
                        for m in range(members):
                            difference = h.node[a, s, m] - c[s, m]
                            h.node[a, s, m] = c[s, m] + difference * keep[a, m]
                            leaves = c[s, m] + difference * mean[a, m]
                            h.slot[d, s, m] = leaves * through
                            h.rise[d, s, m] = difference * (keep[a, m] - 1.0) * through
                            h.caught[a, s, m] += leaves * (1.0 - through) * k.volumes[b, m]
                elif code == RESERVOIR_OUT:
                    _reservoir_out(k, h, a, b, d)
                elif code == RESERVOIR_IN:
                    for s in range(species):
                        if b >= 0:
                            for m in range(members):
                                h.mixed[s, m] -= h.leaving[s, m]
                        if a >= 0:
                            for m in range(members):
                                h.mixed[s, m] += k.volumes[a, m] * k.new[s]
                        for e in range(e0, e1):
                            slot = p.edge_slot[e]
                            r = p.edge_row[e]
                            for m in range(members):
                                h.mixed[s, m] += k.volumes[r, m] * h.slot[slot, s, m]
                        if e1 > e0:
                            slot = p.edge_slot[e0]
                            for m in range(members):
                                h.returning[s, m] = h.slot[slot, s, m]
                        if e1 - e0 > 1:
                            for m in range(members):
                                amount = 0.0
                                total = 0.0
                                for e in range(e0, e1):
                                    v = k.volumes[p.edge_row[e], m]
                                    amount += v * h.slot[p.edge_slot[e], s, m]
                                    total += v
                                if total > 0.0:
                                    h.returning[s, m] = amount / total
                    for m in range(members):
                        level = h.mixed_m3[m]
                        if b >= 0:
                            level -= k.volumes[b, m]
                        if a >= 0:
                            level += k.volumes[a, m]
                        for e in range(e0, e1):
                            level += k.volumes[p.edge_row[e], m]
                        over = level + h.dead_m3[m] - k.brim_m3[m]
                        if over > 1e-12:
                            t.spilled_m3[step, m] += over
                            for s in range(species):
                                gone = h.mixed[s, m] * (over / level)
                                h.mixed[s, m] -= gone
                                t.spilled[step, s, m] += gone
                            level -= over
                        h.mixed_m3[m] = max(level, 0.0)
                elif code in (EXTEND, BLEED):
                    if code == EXTEND:
                        for s in range(species):
                            for m in range(members):
                                h.chamber[a, s, m] += c[s, m] * k.volumes[b, m]
                        for m in range(members):
                            h.chamber_m3[a, m] += k.volumes[b, m]
                    else:
                        for s in range(species):
                            for m in range(members):
                                v = k.volumes[b, m]
                                held = h.chamber_m3[a, m]
                                leaves = v * c[s, m]
                                if held > 0.0:
                                    x0 = h.chamber[a, s, m] / held
                                    x1 = c[s, m] + (x0 - c[s, m]) * math.exp(-v / held)
                                    leaves -= held * (x1 - x0)
                                    h.chamber[a, s, m] = held * x1
                                t.waste[step, s, m] += leaves
                        for m in range(members):
                            t.waste_m3[step, m] += k.volumes[b, m]
                elif code == RETRACT:
                    for s in range(species):
                        for m in range(members):
                            h.slot[d, s, m] = c[s, m]
                elif code == WASTE:
                    for e in range(e0, e1):
                        slot = p.edge_slot[e]
                        r = p.edge_row[e]
                        for m in range(members):
                            t.waste_m3[step, m] += k.volumes[r, m]
                        for s in range(species):
                            for m in range(members):
                                t.waste[step, s, m] += k.volumes[r, m] * h.slot[slot, s, m]
                    if trace >= 0 and a == 1:
                        for m in range(members):
                            t.trace_m3[trace + i, m] = t.waste_m3[step, m]
                            t.trace[trace + i, m] = t.waste[step, 0, m]
                elif code == NODE_FILL:
                    for s in range(species):
                        for m in range(members):
                            v = k.volumes[b, m]
                            total = h.node_m3[a, m] + v
                            if total > 0.0:
                                h.node[a, s, m] += (c[s, m] - h.node[a, s, m]) * (v / total)
                    for m in range(members):
                        h.node_m3[a, m] += k.volumes[b, m]
                elif code == DRAW:
                    for m in range(members):
                        v = k.volumes[a, m]
                        dead = k.volumes[b, m]
                        share = v / h.mixed_m3[m] if h.mixed_m3[m] > 0.0 else 0.0
                        rest = dead / h.dead_m3[m] if h.dead_m3[m] > 0.0 else 0.0
                        t.waste_m3[step, m] += v + dead
                        for s in range(species):
                            gone = h.mixed[s, m] * share
                            t.waste[step, s, m] += gone + h.dead[s, m] * rest
                            h.mixed[s, m] -= gone
                            h.dead[s, m] -= h.dead[s, m] * rest
                        h.mixed_m3[m] -= v
                        h.dead_m3[m] -= dead
                elif code == FILL:
                    for m in range(members):
                        h.mixed_m3[m] += k.volumes[a, m]
                        h.dead_m3[m] += k.volumes[b, m]
                        for s in range(species):
                            h.mixed[s, m] += k.volumes[a, m] * k.new[s]
                            h.dead[s, m] += k.volumes[b, m] * k.new[s]
                elif code == MERGE:
                    for m in range(members):
                        if k.volumes[a, m] > 0.5:
                            h.mixed_m3[m] += h.dead_m3[m]
                            h.dead_m3[m] = 0.0
                            for s in range(species):
                                h.mixed[s, m] += h.dead[s, m]
                                h.dead[s, m] = 0.0
                elif code == NODE_EMPTY:
                    for m in range(members):
                        if k.volumes[d, m] < 0.5:
                            continue
                        t.waste_m3[step, m] += h.node_m3[a, m]
                        for s in range(species):
                            t.waste[step, s, m] += (
                                h.node_m3[a, m] * h.node[a, s, m] + h.caught[a, s, m]
                            )
                            h.node[a, s, m] = k.new[s]
                            h.caught[a, s, m] = 0.0
                        h.node_m3[a, m] = k.node_m3[a, m] if b == 1 else 0.0
                elif code == REGIME:
                    _set_regime(p, k, h, a, b)
                elif code == SNAP:
                    _snap(p, k, h, t, a, work)
                    step = a + 1
    return made


@_jit
def bin_means(gone_m3: Floats, gone: Floats, edges_m3: Floats, into: Floats) -> None:
    """Write the mean concentration of each bin of outflow, (bins, members); NaN where nothing came.

    ``gone_m3`` and ``gone`` (rows, members) are what had passed after each sub-step; ``edges_m3``
    (bins,) the upper ends of the bins."""
    rows, members = gone.shape
    for m in range(members):
        row = 0
        low_m3 = 0.0
        low = 0.0
        before_m3 = 0.0
        before = 0.0
        for b in range(edges_m3.size):
            edge = edges_m3[b]
            while row < rows and gone_m3[row, m] < edge:
                low_m3 = gone_m3[row, m]
                low = gone[row, m]
                row += 1
            if row < rows:
                span = gone_m3[row, m] - low_m3
                share = (edge - low_m3) / span if span > 0.0 else 1.0
                at_m3 = edge
                at = low + share * (gone[row, m] - low)
            else:
                at_m3 = low_m3
                at = low
            width = at_m3 - before_m3
            into[b, m] = (at - before) / width if width > 1e-9 else np.nan
            before_m3 = at_m3
            before = at
