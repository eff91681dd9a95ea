"""Compiles the kernel once, so that no person ever waits for it: ``python -m
ullage.transport.warm``.
"""

from __future__ import annotations

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Leg, Line, Node, Path, Pump, Reservoir
from ullage.circuit.uncertain import exact
from ullage.fluids.liquid import Liquid
from ullage.transport.recipe import Exchange, Exercise, Recipe
from ullage.transport.solve import simulate


def main() -> None:
    """Make the machine code, and run a small recipe on a small circuit with it."""
    fluid = Liquid(nu40_m2_s=32e-6, nu100_m2_s=5.4e-6, rho15_kg_m3=870.0, class_="HM")
    litre = exact(1e-3)
    circuit = Circuit(
        name="smallest circuit with everything moving",
        reservoir=Reservoir(
            full_m3=litre,
            minimum_m3=exact(3e-4),
            brim_m3=exact(2e-3),
            heel_m3=exact(1e-4),
            start_m3=litre,
            area_m2=exact(0.01),
        ),
        pump=Pump(displacement_m3_rev=exact(8e-6), idle_rev_s=12.0),
        fluid=fluid,
        new_fluid=fluid,
        lines=(Line(id="supply", volume_m3=exact(2e-4)),),
        nodes=(Node(id="block", volume_m3=exact(1e-4)),),
        paths=(Path(id="main", through=("supply", "block"), divert_after="block"),),
        legs=(
            Leg(
                id="leg",
                at="block",
                returns_to="block",
                line=Line(id="leg.line", volume_m3=exact(1e-4)),
                stroke_m3=exact(2e-4),
                dead_m3=exact(5e-5),
            ),
        ),
    )
    recipe = Recipe(
        name="warm",
        steps=(Exchange(litres_m3=2e-3, exercise=Exercise(groups=("leg",), period_s=5.0)),),
    )
    simulate(circuit, recipe)


if __name__ == "__main__":
    main()
