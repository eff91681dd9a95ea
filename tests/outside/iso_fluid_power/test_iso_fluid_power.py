"""Do grades and flush flows agree with the fluid power standards?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.flush import flush_flow
from ullage.fluids.viscosity_grade import Grade, grades


def grade(i: Any) -> Grade:
    """Return the grade of a number."""
    return next(known for known in grades() if known.number == i["grade"])


OURS = {
    "grade_mid": lambda i: grade(i).midpoint_m2_s * 1e6,
    "grade_low": lambda i: grade(i).low_m2_s * 1e6,
    "grade_high": lambda i: grade(i).high_m2_s * 1e6,
    "flush_flow": lambda i: (
        flush_flow(
            flow_m3_s=0.0, bore_m=i["bore_mm"] * 1e-3, nu_m2_s=i["nu_mm2_s"] * 1e-6
        ).needed_m3_s
        * 60e3
    ),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_iso_fluid_power(row: OutsideRow) -> None:
    """Grades and flush flow agree with the standards."""
    row.check()
