"""Are counts as unsure as statistics say, and the bands of the plate as practice has them?"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.sampling import CrackleSign, crackle_band, membrane_count, poisson_interval

OURS = {
    "spread": lambda i: poisson_interval(count=i["count"]).relative_spread,
    "limit": lambda i: getattr(poisson_interval(count=i["count"]), i["what"]),
    "crackle_upper": lambda i: 1e6 * (crackle_band(CrackleSign(i["sign"])).to_wfrac or math.nan),
    "crackle_lower": lambda i: 1e6 * crackle_band(CrackleSign(i["sign"])).from_wfrac,
}


def row(quantity: str, ours: float, theirs: float, tolerance: float, reason: str) -> OutsideRow:
    """Return a row that scipy computed."""
    return OutsideRow(
        subject="counting",
        quantity=quantity,
        ours=ours,
        theirs=theirs,
        tolerance=tolerance,
        source="scipy.stats 1.17",
        provenance="library",
        kind="code, library",
        reason=reason,
    )


def chi_squared_rows() -> list[OutsideRow]:
    """Compare our limits with quantiles of chi-squared."""
    found = []
    for count in (0, 1, 5, 19, 1000, 100_000):
        for confidence in (0.90, 0.95):
            ours = poisson_interval(count=count, confidence=confidence)
            tail = (1.0 - confidence) / 2.0
            low = chi2.ppf(tail, 2 * count) / 2.0 if count else 0.0
            high = chi2.ppf(1.0 - tail, 2 * count + 2) / 2.0
            for what, mine, theirs in (("low", ours.low, low), ("high", ours.high, high)):
                quantity = f"{100 * confidence:g} % limit, {what}, of {count} counts [-]"
                found.append(row(quantity, mine, float(theirs), 1e-9 * (1 + theirs), "rounding"))
    return found


def drawn_rows() -> list[OutsideRow]:
    """Count how often our limits hold the mean that the counts were drawn from."""
    rng = np.random.default_rng(20260)
    found = []
    for mean in (8.0, 40.0):
        draws = rng.poisson(mean, 4000)
        limits = {int(n): poisson_interval(count=int(n)) for n in set(draws.tolist())}
        held = np.mean([limits[n].low <= mean <= limits[n].high for n in draws.tolist()])
        found.append(
            row(
                f"share of 95 % intervals that hold a mean of {mean:g} [-]",
                float(held),
                0.965,
                0.016,
                "exact intervals hold at least 95 %, a little more for small counts",
            )
        )
    return found


def membrane_rows() -> list[OutsideRow]:
    """Compare a membrane with the same counts scaled by hand."""
    found = membrane_count(
        count=150, effective_diameter_m=0.040, squares=10, side_m=0.0031, sample_m3=50e-6
    )
    # 1256.637 mm2 over 96.1 mm2, over 50 ml.
    scale = 1256.6370614 / 96.1 / 50.0
    lower = float(chi2.ppf(0.025, 300)) / 2.0 * scale
    return [
        row("150 counts on 10 squares [1/ml]", found.per_m3 / 1e6, 150 * scale, 1e-6, "rounding"),
        row("its lower limit [1/ml]", found.low95_per_m3 / 1e6, lower, 1e-6, "rounding"),
    ]


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [
        *rows_from_expected(Path(__file__).parent, OURS),
        *chi_squared_rows(),
        *drawn_rows(),
        *membrane_rows(),
    ]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
