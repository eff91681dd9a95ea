"""The tables that planning rests on: limits and times, each row with its source."""

from __future__ import annotations

from functools import cache
from importlib import resources

from ullage.errors import NotFound
from ullage.fluids.tables import Table, read_table


@cache
def own_table(name: str) -> Table:
    """Return a table of this package by name, read once.

    Raises
    ------
    NotFound
        If no table is called that.

    Examples
    --------
    >>> own_table("air_release").columns["longest_minutes"]
    'minutes'
    """
    folder = resources.files("ullage.planning") / "data"
    file = folder / f"{name}.csv"
    if not file.is_file():
        raise NotFound("table", name, ("air_release", "limits"))
    description = (folder / f"{name}.toml").read_text(encoding="utf-8")
    return read_table(name, file.read_text(encoding="utf-8"), description)
