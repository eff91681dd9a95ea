"""What can no amount of new fluid move with the steps at hand, and what would?

Found by pouring on: the plan's own recipe with its last exchange three contents longer. Parts that
still hold most of their old fluid then are the floor. Why each of them holds on follows from how it
is joined.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy
from ullage.circuit.sanity import Renewal, sanity
from ullage.errors import NotConverged
from ullage.planning.goal import Goal
from ullage.transport.recipe import Bleed, Exchange, Recipe, Step
from ullage.transport.result import Run
from ullage.transport.solve import Solver

#: Draws that the floor is told from.
FLOOR_MEMBERS = 300
# Contents poured on.
_MORE = 3.0
# A part counts when its old fluid is at least this share of the whole content ...
_COUNTS_FROM = 0.002
# ... and pouring on left at least this much of what it held.
_HELD_ON = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorPart:
    """A part that holds on: the share of the whole content that is old fluid in it, and why."""

    part: str
    share: float
    why: str
    moved_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """Where pouring ends: the remainder that the wanted share of machines comes down to, and the
    parts that hold it.
    """

    share: float
    parts: tuple[FloorPart, ...]

    @property
    def why(self) -> str:
        """Return the reasons in one sentence each, every reason once."""
        return "; ".join(dict.fromkeys(part.why for part in self.parts))

    @property
    def moved_by(self) -> tuple[str, ...]:
        """Return what would move it, every way once."""
        return tuple(dict.fromkeys(part.moved_by for part in self.parts if part.moved_by))


def poured_on(recipe: Recipe, more_m3: float, *, and_idle_m3: float = 0.0) -> Recipe:
    """Return a recipe whose last exchange is longer, or whose bleeds share the rest.

    Parameters
    ----------
    recipe : Recipe
        What is done.
    more_m3 : scalar
        How much more goes to waste. [m3]
    and_idle_m3 : scalar
        And how much after the last exchange, nothing being moved. [m3]

    Returns
    -------
    longer : Recipe
        The same steps otherwise.

    Source
    ------
    Arithmetic.
    """
    steps: list[Step] = list(recipe.steps)
    takers = [i for i, s in enumerate(steps) if isinstance(s, Exchange)][-1:]
    takers = takers or [i for i, s in enumerate(steps) if isinstance(s, Bleed)]
    for i in takers:
        step = steps[i]
        if isinstance(step, Exchange | Bleed):
            steps[i] = replace(step, litres_m3=step.litres_m3 + more_m3 / len(takers))
    if and_idle_m3 > 0.0 and takers and isinstance(steps[takers[-1]], Exchange):
        steps.insert(takers[-1] + 1, Exchange(litres_m3=and_idle_m3))
    return replace(recipe, steps=tuple(steps))


def floor_of(
    circuit: Circuit, goal: Goal, recipe: Recipe, run: Run, *, solver: Solver, seed: int
) -> Floor:
    """Return what a plan cannot move however much is poured."""
    content = np.sum([part.fluid_m3 for part in run.parts.values()], axis=0)
    longer = poured_on(recipe, _MORE * float(np.median(content)))
    try:
        far = solver.run(longer, members=FLOOR_MEMBERS, seed=seed, bracket=False)
    except NotConverged:
        # Actuators that take all of the flow are what the solver may fail on; at idle none does.
        idle = poured_on(recipe, 0.0, and_idle_m3=_MORE * float(np.median(content)))
        far = solver.run(idle, members=FLOOR_MEMBERS, seed=seed, bracket=False)
    whole = np.sum([part.fluid_m3 for part in far.parts.values()], axis=0)
    found: list[FloorPart] = []
    for name, part in far.parts.items():
        after = float(np.mean(part.old_m3 / whole))
        before = float(np.mean(run.parts[name].old_m3 / content))
        if after >= _COUNTS_FROM and after >= _HELD_ON * before:
            why, moved_by = _reason(circuit, goal, name)
            found.append(FloorPart(part=name, share=after, why=why, moved_by=moved_by))
    found.sort(key=lambda one: -one.share)
    return Floor(share=float(np.quantile(far.remaining_share, goal.sure_share)), parts=tuple(found))


def _reason(circuit: Circuit, goal: Goal, name: str) -> tuple[str, str]:
    """Return why a part holds on to its old fluid, and what would move it."""
    if name == "reservoir":
        return (
            "a corner of the reservoir that hardly mixes, and the rest that cannot be drawn off",
            "reach the reservoir's last rest: a thinner hose at its lowest corner, or wipe it out",
        )
    leg_id = name.rsplit(".", 1)[0]
    leg = circuit.leg_by_id.get(leg_id)
    if leg is None:
        return _on_path(circuit, name)
    if leg.held_by is HeldBy.CONTROLLER:
        return (
            f"{leg_id} is held by a controller, and nobody moves it",
            f"let its own controller move {leg_id} on a drive, then look at the fluid again",
        )
    renewal = next(reach.renewal for reach in sanity(circuit).reaches if reach.leg == leg_id)
    how = _moved_by(circuit, goal, leg_id)
    if renewal is Renewal.SHUTTLES:
        return f"the line of {leg_id} holds more than its stroke moves", how
    if renewal is Renewal.MAY_SHUTTLE:
        return f"the line of {leg_id} may hold more than its stroke moves", how
    if renewal in (Renewal.BLEED_ONLY, Renewal.GAS_ONLY):
        return f"{leg_id} has no stroke that would change its fluid", how
    return f"what enters {leg_id} mixes with what stays in it, so each time renews only a part", how


def _moved_by(circuit: Circuit, goal: Goal, leg_id: str) -> str:
    """Return what would move the fluid of a leg."""
    leg = circuit.leg_by_id[leg_id]
    ways: list[str] = []
    if leg.bleed:
        ways.append(f"bleed {leg_id}" if "bleed" in goal.without else f"bleed {leg_id} for longer")
    else:
        ways.append("open its line at the end")
    if leg.stroke_m3.best > 0.0:
        used = leg.stroke_use_share.best < 0.98
        if used:
            ways.append("use all of its stroke")
    return f"{leg_id}: {' or '.join(ways)}".replace(f"{leg_id}: bleed {leg_id}", f"bleed {leg_id}")


def _on_path(circuit: Circuit, name: str) -> tuple[str, str]:
    """Return why a part of the loop holds on."""
    for path in circuit.paths:
        if path.divert_after is None or name not in path.through:
            continue
        if path.through.index(name) > path.through.index(path.divert_after):
            return (
                f"{name} lies behind the diverter, where nothing flows in an exchange",
                f"circulate after the exchange, or divert behind {name}",
            )
    return (
        f"{name} washes out slowly: flow along its walls hardly moves",
        f"open {name} and let it drain, or pump faster through it",
    )


def reasons_of(floor: Floor) -> Iterator[str]:
    """Go through the parts of a floor, each in a sentence."""
    for part in floor.parts:
        yield f"{named(part.part)} keeps {part.share * 100:.1f} points of old fluid: {part.why}"


def named(part: str) -> str:
    """Say the name of a part as people do: the chamber of a leg, the line of a leg."""
    leg, _, piece = part.rpartition(".")
    return f"the {piece} of {leg}" if leg else part
