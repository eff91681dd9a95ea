"""Writes a plan as a table, ready for JSON: litres, per cent, minutes, with reasons and sheet."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ullage.formats.judged_json import (
    due_to_json,
    filter_to_json,
    fluid_to_json,
    heat_to_json,
    level_to_json,
)
from ullage.formats.pace_json import pace_to_json
from ullage.formats.recipe_file import recipe_to_json
from ullage.planning.costs import read_prices
from ullage.planning.floor import Floor
from ullage.planning.measure_first import Measure
from ullage.planning.methods import Method
from ullage.planning.plan import Plan
from ullage.planning.sheet import Line
from ullage.planning.shopping import Item, Waste
from ullage.transport.result import StepResult
from ullage.units.caveat import Caveat

FORMAT = "ullage-plan/1"
_LITRE, _PERCENT, _MINUTE_S = 1e3, 1e2, 60.0


def plan_to_json(plan: Plan) -> dict[str, object]:
    """Return a plan as files.md's table; figures are those that ``simulate`` gives."""
    made = plan.score
    return {
        "format": FORMAT,
        "circuit": plan.name,
        "target_pct": _number(plan.goal.target_share * _PERCENT),
        "sure_pct": _number(plan.goal.sure_share * _PERCENT),
        "seed": plan.seed,
        "members": plan.members,
        "reached": plan.reached,
        "containers": made.containers,
        "container_l": _number(plan.goal.container_m3 * _LITRE),
        "litres": _number(plan.bought_m3 * _LITRE),
        "poured_l": _number(made.shelf_m3 * _LITRE),
        "reserve_l": _number(plan.goal.reserve_m3 * _LITRE),
        "left_over_l": _number(plan.left_over_m3 * _LITRE),
        "held_pct": _number(made.held_share * _PERCENT),
        "unsafe_pct": _number(made.unsafe_share * _PERCENT),
        "tries": [
            {
                "seed": one.seed,
                "containers": one.containers,
                "held_pct": _number(one.held_share * _PERCENT),
                "held": one.held,
            }
            for one in plan.tries
        ],
        "recipe": recipe_to_json(plan.recipe),
        "expected": {
            "p05": _number(made.p05 * _PERCENT),
            "p50": _number(made.p50 * _PERCENT),
            "p95": _number(made.p95 * _PERCENT),
        },
        "after_steps": [_after(step) for step in plan.run.steps],
        "minutes": _number(made.effort.duration_s / _MINUTE_S),
        "cost": _number(made.cost),
        "currency": read_prices().currency,
        "methods": [_method(method) for method in plan.methods],
        "floor": _floor(plan.floor),
        "measure_first": [_measure(measure) for measure in plan.measures],
        "fluid": fluid_to_json(plan.fluid),
        "filter": filter_to_json(plan.filter),
        "heat": None
        if plan.heat is None
        else heat_to_json(plan.heat, buys=plan.warmth, exchange=plan.cooling),
        "level": level_to_json(plan.level),
        "pace": None if plan.pace is None else pace_to_json(plan.pace),
        "due": due_to_json(plan.due),
        **lists_to_json(plan.sheet, plan.shopping, plan.waste),
        "advice": list(plan.reasons) + _texts(plan.caveats),
        "reasons": list(plan.reasons),
        "caveats": [{"code": caveat.code, "text": caveat.text} for caveat in plan.caveats],
        "people": plan.goal.people,
    }


def lists_to_json(sheet: Iterable[Line], items: Iterable[Item], waste: Waste) -> dict[str, object]:
    """Return what goes with any recipe as a plan's table has it: sheet, shopping and waste."""
    return {
        "sheet": [_line(line) for line in sheet],
        "shopping": [_item(item) for item in items],
        "waste": _waste(waste),
    }


def _after(step: StepResult) -> dict[str, float]:
    """Return what is left when a step has ended, over all machines."""
    ends = np.quantile(step.remaining_share, [0.05, 0.5, 0.95])
    return {
        name: _number(float(end) * _PERCENT)
        for name, end in zip(("p05", "p50", "p95"), ends, strict=True)
    }


def _method(method: Method) -> dict[str, object]:
    """Return a usual method with what it needs."""
    made = method.score
    found: dict[str, object] = {
        "name": method.name,
        "recipe": None if method.recipe is None else recipe_to_json(method.recipe),
        "containers": None if made is None else made.containers,
        "p95_pct": None if made is None else _number(made.p95 * _PERCENT),
        "expected": None
        if made is None
        else {
            "p05": _number(made.p05 * _PERCENT),
            "p50": _number(made.p50 * _PERCENT),
            "p95": _number(made.p95 * _PERCENT),
        },
        "held_pct": None if made is None else _number(made.held_share * _PERCENT),
        "reached": method.reached,
        "minutes": None if made is None else _number(made.effort.duration_s / _MINUTE_S),
        "cost": None if made is None else _number(made.cost),
        "members": method.members,
        "seed": method.seed,
    }
    if method.why_not:
        found["why_not"] = method.why_not
    return found


def _floor(floor: Floor) -> dict[str, object]:
    """Return what stays however much is poured."""
    return {
        "remaining_pct": _number(floor.share * _PERCENT),
        "parts": [part.part for part in floor.parts],
        "why": floor.why,
        "moved_by": list(floor.moved_by),
        "held": {part.part: _number(part.share * _PERCENT) for part in floor.parts},
    }


def _measure(measure: Measure) -> dict[str, object]:
    """Return something to measure first."""
    return {
        "unknown": measure.unknown,
        "name": measure.name,
        "how": measure.how,
        "minutes": _number(measure.duration_s / _MINUTE_S),
        "explains_pct": _number(measure.explains * _PERCENT),
        "sure_now_pct": _number(measure.sure_now * _PERCENT),
        "sure_then_pct": _number(measure.sure_then * _PERCENT),
    }


def _line(line: Line) -> dict[str, object]:
    """Return a line of the sheet."""
    return {
        "stage": line.stage,
        "step": line.step,
        "sentence": line.sentence,
        "litres": None if line.litres_m3 is None else _number(line.litres_m3 * _LITRE),
        "seconds": None if line.duration_s is None else _number(line.duration_s),
        "cycles": dict(line.cycles),
        "accept": line.accept,
        "cautions": [text for _, text in line.cautions],
    }


def _item(item: Item) -> dict[str, object]:
    """Return one thing to have at hand."""
    return {"kind": item.kind, "what": item.what, "count": item.count, "why": item.why}


def _waste(waste: Waste) -> dict[str, object]:
    """Return what comes out and what the cans must hold."""
    return {
        "comes_out_l": _number(waste.comes_out_m3 * _LITRE),
        "cans_hold_l": _number(waste.cans_hold_m3 * _LITRE),
        "family": waste.family,
        "label": waste.label,
    }


def _texts(caveats: Iterable[Caveat]) -> list[str]:
    """Return caveats as sentences."""
    return [caveat.text for caveat in caveats]


def _number(value: float) -> float:
    """Return a number without the dust of unit conversion, as a run's result writes it."""
    return float(f"{value:.12g}")
