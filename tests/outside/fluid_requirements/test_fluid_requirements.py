"""Do our tables of requirements hold the printed figures?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids import scald
from ullage.fluids.compatibility import brake_fluid
from ullage.fluids.sampling import CylinderClass, cylinder_tolerance_m3


def brake(i: Any) -> float:
    """Return one requirement for a brake fluid in the units of print."""
    found = brake_fluid(i["name"])
    return {
        "dry": found.dry_boiling_min_k - 273.15,
        "wet": found.wet_boiling_min_k - 273.15,
        "cold": found.nu_minus40_max_m2_s * 1e6,
        "hot": found.nu100_min_m2_s * 1e6,
    }[i["what"]]


def burn(i: Any) -> float:
    """Return the seconds to a burn."""
    found = scald.scald_time(temperature_k=i["t_degc"] + 273.15)
    return found.second_degree_s if i["what"] == "second" else found.third_degree_s


CONTACT = {"industrial": scald.INDUSTRIAL_CONTACT_S, "consumer": scald.CONSUMER_CONTACT_S}

OURS = {
    "brake": brake,
    "scald": burn,
    "contact": lambda i: CONTACT[i["what"]],
    "cylinder": lambda i: (
        1e6
        * cylinder_tolerance_m3(capacity_m3=i["capacity_ml"] / 1e6, grade=CylinderClass(i["class"]))
    ),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
