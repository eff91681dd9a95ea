"""What the washout bench runs on: a circuit, a recipe, and the machines that an ensemble draws.

The reference that says how far off each answer is comes from the second solver of
``tests/outside/segments`` at two step sizes, extrapolated. It is slow, so it is kept in
``reference.csv`` with a fingerprint of the machines it was made for; ``python -m bench.washout
--reference`` makes it again.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.outside.segments.solver import extrapolated
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Line
from ullage.circuit.uncertain import exact
from ullage.formats.circuit_file import read_circuit
from ullage.formats.recipe_file import read_recipe
from ullage.transport.recipe import Circulate, Exchange, Recipe
from ullage.transport.structure import CLASSES, draw_classes
from ullage.transport.values import values_of

HERE = Path(__file__).parent
REFERENCE = HERE / "reference.csv"
DRAWS = 200
SEED = 0
REGIMES = ("plug", "laminar")
STEP_M3 = 2e-5
ALLOWED_ERROR = 1e-3


def machine() -> Circuit:
    """Return the circuit that is timed."""
    return read_circuit(HERE / "four-corner.circuit.toml")


def work() -> Recipe:
    """Return the recipe that is timed."""
    return read_recipe(HERE / "four-corner.recipe.toml")


@dataclass(frozen=True)
class Member:
    """One machine of an ensemble, with the recipe as it goes on this machine."""

    circuit: Circuit
    recipe: Recipe


def members(circuit: Circuit, recipe: Recipe) -> Iterator[Member]:
    """Yield the first machines that an ensemble draws, each as a circuit of exact numbers.

    Members share the litres of every phase, not the clock: a weaker pump takes longer.
    """
    values = values_of(circuit, members=DRAWS, seed=SEED)
    classes = draw_classes(seed=SEED, count=DRAWS)
    order = list(circuit.flow_order)
    fastest = float(values.pump_m3_rev[0])
    for i in range(1, DRAWS + 1):
        more = CLASSES[classes[i - 1]][1].more_fittings

        def line_of(line: Line, volume_m3: float, more: int = more) -> Line:
            return replace(line, volume_m3=exact(volume_m3), fittings=line.fittings + more)

        full = float(values.full_m3[i])
        slower = fastest / float(values.pump_m3_rev[i])
        yield Member(
            replace(
                circuit,
                reservoir=replace(
                    circuit.reservoir,
                    full_m3=exact(full),
                    minimum_m3=exact(float(values.minimum_m3[i])),
                    brim_m3=exact(float(values.brim_m3[i])),
                    heel_m3=exact(float(values.heel_m3[i])),
                    start_m3=exact(float(values.start_m3[i])),
                    dead_share=exact(float(values.dead_m3[i]) / full),
                    bypass_share=exact(float(values.bypass_share[i])),
                ),
                pump=replace(
                    circuit.pump,
                    displacement_m3_rev=exact(float(values.pump_m3_rev[i])),
                    efficiency=exact(1.0),
                    speed_ratio=1.0,
                ),
                lines=tuple(
                    line_of(line, float(values.parts_m3[order.index(line.id), i]))
                    for line in circuit.lines
                ),
                nodes=tuple(
                    replace(node, volume_m3=exact(float(values.parts_m3[order.index(node.id), i])))
                    for node in circuit.nodes
                ),
                legs=tuple(
                    replace(
                        leg,
                        line=line_of(leg.line, float(values.leg_line_m3[n, i])),
                        stroke_m3=exact(float(values.leg_stroke_m3[n, i])),
                        dead_m3=exact(float(values.leg_dead_m3[n, i])),
                        start_share=exact(float(values.leg_start_share[n, i])),
                        stroke_use_share=exact(float(values.leg_use_share[n, i])),
                    )
                    for n, leg in enumerate(circuit.legs)
                ),
            ),
            replace(recipe, steps=tuple(_slowed(step, slower) for step in recipe.steps)),
        )


def _slowed(step: object, slower: float) -> Exchange | Circulate:
    """Return a step that takes the same litres at a smaller flow."""
    if not isinstance(step, Exchange | Circulate):
        raise TypeError("the bench recipe holds exchanges and circulations alone")
    exercise = replace(step.exercise, period_s=step.exercise.period_s * slower)
    if isinstance(step, Exchange):
        return replace(step, exercise=exercise)
    return replace(step, exercise=exercise, duration_s=step.duration_s * slower)


def fingerprint() -> str:
    """Return what the reference depends on: every number of every machine, and the recipe."""
    drawn = [repr(member) for member in members(machine(), work())]
    return hashlib.sha256("".join(drawn).encode()).hexdigest()[:16]


def make_reference() -> Iterator[tuple[str, int]]:
    """Work the reference out and store it; yield what is done."""
    lines: list[tuple[str, int, float, float]] = []
    for regime in REGIMES:
        for i, member in enumerate(members(machine(), work())):
            found = extrapolated(member.circuit, member.recipe, regime=regime, step_m3=STEP_M3)
            lines.append((regime, i, found.remaining_share, found.gap))
            yield regime, i
    with REFERENCE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["regime", "member", "remaining_share", "gap", "fingerprint"])
        mark = fingerprint()
        for regime, i, share, gap in lines:
            writer.writerow([regime, i, f"{share:.9f}", f"{gap:.2e}", mark])


@dataclass(frozen=True)
class Reference:
    """The remaining share of every member, and how far apart two step sizes were."""

    share: np.ndarray
    gap: float


def reference(regime: str) -> Reference:
    """Return the stored reference of a regime; refuse one that was made for other machines."""
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        lines = list(csv.DictReader(file))
    if {line["fingerprint"] for line in lines} != {fingerprint()}:
        raise SystemExit(
            "bench/reference.csv was made for other machines: run "
            "`python -m bench.washout --reference` (some minutes) and look at what changed"
        )
    mine = [line for line in lines if line["regime"] == regime]
    return Reference(
        np.array([float(line["remaining_share"]) for line in mine]),
        max(abs(float(line["gap"])) for line in mine),
    )
