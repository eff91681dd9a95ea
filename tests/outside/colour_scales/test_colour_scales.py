"""Do colour scales, sRGB and absorption follow what is printed?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids import colour_scale
from ullage.fluids.colour_scale import d1500_from_tristimulus, d1500_glass, gardner_glass
from ullage.fluids.optics import linear_from_srgb, srgb_from_linear, transmittance_at_path
from ullage.fluids.tables import load_table


def scale_fact(i: Any) -> float:
    """Return one fact about the petroleum scale."""
    glasses = load_table("d1500").numbers("colour")
    return {
        "min": min(glasses),
        "max": max(glasses),
        "n": len(glasses),
        "r": colour_scale.REPEATABILITY,
        "R": colour_scale.REPRODUCIBILITY,
    }[i["what"]]


def glass(i: Any) -> float:
    """Return one coordinate of a glass of the petroleum scale."""
    found = d1500_glass(i["colour"])
    return {"x": found.x, "y": found.y, "Y": 100.0 * found.luminance_share}[i["what"]]


def from_xyz(i: Any) -> float:
    """Return our petroleum colour of tristimulus values."""
    x, y, z = i["xyz"]
    return d1500_from_tristimulus(x=x, y=y, z=z).value


def right_coordinates(i: Any) -> int:
    """Count the coordinates of a Gardner glass that are as printed."""
    found = gardner_glass(i["number"])
    ours = (found.x, found.y, 100.0 * found.luminance_share)
    return sum(abs(a - b) < 1e-9 for a, b in zip(ours, i["xyY"], strict=True))


OURS = {
    "scale_fact": scale_fact,
    "glass": glass,
    "d6045": from_xyz,
    "gardner": right_coordinates,
    "path": lambda i: transmittance_at_path(
        transmittance=i["t"], from_m=i["from_mm"] / 1e3, to_m=i["to_mm"] / 1e3
    ),
    "encode": lambda i: srgb_from_linear(i["linear"]),
    "decode": lambda i: linear_from_srgb(i["byte"] / 255),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
