"""What does a pace mean for the people at the machine? Sentences, the gravest first.

Only words are made here; every figure in them comes from ``pace``.
"""

from __future__ import annotations

from collections.abc import Iterator

from ullage.circuit.network import Circuit
from ullage.circuit.parts import PumpKind
from ullage.circuit.uncertain import Uncertain
from ullage.planning.crew import Crew
from ullage.planning.surface import has_heights, height_m
from ullage.units.caveat import Caveat

# A flow known no better than this is worth a stop-watch: share of the best value to either side.
_WORTH_TIMING = 0.06


def advice_on_pace(
    circuit: Circuit,
    crew: Crew,
    *,
    start: Uncertain,
    continuous: bool,
    run_s: float,
    runs: int,
    stop_level_m3: float,
    open_containers: int,
    pour_m3_s: float | None,
    draw_m3_s: Uncertain,
    lowest_m3: float,
    highest_m3: float,
) -> tuple[Caveat, ...]:
    """Return what to do and what to beware of, in the order of a careful person's talk."""
    return (
        *_how_to_run(circuit, crew, start, continuous, run_s, runs, stop_level_m3),
        *_containers(crew, open_containers, pour_m3_s, continuous),
        *_levels(circuit, start, continuous, lowest_m3, highest_m3),
        *_knowledge(circuit, draw_m3_s),
    )


def _how_to_run(
    circuit: Circuit,
    crew: Crew,
    start: Uncertain,
    continuous: bool,
    run_s: float,
    runs: int,
    stop_level_m3: float,
) -> Iterator[Caveat]:
    """Say whether to run through or in bursts, and when to call stop."""
    if run_s <= 0.0:
        yield Caveat(
            code="do-not-start",
            text=f"Do not start the pump from {start.low * 1e3:.2f} L: until it really stands "
            f"still again it may fall below the minimum; at least {stop_level_m3 * 1e3:.2f} L must "
            "be there. Fill higher, start slower or measure what is only guessed.",
        )
        return
    if continuous:
        yield Caveat(
            code="run-through",
            text="Pouring keeps up with the pump: run through, and pause pouring when the level is "
            "back where it began.",
        )
    elif crew.is_alone:
        yield Caveat(
            code="bursts-alone",
            text=f"Alone: stay at the switch and count. Run {_seconds(run_s)} at most, switch off, "
            f"walk back, fill up again, about {runs} times over. Never pour while the pump runs "
            "and nobody is at the switch.",
        )
    else:
        yield Caveat(
            code="bursts",
            text=f"Pouring does not keep up with the pump: run {_seconds(run_s)} at most while "
            f"pouring, stop, fill up again, about {runs} times over.",
        )
    yield Caveat(
        code="stop-level",
        text=f'Call "stop" when {stop_level_m3 * 1e3:.2f} L are left'
        f"{_in_mm(circuit, start, stop_level_m3)}: hand and pump take the rest "
        "before they are still.",
    )
    if crew.is_alone and continuous:
        yield Caveat(
            code="alone-walk",
            text="Alone: the stop level leaves time for the walk to the switch; keep the way free.",
        )
    if not crew.is_alone and circuit.pump.kind is not PumpKind.HAND:
        yield Caveat(
            code="pour-first",
            text="Tip the first container before the engine starts; at a start it flares and draws "
            "more than at idle.",
        )
    if circuit.pump.duty_s is not None:
        rest = circuit.pump.rest_s or 0.0
        yield Caveat(
            code="duty",
            text=f"The power pack may run {circuit.pump.duty_s:.0f} s and then rests "
            f"{rest:.0f} s, whatever the level allows.",
        )


def _in_mm(circuit: Circuit, start: Uncertain, level_m3: float) -> str:
    """Return how far below the start a level stands, where heights are known."""
    tank = circuit.reservoir
    if not has_heights(tank):
        return ""
    fall = height_m(tank, start.best) - height_m(tank, level_m3)
    return f" ({fall * 1e3:.0f} mm below where it began)" if fall > 0.0 else ""


def _seconds(time_s: float) -> str:
    """Return a time as somebody counts it: whole seconds, never rounded up."""
    return f"{int(time_s)} s" if time_s >= 2.0 else f"{time_s:.1f} s"


def _containers(
    crew: Crew, open_containers: int, pour_m3_s: float | None, continuous: bool
) -> Iterator[Caveat]:
    """Say how many stand open, and which rate would keep up."""
    many = "one container" if open_containers == 1 else f"{open_containers} containers"
    yield Caveat(
        code="open-containers",
        text=f"Have {many} at hand with loose caps before the pump starts, numbered; the empties "
        "are the count.",
    )
    if continuous or crew.is_alone:
        return
    if pour_m3_s is None:
        yield Caveat(
            code="no-rate-keeps-up",
            text="No pouring rate keeps up: the pump empties a container sooner than the next one "
            "is fetched. Pour from larger containers, or let one more person take turns.",
        )
    else:
        yield Caveat(
            code="rate-that-keeps-up",
            text=f"A container would have to empty at {pour_m3_s * 60e3:.1f} L/min or faster to "
            "keep up on average; a wide funnel and a vented container help.",
        )


def _levels(
    circuit: Circuit, start: Uncertain, continuous: bool, lowest_m3: float, highest_m3: float
) -> Iterator[Caveat]:
    """Say what becomes of the level when people just go on."""
    tank = circuit.reservoir
    if not continuous and lowest_m3 < tank.minimum_m3.best:
        yield Caveat(
            code="would-starve",
            text=f"Running on without a stop would take the level to {lowest_m3 * 1e3:.2f} L, "
            f"below the minimum of {tank.minimum_m3.best * 1e3:.2f} L: the pump would draw air.",
        )
    if highest_m3 > tank.brim_m3.low:
        yield Caveat(
            code="would-overflow",
            text="Pouring on without a pause would fill the reservoir over its brim: hold the "
            f"stream when the level is back at {start.best * 1e3:.2f} L.",
        )


def _knowledge(circuit: Circuit, draw_m3_s: Uncertain) -> Iterator[Caveat]:
    """Say what to measure, and where the sure ends come from."""
    wide = max(draw_m3_s.high - draw_m3_s.best, draw_m3_s.best - draw_m3_s.low)
    if wide > _WORTH_TIMING * draw_m3_s.best:
        yield Caveat(
            code="time-the-flow",
            text=f"The flow may lie anywhere from {draw_m3_s.low * 60e3:.1f} to "
            f"{draw_m3_s.high * 60e3:.1f} L/min: time the first litre at the diverter with a "
            "stop-watch and every figure here gets kinder.",
        )
    if not any(path.divert_after for path in circuit.paths):
        yield Caveat(
            code="nothing-diverted",
            text="No path of the circuit has a diverter: the figures hold for fluid that leaves "
            "the circuit, by a return hose taken off or at a bleed point.",
        )
    yield Caveat(
        code="usual-spreads",
        text="Habits given as one number bear the ends that are usual around it (common practice, "
        "no source); times taken with a stop-watch may be given as low,best,high.",
    )
