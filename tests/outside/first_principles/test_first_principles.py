"""Do our answers agree with closed forms that were worked out separately?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.dispersion import radial_diffusion_time_s, taylor_aris
from ullage.fluids.gas import stored_energy_j
from ullage.fluids.heat import throttle_rise_dk
from ullage.fluids.inlet import absolute_from_vacuum_pa
from ullage.fluids.jet import leak_jet
from ullage.fluids.settling import settling


def rise_m_s(i: Any) -> float:
    """Return our rising speed of an air bubble."""
    return -settling(
        diameter_m=i["d_mm"] * 1e-3,
        rho_particle_kg_m3=1.2,
        rho_kg_m3=i["rho_kg_m3"],
        nu_m2_s=i["nu_mm2_s"] * 1e-6,
    ).speed_m_s


OURS = {
    "rise_m_s": rise_m_s,
    "taylor": lambda i: (
        taylor_aris(
            velocity_m_s=i["u"], bore_m=i["d"], diffusivity_m2_s=i["dm"], length_m=5.0
        ).dispersion_m2_s
    ),
    "radial_time": lambda i: radial_diffusion_time_s(bore_m=i["d"], diffusivity_m2_s=i["dm"]),
    "vacuum_bara": lambda i: absolute_from_vacuum_pa(vacuum_inhg=i["inhg"]) / 1e5,
    "energy_j": lambda i: stored_energy_j(
        volume_m3=i["V0_L"] * 1e-3,
        precharge_abs_pa=i["p0"] * 1e5,
        pressure_abs_pa=i["p2"] * 1e5,
        exponent=i["n"],
    ),
    "throttle": lambda i: throttle_rise_dk(
        dp_pa=i["dp_bar"] * 1e5, rho_kg_m3=i["rho"], cp_j_kg_k=i["cp"]
    ),
    "jet": lambda i: leak_jet(dp_pa=i["dp_bar"] * 1e5, rho_kg_m3=i["rho"]).speed_m_s,
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_first_principles(row: OutsideRow) -> None:
    """Closed forms computed by another hand agree."""
    row.check()
