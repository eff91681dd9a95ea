"""Does a number typed with a unit become the SI value of the guide?"""

from __future__ import annotations

from pathlib import Path

import pint
import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.units.text import si_from_text

OURS = {"typed": lambda i: si_from_text(i["text"], key=i["key"])}


def pint_rows() -> list[OutsideRow]:
    """Compare with units that pint defines under its own names."""
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    found = []
    for text, key, theirs, target in (
        ("3 imp_qt", "volume_l", "3 imperial_quart", "m**3"),
        ("3 imp_pt", "volume_l", "3 imperial_pint", "m**3"),
        ("2 us_fl_oz", "volume_l", "2 US_fluid_ounce", "m**3"),
        ("40 ft/min", "speed_m_s", "40 foot/minute", "m/s"),
        ("0.5 Btu/(lb degF)", "cp_j_kg_k", "0.5 Btu/lb/delta_degF", "J/kg/K"),
    ):
        value = float(registry(theirs).to(target).magnitude)
        found.append(
            OutsideRow(
                subject="units typed",
                quantity=f'"{text}" for {key} [{target}]',
                ours=si_from_text(text, key=key),
                theirs=value,
                tolerance=1e-9 * abs(value),
                source="pint 0.25",
                provenance="library",
                kind="code, library",
                reason="rounding",
            )
        )
    return found


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [*rows_from_expected(Path(__file__).parent, OURS), *pint_rows()]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
