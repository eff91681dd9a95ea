"""Laws of the circuit page: a table survives the form, and the form survives the table."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.laws.strategies import circuits
from ullage.circuit.catalogue import Template, circuit_templates
from ullage.circuit.network import Circuit
from ullage.formats.circuit_file import circuit_from_table
from ullage.formats.circuit_json import circuit_to_json
from ullage.formats.circuit_toml import circuit_to_toml
from ullage.web.circuit_fields import moved, rows_of, tidied, with_part, without_part
from ullage.web.circuit_form import table_of, texts_of
from ullage.web.shown import Units

_METRIC = Units()
_OTHERS = Units(volume="us_qt", temperature="degf", pressure="psi", distance="mile")
_TEMPLATES = pytest.mark.parametrize("template", circuit_templates(), ids=lambda one: one.name)


@_TEMPLATES
def test_a_built_in_table_survives_the_form(template: Template) -> None:
    """All that a built-in file says stands in the form, and comes back from it digit by digit."""
    table = tomllib.loads(template.text)

    assert table_of(texts_of(table, _METRIC), _METRIC).table == table


@_TEMPLATES
def test_a_form_survives_the_table(template: Template) -> None:
    """A form that was turned into a table and back says the same."""
    texts = texts_of(tomllib.loads(template.text), _METRIC)

    assert texts_of(table_of(texts, _METRIC).table, _METRIC) == texts


@_TEMPLATES
def test_a_table_survives_a_form_in_other_units(template: Template) -> None:
    """Quarts, degrees Fahrenheit and psi on the page leave the numbers of the file as they were."""
    table = tomllib.loads(template.text)

    assert table_of(texts_of(table, _OTHERS), _OTHERS).table == table


@given(circuit=circuits())
@settings(max_examples=25)
def test_a_drawn_circuit_survives_the_form(circuit: Circuit) -> None:
    """A circuit that is written into the form and read from it is the same circuit."""
    table = circuit_to_json(circuit)
    written = table_of(texts_of(table, _METRIC), _METRIC)

    assert written.faults == ()
    assert circuit_from_table(written.table, "drawn") == circuit_from_table(table, "drawn")


@given(circuit=circuits(spread=True))
@settings(max_examples=25)
def test_a_circuit_with_spreads_survives_form_and_file(circuit: Circuit) -> None:
    """Low, best and high come back from the fields, and from the text of a file."""
    before = circuit_to_json(circuit)
    table = table_of(texts_of(before, _METRIC), _METRIC).table

    assert tomllib.loads(circuit_to_toml(table)) == before


@_TEMPLATES
def test_a_file_that_is_handed_out_reads_back_as_the_same_table(template: Template) -> None:
    """The comments that an exported file bears change nothing that it says."""
    table = tomllib.loads(template.text)

    assert tomllib.loads(circuit_to_toml(table)) == table


@given(circuit=circuits(), data=st.data())
@settings(max_examples=25)
def test_adding_moving_and_removing_a_part_touches_no_other(
    circuit: Circuit, data: st.DataObject
) -> None:
    """Adding a part and taking it away again, or moving it up and down, changes nothing."""
    texts = texts_of(circuit_to_json(circuit), _METRIC)
    kind = data.draw(st.sampled_from(["line", "node", "path", "leg"]))
    count = len(rows_of(texts, kind))
    number = data.draw(st.integers(1, max(count, 1)))

    assert tidied(texts) == texts
    assert without_part(with_part(texts, kind), kind, count + 1) == texts
    assert moved(moved(texts, kind, number, 1), kind, number + 1, -1) == texts or number == count
