"""Reads recipe files into recipes, and writes recipes as the same tables, ready for JSON."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ullage.circuit import names
from ullage.errors import Fault, FileFaults
from ullage.formats import document
from ullage.formats.reader import Reader, Values
from ullage.formats.recipe_keys import RECIPE, STEP, STEP_OF
from ullage.formats.uncertain_field import shown
from ullage.formats.writer import written
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Extend,
    Fill,
    Recipe,
    Release,
    Retract,
    Stand,
    Step,
    SwapFilter,
    TopUp,
)

_TEMPERATURE_K, _NEW_FLUID_K = 333.15, 293.15
_PERIOD_S = 10.0


def read_recipe(path: Path) -> Recipe:
    """Return the recipe that a file describes.

    Raises
    ------
    FileFaults
        With everything that is wrong with the file.
    """
    return parse_recipe(document.read_text(path), path.name)


def parse_recipe(text: str, name: str) -> Recipe:
    """Return the recipe that a text describes; ``name`` is the file's name in sentences."""
    return recipe_from_table(document.raw_table(text, name), name)


def recipe_from_table(raw: Mapping[str, Any], file: str) -> Recipe:
    """Return the recipe that a table of tables describes (a recipe file as JSON, for example)."""
    reader = Reader(file=file)
    top = reader.top_level(raw, RECIPE)
    if top is None:
        raise FileFaults(file, reader.faults)
    steps = [
        step
        for place, item in reader.raw_items(raw, STEP)
        if (step := _step(reader, item, place)) is not None
    ]
    if not raw.get("step"):
        reader.faults.append(
            Fault(
                key="step",
                value=None,
                problem="there is none, so nothing would be done",
                advice='add [[step]] with do = "draw-off", for example',
            )
        )
    if reader.faults:
        raise FileFaults(file, reader.faults)
    return Recipe(
        name=top.text("name"),
        steps=tuple(steps),
        temperature_k=top.real("temperature_degc", _TEMPERATURE_K),
        new_fluid_k=top.real("new_fluid_degc", _NEW_FLUID_K),
    )


def _step(reader: Reader, item: Mapping[str, Any], place: str) -> Step | None:
    """Return one step, or None after noting why it is none."""
    word = item.get("do")
    table = STEP_OF.get(word) if isinstance(word, str) else None
    if table is None:
        reader.faults.append(
            Fault(
                key=f"{place}.do",
                value=None if word is None else shown(word),
                problem="is missing" if word is None else "is not a kind of step",
                allowed=names.one_of(STEP_OF),
                advice=names.did_you_mean(
                    word if isinstance(word, str) else "", STEP_OF, otherwise="choose one of them"
                ),
            )
        )
        return None
    v = reader.table(item, table, place)
    own_k = v.maybe_real("temperature_degc")
    match v.text("do"):
        case "draw-off":
            return DrawOff(temperature_k=own_k, leave_m3=v.maybe_real("leave_l"))
        case "fill":
            return Fill(temperature_k=own_k, to_m3=v.maybe_real("to_l"))
        case "top-up":
            return TopUp(temperature_k=own_k, to_m3=v.maybe_real("to_l"))
        case "exchange":
            return Exchange(
                temperature_k=own_k,
                litres_m3=v.real("litres"),
                rev_s=v.maybe_real("rev_min"),
                exercise=_exercise(v),
            )
        case "circulate":
            return Circulate(
                temperature_k=own_k,
                duration_s=v.real("minutes"),
                rev_s=v.maybe_real("rev_min"),
                exercise=_exercise(v),
            )
        case "retract":
            return Retract(temperature_k=own_k, legs=v.names("legs"))
        case "extend":
            return Extend(temperature_k=own_k, legs=v.names("legs"))
        case "release":
            return Release(
                temperature_k=own_k, legs=v.names("legs"), supported=v.flag("supported", False)
            )
        case "charge":
            return Charge(temperature_k=own_k, legs=v.names("legs"))
        case "bleed":
            return Bleed(temperature_k=own_k, leg=v.text("leg"), litres_m3=v.real("litres"))
        case "swap-filter":
            return SwapFilter(temperature_k=own_k, prefilled=v.flag("prefilled", True))
        case _:
            return Stand(temperature_k=own_k, duration_s=v.real("minutes"))


def _exercise(v: Values) -> Exercise:
    """Return which groups move, how often and how."""
    return Exercise(
        groups=v.names("exercise"),
        cycles=v.maybe_whole("cycles"),
        together=v.flag("together", False),
        period_s=v.real("period_s", _PERIOD_S),
    )


def recipe_to_json(recipe: Recipe) -> dict[str, object]:
    """Return the recipe as a table of tables, in the units of a recipe file."""
    top = {"temperature_degc": recipe.temperature_k, "new_fluid_degc": recipe.new_fluid_k}
    by_name = {key.name: key for key in RECIPE.keys}
    return {
        "format": RECIPE.format,
        "name": recipe.name,
        **{name: by_name[name].from_si(value) for name, value in top.items()},
        "step": [step_to_json(step) for step in recipe.steps],
    }


def step_to_json(step: Step) -> dict[str, object]:
    """Return one step as a recipe file writes it; what holds anyway is left out."""
    values: dict[str, object] = {"do": step.do}
    match step:
        case DrawOff():
            values["leave_l"] = step.leave_m3
        case Fill():
            values["to_l"] = step.to_m3
        case Exchange():
            values |= {"litres": step.litres_m3, "rev_min": step.rev_s}
            values |= _written_exercise(step.exercise)
        case Circulate():
            values |= {"minutes": step.duration_s, "rev_min": step.rev_s}
            values |= _written_exercise(step.exercise)
        case Release():
            values |= {"legs": list(step.legs) or None, "supported": step.supported or None}
        case Retract() | Extend() | Charge():
            values["legs"] = list(step.legs) or None
        case Bleed():
            values |= {"leg": step.leg, "litres": step.litres_m3}
        case SwapFilter():
            values["prefilled"] = step.prefilled
        case Stand():
            values["minutes"] = step.duration_s
        case _:
            raise TypeError(f"no recipe file has a step {type(step).__name__}")
    return written(STEP_OF[step.do], {**values, "temperature_degc": step.temperature_k})


def _written_exercise(exercise: Exercise) -> dict[str, object]:
    """Return the keys of an exercise; none where nothing moves."""
    if exercise == Exercise():
        return {}
    return {
        "exercise": list(exercise.groups),
        "cycles": exercise.cycles,
        "together": exercise.together or None,
        "period_s": exercise.period_s,
    }
