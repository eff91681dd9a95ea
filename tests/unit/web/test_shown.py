"""Sentences of the core, sources and bands, as a page sets them."""

from __future__ import annotations

import pytest

from ullage.jobs.forecast import Band
from ullage.web.entry_lines import band_text
from ullage.web.shown import MINUS, NBSP, Units, fine, source


@pytest.mark.parametrize(
    ("text", "set_"),
    [
        ("from -16 degC on", f"from {MINUS}16_\N{DEGREE SIGN}C on"),
        ("5.41 l belong, 9.2 l/min", "5.41_L belong, 9.2_L/min"),
        ("10 um, 4 um(c)", "10_\N{GREEK SMALL LETTER MU}m, 4_\N{GREEK SMALL LETTER MU}m(c)"),
        ("good until 2027-09-01", "good until 1 September 2027"),
        ("lot 2027-09-01-4, 2024-02-31", "lot 2027-09-01-4, 2024-02-31"),
        ("rear-left 1, code 20/18/15", "rear-left 1, code 20/18/15"),
        ("20 \N{PLUS-MINUS SIGN} 4 % old", "20 \N{PLUS-MINUS SIGN}_4_% old"),
    ],
)
def test_a_sentence_is_set_with_signs_and_whole_figures(text: str, set_: str) -> None:
    """Units by their signs, dates in words, and nothing else touched."""
    assert fine(text).replace(NBSP, "_") == set_


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("iso-23309-2016", "ISO 23309:2016"),
        ("din-51524-2", "DIN 51524-2"),
        ("astm-d341", "ASTM D341"),
        ("stokes-1851", "Stokes 1851"),
        ("common practice, no source", "common practice, no source"),
        ("papers of the machine", "papers of the machine"),
        ("din-51524-2, scaled (ours, no source)", "DIN 51524-2, scaled; ours, no source"),
    ],
)
def test_a_source_is_told_as_it_is_looked_for(key: str, told: str) -> None:
    """A standard by its number and year, a book by its author."""
    assert source(key) == told


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        (0.0010, 0.0012, "1.0\N{EN DASH}1.2_L"),
        (0.00246, 0.00263, "2.5\N{EN DASH}2.6_L"),
        (0.0, 0.002, "0\N{EN DASH}2_L"),
    ],
)
def test_both_ends_of_a_band_are_equally_exact(low: float, high: float, told: str) -> None:
    """No end loses its decimal alone."""
    assert band_text(Band(low=low, middle=low, high=high), "l", Units()).replace(NBSP, "_") == told
