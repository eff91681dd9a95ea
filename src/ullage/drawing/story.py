"""What does a run tell, in two sentences?

The first sets what the eye sees at the outflow beside what is still inside; the second says what
keeps the rest there and what would move it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg
from ullage.circuit.volumes import Numbers, line_volume_m3
from ullage.drawing.figures import listed, litres, middle, percent, poured
from ullage.drawing.moment import Moment, moment_of
from ullage.transport.recipe import (
    Bleed,
    Circulate,
    Exchange,
    Extend,
    Recipe,
    Release,
    Retract,
)
from ullage.transport.result import Run

# A place holds enough to be named as the reason from this share of the old fluid on.
_MOST = 0.5
_NEARLY_ALL = 0.8
_NEARLY_FRESH = 0.15
_NOTHING_LEFT = 0.005


def old_in_legs_share(circuit: Circuit, run: Run) -> float:
    """Return which share of the old fluid inside sits in the legs, 0 where none is left."""
    legs = _old_m3(run, [part for leg in circuit.legs for part in parts_of(leg)])
    total = _old_m3(run, list(run.parts))
    return legs / total if total > 0.0 else 0.0


def parts_of(leg: Leg) -> tuple[str, str]:
    """Return the names of the two parts of a leg."""
    return (f"{leg.id}.line", f"{leg.id}.chamber")


def _old_m3(run: Run, parts: list[str]) -> float:
    """Return the old fluid in some parts together, the middle over members."""
    if not parts:
        return 0.0
    return middle(np.sum([run.parts[part].old_m3 for part in parts], axis=0))


def story(
    circuit: Circuit, recipe: Recipe, run: Run, *, at_moment: Run | None = None
) -> tuple[str, str]:
    """Return what the outflow hides, and what limits the answer.

    ``at_moment`` is the run of the recipe cut at the run's moment (``moment.recipe_until``);
    without it, the first sentence tells of the end of the recipe instead."""
    return (
        _contrast(circuit, run, moment_of(run), at_moment),
        _limit(circuit, recipe, run),
    )


def _contrast(circuit: Circuit, run: Run, moment: Moment | None, at_moment: Run | None) -> str:
    """Return the sentence that sets the outflow beside the inside."""
    if moment is None or at_moment is None:
        total = sum(middle(step.poured_m3) for step in run.steps)
        return f"After {poured(total)} poured, {_inside(circuit, run)}."
    share = moment.outflow_old_share
    if share < _NEARLY_FRESH:
        looks = f"the outflow looks {percent(1.0 - share)} fresh"
    elif share < _MOST:
        looks = f"the outflow looks only {percent(1.0 - share)} fresh"
    else:
        looks = f"the outflow is still {percent(share)} old"
    joint = "while" if share < _MOST else "and"
    return (
        f"After {poured(moment.poured_m3)} poured, {looks} {joint} {_inside(circuit, at_moment)}."
    )


def _inside(circuit: Circuit, run: Run) -> str:
    """Return how much old fluid is inside, and how much of it in the legs."""
    remaining = middle(run.remaining_share)
    said = f"{percent(remaining)} of the fluid inside is still old"
    if not circuit.legs or remaining < _NOTHING_LEFT:
        return said
    return f"{said}, {percent(old_in_legs_share(circuit, run))} of that in the legs"


def _limit(circuit: Circuit, recipe: Recipe, run: Run) -> str:
    """Return the sentence that says what keeps the rest inside."""
    total = _old_m3(run, list(run.parts))
    if middle(run.remaining_share) < _NOTHING_LEFT:
        return "Hardly anything is left: no part holds back old fluid."
    if run.stop is not None:
        return f"It ended early, in step {run.stop.step}: {run.stop.why.rstrip('.')}."
    still = [part for part in _behind_diverters(circuit) if part in run.parts]
    if still and _old_m3(run, still) > _MOST * total and _has_exchange(recipe):
        return (
            f"Most of it stands still behind the diverter, in {listed(still)}: swap or run it "
            "through before the machine goes back to work."
        )
    in_legs = old_in_legs_share(circuit, run)
    only_drains = not _has_exchange(recipe) and not any(
        isinstance(step, Bleed) for step in recipe.steps
    )
    if in_legs > (_NEARLY_ALL if only_drains else _MOST):
        return _legs_limit(circuit, recipe, run)
    if only_drains:
        return (
            f"A drain takes no more than the reservoir holds, "
            f"{litres(circuit.reservoir.full_m3.best)} of {litres(_fluid_m3(run))}; what is left "
            "in the loop only mixes with the new."
        )
    return "Most of it is on its way through the loop: more litres would carry it out."


def _fluid_m3(run: Run) -> float:
    """Return all fluid inside."""
    return middle(np.sum([part.fluid_m3 for part in run.parts.values()], axis=0))


def _has_exchange(recipe: Recipe) -> bool:
    """Tell whether anything went through a diverter."""
    return any(isinstance(step, Exchange) for step in recipe.steps)


def _behind_diverters(circuit: Circuit) -> list[str]:
    """Return the parts that stand still in an exchange: behind a diverter on all of their paths."""
    moving: set[str] = set()
    behind: dict[str, None] = {}
    for path in circuit.paths:
        place = len(path.through)
        if path.divert_after is not None:
            place = path.through.index(path.divert_after) + 1
        moving.update(path.through[:place])
        behind.update(dict.fromkeys(path.through[place:]))
    return [part for part in behind if part not in moving]


def _legs_limit(circuit: Circuit, recipe: Recipe, run: Run) -> str:
    """Return the reason that keeps most of the old fluid in the legs."""
    moved, bled = _moved(circuit, recipe)
    reasons: dict[Callable[[str, bool], str], list[Leg]] = {}
    for leg in circuit.legs:
        if leg.id not in bled:
            reasons.setdefault(_reason(leg, moved), []).append(leg)
    if not reasons:
        return (
            "Bleeding sent to waste what stood in the legs; the rest came from the way to them: "
            "the next litres find it cleaner."
        )

    def held(legs: list[Leg]) -> float:
        return _old_m3(run, [part for leg in legs for part in parts_of(leg)])

    reason, legs = max(reasons.items(), key=lambda pair: held(pair[1]))
    can_bleed = all(leg.bleed for leg in legs)
    return reason(listed([leg.id for leg in legs]), can_bleed)


def _moved(circuit: Circuit, recipe: Recipe) -> tuple[set[str], set[str]]:
    """Return the legs that a recipe moves, and those that it bleeds."""
    named: set[str] = set()
    bled: set[str] = set()
    everyone = {leg.id for leg in circuit.legs if leg.held_by is not HeldBy.CONTROLLER}
    for step in recipe.steps:
        if isinstance(step, Exchange | Circulate):
            named.update(step.exercise.groups)
        elif isinstance(step, Retract | Extend | Release):
            named.update(step.legs or everyone)
        elif isinstance(step, Bleed):
            bled.add(step.leg)
    moved = {leg.id for name in named for leg in circuit.legs_named(name)}
    moved |= {circuit.partner[leg] for leg in moved if leg in circuit.partner}
    return moved, bled


def _reason(leg: Leg, moved: set[str]) -> Callable[[str, bool], str]:
    """Return why old fluid stays in a leg, as a sentence about several legs."""
    stroke = leg.stroke_m3.best * leg.stroke_use_share.best
    if leg.held_by is HeldBy.CONTROLLER:
        return _no_person
    if leg.stroke_m3.best <= 0.0:
        return _never_moves
    if leg.id not in moved:
        return _not_moved
    if stroke <= float(line_volume_m3(leg.line, Numbers())[0]):
        return _shuttles
    return _little_by_little


def _bleed_words(can_bleed: bool) -> str:
    """Return how the fluid could be moved all the same."""
    return "only bleeding moves it" if can_bleed else "no pouring moves it"


def _no_person(legs: str, can_bleed: bool) -> str:
    """Return the sentence about legs that only a controller moves."""
    return f"Only the controller moves {legs}: that is a floor, and {_bleed_words(can_bleed)}."


def _never_moves(legs: str, can_bleed: bool) -> str:
    """Return the sentence about dead ends."""
    return f"Nothing ever moves in {legs}: {_bleed_words(can_bleed)}."


def _not_moved(legs: str, can_bleed: bool) -> str:
    """Return the sentence about legs that nobody exercised."""
    return f"Nothing moved {legs}: more litres change little, exercising would change it."


def _shuttles(legs: str, can_bleed: bool) -> str:
    """Return the sentence about legs whose stroke holds no more than their line."""
    return (
        f"A stroke of {legs} holds no more than its line, so the old fluid mostly goes to and fro; "
        f"{_bleed_words(can_bleed)}."
    )


def _little_by_little(legs: str, can_bleed: bool) -> str:
    """Return the sentence about legs that give up their fluid stroke by stroke."""
    return (
        f"Each stroke of {legs} renews only what it holds more than its line: more cycles help, "
        "more litres without them do not."
    )
