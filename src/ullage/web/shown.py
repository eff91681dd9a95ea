"""How does a person read a number: in which unit, with how many digits, with which band?

The units are those of Settings. A value comes in a unit of our files (or in SI) and leaves as text;
the way back is in ``forms``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from ullage.jobs.prices import kept_currency
from ullage.units.suffixes import Suffix, suffix

NBSP = "\N{NO-BREAK SPACE}"
NARROW = "\N{NARROW NO-BREAK SPACE}"
EN_DASH = "\N{EN DASH}"
MINUS = "\N{MINUS SIGN}"

#: What may be chosen in Settings: key, words in front of the choice, and suffix with its words.
CHOICES: Mapping[str, tuple[str, tuple[tuple[str, str], ...]]] = {
    "volume": ("Volumes", (("l", "litres"), ("us_qt", "US quarts"), ("imp_qt", "imperial quarts"))),
    "temperature": ("Temperatures", (("degc", "degrees Celsius"), ("degf", "degrees Fahrenheit"))),
    "pressure": ("Pressures", (("bar", "bar"), ("psi", "psi"))),
    "distance": ("Distances", (("km", "kilometres"), ("mile", "miles"))),
}

_WORDS = {
    "l": "L",
    "us_qt": "US qt",
    "imp_qt": "imp qt",
    "ml": "mL",
    "degc": "\N{DEGREE SIGN}C",
    "degf": "\N{DEGREE SIGN}F",
    "minutes": "min",
    "l_min": "L/min",
    "ml_rev": "mL/rev",
    "mm2_s": "mm\N{SUPERSCRIPT TWO}/s",
    "cm2": "cm\N{SUPERSCRIPT TWO}",
    "kg_m3": "kg/m\N{SUPERSCRIPT THREE}",
    "per_ml": "per mL",
    "mile": "miles",
    "um": "\N{GREEK SMALL LETTER MU}m",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """The units that a person reads and types in, as suffixes, and the currency of prices."""

    volume: str = "l"
    temperature: str = "degc"
    pressure: str = "bar"
    distance: str = "km"
    currency: str = "EUR"

    def own(self, unit: str) -> str:
        """Return the suffix that stands for a unit of our files on this person's pages."""
        return {
            "l": self.volume,
            "degc": self.temperature,
            "bar": self.pressure,
            "km": self.distance,
        }.get(unit, unit)


def units_of(settings: Mapping[str, str]) -> Units:
    """Return the units that were chosen; what was never chosen, or is no choice, stays metric."""
    chosen = {
        key: settings[f"units.{key}"]
        for key, (_, choices) in CHOICES.items()
        if settings.get(f"units.{key}") in dict(choices)
    }
    return Units(**chosen, currency=kept_currency(settings))


def word_of(unit: str, units: Units) -> str:
    """Return how a unit of our files is written on this person's pages.

    >>> word_of("l", Units(volume="us_qt"))
    'US qt'
    """
    if not unit:
        return ""
    own = units.own(unit)
    return _WORDS.get(own) or suffix(own).shown


def own_value(value: float, unit: str, units: Units) -> float:
    """Return a value of our files in the person's unit."""
    if not unit or units.own(unit) == unit:
        return value
    return suffix(units.own(unit)).from_si(suffix(unit).to_si(value))


def figure(value: float, digits: int | None = None) -> str:
    """Return a number with few digits and a true minus sign, without trailing zeros.

    Without ``digits``: two decimals below one, one below a hundred, whole numbers above. From ten
    thousand on, thousands stand apart.

    >>> figure(11.04), figure(0.254), figure(1250.4), figure(184212).replace(NARROW, " ")
    ('11', '0.25', '1250', '184 212')
    """
    size = abs(value)
    places = digits if digits is not None else 2 if size < 1.0 else 1 if size < 100.0 else 0
    text = f"{size:,.{places}f}".replace(",", NARROW if size >= 10_000.0 else "")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{MINUS}{text}" if value < 0.0 and text != "0" else text


def amount(value: float, unit: str, units: Units, *, digits: int | None = None) -> str:
    """Return a value of our files with its unit, in the person's unit.

    >>> amount(11.0, "l", Units()).replace(NBSP, " ")
    '11 L'
    >>> amount(3.785, "l", Units(volume="us_qt")).replace(NBSP, " ")
    '4 US qt'
    """
    text = figure(own_value(value, unit, units), digits)
    word = word_of(unit, units)
    return f"{text}{NBSP}{word}" if word else text


def amount_si(value: float, unit: str, units: Units, *, digits: int | None = None) -> str:
    """Return an SI value with its unit; ``unit`` is the suffix that our files would use for it.

    >>> amount_si(0.011, "l", Units()).replace(NBSP, " ")
    '11 L'
    """
    row: Suffix = suffix(unit)
    return amount(row.from_si(value), unit, units, digits=digits)


def fine(text: str) -> str:
    """Return a sentence of the core as a page sets it: units by their signs, figures beside them.

    >>> fine("At 60 degC, 22 mm2/s; 9.2 l/min, until 2027-09-01.").replace(NBSP, "_")
    'At 60_°C, 22_mm²/s; 9.2_L/min, until 1 September 2027.'
    """
    for word, sign in _SIGNS.items():
        text = re.sub(word, sign, text)
    text = _DATE.sub(_day, text)
    return _FIGURE.sub(rf"\1{NBSP}\2", text)


#: How the core writes a unit, and its sign.
_SIGNS = {
    r"\bdegC\b": _WORDS["degc"],
    r"\bmm2/s\b": _WORDS["mm2_s"],
    r"\bum\b": _WORDS["um"],
    r"\bml\b": _WORDS["ml"],
    r"(?<=\d) l(?=$|[ ,.;:/)])": " L",
    r"(?<![\w.-])-(?=\d)": MINUS,
    "\N{PLUS-MINUS SIGN} (?=\\d)": f"\N{PLUS-MINUS SIGN}{NBSP}",
}
_DATE = re.compile(r"(?<![\w-])20\d\d-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])(?![\w-])")
_FIGURE = re.compile(
    r"(\d) (\N{DEGREE SIGN}C|mm\N{SUPERSCRIPT TWO}/s|mm|\N{GREEK SMALL LETTER MU}m"
    r"|mL|L/min|rev/min|L|km|%|s|min|bar|K)(?!\w)"
)


def _day(found: re.Match[str]) -> str:
    try:
        return day(date.fromisoformat(found[0]))
    except ValueError:
        return found[0]


def source(text: str) -> str:
    """Return where a figure comes from as a reader would look for it.

    >>> source("iso-3968-2017, scaled (ours, no source)"), source("din-51524-2")
    ('ISO 3968:2017, scaled; ours, no source', 'DIN 51524-2')
    """
    text = re.sub(r" \(([^()]*no source)\)$", r"; \1", text)
    text = _STANDARD.sub(_standard, text)
    return _BOOK.sub(lambda found: f"{found[1].capitalize()} {found[2]}", text)


_STANDARD = re.compile(r"\b(iso|din|astm|sae|en)-([a-z]?[\d-]*\d)\b")
_BOOK = re.compile(r"\b([a-z]+)-((?:1[89]|20)\d\d)\b")


def _standard(found: re.Match[str]) -> str:
    number, _, year = found[2].upper().rpartition("-")
    is_year = bool(number) and re.fullmatch(r"(19|20)\d\d", year) is not None
    return f"{found[1].upper()} {f'{number}:{year}' if is_year else found[2].upper()}"


def pct(value_pct: float) -> str:
    """Return a share as whole per cent; a trace is not called nothing.

    >>> pct(31.4).replace(NBSP, " "), pct(0.2).replace(NBSP, " ")
    ('31 %', 'under 1 %')
    """
    if 0.0 < value_pct < 0.5:
        return f"under{NBSP}1{NBSP}%"
    return f"{value_pct:.0f}{NBSP}%"


def band(best_pct: float, low_pct: float, high_pct: float) -> str:
    """Return a share with the band that nine of ten fall in.

    >>> band(31.2, 24.1, 39.8).replace(NBSP, " ")
    '31 % (24–40)'
    """
    return f"{pct(best_pct)} ({low_pct:.0f}{EN_DASH}{high_pct:.0f})"


def span(span_s: float) -> str:
    """Return a length of time in the two largest words that matter.

    >>> span(45).replace(NBSP, " "), span(170).replace(NBSP, " "), span(7800).replace(NBSP, " ")
    ('45 s', '3 min', '2 h 10 min')
    """
    if span_s < 90.0:
        return f"{span_s:.0f}{NBSP}s"
    minutes = round(span_s / 60.0)
    if minutes < 120:
        return f"{minutes}{NBSP}min"
    hours, rest = divmod(minutes, 60)
    return f"{hours}{NBSP}h {rest}{NBSP}min" if rest else f"{hours}{NBSP}h"


def day(when: date | datetime) -> str:
    """Return a day as people write it; an instant counts by the clock of this computer.

    >>> day(date(2026, 5, 4))
    '4 May 2026'
    """
    local = when.astimezone() if isinstance(when, datetime) else when
    return f"{local.day} {local:%B %Y}"


def moment(when: datetime) -> str:
    """Return an instant by the clock of this computer: day, hour and minute."""
    local = when.astimezone()
    return f"{day(local)}, {local:%H:%M}"


def money(value: float, units: Units) -> str:
    """Return an amount of money, which is always an estimate here, with its currency.

    >>> money(279.26, Units()).replace(NBSP, " ")
    'EUR 279'
    """
    return f"{units.currency}{NBSP}{figure(value, 0)}"
