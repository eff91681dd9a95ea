"""Which fields does a sheet have? Those of [fluid], or of the element in a [[node]], key by key.

Units, choices, limits and help come from the rows that circuit files are read by, so a sheet can
say all that a circuit can, and nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ullage.errors import FileFaults
from ullage.formats.liquid_keys import FLUID
from ullage.formats.part_keys import NODE
from ullage.formats.schema import Kind, Table
from ullage.jobs.shelf import SheetOf
from ullage.web.circuit_fields import Slot, slots
from ullage.web.forms import Field, Typed, filled
from ullage.web.shown import NBSP, Units, amount, figure, fine

NAME = Field("name", "Name", "text", required=True, longest=80, hint="What the garage calls it.")
# What a node has beside its element, and what every sheet of a filter says by being one.
_NOT_OF_ELEMENT = ("id", "volume_l", "element")
ELEMENT = Table(
    name="element",
    about="the element of a filter housing",
    keys=tuple(key for key in NODE.keys if key.name not in _NOT_OF_ELEMENT),
)
#: The words of the labels, where the key's own name does not say enough.
LABELS: Mapping[str, str] = {
    "nu40_mm2_s": "Viscosity at 40 \N{DEGREE SIGN}C",
    "nu100_mm2_s": "Viscosity at 100 \N{DEGREE SIGN}C",
    "rho15_kg_m3": "Density at 15 \N{DEGREE SIGN}C",
    "class": "Class",
    "particles_per_ml": "Particles, three counts",
    "water_mg_kg": "Water",
    "acid_mgkoh_g": "Acid number",
    "element_l": "What the old element keeps",
    "beta.um": "Rated particle size, \N{GREEK SMALL LETTER MU}m(c)",
    "beta.ratio": "Beta at that size",
    "rating": "Rating",
    "clean_dp_bar.bar": "Clean pressure drop",
    "clean_dp_bar.at_l_min": "Measured at a flow of",
    "clean_dp_bar.at_mm2_s": "and a viscosity of",
    "bypass_bar": "By-pass opens at",
}


# Labels that say all that the row's own words do.
_SAY_ALL = ("beta.um", "clean_dp_bar.bar", "clean_dp_bar.at_l_min", "clean_dp_bar.at_mm2_s")


def table_for(of: SheetOf) -> Table:
    """Return the rows that a sheet is made of."""
    return FLUID if of is SheetOf.FLUID else ELEMENT


def fields_for(of: SheetOf) -> tuple[Field, ...]:
    """Return the form of a sheet."""
    return (NAME, *(_field(slot) for slot in slots(table_for(of))))


def _field(slot: Slot) -> Field:
    key = slot.key
    number = key.kind in (Kind.REAL, Kind.UNCERTAIN)
    label = LABELS.get(slot.name, slot.words.capitalize())
    hint = fine(key.about[:1].upper() + key.about[1:] + ("" if key.about.endswith(".") else "."))
    if hint.replace(NBSP, " ").lower().rstrip(".") == label.lower():
        hint = ""
    return Field(
        slot.name,
        label,
        "number" if number else "choice" if key.kind is Kind.CHOICE else "text",
        unit=slot.unit if number else "",
        required=slot.required,
        low=(key.low if key.low is not None else key.above) if number else None,
        high=key.high if number else None,
        choices=_choices(slot),
        hint=""
        if slot.name in _SAY_ALL
        else f"{hint} For example {key.example[1:-1]}."
        if key.kind is Kind.REALS
        else hint,
    )


def _choices(slot: Slot) -> tuple[str | tuple[str, str], ...]:
    """Return the words of a choice; a single one can also be left alone."""
    return (
        (("", "by a test, if any"), *slot.key.choices)
        if len(slot.key.choices) == 1
        else slot.key.choices
    )


def typed_of(of: SheetOf, name: str, table: Mapping[str, Any], units: Units) -> Typed:
    """Return the form of a sheet that is kept."""
    values = {"name": name}
    for slot in slots(table_for(of)):
        value = _held(table, slot)
        if isinstance(value, list | tuple):
            value = ", ".join(f"{one:g}" for one in value)
        values[slot.name] = value
    return filled(fields_for(of), values, units)


def table_of(of: SheetOf, typed: Typed) -> dict[str, Any]:
    """Return the table that a form stands for; what is no number stays text, to be refused."""
    table: dict[str, Any] = {}
    for slot in slots(table_for(of)):
        value = typed.values.get(slot.name)
        if value is None:
            continue
        if slot.key.kind is Kind.REALS:
            value = [_numeral(part) for part in re.split(r"[\s,;]+", value) if part]
        within = table
        for part in slot.path[:-1]:
            within = within.setdefault(part, {})
        within[slot.path[-1]] = value
    return table


def with_faults(of: SheetOf, typed: Typed, error: FileFaults) -> Typed:
    """Return a form with each fault beside its field."""
    names = [slot.name for slot in slots(table_for(of))]
    for fault in error.faults:
        key = re.sub(r"\[\d+\]$", "", fault.key)
        parts = (part for part in (fault.problem, fault.allowed, fault.advice) if part)
        told = "; ".join(parts)
        if fault.value is None and key in names:
            told = f"needed with the others of its group; {fault.allowed}"
        field = next((name for name in names if key in (name, f"{name}.best")), "")
        typed = typed.with_fault(field, f"This {told}." if field else f"{fault.sentence()}.")
    return typed


def facts_of(of: SheetOf, table: Mapping[str, Any], units: Units) -> tuple[tuple[str, str], ...]:
    """Return what a sheet says, as pairs of words."""
    found = []
    for slot in slots(table_for(of)):
        value = _held(table, slot)
        if value is None:
            continue
        if isinstance(value, list | tuple):
            text = ", ".join(figure(one) for one in value) + " per mL"
        elif isinstance(value, str):
            text = value
        else:
            text = amount(float(value), slot.unit, units)
        found.append((LABELS.get(slot.name, slot.words.capitalize()), text))
    return tuple(found)


def _held(table: Mapping[str, Any], slot: Slot) -> Any:
    """Return what a sheet says of a key; of an uncertain number its best value."""
    value: Any = table
    for part in slot.path:
        value = value.get(part) if isinstance(value, Mapping) else None
    return value.get("best") if isinstance(value, Mapping) else value


def _numeral(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
