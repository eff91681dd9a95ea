"""How must people pour so that the pump never runs dry?

A small reservoir is at its minimum within seconds. This file says how fast to pour, when to stop,
and for how long the pump may run at a time. Two figures stand side by side throughout: what is
likeliest, and what surely holds, which takes every number at its worse end at once.

Leaves out what the pump does to the fluid in the circuit; the level alone counts here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import PumpKind
from ullage.circuit.uncertain import Uncertain, draw, exact
from ullage.circuit.volumes import Numbers, content_m3, pump_flow_m3_s
from ullage.errors import OutOfRange
from ullage.planning.crew import Crew
from ullage.planning.outflow import Outflow, diverted_share, outflow_of
from ullage.planning.pace_advice import advice_on_pace
from ullage.planning.saw_tooth import Draw, Pour, SawTooth, saw_tooth
from ullage.planning.suction import COOL_DAY_K, suction_advice
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat

Floats = NDArray[np.float64]

#: Machines drawn for the figure that 95 of 100 keep.
DRAWS = 4000
_BISECTIONS = 60
#: A burst shorter than this deserves to be told what would lengthen it.
WORTH_A_LEVER_S = 8.0
#: How well a flow is known once a litre was timed at the diverter: common practice, no source.
TIMED_SHARE = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How to pour. What is named ``sure`` holds with every number at its worse end.

    ``run_s`` is how long one run may last: the whole job where ``continuous``, else a burst.
    ``stop_level_m3`` is the level at which to call "stop". ``lowest_m3`` and ``highest_m3`` belong
    to somebody who runs on over all the litres and never pauses, at best values.
    ``needed_pour_m3_s`` is None where no rate would keep up. ``seconds_to_minimum`` counts without
    any pouring; 95 of 100 machines take longer than ``seconds_to_minimum_p95``.
    """

    draw_m3_s: float
    draw_sure_m3_s: float
    usable_m3: float
    litres_m3: float
    seconds_to_minimum: float
    seconds_to_minimum_sure: float
    seconds_to_minimum_p95: float
    continuous: bool
    run_s: float
    run_m3: float
    runs: int
    open_containers: int
    needed_pour_m3_s: float | None
    needed_pour_sure_m3_s: float | None
    stop_level_m3: float
    lowest_m3: float
    highest_m3: float
    lowest_sure_m3: float
    total_s: float
    advice: tuple[Caveat, ...]


def pace(
    circuit: Circuit,
    *,
    crew: Crew | None = None,
    litres_m3: float | None = None,
    start_m3: Uncertain | None = None,
    temperature_k: float = COOL_DAY_K,
) -> Pace:
    """Return how to pour during an exchange so that the pump never draws air.

    Parameters
    ----------
    circuit : Circuit
        The machine.
    crew : Crew
        Who pours and how; None takes two people of usual habits.
    litres_m3 : scalar
        How much shall go to waste, above 0; None takes what the circuit holds. [m3]
    start_m3 : Uncertain
        What stands in the reservoir when the pump starts; None takes the full mark. [m3]
    temperature_k : scalar
        Temperature of the fluid on the day, for the advice about the pump's inlet. [K]

    Returns
    -------
    found : Pace
        Times, levels, rates and advice.

    Raises
    ------
    OutOfRange
        If the litres are not positive, or the reservoir shall start above its brim or at or below
        its minimum.

    Validity
    --------
    Steady flow of a warm, air-free pump. The surest figures take all sure ends at once, so nobody
    who keeps to them, within those ends, goes below the minimum.

    Source
    ------
    Mass balance; spreads of single numbers: common practice, no source (``crew.SPREADS``).
    """
    people = Crew() if crew is None else crew
    tank = circuit.reservoir
    start = tank.full_m3 if start_m3 is None else start_m3
    _check_start(circuit, start)
    total = float(sum(v[0] for v in content_m3(circuit, Numbers()).values()))
    litres = total if litres_m3 is None else bounded("litres_m3", litres_m3, above=0.0, unit="m3")
    found = _figures(circuit, people, start, litres)
    out = outflow_of(circuit, people)
    told = advice_on_pace(
        circuit,
        people,
        start=start,
        continuous=found.continuous,
        run_s=found.run_s,
        runs=found.runs,
        stop_level_m3=found.stop_level_m3,
        open_containers=found.open_containers,
        pour_m3_s=found.needed_pour_m3_s,
        draw_m3_s=out.steady_m3_s,
        lowest_m3=found.lowest_m3,
        highest_m3=found.highest_m3,
    )
    sucked = suction_advice(
        circuit,
        flow_m3_s=float(pump_flow_m3_s(circuit, Numbers())[0]),
        flare_m3_s=float(pump_flow_m3_s(circuit, Numbers(), max(people.start_rev_s.best, 0.0))[0]),
        temperature_k=temperature_k,
    )
    return replace(found, advice=(*told, *_levers(circuit, people, found), *sucked))


def needed_pour_m3_s(
    *, draw_m3_s: float, container_m3: float, change_s: float, pourers: int
) -> float | None:
    """Return how fast a container must empty so that pouring keeps up with the pump on average.

    Parameters
    ----------
    draw_m3_s : scalar
        What leaves the reservoir, above 0. [m3/s]
    container_m3 : scalar
        What one container holds, above 0. [m3]
    change_s : scalar
        How long a pourer needs from an empty container to the next full one. [s]
    pourers : scalar
        How many take turns. [-]

    Returns
    -------
    pour_m3_s : scalar
        Rate while a container empties; None where changing alone takes too long. [m3/s]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    On average: between two containers the level still sinks.

    Source
    ------
    Mass balance over one turn of all pourers.

    Examples
    --------
    >>> needed_pour_m3_s(draw_m3_s=1e-4, container_m3=1e-3, change_s=5.0, pourers=1)
    0.0002
    """
    bounded("draw_m3_s", draw_m3_s, above=0.0, unit="m3/s")
    bounded("container_m3", container_m3, above=0.0, unit="m3")
    bounded("change_s", change_s, low=0.0, unit="s")
    each_s = container_m3 / draw_m3_s
    most_s = min(each_s, pourers * each_s - change_s)
    return container_m3 / most_s if most_s > 0.0 else None


def _figures(circuit: Circuit, people: Crew, start: Uncertain, litres: float) -> Pace:
    """Return all figures of a pace, without advice."""
    tank = circuit.reservoir
    out = outflow_of(circuit, people)
    best, fastest = out.best, out.fastest
    margin_s = people.react_s.high + people.rundown_s.high
    away_s = people.walk_s.high if people.is_alone else 0.0
    minimum = tank.minimum_m3.high
    plain = saw_tooth(
        start_m3=start.best, draw=best, pour=_pour(people, sure=False), litres_m3=litres
    )
    worst = saw_tooth(
        start_m3=start.low,
        draw=fastest,
        pour=_pour(people, sure=True),
        litres_m3=litres,
        hold_m3=start.low,
    )
    run = _longest_run(worst, fastest, start.low, minimum, margin_s + away_s)
    continuous = run >= worst.times_s[-1]
    if people.is_alone and not continuous:
        # Nobody pours during a burst, but the hand is at the switch: no walk before it stops.
        worst = _unpoured(start.low, fastest, max(start.low - minimum, litres))
        run = _longest_run(worst, fastest, start.low, minimum, margin_s)
        away_s = 0.0
    stop = minimum + fastest.steady_m3_s * (margin_s + away_s)
    stop = max(stop, _early_stop(worst, fastest, minimum, run, margin_s + away_s))
    run_m3 = min(best.drawn_m3(run), litres)
    runs = 1 if continuous else max(math.ceil(litres / run_m3 - 1e-9), 1) if run_m3 > 0.0 else 0
    taken = litres if continuous else min(fastest.drawn_m3(run + margin_s), litres)
    return Pace(
        draw_m3_s=best.steady_m3_s,
        draw_sure_m3_s=fastest.steady_m3_s,
        usable_m3=start.best - tank.minimum_m3.best,
        litres_m3=litres,
        seconds_to_minimum=best.time_s(start.best - tank.minimum_m3.best),
        seconds_to_minimum_sure=fastest.time_s(start.low - minimum),
        seconds_to_minimum_p95=_kept_by_95(circuit, people, start, out),
        continuous=continuous,
        run_s=best.time_s(litres) if continuous else run,
        run_m3=litres if continuous else run_m3,
        runs=runs,
        open_containers=math.ceil(taken / people.container_m3 - 1e-9),
        needed_pour_m3_s=needed_pour_m3_s(
            draw_m3_s=best.steady_m3_s,
            container_m3=people.container_m3,
            change_s=people.change_s.best,
            pourers=people.pourers,
        ),
        needed_pour_sure_m3_s=needed_pour_m3_s(
            draw_m3_s=fastest.steady_m3_s,
            container_m3=people.container_m3,
            change_s=people.change_s.high,
            pourers=people.pourers,
        ),
        stop_level_m3=stop,
        lowest_m3=max(plain.lowest_m3, 0.0),
        highest_m3=plain.highest_m3,
        lowest_sure_m3=max(worst.lowest_m3, 0.0),
        total_s=_total_s(people, best, litres, run, runs, continuous=continuous),
        advice=(),
    )


def _levers(circuit: Circuit, people: Crew, found: Pace) -> tuple[Caveat, ...]:
    """Say how long a burst could be with the flow timed and the reservoir filled to the brim."""
    if found.continuous or found.run_s >= WORTH_A_LEVER_S:
        return ()
    tank, pump = circuit.reservoir, circuit.pump
    better = circuit
    if pump.displacement_m3_rev is not None:
        timed = Uncertain(
            best=pump.efficiency.best,
            low=pump.efficiency.best * (1.0 - TIMED_SHARE),
            high=pump.efficiency.best * (1.0 + TIMED_SHARE),
        )
        known = exact(pump.displacement_m3_rev.best)
        better = replace(circuit, pump=replace(pump, efficiency=timed, displacement_m3_rev=known))
    quick = replace(
        people,
        react_s=exact(people.react_s.best),
        rundown_s=exact(people.rundown_s.best),
        start_rev_s=min(people.start_rev_s, exact(pump.idle_rev_s), key=lambda s: s.high),
    )
    could = _figures(better, quick, exact(tank.brim_m3.low), found.litres_m3).run_s
    if could <= found.run_s + 0.5:
        return ()
    return (
        Caveat(
            code="what-would-help",
            text=f"With the flow timed to {100.0 * TIMED_SHARE:.0f} %, a hand that is never later "
            "than was said, no flare at the start and the reservoir filled to just below its brim, "
            f"a run could last {could:.0f} s.",
        ),
    )


def _check_start(circuit: Circuit, start: Uncertain) -> None:
    """Refuse a start above the brim, or one that leaves nothing to draw."""
    tank = circuit.reservoir
    if start.best > tank.brim_m3.best or start.best <= tank.minimum_m3.best:
        raise OutOfRange(
            "start_l",
            f"{start.best * 1e3:.6g} l",
            f"above the minimum ({tank.minimum_m3.best * 1e3:.6g} l) and at most the brim "
            f"({tank.brim_m3.best * 1e3:.6g} l)",
            "fill the reservoir before the pump starts",
        )


def _pour(crew: Crew, *, sure: bool) -> Pour:
    """Return how containers follow each other, at best values or at the slow ends."""
    walk = crew.walk_s if crew.is_alone else exact(0.0)
    return Pour(
        container_m3=crew.container_m3,
        pour_m3_s=crew.pour_m3_s.low if sure else crew.pour_m3_s.best,
        change_s=crew.change_s.high if sure else crew.change_s.best,
        pourers=crew.pourers,
        first_s=walk.high if sure else walk.best,
    )


def _unpoured(start_m3: float, drawn: Draw, litres_m3: float) -> SawTooth:
    """Return the level of a reservoir that nobody pours into."""
    times = (0.0, *((drawn.flare_s,) if drawn.flare_s > 0.0 else ()), drawn.time_s(litres_m3))
    times = tuple(sorted({min(t, times[-1]) for t in times}))
    levels = tuple(start_m3 - drawn.drawn_m3(t) for t in times)
    return SawTooth(times_s=times, levels_m3=levels, poured_m3=(0.0,) * len(times), containers=0)


def _longest_run(
    worst: SawTooth, drawn: Draw, start_m3: float, minimum_m3: float, margin_s: float
) -> float:
    """Return until when the pump may be told to stop, so that the level stays above the minimum.

    Whoever calls "stop" at a time t still sees the pump draw until t + margin, and nobody pours any
    more. The room left then bends only where the saw-tooth or the flare does, so it is enough to
    look at the bends and to go back along the first straight piece that ends below.
    """
    end_s = worst.times_s[-1]

    def room(t: float) -> float:
        return start_m3 + worst.poured_at_m3(t) - drawn.drawn_m3(t + margin_s) - minimum_m3

    bends = set(worst.times_s)
    bends.add(min(max(drawn.flare_s - margin_s, 0.0), end_s))
    bends.add(min(drawn.flare_s, end_s))
    before = 0.0
    if room(0.0) < 0.0:
        return 0.0
    for bend in sorted(bends):
        if room(bend) < 0.0:
            low, high = before, bend
            for _ in range(_BISECTIONS):
                middle = 0.5 * (low + high)
                low, high = (low, middle) if room(middle) < 0.0 else (middle, high)
            return low
        before = bend
    return end_s


def _early_stop(
    worst: SawTooth, drawn: Draw, minimum_m3: float, run_s: float, margin_s: float
) -> float:
    """Return the stop level of a run that ends while the engine still flares; else nothing."""
    if run_s >= drawn.flare_s or run_s >= worst.times_s[-1]:
        return 0.0
    return minimum_m3 + drawn.drawn_m3(run_s + margin_s) - drawn.drawn_m3(run_s)


def _kept_by_95(circuit: Circuit, crew: Crew, start: Uncertain, out: Outflow) -> float:
    """Return the seconds to the minimum, without pouring, that 95 of 100 drawn machines exceed."""

    def of(number: Uncertain, name: str) -> Floats:
        return draw(number, name=name, seed=0, count=DRAWS)

    tank = circuit.reservoir
    drawn = Numbers(count=DRAWS, seed=0, is_best=False)
    share = of(diverted_share(circuit), "pace.diverted")
    held = circuit.pump.idle_flow_share
    if circuit.pump.kind is PumpKind.PRESSURE_HELD and held.best > 0.0:
        share = share * of(held, "pump.idle-flow")
    steady = pump_flow_m3_s(circuit, drawn) * share
    speed = of(crew.start_rev_s, "pace.start-speed")
    turn = pump_flow_m3_s(_without_limit(circuit), drawn, 1.0)
    flare = turn * speed * share
    if circuit.pump.hand_flow_m3_s is not None:
        flare = steady
    elif circuit.pump.limit_m3_s is not None:
        flare = np.minimum(flare, of(circuit.pump.limit_m3_s, "pump.limit") * share)
    flare_s = of(out.flare_s, "pace.start-time")
    same = start is tank.full_m3
    usable = of(start, "reservoir.full" if same else "pace.start") - of(
        tank.minimum_m3, "reservoir.minimum"
    )
    usable = np.maximum(usable, 0.0)
    in_flare = flare_s * flare
    with np.errstate(divide="ignore", invalid="ignore"):
        times = np.where(usable <= in_flare, usable / flare, flare_s + (usable - in_flare) / steady)
    return float(np.quantile(times, 0.05))


def _without_limit(circuit: Circuit) -> Circuit:
    """Return the circuit with a pump whose flow keeps rising with speed."""
    if circuit.pump.limit_m3_s is None:
        return circuit
    return replace(circuit, pump=replace(circuit.pump, limit_m3_s=None))


def _total_s(
    crew: Crew, drawn: Draw, litres_m3: float, run_s: float, runs: int, *, continuous: bool
) -> float:
    """Return about how long the litres take, pauses included, at best values."""
    if continuous or runs == 0:
        return drawn.time_s(litres_m3)
    containers = litres_m3 / crew.container_m3
    pouring = litres_m3 / crew.pour_m3_s.best + containers * crew.change_s.best
    pumping = runs * (run_s + crew.react_s.best + crew.rundown_s.best)
    walking = 2.0 * runs * crew.walk_s.best if crew.is_alone else 0.0
    return pumping + walking + (pouring if crew.is_alone else max(pouring - pumping, 0.0))
