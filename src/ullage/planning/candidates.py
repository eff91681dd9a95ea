"""What can be done with this circuit at all: the moves that a search may put together.

A move is a few steps of a recipe that belong together. Only moves that the circuit can carry out,
that nobody ruled out and that keep the level between minimum and brim at the best values are
offered; whether a chain of them does so for all machines shows when it is run.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg, PumpKind, State
from ullage.circuit.volumes import Numbers, gas_oil_m3, line_volume_m3, pump_flow_m3_s
from ullage.planning.goal import Goal
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
    Step,
    SwapFilter,
    TopUp,
)
from ullage.transport.refusals import refusals
from ullage.units.convert import ZERO_CELSIUS_K

#: Fluid temperature of a plan where nothing asks for another; common practice, no source.
USUAL_K = 60.0 + ZERO_CELSIUS_K
#: How far a plan stays below the hottest that the machine allows, and above a thermostat's opening
#: [K]; common practice, no source.
MARGIN_DK = 5.0
#: Temperature of a circuit that no pump warms.
COOL_K = 20.0 + ZERO_CELSIUS_K
# A cycle by hand takes at least this long; common practice, no source.
_SHORTEST_S = 4.0
# A period is so much longer than the longest stroke needs at the usual flow: then all but a few of
# a hundred machines reach both ends. A shorter one gives more cycles a litre, a longer one fewer.
_UNHURRIED = 1.05
# A level to pump from covers so many seconds of the pump's sure flow above the sure end of the
# minimum: the start flare, a late helper, the run-down. Common practice, no source.
_SECONDS_IN_HAND = 6.0
# The idle volumes that stay of a leg's content when it is bled, as multiples of line and chamber.
BLEED_MULTIPLES = (0.7, 1.4)
# Cycles of each group in one closed circulation.
CLOSED_CYCLES = 3


class Mode(StrEnum):
    """How actuators move while litres go to waste."""

    IDLE = "idle"
    IN_TURN = "in turn"
    TOGETHER = "together"
    ONE_GROUP = "one group"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How an exchange runs: its mode, its exercise, and the litres in which all groups have moved
    once.
    """

    mode: Mode
    exercise: Exercise
    round_m3: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The steps before the first litre goes through the diverter.

    ``released`` tells that gas volumes stand without pressure afterwards, ``swapped`` that the
    element has been changed."""

    steps: tuple[Step, ...]
    released: bool = False
    swapped: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Possible:
    """What can be put together for one circuit and goal.

    ``low_m3`` and ``work_m3`` are the levels to fill to before pumping: just safe, and as high as
    motion allows. ``closed`` are circulations that move everything, ``bleeds`` the legs with a
    usable bleed point, longest line first."""

    temperature_k: float
    low_m3: float
    work_m3: float
    openings: tuple[Opening, ...]
    ways: tuple[Way, ...]
    closed: tuple[Circulate, ...]
    bleeds: tuple[str, ...]
    can_charge: bool
    has_element: bool
    ends_released: bool
    rests_retracted: bool
    rests_extended: bool


def working_temperature_k(circuit: Circuit) -> float:
    """Return the fluid temperature that a plan works at.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.

    Returns
    -------
    temperature_k : scalar
        As warm as usual, warmer where a thermostat must open, never near the hottest allowed. [K]

    Source
    ------
    Common practice, no source.
    """
    if circuit.pump.kind is PumpKind.HAND:
        return COOL_K
    wanted = USUAL_K
    for path in circuit.paths:
        if path.opens_above_k is not None and not path.dead_end:
            wanted = max(wanted, path.opens_above_k + MARGIN_DK)
    hottest = circuit.limits.hottest_k
    return wanted if hottest is None else min(wanted, max(hottest - MARGIN_DK, COOL_K))


def possible(circuit: Circuit, goal: Goal) -> Possible:
    """Return everything that may be put together for a circuit and a goal."""
    tank = circuit.reservoir
    movable = _movable(circuit)
    up, down = _swing(circuit, movable)
    fast = _sure_flow_m3_s(circuit)
    low = min(tank.minimum_m3.high + _SECONDS_IN_HAND * fast, tank.full_m3.low)
    most = min(tank.full_m3.best, max(tank.brim_m3.low - down, low))
    work = max(most, min(low + up, tank.full_m3.best))
    temperature_k = working_temperature_k(circuit)
    ways = _ways(circuit, goal, temperature_k, movable)
    closed = _closed(circuit, goal, temperature_k, movable)
    gas = _has_gas(circuit, goal)
    element = any(node.element for node in circuit.nodes) and "swap-filter" not in goal.without
    return Possible(
        temperature_k=temperature_k,
        low_m3=low,
        work_m3=work,
        openings=_openings(circuit, goal, low, work, gas=gas, element=element),
        ways=ways,
        closed=closed,
        bleeds=_bleeds(circuit, goal, temperature_k),
        can_charge=gas,
        has_element=element,
        ends_released=tank.mark is State.RELEASED and any(leg.gas for leg in circuit.legs),
        rests_retracted=tank.mark is State.RETRACTED
        and any(leg.start_share.high > 0.0 for leg in _drivers(circuit)),
        rests_extended=tank.mark is State.EXTENDED
        and any(leg.start_share.low < 1.0 for leg in _drivers(circuit)),
    )


def finish(found: Possible, *, released: bool, swapped: bool) -> tuple[Step, ...]:
    """Return the steps that end a job in the state of the mark, filled to the mark."""
    steps: list[Step] = []
    if found.has_element and not swapped:
        steps.append(SwapFilter())
    if released and not found.ends_released:
        steps += [Fill(), Charge()]
    if found.rests_retracted:
        steps.append(Retract())
    if found.rests_extended:
        steps += [Fill(), Extend()]
    if found.ends_released and not released:
        steps.append(Release(supported=True))
    return (*steps, TopUp())


def merged(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Join exchanges that run alike, and leave out fills that another follows at once."""
    found: list[Step] = []
    for step in steps:
        joined = _joined(step, found[-1] if found else None)
        if joined is None:
            found.append(step)
        else:
            found[-1] = joined
    return tuple(found)


def poured(circuit: Circuit, steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Leave out fills to a level at which the reservoir stands already, in every machine.

    Exchanges and bleeds keep the level by pouring; cycles end where they began."""
    tank = circuit.reservoir
    full = tank.full_m3.best
    level = full if tank.start_m3 is tank.full_m3 else None
    found: list[Step] = []
    for step in steps:
        match step:
            case Fill():
                to = full if step.to_m3 is None else step.to_m3
                if type(step) is Fill and level is not None and to <= level:
                    continue
                level = to
            case Exchange() | Bleed() | Circulate():
                pass
            case SwapFilter() if step.prefilled:
                pass
            case _:
                level = None
        found.append(step)
    return tuple(found)


def _joined(step: Step, last: Step | None) -> Step | None:
    """Return two steps in a row as one, where they differ in litres alone; else None."""
    match last, step:
        case Exchange(), Exchange():
            if last.exercise == step.exercise and step.exercise.cycles is None:
                return replace(step, litres_m3=last.litres_m3 + step.litres_m3)
        case Bleed(), Bleed():
            if last.leg == step.leg:
                return replace(step, litres_m3=last.litres_m3 + step.litres_m3)
        case Fill(), Fill():
            if type(last) is Fill:
                return step
        case _:
            pass
    return None


def pairs_moved(circuit: Circuit, legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    """Return one leg of each double-acting pair, and all single ones."""
    chosen: list[Leg] = []
    for leg in legs:
        if circuit.partner.get(leg.id) not in {other.id for other in chosen}:
            chosen.append(leg)
    return tuple(chosen)


def _drivers(circuit: Circuit) -> tuple[Leg, ...]:
    """Return the legs that a person may move, one of each pair."""
    return pairs_moved(circuit, _movable(circuit))


def _movable(circuit: Circuit) -> tuple[Leg, ...]:
    """Return the legs that have a stroke and that a person may move."""
    return tuple(
        leg
        for leg in circuit.legs
        if leg.stroke_m3.best > 0.0 and leg.held_by is not HeldBy.CONTROLLER
    )


def _group_of(leg: Leg) -> str:
    return leg.group or leg.id


def groups_of(circuit: Circuit) -> dict[str, tuple[Leg, ...]]:
    """Return the groups that can be exercised, each with its legs."""
    found: dict[str, list[Leg]] = {}
    for leg in _movable(circuit):
        found.setdefault(_group_of(leg), []).append(leg)
    return {name: tuple(legs) for name, legs in found.items()}


def _swing(circuit: Circuit, legs: tuple[Leg, ...]) -> tuple[float, float]:
    """Return how far exercising group by group sinks and lifts the level, at the sure ends [m3]."""
    sinks, lifts = 0.0, 0.0
    for name in {_group_of(leg) for leg in legs}:
        sink = lift = 0.0
        for leg in pairs_moved(circuit, tuple(x for x in legs if _group_of(x) == name)):
            other = circuit.partner.get(leg.id)
            back = circuit.leg_by_id[other].stroke_m3.best if other else 0.0
            net = leg.stroke_m3.high - back if back else leg.stroke_m3.high
            start = leg.start_share
            # A pair that takes more than it gives while extending sinks the level, and lifts it
            # while retracting; the other way round where the other side is the larger.
            rise, fall = net * (1.0 - start.low), net * start.high
            sink += max(rise, -fall, 0.0)
            lift += max(fall, -rise, 0.0)
        sinks, lifts = max(sinks, sink), max(lifts, lift)
    return sinks, lifts


def period_s(circuit: Circuit, legs: tuple[Leg, ...]) -> float:
    """Return how long a whole cycle of some legs takes at idle.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.
    legs : values
        Legs that move in the same cycle.

    Returns
    -------
    period_s : scalar
        Whole seconds. [s]

    Source
    ------
    Derived: half the cycle extends, and takes the longest stroke from the pump's flow.
    """
    flow = float(pump_flow_m3_s(circuit, Numbers())[0])
    takes: dict[str, list[float]] = {}
    for leg in pairs_moved(circuit, legs):
        sides = [leg]
        if leg.id in circuit.partner:
            sides.append(circuit.leg_by_id[circuit.partner[leg.id]])
        volumes = [x.stroke_m3.high * min(leg.stroke_use_share.high, 1.0) for x in sides]
        path = circuit.path_of_node[leg.at]
        takes.setdefault(path.id, []).append(max(volumes))
    longest = 0.0
    for path in circuit.paths:
        if path.id in takes and flow > 0.0:
            longest = max(longest, sum(takes[path.id]) / (flow * path.share.best))
    return float(max(_SHORTEST_S, round(2.0 * _UNHURRIED * longest + 0.5)))


def _ways(
    circuit: Circuit, goal: Goal, temperature_k: float, movable: tuple[Leg, ...]
) -> tuple[Way, ...]:
    """Return how an exchange may run here."""
    if "exchange" in goal.without:
        return ()
    wanted = [Way(mode=Mode.IDLE, exercise=Exercise())]
    groups = groups_of(circuit)
    # One alone cannot pour, mind the switch and move actuators; common practice, no source.
    if groups and "exercise" not in goal.without and goal.people > 1:
        names = tuple(groups)
        longest = max(period_s(circuit, legs) for legs in groups.values())
        wanted.append(Way(mode=Mode.IN_TURN, exercise=Exercise(groups=names, period_s=longest)))
        if len(groups) > 1:
            together = Exercise(groups=names, together=True, period_s=period_s(circuit, movable))
            wanted.append(Way(mode=Mode.TOGETHER, exercise=together))
            wanted += [
                Way(
                    mode=Mode.ONE_GROUP,
                    exercise=Exercise(groups=(name,), period_s=period_s(circuit, legs)),
                )
                for name, legs in groups.items()
            ]
    litre = [Exchange(litres_m3=1e-3, exercise=way.exercise) for way in wanted]
    flow = float(pump_flow_m3_s(circuit, Numbers())[0]) * _diverted_share(circuit)
    return tuple(
        replace(way, round_m3=_round_m3(way.exercise, flow))
        for way, step in zip(wanted, litre, strict=True)
        if _can(circuit, temperature_k, (Fill(), step))
    )


def _round_m3(exercise: Exercise, flow_m3_s: float) -> float:
    """Return what goes to waste while every group has moved once [m3]."""
    turns = min(len(exercise.groups), 1) if exercise.together else len(exercise.groups)
    return turns * exercise.period_s * flow_m3_s


def _diverted_share(circuit: Circuit) -> float:
    """Return the share of the flow that an exchange sends to waste, thermostats open."""
    shares = {p.id: p.share.best for p in circuit.paths if not p.dead_end}
    whole = sum(shares.values())
    sent = sum(p.share.best for p in circuit.paths if p.id in shares and p.divert_after)
    return sent / whole if whole else 0.0


def _sure_flow_m3_s(circuit: Circuit) -> float:
    """Return the highest flow at idle that the spreads allow [m3/s]."""
    pump = circuit.pump
    if pump.hand_flow_m3_s is not None:
        return pump.hand_flow_m3_s.high
    if pump.displacement_m3_rev is None:
        return 0.0
    turn = pump.displacement_m3_rev.high * pump.efficiency.high * pump.speed_ratio
    flow = turn * pump.idle_rev_s
    return flow if pump.limit_m3_s is None else min(flow, pump.limit_m3_s.high)


def _closed(
    circuit: Circuit, goal: Goal, temperature_k: float, movable: tuple[Leg, ...]
) -> tuple[Circulate, ...]:
    """Return circulations worth trying: all groups in turn where any may move, else plain."""
    if "circulate" in goal.without:
        return ()
    groups = groups_of(circuit)
    steps: list[Circulate] = []
    if groups and "exercise" not in goal.without:
        longest = max(period_s(circuit, legs) for legs in groups.values())
        steps.append(
            Circulate(
                duration_s=longest * CLOSED_CYCLES * len(groups),
                exercise=Exercise(groups=tuple(groups), period_s=longest),
            )
        )
    if not groups or "exercise" in goal.without:
        steps.append(Circulate(duration_s=180.0))
    return tuple(step for step in steps if _can(circuit, temperature_k, (Fill(), step)))


def _bleeds(circuit: Circuit, goal: Goal, temperature_k: float) -> tuple[str, ...]:
    """Return the legs that can be bled, the longest line first."""
    if "bleed" in goal.without:
        return ()
    numbers = Numbers()
    points = [
        leg
        for leg in circuit.legs
        if leg.bleed and _can(circuit, temperature_k, (Fill(), Bleed(leg=leg.id, litres_m3=1e-5)))
    ]
    points.sort(key=lambda leg: -float(line_volume_m3(leg.line, numbers)[0]))
    return tuple(leg.id for leg in points)


def leg_content_m3(circuit: Circuit, leg: str) -> float:
    """Return what a leg holds as found: line, chamber and oil behind gas.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.
    leg : name
        Which leg.

    Returns
    -------
    content_m3 : scalar
        At the best values. [m3]

    Source
    ------
    Sum of the parts.
    """
    numbers, found = Numbers(), circuit.leg_by_id[leg]
    chamber = found.dead_m3.best + found.stroke_m3.best * found.start_share.best
    oil = float(gas_oil_m3(found.gas, leg, numbers)[0])
    return float(line_volume_m3(found.line, numbers)[0]) + chamber + oil


def _has_gas(circuit: Circuit, goal: Goal) -> bool:
    """Tell whether a person can let gas volumes give their oil back and take it again."""
    return "release" not in goal.without and any(
        leg.gas is not None and leg.held_by is not HeldBy.CONTROLLER for leg in circuit.legs
    )


def _openings(
    circuit: Circuit, goal: Goal, low: float, work: float, *, gas: bool, element: bool
) -> tuple[Opening, ...]:
    """Return the ways to begin: what is drawn off, what is let go before, how far it is filled."""
    drains: list[tuple[tuple[Step, ...], bool]] = [((), False), ((DrawOff(),), False)]
    if gas:
        # Drawn off first, so that what comes back has room below the brim.
        drains.append(((DrawOff(), Release(supported=True), DrawOff()), True))
    if _may_retract(circuit, goal):
        drains.append(((DrawOff(), Retract(), DrawOff()), False))
    found: list[Opening] = []
    for steps, released in drains:
        for swapped in (False, True) if element else (False,):
            swap: tuple[Step, ...] = (SwapFilter(),) if swapped else ()
            full = circuit.reservoir.full_m3.best
            fills: tuple[Fill, ...] = (Fill(),)
            if steps:
                fills += (_fill_to(circuit, work),) if work < full - 1e-9 else ()
                fills += (Fill(to_m3=_rounded(low)),) if work - low > 0.05 * full else ()
            found += [
                Opening(steps=(*steps, *swap, fill), released=released, swapped=swapped)
                for fill in fills
            ]
    return tuple(found)


def _fill_to(circuit: Circuit, level_m3: float) -> Fill:
    """Return a fill; to the mark where the level is the mark's."""
    if level_m3 >= circuit.reservoir.full_m3.best - 1e-9:
        return Fill()
    return Fill(to_m3=_rounded(level_m3))


def _rounded(level_m3: float) -> float:
    """Return a level that a person can set: to 0.05 L, in small reservoirs to 0.01 L."""
    step = 5e-5 if level_m3 > 5e-4 else 1e-5
    return round(level_m3 / step) * step


def _may_retract(circuit: Circuit, goal: Goal) -> bool:
    """Tell whether lowering first ends where the mark wants the actuators.

    No step brings an actuator back to the middle of its stroke, so where the mark is read at ride
    height lowering would leave the level unjudged."""
    if "retract" in goal.without or circuit.reservoir.mark is not State.RETRACTED:
        return False
    return any(leg.start_share.high > 0.0 for leg in _drivers(circuit))


def _can(circuit: Circuit, temperature_k: float, steps: tuple[Step, ...]) -> bool:
    """Tell whether a circuit can carry out some steps."""
    return not refusals(circuit, Recipe(name="", steps=steps, temperature_k=temperature_k))
