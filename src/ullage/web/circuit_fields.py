"""Which fields does the circuit page have? Those of the circuit file, key by key.

A field bears the place of its key: ``leg.2.line.bore_mm`` is the bore of the second leg's line. A
number that nobody knows exactly has five: ``.best``, ``.low``, ``.high``, ``.spread``, ``.as``.
Names, units, choices, limits and help come from the rows that files are read by.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.schema import Key, Kind, Table

#: What a number is made of that nobody knows exactly, and the word of the file for each.
PARTS: Mapping[str, str] = {
    "best": "best",
    "low": "low",
    "high": "high",
    "spread": "spread_pct",
    "as": "as",
}
# What keys of the file shorten, spelt out.
_SPOKEN: Mapping[str, str] = {
    "od": "outside diameter",
    "nu40": "viscosity at 40 \N{DEGREE SIGN}C",
    "nu100": "viscosity at 100 \N{DEGREE SIGN}C",
    "rho15": "density at 15 \N{DEGREE SIGN}C",
    "ua": "heat lost per kelvin",
    "um": "size in \N{GREEK SMALL LETTER MU}m(c)",
    "nu start max": "thickest at the start",
    "nu run min": "thinnest while running",
    "clean dp": "clean drop",
    "acid": "acid number",
    "table mm l": "heights with their litres",
}
#: Parts of one kind that a page may hold; more would be no circuit.
MOST_ROWS = 200

_MANY = tuple(table.name for table in CIRCUIT.tables if table.many)
_ROW = re.compile(rf"({'|'.join(_MANY)})\.(\d{{1,4}})\.(.+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One key of a table, with the tables that it lies within: ("line", "bore_mm")."""

    path: tuple[str, ...]
    key: Key
    required: bool

    @property
    def name(self) -> str:
        """Return the place within the part."""
        return ".".join(self.path)

    @property
    def words(self) -> str:
        """Return what the key is called without its unit: "line bore"."""
        return " ".join((*(_stem(part) for part in self.path[:-1]), stem(self.key)))

    @property
    def unit(self) -> str:
        """Return the suffix of the file's unit, empty for plain numbers."""
        return "" if self.key.suffix is None else self.key.suffix.suffix

    @property
    def inputs(self) -> tuple[str, ...]:
        """Return the endings of the fields that this key is typed into."""
        return tuple(f".{part}" for part in PARTS) if self.key.kind is Kind.UNCERTAIN else ("",)


@cache
def slots(table: Table) -> tuple[Slot, ...]:
    """Return the keys of a table, those of tables within it in their place."""
    return tuple(_slots(table.keys, (), is_needed=True))


def _slots(keys: Iterable[Key], within: tuple[str, ...], *, is_needed: bool) -> Iterator[Slot]:
    """Yield keys; within a table that may be left out, none is needed for itself."""
    for key in keys:
        path = (*within, key.name)
        if key.table is not None:
            yield from _slots(key.table.keys, path, is_needed=is_needed and key.required)
        else:
            yield Slot(path=path, key=key, required=is_needed and key.required)


def stem(key: Key) -> str:
    """Return a key's name without its unit, in words.

    >>> stem(CIRCUIT.table_by_name["reservoir"].by_name["full_l"])
    'full'
    """
    ending = "" if key.suffix is None else key.suffix.suffix
    name = key.name.removesuffix(f"_{ending}") if ending else key.name
    return _stem(name)


def _stem(name: str) -> str:
    """Return a name of the file in words; a table's own unit is not said."""
    words = name.removesuffix("_bar").replace("_", " ")
    return _SPOKEN.get(words, words)


def rows_of(texts: Mapping[str, str], kind: str) -> tuple[int, ...]:
    """Return the numbers of the parts of a kind, in order."""
    found = (_ROW.fullmatch(name) for name in texts)
    return tuple(sorted({int(m[2]) for m in found if m is not None and m[1] == kind}))


def tidied(sent: Mapping[str, Any]) -> dict[str, str]:
    """Return what was sent in one order, parts numbered from one, without what means nothing.

    A part stays as long as any of its fields was sent, its id empty or not.
    """
    given = {name: text for name, text in sent.items() if isinstance(text, str)}
    found: dict[str, str] = {}
    for key in CIRCUIT.keys:
        _take(found, given, key.name, key.name)
    for table in CIRCUIT.tables:
        numbers = rows_of(given, table.name)[:MOST_ROWS] if table.many else (0,)
        for at, number in enumerate(numbers, start=1):
            old, new = (
                (f"{table.name}.{number}", f"{table.name}.{at}")
                if table.many
                else (table.name, table.name)
            )
            if table.many:
                found[f"{new}.id"] = ""
            for slot in slots(table):
                for ending in slot.inputs:
                    tail = f"{slot.name}{ending}"
                    _take(found, given, f"{old}.{tail}", f"{new}.{tail}")
    return found


def _take(found: dict[str, str], given: Mapping[str, str], old: str, new: str) -> None:
    """Take a text over if it says something."""
    text = given.get(old, "").replace("\r\n", "\n").strip()
    if text:
        found[new] = text


def with_part(texts: Mapping[str, str], kind: str) -> dict[str, str]:
    """Return the texts with another, empty part behind the others of its kind."""
    count = len(rows_of(texts, kind))
    added = {f"{kind}.{count + 1}.id": ""} if count < MOST_ROWS else {}
    return tidied({**texts, **added})


def without_part(texts: Mapping[str, str], kind: str, number: int) -> dict[str, str]:
    """Return the texts without one part."""
    place = f"{kind}.{number}."
    return tidied({name: text for name, text in texts.items() if not name.startswith(place)})


def moved(texts: Mapping[str, str], kind: str, number: int, by: int) -> dict[str, str]:
    """Return the texts with one part exchanged with a neighbour, if there is one."""
    if number + by not in rows_of(texts, kind):
        return dict(texts)
    swap = {number: number + by, number + by: number}
    found: dict[str, str] = {}
    for name, text in texts.items():
        match = _ROW.fullmatch(name)
        if match is not None and match[1] == kind and int(match[2]) in swap:
            name = f"{kind}.{swap[int(match[2])]}.{match[3]}"
        found[name] = text
    return tidied(found)
