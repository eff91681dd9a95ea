"""Turns raw tables into checked values in SI, row by row of the schema, and collects every fault.

Where a value cannot be used, a stand-in takes its place so that the rest of the file is still
judged; ``stood_in`` remembers where, so that nobody draws conclusions from a stand-in. Nothing
built with one ever leaves this package: whoever asks for the values finds the faults first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from ullage.circuit import names
from ullage.circuit.uncertain import Uncertain, exact
from ullage.errors import Fault
from ullage.formats.document import format_fault
from ullage.formats.schema import FileKind, Key, Kind, Table
from ullage.formats.uncertain_field import (
    as_number,
    number_fault,
    range_fault,
    read_uncertain,
    shown,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """The checked values of one table, by key, in SI; absent keys are absent."""

    place: str
    held: Mapping[str, object]

    def __contains__(self, name: str) -> bool:
        """Tell whether the file has the key."""
        return name in self.held

    def uncertain(self, name: str, otherwise: Uncertain | None = None) -> Uncertain:
        """Return an uncertain number that is there, or the one that holds otherwise."""
        value = self.held.get(name, otherwise)
        if not isinstance(value, Uncertain):
            raise TypeError(f"{self.place}.{name} is no uncertain number")
        return value

    def maybe_uncertain(self, name: str) -> Uncertain | None:
        """Return an uncertain number, or None where the file is silent."""
        return self.uncertain(name) if name in self.held else None

    def real(self, name: str, otherwise: float | None = None) -> float:
        """Return a number that is there, or the one that holds otherwise."""
        value = self.held.get(name, otherwise)
        if not isinstance(value, float):
            raise TypeError(f"{self.place}.{name} is no number")
        return value

    def maybe_real(self, name: str) -> float | None:
        """Return a number, or None where the file is silent."""
        return self.real(name) if name in self.held else None

    def whole(self, name: str, otherwise: int) -> int:
        """Return a whole number."""
        value = self.held.get(name, otherwise)
        if not isinstance(value, int):
            raise TypeError(f"{self.place}.{name} is no whole number")
        return value

    def maybe_whole(self, name: str) -> int | None:
        """Return a whole number, or None where the file is silent."""
        return self.whole(name, 0) if name in self.held else None

    def flag(self, name: str, otherwise: bool) -> bool:
        """Return true or false."""
        return bool(self.held.get(name, otherwise))

    def text(self, name: str, otherwise: str | None = None) -> str:
        """Return a text that is there, or the one that holds otherwise."""
        value = self.held.get(name, otherwise)
        if not isinstance(value, str):
            raise TypeError(f"{self.place}.{name} is no text")
        return value

    def maybe_text(self, name: str) -> str | None:
        """Return a text, or None where the file is silent."""
        return self.text(name) if name in self.held else None

    def names(self, name: str) -> tuple[str, ...]:
        """Return a list of names, empty where the file is silent."""
        value = self.held.get(name, ())
        if not isinstance(value, tuple):
            raise TypeError(f"{self.place}.{name} is no list")
        return tuple(str(item) for item in value)

    def reals(self, name: str) -> tuple[float, ...] | None:
        """Return a list of numbers, or None where the file is silent."""
        value = self.held.get(name)
        if value is None:
            return None
        if not isinstance(value, tuple):
            raise TypeError(f"{self.place}.{name} is no list")
        return tuple(float(item) for item in value)

    def pairs(self, name: str) -> tuple[tuple[float, float], ...]:
        """Return a list of pairs, empty where the file is silent."""
        value = self.held.get(name, ())
        if not isinstance(value, tuple):
            raise TypeError(f"{self.place}.{name} is no list")
        return tuple((float(first), float(second)) for first, second in value)

    def table(self, name: str) -> Values | None:
        """Return a table within this one, or None where the file is silent."""
        value = self.held.get(name)
        if value is not None and not isinstance(value, Values):
            raise TypeError(f"{self.place}.{name} is no table")
        return value


@dataclass(slots=True, kw_only=True)
class Reader:
    """Reads one file; ``faults`` grows, and ``stood_in`` holds the places that a stand-in fills."""

    file: str
    faults: list[Fault] = field(default_factory=list)
    stood_in: set[str] = field(default_factory=set)

    def stands_in(self, place: str) -> bool:
        """Tell whether a place, or one within it, is filled by a stand-in."""
        return any(p == place or p.startswith((f"{place}.", f"{place}[")) for p in self.stood_in)

    def top_level(self, raw: Mapping[str, Any], kind: FileKind) -> Values | None:
        """Return the top-level values of a file, or None where it is none that can be read."""
        fault = format_fault(raw, kind)
        if fault is not None and (
            fault.value is not None or not set(raw) & set(kind.table_by_name)
        ):
            self.faults.append(fault)
            return None
        if fault is not None:  # only the first line is missing: the rest is worth reading
            self.faults.append(fault)
        known = {"format", *(key.name for key in kind.keys), *kind.table_by_name}
        self._unknown(raw, known, "")
        return self._values(raw, kind.keys, "")

    def one(self, raw: Mapping[str, Any], table: Table) -> Values | None:
        """Return the values of a table that comes at most once, or None where it is not there."""
        if table.name not in raw:
            if table.required:
                self.faults.append(
                    Fault(
                        key=table.name,
                        value=None,
                        problem="is missing",
                        allowed=table.about,
                        advice=f"add [{table.name}] with "
                        + ", ".join(
                            f"{key.name} = {key.example}" for key in table.keys if key.required
                        ),
                    )
                )
                self.stood_in.add(table.name)
                return self._stand_in_table(table)
            return None
        value = raw[table.name]
        if not isinstance(value, Mapping):
            many = isinstance(value, list)
            self.faults.append(
                Fault(
                    key=table.name,
                    value=shown(value),
                    problem="comes several times" if many else "is not a table",
                    allowed="once",
                    advice=f"write it as [{table.name}], with single brackets, and its keys below",
                )
            )
            self.stood_in.add(table.name)
            return self._stand_in_table(table)
        return self.table(value, table, table.name)

    def _stand_in_table(self, table: Table) -> Values:
        """Return a table of stand-ins, for one that cannot be read."""
        held = {key.name: self._stand_in(key) for key in table.keys if key.required}
        return Values(place=table.name, held=held)

    def many(self, raw: Mapping[str, Any], table: Table) -> Iterator[Values]:
        """Yield the values of each table of a list."""
        for place, value in self.raw_items(raw, table):
            yield self.table(value, table, place)

    def raw_items(
        self, raw: Mapping[str, Any], table: Table
    ) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """Yield place and content of each table of a list that is a table."""
        items = raw.get(table.name, [])
        if isinstance(items, Mapping) or not isinstance(items, list):
            single = isinstance(items, Mapping)
            self.faults.append(
                Fault(
                    key=table.name,
                    value=None if single else shown(items),
                    problem="stands in single brackets" if single else "is not a list of tables",
                    allowed=f"[[{table.name}]], as it may come several times",
                    advice=f"write [[{table.name}]] with two brackets on each side",
                )
            )
            items = [items] if single else []
        for index, item in enumerate(items, start=1):
            place = f"{table.name}[{index}]"
            if not isinstance(item, Mapping):
                self.faults.append(
                    Fault(
                        key=place,
                        value=shown(item),
                        problem="is not a table",
                        advice=f"write [[{table.name}]] and its keys below",
                    )
                )
                self.stood_in.add(place)
                continue
            label = item.get(table.named_by) if table.named_by else None
            yield (f"{table.name}[{label}]" if isinstance(label, str) and label else place), item

    def table(self, raw: Mapping[str, Any], table: Table, place: str) -> Values:
        """Return the checked values of one table."""
        self._unknown(raw, set(table.by_name), place)
        return self._values(raw, table.keys, place)

    def _unknown(self, raw: Mapping[str, Any], known: set[str], place: str) -> None:
        """Note keys that nobody knows, with the nearest known one."""
        for name in raw:
            if name not in known:
                self.faults.append(
                    Fault(
                        key=f"{place}.{name}" if place else str(name),
                        value=shown(raw[name]) if not isinstance(raw[name], Mapping) else None,
                        problem="is not a known key",
                        allowed=f"known here: {', '.join(sorted(known))}",
                        advice=names.did_you_mean(
                            str(name), sorted(known), otherwise="leave it out"
                        ),
                    )
                )

    def _values(self, raw: Mapping[str, Any], keys: tuple[Key, ...], place: str) -> Values:
        """Return the values that are there, and stand-ins for required ones that are not."""
        held: dict[str, object] = {}
        for key in keys:
            at = f"{place}.{key.name}" if place else key.name
            if key.name in raw:
                value = self._value(key, at, raw[key.name])
                if value is None:
                    self.stood_in.add(at)
                    if key.required:
                        held[key.name] = self._stand_in(key)
                else:
                    held[key.name] = value
            elif key.required:
                self.faults.append(
                    Fault(
                        key=at,
                        value=None,
                        problem=f"is missing ({key.about})",
                        allowed=" ".join(part for part in (key.kind.value, key.allowed) if part)
                        if key.kind is not Kind.CHOICE
                        else key.allowed,
                        advice=f"add {key.name} = {key.example}",
                    )
                )
                self.stood_in.add(at)
                held[key.name] = self._stand_in(key)
        return Values(place=place, held=held)

    def _stand_in(self, key: Key) -> object:
        """Return a value of the right shape for a required key."""
        match key.kind:
            case Kind.UNCERTAIN:
                return exact(1.0)
            case Kind.REAL:
                return 1.0
            case Kind.WHOLE:
                return 1
            case Kind.FLAG:
                return False
            case Kind.CHOICE:
                return key.choices[0]
            case Kind.NAMES | Kind.REALS | Kind.PAIRS:
                return ()
            case Kind.TABLE:
                if key.table is None:
                    raise TypeError(f"{key.name} is a table without keys")
                return self._stand_in_table(key.table)
            case _:
                return ""

    def _value(self, key: Key, at: str, raw: object) -> object | None:
        """Return one checked value in SI, or None after noting why there is none."""
        match key.kind:
            case Kind.UNCERTAIN:
                found = read_uncertain(key, at, raw)
                if isinstance(found, list):
                    self.faults += found
                    return None
                return found
            case Kind.REAL:
                number = self._number(key, at, raw)
                return None if number is None else key.to_si(number)
            case Kind.WHOLE:
                return self._whole(key, at, raw)
            case Kind.FLAG:
                return raw if isinstance(raw, bool) else self._no(key, at, raw, "true or false")
            case Kind.CHOICE:
                return self._choice(key, at, raw)
            case Kind.TEXT | Kind.NAME:
                return self._text(key, at, raw)
            case Kind.NAMES:
                return self._name_list(key, at, raw)
            case Kind.REALS:
                return self._number_list(key, at, raw)
            case Kind.PAIRS:
                return self._pair_list(key, at, raw)
            case Kind.TABLE:
                if key.table is None:
                    raise TypeError(f"{key.name} is a table without keys")
                if not isinstance(raw, Mapping):
                    return self._no(key, at, raw, "a table in braces")
                return self.table(raw, key.table, at)

    def _no(self, key: Key, at: str, raw: object, expected: str) -> object | None:
        """Note a value of the wrong shape, and return that there is none."""
        example = f"for example {key.name} = {key.example}" if key.example else ""
        self.faults.append(
            Fault(
                key=at,
                value=shown(raw),
                problem=f"is not {expected}",
                allowed=key.allowed or key.about,
                advice=example or f"write {expected}",
            )
        )
        return None

    def _number(self, key: Key, at: str, raw: object) -> float | None:
        """Return a number in the file's unit, or None after noting why there is none."""
        number = as_number(raw)
        if number is None:
            if isinstance(raw, Mapping):
                self.faults.append(
                    Fault(
                        key=at,
                        value=shown(dict(raw)),
                        problem="takes one number without a spread",
                        allowed=key.allowed,
                        advice=f"write it as {key.name} = {key.example or 'a number'}",
                    )
                )
            else:
                self.faults.append(number_fault(key, at, raw))
        elif allowed := key.out_of_range(number):
            self.faults.append(range_fault(key, at, number, allowed))
        else:
            return number
        return None

    def _whole(self, key: Key, at: str, raw: object) -> int | None:
        """Return a whole number."""
        number = self._number(key, at, raw)
        if number is None:
            return None
        if number != int(number):
            self._no(key, at, raw, "a whole number")
            return None
        return int(number)

    def _choice(self, key: Key, at: str, raw: object) -> str | None:
        """Return one of the words that are allowed."""
        if isinstance(raw, str) and raw in key.choices:
            return raw
        meant = names.did_you_mean(
            raw if isinstance(raw, str) else "", key.choices, otherwise="choose one of them"
        )
        self.faults.append(
            Fault(
                key=at,
                value=shown(raw),
                problem="is none of the words that may stand here",
                allowed=key.allowed,
                advice=meant,
            )
        )
        return None

    def _text(self, key: Key, at: str, raw: object) -> str | None:
        """Return a text that is not empty."""
        if not isinstance(raw, str):
            self._no(key, at, raw, "text in quotes")
            return None
        if not raw.strip():
            self._no(key, at, raw, "a text that says something")
            return None
        if key.pattern and not re.fullmatch(key.pattern, raw):
            self._no(key, at, raw, "written as it should be")
            return None
        return raw

    def _name_list(self, key: Key, at: str, raw: object) -> tuple[str, ...] | None:
        """Return a list of names."""
        if not isinstance(raw, list) or not all(isinstance(item, str) for item in raw):
            self._no(key, at, raw, "a list of names in quotes")
            return None
        return tuple(raw)

    def _number_list(self, key: Key, at: str, raw: object) -> tuple[float, ...] | None:
        """Return a list of numbers of the length that the key asks for."""
        if not isinstance(raw, list) or (key.count is not None and len(raw) != key.count):
            size = "" if key.count is None else f"{key.count} "
            self._no(key, at, raw, f"a list of {size}numbers")
            return None
        found = [self._number(key, f"{at}[{i}]", item) for i, item in enumerate(raw, start=1)]
        numbers = [number for number in found if number is not None]
        return tuple(key.to_si(n) for n in numbers) if len(numbers) == len(found) else None

    def _pair_list(self, key: Key, at: str, raw: object) -> tuple[tuple[float, float], ...] | None:
        """Return a list of pairs of numbers in the file's units."""
        if not isinstance(raw, list) or not all(
            isinstance(pair, list) and len(pair) == 2 for pair in raw
        ):
            self._no(key, at, raw, "a list of pairs")
            return None
        pairs = [
            (self._number(key, f"{at}[{i}]", pair[0]), self._number(key, f"{at}[{i}]", pair[1]))
            for i, pair in enumerate(raw, start=1)
        ]
        whole = [(a, b) for a, b in pairs if a is not None and b is not None]
        return tuple(whole) if len(whole) == len(pairs) else None
