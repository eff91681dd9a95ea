"""Does the depth of a suction mouth agree with the pump intake standard?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.inlet import Submergence, submergence
from ullage.units.convert import INCH_M, US_GALLON_M3


def small(i: Any) -> Submergence:
    """Return our submergence of a metric case."""
    return submergence(flow_m3_s=i["flow_l_min"] / 60e3, mouth_m=i["mouth_mm"] * 1e-3)


OURS = {
    "depth_in": lambda i: (
        submergence(
            flow_m3_s=i["flow_us_gpm"] * US_GALLON_M3 / 60.0, mouth_m=i["mouth_in"] * INCH_M
        ).depth_m
        / INCH_M
    ),
    "velocity": lambda i: small(i).velocity_m_s,
    "froude": lambda i: small(i).froude,
    "depth_mm": lambda i: small(i).depth_m * 1e3,
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_hydraulic_institute(row: OutsideRow) -> None:
    """The depth of a suction mouth agrees with the pump intake standard."""
    row.check()
