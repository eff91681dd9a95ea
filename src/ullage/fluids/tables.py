"""Where do the numbers of a table come from?

Each table is a pair of files in ``data/``: ``name.csv`` has one row per value and ``name.toml``
says what the table is, under which licence, and which unit each column has. A row without a source,
a column without a unit or a cell that is missing is refused, so no figure can slip in unattributed.
"""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from ullage.errors import Fault, FileFaults, NotFound


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of published figures, read once and never changed.

    ``rows`` hold the text of the cells by column name; ``columns`` the unit of each column.
    """

    name: str
    what: str
    licence: str
    columns: Mapping[str, str]
    rows: tuple[Mapping[str, str], ...]

    def __iter__(self) -> Iterator[Mapping[str, str]]:
        """Go through the rows in file order."""
        return iter(self.rows)

    def texts(self, column: str) -> tuple[str, ...]:
        """Return one column as text."""
        if column not in self.columns:
            raise NotFound(f"column of table {self.name}", column, self.columns)
        return tuple(row[column] for row in self.rows)

    def numbers(self, column: str) -> tuple[float, ...]:
        """Return one column as numbers."""
        return tuple(float(text) for text in self.texts(column))

    def row(self, column: str, value: str) -> Mapping[str, str]:
        """Return the first row whose cell in ``column`` reads ``value``."""
        for found in self.rows:
            if found[column] == value:
                return found
        raise NotFound(f"{column} in table {self.name}", value, self.texts(column))


def read_table(name: str, csv_text: str, toml_text: str) -> Table:
    """Return the table made of the texts of its two files.

    Raises
    ------
    FileFaults
        If a row has no source, a cell is missing, a column has no unit or the description lacks
        ``what`` or ``licence``. All faults come at once.
    """
    about: dict[str, Any] = tomllib.loads(toml_text)
    units: dict[str, str] = {key: str(unit) for key, unit in about.get("columns", {}).items()}
    faults = [
        Fault(key=f"{name}.toml: {key}", value=None, problem="missing", advice="describe the table")
        for key in ("what", "licence")
        if not about.get(key)
    ]
    reader = csv.DictReader(io.StringIO(csv_text))
    header = list(reader.fieldnames or [])
    faults += _header_faults(name, header, units)
    rows = []
    for line, row in enumerate(reader, start=2):
        faults += _row_faults(line, row)
        rows.append(MappingProxyType({key: (row.get(key) or "").strip() for key in header}))
    if not rows:
        faults.append(Fault(key="rows", value=None, problem="the table is empty"))
    if faults:
        raise FileFaults(f"{name}.csv", faults)
    return Table(
        name=name,
        what=str(about["what"]),
        licence=str(about["licence"]),
        columns=MappingProxyType({key: units[key] for key in header}),
        rows=tuple(rows),
    )


def _header_faults(name: str, header: list[str], units: dict[str, str]) -> list[Fault]:
    """Return what is wrong between the columns of the csv and those of the toml."""
    faults = [
        Fault(
            key=column,
            value=None,
            problem="this column has no unit",
            advice=f'add it under [columns] in {name}.toml, "-" for text and plain numbers',
        )
        for column in header
        if column not in units
    ]
    faults += [
        Fault(key=column, value=None, problem=f"described in {name}.toml but not in the csv")
        for column in units
        if column not in header
    ]
    if "source" not in header:
        faults.append(Fault(key="source", value=None, problem="the table has no column of sources"))
    return faults


def _row_faults(line: int, row: Mapping[str | None, Any]) -> list[Fault]:
    """Return what is wrong with one row of the csv."""
    faults = []
    if None in row or any(value is None for value in row.values()):
        faults.append(
            Fault(
                key=f"line {line}",
                value=None,
                problem="more or fewer cells than columns",
                advice="quote cells that contain a comma",
            )
        )
    elif not str(row.get("source") or "").strip():
        faults.append(
            Fault(
                key=f"line {line}",
                value=None,
                problem="this row has no source",
                advice='name one, or write "memory" or "common practice, no source"',
            )
        )
    return faults


@cache
def load_table(name: str) -> Table:
    """Return a table of the package by name, read once.

    >>> load_table("iso3448").columns["midpoint_mm2_s"]
    'mm2/s'
    """
    folder = resources.files("ullage.fluids") / "data"
    csv_file = folder / f"{name}.csv"
    if not csv_file.is_file():
        known = sorted(
            item.name.removesuffix(".csv")
            for item in folder.iterdir()
            if item.name.endswith(".csv")
        )
        raise NotFound("table", name, known)
    toml_text = (folder / f"{name}.toml").read_text(encoding="utf-8")
    return read_table(name, csv_file.read_text(encoding="utf-8"), toml_text)
