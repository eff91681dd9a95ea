"""A recipe as a form: litres, levels, minutes and cycles of each step, and steps to leave out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ullage.errors import OutOfRange
from ullage.web.forms import Field, Typed
from ullage.web.sections.step_forms import step_heading

#: Figures of a step that may be changed: key of the recipe file, its words, kind and unit.
_FIGURES = (
    ("litres", "litres to waste", "number", "l"),
    ("to_l", "fill up to", "number", "l"),
    ("leave_l", "leave in the reservoir", "number", "l"),
    ("minutes", "minutes", "number", "minutes"),
    ("cycles", "cycles of each group", "whole", ""),
)


def change_fields(recipe: Mapping[str, Any]) -> tuple[Field, ...]:
    """Return a field for each figure of a recipe, and one to leave each step out."""
    found: list[Field] = []
    for number, step in enumerate(recipe["step"], start=1):
        heading = f"{number}. {step_heading(step)}"
        for key, words, kind, unit in _FIGURES:
            if key in step:
                label = f"{heading}: {words}"
                found.append(
                    Field(
                        f"s{number}_{key}",
                        label,
                        "whole" if kind == "whole" else "number",
                        unit=unit,
                        required=True,
                        low=0.0,
                    )
                )
        found.append(Field(f"s{number}_out", f"{heading}: leave it out", "flag"))
    return tuple(found)


def change_values(recipe: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the form shows before anybody changed anything."""
    return {
        f"s{number}_{key}": step[key]
        for number, step in enumerate(recipe["step"], start=1)
        for key, *_ in _FIGURES
        if key in step
    }


def changed_recipe(recipe: Mapping[str, Any], typed: Typed) -> dict[str, Any]:
    """Return the recipe as it was changed in its form.

    Raises
    ------
    OutOfRange
        If nothing was changed, or no step is left.
    """
    steps = []
    for number, step in enumerate(recipe["step"], start=1):
        if typed.values.get(f"s{number}_out"):
            continue
        mine = {key: typed.values[f"s{number}_{key}"] for key, *_ in _FIGURES if key in step}
        steps.append({**step, **mine})
    if not steps:
        raise OutOfRange("recipe", "no step", "one step at least", "keep some of them")
    if steps == [dict(step) for step in recipe["step"]]:
        raise OutOfRange(
            "recipe", "the same as before", "another one", "change a figure or leave a step out"
        )
    return {**recipe, "name": _changed_name(str(recipe.get("name", "Recipe"))), "step": steps}


def _changed_name(name: str) -> str:
    return name if name.endswith(", changed") else f"{name}, changed"
