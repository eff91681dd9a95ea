"""What has to be at hand before the first step: fluid, filter, small parts, tools, waste cans.

Waste cans hold everything that comes out and a tenth more. What a job needs follows from its
recipe; what one always needs stands in ``data/around.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Node
from ullage.planning.goal import Goal
from ullage.planning.has import concerning, features
from ullage.planning.score import Score
from ullage.transport.recipe import Bleed, Recipe, SwapFilter

#: Room in the waste cans over what comes out; common practice, no source.
WASTE_ROOM = 1.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing to have: its kind (buy, tool, protect), how many, and what for."""

    kind: str
    what: str
    count: int
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waste:
    """What comes out, and what the cans must hold; ``family`` decides what it may stand with."""

    comes_out_m3: float
    cans_hold_m3: float
    family: str
    label: str


def shopping(circuit: Circuit, goal: Goal, recipe: Recipe, score: Score) -> tuple[Item, ...]:
    """Return the list of what to have at hand."""
    has = features(circuit, recipe)
    litres = goal.container_m3 * 1e3
    poured = score.shelf_m3 * 1e3
    items = [
        Item(
            kind="buy",
            what=f"container of new fluid, {litres:g} L, class {circuit.new_fluid.class_}, "
            f"{circuit.new_fluid.nu40_m2_s * 1e6:g} mm2/s at 40 degC",
            count=score.containers,
            why=f"{poured:.1f} L go in, {goal.reserve_m3 * 1e3:g} L stay for topping up",
        )
    ]
    elements = [node for node in circuit.nodes if node.element]
    if elements and any(isinstance(step, SwapFilter) for step in recipe.steps):
        items += [
            Item(kind="buy", what=f"filter element for {node.id}", count=1, why=_rating(node))
            for node in elements
        ]
        items.append(
            Item(
                kind="buy",
                what="sealing ring of the filter housing",
                count=len(elements),
                why="never used twice",
            )
        )
    points = {step.leg for step in recipe.steps if isinstance(step, Bleed)}
    if points:
        items.append(
            Item(kind="buy", what="cap for a bleed point", count=len(points), why="lost ones leak")
        )
    if "exchange" in has:
        items.append(Item(kind="buy", what="sealing ring or clip of the return hose", count=1))
    for kind in ("tool", "protect"):
        items += [
            Item(kind=kind, what=str(row["text"]), count=1)
            for row in concerning("around", kind, has)
        ]
    return tuple(items)


def _rating(node: Node) -> str:
    """Say how the present element is rated."""
    if node.beta_um is None or node.beta is None:
        return "as the present one; its papers give no tested rating"
    return f"as the present one: tested ratio {node.beta:g} at {node.beta_um:g} um(c)"


def waste_of(circuit: Circuit, score: Score) -> Waste:
    """Return what comes out and which cans it needs."""
    family = circuit.fluid.family
    return Waste(
        comes_out_m3=score.waste_m3,
        cans_hold_m3=score.waste_m3 * WASTE_ROOM,
        family=family,
        label=f"used fluid, {family}, class {circuit.fluid.class_}; keep apart from other families",
    )
