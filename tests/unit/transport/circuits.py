"""Small circuits whose answers can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Gas, Leg, Line, Node, Path, Pump, PumpKind, Reservoir
from ullage.circuit.uncertain import Uncertain, exact
from ullage.fluids.liquid import Liquid

LITRE = 1e-3

OIL = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0, class_="HV")


def litres(volume: float) -> Uncertain:
    """Return an exact volume given in litres."""
    return exact(volume * LITRE)


def leg(name: str, *, stroke_l: float = 0.2, line_l: float = 0.1, gas_l: float = 0.0) -> Leg:
    """Return a leg at ``block``; ``gas_l`` is the oil that its gas volume holds when charged."""
    gas = Gas(volume_m3=litres(2.0 * gas_l), precharge_pa=5e6, working_pa=1e7) if gas_l else None
    return Leg(
        id=name,
        group=name.partition("-")[0],
        at="block",
        returns_to="block",
        line=Line(id=f"{name}.line", volume_m3=litres(line_l)),
        stroke_m3=litres(stroke_l),
        dead_m3=litres(0.05),
        start_share=exact(0.5),
        bleed=True,
        gas=gas,
    )


def machine(*legs: Leg, start_l: float = 2.0, element: bool = False) -> Circuit:
    """Return a reservoir of 2 L, a line, a node ``block`` and a return; 6 L/min at idle."""
    return Circuit(
        name="small machine",
        reservoir=Reservoir(
            full_m3=litres(2.0),
            minimum_m3=litres(0.8),
            brim_m3=litres(2.3),
            heel_m3=litres(0.1),
            start_m3=litres(start_l),
            area_m2=exact(0.02),
        ),
        pump=Pump(displacement_m3_rev=exact(1e-5), idle_rev_s=10.0),
        fluid=OIL,
        new_fluid=OIL,
        lines=(
            Line(id="supply", volume_m3=litres(0.2)),
            Line(id="return", volume_m3=litres(0.2)),
        ),
        nodes=(Node(id="block", volume_m3=litres(0.1), element=element),),
        paths=(Path(id="main", through=("supply", "block", "return"), divert_after="return"),),
        legs=legs,
    )


def pressure_held(circuit: Circuit, idle_share: float) -> Circuit:
    """Return the circuit with a pump that circulates a share of its flow without demand."""
    pump = replace(circuit.pump, kind=PumpKind.PRESSURE_HELD, idle_flow_share=exact(idle_share))
    return replace(circuit, pump=pump)
