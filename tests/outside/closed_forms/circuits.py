"""Small circuits from plain numbers in litres, for checks where the answer is known.

The pump gives one litre a minute unless told otherwise: minutes and litres through are one number.
"""

from __future__ import annotations

from collections.abc import Sequence

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Gas, Leg, Line, Node, Path, Pump, Reservoir
from ullage.circuit.uncertain import exact
from ullage.fluids.liquid import Liquid
from ullage.transport.recipe import DrawOff, Fill, Recipe, Step

LITRE = 1e-3
OIL = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0, class_="HV")


def reservoir(
    full_l: float,
    *,
    start_l: float | None = None,
    brim_l: float | None = None,
    dead_share: float = 0.0,
    bypass_share: float = 0.0,
) -> Reservoir:
    """Return a reservoir that can be emptied to the last drop."""
    return Reservoir(
        full_m3=exact(full_l * LITRE),
        minimum_m3=exact(0.0),
        brim_m3=exact((full_l if brim_l is None else brim_l) * LITRE),
        heel_m3=exact(0.0),
        start_m3=exact((full_l if start_l is None else start_l) * LITRE),
        dead_share=exact(dead_share),
        bypass_share=exact(bypass_share),
    )


def pump(flow_l_min: float = 1.0) -> Pump:
    """Return a pump that turns once a second at idle."""
    return Pump(displacement_m3_rev=exact(flow_l_min * LITRE / 60.0), idle_rev_s=1.0)


def line(name: str, volume_l: float, *, fittings: int = 0) -> Line:
    """Return a line of a volume."""
    return Line(id=name, volume_m3=exact(volume_l * LITRE), fittings=fittings)


def node(name: str, volume_l: float, *, element: bool = False) -> Node:
    """Return a mixed part of a volume."""
    return Node(id=name, volume_m3=exact(volume_l * LITRE), element=element)


def leg(
    name: str,
    at: str,
    *,
    line_l: float,
    stroke_l: float,
    dead_l: float,
    start_share: float = 0.0,
    returns_to: str | None = None,
    opposes: str | None = None,
    group: str | None = None,
    gas_oil_l: float = 0.0,
    fittings: int = 0,
    stroke_use_share: float = 1.0,
) -> Leg:
    """Return a leg; ``gas_oil_l`` is the oil behind its gas volume when charged."""
    gas = None
    if gas_oil_l:
        gas = Gas(volume_m3=exact(2.0 * gas_oil_l * LITRE), precharge_pa=60e5, working_pa=120e5)
    return Leg(
        id=name,
        at=at,
        returns_to=at if returns_to is None else returns_to,
        line=line(f"{name}.line", line_l, fittings=fittings),
        stroke_m3=exact(stroke_l * LITRE),
        dead_m3=exact(dead_l * LITRE),
        start_share=exact(start_share),
        stroke_use_share=exact(stroke_use_share),
        bleed=True,
        gas=gas,
        opposes=opposes,
        group=group,
    )


def circuit(
    parts: Sequence[Line | Node],
    vessel: Reservoir,
    *,
    divert_after: str | None = "last",
    paths: Sequence[Path] = (),
    legs: Sequence[Leg] = (),
    flow_l_min: float = 1.0,
) -> Circuit:
    """Return a circuit; without ``paths`` the parts stand on one, diverted behind the last."""
    through = tuple(part.id for part in parts)
    if not paths:
        where = through[-1] if divert_after == "last" else divert_after
        paths = (Path(id="main", through=through, divert_after=where),)
    return Circuit(
        name="small",
        reservoir=vessel,
        pump=pump(flow_l_min),
        fluid=OIL,
        new_fluid=OIL,
        lines=tuple(part for part in parts if isinstance(part, Line)),
        nodes=tuple(part for part in parts if isinstance(part, Node)),
        paths=tuple(paths),
        legs=tuple(legs),
    )


def recipe(*steps: Step) -> Recipe:
    """Return a recipe of steps."""
    return Recipe(name="small", steps=steps)


RENEWED = (DrawOff(leave_m3=0.0), Fill())
"""The reservoir is emptied and filled with new fluid; the rest of the circuit stays as it was."""
