"""Factors, suffixes and caveats: what a number means."""

from __future__ import annotations

import pytest

from ullage.errors import NotFound, OutOfRange
from ullage.units import convert
from ullage.units.caveat import Caveat, only_where_true
from ullage.units.suffixes import SUFFIXES, suffix, suffix_of


@pytest.mark.parametrize(
    ("name", "bracket"),
    [
        ("volume_m3", "m3"),
        ("rho_kg_m3", "kg/m3"),
        ("flow_m3_s", "m3/s"),
        ("nu_m2_s", "m2/s"),
        ("velocity_m_s", "m/s"),
        ("mu_pa_s", "Pa s"),
        ("cp_j_kg_k", "J/(kg K)"),
        ("ua_w_k", "W/K"),
        ("alpha_per_k", "1/K"),
        ("rise_dk", "K"),
        ("pressure_abs_pa", "Pa"),
        ("flow_l_min", "l/min"),
        ("at_degc", "degC"),
    ],
)
def test_the_longest_suffix_wins(name: str, bracket: str) -> None:
    """A density is no volume and a viscosity no velocity."""
    found = suffix_of(name)

    assert found is not None
    assert found.bracket == bracket


@pytest.mark.parametrize("name", ["cycles", "total", "grams", "rem"])
def test_plain_words_carry_no_unit(name: str) -> None:
    """A word that merely ends in a letter of a unit is a plain number."""
    assert suffix_of(name) is None


@pytest.mark.parametrize("text", SUFFIXES)
def test_every_unit_turns_into_si_and_back(text: str) -> None:
    """Conversion is its own inverse, and the SI row exists."""
    row = suffix(text)

    assert row.from_si(row.to_si(37.5)) == pytest.approx(37.5)
    assert SUFFIXES[row.si].is_si


@pytest.mark.parametrize(
    ("text", "value", "si"),
    [
        ("us_qt", 7.5, 7.09764709e-3),
        ("imp_gal", 1.0, 4.54609e-3),
        ("psi", 1000.0, 6894757.293),
        ("inhg", 29.92, 101320.76),
        ("degf", 212.0, 373.15),
        ("degc", -40.0, 233.15),
        ("l_min", 60.0, 1e-3),
    ],
)
def test_factors_match_published_ones(text: str, value: float, si: float) -> None:
    """Conversions of NIST SP 811, to the figures printed there."""
    assert suffix(text).to_si(value) == pytest.approx(si, rel=1e-6)


def test_an_unknown_suffix_is_named() -> None:
    """A unit nobody declared is refused."""
    with pytest.raises(NotFound, match="furlong"):
        suffix("furlong")


def test_gauge_and_absolute_pressure_are_one_atmosphere_apart() -> None:
    """Zero on the gauge is the atmosphere, and back."""
    assert convert.absolute_pa_from_gauge_bar(0.0) == 101325.0
    assert convert.gauge_bar_from_absolute_pa(101325.0) == 0.0


@pytest.mark.parametrize("pressure_bar", [-1.1, float("nan")])
def test_less_than_nothing_is_refused(pressure_bar: float) -> None:
    """No gauge reads below a perfect vacuum."""
    with pytest.raises(OutOfRange, match="vacuum"):
        convert.absolute_pa_from_gauge_bar(pressure_bar)


def test_below_absolute_zero_is_refused() -> None:
    """-300 degC is a slip of the pen."""
    with pytest.raises(OutOfRange, match="absolute zero"):
        convert.kelvin_from_degc(-300.0)


def test_only_true_caveats_are_kept_in_order() -> None:
    """Conditions choose, the order stays."""
    a, b, c = (Caveat(code=code, text=code) for code in "abc")

    assert only_where_true((True, a), (False, b), (True, c)) == (a, c)
