"""What a person types becomes values in the units of our files, or a sentence beside the field."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import Conflict, OutOfRange
from ullage.web.forms import WHOLE_FORM, Field, filled, read
from ullage.web.shown import CHOICES, Units

_LITRES = Field("litres", "Poured", "number", unit="l", low=0.0, high=50.0)
_AMERICAN = Units(volume="us_qt", temperature="degf", pressure="psi", distance="mile")


@pytest.mark.parametrize(
    ("field", "text", "expected"),
    [
        (_LITRES, "7.5", 7.5),
        (_LITRES, " 7,5 ", 7.5),
        (_LITRES, "0,125", 0.125),
        (_LITRES, "750 ml", 0.75),
        (_LITRES, "4 us_qt", 3.785411784),
        (Field("at", "At", "number", unit="degc"), "-3.5", -3.5),
        (Field("at", "At", "number", unit="degc"), "68 degF", 20.0),
        (Field("share", "Share", "number", unit="pct"), "95", 95.0),
        (Field("share", "Share", "number", unit="pct"), "95 %", 95.0),
        (Field("km", "Distance", "number", unit="km"), "10 mile", 16.09344),
        (Field("people", "People", "whole"), "2", 2),
        (Field("on", "On", "date"), "2026-05-04", date(2026, 5, 4)),
        (Field("state", "State", "choice", choices=("charged", "released")), "charged", "charged"),
        (Field("note", "Note", "lines"), " a\r\nb ", "a\nb"),
        (Field("done", "Done", "flag"), "yes", True),
        (Field("done", "Done", "flag"), "", False),
    ],
)
def test_what_is_typed_becomes_a_value(field: Field, text: str, expected: object) -> None:
    """Numbers come out in the field's unit, whatever unit they were typed in."""
    typed = read((field,), {field.name: text}, Units())

    assert typed.values == {field.name: expected}


@pytest.mark.parametrize(
    ("field", "text", "part"),
    [
        (_LITRES, "much", "must be a number"),
        (_LITRES, "60", "between 0 and 50 L"),
        (_LITRES, "1,250", "Write 1250 or 1.250"),
        (_LITRES, "2 gal", "us_gal (3.785 l) or imp_gal"),
        (_LITRES, "2 bar", "no unit of volume"),
        (_LITRES, "nan", "finite"),
        (Field("people", "People", "whole"), "1.5", "whole number"),
        (Field("on", "On", "date"), "4 May", "such as 2026-05-04"),
        (Field("state", "State", "choice", choices=("charged",)), "broken", "one of charged"),
        (Field("name", "Name", "text"), "a\nb", "one line"),
        (Field("name", "Name", "text", longest=5), "longer", "at most 5 characters"),
        (Field("note", "Note", "lines"), "a\0b", "control characters"),
        (Field("name", "Name", "text", required=True), " ", "needed"),
        (Field("sure", "Sure", "flag", required=True), "", "needed"),
    ],
)
def test_what_cannot_be_right_gets_a_sentence(field: Field, text: str, part: str) -> None:
    """The sentence says what may be typed, and the text is kept."""
    typed = read((field,), {field.name: text}, Units())

    assert (part in typed.fault(field.name), typed.text(field.name)) == (True, text)


def test_a_bare_number_is_in_the_unit_of_the_person() -> None:
    """Who reads quarts types quarts, and a limit is told in quarts."""
    field = Field("litres", "Poured", "number", unit="l", high=3.785411784)

    good = read((field,), {"litres": "4"}, _AMERICAN)
    bad = read((field,), {"litres": "5"}, _AMERICAN)

    assert good.values == {"litres": 3.785411784}
    assert "at most 4 US qt" in bad.fault("litres")


@given(
    value=st.floats(-50.0, 150.0).map(lambda value: round(value, 3)),
    unit=st.sampled_from(["l", "degc", "bar", "km", "mm", "pct", ""]),
    units=st.sampled_from([Units(), _AMERICAN, Units(volume="imp_qt")]),
)
def test_a_value_that_is_shown_can_be_sent_again(value: float, unit: str, units: Units) -> None:
    """A form with known values gives the same values back when nobody touches it."""
    field = Field("it", "It", "number", unit=unit)

    shown = filled((field,), {"it": value}, units)
    again = read((field,), dict(shown.texts), units)

    assert again.values["it"] == pytest.approx(value, rel=1e-9, abs=1e-7)


def test_an_error_of_a_use_case_stands_beside_its_field() -> None:
    """The key of the error leads to the field; what fits no field belongs to the whole form."""
    typed = read((_LITRES,), {"litres": "1"}, Units())

    beside = typed.with_error(OutOfRange("poured.litres", 1, "at least 2", "pour more"))
    whole = typed.with_error(Conflict("somebody was faster"))

    assert beside.fault("litres") == "This must be at least 2, not 1. Pour more."
    assert whole.fault(WHOLE_FORM) == "Somebody was faster."


def test_a_form_keeps_its_name_when_it_is_shown_again() -> None:
    """So that sending it twice counts once; a name that we never gave is not taken."""
    kept = read((), {"uid": "0123456789abcdef"}, Units())
    refused = read((), {"uid": "../../etc"}, Units())

    assert kept.uid == "0123456789abcdef"
    assert "/" not in refused.uid


def test_a_file_in_the_place_of_a_text_is_no_text() -> None:
    """A form field that brings a file along counts as empty."""
    typed = read((_LITRES,), {"litres": object()}, Units())

    assert typed.values == {}


def test_every_unit_to_choose_has_a_word() -> None:
    """No page shows a bare suffix."""
    from ullage.web.shown import word_of

    for key, (_, choices) in CHOICES.items():
        for suffix, _words in choices:
            unit = {"volume": "l", "temperature": "degc", "pressure": "bar", "distance": "km"}[key]
            assert "_" not in word_of(unit, Units(**{key: suffix}))
