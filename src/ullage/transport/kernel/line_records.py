"""How fluid moves along lines: what the kernel does with the records of a block of members.

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

Compiled by numba as part of ``operations``; arrays as ``kernel`` describes them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.transport.compiled import numba
from ullage.transport.kernel import PLUG, SAME, STILL, UNSET, Block, Floats, Held, Ints, Program

Rows = NDArray[np.uint32]

# Nothing here allocates, so nothing needs to be counted, and nothing but the door is called from
# Python. Handing over a tuple of arrays costs more than a short loop over a block, so most
# functions become a part of their callers: joined ones as machine code, which compiles sooner;
# woven ones as source, which alone may return arrays.
OPTIONS: dict[str, Any] = {
    "nogil": True,
    "error_model": "numpy",
    "_nrt": False,
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
}
apart = numba.njit(**OPTIONS)
woven = numba.njit(inline="always", **OPTIONS)
joined = numba.njit(forceinline=True, **OPTIONS)


@joined
def _cut(p: Program, line: int, regime: int) -> int:
    """Return into how many segments a line is cut: fittings do nothing to a plug."""
    return 1 if regime == PLUG else p.segments[line]


@apart
def set_uniform(p: Program, k: Block, h: Held, line: int, mean: Floats, regime: int) -> None:
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


@apart
def line_held(p: Program, k: Block, h: Held, line: int, s: int, into: Floats) -> None:
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


@apart
def set_regime(p: Program, k: Block, h: Held, line: int, regime: int, mean: Floats) -> None:
    """Take a line into a regime; where it was in another one, it is mixed along.

    ``mean`` (species, members) is room to work in.
    """
    if h.regime[line] == regime:
        return
    members = k.brim_m3.size
    species = k.first.size
    for s in range(species):
        line_held(p, k, h, line, s, mean[s])
        for m in range(members):
            mean[s, m] /= k.line_m3[line, m]
    set_uniform(p, k, h, line, mean, regime)


@joined
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


@joined
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


@joined
def run_line(
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


@joined
def _shuttle(
    p: Program,
    h: Held,
    line: int,
    moved: Floats,
    span: Floats,
    inward: bool,
    c: Floats,
    rise: Floats,
    most_held: Floats,
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
            # Where a record turns, the point below its head may be one that a longer stroke has
            # written over: it says no more than that the cell holds between nothing and all.
            for m in range(members):
                below = (np.int32(first[m]) & mask) * wide + m
                least = head[m] - (was[m] - first[m]) * most_held[s]
                pushing[below] = min(max(pushing[below], least), head[m])
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


@joined
def run_leg(
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
            p,
            h,
            line,
            moved,
            k.span[line],
            inward,
            c,
            rising,
            k.most,
            low_at,
            high_at,
            part,
            work,
            reached,
        )
        for s in range(species):
            for m in range(members):
                summed[s, m] += c[s, m]
    for s in range(species):
        for m in range(members):
            c[s, m] = summed[s, m] / times
