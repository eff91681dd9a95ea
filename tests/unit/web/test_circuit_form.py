"""Each fault of a circuit stands beside the field that it is about, and what was typed stays."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from ullage.formats.circuit_keys import CIRCUIT
from ullage.jobs.add_machine import template_table
from ullage.web.circuit_fields import slots
from ullage.web.circuit_form import fields_of, judged, place_told, table_of, texts_of
from ullage.web.shown import Units

_METRIC = Units()


def _texts(**typed: str) -> dict[str, str]:
    """Return the van's form with some fields typed over; ``__`` stands for a point."""
    texts = texts_of(template_table("levelling-van"), _METRIC)
    return {**texts, **{name.replace("__", "."): text for name, text in typed.items()}}


def _faults(texts: dict[str, str]) -> dict[str, str]:
    _, written = judged(memory_desk(), texts, _METRIC)
    found: dict[str, str] = {}
    for one in written.faults:
        found[one.field] = f"{found.get(one.field, '')} {one.sentence}".strip()
    return found


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("leg.1.line.bore_mm.best", "-8", "above 0"),
        ("leg.1.line.bore_mm.best", "eight", "This must be a number"),
        ("leg.1.line.bore_mm.spread", "many", "This must be"),
        ("leg.2.at", "valve-blok", 'did you mean "valve-block"?'),
        ("reservoir.minimum_l.best", "9", "is above full_l"),
        ("path.1.divert_after", "nowhere", "is not on this path"),
        ("fluid.class", "XX", "none of the words"),
        ("fluid.particles_per_ml", "9000, 2400", "a list of 3 numbers"),
        ("line.1.id", "Suction Hose", "lower-case letters"),
        ("line.2.fittings", "1.5", "whole number"),
        ("limits.target_code", "clean", "written as it should be"),
        ("node.4.beta.um", "-1", "above 0"),
    ],
)
def test_a_fault_stands_beside_its_field(field: str, text: str, says: str) -> None:
    """What can't be right is named where it was typed, in a sentence that need not say where."""
    found = _faults({**_texts(), field: text})

    assert says in found.get(field, f"nothing there, but {found}")


def test_several_faults_come_at_once_and_a_wrong_number_is_told_once() -> None:
    """A text that is no number has one sentence; the others are judged beside it."""
    texts = _texts(leg__1__stroke_l__best="much", pump__idle_rev_min="0", leg__3__at="")
    _, written = judged(memory_desk(), texts, _METRIC)

    assert sorted(one.field for one in written.faults) == [
        "leg.1.stroke_l.best",
        "leg.3.at",
        "pump.idle_rev_min",
    ]


def test_two_parts_of_one_name_are_both_marked() -> None:
    """Nobody can say which of the two is wrong, so both fields bear the sentence."""
    found = _faults(_texts(node__2__id="pump-body"))

    assert {"node.1.id", "node.2.id"} <= set(found)


def test_a_number_with_another_unit_is_turned_into_the_file_s() -> None:
    """5/16 in is 7.9375 mm and 1 us_qt is 0.946352946 l."""
    texts = _texts(leg__1__line__bore_mm__best="5/16 in", node__1__volume_l__best="1 us_qt")
    table = table_of(texts, _METRIC).table

    assert table["leg"][0]["line"]["bore_mm"]["best"] == 7.9375
    assert table["node"][0]["volume_l"]["best"] == 0.946352946


def test_a_bare_number_is_in_the_person_s_own_unit() -> None:
    """Who chose US quarts reads and types quarts."""
    own = Units(volume="us_qt")
    texts = texts_of(template_table("levelling-van"), own)

    assert texts["reservoir.full_l.best"] == "2.958726986"
    assert (
        table_of({**texts, "reservoir.full_l.best": "3"}, own).table["reservoir"]["full_l"]["best"]
        == 2.83905884
    )


def test_tables_that_are_left_empty_are_not_there() -> None:
    """Heat and new fluid may be missing; a reservoir may not, and says key by key what it needs."""
    texts = {
        name: text
        for name, text in _texts().items()
        if not name.startswith(("heat.", "new_fluid.", "reservoir."))
    }
    table = table_of(texts, _METRIC).table

    assert {"heat", "new_fluid"}.isdisjoint(table)
    assert table["reservoir"] == {}
    assert {"reservoir.full_l.best", "reservoir.minimum_l.best"} <= set(_faults(texts))


@pytest.mark.parametrize(
    ("key", "field"),
    [
        ("name", "name"),
        ("reservoir", "reservoir.full_l.best"),
        ("leg[front-left]", "leg.1.id"),
        ("leg[2].stroke_l.low", "leg.2.stroke_l.low"),
        ("leg[front-left].line.length_m.spread_pct", "leg.1.line.length_m.spread"),
        ("leg[front-left].gas", "leg.1.gas.volume_l.best"),
        ("fluid.particles_per_ml[2]", "fluid.particles_per_ml"),
    ],
)
def test_a_place_in_a_file_is_a_field_of_the_page(key: str, field: str) -> None:
    """Places are found by id, by number where a part has no id, and within lists and tables."""
    assert fields_of(key, {"leg.1.id": "front-left", "leg.2.id": ""}) == (field,)


def test_a_place_without_a_field_has_none() -> None:
    """Syntax and formats are no field's fault."""
    assert fields_of("format", {}) == ()


def test_every_key_of_the_file_has_a_place_in_words() -> None:
    """No field is called by nothing but its table."""
    for part in CIRCUIT.tables:
        for slot in slots(part):
            place = f"{part.name}.1" if part.many else part.name

            assert slot.words in place_told(f"{place}.{slot.name}{slot.inputs[0]}")
