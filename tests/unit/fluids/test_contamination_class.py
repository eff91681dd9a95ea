"""Classes: worst size, letters, the ends of the tables, and counts that cannot be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.contamination_class import as4059_class, nas1638_class
from ullage.fluids.tables import load_table

ORDER = [*load_table("as4059").texts("class"), ">12"]


@given(
    counts=st.lists(st.floats(0.0, 1e8), min_size=6, max_size=6).map(
        lambda n: sorted(n, reverse=True)
    ),
    factor=st.floats(1.0, 10.0),
)
def test_more_dirt_never_makes_a_better_class(counts: list[float], factor: float) -> None:
    """Multiplying every count never lowers the class."""
    clean = as4059_class(dict(zip("abcdef", counts, strict=True))).overall
    dirty = as4059_class(dict(zip("abcdef", [n * factor for n in counts], strict=True))).overall

    assert ORDER.index(clean) <= ORDER.index(dirty)


def test_the_worst_size_decides() -> None:
    """One dirty size makes the class of the sample."""
    found = as4059_class({"b": 300.0, "c": 200.0, "d": 39.0})

    assert found.by_size == {"b": "0B", "c": "2C", "d": "2D"}
    assert found.overall == "2"
    assert found.designation == "2B-D"


def test_letters_that_are_no_neighbours_are_all_named() -> None:
    """A range is only written for sizes that stand side by side."""
    assert as4059_class({"a": 100.0, "c": 10.0}).designation == "000AC"
    assert as4059_class({"b": 70.0}).designation == "000B"


def test_dirtier_than_the_table_is_an_answer_with_a_caveat() -> None:
    """A very dirty sample is no error."""
    found = nas1638_class([2e6, 0, 0, 0, 0])

    assert found.overall == ">12"
    assert [caveat.code for caveat in found.caveats] == ["above-table"]


def test_nothing_counted_is_the_cleanest_class() -> None:
    """No particles at all is class 00, or 000 above sizes."""
    assert nas1638_class([0] * 5).overall == "00"
    assert as4059_class(dict.fromkeys("abcdef", 0.0)).overall == "000"


@pytest.mark.parametrize(
    "counts", [{}, {"g": 1.0}, {"a": -1.0}, {"a": 10.0, "b": 20.0}, {"a": float("nan")}]
)
def test_counts_that_cannot_be_are_refused(counts: dict[str, float]) -> None:
    """Nothing, unknown sizes, negative counts and counts that rise with size have no class."""
    with pytest.raises(OutOfRange):
        as4059_class(counts)


@pytest.mark.parametrize("counts", [[1, 2, 3], [1, 2, 3, 4, -5], []])
def test_five_ranges_are_five_counts(counts: list[float]) -> None:
    """A class of all ranges needs all of them."""
    with pytest.raises(OutOfRange):
        nas1638_class(counts)
