"""Does the volume correction give the figures of API MPMS chapter 11.1, old edition and new?"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.density import volume_correction
from ullage.units.convert import kelvin_from_degc, kelvin_from_degf


def factor(rho15_kg_m3: float, t_degc: float) -> float:
    """Return our volume correction factor."""
    return volume_correction(rho15_kg_m3=rho15_kg_m3, temperature_k=kelvin_from_degc(t_degc))


OURS = {
    "vcf": lambda i: factor(i["rho15_kg_m3"], i["t_degc"]),
    "swelling": lambda i: (
        factor(i["rho15_kg_m3"], i["from_degc"]) / factor(i["rho15_kg_m3"], i["to_degc"])
    ),
}

K1_2004_PER_DEGF = 0.34878  # lubricating oils, base 60 degF, density in kg/m3


def factor_2004(rho60_kg_m3: float, t_degf: float) -> float:
    """Return the factor to 60 degF by the edition of 2004, on one temperature scale."""
    warming = K1_2004_PER_DEGF / rho60_kg_m3 * (t_degf - 60.0)
    return math.exp(-warming * (1.0 + 0.8 * warming))


def later_edition() -> list[OutsideRow]:
    """Compare densities by the two editions, which start from different base temperatures."""
    found = []
    for rho60, t_degf in ((860.0, 0.0), (860.0, 140.0), (860.0, 212.0), (900.0, 140.0)):
        # The density at 15 degC that the later edition gives, 59 degF.
        rho15 = rho60 * factor_2004(rho60, 59.0)
        found.append(
            OutsideRow(
                subject="volume correction of oil",
                quantity=f"density at {t_degf:g} degF of {rho60:g} kg/m3 at 60 degF [kg/m3]",
                ours=rho15
                * volume_correction(rho15_kg_m3=rho15, temperature_k=kelvin_from_degf(t_degf)),
                theirs=rho60 * factor_2004(rho60, t_degf),
                tolerance=0.05,
                source="API MPMS 11.1-2004, lubricating oils",
                provenance="found",
                kind="code, published formula with figures of our own",
                reason="editions differ by rounding of the constant and by the base, 1 degF apart",
            )
        )
    return found


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [*rows_from_expected(Path(__file__).parent, OURS), *later_edition()]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_api_mpms(row: OutsideRow) -> None:
    """Volume correction agrees with the table and with its later edition."""
    row.check()
