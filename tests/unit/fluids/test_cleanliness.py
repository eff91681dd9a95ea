"""Particle codes: boundaries, marks, written codes, targets, and sizes on two scales."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.cleanliness import (
    NOT_COUNTED,
    TOO_MANY,
    Bound,
    acftd_size_um,
    certified_size_um,
    code_from_counter,
    code_from_microscope,
    parse_code,
    scale_number,
    usual_target,
)

COUNTS = st.floats(min_value=0.0, max_value=1e7)
PARTS = st.lists(st.integers(0, 28), min_size=3, max_size=3).map(lambda n: sorted(n, reverse=True))


@given(first=COUNTS, second=COUNTS)
def test_more_particles_never_make_a_smaller_code(first: float, second: float) -> None:
    """The scale rises with the count, past its own end as well."""
    fewer, more = sorted((first, second))
    small, large = scale_number(fewer), scale_number(more)

    assert (small.bound is Bound.ABOVE_TABLE, small.number) <= (
        large.bound is Bound.ABOVE_TABLE,
        large.number,
    )


@given(numbers=PARTS, marked=st.booleans(), dash=st.booleans())
def test_a_written_code_is_read_back_as_it_was(
    numbers: list[int], marked: bool, dash: bool
) -> None:
    """Show then parse then show changes nothing."""
    first = "-" if dash else str(numbers[0])
    text = f"{first}/{numbers[1]}/{'>=' if marked else ''}{numbers[2]}"

    assert parse_code(text).text == text
    assert parse_code(parse_code(text).text) == parse_code(text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("18/13", "-/18/13"),
        (" 18 / 16 / 13 ", "18/16/13"),
        ("\N{MINUS SIGN}/18/\N{GREATER-THAN OR EQUAL TO}13", "-/18/>=13"),
        ("*/18/13", "*/18/13"),
        (">28/20/13", ">28/20/13"),
    ],
)
def test_codes_are_read_as_people_write_them(text: str, shown: str) -> None:
    """Two parts, blanks, printed minus signs and stars are understood."""
    assert parse_code(text).text == shown


@pytest.mark.parametrize(
    "text", ["", "18", "18/16/13/11", "13/16/18", "18/x/13", "18/16/29", ">20/16/13", "-1/2/1"]
)
def test_what_is_no_code_is_refused(text: str) -> None:
    """Too many parts, rising numbers, letters and numbers off the scale are no codes."""
    with pytest.raises(OutOfRange, match="code must be"):
        parse_code(text)


def test_few_raw_counts_are_marked_and_said() -> None:
    """Nineteen particles leave the number open upwards; twenty do not."""
    few = code_from_counter(150, 25, 1.0, raw4=900, raw6=150, raw14=19)
    enough = code_from_counter(150, 25, 1.0, raw4=900, raw6=150, raw14=20)

    assert few.text == "14/12/>=7"
    assert enough.text == "14/12/7"
    assert "few-counts" in [caveat.code for caveat in few.caveats]
    assert [caveat.code for caveat in enough.caveats] == ["below-8"]


def test_unknown_raw_counts_are_said() -> None:
    """A code made without raw counts can't show that one of its sizes rests on few."""
    assert [c.code for c in code_from_counter(9000, 2400, 180).caveats] == ["raw-counts-unknown"]


def test_a_larger_size_never_has_more_particles() -> None:
    """Counts include all larger particles, so a rise is a mix-up."""
    with pytest.raises(OutOfRange, match="n14_per_ml must be from 0 to 25"):
        code_from_counter(150, 25, 26)
    with pytest.raises(OutOfRange, match="n15_per_ml"):
        code_from_microscope(10, 20)


def test_a_size_that_was_not_counted_is_a_dash_or_a_star() -> None:
    """The other sizes still make a code."""
    assert code_from_counter(NOT_COUNTED, 2000, 60).text == "-/18/13"
    assert code_from_counter(TOO_MANY, 2000, 60).text == "*/18/13"


@pytest.mark.parametrize(
    ("code", "met"),
    [
        ("18/16/13", True),
        ("17/16/>=13", True),
        ("19/16/13", False),
        ("-/16/13", False),
        (">28/16/13", False),
    ],
)
def test_a_target_is_met_by_every_size_or_not_at_all(code: str, met: bool) -> None:
    """One size above its target, or not counted, and the target is missed."""
    assert parse_code(code).meets(parse_code("18/16/13")) is met


def test_a_two_part_target_asks_for_two_sizes() -> None:
    """A dash in the target leaves that size open."""
    assert parse_code("22/16/13").meets(parse_code("16/13"))


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_counts_that_cannot_be_are_refused(bad: float) -> None:
    """Negative counts and counts that are no numbers have no code."""
    with pytest.raises(OutOfRange):
        scale_number(bad)


@given(size=st.floats(min_value=4.3, max_value=100.0))
def test_sizes_go_there_and_back(size: float) -> None:
    """Above the pair that is printed twice, either scale leads back to where it came from."""
    assert acftd_size_um(certified_size_um(size)) == pytest.approx(size, abs=1e-9)


def test_a_size_printed_twice_gives_the_larger() -> None:
    """5.1 um(c) stands for 2.7 and for 3 um; the pair of the standard is 3."""
    assert acftd_size_um(5.1) == 3.0
    assert certified_size_um(2.7) == 5.1


def test_sizes_off_the_table_are_refused() -> None:
    """Nothing is extrapolated."""
    with pytest.raises(OutOfRange, match="from 1 to 100 um"):
        certified_size_um(101.0)


def test_the_usual_targets_tighten_with_the_clearance() -> None:
    """Finer parts ask for cleaner fluid; the words of the table are known by name."""
    assert usual_target("fine").meets(usual_target("ordinary"))
    assert usual_target("ordinary").meets(usual_target("roomy"))
    assert usual_target("ordinary").text == "18/16/13"
