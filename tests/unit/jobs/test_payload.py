"""Nothing is stored that its kind of event could not mean."""

from __future__ import annotations

from typing import Any

import pytest

from ullage.errors import NotFound, OutOfRange
from ullage.formats.evidence_keys import CYCLES, FLOW, LEVEL, TRAVEL, TURN, VOLUME
from ullage.formats.schema import Table
from ullage.jobs.event import Kind
from ullage.jobs.payload import EVERYWHERE, PAYLOADS, checked


def test_every_kind_says_what_it_carries() -> None:
    """No kind is without its row."""

    assert set(PAYLOADS) == set(Kind)


@pytest.mark.parametrize(
    ("kind", "table"),
    [
        (Kind.VOLUME, VOLUME),
        (Kind.LEVEL, LEVEL),
        (Kind.FLOW, FLOW),
        (Kind.TURN, TURN),
        (Kind.TRAVEL, TRAVEL),
        (Kind.CYCLES, CYCLES),
    ],
)
def test_readings_carry_the_keys_of_an_evidence_file(kind: Kind, table: Table) -> None:
    """So that proving takes them as they are."""
    file_keys = {key.name for key in table.keys}

    assert set(PAYLOADS[kind]) <= file_keys


def test_a_good_payload_comes_back_with_numbers_of_its_types() -> None:
    """Whole numbers are whole, others are floats, nothing is added."""
    payload = checked(Kind.POURED, {"litres": 1, "step": 3.0, "by": "M"})

    assert payload == {"by": "M", "litres": 1.0, "step": 3}
    assert isinstance(payload["litres"], float)
    assert isinstance(payload["step"], int)


@pytest.mark.parametrize(
    ("kind", "payload", "says"),
    [
        (Kind.POURED, {}, "poured.litres must be given"),
        (Kind.POURED, {"litres": "one"}, "a number"),
        (Kind.POURED, {"litres": True}, "a number"),
        (Kind.POURED, {"litres": -1.0}, "at least 0"),
        (Kind.POURED, {"litres": float("nan")}, "at least 0"),
        (Kind.POURED, {"litres": 1.0, "step": 1.5}, "a whole number"),
        (Kind.STEP, {"step": 1, "state": "perhaps"}, "one of waiting, under way"),
        (Kind.NOTE, {"note": "  "}, "given"),
        (Kind.NOTE, {"note": "x" * 5000}, "at most 4000 characters"),
        (Kind.READING, {"sample": "a", "old_pct": 101.0, "u_pct": 1.0}, "between 0 and 100"),
        (Kind.GOAL, {"target_pct": 5.0, "without": "bleed"}, "a list"),
        (Kind.TICKED, {"list": "a", "item": "b", "done": "yes"}, "true or false"),
    ],
)
def test_a_wrong_value_gets_its_sentence(kind: Kind, payload: dict[str, Any], says: str) -> None:
    """The sentence names the key and what is allowed."""
    with pytest.raises(OutOfRange, match=says):
        checked(kind, payload)


def test_an_unknown_key_is_refused_with_those_that_exist() -> None:
    """A key of another kind does not slip in."""
    with pytest.raises(NotFound, match="no key of poured is called 'mm'"):
        checked(Kind.POURED, {"litres": 1.0, "mm": 3.0})


def test_every_kind_may_say_who_and_what_was_typed() -> None:
    """The keys that all share stand in no row of their own but where they are required."""
    again = {
        (kind, key)
        for kind, fields in PAYLOADS.items()
        for key in set(fields) & set(EVERYWHERE)
        if not fields[key].is_required
    }

    assert again == set()


@pytest.mark.parametrize(
    "payload",
    [
        {"note": "half a \ud83d"},
        {"note": "x", "typed": {"litres": float("nan")}},
        {"note": "x", "typed": {"litres": {1, 2}}},
    ],
    ids=["half a character", "no number", "a set"],
)
def test_what_cannot_be_written_down_is_refused(payload: dict[str, Any]) -> None:
    """Also deep within what was typed: it would fail where it is stored, or be read otherwise."""
    with pytest.raises(OutOfRange, match="text, finite numbers, lists and tables"):
        checked(Kind.NOTE, payload)
