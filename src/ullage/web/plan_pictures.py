"""Pictures of a plan: the circuit after each step, and recipes against each other.

All follow from the answer that is kept, at the best values of the circuit, so they are made when a
browser asks for them and remembered by what they were made of.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from ullage.drawing.charts import compare_chart
from ullage.drawing.circuit_svg import draw
from ullage.drawing.measures import LAPTOP_PX, PHONE_PX
from ullage.drawing.placed import Shape
from ullage.transport.result import Run
from ullage.transport.solve import simulate
from ullage.wiring import FileForms

#: Recipes that one chart sets side by side.
MOST_RECIPES = 3


@lru_cache(maxsize=128)
def _run(circuit: str, recipe: str, steps: int) -> Run:
    """Return the first steps of a recipe carried out; what goes in is JSON, to be remembered by."""
    forms = FileForms()
    whole = forms.recipe(json.loads(recipe), "recipe")
    part = replace(whole, steps=whole.steps[:steps])
    return simulate(forms.circuit(json.loads(circuit), "circuit"), part)


def _text(table: Mapping[str, Any]) -> str:
    return json.dumps(table, sort_keys=True)


def left_after_steps(circuit: Mapping[str, Any], recipe: Mapping[str, Any]) -> list[float]:
    """Return the old fluid left after each step, in per cent of the circuit's fluid."""
    run = _run(_text(circuit), _text(recipe), len(recipe["step"]))
    return [100.0 * float(step.remaining_share[0]) for step in run.steps]


@lru_cache(maxsize=128)
def _drawn(circuit: str, recipe: str, steps: int, is_upright: bool, title: str) -> str:
    run = _run(circuit, recipe, steps)
    return draw(
        FileForms().circuit(json.loads(circuit), "circuit"),
        run,
        width=PHONE_PX if is_upright else LAPTOP_PX,
        shape=Shape.UPRIGHT if is_upright else Shape.WIDE,
        title=title,
    )


def circuit_after(
    circuit: Mapping[str, Any], recipe: Mapping[str, Any], steps: int, *, is_upright: bool
) -> str:
    """Return the circuit after so many steps, every part in the colour of its remainder."""
    title = "As found" if steps == 0 else f"After step {steps}"
    return _drawn(_text(circuit), _text(recipe), steps, is_upright, title)


def methods_chart(
    circuit: Mapping[str, Any], recipes: Mapping[str, Mapping[str, Any]], *, is_upright: bool
) -> str:
    """Return recipes side by side: what is left inside and flows out, against litres poured."""
    runs = {
        name: _run(_text(circuit), _text(recipe), len(recipe["step"]))
        for name, recipe in recipes.items()
    }
    value = FileForms().circuit(circuit, "circuit")
    return compare_chart(runs, circuit=value, width=PHONE_PX if is_upright else LAPTOP_PX)


def shown_side_by_side(body: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """Return the recipes worth a chart: the plan's, the first of the usual ones, and the best."""
    able = [one for one in body["methods"] if one["recipe"] and one["containers"] is not None]
    found = {"This plan": body["recipe"]}
    for one in (*able[:1], *sorted(able, key=lambda method: float(method["p95_pct"]))):
        if len(found) < MOST_RECIPES:
            found.setdefault(one["name"], one["recipe"])
    return found
