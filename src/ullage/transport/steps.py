"""What each step of a recipe does, in terms of the course: which ways run, which legs move, what
is poured.

One method a step. Times follow from flows at the end: members share litres, not the clock.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.parts import HeldBy, Leg, PumpKind
from ullage.transport import kernel
from ullage.transport.course import Course, Cycle, Motion, Phase, Tally, cycle_of
from ullage.transport.exercise import Window, stretches_of, window_of
from ullage.transport.layout import Kind, Way
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Extend,
    Fill,
    Recipe,
    Release,
    Retract,
    Stand,
    Step,
    SwapFilter,
)
from ullage.transport.result import Note

Floats = NDArray[np.float64]

#: How long a leg takes to retract or a gas volume to give its oil back [s]; a convention of recipe
#: files.
SINK_S = 8.0


class Steps:
    """Carries a recipe's steps out on a course."""

    def __init__(self, course: Course, recipe: Recipe) -> None:
        self.course = course
        self.recipe = recipe
        self.circuit = course.layout.circuit
        self.layout = course.layout
        self.values = course.values
        exchanges = [i for i, step in enumerate(recipe.steps) if isinstance(step, Exchange)]
        self.diverter_in = range(exchanges[0], exchanges[-1] + 1) if exchanges else range(0)
        self.temperature_k = recipe.temperature_k

    def carry_out(self) -> list[Tally]:
        """Go through all steps, or until the reservoir runs empty for everybody."""
        done: list[Tally] = []
        previous: tuple[str, ...] = ()
        for index, step in enumerate(self.recipe.steps):
            self.course.open_step(index, step.do)
            self.index = index
            self.temperature_k = step.temperature_k or self.recipe.temperature_k
            groups = step.exercise.groups if isinstance(step, Exchange | Circulate) else ()
            if groups != previous:
                self.course.turn = 0
            previous = groups
            self._act(step)
            done.append(self.course.close_step())
            if not self.course.alive.any() or (self.values.count == 1 and self.course.stop):
                break
        return done

    def _act(self, step: Step) -> None:
        """Carry out one step."""
        match step:
            case DrawOff():
                self._draw_off(step)
            case Fill():
                self._fill(step)
            case Exchange() | Circulate():
                self._pump_run(step)
            case Retract():
                self._drive_to(self._legs_to_move(step.legs), 0.0)
            case Extend():
                self._extend(step)
            case Release():
                self._release(step)
            case Charge():
                legs = self._legs_to_move(step.legs)
                self._charge_legs([leg for leg in legs if not self._is_charged(leg)], None)
            case Bleed():
                self._bleed(step)
            case SwapFilter():
                self._swap_filter(step)
            case Stand():
                self._stand(step)
            case _:
                raise TypeError(f"no step of a recipe: {step!r}")

    # Reservoir, by hand.

    def _draw_off(self, step: DrawOff) -> None:
        course, values = self.course, self.values
        leave = (
            values.heel_m3 if step.leave_m3 is None else np.maximum(values.heel_m3, step.leave_m3)
        )
        take = np.maximum(course.level_m3 - leave, 0.0) * course.alive
        mixed = np.minimum(take, course.mixed_m3)
        dead = take - mixed
        row = course.add_rows(np.array([mixed, dead]))
        course.act((kernel.DRAW, row, row + 1, 0, 0, 0))
        course.mixed_m3 = course.mixed_m3 - mixed
        course.dead_m3 = course.dead_m3 - dead
        course.tally.lowest_m3 = course.level_m3
        if take[0] <= 0.0:
            course.note(
                "nothing-drawn", "the reservoir already holds less than is to be left", "reservoir"
            )

    def _fill(self, step: Fill) -> None:
        course, values = self.course, self.values
        to = values.full_m3 if step.to_m3 is None else np.full(values.count, step.to_m3)
        add = np.maximum(np.minimum(to, values.brim_m3) - course.level_m3, 0.0) * course.alive
        dead = np.clip(values.dead_m3 - course.dead_m3, 0.0, add)
        mixed = add - dead
        row = course.add_rows(np.array([mixed, dead]))
        course.act((kernel.FILL, row, row + 1, 0, 0, 0))
        course.mixed_m3 = course.mixed_m3 + mixed
        course.dead_m3 = course.dead_m3 + dead
        course.tally.poured_m3 += add
        if to[0] > values.full_m3[0] + 1e-9:
            course.note("above-full", "filled above the full mark", "reservoir")
        if add[0] <= 0.0:
            course.note("nothing-poured", "the reservoir already holds that much", "reservoir")

    def _swap_filter(self, step: SwapFilter) -> None:
        course = self.course
        for node in self.circuit.nodes:
            if not node.element or node.id not in self.layout.node_index:
                continue
            if node.id in course.dry:
                course.dry.remove(node.id)
            row = course.add_rows(course.alive[None, :].copy())
            index = self.layout.node_index[node.id]
            course.act((kernel.NODE_EMPTY, index, int(step.prefilled), row, 0, 0))
            if step.prefilled:
                volume = self.values.parts_m3[self.layout.part_index[node.id]]
                course.tally.poured_m3 += volume * course.alive
            else:
                course.dry.append(node.id)

    def _stand(self, step: Stand) -> None:
        course = self.course
        course.tally.duration_s += step.duration_s
        if self.index not in self.diverter_in:
            return
        for i, path in enumerate(self.circuit.paths):
            if path.drains_m3_s is None or path.divert_after is None or not self._is_open(i):
                continue
            runs = np.minimum(self.values.drains_m3_s[i] * step.duration_s, course.level_m3)
            last = path.through.index(path.divert_after)
            kind = Kind(ways=(Way(path=i, ends="waste", last=last),))
            flow = {i: float(self.values.drains_m3_s[i][0])}
            course.take_regimes(self._line_flows(flow, {}), self.temperature_k)
            course.enter(course.ready(kind, runs[None, :]), pump=False)
            if runs[0] > 0.0:
                course.note(
                    "siphoned",
                    f"{runs[0] * 1e3:.2f} L ran out at the diverter while the pump stood: fix "
                    "the hose's end "
                    "above the reservoir's level, or fit a tap",
                    path.id,
                )

    # Pump running.

    def _is_open(self, path: int) -> bool:
        opens = self.circuit.paths[path].opens_above_k
        return opens is None or self.temperature_k >= opens

    def _running_paths(self) -> tuple[list[int], Floats]:
        """Return the open paths that come back, and their shares of the flow, (paths, columns)."""
        running = [
            i for i, path in enumerate(self.circuit.paths) if not path.dead_end and self._is_open(i)
        ]
        shares = self.values.shares[running]
        return running, shares / shares.sum(axis=0)

    def _line_flows(
        self, path_flows: dict[int, float], leg_flows: dict[int, float]
    ) -> dict[int, float]:
        """Return the flow in every line that moves, by the kernel's number [m3/s]."""
        flows: dict[int, float] = {}
        for path, flow in path_flows.items():
            for part in self.circuit.paths[path].through:
                if part in self.circuit.line_by_id:
                    line = self.layout.line_index[part]
                    flows[line] = flows.get(line, 0.0) + flow
        for leg, flow in leg_flows.items():
            flows[self.layout.path_lines + leg] = flow
        return flows

    def _pump_run(self, step: Exchange | Circulate) -> None:
        course, values, circuit = self.course, self.values, self.circuit
        diverts = isinstance(step, Exchange)
        running, shares = self._running_paths()
        sent = [
            n
            for n, i in enumerate(running)
            if diverts and circuit.paths[i].divert_after is not None
        ]
        diverted = shares[sent].sum(axis=0) if diverts else np.ones(values.count)
        ways = tuple(self._way(i, diverts) for i in running)
        full = values.flow_at(circuit.pump.idle_rev_s if step.rev_s is None else step.rev_s)
        idle = (
            full * values.idle_flow_share if circuit.pump.kind is PumpKind.PRESSURE_HELD else full
        )
        drivers, released = self._movers(step.exercise)
        if released:
            self._charge_legs(released, "so that the legs can be exercised")
        self._prime(running, ways, pours=diverts)
        cycle_m3 = float(full[0] * diverted[0]) * step.exercise.period_s
        per_litre = shares / diverted
        period_s = step.exercise.period_s
        if isinstance(step, Exchange):
            turns = self._turns(step.exercise, drivers, int(step.litres_m3 / cycle_m3 + 1e-6))
            rest = max(step.litres_m3 - len(turns) * cycle_m3, 0.0)
            took = len(turns) * cycle_m3 / (full * diverted) + rest / (idle * diverted)
        else:
            turns = self._turns(step.exercise, drivers, int(step.duration_s / period_s + 1e-6))
            rest = max(step.duration_s - len(turns) * period_s, 0.0) * float(idle[0])
            took = np.full(values.count, step.duration_s)
        flow = (full if turns else idle)[0]
        leg_flows: dict[int, float] = {}
        ready: dict[str, Cycle] = {}
        for name in dict.fromkeys(turns):
            ready[name], flows = self._cycle(
                ways, running, per_litre * cycle_m3, drivers[name], step.exercise
            )
            leg_flows |= flows
            course.tally.cycles[name] = turns.count(name)
        path_flows = {i: float(shares[n][0] * flow) for n, i in enumerate(running)}
        course.take_regimes(self._line_flows(path_flows, leg_flows), self.temperature_k)
        cycles = [ready[name] for name in turns]
        if rest > 1e-12:
            idling = course.ready(Kind(ways=ways, pours=diverts), per_litre * rest)
            cycles.append(cycle_of([idling]))
        course.repeat(cycles, trace=diverts)
        course.tally.duration_s += took

    def _way(self, path: int, diverts: bool) -> Way:
        through = self.circuit.paths[path].through
        after = self.circuit.paths[path].divert_after
        if diverts and after is not None:
            return Way(path=path, ends="waste", last=through.index(after))
        return Way(path=path, ends="reservoir", last=len(through) - 1)

    def _prime(self, paths: Iterable[int], ways: Iterable[Way], *, pours: bool) -> None:
        """Fill dry filter housings from the reservoir before anything flows on behind them."""
        course = self.course
        for path, way in zip(paths, ways, strict=True):
            through = self.circuit.paths[path].through
            for place, part in enumerate(through[: way.last + 1]):
                if part not in course.dry:
                    continue
                course.dry.remove(part)
                kind = Kind(ways=(Way(path=path, ends="", last=place),), fills=part, pours=pours)
                volume = self.values.parts_m3[self.layout.part_index[part]]
                flow = float(self.values.flow_at(self.circuit.pump.idle_rev_s)[0])
                course.take_regimes(self._line_flows({path: flow}, {}), self.temperature_k)
                course.enter(course.ready(kind, volume[None, :]), pump=True)
                course.note(
                    "filter-fills",
                    f"the dry housing takes {volume[0] * 1e3:.2f} L from the reservoir first",
                    part,
                )

    # Exercising.

    def _movers(self, exercise: Exercise) -> tuple[dict[str, list[int]], list[int]]:
        """Return the driving legs of each group by name, and the released ones among all legs of
        the groups: pressure reaches a gas volume without a stroke too.
        """
        drivers: dict[str, list[int]] = {}
        released: list[int] = []
        for name in exercise.groups:
            named = [leg.id for leg in self._free(self.circuit.legs_named(name))]
            chosen = self._drivers(named)
            if chosen:
                drivers[name] = chosen
            for leg in (self.layout.leg_index[one] for one in named):
                released += [
                    i
                    for i in (leg, self._partner(leg))
                    if i is not None and not self._is_charged(i)
                ]
        if exercise.together and len(drivers) > 1:
            merged = dict.fromkeys(leg for legs in drivers.values() for leg in legs)
            drivers = {" + ".join(drivers): list(merged)}
        return drivers, list(dict.fromkeys(released))

    def _is_charged(self, leg: int) -> bool:
        return self.circuit.legs[leg].gas is None or self.course.charged[leg]

    def _partner(self, leg: int) -> int | None:
        partner = self.circuit.partner.get(self.circuit.legs[leg].id)
        return None if partner is None else self.layout.leg_index[partner]

    def _drivers(self, names: Iterable[str]) -> list[int]:
        """Return the legs that drive: one side of each pair, none that cannot move."""
        chosen: list[int] = []
        for name in names:
            leg = self.layout.leg_index[name]
            if self.circuit.legs[leg].stroke_m3.best <= 0.0 or self._partner(leg) in chosen:
                continue
            chosen.append(leg)
        return chosen

    def _turns(self, exercise: Exercise, drivers: dict[str, list[int]], fits: int) -> list[str]:
        """Return which group moves in each whole cycle, in order."""
        course = self.course
        if not exercise.groups:
            return []
        names = list(drivers)
        if not names:
            course.note(
                "nothing-moves", "none of the legs to exercise has a stroke: bleed them instead"
            )
            return []
        wanted = fits if exercise.cycles is None else exercise.cycles * len(names)
        if wanted > fits:
            course.note(
                "cycles-capped",
                f"only {fits} of {wanted} whole cycles fit into the step: give it more "
                "litres or minutes, "
                "or a shorter period",
            )
        count = min(wanted, fits)
        turns = [names[(course.turn + i) % len(names)] for i in range(count)]
        course.turn += count
        if fits == 0:
            course.note(
                "no-cycle-fits",
                "not one whole cycle fits into the step, so nothing moves: give it more litres or "
                "minutes, or a shorter period",
            )
        elif count < len(names):
            idle = [name for name in names if name not in turns]
            course.note("group-left-out", f"no cycle is left for {', '.join(idle)} in this step")
        return turns

    def _cycle(
        self,
        ways: tuple[Way, ...],
        paths: list[int],
        litres: Floats,
        drivers: list[int],
        exercise: Exercise,
    ) -> tuple[Cycle, dict[int, float]]:
        """Make one whole cycle of a group ready; ``litres`` is what each path carries in it [m3].

        Returns the stretches, and how fast each leg moves [m3/s]. What was worked out before for
        the same legs at the same places, as long and with as much flow, is taken as it was.
        """
        course = self.course
        stands = course.place[drivers]
        key = (ways, *drivers, exercise.period_s, litres.tobytes(), stands.tobytes())

        def work() -> Motion:
            return self._motion(ways, paths, litres, drivers, exercise)

        motion = course.known.motion(key, work) if course.all_alive else work()
        if motion.note is not None:
            course.note(motion.note.code, motion.note.text, motion.note.part)
        return cycle_of([course.begun(phase) for phase in motion.phases]), motion.speeds

    def _motion(
        self,
        ways: tuple[Way, ...],
        paths: list[int],
        litres: Floats,
        drivers: list[int],
        exercise: Exercise,
    ) -> Motion:
        """Work one whole cycle of a group out."""
        course, values = self.course, self.values
        pours = any(way.ends == "waste" for way in ways)
        length = np.minimum(values.leg_use_share[drivers], 1.0)
        place = course.place[drivers]
        stands = [n for n in range(len(drivers)) if length[n][0] <= 0.0]
        drivers = [leg for n, leg in enumerate(drivers) if n not in stands]
        length, place = np.delete(length, stands, axis=0), np.delete(place, stands, axis=0)
        if not drivers:
            still = course.phase(Kind(ways=ways, pours=pours), litres)
            return Motion(phases=(still,), speeds={})
        windows = [window_of(p, w) for p, w in zip(place, length, strict=True)]
        fit = self._fit(windows, paths, litres, drivers)
        note = None
        if fit[0] < 1.0 - 1e-9:
            note = Note(
                code="window-shortened",
                text=f"the flow moves the legs through {fit[0] * 100:.0f} % of their window in "
                f"{exercise.period_s:g} s: "
                f"a period of {exercise.period_s / fit[0]:.0f} s would do for all of it",
                part=self.circuit.legs[drivers[0]].group or self.circuit.legs[drivers[0]].id,
            )
        if np.any(fit < 1.0):
            windows = [window_of(p, w * fit) for p, w in zip(place, length, strict=True)]
            closer = self._fit(windows, paths, litres, drivers)
            windows = [window.scaled(closer) for window in windows]
        phases: list[Phase] = []
        speeds: dict[int, float] = {}
        for part in stretches_of(windows):
            moves: list[tuple[int, int]] = []
            volumes: list[Floats] = []
            for leg, sign, travel in zip(drivers, part.signs, part.travel, strict=True):
                for side, way in ((leg, sign), (self._partner(leg), -sign)):
                    if side is None:
                        continue
                    moves.append((side, way))
                    volumes.append(travel * values.leg_stroke_m3[side])
                    took = part.share * exercise.period_s
                    speeds[side] = max(speeds.get(side, 0.0), float(volumes[-1][0]) / took)
            kind = Kind(ways=ways, moves=tuple(moves), pours=pours)
            phases.append(course.phase(kind, np.array([*(litres * part.share), *volumes])))
        return Motion(phases=tuple(phases), speeds=speeds, note=note)

    def _fit(
        self, windows: list[Window], paths: list[int], litres: Floats, drivers: list[int]
    ) -> Floats:
        """Return by which factor windows must shrink so that no path gives more than it carries."""
        fit = np.ones(self.values.count)
        for part in stretches_of(windows):
            taken: dict[int, Floats] = {}
            for leg, sign, travel in zip(drivers, part.signs, part.travel, strict=True):
                for side, way in ((leg, sign), (self._partner(leg), -sign)):
                    if side is None or way < 0:
                        continue
                    path = self._path_of(side)
                    volume = travel * self.values.leg_stroke_m3[side]
                    taken[path] = taken.get(path, np.zeros(self.values.count)) + volume
            for path, volume in taken.items():
                carried = litres[paths.index(path)] * part.share if path in paths else 0.0 * fit
                with np.errstate(divide="ignore", invalid="ignore"):
                    fit = np.minimum(fit, np.where(volume > 0.0, carried / volume, 1.0))
        return fit

    def _path_of(self, leg: int) -> int:
        path = self.circuit.path_of_node[self.circuit.legs[leg].at]
        return self.circuit.paths.index(path)

    # Moving legs to an end, and gas volumes.

    def _legs_to_move(self, names: tuple[str, ...]) -> list[int]:
        named = [leg for name in names for leg in self.circuit.legs_named(name)]
        legs = named if names else self.circuit.legs
        return list(dict.fromkeys(self.layout.leg_index[leg.id] for leg in self._free(legs)))

    def _free(self, legs: Iterable[Leg]) -> list[Leg]:
        """Return the legs that a person may move; a controller's legs stay where they are."""
        return [leg for leg in legs if leg.held_by is not HeldBy.CONTROLLER]

    def _extend(self, step: Extend) -> None:
        legs = self._legs_to_move(step.legs)
        released = [leg for leg in legs if not self._is_charged(leg)]
        if released:
            self._charge_legs(released, "so that the legs can extend")
        self._drive_to(legs, 1.0)

    def _drive_to(self, legs: list[int], end: float) -> None:
        """Move legs (one side of each pair, the other follows) to a share of their stroke."""
        course, values = self.course, self.values
        moves: list[tuple[int, int, Floats]] = []
        names = [self.circuit.legs[leg].id for leg in legs]
        for leg in self._drivers(names):
            travel = end - course.place[leg]
            sign = 1 if travel[0] > 0.0 or (travel[0] == 0.0 and end == 1.0) else -1
            for side, way in ((leg, sign), (self._partner(leg), -sign)):
                if side is not None:
                    volume = np.maximum(travel * sign, 0.0) * values.leg_stroke_m3[side]
                    moves.append((side, way, volume))
                    course.place[side] = end if side == leg else 1.0 - end
        self._move(moves, None if end > 0.0 else SINK_S)

    def _move(self, moves: list[tuple[int, int, Floats]], seconds: float | None) -> None:
        """Move legs at once; None seconds means at the idle flow. Only their paths move."""
        course = self.course
        moves = [move for move in moves if np.any(move[2] > 0.0)]
        if not moves:
            return
        ways: list[Way] = []
        given: list[Floats] = []
        path_flows: dict[int, float] = {}
        for path in dict.fromkeys(self._path_of(leg) for leg, _, _ in moves):
            mine = [move for move in moves if self._path_of(move[0]) == path]
            mixed = {sign for _, sign, _ in mine} == {1, -1}
            through = self.circuit.paths[path].through
            need = np.zeros(self.values.count)
            net = np.zeros(self.values.count)
            for part in through:
                for leg, sign, volume in mine:
                    unit = self.circuit.legs[leg]
                    if sign < 0 and unit.returns_to == part:
                        net = net - volume
                for leg, sign, volume in mine:
                    if sign > 0 and self.circuit.legs[leg].at == part:
                        net = net + volume
                need = np.maximum(need, net)
            ways.append(Way(path=path, ends="reservoir", last=len(through) - 1, own=mixed))
            if mixed:
                given.append(need)
            path_flows[path] = float(sum(volume[0] for _, _, volume in mine))
        kind = Kind(ways=tuple(ways), moves=tuple((leg, sign) for leg, sign, _ in moves))
        given += [volume for _, _, volume in moves]
        idle = self.values.flow_at(self.circuit.pump.idle_rev_s)
        extends = any(sign > 0 for _, sign, _ in moves)
        drawn = np.sum([v for _, sign, v in moves if sign > 0], axis=0) if extends else 0.0 * idle
        took = drawn / idle if seconds is None else np.full(self.values.count, seconds)
        time = max(float(took[0]), 1e-6)
        leg_flows = {leg: float(volume[0]) / time for leg, _, volume in moves}
        path_flows = {path: flow / time for path, flow in path_flows.items()}
        for way in ways:
            feeding = [
                self.circuit.paths[way.path].through.index(self.circuit.legs[leg].at)
                for leg, sign, _ in moves
                if sign > 0 and self._path_of(leg) == way.path
            ]
            if feeding:
                up_to = Way(path=way.path, ends="", last=max(feeding))
                self._prime([way.path], [up_to], pours=False)
        course.take_regimes(self._line_flows(path_flows, leg_flows), self.temperature_k)
        course.enter(course.ready(kind, np.array(given)), pump=extends)
        course.tally.duration_s += took

    def _release(self, step: Release) -> None:
        legs = self._legs_to_move(step.legs)
        if not step.supported:
            single = [leg for leg in legs if self._partner(leg) is None]
            if any(self.course.place[leg][0] > 0.0 for leg in single):
                self._drive_to(single, 0.0)
                self.course.note(
                    "sank", "the legs retract as the pressure goes: support the machine"
                )
        gas = [
            leg
            for leg in legs
            if self.circuit.legs[leg].gas is not None and self.course.charged[leg]
        ]
        for leg in gas:
            self.course.charged[leg] = False
        self._move([(leg, -1, self.values.leg_gas_m3[leg]) for leg in gas], SINK_S)

    def _charge_legs(self, legs: list[int], why: str | None) -> None:
        for leg in legs:
            self.course.charged[leg] = True
        self._move([(leg, 1, self.values.leg_gas_m3[leg]) for leg in legs], None)
        if why is not None and legs:
            names = ", ".join(self.circuit.legs[leg].id for leg in legs)
            self.course.note("charged-first", f"pressure comes up in {names} first, {why}")

    def _bleed(self, step: Bleed) -> None:
        course = self.course
        leg = self.layout.leg_index[step.leg]
        path = self._path_of(leg)
        node = self.circuit.paths[path].through.index(self.circuit.legs[leg].at)
        flow = self.values.flow_at(self.circuit.pump.idle_rev_s)
        way = Way(path=path, ends="", last=node)
        self._prime([path], [way], pours=True)
        kind = Kind(ways=(way,), bleeds=leg, pours=True)
        rate = float(flow[0])
        course.take_regimes(self._line_flows({path: rate}, {leg: rate}), self.temperature_k)
        litres = np.full((1, self.values.count), step.litres_m3)
        course.enter(course.ready(kind, litres), pump=True)
        course.tally.duration_s += step.litres_m3 / flow
