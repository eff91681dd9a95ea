"""What does a person mean by "7.5 us_qt"?

Turns a number that somebody typed, alone or with a unit, into SI. A bare number is taken in the
unit that the key carries in its name. Units that mean different things in different countries are
refused. This is the one place that knows pint, and it loads pint only for a unit that
``suffixes`` does not hold.
"""

from __future__ import annotations

import math
import re
from functools import cache
from tokenize import TokenError
from typing import TYPE_CHECKING

from ullage.errors import OutOfRange
from ullage.units import convert
from ullage.units.suffixes import SUFFIXES, Suffix, suffix_of

if TYPE_CHECKING:
    import pint

_LONGEST = 60  # characters; nobody types a longer quantity

_NUMBER = re.compile(r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)(?![0-9.,])(.*)")
_FRACTION = re.compile(r"\s*([0-9]+)/([0-9]+)(?![0-9.,])(.*)")
_NOT_A_NUMBER = re.compile(r"\s*[+-]?(nan|inf|infinity)\b", re.IGNORECASE)
_WORD = r"[A-Za-z_%][A-Za-z_]*(?:\*\*[23])?"
_UNIT = re.compile(rf"(?:1|{_WORD})(?:[*/]{_WORD})*")

# What each of these is in the United States and in Britain differs, or it is mass and volume both.
_AMBIGUOUS = {
    "gal": "us_gal (3.785 l) or imp_gal (4.546 l)",
    "gpm": "us_gal/min (3.785 l/min) or imp_gal/min (4.546 l/min)",
    "gph": "us_gal/h (3.785 l/h) or imp_gal/h (4.546 l/h)",
    "qt": "us_qt (0.946 l) or imp_qt (1.137 l)",
    "pt": "us_pt (0.473 l) or imp_pt (0.568 l)",
    "oz": "us_fl_oz (29.57 ml) or imp_fl_oz (28.41 ml), or g where a mass is meant",
    "fl_oz": "us_fl_oz (29.57 ml) or imp_fl_oz (28.41 ml)",
    "cup": "ml",
    "gill": "ml",
    "bbl": "l",
    "ton": "kg",
}
_SPELLINGS = {
    "gallon": "gal",
    "gallons": "gal",
    "quart": "qt",
    "quarts": "qt",
    "pint": "pt",
    "pints": "pt",
    "ounce": "oz",
    "ounces": "oz",
    "floz": "fl_oz",
    "fluid_ounce": "fl_oz",
    "cups": "cup",
    "gills": "gill",
    "barrel": "bbl",
    "barrels": "bbl",
    "tons": "ton",
}
# NIST SP 811 (2008), appendix B.8: 4 quarts, 8 pints, 128 US or 160 imperial fluid ounces a gallon.
_DEFINITIONS = (
    "us_gal = 231 * inch ** 3",
    "us_qt = us_gal / 4",
    "us_pt = us_gal / 8",
    "us_fl_oz = us_gal / 128",
    "imp_gal = 4.54609 * liter",
    "imp_qt = imp_gal / 4",
    "imp_pt = imp_gal / 8",
    "imp_fl_oz = imp_gal / 160",
)
TARGETS = {
    "m": "m",
    "m2": "m**2",
    "m3": "m**3",
    "kg": "kg",
    "s": "s",
    "s2": "s**2",
    "k": "K",
    "per_k": "1/K",
    "pa": "Pa",
    "pa_s": "Pa*s",
    "pa_m": "Pa/m",
    "m_s": "m/s",
    "m_s2": "m/s**2",
    "m2_s": "m**2/s",
    "m3_s": "m**3/s",
    "kg_m3": "kg/m**3",
    "kg_s": "kg/s",
    "kg_kg": "dimensionless",
    "per_m3": "1/m**3",
    "per_s": "1/s",
    "rev_s": "1/s",  # a revolution counts as one, so "rev" is struck out before
    "m3_rev": "m**3",
    "n": "N",
    "j": "J",
    "w": "W",
    "w_k": "W/K",
    "w_m2_k": "W/m**2/K",
    "j_k": "J/K",
    "j_kg_k": "J/kg/K",
    "vfrac": "dimensionless",
    "wfrac": "dimensionless",
}
_GAUGE = {
    "barg": convert.BAR_PA,
    "bar gauge": convert.BAR_PA,
    "psig": convert.PSI_PA,
    "psi gauge": convert.PSI_PA,
}
_ABSOLUTE = {
    "bara": convert.BAR_PA,
    "bar abs": convert.BAR_PA,
    "psia": convert.PSI_PA,
    "psi abs": convert.PSI_PA,
}
_DIFFERENCES_K = {"K": 1.0, "degC": 1.0, "degF": convert.DEGREE_FAHRENHEIT_K}


def si_from_text(text: str, *, key: str) -> float:
    """Return what a person typed for a key, in SI.

    The key's suffix says which unit a bare number has and which dimension is wanted.

    Raises
    ------
    OutOfRange
        If the text is no number, not finite, or its unit is unknown, ambiguous or of another kind.

    Examples
    --------
    >>> si_from_text("7.5 us_qt", key="volume_l")
    0.00709765
    >>> si_from_text("80 degF", key="at_degc")
    299.8167
    >>> si_from_text("12", key="flow_l_min")
    0.0002
    """
    return si_from_text_in(text, name=key, own=suffix_of(key))


def si_from_text_in(text: str, *, name: str, own: Suffix | None) -> float:
    """Return what a person typed, in SI, where the unit of a bare number is given.

    ``own`` is None for plain numbers, which take no unit but a percent sign.

    Raises
    ------
    OutOfRange
        As for ``si_from_text``.

    Examples
    --------
    >>> from ullage.units.suffixes import suffix
    >>> si_from_text_in("1 us_gal", name="litres", own=suffix("l"))
    0.003785412
    """
    number, unit = _split(text, name=name, own=own)
    if not unit:
        value = own.to_si(number) if own else number
    elif own is None:
        if unit != "%":
            raise OutOfRange(name, repr(text), "a plain number without a unit")
        value = number / 100.0
    else:
        value = _with_unit(number, _tidy(unit), text=text, name=name, own=own)
    if not math.isfinite(value):
        raise OutOfRange(name, repr(text), "a finite number")
    return value


def text_from_si(value: float, unit: Suffix, *, digits: int = 12) -> str:
    """Return an SI value as a person would type it, number and unit.

    Examples
    --------
    >>> from ullage.units.suffixes import suffix
    >>> text_from_si(0.001, suffix("l_min"))
    '60 l/min'
    """
    return f"{unit.from_si(value):.{digits}g} {unit.shown}"


def _split(text: str, *, name: str, own: Suffix | None) -> tuple[float, str]:
    """Return the number at the head of a text, 3/8 as well, and the unit behind it."""
    if len(text) > _LONGEST:
        raise OutOfRange(name, f"a text of {len(text)} characters", _allowed(own))
    if _NOT_A_NUMBER.match(text):
        raise OutOfRange(name, text.strip(), "a finite number")
    fraction = _FRACTION.fullmatch(text)
    if fraction is not None and int(fraction[2]) > 0:
        return int(fraction[1]) / int(fraction[2]), fraction[3].strip()
    match = _NUMBER.fullmatch(text)
    if match is None:
        comma = re.match(r"\s*[+-]?[0-9.]*,[0-9]", text)
        advice = "use a point as decimal mark and none for thousands" if comma else ""
        raise OutOfRange(name, repr(text), _allowed(own), advice)
    return float(match[1]), match[2].strip()


def _with_unit(number: float, unit: str, *, text: str, name: str, own: Suffix) -> float:
    """Return a number with its unit in SI, in the dimension of ``own``."""
    if own.si == "pa":
        pressure_pa = _pressure(number, unit, text=text, name=name, own=own)
        if pressure_pa is not None:
            return pressure_pa
    if own.si == "dk":
        if unit in _DIFFERENCES_K:
            return number * _DIFFERENCES_K[unit]
        raise OutOfRange(name, repr(text), _allowed(own), "a difference is in K, degC or degF")
    if own.si == "k":
        unit = {"C": "degC", "F": "degF"}.get(unit, unit)
    for row in SUFFIXES.values():
        typed = row.shown.replace("US ", "us_").replace("imp ", "imp_")
        if row.si == own.si and unit in (row.shown, row.suffix, typed):
            return row.to_si(number)
    return _through_pint(number, unit, text=text, name=name, own=own)


def _pressure(number: float, unit: str, *, text: str, name: str, own: Suffix) -> float | None:
    """Return a pressure whose unit says gauge or absolute; None where the unit says neither."""
    if unit in _GAUGE:
        atmosphere_pa = convert.STANDARD_ATMOSPHERE_PA if own.suffix == "bara" else 0.0
        return number * _GAUGE[unit] + atmosphere_pa
    if unit in _ABSOLUTE:
        if own.suffix in ("bar", "psi"):
            raise OutOfRange(
                name,
                repr(text),
                "a gauge pressure or a difference, not an absolute pressure",
                "subtract the atmosphere, 1.013 bar at sea level",
            )
        return number * _ABSOLUTE[unit]
    return None


def _tidy(unit: str) -> str:
    """Return a unit with the signs of keyboards and documents brought to one form."""
    for sign, plain in (
        ("\N{DEGREE SIGN}", "deg"),
        ("\N{MICRO SIGN}", "u"),
        ("\N{GREEK SMALL LETTER MU}", "u"),
        ("\N{SUPERSCRIPT TWO}", "2"),
        ("\N{SUPERSCRIPT THREE}", "3"),
        ("\N{MIDDLE DOT}", "*"),
    ):
        unit = unit.replace(sign, plain)
    unit = re.sub(r"^deg ?([CF])$", r"deg\1", unit)
    unit = re.sub(r"^(?:/|per )", "1/", unit)
    unit = re.sub(r"\b([mcdu]?)L\b", r"\1l", unit).replace("cSt", "mm2/s")
    unit = re.sub(r"\bfl(?:uid|\.)?[ _]?(?:oz|ounces?)\b", "fl_oz", unit)
    return re.sub(
        r"\b(us|uk|imp|imperial)[ ._]+(?=(?:gal|qt|quart|pt|pint|fl|gpm))",
        lambda country: "us_" if country[1].lower() == "us" else "imp_",
        unit,
        flags=re.IGNORECASE,
    )


def _through_pint(number: float, unit: str, *, text: str, name: str, own: Suffix) -> float:
    """Return a number with a unit that the suffixes do not hold, in SI, by way of pint."""
    spelled = re.sub(r" ?(?:/| per ) ?", "/", unit)
    spelled = re.sub(r"/\((\w+)[ *](\w+)\)", r"/\1/\2", spelled)
    spelled = re.sub(r"\b(rpm|rev/min)\b", "1/min", spelled).replace("/rev", "")
    spelled = re.sub(r"([A-Za-z])\^?([23])\b", r"\1**\2", spelled)
    spelled = re.sub(r"(?<=[A-Za-z23]) +(?=[A-Za-z])", "*", spelled)
    spelled = re.sub(
        r"\b(us|imp)_([a-z_]+)",
        lambda volume: f"{volume[1]}_{_SPELLINGS.get(volume[2], volume[2])}",
        spelled,
    )
    _refuse_ambiguous(spelled, text=text, name=name)
    if not _UNIT.fullmatch(spelled):
        raise OutOfRange(name, repr(text), _allowed(own), f"{unit!r} is not a unit known here")
    if own.si not in TARGETS:
        raise OutOfRange(name, repr(text), _allowed(own))
    from pint.errors import DimensionalityError, PintError

    try:
        return float(_registry().Quantity(number, spelled).to(TARGETS[own.si]).magnitude)
    except DimensionalityError:
        raise OutOfRange(
            name, repr(text), _allowed(own), f"{unit} is no unit of {own.dimension}"
        ) from None
    except (PintError, ArithmeticError, AttributeError, SyntaxError, TokenError, TypeError):
        raise OutOfRange(
            name, repr(text), _allowed(own), f"{unit!r} is not a unit known here"
        ) from None


def _refuse_ambiguous(unit: str, *, text: str, name: str) -> None:
    """Refuse a unit that has more than one meaning, naming those that have one."""
    for word in re.findall(r"[A-Za-z_]+", unit):
        lower = word.lower()
        plain = _SPELLINGS.get(lower, lower)
        if plain in _AMBIGUOUS:
            raise OutOfRange(
                name,
                repr(text),
                "in a unit that means one thing only",
                f"{word} is ambiguous: write {_AMBIGUOUS[plain]}",
            )


def _allowed(own: Suffix | None) -> str:
    """Say in words what may be typed."""
    if own is None:
        return "a plain number without a unit"
    return f"a number, alone (then in {own.shown}) or with a unit of {own.dimension}"


@cache
def _registry() -> pint.UnitRegistry[float]:
    """Return pint's units with our unambiguous volumes, loaded once."""
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    for line in _DEFINITIONS:
        registry.define(line)
    return registry
