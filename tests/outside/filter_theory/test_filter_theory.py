"""Do filters hold back, settle and load as definitions and practice say?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.filter_drop import FilterDrop, clean_drop_pa, life_used_share
from ullage.fluids.filtration import (
    FilterLoop,
    efficiency_share,
    retention,
    unseen_share,
)


def loop(i: Any) -> FilterLoop:
    """Return the loop of the example; its volume does not matter for where it settles."""
    return FilterLoop(
        volume_m3=0.1,
        flow_m3_s=i["flow_ml_min"] * 1e-6 / 60.0,
        efficiency_share=efficiency_share(ratio=i["beta"]),
        ingress_per_s=i["ingress_per_min"] / 60.0,
    )


def drop_bar(i: Any) -> float:
    """Return our drop of a clean element at another viscosity."""
    sheet = FilterDrop(
        element_pa=i["ref_bar"] * 1e5, flow_m3_s=1e-3, nu_m2_s=i["ref_nu"] * 1e-6, rho_kg_m3=870.0
    )
    drop_pa = clean_drop_pa(sheet=sheet, flow_m3_s=1e-3, nu_m2_s=i["nu"] * 1e-6, rho_kg_m3=870.0)
    return drop_pa / 1e5


OURS = {
    "efficiency": lambda i: 100.0 * efficiency_share(ratio=i["beta"]),
    "ratio": lambda i: retention(upstream=i["up"], downstream=i["down"]).ratio,
    "held_back": lambda i: (
        100.0 * retention(upstream=i["up"], downstream=i["down"]).efficiency_share
    ),
    "steady_before": lambda i: loop(i).steady_per_m3 / 1e6,
    "steady_behind": lambda i: loop(i).steady_behind_per_m3 / 1e6,
    "clean_drop": drop_bar,
    "life_used": lambda i: life_used_share(drop_share=i["drop"]),
    "unseen": lambda i: unseen_share(turnovers=i["turnovers"]),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
