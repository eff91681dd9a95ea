"""Do uncertainties combine as in the worked examples of the guide?"""

from __future__ import annotations

import math
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.units import uncertainty


def root(i: Any) -> float:
    """Return our combination of independent contributions."""
    return uncertainty.combined(sensitivities=[1.0] * len(i["u"]), uncertainties=i["u"])


def divisor(i: Any) -> float:
    """Return our standard uncertainty of a distribution of half width or step 1."""
    if i["what"] == "resolution":
        return uncertainty.resolution(division=1.0)
    shapes = {
        "rectangular": uncertainty.rectangular,
        "triangular": uncertainty.triangular,
        "u_shaped": uncertainty.u_shaped,
    }
    return shapes[i["what"]](half_width=1.0)


def impedance(i: Any) -> float:
    """Return our uncertainty of resistance, reactance or impedance from three correlated means."""
    volt, ampere, angle = i["V"], i["I"], i["phi"]
    r, x, z = (volt / ampere * part for part in (math.cos(angle), math.sin(angle), 1.0))
    sensitivities = {
        "R": (r / volt, -r / ampere, -x),
        "X": (x / volt, -x / ampere, r),
        "Z": (z / volt, -z / ampere, 0.0),
    }[i["what"]]
    pairs = dict(zip(((0, 1), (0, 2), (1, 2)), i["r"], strict=True))
    return uncertainty.combined(
        sensitivities=sensitivities, uncertainties=i["u"], correlations=pairs
    )


def ten_alike(i: Any) -> float:
    """Return our uncertainty of a sum of equal, fully correlated parts."""
    pairs = dict.fromkeys(combinations(range(i["n"]), 2), 1.0)
    return uncertainty.combined(
        sensitivities=[1.0] * i["n"], uncertainties=[i["u"]] * i["n"], correlations=pairs
    )


OURS = {
    "combined": root,
    "expanded": lambda i: i["k"] * root(i),
    "divisor": divisor,
    "freedom": lambda i: uncertainty.effective_freedom(
        contributions=i["u"], degrees_of_freedom=i["degrees"]
    ),
    "impedance": impedance,
    "ten_alike": ten_alike,
    "jug": lambda i: (
        1e6
        * uncertainty.same_jug(
            fills=i["fills"],
            tolerance_m3=i["tolerance_ml"] / 1e6,
            division_m3=i["division_ml"] / 1e6,
        ).total_m3
    ),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
