"""Small circuits of our own for drawings: one for each thing that a drawing must carry."""

from __future__ import annotations

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Gas, HeldBy, Leg, Line, Node, Path, Pump, PumpKind, Reservoir
from ullage.circuit.uncertain import Uncertain, exact
from ullage.fluids.liquid import Liquid

FLUID = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0, class_="HV")


def litres(volume_l: float, spread: float = 0.0) -> Uncertain:
    """Return a volume given in litres, surely within a spread."""
    best = volume_l * 1e-3
    return Uncertain(best=best, low=best * (1.0 - spread), high=best * (1.0 + spread))


def line(name: str, volume_l: float = 0.2) -> Line:
    """Return a line known by its volume."""
    return Line(id=name, volume_m3=litres(volume_l, 0.2))


def node(name: str, volume_l: float = 0.3, *, element: bool = False) -> Node:
    """Return a node."""
    return Node(id=name, volume_m3=litres(volume_l, 0.1), element=element)


def leg(
    name: str,
    at: str = "valve-block",
    *,
    returns_to: str | None = None,
    group: str | None = None,
    stroke_l: float = 0.24,
    dead_l: float = 0.06,
    line_l: float = 0.16,
    bleed: bool = False,
    gas: bool = False,
    held_by: HeldBy = HeldBy.NOTHING,
    opposes: str | None = None,
) -> Leg:
    """Return a leg."""
    return Leg(
        id=name,
        at=at,
        returns_to=returns_to or at,
        group=group,
        line=Line(id=f"{name}.line", volume_m3=litres(line_l, 0.3), bore_m=exact(0.008)),
        stroke_m3=litres(stroke_l, 0.2),
        dead_m3=litres(dead_l, 0.4),
        bleed=bleed,
        gas=Gas(volume_m3=litres(0.35), precharge_pa=6.1e6, working_pa=1.21e7) if gas else None,
        held_by=held_by,
        opposes=opposes,
    )


def circuit(
    name: str,
    lines: tuple[Line, ...],
    nodes: tuple[Node, ...],
    paths: tuple[Path, ...],
    legs: tuple[Leg, ...] = (),
    pump: Pump | None = None,
) -> Circuit:
    """Return a circuit with a reservoir of three litres."""
    return Circuit(
        name=name,
        reservoir=Reservoir(
            full_m3=litres(3.2),
            minimum_m3=litres(1.1),
            brim_m3=litres(3.7),
            heel_m3=litres(0.2),
            start_m3=litres(3.0),
            area_m2=exact(0.021),
        ),
        pump=pump
        or Pump(displacement_m3_rev=exact(9.5e-6), efficiency=exact(0.92), idle_rev_s=12.5),
        fluid=FLUID,
        new_fluid=FLUID,
        lines=lines,
        nodes=nodes,
        paths=paths,
        legs=legs,
    )


def four_corners() -> Circuit:
    """Return four levelling legs on one valve block, a diverter in the return."""
    return circuit(
        "Four-corner parking leveller",
        (line("suction", 0.3), line("supply", 0.28), line("return", 0.35)),
        (node("pump-body", 0.15), node("valve-block", 0.4), node("filter", 0.35, element=True)),
        (
            Path(
                id="main",
                through=("suction", "pump-body", "supply", "valve-block", "return", "filter"),
                divert_after="return",
            ),
        ),
        (
            leg("front-left", group="front", bleed=True, held_by=HeldBy.PILOT),
            leg("front-right", group="front", bleed=True, held_by=HeldBy.PILOT),
            leg("rear-left", group="rear", line_l=0.3, gas=True, held_by=HeldBy.PILOT),
            leg("rear-right", group="rear", line_l=0.3, gas=True, held_by=HeldBy.CHECK),
        ),
    )


def steering() -> Circuit:
    """Return a double-acting actuator between two galleries of a four-way valve."""
    return circuit(
        "Rack steering",
        (line("suction", 0.1), line("pressure-hose", 0.12), line("return-hose", 0.2)),
        (node("steering-valve", 0.08), node("return-gallery", 0.05), node("cooler-loop", 0.1)),
        (
            Path(
                id="main",
                through=(
                    "suction",
                    "pressure-hose",
                    "steering-valve",
                    "return-gallery",
                    "cooler-loop",
                    "return-hose",
                ),
                divert_after="return-hose",
            ),
        ),
        (
            leg("rack-left", "steering-valve", returns_to="return-gallery", stroke_l=0.1),
            leg(
                "rack-right",
                "steering-valve",
                returns_to="return-gallery",
                stroke_l=0.1,
                opposes="rack-left",
            ),
        ),
    )


def loader() -> Circuit:
    """Return two double-acting pairs, an accumulator, and a cooler on a parallel path."""
    return circuit(
        "Compact loader",
        (
            line("suction", 0.6),
            line("supply", 0.5),
            line("cooler-feed", 0.2),
            line("cooler-back", 0.25),
            line("return", 0.7),
        ),
        (
            node("pump-body", 0.2),
            node("valve-pressure", 0.3),
            node("valve-return", 0.3),
            node("cooler", 0.9),
            node("filter", 0.8, element=True),
        ),
        (
            Path(
                id="work",
                through=(
                    "suction",
                    "pump-body",
                    "supply",
                    "valve-pressure",
                    "valve-return",
                    "return",
                    "filter",
                ),
                share=exact(0.7),
                divert_after="return",
            ),
            Path(
                id="cooling",
                through=(
                    "suction",
                    "pump-body",
                    "cooler-feed",
                    "cooler",
                    "cooler-back",
                    "return",
                    "filter",
                ),
                share=exact(0.3),
                divert_after="return",
                opens_above_k=333.15,
            ),
        ),
        (
            leg("lift-cap", "valve-pressure", returns_to="valve-return", group="lift"),
            leg("lift-rod", "valve-pressure", returns_to="valve-return", opposes="lift-cap"),
            leg("tilt-cap", "valve-pressure", returns_to="valve-return", group="tilt"),
            leg("tilt-rod", "valve-pressure", returns_to="valve-return", opposes="tilt-cap"),
            leg("ride", "valve-pressure", stroke_l=0.0, gas=True, held_by=HeldBy.CONTROLLER),
        ),
    )


def brakes() -> Circuit:
    """Return a hand pump on a dead end with four bleed points."""
    return circuit(
        "Wheel brakes",
        (line("feed", 0.02), line("front-pipe", 0.03), line("rear-pipe", 0.05)),
        (node("master-pump", 0.03), node("front-tee", 0.01), node("rear-tee", 0.01)),
        (
            Path(
                id="front",
                through=("feed", "master-pump", "front-pipe", "front-tee"),
                dead_end=True,
                share=exact(0.5),
            ),
            Path(
                id="rear",
                through=("feed", "master-pump", "rear-pipe", "rear-tee"),
                dead_end=True,
                share=exact(0.5),
            ),
        ),
        (
            leg("front-left", "front-tee", stroke_l=0.0, dead_l=0.02, line_l=0.01, bleed=True),
            leg("front-right", "front-tee", stroke_l=0.0, dead_l=0.02, line_l=0.02, bleed=True),
            leg("rear-left", "rear-tee", stroke_l=0.0, dead_l=0.015, line_l=0.03, bleed=True),
            leg("rear-right", "rear-tee", stroke_l=0.0, dead_l=0.015, line_l=0.03, bleed=True),
        ),
        Pump(kind=PumpKind.HAND, hand_flow_m3_s=exact(5e-6)),
    )


def gearbox() -> Circuit:
    """Return a circuit without legs and a path that by-passes everything."""
    return circuit(
        "Automatic gearbox",
        (line("pickup", 0.1), line("to-cooler", 0.2), line("from-cooler", 0.2)),
        (node("converter", 2.6), node("cooler", 0.4), node("body", 1.2)),
        (
            Path(id="lube", through=("pickup", "body", "converter"), share=exact(0.6)),
            Path(
                id="cooling",
                through=("pickup", "body", "to-cooler", "cooler", "from-cooler"),
                share=exact(0.3),
                divert_after="cooler",
                opens_above_k=348.15,
            ),
            Path(id="short", through=("pickup", "body"), share=exact(0.1)),
        ),
    )


ALL = (four_corners, steering, loader, brakes, gearbox)
