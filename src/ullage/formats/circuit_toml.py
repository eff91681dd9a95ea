"""Writes the table of a circuit as the text of a circuit file, each key with what it means.

Reading the text gives the same table. A comment stands behind the first of several parts alone:
four legs need not explain a bore four times.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any

from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.schema import Key, Table

_WIDTH = 100
_BARE = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")


def circuit_to_toml(table: Mapping[str, Any]) -> str:
    """Return the text of a circuit file that holds a table.

    >>> circuit_to_toml({"format": "ullage-circuit/1", "name": "Yard lift"}).splitlines()[1]
    'name = "Yard lift"  # what people call the machine'
    """
    return "\n".join(_lines(table)) + "\n"


def _lines(table: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines of a file: what stands on top, then table by table."""
    yield f"format = {value_text(table.get('format', CIRCUIT.format))}"
    for key in CIRCUIT.keys:
        if key.name in table:
            yield _line(key.name, table[key.name], key)
    for part in CIRCUIT.tables:
        held = table.get(part.name)
        if held is None:
            continue
        yield ""
        yield f"# {part.about}"
        rows = held if isinstance(held, list) else [held]
        for number, row in enumerate(rows):
            if number:
                yield ""
            yield f"[[{part.name}]]" if isinstance(held, list) else f"[{part.name}]"
            yield from _rows(row, part, is_first=number == 0)


def _rows(row: Mapping[str, Any], part: Table, *, is_first: bool) -> Iterator[str]:
    """Yield the keys of one table in the order in which the format lists them."""
    order = {key.name: place for place, key in enumerate(part.keys)}
    for name in sorted(row, key=lambda name: order.get(name, len(order))):
        yield _line(name, row[name], part.by_name.get(name) if is_first else None)


def _line(name: str, value: object, key: Key | None) -> str:
    """Return one key with its value, and with what it means where that fits on the line."""
    line = f"{_name(name)} = {value_text(value)}"
    told = "" if key is None else f"  # {key.about}"
    return line + told if len(line + told) <= _WIDTH else line


def value_text(value: object) -> str:
    """Return a value as TOML writes it.

    >>> value_text({"best": 8, "as": "leg bore"}), value_text([[0, 0.2]]), value_text(True)
    ('{ best = 8, as = "leg bore" }', '[[0, 0.2]]', 'true')
    """
    match value:
        case bool():
            return "true" if value else "false"
        case int():
            return str(value)
        case float():
            if not math.isfinite(value):
                raise ValueError(f"a circuit file holds no {value}")
            return repr(value)
        case str():
            # What JSON escapes, TOML escapes in the same way, but for a delete character.
            return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
        case list() | tuple():
            return f"[{', '.join(value_text(item) for item in value)}]"
        case Mapping():
            pairs = ", ".join(f"{_name(k)} = {value_text(v)}" for k, v in value.items())
            return f"{{ {pairs} }}" if pairs else "{}"
    raise TypeError(f"a circuit file holds no {type(value).__name__}")


def _name(name: str) -> str:
    """Return a key, in quotes where it needs them."""
    return name if name and set(name) <= _BARE else value_text(name)
