"""Runs the phases of a recipe in small steps and keeps the books.

A step of a phase: every line lets its share leave at the far end; mixed parts take what comes to
them, from the reservoir on, and say what leaves them; every line takes in at its near end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from tests.outside.segments.contents import Mixed, Pipe, Portion, Vessel, mean_of, mix
from tests.outside.segments.reading import (
    DrawnOff,
    Filled,
    NotModelled,
    Phase,
    Reader,
    Swapped,
    charged_oil_m3,
)
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Line
from ullage.transport.recipe import Recipe

TURBULENT_FROM = 4000.0
"""The Reynolds number above which a line flows as a plug."""


@dataclass(slots=True)
class StepBook:
    """What one step did; volumes of this step alone."""

    do: str
    poured_m3: float = 0.0
    waste_m3: float = 0.0
    waste_old_m3: float = 0.0
    spilled_m3: float = 0.0
    spilled_old_m3: float = 0.0
    remaining_share: float = 1.0
    lowest_m3: float = math.inf
    level_m3: float = 0.0
    duration_s: float = 0.0
    cycles: dict[str, int] = field(default_factory=dict)
    outflow: list[tuple[float, float]] = field(default_factory=list)


@dataclass(slots=True)
class Outcome:
    """The end of a run: fluid and old fluid of each part, positions, and the book of each step."""

    fluid_m3: dict[str, float]
    old_m3: dict[str, float]
    position: dict[str, float]
    steps: list[StepBook]
    stopped: bool
    micro_steps: int

    @property
    def remaining_share(self) -> float:
        """Old fluid over all fluid."""
        return math.fsum(self.old_m3.values()) / math.fsum(self.fluid_m3.values())


class Machine:
    """The parts with what they hold."""

    def __init__(
        self,
        circuit: Circuit,
        recipe: Recipe,
        *,
        regime: str | None,
        lanes: int,
        step_m3: float,
        refine: int,
    ) -> None:
        self.circuit, self.recipe, self.regime = circuit, recipe, regime
        self.step_m3, self.refine = step_m3, refine
        self.reader = Reader(circuit, recipe)
        start = circuit.reservoir.start_m3.best
        self.dead_most_m3 = circuit.reservoir.dead_share.best * circuit.reservoir.full_m3.best
        self.dead = Vessel(min(self.dead_most_m3, start))
        self.mixed = {"reservoir": Vessel(start - self.dead.volume_m3)}
        self.mixed |= {node.id: Vessel(node.volume_m3.best) for node in circuit.nodes}
        lines = [*circuit.lines, *(leg.line for leg in circuit.legs)]
        names = [*(line.id for line in circuit.lines), *(f"{leg.id}.line" for leg in circuit.legs)]
        self.line_of = dict(zip(names, lines, strict=True))
        self.pipes = {
            name: Pipe(
                volume_of_line(line),
                fittings=line.fittings,
                lanes=lanes,
                is_laminar=regime == "laminar",
            )
            for name, line in self.line_of.items()
        }
        for leg in circuit.legs:
            volume = (
                leg.dead_m3.best + leg.stroke_m3.best * leg.start_share.best + charged_oil_m3(leg)
            )
            self.mixed[f"{leg.id}.chamber"] = Vessel(volume)
        self.micro_steps = 0
        self.over_the_brim = 0.0

    # --- totals ---------------------------------------------------------------------------------

    @property
    def level_m3(self) -> float:
        """All that the reservoir holds."""
        return self.mixed["reservoir"].volume_m3 + self.dead.volume_m3

    def contents(self) -> tuple[dict[str, float], dict[str, float]]:
        """Return fluid and old fluid by part."""
        fluid = {name: vessel.volume_m3 for name, vessel in self.mixed.items()}
        old = {name: vessel.old_m3 for name, vessel in self.mixed.items()}
        fluid["reservoir"] += self.dead.volume_m3
        old["reservoir"] += self.dead.old_m3
        fluid |= {name: pipe.volume_m3 for name, pipe in self.pipes.items()}
        old |= {name: pipe.old_m3 for name, pipe in self.pipes.items()}
        return fluid, old

    # --- what happens at once -------------------------------------------------------------------

    def draw_off(self, leave_m3: float, book: StepBook) -> None:
        """Take from the mixed part first, then from the dead one."""
        out = max(self.level_m3 - leave_m3, 0.0)
        for vessel in (self.mixed["reservoir"], self.dead):
            part = min(out, vessel.volume_m3)
            vessel.volume_m3 -= part
            out -= part
            book.waste_m3 += part
            book.waste_old_m3 += part * vessel.share

    def fill(self, to_m3: float, book: StepBook) -> None:
        """Pour new fluid, into the dead part first."""
        if to_m3 > self.circuit.reservoir.brim_m3.best + 1e-12:
            raise NotModelled("a fill above the brim runs over")
        poured = max(to_m3 - self.level_m3, 0.0)
        below = min(poured, self.dead_most_m3 - self.dead.volume_m3)
        self.dead.pour(below, 0.0)
        self.mixed["reservoir"].pour(poured - below, 0.0)
        book.poured_m3 += poured

    def swap(self, event: Swapped, book: StepBook) -> None:
        """Throw away what a filter housing holds."""
        vessel = self.mixed[event.node]
        book.waste_m3 += vessel.volume_m3
        book.waste_old_m3 += vessel.old_m3
        vessel.volume_m3, vessel.share = 0.0, 0.0
        if event.prefilled:
            volume = self.circuit.node_by_id[event.node].volume_m3.best
            vessel.pour(volume, 0.0)
            book.poured_m3 += volume

    # --- phases ---------------------------------------------------------------------------------

    def run(self, phase: Phase, book: StepBook) -> bool:
        """Run a phase to its end, or until the reservoir is empty; tell whether it was."""
        left_s = phase.duration_s
        taken = math.fsum(q for (source, _), q in phase.flows.items() if source == "reservoir")
        given = math.fsum(q for (_, sink), q in phase.flows.items() if sink == "reservoir")
        brim = self.circuit.reservoir.brim_m3.best
        reservoir = self.mixed["reservoir"]
        if taken > 0.0 and self.level_m3 <= 1e-12:
            return phase.pump_draws
        while left_s > 0.0:
            if taken > given and reservoir.volume_m3 <= 1e-15 and self.dead.volume_m3 > 0.0:
                reservoir.pour(self.dead.volume_m3, self.dead.share)
                self.dead.volume_m3 = 0.0
            span_s = left_s
            running = phase
            if taken > given:
                span_s = min(left_s, reservoir.volume_m3 / (taken - given))
            elif given > taken and self.level_m3 < brim - 1e-12:
                span_s = min(left_s, (brim - self.level_m3) / (given - taken))
            elif given > taken:
                running = replace(
                    phase, flows={**phase.flows, ("reservoir", "spill"): given - taken}
                )
            if span_s > 0.0:
                self.advance(running, span_s, book)
            left_s -= span_s
            if left_s > 1e-12 * phase.duration_s and self.level_m3 <= 1e-12:
                return phase.pump_draws
            if span_s <= 0.0 and self.dead.volume_m3 <= 0.0 and taken > given:
                return phase.pump_draws
        return False

    def advance(self, phase: Phase, span_s: float, book: StepBook) -> None:
        """Run constant flows for a span."""
        into: dict[str, list[tuple[str, float]]] = {}
        out_of: dict[str, float] = {}
        for (source, sink), flow in phase.flows.items():
            into.setdefault(sink, []).append((source, flow))
            out_of[source] = out_of.get(source, 0.0) + flow
        pipes = {name: flow for name, flow in out_of.items() if name in self.pipes}
        forward = {name: not into[name][0][0].endswith(".chamber") for name in pipes}
        for name in pipes:
            self.pipes[name].set_regime(is_laminar=self.is_laminar(name, phase, pipes[name]))
        order = flow_order([n for n in self.mixed if n in into or n in out_of], into)
        moved = max(out_of.values()) * span_s
        count = math.ceil(moved / self.step_m3)
        for name, flow in pipes.items():
            count = max(count, math.ceil(flow * span_s / (0.9 * self.pipes[name].largest_pull_m3)))
        if count > 200_000:
            raise NotModelled("a line is too short for the flow through it")
        count = max(count, 1) * self.refine
        dt = span_s / count
        has_loop = bool(order.loop)
        for _ in range(count):
            leaving: dict[str, Portion] = {
                name: self.pipes[name].pull(flow * dt, forward=forward[name])
                for name, flow in pipes.items()
            }
            share = {name: mean_of(portion) for name, portion in leaving.items()}
            share["new"] = 0.0
            for name in order.loop:
                share[name] = self.mixed[name].share
            after: dict[str, Mixed] = {}
            for _ in range(60 if has_loop else 1):
                before = [share.get(name, 0.0) for name in order.loop]
                for name in order.parts:
                    spilt = phase.flows.get((name, "spill"), 0.0)
                    pumped = out_of.get(name, 0.0) - spilt
                    after[name] = self.mix(name, into.get(name, []), pumped, spilt, dt, share)
                    share[name] = after[name].leaving
                if all(
                    abs(share[name] - was) < 1e-15
                    for name, was in zip(order.loop, before, strict=True)
                ):
                    break
            for name, end in after.items():
                self.mixed[name].volume_m3, self.mixed[name].share = end.volume_m3, end.share
            for name in pipes:
                sources = into[name]
                source, flow = sources[0]
                if len(sources) == 1 and source in leaving:
                    part = flow / out_of[source]
                    portion = [(volume * part, x) for volume, x in leaving[source]]
                else:
                    total = math.fsum(q for _, q in sources)
                    portion = [(total * dt, math.fsum(q * share[s] for s, q in sources) / total)]
                self.pipes[name].push(portion, forward=forward[name])
            for sink in ("diverter", "bleed"):
                gone = math.fsum(flow for _, flow in into.get(sink, [])) * dt
                old = math.fsum(flow * share[source] for source, flow in into.get(sink, [])) * dt
                book.waste_m3 += gone
                book.waste_old_m3 += old
                if sink == "diverter" and gone > 0.0:
                    book.outflow.append((gone, old / gone))
            for _, flow in into.get("spill", []):
                book.spilled_m3 += flow * dt
                book.spilled_old_m3 += flow * dt * self.over_the_brim
            book.poured_m3 += out_of.get("new", 0.0) * dt
            book.lowest_m3 = min(book.lowest_m3, self.level_m3)
        book.duration_s += span_s
        self.micro_steps += count

    def mix(
        self,
        name: str,
        sources: list[tuple[str, float]],
        out_m3_s: float,
        spilt_m3_s: float,
        dt: float,
        share: dict[str, float],
    ) -> Mixed:
        """Return a mixed part after a step; the reservoir lets part of its inflow slip past."""
        flow = math.fsum(q for _, q in sources)
        arriving = math.fsum(q * share[s] for s, q in sources) / flow if flow > 0.0 else 0.0
        past = 0.0
        if name == "reservoir":
            past = min(self.circuit.reservoir.bypass_share.best * flow, out_m3_s)
        end = mix(
            self.mixed[name],
            in_m3=(flow - past) * dt,
            in_share=arriving,
            out_m3=(out_m3_s + spilt_m3_s - past) * dt,
        )
        # What runs over the brim comes from the mixed surface.
        self.over_the_brim = end.leaving
        if past > 0.0:
            leaving = (past * arriving + (out_m3_s - past) * end.leaving) / out_m3_s
            end = Mixed(end.volume_m3, end.share, leaving)
        return end

    def is_laminar(self, name: str, phase: Phase, flow_m3_s: float) -> bool:
        """Tell whether a line flows in layers: forced, or by its Reynolds number."""
        if self.regime is not None:
            return self.regime == "laminar"
        line = self.line_of[name]
        if line.bore_m is None:
            return False
        kelvin = self.reader.kelvin(self.recipe.steps[self.now])
        flow = phase.nominal.get(name, flow_m3_s)
        reynolds = 4.0 * flow / (math.pi * line.bore_m.best * self.viscosity_m2_s(kelvin))
        return reynolds <= TURBULENT_FROM

    def viscosity_m2_s(self, kelvin: float) -> float:
        """Return the old fluid's viscosity by a Walther line through 40 and 100 degC."""
        fluid = self.circuit.fluid
        w = [math.log10(math.log10(nu * 1e6 + 0.7)) for nu in (fluid.nu40_m2_s, fluid.nu100_m2_s)]
        x = [math.log10(t) for t in (313.15, 373.15)]
        at = w[0] + (w[1] - w[0]) * (math.log10(kelvin) - x[0]) / (x[1] - x[0])
        return float((10.0 ** (10.0**at) - 0.7) * 1e-6)

    def whole_recipe(self) -> Outcome:
        """Run every step."""
        books: list[StepBook] = []
        stopped = False
        for index, step in enumerate(self.recipe.steps):
            self.now = index
            book = StepBook(step.do, lowest_m3=self.level_m3)
            books.append(book)
            for event in self.reader.events(index):
                match event:
                    case DrawnOff():
                        self.draw_off(event.leave_m3, book)
                    case Filled():
                        self.fill(event.to_m3, book)
                    case Swapped():
                        self.swap(event, book)
                    case Phase():
                        stopped = self.run(event, book)
                book.lowest_m3 = min(book.lowest_m3, self.level_m3)
                if stopped:
                    break
            fluid, old = self.contents()
            book.remaining_share = math.fsum(old.values()) / math.fsum(fluid.values())
            book.level_m3 = self.level_m3
            book.cycles = dict(self.reader.cycles)
            if stopped:
                break
        fluid, old = self.contents()
        return Outcome(fluid, old, dict(self.reader.position), books, stopped, self.micro_steps)


@dataclass(frozen=True, slots=True)
class Order:
    """Mixed parts in flow order, and those that a ring without lines leads back to."""

    parts: list[str]
    loop: list[str]


def flow_order(names: list[str], into: dict[str, list[tuple[str, float]]]) -> Order:
    """Order mixed parts so that each comes after the mixed parts that feed it, as far as can be."""
    done: list[str] = []
    open_: list[str] = []
    loop: list[str] = []

    def visit(name: str) -> None:
        if name in done:
            return
        if name in open_:
            loop.append(name)
            return
        open_.append(name)
        for source, _ in into.get(name, []):
            if source in names:
                visit(source)
        open_.remove(name)
        done.append(name)

    for name in names:
        visit(name)
    return Order(done, sorted(set(loop)))


def volume_of_line(line: Line) -> float:
    """Return what a line holds: its volume where given, else bore and length."""
    if line.volume_m3 is not None:
        return line.volume_m3.best
    assert line.bore_m is not None
    assert line.length_m is not None
    return math.pi / 4.0 * line.bore_m.best**2 * line.length_m.best


def simulate(
    circuit: Circuit,
    recipe: Recipe,
    *,
    regime: str | None = None,
    lanes: int = 8,
    step_m3: float = 5e-6,
    refine: int = 1,
) -> Outcome:
    """Run a recipe at the best values; ``step_m3`` moves in a step, ``refine`` divides it."""
    machine = Machine(circuit, recipe, regime=regime, lanes=lanes, step_m3=step_m3, refine=refine)
    return machine.whole_recipe()


@dataclass(frozen=True, slots=True)
class Extrapolated:
    """Two step sizes put together (the error falls with the square) and how far apart they were."""

    remaining_share: float
    old_m3: dict[str, float]
    gap: float
    fine: Outcome


def extrapolated(
    circuit: Circuit,
    recipe: Recipe,
    *,
    regime: str | None = None,
    lanes: int = 8,
    step_m3: float = 5e-6,
) -> Extrapolated:
    """Run with a step and half of it, and extrapolate to none."""
    coarse, fine = (
        simulate(circuit, recipe, regime=regime, lanes=lanes, step_m3=step_m3, refine=refine)
        for refine in (1, 2)
    )
    old = {
        part: fine.old_m3[part] + (fine.old_m3[part] - coarse.old_m3[part]) / 3.0
        for part in fine.old_m3
    }
    gap = fine.remaining_share - coarse.remaining_share
    return Extrapolated(fine.remaining_share + gap / 3.0, old, gap, fine)
