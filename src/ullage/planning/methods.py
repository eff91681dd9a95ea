"""What would the usual methods need here? Recipe files of the package, filled in and judged.

Each file in ``data`` is a recipe with stand-ins for what only a circuit has: its groups, its bleed
points, and the litres or rounds that reach the target. They are run by the same solver as any
recipe, so ``simulate`` gives the same figures for what stands in the answer.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.errors import NotConverged
from ullage.planning.candidates import (
    CLOSED_CYCLES,
    Possible,
    groups_of,
    leg_content_m3,
    period_s,
)
from ullage.planning.goal import Goal
from ullage.planning.rehearsal import Outcome, Rehearsal
from ullage.planning.score import Score, score
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Fill,
    Recipe,
    Release,
    Retract,
    Step,
    SwapFilter,
    TopUp,
)
from ullage.transport.refusals import refusals
from ullage.transport.solve import Solver

#: Draws that a method is judged on.
METHOD_MEMBERS = 400
#: How many there are.
USUAL = 7
#: Rounds of drain and refill that are tried at most.
MOST_ROUNDS = 6
_ENDING = ".recipe.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """A usual method for a circuit: the recipe that reaches the target, or comes nearest.

    ``recipe`` and ``score`` are None where the circuit cannot do it; ``why_not`` says why."""

    name: str
    recipe: Recipe | None
    score: Score | None
    reached: bool
    members: int
    seed: int
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pattern:
    """A file of the package: its name and its steps as tables."""

    key: str
    name: str
    rows: tuple[dict[str, object], ...]

    @property
    def in_rounds(self) -> bool:
        """Tell whether it repeats rounds instead of pouring more in one go."""
        return not any(row["do"] in ("exchange", "bleed") for row in self.rows)


@cache
def patterns() -> tuple[_Pattern, ...]:
    """Return the usual methods, in the order in which they are listed."""
    folder = resources.files("ullage.planning") / "data"
    found: list[_Pattern] = []
    for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if item.name.endswith(_ENDING):
            raw = tomllib.loads(item.read_text(encoding="utf-8"))
            key = item.name.removesuffix(_ENDING)
            found.append(_Pattern(key=key, name=str(raw["name"]), rows=tuple(raw["step"])))
    return tuple(found)


def usual_methods(
    circuit: Circuit, goal: Goal, *, rehearsal: Rehearsal, solver: Solver, seed: int
) -> Iterator[Method]:
    """Go through the usual methods, each with what it needs to reach the goal."""
    for pattern in patterns():
        yield _judged(circuit, goal, pattern, rehearsal=rehearsal, solver=solver, seed=seed)


def _judged(
    circuit: Circuit,
    goal: Goal,
    pattern: _Pattern,
    *,
    rehearsal: Rehearsal,
    solver: Solver,
    seed: int,
) -> Method:
    """Find what one method needs, and judge it on draws of its own."""
    why_not = _why_not(circuit, goal, rehearsal.can, pattern)
    one = _recipe(circuit, rehearsal.can, pattern, amount=1.0 if pattern.in_rounds else 1e-3)
    if not why_not:
        faults = refusals(circuit, one)
        why_not = faults[0].sentence() if faults else ""
    if why_not:
        return _left_out(pattern, seed, why_not)
    amount, is_near = (
        _rounds(circuit, goal, pattern, rehearsal)
        if pattern.in_rounds
        else _litres(circuit, goal, pattern, rehearsal)
    )
    step = 1.0 if pattern.in_rounds else goal.container_m3 / rehearsal.to_shelf
    for turn in range(3):
        recipe = _recipe(circuit, rehearsal.can, pattern, amount=amount)
        rehearsal.waiting.ask()
        try:
            run = solver.run(recipe, members=METHOD_MEMBERS, seed=seed, bracket=False)
        except NotConverged:
            return _left_out(pattern, seed, "its books stay open, a defect of the program")
        made = score(circuit, goal, recipe, run)
        if made.held_share >= goal.sure_share or not is_near or turn == 2:
            break
        amount += step
    reached = made.held_share >= goal.sure_share and made.allowed
    return Method(
        name=pattern.name,
        recipe=recipe,
        score=made,
        reached=reached and made.containers <= rehearsal.most,
        members=METHOD_MEMBERS,
        seed=seed,
        why_not="" if made.allowed else "the level leaves its bounds on the way",
    )


def _left_out(pattern: _Pattern, seed: int, why_not: str) -> Method:
    """Return a method of which there are no figures, with the reason."""
    return Method(
        name=pattern.name,
        recipe=None,
        score=None,
        reached=False,
        members=METHOD_MEMBERS,
        seed=seed,
        why_not=why_not,
    )


def _why_not(circuit: Circuit, goal: Goal, can: Possible, pattern: _Pattern) -> str:
    """Say why a circuit cannot do a method, or that it was ruled out; empty where it can."""
    words = {str(row["do"]) for row in pattern.rows}
    exercised = any(row.get("exercise") for row in pattern.rows)
    ruled_out = words & goal.without | ({"exercise"} & goal.without if exercised else set())
    if ruled_out - {"swap-filter"}:
        return f"ruled out: {', '.join(sorted(ruled_out))}"
    if exercised and "exchange" in words and goal.people < 2:
        return "one person cannot pour, mind the switch and move actuators"
    if exercised and "exchange" in words and not groups_of(circuit):
        return "nothing here can be exercised"
    if "circulate" in words and all(path.dead_end for path in circuit.paths):
        return "nothing can be circulated here: no path leads back to the reservoir"
    if "exchange" in words and "bleed" not in words and not can.ways:
        return "nothing can be exchanged here: no path leads to a diverter"
    if "bleed" in words and not can.bleeds:
        return "no bleed point"
    if "release" in words and not any(leg.gas for leg in circuit.legs):
        return "no gas volumes"
    if "retract" in words:
        if not groups_of(circuit):
            return "no actuators to lower"
        if circuit.reservoir.mark is not State.RETRACTED:
            return "the mark is read with the actuators up, and no step brings them back to it"
    return ""


def _recipe(circuit: Circuit, can: Possible, pattern: _Pattern, *, amount: float) -> Recipe:
    """Fill a pattern in: ``amount`` is litres through the diverter [m3], or rounds."""
    steps: list[Step] = []
    rows = [row for row in pattern.rows if row["do"] != "swap-filter" or can.has_element]
    only_bleeds = not can.ways
    for row in rows:
        steps += _steps(circuit, can.bleeds, row, amount, only_bleeds=only_bleeds)
    if pattern.in_rounds:
        tail = 2 if isinstance(steps[-2], DrawOff) else 1
        swap: list[Step] = [SwapFilter()] if can.has_element else []
        steps = [*(steps[:-tail] * int(amount)), *swap, *steps[-tail:]]
    work = can.work_m3
    exercised = any(isinstance(s, Exchange | Circulate) and s.exercise.groups for s in steps)
    if exercised and work < circuit.reservoir.full_m3.best - 1e-9:
        to = math.floor(work / 5e-5) * 5e-5
        steps = [Fill(to_m3=to) if type(s) is Fill else s for s in steps]
    return Recipe(name=pattern.name, steps=tuple(steps), temperature_k=can.temperature_k)


def _steps(
    circuit: Circuit,
    bleeds: tuple[str, ...],
    row: dict[str, object],
    amount: float,
    *,
    only_bleeds: bool,
) -> list[Step]:
    """Return the steps that one row of a pattern stands for."""
    groups = groups_of(circuit)
    names = tuple(groups)
    exercise = Exercise()
    if row.get("exercise") and names:
        exercise = Exercise(
            groups=names, period_s=max(period_s(circuit, legs) for legs in groups.values())
        )
    match row["do"]:
        case "draw-off":
            return [DrawOff()]
        case "fill":
            return [Fill()]
        case "exchange":
            if only_bleeds:
                return []
            return [Exchange(litres_m3=_hundredth(amount), exercise=exercise)]
        case "circulate":
            lasts = exercise.period_s * CLOSED_CYCLES * len(names) if exercise.groups else 180.0
            return [Circulate(duration_s=lasts, exercise=exercise)]
        case "bleed":
            per = float(str(row["litres"]))
            total = sum(leg_content_m3(circuit, leg) for leg in bleeds)
            grow = amount / total if only_bleeds and total else per
            return [
                Bleed(leg=leg, litres_m3=_hundredth(grow * leg_content_m3(circuit, leg)))
                for leg in bleeds
            ]
        case "swap-filter":
            return [SwapFilter()]
        case "release":
            return [Release(supported=True)]
        case "charge":
            return [Fill(), Charge()]
        case "retract":
            return [Retract()]
        case _:
            return [TopUp()]


def _hundredth(volume_m3: float) -> float:
    """Return a volume to 0.01 L, at least that."""
    return max(round(volume_m3 / 1e-5) * 1e-5, 1e-5)


def _litres(
    circuit: Circuit, goal: Goal, pattern: _Pattern, rehearsal: Rehearsal
) -> tuple[float, bool]:
    """Return about how much must go through the diverter, and whether that does it at all [m3].

    The longest exchange tells, litre by litre, what would have been enough; what is bled or taken
    with the filter afterwards shifts that, so it is closed in on from both sides. Then as much as
    the containers needed anyway hold.
    """
    high, low = MOST_SEARCHED * rehearsal.content_m3, 0.0

    def tried(amount_m3: float) -> Outcome:
        recipe = _recipe(circuit, rehearsal.can, pattern, amount=amount_m3)
        first = [i for i, s in enumerate(recipe.steps) if isinstance(s, Exchange)]
        if first:
            rehearsal.pause(recipe.steps, first)
        return rehearsal.whole(recipe.steps)

    best = tried(high)
    if best.held_share < goal.sure_share:
        return rehearsal.content_m3, False
    enough = rehearsal.enough_m3(best.state, best.state.old_m3)
    middle = 0.5 * high if enough is None else enough
    missed = 1.0
    for _ in range(MOST_CLOSED_IN):
        middle = min(max(middle, low + 0.02 * (high - low)), high - 0.02 * (high - low))
        now = tried(middle)
        if now.state.stopped:
            return rehearsal.content_m3, False
        if now.held_share >= goal.sure_share:
            high, best = middle, now
        else:
            low, missed = middle, now.at_sure
        if high - low < CLOSE_ENOUGH * rehearsal.content_m3:
            break
        # Remainders fall about as powers do: straight lines through their logarithms.
        fall = math.log(missed / max(best.at_sure, 1e-9))
        part = math.log(missed / goal.target_share) / fall if fall > 0.0 else 0.5
        middle = low + (high - low) * min(max(part + 0.02, 0.05), 0.95)
    room = goal.supply_m3(goal.containers_for(best.shelf_m3)) - best.shelf_m3
    return high + math.floor(0.9 * room / rehearsal.to_shelf / 1e-5) * 1e-5, True


#: Contents poured at most while a method is tried.
MOST_SEARCHED = 3.0
#: How often litres are closed in on at most, and how closely, in contents.
MOST_CLOSED_IN, CLOSE_ENOUGH = 5, 0.047


def _rounds(
    circuit: Circuit, goal: Goal, pattern: _Pattern, rehearsal: Rehearsal
) -> tuple[float, bool]:
    """Return how many rounds reach the target, and whether any number does."""
    last = 1.0
    begun: tuple[Step, ...] = ()
    for count in range(1, MOST_ROUNDS + 1):
        one = _recipe(circuit, rehearsal.can, pattern, amount=1.0)
        tail = next(i for i, s in enumerate(one.steps) if isinstance(s, SwapFilter | TopUp))
        if not isinstance(one.steps[tail], SwapFilter) and isinstance(one.steps[-2], DrawOff):
            tail -= 1
        begun = (*begun, *one.steps[:tail])
        whole = (*begun, *one.steps[tail:])
        rehearsal.pause(whole, (len(begun),))
        end = rehearsal.whole(whole)
        if end.held_share >= goal.sure_share:
            return float(count), True
        if last - end.at_sure < 0.002:
            return float(count), False
        last = end.at_sure
    return float(MOST_ROUNDS), False
