"""Carries out a program of operations on a block of members: the mixed vessels, and who is next.

Compiled by numba into one piece of machine code with one door, ``enter``, which takes a table of
addresses. ``machine_code`` compiles it and keeps it; ``kernel`` writes the table.
"""

from __future__ import annotations

import math

import numpy as np

from ullage.transport.kernel import (
    BEGIN,
    BIN_MEANS,
    BLEED,
    BLOCK_AT,
    DRAW,
    EXTEND,
    FILL,
    HELD_AT,
    LINE,
    LINES_HELD,
    MERGE,
    NEW_FLUID_SLOT,
    NODE,
    NODE_EMPTY,
    NODE_FILL,
    PROGRAM_AT,
    REGIME,
    RESERVOIR_IN,
    RESERVOIR_OUT,
    RESERVOIR_SLOT,
    RETRACT,
    RUN,
    SLOTS,
    SNAP,
    TOLD_AT,
    UNSET,
    WASTE,
    WORK_AT,
    Block,
    Floats,
    Held,
    Ints,
    Program,
    Told,
    Work,
)
from ullage.transport.kernel.arrays_at import (
    floats1,
    floats2,
    floats3,
    ints1,
    ints2,
    number,
    rows2,
    table_at,
)
from ullage.transport.kernel.line_records import (
    apart,
    joined,
    line_held,
    run_leg,
    run_line,
    set_regime,
    woven,
)


@woven
def _program(t: Ints) -> Program:
    """Return the program that the table points at."""
    return Program(
        ints2(t, PROGRAM_AT + 0),
        ints2(t, PROGRAM_AT + 1),
        ints1(t, PROGRAM_AT + 2),
        ints1(t, PROGRAM_AT + 3),
        floats3(t, PROGRAM_AT + 4),
        floats3(t, PROGRAM_AT + 5),
        ints1(t, PROGRAM_AT + 6),
        ints1(t, PROGRAM_AT + 7),
        ints1(t, PROGRAM_AT + 8),
        ints1(t, PROGRAM_AT + 9),
        ints1(t, PROGRAM_AT + 10),
        ints1(t, PROGRAM_AT + 11),
        ints1(t, PROGRAM_AT + 12),
        number(t, PROGRAM_AT + 13),
        floats2(t, PROGRAM_AT + 14),
    )


@woven
def _block(t: Ints) -> Block:
    """Return the numbers of the members."""
    return Block(
        floats2(t, BLOCK_AT + 0),
        floats2(t, BLOCK_AT + 1),
        floats2(t, BLOCK_AT + 2),
        floats2(t, BLOCK_AT + 3),
        floats2(t, BLOCK_AT + 4),
        floats1(t, BLOCK_AT + 5),
        floats1(t, BLOCK_AT + 6),
        floats1(t, BLOCK_AT + 7),
        floats1(t, BLOCK_AT + 8),
        floats1(t, BLOCK_AT + 9),
    )


@woven
def _held(t: Ints) -> Held:
    """Return the state."""
    return Held(
        floats1(t, HELD_AT + 0),
        floats1(t, HELD_AT + 1),
        floats2(t, HELD_AT + 2),
        floats2(t, HELD_AT + 3),
        floats2(t, HELD_AT + 4),
        floats2(t, HELD_AT + 5),
        floats2(t, HELD_AT + 6),
        floats3(t, HELD_AT + 7),
        floats3(t, HELD_AT + 8),
        floats2(t, HELD_AT + 9),
        floats2(t, HELD_AT + 10),
        floats3(t, HELD_AT + 11),
        floats3(t, HELD_AT + 12),
        floats3(t, HELD_AT + 13),
        floats3(t, HELD_AT + 14),
        floats3(t, HELD_AT + 15),
        floats2(t, HELD_AT + 16),
        floats1(t, HELD_AT + 17),
        floats1(t, HELD_AT + 18),
        floats2(t, HELD_AT + 19),
        floats3(t, HELD_AT + 20),
        ints1(t, HELD_AT + 21),
        floats3(t, HELD_AT + 22),
        floats3(t, HELD_AT + 23),
    )


@woven
def _told(t: Ints) -> Told:
    """Return what is reported."""
    return Told(
        floats2(t, TOLD_AT + 0),
        floats3(t, TOLD_AT + 1),
        floats2(t, TOLD_AT + 2),
        floats3(t, TOLD_AT + 3),
        floats2(t, TOLD_AT + 4),
        floats3(t, TOLD_AT + 5),
        floats2(t, TOLD_AT + 6),
        floats2(t, TOLD_AT + 7),
    )


@woven
def _work(t: Ints) -> Work:
    """Return the room to work in."""
    return Work(
        rows2(t, WORK_AT + 0),
        rows2(t, WORK_AT + 1),
        ints1(t, WORK_AT + 2),
        floats2(t, WORK_AT + 3),
        floats2(t, WORK_AT + 4),
        floats2(t, WORK_AT + 5),
        floats2(t, WORK_AT + 6),
        floats2(t, WORK_AT + 7),
        floats2(t, WORK_AT + 8),
    )


@joined
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


@joined
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


@joined
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


@apart
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
            line_held(p, k, h, line, s, work[0])
            for m in range(members):
                held[m] += work[0, m]


@apart
def _begin(t: Ints) -> None:
    """Fill everything with the first fluid; volumes of reservoir and chambers are set by the
    caller.
    """
    k, h = _block(t), _held(t)
    p = _program(t)
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


@apart
def _lines_held(t: Ints) -> None:
    """Write the amount of the first species in every whole line, (lines, members)."""
    p, k, h, w = _program(t), _block(t), _held(t), _work(t)
    for line in range(p.segments.size):
        line_held(p, k, h, line, 0, w.line_held[line])


@apart
def _run(t: Ints) -> int:
    """Carry out a program; return the number of sub-steps made."""
    p, k, h, w = _program(t), _block(t), _held(t), _work(t)
    low_at, high_at, reached, part = w.low_at, w.high_at, w.reached, w.part
    work, c, keep, mean = w.work, w.c, w.keep, w.mean
    told = _told(t)
    members = k.brim_m3.size
    species = k.first.size
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
                    run_leg(
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
                    run_line(p, k, h, a, b, c, low_at, high_at, part, work)
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
                            told.spilled_m3[step, m] += over
                            for s in range(species):
                                gone = h.mixed[s, m] * (over / level)
                                h.mixed[s, m] -= gone
                                told.spilled[step, s, m] += gone
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
                                told.waste[step, s, m] += leaves
                        for m in range(members):
                            told.waste_m3[step, m] += k.volumes[b, m]
                elif code == RETRACT:
                    for s in range(species):
                        for m in range(members):
                            h.slot[d, s, m] = c[s, m]
                elif code == WASTE:
                    for e in range(e0, e1):
                        slot = p.edge_slot[e]
                        r = p.edge_row[e]
                        for m in range(members):
                            told.waste_m3[step, m] += k.volumes[r, m]
                        for s in range(species):
                            for m in range(members):
                                told.waste[step, s, m] += k.volumes[r, m] * h.slot[slot, s, m]
                    if trace >= 0 and a == 1:
                        for m in range(members):
                            told.trace_m3[trace + i, m] = told.waste_m3[step, m]
                            told.trace[trace + i, m] = told.waste[step, 0, m]
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
                        told.waste_m3[step, m] += v + dead
                        for s in range(species):
                            gone = h.mixed[s, m] * share
                            told.waste[step, s, m] += gone + h.dead[s, m] * rest
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
                        told.waste_m3[step, m] += h.node_m3[a, m]
                        for s in range(species):
                            told.waste[step, s, m] += (
                                h.node_m3[a, m] * h.node[a, s, m] + h.caught[a, s, m]
                            )
                            h.node[a, s, m] = k.new[s]
                            h.caught[a, s, m] = 0.0
                        h.node_m3[a, m] = k.node_m3[a, m] if b == 1 else 0.0
                elif code == REGIME:
                    set_regime(p, k, h, a, b, c)
                elif code == SNAP:
                    _snap(p, k, h, told, a, work)
                    step = a + 1
    return made


@apart
def _bin_means(t: Ints) -> None:
    """Write the mean concentration of each bin of outflow, (bins, members); NaN where nothing came.

    ``gone_m3`` and ``gone`` (rows, members) are what had passed after each sub-step; ``edges_m3``
    (bins,) the upper ends of the bins.
    """
    gone_m3, gone, edges_m3, into = floats2(t, 0), floats2(t, 1), floats1(t, 2), floats2(t, 3)
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


def enter(what: int, table: int) -> int:
    """Do one of the jobs with the table at an address; return the sub-steps made, or nought."""
    t = table_at(table, 4 * SLOTS)
    if what == BEGIN:
        _begin(t)
    elif what == RUN:
        made: int = _run(t)
        return made
    elif what == LINES_HELD:
        _lines_held(t)
    elif what == BIN_MEANS:
        _bin_means(t)
    return 0
