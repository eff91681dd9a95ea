"""Reads a recipe on a circuit into phases: spans of time in which every flow is constant.

A phase names each flow from part to part. Places that are no parts: ``new`` (containers),
``diverter`` and ``bleed`` (waste). What happens at once (draw off, fill, swap the filter) is an
event of its own.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg, Path, PumpKind
from ullage.transport import recipe as r

SETTLING_S = 8.0
"""How long retracting and releasing take."""


class NotModelled(Exception):
    """This solver does not model what was asked for."""


@dataclass(slots=True)
class Phase:
    """Constant flows between parts for a while; ``nominal`` flows decide a line's regime."""

    duration_s: float
    flows: dict[tuple[str, str], float] = field(default_factory=dict)
    nominal: dict[str, float] = field(default_factory=dict)
    pump_draws: bool = True

    def add(self, source: str, sink: str, flow_m3_s: float) -> None:
        """Add a flow between two places."""
        if flow_m3_s != 0.0:
            key = (source, sink)
            self.flows[key] = self.flows.get(key, 0.0) + flow_m3_s


@dataclass(frozen=True, slots=True)
class DrawnOff:
    """Fluid is taken from the reservoir down to a volume."""

    leave_m3: float


@dataclass(frozen=True, slots=True)
class Filled:
    """New fluid is poured into the reservoir up to a volume."""

    to_m3: float


@dataclass(frozen=True, slots=True)
class Swapped:
    """What a node holds is thrown away; refilled by hand with new fluid, or left empty."""

    node: str
    prefilled: bool


Event = Phase | DrawnOff | Filled | Swapped


class Reader:
    """Walks through a recipe; keeps what later steps need: positions, gas, dry filters, turns."""

    def __init__(self, circuit: Circuit, recipe: r.Recipe) -> None:
        self.circuit = circuit
        self.recipe = recipe
        self.stroke = {leg.id: leg.stroke_m3.best for leg in circuit.legs}
        self.position = {leg.id: leg.start_share.best for leg in circuit.legs}
        self.gas_oil = {leg.id: charged_oil_m3(leg) for leg in circuit.legs}
        self.released: set[str] = set()
        self.dry: set[str] = set()
        self.turns_taken = 0
        self.cycles: dict[str, int] = {}

    # --- who and how fast -----------------------------------------------------------------------

    def pump_m3_s(self, rev_s: float | None, *, at_work: bool = True) -> float:
        """Return the pump's flow at a speed; a pressure-held pump gives less without demand."""
        pump = self.circuit.pump
        if pump.kind is PumpKind.HAND:
            assert pump.hand_flow_m3_s is not None
            return pump.hand_flow_m3_s.best
        assert pump.displacement_m3_rev is not None
        speed = (pump.idle_rev_s if rev_s is None else rev_s) * pump.speed_ratio
        flow = pump.displacement_m3_rev.best * pump.efficiency.best * speed
        if pump.limit_m3_s is not None:
            flow = min(flow, pump.limit_m3_s.best)
        if pump.kind is PumpKind.PRESSURE_HELD and not at_work:
            flow *= pump.idle_flow_share.best
        return flow

    def path_shares(self, temperature_k: float) -> dict[str, float]:
        """Return each path's share of the pump's flow; closed paths leave theirs to the open."""
        is_open = {
            path.id: path.share.best
            for path in self.circuit.paths
            if not path.dead_end
            and (path.opens_above_k is None or temperature_k > path.opens_above_k)
        }
        total = math.fsum(is_open.values())
        if total <= 0.0:
            raise NotModelled("no path is open for the pump's flow")
        return {name: share / total for name, share in is_open.items()}

    def path_of(self, node: str) -> Path:
        """Return the one path that a leg's node stands on."""
        return next(path for path in self.circuit.paths if node in path.through)

    def legs(self, named: tuple[str, ...]) -> list[Leg]:
        """Return the legs named, in that order, each once, that a person may move (none: all)."""
        found = {leg.id: leg for name in named for leg in self.circuit.legs_named(name)}
        chosen = found.values() if named else self.circuit.legs
        return [leg for leg in chosen if leg.held_by is not HeldBy.CONTROLLER]

    def leaders(self, legs: list[Leg]) -> list[Leg]:
        """Return legs without those whose partner, named before, takes them along."""
        kept: list[Leg] = []
        for leg in legs:
            if self.circuit.partner.get(leg.id) not in [other.id for other in kept]:
                kept.append(leg)
        return kept

    # --- phases ---------------------------------------------------------------------------------

    def walk(
        self, phase: Phase, path: Path, flow_m3_s: float, rates: dict[str, float], *, divert: bool
    ) -> None:
        """Add the flows of one path, its legs taking (rate > 0) and giving (rate < 0)."""
        here, flow = "reservoir", flow_m3_s
        mine = [
            leg for leg in self.circuit.legs if rates.get(leg.id) and self.path_of(leg.at) is path
        ]
        served = set()
        for part in path.through:
            phase.add(here, part, flow)
            here = part
            for leg in mine:
                rate, line, chamber = rates[leg.id], f"{leg.id}.line", f"{leg.id}.chamber"
                if rate > 0.0 and leg.at == part:
                    phase.add(part, line, rate)
                    phase.add(line, chamber, rate)
                elif rate < 0.0 and leg.returns_to == part:
                    phase.add(chamber, line, -rate)
                    phase.add(line, part, -rate)
                else:
                    continue
                served.add(leg.id)
                flow -= rate
            if -1e-15 < flow < 1e-15:
                flow = 0.0
            if flow < 0.0:
                raise NotModelled(f"part {part} would run backwards")
            if divert and part == path.divert_after:
                phase.add(part, "diverter", flow)
                break
        else:
            phase.add(here, "reservoir", flow)
        left_out = [leg.id for leg in mine if leg.id not in served]
        if left_out:
            raise NotModelled(f"legs behind the diverter cannot move in an exchange: {left_out}")

    def pumping(
        self,
        step: r.Exchange | r.Circulate,
        flow_m3_s: float,
        rates: dict[str, float],
        span_s: float,
    ) -> Phase:
        """Return the phase in which the pump runs and legs move at these rates."""
        phase = Phase(span_s)
        exchanging = isinstance(step, r.Exchange)
        for path in self.circuit.paths:
            share = self.path_shares(self.kelvin(step)).get(path.id)
            if share is None:
                if any(rates.get(leg.id) and leg.at in path.through for leg in self.circuit.legs):
                    raise NotModelled(f"legs cannot move while path {path.id} is closed")
                continue
            diverted = exchanging and path.divert_after is not None
            self.walk(phase, path, flow_m3_s * share, rates, divert=diverted)
            if diverted:
                phase.add("new", "reservoir", flow_m3_s * share)
            for part in path.through:
                phase.nominal[part] = phase.nominal.get(part, 0.0) + flow_m3_s * share
        return phase

    def moved_at_once(self, volumes: dict[str, float], span_s: float | None) -> Iterator[Event]:
        """Yield the phase that moves legs by volumes (> 0 takes fluid) with the least flow.

        ``span_s`` None: at the flow of the idling pump.
        """
        if not any(volumes.values()):
            return
        pumps = span_s is None
        if span_s is None:
            span_s = math.fsum(max(v, 0.0) for v in volumes.values()) / self.pump_m3_s(None)
        rates = {leg: volume / span_s for leg, volume in volumes.items()}
        phase = Phase(span_s)
        for path in self.circuit.paths:
            taken, least = 0.0, 0.0
            for part in path.through:
                for leg in self.circuit.legs:
                    rate = rates.get(leg.id, 0.0)
                    if part == (leg.at if rate > 0.0 else leg.returns_to):
                        taken += rate
                least = max(least, taken)
            if any(
                part in (leg.at, leg.returns_to)
                for leg in self.circuit.legs
                for part in path.through
            ):
                self.walk(phase, path, least, rates, divert=False)
        # Without the pump a dry filter stays dry: what legs give back passes it by.
        if pumps:
            yield from self.ready(phase)
        else:
            yield phase

    def ready(self, phase: Phase) -> Iterator[Event]:
        """Yield a phase, and before it the filling of every dry filter that it flows through.

        Where new fluid keeps the level in the phase, it does so while the filter fills.
        """
        met = {sink for _, sink in phase.flows}
        pours = any(source == "new" for source, _ in phase.flows)
        for path in self.circuit.paths:
            for place, part in enumerate(path.through):
                if part in self.dry and part in met:
                    self.dry.discard(part)
                    flow = self.pump_m3_s(None)
                    volume = next(n.volume_m3.best for n in self.circuit.nodes if n.id == part)
                    filling = Phase(volume / flow)
                    for source, sink in itertools.pairwise(
                        ("reservoir", *path.through[: place + 1])
                    ):
                        filling.add(source, sink, flow)
                    if pours:
                        filling.add("new", "reservoir", flow)
                    yield filling
        yield phase

    def set_positions(self, targets: dict[str, float]) -> dict[str, float]:
        """Move leaders to targets, partners mirrored; return the volume that each leg takes."""
        volumes = {}
        for leg, target in targets.items():
            change = target - self.position[leg]
            partner = self.circuit.partner.get(leg)
            for mover, by in ((leg, change), (partner, -change)):
                if mover is not None and by != 0.0:
                    self.position[mover] += by
                    volumes[mover] = by * self.stroke[mover]
        return volumes

    def charging(self, legs: list[Leg], *, partners: bool = False) -> Iterator[Event]:
        """Yield the charging of those gas volumes that are released, of partners too if asked."""
        wanted = {leg.id for leg in legs}
        if partners:
            wanted |= {name for leg in legs if (name := self.circuit.partner.get(leg.id))}
        names = [leg.id for leg in self.circuit.legs if leg.id in self.released & wanted]
        self.released -= set(names)
        yield from self.moved_at_once({name: self.gas_oil[name] for name in names}, None)

    # --- steps ----------------------------------------------------------------------------------

    def kelvin(self, step: r.Step) -> float:
        """Return the temperature of a step."""
        return self.recipe.temperature_k if step.temperature_k is None else step.temperature_k

    def events(self, index: int) -> Iterator[Event]:
        """Yield what happens in a step, in order; the state moves on as the events are taken."""
        step = self.recipe.steps[index]
        self.cycles = {}
        reservoir = self.circuit.reservoir
        match step:
            case r.DrawOff():
                leave = reservoir.heel_m3.best if step.leave_m3 is None else step.leave_m3
                yield DrawnOff(max(leave, reservoir.heel_m3.best))
            case r.Fill():
                yield Filled(reservoir.full_m3.best if step.to_m3 is None else step.to_m3)
            case r.SwapFilter():
                for node in self.circuit.nodes:
                    if node.element:
                        if not step.prefilled:
                            self.dry.add(node.id)
                        else:
                            self.dry.discard(node.id)
                        yield Swapped(node.id, step.prefilled)
            case r.Exchange() | r.Circulate():
                yield from self.run(index, step)
            case r.Retract() | r.Extend():
                is_extend = isinstance(step, r.Extend)
                if is_extend:
                    yield from self.charging(self.legs(step.legs))
                legs = self.leaders(self.legs(step.legs))
                target = 1.0 if is_extend else 0.0
                volumes = self.set_positions({leg.id: target for leg in legs})
                yield from self.moved_at_once(volumes, None if is_extend else SETTLING_S)
            case r.Release():
                legs = self.legs(step.legs)
                if not step.supported:
                    single = [leg.id for leg in legs if leg.id not in self.circuit.partner]
                    volumes = self.set_positions(dict.fromkeys(single, 0.0))
                    yield from self.moved_at_once(volumes, SETTLING_S)
                names = [
                    leg.id for leg in legs if leg.id not in self.released and leg.gas is not None
                ]
                self.released |= set(names)
                yield from self.moved_at_once({n: -self.gas_oil[n] for n in names}, SETTLING_S)
            case r.Charge():
                yield from self.charging(self.legs(step.legs))
            case r.Bleed():
                yield from self.bleed(step)
            case r.Stand():
                yield from self.stand(index, step)
            case _:
                raise NotModelled(f"step {step.do!r} is not known to this solver")

    def bleed(self, step: r.Bleed) -> Iterator[Event]:
        """Yield the flow through one leg and out at its bleed point."""
        leg = self.circuit.leg_by_id[step.leg]
        if not leg.bleed:
            raise NotModelled(f"leg {leg.id} has no bleed point")
        flow = self.pump_m3_s(None)
        path = self.path_of(leg.at)
        way = [
            *path.through[: path.through.index(leg.at) + 1],
            f"{leg.id}.line",
            f"{leg.id}.chamber",
        ]
        phase = Phase(step.litres_m3 / flow)
        for source, sink in itertools.pairwise(("new", "reservoir", *way, "bleed")):
            phase.add(source, sink, flow)
        yield from self.ready(phase)

    def stand(self, index: int, step: r.Stand) -> Iterator[Event]:
        """Yield what siphons out at a diverter that is in place."""
        steps = self.recipe.steps
        exchanges = [i for i, other in enumerate(steps) if isinstance(other, r.Exchange)]
        if not exchanges or not exchanges[0] < index < exchanges[-1]:
            return
        phase = Phase(step.duration_s, pump_draws=False)
        for path in self.circuit.paths:
            if path.drains_m3_s is not None and path.divert_after is not None:
                self.walk(phase, path, path.drains_m3_s.best, {}, divert=True)
        if phase.flows:
            yield from self.ready(phase)

    def run(self, index: int, step: r.Exchange | r.Circulate) -> Iterator[Event]:
        """Yield the cycles of a step with the pump running, then the rest of it."""
        names = step.exercise.groups
        working = self.pump_m3_s(step.rev_s)
        idling = self.pump_m3_s(step.rev_s, at_work=False)
        turns = [(name,) for name in names if any(self.stroke[g.id] for g in self.legs((name,)))]
        if step.exercise.together and turns:
            turns = [tuple(name for (name,) in turns)]
        movers = self.legs(names) if names else []
        yield from self.charging(movers, partners=True)
        if isinstance(step, r.Exchange):
            shares = self.path_shares(self.kelvin(step))
            diverted = math.fsum(
                shares.get(path.id, 0.0)
                for path in self.circuit.paths
                if path.divert_after is not None
            )
            if diverted <= 0.0:
                raise NotModelled("an exchange needs an open path with a diverter")
            span_s = step.litres_m3 / (working * diverted)
        else:
            span_s = step.duration_s
        period_s = step.exercise.period_s
        count = 0
        if turns:
            count = math.floor(span_s / period_s + 1e-6)
            if step.exercise.cycles is not None:
                count = min(count, step.exercise.cycles * len(turns))
            before = self.recipe.steps[index - 1] if index else None
            if not (
                isinstance(before, r.Exchange | r.Circulate) and before.exercise.groups == names
            ):
                self.turns_taken = 0
        for _ in range(count):
            group = turns[self.turns_taken % len(turns)]
            self.turns_taken += 1
            for name in group:
                self.cycles[name] = self.cycles.get(name, 0) + 1
            yield from self.cycle(step, self.leaders(self.legs(group)), working, period_s)
        rest_s = span_s - count * period_s
        if isinstance(step, r.Exchange):
            rest_s *= working / idling
        if rest_s > 1e-9 * span_s:
            yield from self.ready(self.pumping(step, idling, {}, rest_s))

    def cycle(
        self, step: r.Exchange | r.Circulate, legs: list[Leg], flow_m3_s: float, period_s: float
    ) -> Iterator[Event]:
        """Yield one whole cycle of legs that move together."""
        stood = dict(self.position)
        factor = 1.0
        for _ in range(50):
            spans = list(self.spans(legs, factor, period_s))
            excess = max((self.excess(step, rates, flow_m3_s) for _, rates in spans), default=0.0)
            if excess <= 1.0 + 1e-12:
                break
            factor /= excess
        for span_s, rates in spans:
            yield from self.ready(self.pumping(step, flow_m3_s, rates, span_s))
            for leg, rate in rates.items():
                self.position[leg] += rate * span_s / self.stroke[leg]
        if any(abs(self.position[leg] - stood[leg]) > 1e-9 for leg in stood):
            raise AssertionError("a whole cycle did not end where it began")
        self.position = stood

    def excess(self, step: r.Exchange | r.Circulate, rates: dict[str, float], flow: float) -> float:
        """Return how many times the flow of its path the extending legs take (the worst path)."""
        shares = self.path_shares(self.kelvin(step))
        worst = 0.0
        for path in self.circuit.paths:
            taken = math.fsum(
                max(rates.get(leg.id, 0.0), 0.0)
                for leg in self.circuit.legs
                if leg.at in path.through
            )
            if taken > 0.0:
                if path.id not in shares:
                    raise NotModelled(f"legs cannot move while path {path.id} is closed")
                worst = max(worst, taken / (flow * shares[path.id]))
        return worst

    def spans(
        self, legs: list[Leg], factor: float, period_s: float
    ) -> Iterator[tuple[float, dict[str, float]]]:
        """Yield (duration, rate of each leg) over a cycle: up, down, back at constant speed."""
        turning = {}
        speed = {}
        for leg in legs:
            width = leg.stroke_use_share.best * factor
            at = self.position[leg.id]
            low = min(max(at - width / 2.0, 0.0), 1.0 - width)
            if width <= 0.0 or self.stroke[leg.id] <= 0.0:
                continue
            up = (low + width - at) / (2.0 * width) * period_s
            turning[leg.id] = (up, up + period_s / 2.0)
            speed[leg.id] = 2.0 * width / period_s
        marks = sorted({0.0, period_s, *itertools.chain(*turning.values())})
        for start, end in itertools.pairwise(marks):
            if end - start < 1e-9 * period_s:
                continue
            rates = {}
            for leg_id, (top, bottom) in turning.items():
                goes_down = top <= (start + end) / 2.0 <= bottom
                rate = -speed[leg_id] if goes_down else speed[leg_id]
                rates[leg_id] = rate * self.stroke[leg_id]
                partner = self.circuit.partner.get(leg_id)
                if partner is not None:
                    rates[partner] = -rate * self.stroke[partner]
            yield end - start, rates


def charged_oil_m3(leg: Leg) -> float:
    """Return the oil that a charged gas volume holds (Boyle, absolute pressures)."""
    if leg.gas is None:
        return 0.0
    return max(leg.gas.volume_m3.best * (1.0 - leg.gas.precharge_pa / leg.gas.working_pa), 0.0)
