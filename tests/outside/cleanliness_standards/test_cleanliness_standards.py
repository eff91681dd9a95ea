"""Do codes, sizes and classes follow the printed tables of the standards?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.cleanliness import (
    Bound,
    CleanlinessCode,
    certified_size_um,
    code_from_counter,
    code_from_microscope,
    scale_number,
)
from ullage.fluids.contamination_class import as4059_class, nas1638_class


def number(per_ml: float) -> int:
    """Return our scale number, 29 for one above the table."""
    found = scale_number(per_ml)
    return found.number + (found.bound is Bound.ABOVE_TABLE)


def code(i: Any) -> CleanlinessCode:
    """Return our code of the example with few raw counts in the last size."""
    return code_from_counter(*i["counts"], raw14=i["raw14"])


def right_sizes(i: Any, *, cumulative: bool) -> int:
    """Count the sizes whose limit still has the class, and whose next count has not.

    Where several classes have the same limit, the cleanest of them is the one that counts.
    """
    right = 0
    for place, limit in enumerate(i["limits"]):
        at_limit, beyond = (size_class(place, n, cumulative) for n in (limit, limit + 1))
        right += rank(at_limit) <= rank(i["class"]) < rank(beyond)
    return right


def size_class(place: int, count: float, cumulative: bool) -> str:
    """Return our class of one size alone."""
    if cumulative:
        letter = "abcdef"[place]
        return as4059_class({letter: count}).by_size[letter].rstrip("ABCDEF")
    counts = [0.0] * 5
    counts[place] = count
    return list(nas1638_class(counts).by_size.values())[place]


def rank(name: str) -> float:
    """Return a class as a number that rises with dirt."""
    if name.startswith(">"):
        return 13.0
    return {"000": -2.0, "00": -1.0}.get(name, float(name))


OURS = {
    "scale": lambda i: number(i["per_ml"]),
    "part": lambda i: code(i).parts[i["place"]].number,
    "marked": lambda i: code(i).parts[2].bound is Bound.AT_LEAST,
    "microscope_part": lambda i: code_from_microscope(i["n5"], i["n15"]).parts[i["place"]].number,
    "certified": lambda i: certified_size_um(i["acftd_um"]),
    "nas": lambda i: right_sizes(i, cumulative=False),
    "as4059": lambda i: right_sizes(i, cumulative=True),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
