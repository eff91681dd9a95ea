"""The machines that tests of planning work on: built-in circuits, and one of round numbers."""

from __future__ import annotations

from functools import cache

from ullage.circuit.catalogue import circuit_template
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Node, Path, Pump, Reservoir
from ullage.circuit.uncertain import Uncertain, exact
from ullage.fluids.liquid import Liquid
from ullage.formats.circuit_file import parse_circuit

OIL = Liquid(nu40_m2_s=46e-6, nu100_m2_s=6.8e-6, rho15_kg_m3=875.0, class_="HM")


@cache
def built_in(name: str) -> Circuit:
    """Return a built-in circuit."""
    return parse_circuit(circuit_template(name).text, name)


def bench(
    *,
    full: Uncertain | float = 3e-3,
    minimum: Uncertain | float = 1e-3,
    per_rev: Uncertain | float = 10e-6,
    idle_rev_s: float = 10.0,
) -> Circuit:
    """Return a pump that takes 0.1 l/s at idle from three litres, one of which must stay."""

    def number(value: Uncertain | float) -> Uncertain:
        return value if isinstance(value, Uncertain) else exact(value)

    return Circuit(
        name="bench",
        reservoir=Reservoir(
            full_m3=number(full),
            minimum_m3=number(minimum),
            brim_m3=exact(4e-3),
            heel_m3=exact(1e-4),
            start_m3=number(full),
            area_m2=exact(0.02),
        ),
        pump=Pump(displacement_m3_rev=number(per_rev), idle_rev_s=idle_rev_s),
        fluid=OIL,
        new_fluid=OIL,
        nodes=(Node(id="block", volume_m3=exact(5e-4)),),
        paths=(Path(id="main", through=("block",), divert_after="block"),),
    )
