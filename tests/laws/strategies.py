"""Random circuits and recipes that are valid: small, but with everything that a circuit may have.

Volumes are drawn in millilitres so that examples shrink to readable numbers. With ``spread`` every
volume is uncertain.
"""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Gas, Leg, Line, Node, Path, Pump, PumpKind, Reservoir
from ullage.circuit.uncertain import Uncertain, exact
from ullage.fluids.liquid import Liquid
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

ML = 1e-6
OIL = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0, class_="HV")


@dataclass(frozen=True)
class Job:
    """A circuit and a recipe that it can carry out."""

    circuit: Circuit
    recipe: Recipe


def volumes(low_ml: int, high_ml: int, *, spread: bool = False) -> SearchStrategy[Uncertain]:
    """Return volumes in whole millilitres, exact or uncertain by a quarter."""

    def number(ml: int) -> Uncertain:
        best = ml * ML
        return Uncertain(best=best, low=0.75 * best, high=1.25 * best) if spread else exact(best)

    return st.integers(low_ml, high_ml).map(number)


def shares(low: float, high: float) -> SearchStrategy[Uncertain]:
    """Return exact shares in whole percents."""
    return st.integers(round(100 * low), round(100 * high)).map(lambda pct: exact(pct / 100.0))


@st.composite
def lines(draw: DrawFn, name: str, *, low_ml: int = 60, spread: bool = False) -> Line:
    """Return a line, by volume alone (plug flow) or with a bore beside it."""
    has_bore = draw(st.booleans())
    return Line(
        id=name,
        volume_m3=draw(volumes(low_ml, 400, spread=spread)),
        bore_m=exact(draw(st.sampled_from([0.006, 0.01, 0.02]))) if has_bore else None,
        fittings=draw(st.integers(0, 2)),
    )


@st.composite
def legs(
    draw: DrawFn, name: str, at: str, returns_to: str, *, group: str, spread: bool = False
) -> Leg:
    """Return a leg; some have gas, some are plain accumulators."""
    has_gas = draw(st.booleans())
    stroke = draw(volumes(40, 300, spread=spread))
    if has_gas and draw(st.integers(0, 3)) == 0:
        stroke = exact(0.0)
    return Leg(
        id=name,
        at=at,
        returns_to=returns_to,
        group=group,
        line=draw(lines(f"{name}.line", low_ml=30, spread=spread)),
        stroke_m3=stroke,
        dead_m3=draw(volumes(5, 80, spread=spread)),
        start_share=draw(shares(0.0, 1.0)),
        stroke_use_share=draw(shares(0.2, 1.0)),
        bleed=True,
        gas=Gas(
            volume_m3=draw(volumes(50, 300, spread=spread)),
            precharge_pa=60e5,
            working_pa=draw(st.sampled_from([90e5, 120e5, 180e5])),
        )
        if has_gas
        else None,
    )


def _paired(one: Leg, other: Leg, stroke: Uncertain) -> tuple[Leg, Leg]:
    """Return two legs as the sides of one double-acting actuator, each with a stroke."""
    from dataclasses import replace

    return (
        replace(one, opposes=other.id, stroke_m3=stroke),
        replace(
            other,
            stroke_m3=stroke.scaled(0.75),
            start_share=exact(round(1.0 - one.start_share.best, 2)),
            group=one.group,
        ),
    )


@st.composite
def circuits(
    draw: DrawFn,
    *,
    spread: bool = False,
    max_legs: int = 3,
    can_spill: bool = False,
    can_return: bool = True,
) -> Circuit:
    """Return a circuit with one to three paths, up to ``max_legs`` legs, pairs, gas, thermostats.

    Without ``can_spill`` the brim is high enough for all that legs can give back; without
    ``can_return`` every path has a diverter behind its last part.
    """
    head: list[Line | Node] = [draw(lines("suction", spread=spread))]
    if draw(st.booleans()):
        head.append(Node(id="pump-body", volume_m3=draw(volumes(40, 300, spread=spread))))
    main: list[Line | Node] = [
        draw(lines("supply", spread=spread)),
        Node(id="block", volume_m3=draw(volumes(60, 500, spread=spread))),
    ]
    if draw(st.booleans()):
        main.append(draw(lines("bridge", spread=spread)))
        main.append(Node(id="gallery", volume_m3=draw(volumes(40, 300, spread=spread))))
    main.append(draw(lines("return", spread=spread)))
    tail: list[Line | Node] = []
    if draw(st.booleans()):
        tail.append(
            Node(id="filter", volume_m3=draw(volumes(80, 500, spread=spread)), element=True)
        )
        tail.append(draw(lines("last-hose", spread=spread)))
    side: list[Line | Node] = []
    if draw(st.booleans()):
        side = [
            draw(lines("to-cooler", spread=spread)),
            Node(id="cooler", volume_m3=draw(volumes(60, 500, spread=spread))),
        ]

    def ids(parts: list[Line | Node]) -> tuple[str, ...]:
        return tuple(part.id for part in parts)

    last = ids([*head, *main, *tail])[-1]
    divert = last if not can_return or not tail or draw(st.booleans()) else "return"
    side_share = draw(st.integers(10, 60)) / 100.0 if side else 0.0
    paths = [
        Path(
            id="main",
            through=ids([*head, *main, *tail]),
            share=exact(1.0 - side_share),
            divert_after=divert,
            drains_m3_s=exact(draw(st.integers(0, 200)) * ML / 60.0),
        )
    ]
    if side:
        # The side path joins before the tail, or comes back by itself.
        joins = bool(tail) and draw(st.booleans())
        through = ids([*head, *side, *(tail if joins else [])])
        side_diverts = not can_return or (joins and divert == last) or draw(st.booleans())
        paths.append(
            Path(
                id="side",
                through=through,
                share=exact(side_share),
                divert_after=(through[-1] if joins and divert == last else "cooler")
                if side_diverts
                else None,
                opens_above_k=draw(st.sampled_from([None, 310.0, 350.0])),
            )
        )
    feeding = [part.id for part in main if isinstance(part, Node)]
    made: list[Leg] = []
    for i in range(draw(st.integers(0, max_legs))):
        at = draw(st.sampled_from(feeding))
        returns_to = draw(st.sampled_from(feeding[feeding.index(at) :]))
        group = draw(st.sampled_from(["front", "rear"]))
        made.append(draw(legs(f"leg-{i}", at, returns_to, group=group, spread=spread)))
    if len(made) >= 2 and draw(st.booleans()):
        made[:2] = _paired(made[0], made[1], draw(volumes(40, 300, spread=spread)))
    gives_back = sum(
        leg.stroke_m3.high + (leg.gas.volume_m3.high if leg.gas is not None else 0.0)
        for leg in made
    )
    full_ml = draw(st.integers(900, 3000))
    start = draw(volumes(full_ml - 300, full_ml))
    parts = [*head, *main, *tail, *side]
    return Circuit(
        name="drawn",
        reservoir=Reservoir(
            full_m3=exact(full_ml * ML),
            minimum_m3=exact(0.2 * full_ml * ML),
            brim_m3=exact(full_ml * ML + (50 * ML if can_spill else gives_back + 1e-9)),
            heel_m3=exact(draw(st.integers(0, 10)) / 100.0 * full_ml * ML),
            start_m3=start,
            dead_share=draw(st.sampled_from([exact(0.0), exact(0.1), exact(0.3)])),
            bypass_share=draw(st.sampled_from([exact(0.0), exact(0.15), exact(0.4)])),
        ),
        pump=draw(pumps()),
        fluid=OIL,
        new_fluid=OIL,
        lines=tuple(part for part in parts if isinstance(part, Line)),
        nodes=tuple(part for part in parts if isinstance(part, Node)),
        paths=tuple(paths),
        legs=tuple(made),
    )


@st.composite
def pumps(draw: DrawFn) -> Pump:
    """Return a pump that turns all the time or holds a pressure."""
    kind = draw(st.sampled_from([PumpKind.FIXED, PumpKind.FIXED, PumpKind.PRESSURE_HELD]))
    return Pump(
        kind=kind,
        displacement_m3_rev=exact(draw(st.integers(4, 14)) * ML),
        efficiency=exact(0.9),
        idle_rev_s=12.5,
        idle_flow_share=draw(shares(0.1, 1.0)) if kind is PumpKind.PRESSURE_HELD else exact(1.0),
    )


@st.composite
def exercises(draw: DrawFn, circuit: Circuit) -> Exercise:
    """Return none, some or all groups to move."""
    groups = sorted({leg.group for leg in circuit.legs if leg.group is not None})
    chosen = draw(st.lists(st.sampled_from(groups), unique=True)) if groups else []
    return Exercise(
        groups=tuple(chosen),
        cycles=draw(st.sampled_from([None, None, 1, 2])),
        together=draw(st.booleans()),
        period_s=float(draw(st.integers(3, 12))),
    )


@st.composite
def steps(draw: DrawFn, circuit: Circuit, *, kinds: tuple[type[Step], ...]) -> Step:
    """Return one step of the kinds that the circuit can carry out."""
    names = tuple(leg.id for leg in circuit.legs)
    possible = [k for k in kinds if names or k not in (Retract, Extend, Release, Charge, Bleed)]
    kind = draw(st.sampled_from(possible))
    some = tuple(draw(st.lists(st.sampled_from(names), unique=True))) if names else ()
    full = circuit.reservoir.full_m3.best
    match kind.do:
        case "draw-off":
            return DrawOff(leave_m3=draw(st.sampled_from([None, 0.3 * full, 0.6 * full])))
        case "fill":
            return Fill(to_m3=draw(st.sampled_from([None, full, 0.8 * full])))
        case "exchange":
            return Exchange(
                litres_m3=draw(st.integers(100, 4000)) * ML, exercise=draw(exercises(circuit))
            )
        case "circulate":
            return Circulate(
                duration_s=float(draw(st.integers(2, 60))), exercise=draw(exercises(circuit))
            )
        case "retract":
            return Retract(legs=some)
        case "extend":
            return Extend(legs=some)
        case "release":
            return Release(legs=some, supported=draw(st.booleans()))
        case "charge":
            return Charge(legs=some)
        case "bleed":
            return Bleed(
                leg=draw(st.sampled_from(names)), litres_m3=draw(st.integers(20, 800)) * ML
            )
        case "swap-filter":
            return SwapFilter(prefilled=draw(st.booleans()))
        case _:
            return Stand(duration_s=float(draw(st.integers(10, 300))))


EVERY_KIND: tuple[type[Step], ...] = (
    DrawOff,
    Fill,
    Exchange,
    Circulate,
    Retract,
    Extend,
    Release,
    Charge,
    Bleed,
    SwapFilter,
    Stand,
)
CLOSED: tuple[type[Step], ...] = (Circulate, Retract, Extend, Release, Charge)
"""Kinds that neither pour nor let out."""


@st.composite
def recipes(
    draw: DrawFn,
    circuit: Circuit,
    *,
    kinds: tuple[type[Step], ...] = EVERY_KIND,
    most: int = 6,
) -> Recipe:
    """Return a recipe of one to ``most`` steps."""
    some = draw(st.lists(steps(circuit, kinds=kinds), min_size=1, max_size=most))
    return Recipe(
        name="drawn",
        steps=tuple(some),
        temperature_k=draw(st.sampled_from([300.0, 333.15, 360.0])),
    )


@st.composite
def jobs(
    draw: DrawFn,
    *,
    kinds: tuple[type[Step], ...] = EVERY_KIND,
    spread: bool = False,
    can_spill: bool = False,
    can_return: bool = True,
    max_legs: int = 3,
    most: int = 6,
) -> Job:
    """Return a circuit with a recipe for it."""
    circuit = draw(
        circuits(spread=spread, can_spill=can_spill, can_return=can_return, max_legs=max_legs)
    )
    return Job(circuit, draw(recipes(circuit, kinds=kinds, most=most)))
