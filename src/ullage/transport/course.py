"""The course of a run: what flows when, for every member, before any concentration is known.

Volumes do not depend on what is dissolved in them, so levels, spills, windows of motion and the
moment at which a reservoir runs empty follow from the recipe alone, exactly. This file keeps those
books and writes the kernel's program as it goes; ``steps`` says what each step of a recipe does in
its terms."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ullage.fluids.pipe_flow import reynolds
from ullage.transport import kernel
from ullage.transport.lanes import Regime, regime_at
from ullage.transport.layout import Kind, Layout
from ullage.transport.result import Note, Stop
from ullage.transport.values import Values

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_DROP_M3 = 1e-12
#: Where a reservoir runs dry: the last piece of a phase, and how many pieces there are at most.
_LAST_M3 = 1e-18
_MOST_PIECES = 1500
#: Cycles that are remembered for one layout and its values.
MOTIONS_KEPT = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """So many sub-steps alike: what every part moves in all of them, and what that does to the
    reservoir, (columns,). The same in every program of the same layout and values.
    """

    steps: int
    kind: Kind
    given: Floats
    moved_m3: Floats
    cells: Floats
    out_m3: Floats
    poured_m3: Floats
    back_m3: Floats
    waste_m3: Floats
    gain_m3: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A phase in a program: where its operations stand."""

    phase: Phase
    first_op: int
    last_op: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """A whole cycle of a group worked out: its phases, how fast each leg moves [m3/s], and what a
    person should know.
    """

    phases: tuple[Phase, ...]
    speeds: dict[int, float]
    note: Note | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """Stretches in a row: how far the level sinks and rises on the way, and whether it comes back,
    (columns,).
    """

    stretches: tuple[Stretch, ...]
    lowest_m3: Floats
    highest_m3: Floats
    poured_m3: Floats
    waste_m3: float
    comes_back: bool


class Known:
    """What a layout and its values say whatever is done: how lines are cut, (lines, columns), and
    the cycles that were worked out before.
    """

    def __init__(self, layout: Layout, values: Values) -> None:
        self.line_m3 = layout.line_m3(values)
        self.cells_per_m3 = layout.cells_per_m3(values)
        self.span = self.cells_per_m3 * self.line_m3
        self._motions: dict[object, Motion] = {}

    def motion(self, key: object, work: Callable[[], Motion]) -> Motion:
        """Return a cycle, worked out unless it is remembered."""
        found = self._motions.get(key)
        if found is None:
            if len(self._motions) >= MOTIONS_KEPT:
                self._motions.clear()
            found = self._motions[key] = work()
        return found


def cycle_of(stretches: list[Stretch]) -> Cycle:
    """Return stretches as one cycle."""
    gain = np.zeros_like(stretches[0].phase.gain_m3)
    low = high = poured = gain
    for stretch in stretches:
        gain = gain + stretch.phase.gain_m3
        low, high = np.minimum(low, gain), np.maximum(high, gain)
        poured = poured + stretch.phase.poured_m3
    return Cycle(
        stretches=tuple(stretches),
        lowest_m3=low,
        highest_m3=high,
        poured_m3=poured,
        waste_m3=float(sum(stretch.phase.waste_m3[0] for stretch in stretches)),
        comes_back=bool(np.all(np.abs(gain) < _DROP_M3)),
    )


@dataclass(kw_only=True)
class Tally:
    """What one step has done so far, (columns,)."""

    index: int
    do: str
    poured_m3: Floats
    spilled_m3: Floats
    lowest_m3: Floats
    duration_s: Floats
    waste_m3: float = 0.0
    cycles: dict[str, int] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)
    first_trace: int = -1
    trace_rows: int = 0
    level_m3: Floats = field(default_factory=lambda: np.zeros(0))


class Course:
    """The books of a run over all columns, and the program that grows with it."""

    def __init__(self, layout: Layout, values: Values, known: Known | None = None) -> None:
        """Begin the books; ``known`` is what other courses of this layout and these values know."""
        self.known = known or Known(layout, values)
        self.layout = layout
        self.values = values
        count = values.count
        self.dead_m3 = np.minimum(values.start_m3, values.dead_m3)
        self.mixed_m3 = values.start_m3 - self.dead_m3
        self.place = values.leg_start_share.copy()
        for leg, partner in layout.circuit.partner.items():
            a, b = layout.leg_index[leg], layout.leg_index[partner]
            if a < b:
                self.place[b] = 1.0 - self.place[a]
        self.first_chamber_m3 = (
            values.leg_dead_m3 + values.leg_stroke_m3 * self.place + values.leg_gas_m3
        )
        self.first_mixed_m3 = self.mixed_m3.copy()
        self.first_dead_m3 = self.dead_m3.copy()
        self.charged = [leg.gas is not None for leg in layout.circuit.legs]
        self.dry: list[str] = []
        self.alive = np.ones(count)
        self.all_alive = True
        self.regimes = [kernel.UNSET] * len(layout.line_index)
        self.turn = 0
        self.turn_list: tuple[str, ...] = ()
        self.rows: list[Floats] = []
        self.row_count = 0
        self.ops: list[Ints] = []
        self.op_count = 0
        self.edges: list[Ints] = []
        self.edge_count = 0
        self.phases: list[tuple[int, int, int, int]] = []
        self.trace_rows = 0
        self.most_cells = np.ones(len(layout.line_index))
        self.bled_m3 = np.zeros((len(layout.circuit.legs), count))
        self.stop: Stop | None = None
        self.tally = self.open_step(0, "")
        self.minimum_told = False
        self.cells_per_m3, self.span = self.known.cells_per_m3, self.known.span

    @property
    def level_m3(self) -> Floats:
        """Return what the reservoir holds, (columns,)."""
        level: Floats = self.mixed_m3 + self.dead_m3
        return level

    def open_step(self, index: int, do: str) -> Tally:
        """Begin the books of a step."""
        none = np.zeros(self.values.count)
        self.tally = Tally(
            index=index,
            do=do,
            poured_m3=none.copy(),
            spilled_m3=none.copy(),
            lowest_m3=self.level_m3,
            duration_s=none.copy(),
        )
        self.minimum_told = False
        return self.tally

    def close_step(self) -> Tally:
        """End the books of a step and let the kernel take its snapshot."""
        self.act((kernel.SNAP, self.tally.index, 0, 0, 0, 0))
        self.tally.level_m3 = self.level_m3
        return self.tally

    def note(self, code: str, text: str, part: str | None = None) -> None:
        """Add a note to the step under way, once."""
        note = Note(code=code, text=text, part=part)
        if note not in self.tally.notes:
            self.tally.notes.append(note)

    def add_rows(self, rows: Floats) -> int:
        """Take rows of volumes, (rows, columns), into the program and return the number of the
        first.
        """
        first = self.row_count
        self.rows.append(rows)
        self.row_count += len(rows)
        return first

    def act(self, *ops: tuple[int, int, int, int, int, int]) -> None:
        """Carry out single operations once."""
        first, last = self._add_ops(np.array(ops, dtype=np.int64))
        self.phases.append((first, last, 1, -1))

    def _add_ops(self, ops: Ints) -> tuple[int, int]:
        """Take operations into the program; return where they begin and end."""
        first = self.op_count
        self.ops.append(ops)
        self.op_count += len(ops)
        return first, self.op_count

    def sub_steps(self, kind: Kind, given: Floats) -> int:
        """Return into how many sub-steps a phase is cut, judged by the best values."""
        resolution = self.layout.resolution
        best = given[:, 0]
        ways = len(best) - len(kind.moves)
        along = float(best[:ways].sum()) / resolution.path_step_m3
        legs = float(best[ways:].max(initial=0.0)) / resolution.leg_step_m3
        if kind.bleeds >= 0:
            legs = max(legs, float(best.sum()) / resolution.leg_step_m3)
        elif not any(way.ends == "waste" for way in kind.ways):
            along, legs = along / resolution.closed_factor, legs / resolution.closed_factor
        return max(1, math.ceil(max(along, legs) - 1e-9))

    def phase(self, kind: Kind, given: Floats, steps: int | None = None) -> Phase:
        """Return the phase that moves the given volumes, (ways with own flow + moves, columns)."""
        pattern = self.layout.pattern(kind)
        steps = steps or self.sub_steps(kind, given)
        moved = given if self.all_alive else given * self.alive
        volumes = np.maximum(pattern.sums @ moved, 0.0)
        rows = pattern.rows
        cells = (volumes[rows + 4 :] * self.cells_per_m3[pattern.lines]).max(axis=1, initial=0.0)
        out, poured, back, waste = volumes[rows : rows + 4]
        return Phase(
            steps=steps,
            kind=kind,
            given=moved,
            moved_m3=volumes[:rows] / steps,
            cells=cells / steps,
            out_m3=out,
            poured_m3=poured,
            back_m3=back,
            waste_m3=waste,
            gain_m3=back + poured - out,
        )

    def begun(self, phase: Phase) -> Stretch:
        """Write the operations of a phase into the program."""
        pattern = self.layout.pattern(phase.kind)
        base, edge = self.add_rows(phase.moved_m3), self.edge_count
        if len(pattern.edges):
            self.edges.append(pattern.edges + np.array([0, base]))
            self.edge_count += len(pattern.edges)
        ops = pattern.ops + base * pattern.by_row + edge * pattern.by_edge
        for place, row, line in pattern.strokes:
            cells = float(phase.moved_m3[row, 0] * self.cells_per_m3[line, 0])
            ops[place, 4] = max(1, math.ceil(cells - 1e-9))
        first, last = self._add_ops(ops)
        lines = pattern.lines
        self.most_cells[lines] = np.maximum(self.most_cells[lines], phase.cells)
        if phase.kind.bleeds >= 0:
            self.bled_m3[phase.kind.bleeds] += phase.given.sum(axis=0)
        return Stretch(phase=phase, first_op=first, last_op=last)

    def ready(self, kind: Kind, given: Floats, steps: int | None = None) -> Stretch:
        """Make a phase ready that moves the given volumes, (ways with own flow + moves,
        columns).
        """
        return self.begun(self.phase(kind, given, steps))

    def is_safe(self, cycle: Cycle) -> bool:
        """Tell whether a cycle leaves every level where it was, without spill, air or merging."""
        return bool(
            cycle.comes_back
            and np.all(self.mixed_m3 + cycle.lowest_m3 > _DROP_M3)
            and np.all(self.level_m3 + cycle.highest_m3 <= self.values.brim_m3 + _DROP_M3)
        )

    def holds_enough(self, cycle: Cycle) -> bool:
        """Tell whether no sub-step of a cycle takes more than the reservoir holds at its lowest."""
        low = self.mixed_m3 + cycle.lowest_m3
        phases = [stretch.phase for stretch in cycle.stretches]
        return all(np.all(phase.out_m3 <= phase.steps * low) for phase in phases)

    def thinned(self, stretch: Stretch) -> list[Stretch]:
        """Return a phase cut so that no sub-step takes more than the reservoir holds just then.

        A sub-step that took more would have to know what returns while it lasts. Where the level
        goes to nothing each piece takes what is left, so the pieces get ever smaller."""
        phase = stretch.phase
        out, gain, held = phase.out_m3, phase.gain_m3, self.mixed_m3
        moving = (out > 0.0) & (phase.back_m3 > 0.0)
        low = held + np.minimum(gain, 0.0)
        if not moving.any() or np.all((out <= phase.steps * low)[moving]):
            return [stretch]
        out, gain, held, low = out[moving], gain[moving], held[moving], low[moving]
        if np.all(low > 0.0) and float((out / low).max()) <= _MOST_PIECES:
            steps = math.ceil(float((out / low).max()))
            return [self.ready(phase.kind, phase.given, max(steps, phase.steps))]
        pieces: list[Stretch] = []
        gone = 0.0
        while gone < 1.0:
            share = min(float(((held + gone * gain) / out).min()), 1.0 / phase.steps, 1.0 - gone)
            if len(pieces) >= _MOST_PIECES or float((out * share).max()) < _LAST_M3:
                share = 1.0 - gone
            pieces.append(self.ready(phase.kind, phase.given * share, 1))
            gone = 1.0 if share >= 1.0 - gone else gone + share
        return pieces

    def repeat(self, cycles: list[Cycle], *, trace: bool) -> None:
        """Go through cycles one after the other, the pump running."""
        kinds = {id(cycle): cycle for cycle in cycles}
        if not all(self.is_safe(cycle) and self.holds_enough(cycle) for cycle in kinds.values()):
            for cycle in cycles:
                for stretch in cycle.stretches:
                    self.enter(stretch, pump=True, trace=trace)
            return
        for key, cycle in kinds.items():
            times = sum(1 for other in cycles if id(other) == key)
            self.watch_level(self.level_m3 + cycle.lowest_m3)
            self.tally.poured_m3 += cycle.poured_m3 * times
            self.tally.waste_m3 += cycle.waste_m3 * times
        for cycle in cycles:
            for stretch in cycle.stretches:
                row = self.trace(stretch, trace)
                self.phases.append((stretch.first_op, stretch.last_op, stretch.phase.steps, row))

    def trace(self, stretch: Stretch, wanted: bool) -> int:
        """Return the first trace row for a phase, or -1."""
        if not wanted:
            return -1
        first = self.trace_rows
        if self.tally.first_trace < 0:
            self.tally.first_trace = first
        self.trace_rows += stretch.phase.steps
        self.tally.trace_rows += stretch.phase.steps
        return first

    def watch_level(self, after: Floats) -> None:
        """Keep the lowest level, and say once when the best values fall below the minimum."""
        minimum = float(self.values.minimum_m3[0])
        if float(after[0]) < minimum - _DROP_M3 and not self.minimum_told and self.alive[0]:
            self.minimum_told = True
            self.note(
                "below-minimum",
                f"the level falls below the minimum of {minimum * 1e3:.2f} L after "
                f"{self.tally.waste_m3 * 1e3:.1f} L to waste; "
                "the pump may draw air: pour first, or take less",
                "reservoir",
            )
        self.tally.lowest_m3 = np.minimum(self.tally.lowest_m3, after)

    def enter(self, stretch: Stretch, *, pump: bool, trace: bool = False) -> None:
        """Go through a phase once: spill above the brim, stop where the reservoir is empty."""
        if not self.alive.any():
            return
        level = self.level_m3
        gain = stretch.phase.gain_m3
        if not self.all_alive and np.any(stretch.phase.out_m3[self.alive == 0.0] > 0.0):
            stretch = self.ready(stretch.phase.kind, stretch.phase.given)
            gain = stretch.phase.gain_m3
        sinks = level + gain < -_DROP_M3
        empty = sinks | ((level <= _DROP_M3) & (stretch.phase.out_m3 > 0.0))
        if pump and empty.any():
            lasts = np.where(sinks, level / np.where(sinks, -gain, 1.0), 0.0)
            share = np.where(empty, lasts, 1.0)
            stretch = self.ready(stretch.phase.kind, stretch.phase.given * share)
            gain = stretch.phase.gain_m3
        self._merge_dead(stretch)
        for piece in self.thinned(stretch) if pump else [stretch]:
            self._pass(piece, pump=pump, trace=trace)
        if not pump or not empty.any():
            return
        self.alive = np.where(empty, 0.0, self.alive)
        self.all_alive = False
        if empty[0] and self.stop is None:
            self.stop = Stop(
                step=self.tally.index + 1,
                waste_m3=self.tally.waste_m3,
                poured_m3=float(self.tally.poured_m3[0]),
                why="the reservoir is empty while the pump runs: it would draw air",
            )

    def _merge_dead(self, stretch: Stretch) -> None:
        """Let the dead share join the rest where the pump would otherwise have to draw from it."""
        runs_out = self.mixed_m3 + stretch.phase.gain_m3 < -_DROP_M3
        is_out = (self.mixed_m3 <= _DROP_M3) & (stretch.phase.out_m3 > 0.0)
        sinking = (runs_out | is_out) & (self.dead_m3 > 0.0)
        if not sinking.any():
            return
        row = self.add_rows(sinking[None, :].astype(np.float64))
        self.act((kernel.MERGE, row, 0, 0, 0, 0))
        self.mixed_m3 = np.where(sinking, self.level_m3, self.mixed_m3)
        self.dead_m3 = np.where(sinking, 0.0, self.dead_m3)

    def _pass(self, stretch: Stretch, *, pump: bool, trace: bool) -> None:
        """Let a phase happen: move the level, spill what comes over the brim."""
        after = self.level_m3 + stretch.phase.gain_m3
        over = np.maximum(after - self.values.brim_m3, 0.0)
        over = np.where(over > _DROP_M3, over, 0.0)
        if over[0] > 0.0:
            self.note(
                "spilled",
                f"{over[0] * 1e3:.2f} L came over the brim: draw off before fluid returns "
                "to the reservoir",
                "reservoir",
            )
        self.mixed_m3 = np.maximum(self.mixed_m3 + stretch.phase.gain_m3 - over, 0.0)
        if pump:
            self.watch_level(after)
        else:
            self.tally.lowest_m3 = np.minimum(self.tally.lowest_m3, after)
        self.tally.spilled_m3 += over
        self.tally.poured_m3 += stretch.phase.poured_m3
        self.tally.waste_m3 += float(stretch.phase.waste_m3[0])
        self.phases.append(
            (stretch.first_op, stretch.last_op, stretch.phase.steps, self.trace(stretch, trace))
        )

    def take_regimes(self, flows: dict[int, float], temperature: float) -> None:
        """Put moving lines into the regime of their flow [m3/s], by the old fluid's viscosity."""
        layout = self.layout
        nu = layout.circuit.fluid.nu_m2_s(temperature)
        names = list(layout.line_index)
        ops: list[tuple[int, int, int, int, int, int]] = []
        for line, flow in flows.items():
            regime = self._regime_of(line, flow, nu)
            code = kernel.PLUG if regime is Regime.PLUG else kernel.LAMINAR
            if self.regimes[line] == code:
                continue
            if self.regimes[line] != kernel.UNSET:
                self.note(
                    "regime-changed",
                    f"flow in {names[line]} turns {regime.value}: what the line holds is taken "
                    "as mixed along it",
                    names[line],
                )
            self.regimes[line] = code
            ops.append((kernel.REGIME, line, code, 0, 0, 0))
        if ops:
            self.act(*ops)

    def _regime_of(self, line: int, flow: float, nu: float) -> Regime:
        """Return the regime of a line at a flow; a structure that is forced wins."""
        layout = self.layout
        mixing = layout.mixing
        is_leg = line >= layout.path_lines
        if is_leg and mixing.leg_regime is not None:
            return mixing.leg_regime
        if mixing.regime is not None:
            return mixing.regime
        part = (
            layout.circuit.legs[line - layout.path_lines].line
            if is_leg
            else layout.circuit.line_by_id[list(layout.line_index)[line]]
        )
        if part.bore_m is None:
            return Regime.PLUG
        return regime_at(reynolds(flow_m3_s=max(flow, 0.0), bore_m=part.bore_m.best, nu_m2_s=nu))
