"""How a circuit is numbered for the kernel, and which parts move in each kind of phase.

A *phase* is a stretch of a step in which nothing changes direction. Its *pattern* says which parts
move and writes every volume that passes anywhere as a sum of a few given ones: what each path
carries, and what each moving leg takes or gives. Patterns depend on the circuit alone, so they are
worked out once and kept."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.transport import kernel
from ullage.transport.lanes import Regime, lanes_of
from ullage.transport.structure import Mixing
from ullage.transport.values import Values

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolution:
    """How finely a run is cut; cells decide memory, sub-steps time. All volumes [m3].

    Sizes hold for a circuit of ``sized_for_m3`` and above; a smaller one is cut finer in
    proportion. While nothing goes to waste the total stands still, and sub-steps may be
    ``closed_factor`` times longer. ``FAST`` keeps the 95th percentile of the error of the
    remaining share under 1e-3 on the bench circuit.

    ``pieces_apart`` keeps a record of every piece of a line on a path, one behind the other;
    otherwise a few lanes stand for all its pieces together.
    """

    path_cell_m3: float = 150e-6
    leg_cell_m3: float = 30e-6
    path_step_m3: float = 200e-6
    leg_step_m3: float = 100e-6
    closed_factor: float = 3.0
    sized_for_m3: float = 12e-3
    pieces_apart: bool = True

    def fitted(self, content_m3: float) -> Resolution:
        """Return the sizes for a circuit.

        Parameters
        ----------
        content_m3 : scalar
            All fluid that the circuit holds at the start. [m3]

        Returns
        -------
        resolution : Resolution
            The same, or finer for a circuit below ``sized_for_m3``.

        Source
        ------
        Ours; measured in ``bench/washout.py``.
        """
        share = min(1.0, content_m3 / self.sized_for_m3)
        return replace(
            self,
            path_cell_m3=self.path_cell_m3 * share,
            leg_cell_m3=self.leg_cell_m3 * share,
            path_step_m3=self.path_step_m3 * share,
            leg_step_m3=self.leg_step_m3 * share,
            sized_for_m3=self.sized_for_m3 * share,
        )


FAST = Resolution(pieces_apart=False)
FINE = Resolution(
    path_cell_m3=10e-6,
    leg_cell_m3=2e-6,
    path_step_m3=10e-6,
    leg_step_m3=5e-6,
    closed_factor=1.0,
    sized_for_m3=1e-4,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How far fluid goes along one path in a phase.

    ``last`` is the place of the last part that may move; ``ends`` says where fluid goes from
    there: "reservoir", "waste" or "" (into a leg or a dry node). A way with a flow of its own
    (``own``) carries a given volume from the reservoir on; another one carries just what its legs
    take."""

    path: int
    ends: str
    last: int
    own: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What moves in a phase: ways with a flow of their own, and legs that extend (+1) or retract
    (-1).

    ``bleeds`` is a leg that lets fluid out, ``fills`` a dry node that the last way runs into,
    ``pours`` whether new fluid makes up for what the ways send to waste, a bleed point or a dry
    node."""

    ways: tuple[Way, ...] = ()
    moves: tuple[tuple[int, int], ...] = ()
    bleeds: int = -1
    fills: str = ""
    pours: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Operations of one sub-step with row and edge numbers counted from zero, and the rows as sums.

    ``ops`` (operations, 6) are those of the kernel; ``by_row`` and ``by_edge`` have 1 where the
    number of the first row, or edge, is to be added. ``strokes`` are the operations that move a
    leg's line: which of them, its row and its line. ``edges`` (edges, 2) are slots and rows. Each
    row of ``sums`` (.., given) is a combination of the given volumes, which are those of the
    ways with a flow of their own, then those of the moving legs: first the ``rows`` of the
    operations, then what leaves the reservoir, what is poured, what returns and what goes to
    waste, then what passes each of the moving ``lines``."""

    ops: Ints
    by_row: Ints
    by_edge: Ints
    strokes: tuple[tuple[int, int, int], ...]
    edges: Ints
    sums: Floats
    rows: int
    lines: NDArray[np.intp]


@dataclass(kw_only=True)
class Layout:
    """The numbering of a circuit for one class of machines.

    ``patterns`` depend on the circuit alone: layouts of one circuit may share them.
    """

    circuit: Circuit
    mixing: Mixing
    resolution: Resolution
    best: Values
    patterns: dict[Kind, Pattern] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Cut a small circuit finer."""
        best = self.best
        chambers = best.leg_dead_m3 + best.leg_stroke_m3 * best.leg_start_share + best.leg_gas_m3
        held = [best.start_m3, best.parts_m3, best.leg_line_m3, chambers]
        content = sum(float(volumes[..., 0].sum()) for volumes in held)
        self.resolution = self.resolution.fitted(content)

    @cached_property
    def node_index(self) -> dict[str, int]:
        """Return the kernel's number of each node."""
        nodes = [part for part in self.circuit.flow_order if part in self.circuit.node_by_id]
        return {part: i for i, part in enumerate(nodes)}

    @cached_property
    def line_index(self) -> dict[str, int]:
        """Return the kernel's number of each line, legs' lines last."""
        lines = [part for part in self.circuit.flow_order if part in self.circuit.line_by_id]
        lines += [leg.line.id for leg in self.circuit.legs]
        return {part: i for i, part in enumerate(lines)}

    @cached_property
    def path_lines(self) -> int:
        """Return how many lines stand on paths."""
        return len(self.line_index) - len(self.circuit.legs)

    @cached_property
    def leg_index(self) -> dict[str, int]:
        """Return the kernel's number of each leg."""
        return {leg.id: i for i, leg in enumerate(self.circuit.legs)}

    @cached_property
    def part_index(self) -> dict[str, int]:
        """Return the place of each part in the flow order."""
        return {part: i for i, part in enumerate(self.circuit.flow_order)}

    def slot(self, part: str) -> int:
        """Return the slot that a part's mean outflow stands in."""
        return kernel.FIRST_PART_SLOT + self.part_index[part]

    def leg_slot(self, leg: int) -> int:
        """Return the slot that what a leg gives back stands in."""
        return kernel.FIRST_PART_SLOT + len(self.part_index) + leg

    @cached_property
    def slots(self) -> int:
        """Return the number of slots."""
        return kernel.FIRST_PART_SLOT + len(self.part_index) + len(self.leg_index)

    @cached_property
    def pieces(self) -> NDArray[np.int64]:
        """Return into how many pieces re-mixing places cut each line."""
        more = self.mixing.more_fittings
        lines = [
            self.circuit.line_by_id[i] for i in self.line_index if i in self.circuit.line_by_id
        ]
        lines += [leg.line for leg in self.circuit.legs]
        return np.array([line.fittings + 1 + more for line in lines], dtype=np.int64)

    @cached_property
    def segments(self) -> NDArray[np.int64]:
        """Return the number of records that the kernel keeps of each line.

        One for a line on a path, whose lanes are those of all its pieces, unless pieces are to
        stay apart; one a piece in a leg, where fluid turns back.
        """
        segments = self.pieces.copy()
        if not self.resolution.pieces_apart:
            segments[: self.path_lines] = 1
        return segments

    def cells_per_m3(self, values: Values) -> Floats:
        """Return how finely lines are recorded, (lines, columns) [1/m3].

        Lines on paths hold whole cells, two at least in a piece. In legs an even number of cells
        makes up the window of motion, so that both its ends fall on the grid and turning there
        mixes nothing."""
        volumes = self.line_m3(values)
        best = self.line_m3(self.best)[:, 0] / self.pieces
        cells = np.maximum(2.0, np.round(best / self.resolution.path_cell_m3))
        per_m3 = (cells * self.pieces)[:, None] / volumes
        for leg in range(len(self.circuit.legs)):
            window = values.leg_stroke_m3[leg] * values.leg_use_share[leg]
            if np.all(window > 0.0):
                halves = max(1.0, round(0.5 * float(window[0]) / self.resolution.leg_cell_m3))
                per_m3[self.path_lines + leg] = 2.0 * halves / window
            else:
                per_m3[self.path_lines + leg] = 1.0 / self.resolution.leg_cell_m3
        return per_m3

    @cached_property
    def part_names(self) -> tuple[str, ...]:
        """Return the names of all parts as results list them."""
        legs = [f"{leg.id}.{part}" for leg in self.circuit.legs for part in ("line", "chamber")]
        return ("reservoir", *self.part_index, *legs)

    @cached_property
    def part_places(self) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """Return where nodes, lines and chambers stand among the parts, each by the kernel's
        number.
        """
        legs = np.arange(len(self.circuit.legs), dtype=np.intp)
        first = 1 + len(self.part_index)
        lines = np.concatenate([1 + self.line_rows, first + 2 * legs])
        return 1 + self.node_rows, lines, first + 2 * legs + 1

    @cached_property
    def node_rows(self) -> NDArray[np.intp]:
        """Return where the nodes stand in the flow order."""
        return np.array([self.part_index[p] for p in self.node_index], dtype=np.intp)

    @cached_property
    def line_rows(self) -> NDArray[np.intp]:
        """Return where the lines of paths stand in the flow order."""
        names = list(self.line_index)[: self.path_lines]
        return np.array([self.part_index[p] for p in names], dtype=np.intp)

    def line_m3(self, values: Values) -> Floats:
        """Return the volume of every line, (lines, columns)."""
        return np.concatenate([values.parts_m3[self.line_rows], values.leg_line_m3])

    @cached_property
    def lane_tables(self) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Return flow shares and delays by regime and line, (2, lines, lanes), and how many lanes
        each regime has.
        """
        count = np.array([1, self.mixing.lanes], dtype=np.int64)
        lines = len(self.pieces)
        flow, delay = np.zeros((2, lines, count.max())), np.ones((2, lines, count.max()))
        flow[kernel.PLUG, :, 0] = 1.0
        for line, (pieces, segments) in enumerate(zip(self.pieces, self.segments, strict=True)):
            one = lanes_of(Regime.LAMINAR, self.mixing.lanes, int(pieces // segments))
            flow[kernel.LAMINAR, line], delay[kernel.LAMINAR, line] = one.flow, one.delay
        return flow, delay, count

    def pattern(self, kind: Kind) -> Pattern:
        """Return the operations of a kind of phase."""
        found = self.patterns.get(kind)
        if found is None:
            found = self.patterns[kind] = _Weaver(self, kind).pattern()
        return found


class _Weaver:
    """Works out one pattern: walks the ways, follows what legs take and give, orders the
    operations.
    """

    def __init__(self, layout: Layout, kind: Kind) -> None:
        self.layout = layout
        self.kind = kind
        self.owners = [i for i, way in enumerate(kind.ways) if way.own]
        self.width = len(self.owners) + len(kind.moves)
        self.starts: list[Floats] = []
        self.rows: list[Floats] = []
        self.into: dict[str, list[tuple[int, Floats]]] = {}
        self.waste: list[tuple[int, Floats]] = []
        self.back: list[tuple[int, Floats]] = []

    def unit(self, i: int) -> Floats:
        """Return the sum that is the i-th given volume alone."""
        one = np.zeros(self.width)
        one[i] = 1.0
        return one

    def row(self, total: Floats) -> int:
        """Return the number of the row that holds a sum."""
        self.rows.append(total)
        return len(self.rows) - 1

    def walk(self) -> None:
        """Follow each way and note what flows from part to part."""
        circuit = self.layout.circuit
        moves = {
            leg: (sign, self.unit(len(self.owners) + i))
            for i, (leg, sign) in enumerate(self.kind.moves)
        }
        for i, way in enumerate(self.kind.ways):
            through = circuit.paths[way.path].through
            if way.own:
                flow = self.unit(self.owners.index(i))
            else:
                wanted = [
                    v for leg, (s, v) in moves.items() if s > 0 and circuit.legs[leg].at in through
                ]
                flow = np.sum([np.zeros(self.width), *wanted], axis=0)
            self.starts.append(flow)
            source = kernel.RESERVOIR_SLOT
            for part in through[: way.last + 1]:
                taken, given = np.zeros(self.width), np.zeros(self.width)
                entering = self.into.setdefault(part, [])
                if np.any(flow):
                    entering.append((source, flow.copy()))
                for leg, (sign, volume) in moves.items():
                    unit = circuit.legs[leg]
                    if sign > 0 and unit.at == part:
                        taken = taken + volume
                    if sign < 0 and unit.returns_to == part:
                        given = given + volume
                        entering.append((self.layout.leg_slot(leg), volume.copy()))
                flow = flow + given - taken
                source = self.layout.slot(part)
            if way.ends and np.any(flow):
                (self.waste if way.ends == "waste" else self.back).append((source, flow))

    def pattern(self) -> Pattern:
        """Return the finished pattern."""
        self.walk()
        layout, kind = self.layout, self.kind
        edges: list[tuple[int, int]] = []
        ops: list[tuple[int, int, int, int, int, int]] = []

        def fed(feeds: list[tuple[int, Floats]]) -> tuple[int, int, Floats]:
            merged: dict[int, Floats] = {}
            for slot, volume in feeds:
                merged[slot] = merged.get(slot, np.zeros(self.width)) + volume
            first = len(edges)
            for slot, volume in merged.items():
                edges.append((slot, self.row(volume)))
            return first, len(edges), np.sum(list(merged.values()), axis=0)

        def row_in(first: int, last: int, total: Floats) -> int:
            return edges[first][1] if last - first == 1 else self.row(total)

        none = np.zeros(self.width)
        out = np.sum([none, *self.starts], axis=0)
        back = np.sum([none, *(v for _, v in self.back)], axis=0)
        waste = np.sum([none, *(v for _, v in self.waste)], axis=0)
        made_up = [
            start
            for way, start in zip(kind.ways, self.starts, strict=True)
            if kind.pours and way.ends != "reservoir"
        ]
        pour = np.sum([none, *made_up], axis=0)
        row_out = self.row(out) if np.any(out) else -1
        row_pour = self.row(pour) if np.any(pour) else -1
        row_back = self.row(back) if np.any(back) else -1
        lines: dict[int, Floats] = {}
        for leg, sign in kind.moves:
            if sign < 0:
                row = self.row(self.unit(len(self.owners) + kind.moves.index((leg, sign))))
                ops.append((kernel.RETRACT, leg, row, layout.leg_slot(leg), 0, 0))
                lines[layout.path_lines + leg] = self.rows[row]
        if row_out >= 0:
            ops.append((kernel.RESERVOIR_OUT, row_out, row_pour, row_back, 0, 0))
        for part in layout.circuit.flow_order:
            feeds = self.into.get(part)
            if not feeds:
                continue
            first, last, total = fed(feeds)
            row = row_in(first, last, total)
            slot = layout.slot(part)
            if part == kind.fills:
                ops.append((kernel.NODE_FILL, layout.node_index[part], row, -1, first, last))
            elif part in layout.node_index:
                ops.append((kernel.NODE, layout.node_index[part], row, slot, first, last))
            else:
                ops.append((kernel.LINE, layout.line_index[part], row, slot, first, last))
                lines[layout.line_index[part]] = total
            for i, (leg, sign) in enumerate(kind.moves):
                if sign > 0 and layout.circuit.legs[leg].at == part:
                    row = self.row(self.unit(len(self.owners) + i))
                    ops.append((kernel.EXTEND, leg, row, slot, 0, 0))
                    lines[layout.path_lines + leg] = self.rows[row]
            if kind.bleeds >= 0 and layout.circuit.legs[kind.bleeds].at == part:
                ops.append((kernel.BLEED, kind.bleeds, row, slot, 0, 0))
                lines[layout.path_lines + kind.bleeds] = total
        if self.waste:
            first, last, _ = fed(self.waste)
            ops.append((kernel.WASTE, 1, 0, 0, first, last))
        first, last, _ = fed(self.back) if self.back else (0, 0, back)
        ops.append((kernel.RESERVOIR_IN, row_pour, row_out, 0, first, last))
        rows = len(self.rows)
        totals = [*self.rows, out, pour, back, waste, *lines.values()]
        strokes = tuple(
            (place, row, layout.path_lines + leg)
            for place, (code, leg, row, *_) in enumerate(ops)
            if code in (kernel.EXTEND, kernel.RETRACT, kernel.BLEED)
        )
        return Pattern(
            ops=np.array(ops, dtype=np.int64),
            by_row=np.array([_by_row(op) for op in ops], dtype=np.int64),
            by_edge=np.array([_by_edge(op) for op in ops], dtype=np.int64),
            strokes=strokes,
            edges=np.array(edges, dtype=np.int64).reshape(-1, 2),
            sums=np.array(totals),
            rows=rows,
            lines=np.array(list(lines), dtype=np.intp),
        )


def _by_row(op: tuple[int, ...]) -> tuple[int, ...]:
    """Return 1 where an entry of an operation is the number of a row; -1 stands for no row."""
    code, a, b, c, *_ = op
    if code == kernel.WASTE:
        return (0,) * 6
    if code == kernel.RESERVOIR_OUT:
        return (0, 1, int(b >= 0), int(c >= 0), 0, 0)
    if code == kernel.RESERVOIR_IN:
        return (0, int(a >= 0), int(b >= 0), 0, 0, 0)
    return (0, 0, 1, 0, 0, 0)


def _by_edge(op: tuple[int, ...]) -> tuple[int, ...]:
    """Return 1 where an entry of an operation is the number of an edge."""
    counts_cells = op[0] in (kernel.EXTEND, kernel.RETRACT, kernel.BLEED)
    return (0, 0, 0, 0, *((0, 0) if counts_cells else (1, 1)))
