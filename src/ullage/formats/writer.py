"""From SI values back to a table of a file: the shortest numbers that read back as the same."""

from __future__ import annotations

from collections.abc import Mapping

from ullage.circuit.uncertain import Uncertain
from ullage.formats.schema import Table
from ullage.formats.uncertain_field import write_uncertain


def written(table: Table, values: Mapping[str, object]) -> dict[str, object]:
    """Return SI values as a table of the file writes them; what is None is left out."""
    found: dict[str, object] = {}
    for name, value in values.items():
        key = table.by_name[name]
        if value is None:
            continue
        if isinstance(value, Uncertain):
            found[name] = write_uncertain(key, value)
        elif isinstance(value, float):
            found[name] = key.from_si(value)
        else:
            found[name] = value
    return found
