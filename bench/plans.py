"""How long does a plan take, and what does it find beside a coarse grid of recipes?

``python -m bench.plans`` plans every built-in circuit for every target, each in a process of its
own, as ``ullage plan`` does it: the time is that of the process, from its start to its end. Goal:
5 s on two cores. Beside it stands trying every recipe of the coarse grid that the tests hold plans
against. The grid is told how many containers the plan takes, which it would have to find out by
going through all numbers; "hold" is how many of its recipes reach the target with so many.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.laws.test_planning import MACHINES, grid, holds
from ullage.circuit.catalogue import circuit_templates
from ullage.formats.circuit_file import parse_circuit
from ullage.planning.goal import Goal
from ullage.transport.solve import Solver

TARGETS_PCT = (40, 30, 20, 10, 5)
GOAL_S = 5.0


@dataclass(frozen=True)
class Planned:
    """A plan, and the seconds that its process took."""

    seconds: float
    containers: int
    reached: bool


def planned(circuit: Path, target_pct: int) -> Planned:
    """Return a plan made as a person makes it."""
    words = [sys.executable, "-m", "ullage", "plan", str(circuit), "--target-pct", str(target_pct)]
    began = time.perf_counter()
    ended = subprocess.run([*words, "--json"], capture_output=True, check=True)
    seconds = time.perf_counter() - began
    plan: dict[str, Any] = json.loads(ended.stdout)
    return Planned(seconds, int(plan["containers"]), bool(plan["reached"]))


def tried(text: str, name: str, target_pct: int, containers: int) -> tuple[float, int, int]:
    """Return how long the whole grid takes, how many recipes it has, and how many of them hold."""
    circuit, goal = parse_circuit(text, name), Goal(target_share=target_pct / 100.0)
    few, many = Solver(circuit), Solver(circuit)
    began = time.perf_counter()
    found = [
        holds(circuit, goal, recipe, containers, few=few, many=many)
        for recipe in grid(circuit, goal, containers)
    ]
    return time.perf_counter() - began, len(found), sum(found)


def main() -> None:
    """Print a line for each circuit and target."""
    load = os.getloadavg()
    print(f"{os.cpu_count()} cores, load {load[0]:.2f} {load[1]:.2f} {load[2]:.2f}")
    head = f"{'circuit':<18}{'target':>8}{'containers':>12}{'took':>9}{'goal':>7}{'ratio':>8}"
    print(f"{head}{'grid took':>12}{'ratio':>8}{'recipes':>9}{'hold':>6}")
    texts = {template.name: template.text for template in circuit_templates()}
    slowest = 0.0
    with tempfile.TemporaryDirectory() as name:
        for machine in MACHINES:
            file = Path(name) / f"{machine}.circuit.toml"
            file.write_text(texts[machine], encoding="utf-8")
            for target in TARGETS_PCT:
                plan = planned(file, target)
                slowest = max(slowest, plan.seconds)
                mark = " " if plan.reached else "!"
                row = (
                    f"{machine:<18}{target:>6} %{plan.containers:>11}{mark}"
                    f"{plan.seconds:>7.2f} s{GOAL_S:>5.0f} s{GOAL_S / plan.seconds:>7.1f}x"
                )
                if plan.reached:
                    took, recipes, hold = tried(texts[machine], machine, target, plan.containers)
                    row += f"{took:>10.1f} s{took / plan.seconds:>7.1f}x{recipes:>9}{hold:>6}"
                print(row, flush=True)
    met = "met" if slowest <= GOAL_S else "MISSED"
    print(f"! not reached: what comes nearest.  Slowest {slowest:.2f} s: goal {met}")


if __name__ == "__main__":
    main()
