"""What an event of each kind may carry: one row per key, checked before anything is stored.

Readings use the keys and the units of an evidence file, so that proving takes them without
retyping. Text is kept as typed; it is escaped where it is shown, not here.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ullage.errors import NotFound, OutOfRange
from ullage.jobs.event import Kind
from ullage.jobs.stage import Stage, StepState

LONGEST_TEXT = 4000
_COLDEST_DEGC, _HOTTEST_DEGC = -60.0, 200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One key of a payload: the type of its value, limits, and whether it must be there.

    ``many`` wants a list of such values; ``choices`` are the words allowed.
    """

    type: type
    is_required: bool = False
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()
    many: bool = False


def _number(low: float = 0.0, high: float = math.inf, *, required: bool = False) -> Field:
    return Field(type=float, low=low, high=high, is_required=required)


def _whole(low: float = 0.0, *, required: bool = False) -> Field:
    return Field(type=int, low=low, high=1e6, is_required=required)


def _text(*, required: bool = False, many: bool = False) -> Field:
    return Field(type=str, is_required=required, many=many)


def _word(choices: Iterable[str], *, required: bool = True) -> Field:
    return Field(type=str, choices=tuple(choices), is_required=required)


_DEGC = _number(_COLDEST_DEGC, _HOTTEST_DEGC)
_STATES = ("charged", "released", "retracted", "extended")
#: Keys that every kind may carry: who did it, which stage it belongs to, what was typed, and a
#: remark.
EVERYWHERE: Mapping[str, Field] = {
    "by": _text(),
    "stage": _word(Stage, required=False),
    "typed": Field(type=dict),
    "note": _text(),
}
PAYLOADS: Mapping[Kind, Mapping[str, Field]] = {
    Kind.NOTE: {"note": _text(required=True), "step": _whole()},
    Kind.PHOTO: {"sha256": _text(required=True), "name": _text(), "step": _whole()},
    Kind.TICKED: {
        "list": _text(required=True),
        "item": _text(required=True),
        "done": Field(type=bool, is_required=True),
    },
    Kind.STAGE: {
        "stage": _word(Stage),
        "state": _word(("finished", "in hand")),
        "result": _text(),
    },
    Kind.ANSWERED: {"answer": _text(required=True), "of": _text(required=True)},
    Kind.UNDONE: {"uid": _text(required=True)},
    Kind.AS_FOUND: {
        "level_mm": _number(-5000.0, 5000.0),
        "state": _word(_STATES, required=False),
        "at_degc": _DEGC,
        "heights": _text(),
        "leaks": _text(),
        "noises": _text(),
        "lamps": _text(),
        "family_proof": _text(),
    },
    Kind.USE: {
        "distance_km": _number(),
        "hours": _number(),
        "since_km": _number(),
        "since_hours": _number(),
        "since_days": _number(),
        # what the machine's papers allow between two exchanges
        "interval_km": _number(),
        "interval_hours": _number(),
        "interval_days": _number(),
    },
    Kind.CONDITION: {
        "nu40_mm2_s": _number(),
        "nu100_mm2_s": _number(),
        "water_mg_kg": _number(),
        "acid_mgkoh_g": _number(),
        "particles_per_ml": Field(type=float, low=0.0, many=True),
        "colour_rise": _number(),
        "debris": _text(),
    },
    Kind.CIRCUIT: {"version": _text(required=True)},
    Kind.GOAL: {
        "target_pct": _number(0.0, 100.0, required=True),
        "sure_pct": _number(0.0, 100.0),
        "container_l": _number(),
        "reserve_l": _number(),
        "most": _whole(1),
        "people": _whole(1),
        "without": _text(many=True),
    },
    Kind.RECIPE: {"recipe": Field(type=dict, is_required=True), "method": _text(), "from": _text()},
    Kind.STEP: {
        "step": _whole(1, required=True),
        "state": _word(StepState),
        "reason": _text(),
    },
    Kind.ENGINE: {"on": Field(type=bool, is_required=True), "rev_min": _number()},
    Kind.CONTAINER: {
        "number": _whole(1, required=True),
        "state": _word(("sealed", "open", "empty")),
    },
    Kind.POURED: {"litres": _number(required=True), "step": _whole(1), "lot": _text()},
    Kind.VOLUME: {
        "what": _word(("drawn-off", "waste", "poured", "left-over")),
        "step": _whole(1),
        "litres": _number(),
        "grams": _number(),
        "at_degc": _DEGC,
        "u_l": _number(),
        "shares": _text(),
    },
    Kind.LEVEL: {
        "after_step": _whole(required=True),
        "mm": _number(-5000.0, 5000.0),
        "litres": _number(),
        "state": _word(_STATES),
        "at_degc": _DEGC,
        "u_mm": _number(),
        "u_l": _number(),
    },
    Kind.FLOW: {
        "litres": _number(required=True),
        "seconds": _number(required=True),
        "rev_min": _number(),
    },
    Kind.TURN: {"step": _whole(1, required=True), "at_l": _number(required=True), "u_l": _number()},
    Kind.TRAVEL: {"leg": _text(required=True), "pct": _number(0.0, 100.0, required=True)},
    Kind.CYCLES: {
        "step": _whole(1, required=True),
        "group": _text(required=True),
        "count": _whole(required=True),
    },
    Kind.TEMPERATURE: {
        "degc": Field(type=float, low=_COLDEST_DEGC, high=_HOTTEST_DEGC, is_required=True),
        "step": _whole(),
    },
    Kind.SAMPLE: {
        "name": _text(required=True),
        "where": _text(required=True),
        "after_step": _whole(required=True),
        "at_step_l": _number(),
    },
    Kind.READING: {
        "sample": _text(required=True),
        "old_pct": _number(0.0, 100.0, required=True),
        "u_pct": _number(required=True),
        "ref": _text(),
        "shares": _text(),
    },
    Kind.LOT_USED: {"lot": _text(required=True), "litres": _number(required=True)},
    Kind.WASTE_HANDED_OVER: {
        "litres": _number(required=True),
        "family": _text(required=True),
        "to": _text(required=True),
        "paper": _text(),
    },
    Kind.NEXT_DUE: {
        "on": _text(),
        "distance_km": _number(),
        "hours": _number(),
        "reason": _text(required=True),
    },
    Kind.SIGNED: {"by": _text(required=True), "as": _text(required=True)},
}


def checked(kind: Kind, payload: Mapping[str, Any]) -> dict[str, Any]:
    """Return a payload whose keys and values are those of its kind.

    Raises
    ------
    NotFound
        If a key is not one of the kind's.
    OutOfRange
        If a key is missing, or a value has the wrong type or lies outside its limits.
    """
    fields = {**EVERYWHERE, **PAYLOADS[kind]}
    for key in payload:
        if key not in fields:
            raise NotFound(f"key of {kind.value}", key, fields)
    whole: dict[str, Any] = {}
    for key, field in fields.items():
        value = payload.get(key)
        if value is None:
            if field.is_required:
                raise OutOfRange(f"{kind.value}.{key}", "nothing", "given")
            continue
        name = f"{kind.value}.{key}"
        if field.many:
            if not isinstance(value, list | tuple):
                raise OutOfRange(name, repr(value), "a list")
            whole[key] = [_one(name, item, field) for item in value]
        else:
            whole[key] = _one(name, value, field)
    _storable(kind, whole)
    return whole


def _storable(kind: Kind, whole: Mapping[str, Any]) -> None:
    """Refuse what can't be written down: half a character, a number that is none, in tables too."""
    try:
        json.dumps(whole, ensure_ascii=False, allow_nan=False).encode()
    except (TypeError, ValueError, RecursionError) as error:
        allowed = "text, finite numbers, lists and tables"
        raise OutOfRange(kind.value, f"something else ({error})", allowed) from None


def _one(name: str, value: object, field: Field) -> object:
    """Return one value of a payload, checked."""
    if field.type is str:
        if not isinstance(value, str):
            raise OutOfRange(name, repr(value), "text")
        if len(value) > LONGEST_TEXT or "\0" in value:
            raise OutOfRange(name, f"{len(value)} characters", f"at most {LONGEST_TEXT} characters")
        if field.choices and value not in field.choices:
            raise OutOfRange(name, repr(value), f"one of {', '.join(field.choices)}")
        if field.is_required and not value.strip():
            raise OutOfRange(name, "nothing", "given")
        return str(value)
    if field.type is bool or field.type is dict:
        if not isinstance(value, field.type):
            raise OutOfRange(
                name, repr(value), "true or false" if field.type is bool else "a table"
            )
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise OutOfRange(name, repr(value), "a number")
    if not math.isfinite(value) or not field.low <= value <= field.high:
        allowed = (
            f"at least {field.low:g}"
            if field.high == math.inf
            else f"between {field.low:g} and {field.high:g}"
        )
        raise OutOfRange(name, value, allowed)
    if field.type is int and value != int(value):
        raise OutOfRange(name, value, "a whole number")
    return int(value) if field.type is int else float(value)
