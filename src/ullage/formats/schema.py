"""What may stand in a file: one row per key, from which files are read, checked and documented.

A row says what a key means, in which unit (its name ends in it), whether it must be there, which
values are allowed and what holds where it is left out. ``reader`` turns text into values by these
rows and ``reference`` prints them, so the description can't drift from what is accepted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, partial

from ullage.errors import OutOfRange
from ullage.units.bounds import bounded
from ullage.units.convert import STANDARD_ATMOSPHERE_PA
from ullage.units.suffixes import Suffix, suffix, suffix_of


class Kind(StrEnum):
    """What shape of value a key takes; the text is how a person is told."""

    UNCERTAIN = "a number or { best, ... }"
    REAL = "a number"
    WHOLE = "a whole number"
    TEXT = "text"
    NAME = "a name"
    FLAG = "true or false"
    CHOICE = "one of a few words"
    NAMES = "a list of names"
    REALS = "a list of numbers"
    PAIRS = "a list of pairs of numbers"
    TABLE = "a table"


@dataclass(frozen=True, kw_only=True)
class Key:
    """One key of a table.

    Limits are in the unit of the file; ``low`` and ``high`` belong to the allowed range, ``above``
    and ``below`` do not. ``otherwise`` says in words what holds without the key. ``is_gauge`` marks
    pressures that become absolute inside, ``is_plain`` numbers that keep the file's unit. ``count``
    fixes the length of a list, ``pattern`` the look of a text.
    ``reads_as`` is the suffix meant by keys that write their unit out (``litres``).
    """

    name: str
    kind: Kind
    about: str
    required: bool = False
    otherwise: str = ""
    example: str = ""
    low: float | None = None
    above: float | None = None
    high: float | None = None
    below: float | None = None
    choices: tuple[str, ...] = ()
    table: Table | None = None
    count: int | None = None
    pattern: str = ""
    reads_as: str = ""
    is_gauge: bool = False
    is_plain: bool = False

    @cached_property
    def suffix(self) -> Suffix | None:
        """Return the unit that the key's name ends in, if any."""
        if self.reads_as:
            return suffix(self.reads_as)
        return None if self.is_plain else suffix_of(self.name)

    @property
    def unit(self) -> str:
        """Return the unit as sentences print it, empty for plain numbers."""
        return "" if self.suffix is None else self.suffix.shown

    def to_si(self, value: float) -> float:
        """Return a number of the file in SI."""
        if self.suffix is None:
            return value
        return self.suffix.to_si(value) + (STANDARD_ATMOSPHERE_PA if self.is_gauge else 0.0)

    def from_si(self, value_si: float) -> float:
        """Return an SI number as the file writes it: the shortest that reads back as the same.

        >>> Key(name="full_l", kind=Kind.REAL, about="").from_si(3.2e-3)
        3.2
        """
        if self.suffix is None:
            return value_si
        raw = self.suffix.from_si(value_si - (STANDARD_ATMOSPHERE_PA if self.is_gauge else 0.0))
        candidates = [float(f"{raw:.{digits}g}") for digits in (9, 12, 14, 15, 16, 17)]
        candidates += [math.nextafter(raw, math.inf), math.nextafter(raw, -math.inf)]
        return next((c for c in candidates if self.to_si(c) == value_si), raw)

    def out_of_range(self, value: float) -> str:
        """Return what would be allowed where ``value`` is not, else an empty text."""
        try:
            bounded(
                self.name,
                value,
                unit=self.unit,
                low=self.low,
                above=self.above,
                high=self.high,
                below=self.below,
            )
        except OutOfRange as error:
            return error.allowed
        return ""

    @property
    def allowed(self) -> str:
        """Return in words what may stand there."""
        match self.kind:
            case Kind.CHOICE:
                return " or ".join(f'"{word}"' for word in self.choices)
            case Kind.UNCERTAIN | Kind.REAL | Kind.WHOLE | Kind.REALS:
                # Not-a-number is in no range, so this always answers.
                return self.out_of_range(math.nan)
            case _:
                return ""


# One maker per shape, so that a row begins with what it takes.
uncertain = partial(Key, kind=Kind.UNCERTAIN)
real = partial(Key, kind=Kind.REAL)
whole = partial(Key, kind=Kind.WHOLE, is_plain=True)
text = partial(Key, kind=Kind.TEXT)
name = partial(Key, kind=Kind.NAME)
flag = partial(Key, kind=Kind.FLAG)
choice = partial(Key, kind=Kind.CHOICE)
names = partial(Key, kind=Kind.NAMES)
reals = partial(Key, kind=Kind.REALS)
pairs = partial(Key, kind=Kind.PAIRS, is_plain=True)
table = partial(Key, kind=Kind.TABLE)


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table of a file: its name, whether it may come several times, and its keys.

    ``named_by`` is the key whose value names one of many tables in sentences.
    """

    name: str
    about: str
    keys: tuple[Key, ...]
    many: bool = False
    required: bool = False
    named_by: str | None = None

    @cached_property
    def by_name(self) -> dict[str, Key]:
        """Return the keys by name."""
        return {key.name: key for key in self.keys}


@dataclass(frozen=True, kw_only=True)
class FileKind:
    """A kind of file: the word and number of its ``format``, its top-level keys and its tables."""

    word: str
    version: int
    ending: str
    about: str
    keys: tuple[Key, ...]
    tables: tuple[Table, ...]

    @property
    def format(self) -> str:
        """Return what stands behind `format =`."""
        return f"ullage-{self.word}/{self.version}"

    @cached_property
    def table_by_name(self) -> dict[str, Table]:
        """Return the tables by name."""
        return {table.name: table for table in self.tables}
