"""Keys of sums: values with units, lists, words, limits and what is said of nonsense."""

from __future__ import annotations

import pytest

from ullage.errors import OutOfRange
from ullage.sums.key import Key, Kind, Unread, nearest_name
from ullage.units.suffixes import suffix

BORE = Key(name="bore_mm", meaning="bore", above=0.0, high=254.0)
DRAINED = Key(name="drained_l", meaning="litres", kind=Kind.NUMBERS, low=0.0, high=50.0)
COUNT = Key(name="n4_per_ml", meaning="count", kind=Kind.COUNT, low=0.0, own_unit=True)
RULE = Key(
    name="rule",
    meaning="rule",
    kind=Kind.CHOICE,
    choices=("astm", "arrhenius"),
    accepts=(("svante", "arrhenius"),),
)


def test_the_inner_name_carries_the_si_unit() -> None:
    """A formula never sees millimetres."""
    assert BORE.si_name == "bore_m"
    assert Key(name="u_pct", meaning="u").si_name == "u_vfrac"
    assert COUNT.si_name == "n4_per_ml"
    assert Key(name="c", meaning="c").si_name == "c"


@pytest.mark.parametrize("text", ["10", "10 mm", "1 cm", " 10 ", "0.01 m"])
def test_one_value_many_ways(text: str) -> None:
    """Bare or with a unit, the formula gets metres."""
    assert BORE.read(text) == pytest.approx(0.01)


def test_a_limit_holds_in_every_unit() -> None:
    """Ten inches are just allowed, in inches as in millimetres."""
    assert BORE.read("10 in") == pytest.approx(0.254)
    with pytest.raises(OutOfRange, match=r"at most 254 mm, got 254\.254 mm"):
        BORE.read("10.01 in")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4", (0.004,)),
        ("4,4.5, 5", (0.004, 0.0045, 0.005)),
        ("1,2 us_gal", (0.003785411784, 0.007570823568)),
        ("1 l,500 ml", (0.001, 0.0005)),
    ],
)
def test_a_list_has_one_unit_for_all_or_one_for_each(
    text: str, expected: tuple[float, ...]
) -> None:
    """A unit behind the last value is the unit of all."""
    assert DRAINED.read(text) == pytest.approx(expected)


@pytest.mark.parametrize("text", ["1,,2", "1,", "1 l,2,3 ml", "1;2", "1,x"])
def test_a_list_that_is_not_clear_is_refused(text: str) -> None:
    """Gaps, mixed units and other signs between the values."""
    with pytest.raises(OutOfRange, match="drained_l"):
        DRAINED.read(text)


def test_each_value_of_a_list_has_the_limits() -> None:
    """One bad value spoils the list."""
    with pytest.raises(OutOfRange, match="from 0 to 50 l, got -1 l"):
        DRAINED.read("1,-1")


def test_too_long_a_list_is_refused() -> None:
    """Nobody types ten thousand values."""
    with pytest.raises(OutOfRange, match="at most 10000"):
        DRAINED.read("1," * 10_000 + "1")


def test_a_count_may_be_a_dash_or_a_star() -> None:
    """Not counted, or too many."""
    assert COUNT.read("-") is Unread.NOT_COUNTED
    assert COUNT.read("*") is Unread.TOO_MANY


@pytest.mark.parametrize("bound", [0.01, 0.07, 0.64, 1.3, 160.0, 2_500_000.0])
def test_a_count_keeps_its_last_digit(bound: float) -> None:
    """A printed bound must compare as equal, so it is never carried through SI."""
    assert COUNT.read(f"{bound}") == bound


def test_words_are_read_in_any_case_and_by_their_other_name() -> None:
    """And a near miss is named."""
    assert RULE.read("Arrhenius") == "arrhenius"
    assert RULE.read("svante") == "arrhenius"
    with pytest.raises(OutOfRange, match="did you mean arrhenius"):
        RULE.read("arhenius")


def test_half_a_tank_is_refused() -> None:
    """Whole numbers have no fraction."""
    tanks = Key(name="tanks", meaning="tanks", kind=Kind.WHOLE, low=1, high=10)

    assert tanks.read("3") == 3
    assert isinstance(tanks.read("3.0"), int)
    with pytest.raises(OutOfRange, match="a whole number"):
        tanks.read("2.5")


def test_nothing_is_not_a_number() -> None:
    """An empty value is said to be empty."""
    with pytest.raises(OutOfRange, match="bore_mm must be a number, got nothing"):
        BORE.read("  ")


def test_limits_in_words() -> None:
    """What a help screen shows."""
    assert BORE.limits_in_words() == "above 0 to 254 mm"
    assert RULE.limits_in_words() == "astm | arrhenius"
    assert Key(name="x", meaning="x").limits_in_words() == ""


def test_a_name_without_suffix_may_have_a_unit() -> None:
    """Names of the contract are fixed; their units are said apart."""
    litres = Key(name="litres", meaning="litres", unit=suffix("l"), si_name="through_m3")

    assert litres.read("2 us_gal") == pytest.approx(0.007570823568)
    assert litres.shown_unit == "l"


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("nu1", "nu1_mm2_s"),
        ("nu1_mm2", "nu1_mm2_s"),
        ("T1_DEGC", "t1_degc"),
        ("at", "at_degc"),
        ("zzz", None),
    ],
)
def test_the_nearest_name_is_found(typed: str, expected: str | None) -> None:
    """Slips and abbreviations lead to a name; noise does not."""
    assert nearest_name(typed, ["t1_degc", "nu1_mm2_s", "at_degc"]) == expected
