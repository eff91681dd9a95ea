"""How does one comparison of ours with an outside authority look?

Each ``tests/outside/<authority>/test_*.py`` defines ``rows()``, which returns `OutsideRow` values,
and one test over them that calls ``row.check()``. ``python -m tests.outside.table`` prints them.

A folder may keep its expected figures in ``expected.csv``; `read_expected` gives its lines.
Columns: id, subject, quantity, ours_function, inputs (JSON), expected, tolerance, tolerance_reason,
source, provenance, kind.
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PROVENANCE = ("found", "library", "memory", "derived")
"""Where the expected figure was read: a source, a library that computed it, memory, own algebra."""

KINDS = ("code", "model")
"""What agreement shows: that the code follows the formula, or that the formula follows nature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideRow:
    """Our value beside theirs, with the difference that is allowed and why.

    ``tolerance`` is absolute, in the unit that ``quantity`` names. ``provenance`` is one of
    `PROVENANCE`, ``kind`` starts with one of `KINDS`.
    """

    subject: str
    quantity: str
    ours: float
    theirs: float
    tolerance: float
    source: str
    provenance: str
    kind: str
    reason: str

    def __post_init__(self) -> None:
        """Refuse rows that say too little to be judged."""
        for name in ("subject", "quantity", "source", "reason"):
            if not getattr(self, name).strip():
                raise ValueError(f"{name} of the row {self.subject}: {self.quantity} is empty")
        if self.provenance not in PROVENANCE:
            raise ValueError(f"provenance must be one of {PROVENANCE}, got {self.provenance!r}")
        if not self.kind.startswith(KINDS):
            raise ValueError(f"kind must start with one of {KINDS}, got {self.kind!r}")
        if not (math.isfinite(self.tolerance) and self.tolerance >= 0.0):
            raise ValueError(f"tolerance must be a number from 0, got {self.tolerance}")

    @property
    def difference(self) -> float:
        """Our value less theirs."""
        return self.ours - self.theirs

    @property
    def agrees(self) -> bool:
        """Tell whether the difference is within the tolerance; not-a-number never is."""
        return abs(self.difference) <= self.tolerance

    def check(self) -> None:
        """Fail with both values if they differ by more than the tolerance."""
        assert self.agrees, (
            f"{self.subject}, {self.quantity}: ours {self.ours:.9g}, theirs {self.theirs:.9g}, "
            f"difference {self.difference:.3g} is more than {self.tolerance:.3g} ({self.source})"
        )


def label(row: OutsideRow) -> str:
    """Return a name of a row for the test report."""
    return f"{row.subject}: {row.quantity}"


def read_expected(folder: Path, name: str = "expected.csv") -> list[dict[str, str]]:
    """Return the lines of a folder's file of expected figures."""
    with (folder / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rows_from_expected(
    folder: Path, ours: Mapping[str, Callable[[Any], float]], name: str = "expected.csv"
) -> list[OutsideRow]:
    """Return one row per line of ``expected.csv``.

    ``ours`` maps the text in column ``ours_function`` to a function that takes the parsed
    ``inputs`` and returns our value in the unit that ``quantity`` names. A line whose function is
    missing there fails.
    """
    return [
        OutsideRow(
            subject=line["subject"],
            quantity=line["quantity"],
            ours=float(ours[line["ours_function"]](json.loads(line["inputs"]))),
            theirs=float(line["expected"]),
            tolerance=float(line["tolerance"]),
            source=line["source"],
            provenance=line["provenance"],
            kind=line["kind"],
            reason=line["tolerance_reason"],
        )
        for line in read_expected(folder, name)
    ]
