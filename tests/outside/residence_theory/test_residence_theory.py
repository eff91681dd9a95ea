"""Do the washout sums give the figures of textbooks and of algebra?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids import washout
from ullage.fluids.drain_fill import drains, drains_to_target
from ullage.fluids.reservoir import level_time, tracer_volume, volume_balance
from ullage.fluids.residence import dispersion_number, mixing_zone_m, residence_time


def curve(i: Any) -> float:
    """Return one figure of our reading of a tracer curve."""
    found = residence_time(times_s=i["t_s"], concentrations=i["c"])
    return {
        "t_mean": found.mean_s,
        "var": found.variance_s2,
        "var_theta": found.relative_variance,
        "area": found.area,
    }[i["what"]]


def litres(i: Any, *names: str) -> dict[str, float]:
    """Return volumes and flows per minute of the inputs in SI, by our names."""
    si = {}
    for name in names:
        stem = name.removesuffix("_l").removesuffix("_l_min")
        if name.endswith("_l_min"):
            si[f"{stem}_m3_s"] = i[name] / 60e3
        else:
            si[f"{stem}_m3"] = i[name] / 1e3
    return si


OURS = {
    "mixed_exchanged": lambda i: 1.0 - washout.mixed(turnovers=i["turnovers"]).inside_vfrac,
    "mixed_inside": lambda i: washout.mixed(turnovers=i["turnovers"]).inside_vfrac,
    "mixed_volumes": lambda i: washout.mixed_turnovers(target_vfrac=i["target"]),
    "drains_needed": lambda i: drains_to_target(
        target_vfrac=i["target"], **litres(i, "total_l", "drained_l")
    ),
    "drains_left": lambda i: drains(
        total_m3=i["total_l"] / 1e3, drained_m3=[drained / 1e3 for drained in i["drained_l"]]
    )[-1],
    "curve": curve,
    "dispersion": lambda i: dispersion_number(relative_variance=i["variance"]),
    "zone": lambda i: mixing_zone_m(zone_m=i["zone"], at_m=i["at"], to_m=i["to"]),
    "tanks_outlet": lambda i: washout.tanks_in_series(**i).outlet_vfrac,
    "laminar_outlet": lambda i: washout.laminar(**i).outlet_vfrac,
    "laminar_inside": lambda i: washout.laminar(**i).inside_vfrac,
    "laminar_volumes": lambda i: getattr(
        washout.laminar_turnovers(target_vfrac=i["target"]), i["what"]
    ),
    "tracer": lambda i: 1e3 * tracer_volume(before_kg_m3=0.0, **i),
    "level_minutes": lambda i: (
        level_time(**litres(i, "start_l", "keep_l", "in_l_min", "out_l_min")) / 60.0
    ),
    "residual": lambda i: (
        1e3 * volume_balance(**litres(i, "start_l", "in_l", "out_l", "end_l")).residual_m3
    ),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
