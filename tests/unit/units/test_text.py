"""Numbers that people type: units they know, units that mean two things, and nonsense."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.units.suffixes import SUFFIXES, Suffix, suffix
from ullage.units.text import TARGETS, si_from_text, si_from_text_in, text_from_si


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        ("7.5 us_qt", "volume_l", 0.00709764709),
        ("1200 psi", "pressure_bara", 8273708.75),
        ("80 degF", "at_degc", 299.816667),
        ("0.25 in", "bore_mm", 0.00635),
        ("3/8 in", "bore_mm", 0.009525),
        ("2 us_gal/min", "flow_l_min", 1.2618039e-4),
        ("2 US gpm", "flow_l_min", 1.2618039e-4),
        ("46 cSt", "nu_mm2_s", 4.6e-5),
        ("46 mm\N{SUPERSCRIPT TWO}/s", "nu_mm2_s", 4.6e-5),
        ("80 \N{DEGREE SIGN}F", "at_degc", 299.816667),
        ("80 F", "at_degc", 299.816667),
        ("5 \N{MICRO SIGN}m", "diameter_um", 5e-6),
        ("0.87 g/cm3", "rho15_kg_m3", 870.0),
        ("1.9 kJ/(kg K)", "cp_j_kg_k", 1900.0),
        ("150 per ml", "n4_per_ml", 1.5e8),
        ("1000 rpm", "speed_rev_min", 16.6666667),
        ("15 cc/rev", "displacement_ml_rev", 1.5e-5),
        ("20 %", "u_pct", 0.2),
        ("20", "u_pct", 0.2),
        ("12", "flow_l_min", 2e-4),
        ("-5", "at_degc", 268.15),
        ("1e3", "volume_l", 1.0),
        ("5", "cycles", 5.0),
        ("5 %", "share", 0.05),
        ("2 US fluid ounces", "volume_l", 5.9147059e-5),
        ("1 imperial gallon", "volume_l", 4.54609e-3),
        ("72 MPa", "dp_bar", 7.2e7),
    ],
)
def test_a_number_with_its_unit_becomes_si(text: str, key: str, expected: float) -> None:
    """Units of the trade, spelled as people spell them."""
    assert si_from_text(text, key=key) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "key", "named"),
    [
        ("3 gal", "volume_l", "us_gal (3.785 l) or imp_gal (4.546 l)"),
        ("3 gallons", "volume_l", "us_gal (3.785 l) or imp_gal (4.546 l)"),
        ("3 qt", "volume_l", "us_qt (0.946 l) or imp_qt (1.137 l)"),
        ("3 Quarts", "volume_l", "us_qt (0.946 l) or imp_qt (1.137 l)"),
        ("3 pt", "volume_l", "us_pt (0.473 l) or imp_pt (0.568 l)"),
        ("3 pints", "volume_l", "us_pt (0.473 l) or imp_pt (0.568 l)"),
        ("3 oz", "volume_l", "us_fl_oz (29.57 ml) or imp_fl_oz (28.41 ml)"),
        ("3 fl oz", "volume_l", "us_fl_oz (29.57 ml) or imp_fl_oz (28.41 ml)"),
        ("3 oz", "gain_test_mg", "or g where a mass is meant"),
        ("2 gal/min", "flow_l_min", "us_gal (3.785 l) or imp_gal (4.546 l)"),
        ("2 gpm", "flow_l_min", "us_gal/min (3.785 l/min) or imp_gal/min (4.546 l/min)"),
    ],
)
def test_a_unit_with_two_meanings_is_refused_by_name(text: str, key: str, named: str) -> None:
    """A gallon is 3.8 or 4.5 litres: the sentence names both instead of choosing one."""
    with pytest.raises(OutOfRange, match="is ambiguous") as caught:
        si_from_text(text, key=key)

    assert named in str(caught.value)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("", "volume_l", "a number, alone (then in l) or with a unit of volume"),
        ("abc", "volume_l", "a number"),
        ("5 bar", "volume_l", "bar is no unit of volume"),
        ("5 l", "cycles", "a plain number without a unit"),
        ("7,5", "volume_l", "use a point as decimal mark"),
        ("1,000", "volume_l", "use a point as decimal mark"),
        ("1.2.3", "volume_l", "a number"),
        ("nan", "volume_l", "a finite number"),
        ("-Infinity l", "volume_l", "a finite number"),
        ("1e400", "volume_l", "a finite number"),
        ("1e300 km3", "volume_l", "a finite number"),
        ("3/0 in", "bore_mm", "a number"),
        ("5 m**9999", "volume_l", "is not a unit known here"),
        ("5 __import__", "volume_l", "is not a unit known here"),
        ("5 wibble", "volume_l", "is not a unit known here"),
        ("5 " + "l" * 80, "volume_l", "a number"),
        ("\N{ARABIC-INDIC DIGIT FIVE}", "volume_l", "a number"),
        ("1_000", "volume_l", "is not a unit known here"),
        ("5 psia", "dp_bar", "subtract the atmosphere"),
        ("5 bar", "rise_dk", "a difference is in K, degC or degF"),
    ],
)
def test_nonsense_gets_a_sentence(text: str, key: str, said: str) -> None:
    """What is no quantity of the right kind is refused, with what may be typed."""
    with pytest.raises(OutOfRange) as caught:
        si_from_text(text, key=key)

    assert said in str(caught.value)
    assert str(caught.value).startswith(key)


def test_a_gauge_pressure_gains_an_atmosphere_where_absolute_is_wanted() -> None:
    """60 bar on the gauge is 61 absolute; a difference stays 60."""
    assert si_from_text("60 barg", key="pressure_bara") == pytest.approx(61.01325e5)
    assert si_from_text("870 psig", key="pressure_bara") == pytest.approx(60.9971e5, rel=1e-5)
    assert si_from_text("60 barg", key="dp_bar") == pytest.approx(60e5)
    assert si_from_text("0 bara", key="pressure_bara") == 0.0


def test_a_difference_of_temperature_has_no_offset() -> None:
    """9 degF are 5 K apart, whatever the scale starts at."""
    assert si_from_text("9 degF", key="rise_dk") == pytest.approx(5.0)


@given(
    value=st.floats(min_value=1e-6, max_value=1e6),
    unit=st.sampled_from([row for row in SUFFIXES.values() if row.si not in ("dk", "s2")]),
)
def test_parse_then_show_is_identity(value: float, unit: Suffix) -> None:
    """What is shown with twelve digits is read back as the same, in every unit that is shown."""
    si = unit.to_si(value)
    shown = text_from_si(si, unit)

    assert si_from_text_in(shown, name="x", own=unit) == pytest.approx(si, rel=1e-10, abs=1e-10)
    assert text_from_si(si_from_text_in(shown, name="x", own=unit), unit, digits=9) == text_from_si(
        si, unit, digits=9
    )


def test_pint_stays_away_until_a_unit_needs_it() -> None:
    """Bare numbers and the units of our own table cost no import of pint."""
    code = (
        "import sys; from ullage.units.text import si_from_text as t; "
        "t('5', key='volume_l'); t('2 us_gal/min', key='flow_l_min'); t('3 psi', key='dp_bar'); "
        "assert 'pint' not in sys.modules; t('3 cl', key='volume_l'); assert 'pint' in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert done.returncode == 0, done.stderr


def test_the_unit_of_a_bare_number_may_be_given() -> None:
    """Names of the contract without a suffix say their unit apart."""
    assert si_from_text_in("4", name="litres", own=suffix("l")) == 0.004


def test_every_si_unit_can_be_typed_in_some_other_unit() -> None:
    """A new suffix needs a word for pint, or nobody could type its kind in another unit."""
    lacking = [row.suffix for row in SUFFIXES.values() if row.is_si and row.si not in TARGETS]

    assert lacking == ["dk"]  # differences of temperature are converted without pint
