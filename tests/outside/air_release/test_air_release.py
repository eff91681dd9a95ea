"""Are the limits of air release those of the standard?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.liquid import Liquid
from ullage.planning.rest import air_release
from ullage.units.convert import kelvin_from_degc


def minutes(i: Any) -> float:
    """Return our limit at 50 degC."""
    oil = Liquid(
        nu40_m2_s=i["nu40"] * 1e-6, nu100_m2_s=i["nu100"] * 1e-6, rho15_kg_m3=875.0, class_="HM"
    )
    return air_release(oil, temperature_k=kelvin_from_degc(50.0)).time_s / 60.0


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, {"minutes": minutes})


@pytest.mark.parametrize("row", rows(), ids=label)
def test_air_release(row: OutsideRow) -> None:
    """The table has the standard's figures, grade by grade."""
    row.check()
