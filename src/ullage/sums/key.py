"""What may a person give to a sum, in which unit, within which limits?

A key's name carries the unit of a bare number; some names of the contract carry none, and those say
theirs in ``unit``. Reading a text gives the value twice: as typed in the key's own unit, for limits
and sentences, and in SI, for the formulas.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum

from ullage.errors import OutOfRange
from ullage.units.bounds import bounded, whole
from ullage.units.suffixes import Suffix, suffix_of
from ullage.units.text import si_from_text_in

_MOST_VALUES = 10_000  # in one list


class Kind(Enum):
    """What a key holds."""

    NUMBER = "number"
    WHOLE = "whole number"
    NUMBERS = "list of numbers"
    CHOICE = "word"
    COUNT = "number, - where not counted, * where too many"


class Unread(Enum):
    """What stands in place of a count that is no number."""

    NOT_COUNTED = "-"
    TOO_MANY = "*"


Value = float | int | str | tuple[float, ...] | Unread


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One input of a sum.

    ``low``, ``above``, ``high`` and ``below`` are limits in the key's own unit; of a list, for each
    value. ``default`` is a text as a person would type it; a key without one must be given unless
    it ``may_be_left_out``. ``own_unit`` keeps the value as typed instead of in SI, for tables that
    decide by equality with printed figures. ``si_name`` is what formulas call the value.
    """

    name: str
    meaning: str
    kind: Kind = Kind.NUMBER
    unit: Suffix | None = None
    low: float | None = None
    above: float | None = None
    high: float | None = None
    below: float | None = None
    default: str | None = None
    may_be_left_out: bool = False
    choices: tuple[str, ...] = ()
    accepts: tuple[tuple[str, str], ...] = ()
    own_unit: bool = False
    si_name: str = ""

    def __post_init__(self) -> None:
        """Find the unit and the name in SI, which both follow from the key's own name."""
        carried = suffix_of(self.name) if len(self.name) > 1 else None
        object.__setattr__(self, "unit", self.unit or carried)
        if not self.si_name:
            object.__setattr__(self, "si_name", self._name_in_si(carried))

    def _name_in_si(self, carried: Suffix | None) -> str:
        """Return the key's name with the suffix of the SI unit."""
        if carried is None or self.own_unit:
            return self.name
        return self.name.removesuffix(carried.suffix) + carried.si

    @property
    def shown_unit(self) -> str:
        """The unit of a bare number, empty for a plain one."""
        return self.unit.shown if self.unit else ""

    @property
    def is_required(self) -> bool:
        """Tell whether the key must be given."""
        return self.default is None and not self.may_be_left_out

    def read(self, text: str) -> Value:
        """Return the value that a text stands for, in SI, or as typed where the key says so.

        Raises
        ------
        OutOfRange
            If the text is not what the key holds, or outside its limits.
        """
        text = text.strip()
        if not text:
            raise OutOfRange(self.name, "nothing", f"a {self.kind.value}")
        match self.kind:
            case Kind.CHOICE:
                return self._word(text)
            case Kind.NUMBERS:
                return tuple(self._number(part) for part in self._parts(text))
            case Kind.COUNT if text in ("-", "*"):
                return Unread(text)
            case Kind.WHOLE:
                return whole(self.name, self._number(text))
            case _:
                return self._number(text)

    def _number(self, text: str) -> float:
        """Return one number, checked against the limits."""
        value_si = si_from_text_in(text, name=self.name, own=self.unit)
        own = _as_typed(text, value_si, self.unit)
        bounded(
            self.name,
            own,
            unit=self.shown_unit,
            low=self.low,
            above=self.above,
            high=self.high,
            below=self.below,
        )
        return own if self.own_unit else value_si

    def _parts(self, text: str) -> list[str]:
        """Return the texts of a list; a unit behind the last value holds for all of them."""
        parts = [part.strip() for part in text.split(",")]
        if len(parts) > _MOST_VALUES:
            raise OutOfRange(self.name, f"{len(parts)} values", f"at most {_MOST_VALUES}")
        if not all(parts):
            raise OutOfRange(
                self.name, repr(text), "numbers with one comma between two of them", "as in 1,2.5,4"
            )
        with_unit = [part for part in parts if not _is_plain(part)]
        if with_unit == [parts[-1]] and len(parts) > 1:
            unit = parts[-1].lstrip("+-.0123456789eE")
            return [*(f"{part} {unit}" for part in parts[:-1]), parts[-1]]
        if with_unit and len(with_unit) != len(parts):
            raise OutOfRange(
                self.name,
                repr(text),
                "numbers that all have a unit, or none, or the last one for all of them",
            )
        return parts

    def _word(self, text: str) -> str:
        """Return one of the words that the key knows."""
        word = dict(self.accepts).get(text.lower(), text.lower())
        if word not in self.choices:
            near = get_close_matches(word, self.choices, n=1)
            raise OutOfRange(
                self.name,
                repr(text),
                f"one of {', '.join(self.choices)}",
                f"did you mean {near[0]}?" if near else "",
            )
        return word

    def limits_in_words(self) -> str:
        """Say the limits for a help screen: ``above 0 to 100 mm``."""
        if self.kind is Kind.CHOICE:
            return " | ".join(self.choices)
        lower = f"above {self.above:g}" if self.above is not None else _plain("from", self.low)
        upper = f"below {self.below:g}" if self.below is not None else _plain("to", self.high)
        return " ".join(part for part in (lower, upper, self.shown_unit) if part)


def nearest_name(name: str, known: Sequence[str]) -> str | None:
    """Return the known name that a mistyped one most likely means."""
    near = get_close_matches(name.lower(), known, n=1, cutoff=0.5)
    if near:
        return near[0]
    starts = [candidate for candidate in known if candidate.startswith(name.lower())]
    return starts[0] if starts else None


def _plain(word: str, value: float | None) -> str:
    """Return a limit with its word, or nothing."""
    return "" if value is None else f"{word} {value:g}"


def _is_plain(text: str) -> bool:
    """Tell whether a text is a number without a unit."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def _as_typed(text: str, value_si: float, unit: Suffix | None) -> float:
    """Return a value in the key's own unit: exactly as typed where no unit was typed."""
    if unit is None:
        return value_si
    if _is_plain(text):
        return float(text)
    # Twelve digits: a converted 10 in must not miss a limit of 254 mm by the last bit.
    return float(f"{unit.from_si(value_si):.12g}")
