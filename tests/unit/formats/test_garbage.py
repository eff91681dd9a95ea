"""Whatever stands in a field, the answer is a list of faults and never another exception."""

from __future__ import annotations

import copy
import datetime
import json
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.formats.texts import CIRCUIT, EVIDENCE, RECIPE
from ullage.errors import Fault, FileFaults
from ullage.formats.circuit_file import circuit_from_table, parse_circuit
from ullage.formats.evidence_file import evidence_from_table
from ullage.formats.recipe_file import recipe_from_table
from ullage.formats.sanity_json import fault_to_json

READERS: dict[str, tuple[str, Callable[[dict[str, Any], str], object]]] = {
    "circuit": (CIRCUIT, circuit_from_table),
    "recipe": (RECIPE, recipe_from_table),
    "evidence": (EVIDENCE, evidence_from_table),
}

LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(min_value=10**400, max_value=10**401),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["supply", "block", "strut", "main", "reservoir", "fixed", "outflow", ""]),
    st.just(datetime.date(2024, 5, 1)),
)
GARBAGE = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(
                ["best", "low", "high", "spread_pct", "as", "id", "um", "x", "volume_l"]
            ),
            inner,
            max_size=3,
        ),
    ),
    max_leaves=6,
)


def places(table: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Yield the way to every value within a table of tables."""
    items: Iterator[tuple[str | int, object]] = iter(())
    if isinstance(table, dict):
        items = iter(table.items())
    elif isinstance(table, list):
        items = iter(enumerate(table))
    for name, value in items:
        yield (*path, name)
        yield from places(value, (*path, name))


def changed(table: dict[str, Any], path: tuple[str | int, ...], value: object) -> dict[str, Any]:
    """Return a copy of a table of tables with one value changed."""
    found = copy.deepcopy(table)
    inner: Any = found
    for name in path[:-1]:
        inner = inner[name]
    inner[path[-1]] = value
    return found


def faults_or_none(read: Callable[[], object]) -> list[Fault] | None:
    """Return the faults for which a file is refused, or None where it is read."""
    try:
        read()
    except FileFaults as refused:
        return list(refused.faults)
    return None


@pytest.mark.parametrize("kind", READERS)
@settings(max_examples=120)
@given(data=st.data())
def test_garbage_in_any_field_gives_faults(kind: str, data: st.DataObject) -> None:
    """The file is read, or refused with faults that can be said and written as JSON."""
    text, read = READERS[kind]
    table = tomllib.loads(text)
    path = data.draw(st.sampled_from(list(places(table))))
    value = data.draw(GARBAGE)
    found = faults_or_none(lambda: read(changed(table, path, value), "garbage"))

    assert found is None or all(fault.sentence() for fault in found)
    assert found != []
    json.dumps([fault_to_json(fault) for fault in found or ()], allow_nan=False)


@settings(max_examples=60)
@given(data=st.data())
def test_two_spoilt_fields_give_faults_too(data: st.DataObject) -> None:
    """What takes the place of one bad value does not break on another."""
    table = tomllib.loads(CIRCUIT)
    for _ in range(2):
        path = data.draw(st.sampled_from(list(places(table))))
        table = changed(table, path, data.draw(GARBAGE))

    assert faults_or_none(lambda: circuit_from_table(table, "garbage")) != []


@settings(max_examples=60)
@given(data=st.data())
def test_a_missing_piece_gives_faults(data: st.DataObject) -> None:
    """Any key, table or entry may be left out: the file is read or refused, never half read."""
    table = tomllib.loads(CIRCUIT)
    path = data.draw(st.sampled_from(list(places(table))))
    inner: Any = table
    for name in path[:-1]:
        inner = inner[name]
    del inner[path[-1]]

    assert faults_or_none(lambda: circuit_from_table(table, "cut")) != []


@settings(max_examples=60)
@given(cut=st.integers(0, len(CIRCUIT)), text=st.text(max_size=12))
def test_a_spoilt_text_gives_faults(cut: int, text: str) -> None:
    """A file that was cut off or scribbled into is refused with a place, or read."""
    spoilt = CIRCUIT[:cut] + text + CIRCUIT[cut + 3 :]

    assert faults_or_none(lambda: parse_circuit(spoilt, "scribbled")) != []
