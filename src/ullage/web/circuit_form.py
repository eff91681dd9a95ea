"""From the table of a circuit file to texts in fields, and back; every fault beside its field.

Numbers stand in the person's units and may be typed with any other ("0.31 in", "1 us_qt"). What
can't be read as what it should be goes into the table as it was typed, so that the rest is still
judged; its own sentence replaces that of the reader of files.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ullage.errors import Fault, FileFaults
from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.schema import Kind, Table
from ullage.jobs.ports import Desk
from ullage.web.circuit_fields import PARTS, Slot, rows_of, slots, tidied
from ullage.web.forms import Field, as_sentence, read
from ullage.web.shown import Units, own_value

_WHOLE = re.compile(r"[+-]?\d{1,15}")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFault:
    """What is wrong, and with which field; ``field`` is empty where it is with none of them.

    ``place`` says in words where that is.
    """

    field: str
    place: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What a form says: a table, and what in it is no number where one should be."""

    table: dict[str, Any]
    faults: tuple[FieldFault, ...]


# --- table to texts -------------------------------------------------------------------------------


def texts_of(table: Mapping[str, Any], units: Units) -> dict[str, str]:
    """Return the texts that stand for a table in the fields of the page."""
    found: dict[str, str] = {}
    for key in CIRCUIT.keys:
        found[key.name] = _plain(table.get(key.name, ""))
    for part in CIRCUIT.tables:
        held = table.get(part.name)
        rows = held if isinstance(held, list) else [held]
        for number, row in enumerate(rows, start=1):
            place = f"{part.name}.{number}" if part.many else part.name
            if isinstance(row, Mapping):
                if part.many:
                    found[f"{place}.id"] = ""
                for slot in slots(part):
                    _write(found, f"{place}.{slot.name}", slot, _held(row, slot.path), units)
    return tidied(found)


def _held(row: Mapping[str, Any], path: tuple[str, ...]) -> object:
    """Return what stands at a path of keys, None where nothing does."""
    value: object = row
    for name in path:
        value = value.get(name) if isinstance(value, Mapping) else None
    return value


def _write(found: dict[str, str], place: str, slot: Slot, value: object, units: Units) -> None:
    """Write one key into its fields."""
    if value is None:
        return
    if slot.key.kind is Kind.UNCERTAIN:
        ends = value if isinstance(value, Mapping) else {"best": value}
        for part, word in PARTS.items():
            if word in ends:
                unit = slot.unit if part in ("best", "low", "high") else ""
                found[f"{place}.{part}"] = _number_text(ends[word], unit, units)
    elif isinstance(value, list):
        lines = slot.key.kind in (Kind.PAIRS, Kind.NAMES)
        found[place] = ("\n" if lines else ", ").join(_item(item) for item in value)
    else:
        found[place] = _number_text(value, slot.unit, units)


def _item(value: object) -> str:
    """Return one member of a list; the two of a pair stand side by side."""
    return " ".join(_plain(one) for one in value) if isinstance(value, list) else _plain(value)


def _number_text(value: object, unit: str, units: Units) -> str:
    """Return a number in the person's unit, ten digits where it has to be turned into it."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _plain(value)
    if units.own(unit) == unit:
        return _plain(value)
    return f"{own_value(float(value), unit, units):.10g}"


def _plain(value: object) -> str:
    """Return a value of a file as a person would type it."""
    match value:
        case bool():
            return "yes" if value else ""
        case float() if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        case float():
            return repr(value)
    return str(value)


# --- texts to table -------------------------------------------------------------------------------


def table_of(texts: Mapping[str, str], units: Units) -> Written:
    """Return the table that the texts of the page stand for."""
    table: dict[str, Any] = {"format": CIRCUIT.format}
    faults: list[FieldFault] = []
    for key in CIRCUIT.keys:
        if texts.get(key.name):
            table[key.name] = texts[key.name]
    for part in CIRCUIT.tables:
        if part.many:
            rows = [
                _row(texts, part, f"{part.name}.{number}", units, faults)
                for number in rows_of(texts, part.name)
            ]
            if rows:
                table[part.name] = rows
        else:
            row = _row(texts, part, part.name, units, faults)
            if row or part.required:
                table[part.name] = row
    return Written(table=table, faults=tuple(faults))


def _row(
    texts: Mapping[str, str], part: Table, place: str, units: Units, faults: list[FieldFault]
) -> dict[str, Any]:
    """Return one table of the file; tables that a part can't do without are there, if empty."""
    row: dict[str, Any] = {key.name: {} for key in part.keys if key.table and key.required}
    for slot in slots(part):
        at = f"{place}.{slot.name}"
        value = _value(texts, at, slot, units, faults)
        if value is None:
            continue
        within = row
        for name in slot.path[:-1]:
            within = within.setdefault(name, {})
        within[slot.path[-1]] = value
    return row


def _value(
    texts: Mapping[str, str], at: str, slot: Slot, units: Units, faults: list[FieldFault]
) -> object | None:
    """Return what the fields of one key say, None where they say nothing."""
    if slot.key.kind is Kind.UNCERTAIN:
        found: dict[str, object] = {}
        for part, word in PARTS.items():
            text = texts.get(f"{at}.{part}", "")
            if part == "spread":
                text = text.strip("± %\N{NO-BREAK SPACE}")
            if text:
                unit = slot.unit if part != "spread" else ""
                found[word] = (
                    text
                    if part == "as"
                    else _number(text, unit, units, f"{at}.{part}", slot, faults)
                )
        return found["best"] if set(found) == {"best"} else found or None
    text = texts.get(at, "")
    if not text:
        return None
    match slot.key.kind:
        case Kind.REAL | Kind.WHOLE:
            return _number(text, slot.unit, units, at, slot, faults)
        case Kind.FLAG:
            return True
        case Kind.NAMES:
            return [name.strip() for name in re.split(r"[,;\n]", text) if name.strip()]
        case Kind.REALS:
            return [_numeral(one) for one in re.split(r"[\s,;]+", text) if one]
        case Kind.PAIRS:
            lines = [line for line in text.split("\n") if line.strip()]
            return [[_numeral(one) for one in re.split(r"[\s,;]+", line.strip())] for line in lines]
    return text


def _numeral(text: str) -> int | float | str:
    """Return a plain number, or the text where it is none."""
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text) if _NUMBER.fullmatch(text) else text


def _number(
    text: str, unit: str, units: Units, at: str, slot: Slot, faults: list[FieldFault]
) -> int | float | str:
    """Return a number in the file's unit; one typed in that unit is taken digit by digit."""
    if units.own(unit) == unit:
        found = _numeral(text)
        if not isinstance(found, str):
            return found
    typed = read((Field("number", slot.words, "number", unit=unit),), {"number": text}, units)
    if not typed.is_good:
        faults.append(FieldFault(field=at, place=place_told(at), sentence=typed.fault("number")))
        return text
    # Nine digits: a number that was only shown in another unit comes back as it was.
    return float(f"{typed.values['number']:.9g}")


# --- faults to fields -----------------------------------------------------------------------------


def judged(desk: Desk, texts: Mapping[str, str], units: Units) -> tuple[Any, Written]:
    """Return the circuit that the page describes, None where it can't be one, and the table.

    The faults of the table are all there then: those of the form and those of the format.
    """
    written = table_of(texts, units)
    try:
        circuit = desk.forms.circuit(written.table, str(written.table.get("name", "circuit")))
    except FileFaults as error:
        faults = tuple(_all_faults(error.faults, texts, written.faults))
        return None, Written(table=written.table, faults=faults)
    return circuit, written


def _all_faults(
    found: tuple[Fault, ...], texts: Mapping[str, str], own: tuple[FieldFault, ...]
) -> Iterator[FieldFault]:
    """Yield the faults of the form, then those of the format about anything else."""
    yield from own
    taken = {fault.field for fault in own}
    for fault in found:
        places = fields_of(fault.key, texts)
        if places and taken.issuperset(places):
            continue
        sentence = fault_told(fault)
        for place in places or ("",):
            yield FieldFault(
                field=place, place=place_told(place) if place else fault.key, sentence=sentence
            )


def fault_told(fault: Fault) -> str:
    """Return a fault in a sentence that need not say where it is."""
    parts = (part for part in (fault.problem, fault.allowed, fault.advice) if part)
    subject = "these" if fault.problem.startswith("add ") else "this"
    return as_sentence(f"{subject} {'; '.join(parts)}")


def fields_of(key: str, texts: Mapping[str, str]) -> tuple[str, ...]:
    """Return the fields that a place in a file stands for; none where no field does.

    >>> fields_of("leg[front].line.bore_mm", {"leg.1.id": "rear", "leg.2.id": "front"})
    ('leg.2.line.bore_mm.best',)
    """
    if key in {one.name for one in CIRCUIT.keys}:
        return (key,)
    for part in CIRCUIT.tables:
        if not part.many and (key == part.name or key.startswith(f"{part.name}.")):
            tail = _field_of(part, key[len(part.name) + 1 :])
            return (f"{part.name}.{tail}",)
        if part.many and key.startswith(f"{part.name}["):
            return tuple(_fields_of_rows(part, key, texts))
    return ()


def _fields_of_rows(part: Table, key: str, texts: Mapping[str, str]) -> Iterator[str]:
    """Yield the fields of parts that a place such as ``leg[front-left].stroke_l`` means."""
    for number in rows_of(texts, part.name):
        name = texts.get(f"{part.name}.{number}.id", "")
        labels = ("*", name) if name else ("*", str(number))
        for label in labels:
            head = f"{part.name}[{label}]"
            if key == head or key.startswith(f"{head}."):
                yield f"{part.name}.{number}.{_field_of(part, key[len(head) + 1 :])}"


def _field_of(part: Table, rest: str) -> str:
    """Return the field of a part that the rest of a place means; its first where none does."""
    rest = re.sub(r"\[\d+\]", "", rest)
    for slot in slots(part):
        is_uncertain = slot.key.kind is Kind.UNCERTAIN
        if rest == slot.name:
            return f"{slot.name}.best" if is_uncertain else slot.name
        for ending, word in PARTS.items():
            if is_uncertain and rest == f"{slot.name}.{word}":
                return f"{slot.name}.{ending}"
    within = (slot for slot in slots(part) if slot.name.startswith(f"{rest}."))
    slot = next(within, slots(part)[0])
    return f"{slot.name}.best" if slot.key.kind is Kind.UNCERTAIN else slot.name


def place_told(field: str) -> str:
    """Return in words where a field stands: "leg 2, line bore (low)".

    >>> place_told("leg.2.line.bore_mm.low"), place_told("reservoir.full_l.best")
    ('leg 2, line bore (low)', 'reservoir, full')
    """
    head, _, rest = field.partition(".")
    part = CIRCUIT.table_by_name.get(head)
    if part is None:
        return head
    place = part.name.replace("_", " ")
    if part.many:
        number, _, rest = rest.partition(".")
        place = f"{place} {number}"
    for slot in slots(part):
        for ending in slot.inputs:
            if rest == f"{slot.name}{ending}":
                told = "" if ending in ("", ".best") else f" ({PARTS[ending[1:]].split('_')[0]})"
                return f"{place}, {slot.words}{told}"
    return place
