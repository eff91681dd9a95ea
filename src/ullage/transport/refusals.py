"""Can this recipe be carried out on this circuit, and what should a person know before trying?

``refusals`` names everything that cannot be done; a run must not begin while there is any.
``warnings`` names what can be done but will surprise. Both judge by the best values. Where the
answer depends on levels and cycles it comes from the solver's own books, so the two never disagree;
without concentrations they take about a millisecond.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator

from ullage.circuit import names
from ullage.circuit.doubts import doubts
from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg, Path, PumpKind
from ullage.circuit.shown import degc, litres
from ullage.errors import Fault
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

# Steps in which the pump runs.
_PUMPED = (Exchange, Circulate, Extend, Charge, Bleed)
_SLACK_M3 = 1e-9
# Notes of the books that only tell what happens, and need no warning beforehand.
_ONLY_TOLD = ("nothing-poured", "nothing-drawn", "filter-fills", "regime-changed")


def refusals(circuit: Circuit, recipe: Recipe) -> tuple[Fault, ...]:
    """Return everything that cannot be carried out; keys read like places in the recipe file."""
    found = tuple(
        fault
        for index, step in enumerate(recipe.steps)
        for fault in _step_faults(circuit, recipe, step, f"step[{index + 1}]")
    )
    # The books of a recipe that cannot be carried out would mean nothing.
    return found or tuple(_level_faults(circuit, recipe))


def warnings(circuit: Circuit, recipe: Recipe) -> tuple[Note, ...]:
    """Return what a person should know before the first step; empty of what ``refusals`` names."""
    notes = [Note(code=doubt.code, text=doubt.text) for doubt in doubts(circuit)]
    notes += [
        note
        for index, step in enumerate(recipe.steps)
        for note in _step_notes(circuit, step, f"step {index + 1} ({step.do})")
    ]
    if not refusals(circuit, recipe):
        for index, told in enumerate(_books(circuit, recipe)[1]):
            where = f"step {index + 1} ({recipe.steps[index].do})"
            notes += [
                Note(code=note.code, text=f"{where}: {note.text}", part=note.part)
                for note in told
                if note.code not in _ONLY_TOLD
            ]
    return tuple(notes)


def _books(circuit: Circuit, recipe: Recipe) -> tuple[list[float], list[tuple[Note, ...]]]:
    """Return the level at the start of each step that is reached [m3], and what the books note."""
    # Loaded here: the solver's kernel takes longer to import than a file takes to check.
    from ullage.transport.course import Course
    from ullage.transport.layout import FAST, Layout
    from ullage.transport.steps import Steps
    from ullage.transport.structure import AS_STATED
    from ullage.transport.values import values_of

    values = values_of(circuit)
    layout = Layout(circuit=circuit, mixing=AS_STATED, resolution=FAST, best=values)
    course = Course(layout, values)
    before = [float(course.level_m3[0])]
    tallies = Steps(course, recipe).carry_out()
    levels = before + [float(tally.level_m3[0]) for tally in tallies]
    return levels[: len(tallies)], [tuple(tally.notes) for tally in tallies]


def _level_faults(circuit: Circuit, recipe: Recipe) -> Iterator[Fault]:
    """Yield steps in which the pump would start below the minimum."""
    minimum_m3 = circuit.reservoir.minimum_m3.best
    for index, level_m3 in enumerate(_books(circuit, recipe)[0]):
        step = recipe.steps[index]
        if isinstance(step, _PUMPED) and level_m3 < minimum_m3 - _SLACK_M3:
            yield Fault(
                key=f"step[{index + 1}].do",
                value=step.do,
                problem=f"starts the pump with {litres(level_m3)} L in the reservoir",
                allowed=f"at least the minimum of {litres(minimum_m3)} L, or it may draw air",
                advice='put a step with do = "fill" before it',
            )
            return  # what comes after has the same cause


def _step_faults(circuit: Circuit, recipe: Recipe, step: Step, place: str) -> Iterator[Fault]:
    """Yield what cannot be done about one step."""
    temperature_k = recipe.temperature_k if step.temperature_k is None else step.temperature_k
    yield from _negative(step, place)
    match step:
        case Exchange() | Circulate():
            yield from _run_faults(circuit, step, temperature_k, place)
        case Fill():
            yield from _fill_faults(circuit, step, place)
        case Bleed():
            yield from _bleed_faults(circuit, step, temperature_k, place)
        case Retract() | Extend() | Release() | Charge():
            legs = yield from _named(circuit, step.legs, f"{place}.legs")
            yield from _never_moved(legs, f"{place}.legs", step.do)
            if isinstance(step, Extend | Charge):
                yield from _closed(circuit, legs, temperature_k, f"{place}.legs")
        case _:
            pass


def _negative(step: Step, place: str) -> Iterator[Fault]:
    """Yield numbers below nothing; a file refuses them already, a recipe made by hand may not."""
    numbers: dict[str, float | None] = {}
    match step:
        case DrawOff():
            numbers["leave_l"] = step.leave_m3 and step.leave_m3 * 1e3
        case Fill():
            numbers["to_l"] = step.to_m3 and step.to_m3 * 1e3
        case Exchange() | Bleed():
            numbers["litres"] = step.litres_m3 * 1e3
        case Circulate() | Stand():
            numbers["minutes"] = step.duration_s / 60.0
        case _:
            return
    if isinstance(step, Exchange | Circulate):
        numbers["cycles"] = step.exercise.cycles
        numbers["rev_min"] = step.rev_s and step.rev_s * 60.0
        if step.exercise.period_s <= 0.0:
            yield Fault(
                key=f"{place}.period_s",
                value=step.exercise.period_s,
                problem="is no time in which a cycle could be made",
                allowed="above 0 s",
                advice="time one whole cycle with a watch",
            )
    for key, value in numbers.items():
        if value is not None and value < 0.0:
            yield Fault(
                key=f"{place}.{key}",
                value=value,
                problem="is negative",
                allowed="at least 0",
                advice="check the sign",
            )


def _run_faults(
    circuit: Circuit, step: Exchange | Circulate, temperature_k: float, place: str
) -> Iterator[Fault]:
    """Yield why the pump cannot run this step."""
    flowing = [path for path in circuit.paths if not path.dead_end]
    legs = yield from _named(circuit, step.exercise.groups, f"{place}.exercise")
    yield from _never_moved(legs, f"{place}.exercise", "exercise")
    if not flowing:
        yield Fault(
            key=f"{place}.do",
            value=step.do,
            problem="needs a way back to the reservoir, and every path here is a dead end",
            allowed="draw-off, fill, bleed, stand",
            advice='renew each leg with do = "bleed"',
        )
        return
    is_open = [path for path in flowing if _is_open(path, temperature_k)]
    if isinstance(step, Exchange):
        diverted = [path for path in flowing if path.divert_after is not None]
        if not diverted:
            yield Fault(
                key=f"{place}.do",
                value=step.do,
                problem="needs a diverter, and no path of this circuit has divert_after",
                allowed="a path with divert_after = the last part before the waste can",
                advice="add divert_after where the return hose comes off, or draw off and fill "
                "instead",
            )
            return
        if not any(path in is_open for path in diverted):
            opens = min(path.opens_above_k for path in diverted if path.opens_above_k is not None)
            yield Fault(
                key=f"{place}.do",
                value=step.do,
                problem=f"finds every diverted path closed by its thermostat at "
                f"{degc(temperature_k):g} degC",
                allowed=f"from {degc(opens):g} degC",
                advice="warm the fluid first and set temperature_degc, or divert another path",
            )
            return
        yield from _behind_diverter(circuit, legs, f"{place}.exercise")
    elif not is_open:
        opens = min(path.opens_above_k for path in flowing if path.opens_above_k is not None)
        yield Fault(
            key=f"{place}.do",
            value=step.do,
            problem=f"finds every path closed by its thermostat at {degc(temperature_k):g} degC",
            allowed=f"from {degc(opens):g} degC",
            advice="set temperature_degc to what the fluid really has",
        )
        return
    yield from _closed(circuit, legs, temperature_k, f"{place}.exercise")


def _is_open(path: Path, temperature_k: float) -> bool:
    """Tell whether a path's thermostat, if any, lets fluid pass."""
    return path.opens_above_k is None or temperature_k >= path.opens_above_k


def _named(
    circuit: Circuit, wanted: Iterable[str], key: str
) -> Generator[Fault, None, tuple[Leg, ...]]:
    """Yield names that nothing bears; return the legs of the others."""
    known = [*dict.fromkeys(leg.group for leg in circuit.legs if leg.group), *circuit.leg_by_id]
    legs: list[Leg] = []
    for name in wanted:
        found = [leg for leg in circuit.legs if name in (leg.id, leg.group)]
        if not found:
            yield Fault(
                key=key,
                value=name,
                problem="is neither a group nor a leg of this circuit",
                allowed=names.one_of(known),
                advice=names.did_you_mean(name, known, otherwise="correct it or leave it out"),
            )
        legs += found
    return tuple(dict.fromkeys(legs))


def _never_moved(legs: Iterable[Leg], key: str, what: str) -> Iterator[Fault]:
    """Yield legs that no person can move."""
    for leg in legs:
        if leg.held_by is HeldBy.CONTROLLER:
            yield Fault(
                key=key,
                value=leg.id,
                problem=f'cannot {what}: it is held by a "controller", which no recipe commands',
                allowed="legs held by nothing, check or pilot",
                advice="leave it out; what it holds counts as a floor",
            )


def _behind_diverter(circuit: Circuit, legs: Iterable[Leg], key: str) -> Iterator[Fault]:
    """Yield legs that hang where nothing flows while the return goes to waste."""
    for leg in legs:
        path = circuit.path_of_node[leg.at]
        if path.divert_after is None:
            continue
        last = path.through.index(path.divert_after)
        for node in dict.fromkeys((leg.at, leg.returns_to)):
            if path.through.index(node) > last:
                yield Fault(
                    key=key,
                    value=leg.id,
                    problem=f'hangs at "{node}", behind the diverter (after "{path.divert_after}")',
                    allowed="legs in front of the diverter",
                    advice="exercise it while circulating, or divert further down",
                )


def _closed(
    circuit: Circuit, legs: Iterable[Leg], temperature_k: float, key: str
) -> Iterator[Fault]:
    """Yield legs on a path that a thermostat keeps closed."""
    for leg in legs:
        path = circuit.path_of_node[leg.at]
        if not _is_open(path, temperature_k) and path.opens_above_k is not None:
            yield Fault(
                key=key,
                value=leg.id,
                problem=f'stands on path "{path.id}", closed by its thermostat at '
                f"{degc(temperature_k):g} degC",
                allowed=f"from {degc(path.opens_above_k):g} degC",
                advice="warm the fluid first and set temperature_degc",
            )


def _fill_faults(circuit: Circuit, step: Fill, place: str) -> Iterator[Fault]:
    """Yield a fill that would run over."""
    brim_m3 = circuit.reservoir.brim_m3.best
    if step.to_m3 is not None and step.to_m3 > brim_m3 + _SLACK_M3:
        yield Fault(
            key=f"{place}.to_l",
            value=litres(step.to_m3),
            problem="is above the brim: it would run over",
            allowed=f"at most brim_l = {litres(brim_m3)}, better full_l = "
            f"{litres(circuit.reservoir.full_m3.best)}",
            advice="fill to less, or leave to_l out to fill to the full mark",
        )


def _bleed_faults(
    circuit: Circuit, step: Bleed, temperature_k: float, place: str
) -> Iterator[Fault]:
    """Yield why a leg cannot be bled."""
    leg = circuit.leg_by_id.get(step.leg)
    points = [leg.id for leg in circuit.legs if leg.bleed]
    if leg is None:
        yield Fault(
            key=f"{place}.leg",
            value=step.leg,
            problem="is no leg of this circuit",
            allowed=names.one_of(points) if points else "no leg has a bleed point",
            advice=names.did_you_mean(step.leg, circuit.leg_by_id, otherwise="name one leg"),
        )
    elif not leg.bleed:
        yield Fault(
            key=f"{place}.leg",
            value=step.leg,
            problem="has no bleed point",
            allowed=names.one_of(points) if points else "no leg of this circuit has one",
            advice="write bleed = true at the leg if it has a screw, or exercise it instead",
        )
    else:
        yield from _closed(circuit, (leg,), temperature_k, f"{place}.leg")


def _step_notes(circuit: Circuit, step: Step, where: str) -> Iterator[Note]:
    """Yield what will surprise about one step and does not show in the books."""
    if isinstance(step, Exchange | Circulate):
        yield from _duty_notes(circuit, step, where)
        yield from _twice_notes(circuit, step.exercise, where)
    if isinstance(step, SwapFilter) and not any(node.element for node in circuit.nodes):
        yield Note(
            code="no-element",
            text=f"{where}: no node of this circuit has element = true, so nothing is swapped",
        )
    if isinstance(step, Release | Charge) and not any(leg.gas for leg in circuit.legs):
        yield Note(
            code="no-gas",
            text=f"{where}: no leg of this circuit has a gas volume, so nothing is given or taken",
        )


def _duty_notes(circuit: Circuit, step: Exchange | Circulate, where: str) -> Iterator[Note]:
    """Yield how often an electric power pack must rest."""
    pump = circuit.pump
    if pump.duty_s is None or pump.rest_s is None or pump.kind is PumpKind.HAND:
        return
    if isinstance(step, Circulate):
        runs_s = step.duration_s
    else:
        per_rev_m3 = pump.displacement_m3_rev.best if pump.displacement_m3_rev else 0.0
        speed = pump.idle_rev_s if step.rev_s is None else step.rev_s
        flow_m3_s = per_rev_m3 * pump.efficiency.best * pump.speed_ratio * speed
        runs_s = step.litres_m3 / flow_m3_s if flow_m3_s > 0.0 else 0.0
    rests = int((runs_s - 1e-6) / pump.duty_s)
    if rests > 0:
        yield Note(
            code="duty-exceeded",
            text=f"{where}: the pump runs about {runs_s:.0f} s, more than the {pump.duty_s:g} s "
            f"that it may; stop {rests} {'time' if rests == 1 else 'times'} for {pump.rest_s:g} s",
        )


def _twice_notes(circuit: Circuit, exercise: Exercise, where: str) -> Iterator[Note]:
    """Yield legs that one exercise names twice."""
    seen: set[str] = set()
    for name in exercise.groups:
        mine = {leg.id for leg in circuit.legs if name in (leg.id, leg.group)}
        both = sorted(seen & mine)
        if both:
            yield Note(
                code="named-twice",
                text=f"{where}: {', '.join(both)} is named twice in exercise and moves in both "
                "turns",
                part=both[0],
            )
        seen |= mine
