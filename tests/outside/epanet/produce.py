"""Let EPANET work out an open network, and write what it finds to ``expected.csv``.

Run ``python -m tests.outside.epanet.produce`` from the root of the repository; needs ``wntr``.

A litre of the circuit is a cubic metre of the network, so that EPANET's friction formulas stay in
their range; old shares depend on ratios of volumes alone. Flow control valves fix every flow, so
tanks keep their level.
"""

from __future__ import annotations

import csv
import math
import tempfile
import warnings
from pathlib import Path

HERE = Path(__file__).parent

# Litres of the circuit: two mixed vessels with plug lines around them; a line that divides in two.
LINES_L = {"first": 0.8, "second": 0.5, "last": 0.6}
NODES_L = {"block": 1.5, "cooler": 0.7}
BRANCH_L = {"left": 0.9, "right": 0.4}
LEFT_SHARE = 0.6
AT_L = (0.5, 1.0, 2.0, 3.0, 5.0)
"""Litres through at which both are asked."""

LITRE_S = 300
"""How long a litre takes: EPANET steps by a second, so the step is a 300th of a litre."""

QUALITY_STEP_S = 1
TOLERANCE_SHARE = 0.0005


def pipe_length_m(volume_m3: float, diameter_m: float) -> float:
    """Return the length that holds a volume."""
    return volume_m3 / (math.pi / 4.0 * diameter_m**2)


def solve() -> dict[tuple[str, str, float], float]:
    """Return the old share of every part at every moment, by network, part and litres through."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        found: dict[tuple[str, str, float], float] = {}
        for name in ("series", "branches"):
            network = wntr.network.WaterNetworkModel()
            (series if name == "series" else branches)(network)
            time = network.options.time
            time.duration = LITRE_S * int(max(AT_L) + 1)
            time.hydraulic_timestep = 60
            time.report_timestep = 10
            time.quality_timestep = QUALITY_STEP_S
            network.options.quality.parameter = "CHEMICAL"
            # Shares are written as 0 to 100 mg/L: EPANET keeps its figures in single precision.
            network.options.quality.tolerance = 100.0 * TOLERANCE_SHARE
            with tempfile.TemporaryDirectory() as folder:
                run = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=f"{folder}/run")
            for at in AT_L:
                quality = run.link["quality"]
                for part in (*LINES_L, *BRANCH_L):
                    # A line may lie on both sides of its valve, in halves.
                    halves = [p for p in (part, f"{part}-2") if p in quality.columns]
                    if halves:
                        mean = sum(float(quality[p][LITRE_S * at]) for p in halves) / len(halves)
                        found[name, part, at] = mean / 100.0
                for part in NODES_L:
                    if part in run.node["quality"].columns:
                        found[name, part, at] = (
                            float(run.node["quality"][part][LITRE_S * at]) / 100.0
                        )
        return found


def base(network: object) -> None:
    """Add the source of new fluid and the point where all of it leaves."""
    network.add_reservoir("new", base_head=200.0)  # type: ignore[attr-defined]
    network.get_node("new").initial_quality = 0.0  # type: ignore[attr-defined]
    network.add_junction("out", base_demand=1.0 / LITRE_S, elevation=0.0)  # type: ignore[attr-defined]
    network.get_node("out").initial_quality = 100.0  # type: ignore[attr-defined]


def junction(network: object, name: str) -> None:
    """Add a junction full of old fluid."""
    network.add_junction(name, base_demand=0.0, elevation=0.0)  # type: ignore[attr-defined]
    network.get_node(name).initial_quality = 100.0  # type: ignore[attr-defined]


def pipe(
    network: object, name: str, start: str, end: str, volume: float, diameter: float = 0.3
) -> None:
    """Add a pipe of a volume in m3."""
    network.add_pipe(  # type: ignore[attr-defined]
        name, start, end, length=pipe_length_m(volume, diameter), diameter=diameter, roughness=130
    )


def valve(network: object, name: str, start: str, end: str, flow_m3_s: float) -> None:
    """Add a valve that lets a fixed flow pass; it holds nothing."""
    network.add_valve(  # type: ignore[attr-defined]
        name, start, end, diameter=0.3, valve_type="FCV", initial_setting=flow_m3_s
    )


def tank(network: object, name: str, volume: float, elevation: float) -> None:
    """Add a fully mixed tank of a constant volume in m3, full of old fluid."""
    depth = 1.0
    network.add_tank(  # type: ignore[attr-defined]
        name,
        elevation=elevation,
        init_level=depth,
        min_level=0.0,
        max_level=2.0 * depth,
        diameter=math.sqrt(4.0 * volume / (math.pi * depth)),
    )
    network.get_node(name).initial_quality = 100.0  # type: ignore[attr-defined]
    network.get_node(name).mixing_model = "MIXED"  # type: ignore[attr-defined]


def valved(network: object, name: str, start: str, end: str, volume: float, flow: float) -> None:
    """Add a line in halves with a flow control valve between them (none may touch a tank)."""
    for side in ("a", "b"):
        junction(network, f"{name}-{side}")
    pipe(network, name, start, f"{name}-a", volume / 2.0)
    valve(network, f"{name}-valve", f"{name}-a", f"{name}-b", flow)
    pipe(network, f"{name}-2", f"{name}-b", end, volume / 2.0)


def series(network: object) -> None:
    """Build: line, mixed vessel, line, mixed vessel, line."""
    base(network)
    tank(network, "block", NODES_L["block"], elevation=120.0)
    tank(network, "cooler", NODES_L["cooler"], elevation=60.0)
    valved(network, "first", "new", "block", LINES_L["first"], 1.0 / LITRE_S)
    valved(network, "second", "block", "cooler", LINES_L["second"], 1.0 / LITRE_S)
    pipe(network, "last", "cooler", "out", LINES_L["last"])


def branches(network: object) -> None:
    """Build: line, two lines side by side, line."""
    base(network)
    for name in ("parting", "meeting"):
        junction(network, name)
    pipe(network, "first", "new", "parting", LINES_L["first"])
    valved(network, "left", "parting", "meeting", BRANCH_L["left"], LEFT_SHARE / LITRE_S)
    # Narrow, so that the other branch would take more than its valve lets pass.
    pipe(network, "right", "parting", "meeting", BRANCH_L["right"], diameter=0.05)
    pipe(network, "last", "meeting", "out", LINES_L["last"])


def main() -> None:
    """Write ``expected.csv``."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr
    with (HERE / "expected.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["network", "part", "through_l", "old_share", "produced_by"])
        for (name, part, at), share in solve().items():
            writer.writerow(
                [name, part, at, f"{share:.7f}", f"EPANET 2.2 in wntr {wntr.__version__}"]
            )


if __name__ == "__main__":
    main()
