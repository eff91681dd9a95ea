"""Do the worked examples of a fluid power textbook come out as printed?"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.gas import gas_volume_m3, volume_for_oil_m3
from ullage.fluids.heat import hydraulic_power_w, pump_heat_w, throttle_rise_dk
from ullage.fluids.pipe_flow import PressureLoss, pressure_loss, reynolds
from ullage.fluids.viscosity import dynamic_from_kinematic, nu_from_sus
from ullage.units.convert import (
    BTU_J,
    DEGREE_FAHRENHEIT_K,
    HOUR_S,
    INCH_M,
    POUND_KG,
    PSI_PA,
    STANDARD_GRAVITY_M_S2,
    US_GALLON_M3,
)


def flow(i: Any) -> float:
    """Return the flow of a velocity in a bore."""
    return float(i["velocity_m_s"] * math.pi * i["bore_m"] ** 2 / 4.0)


def loss(i: Any) -> PressureLoss:
    """Return our pressure loss of the example's line."""
    return pressure_loss(
        flow_m3_s=flow(i),
        bore_m=i["bore_m"],
        length_m=i["length_m"],
        nu_m2_s=i["nu_m2_s"],
        rho_kg_m3=i["weight_n_m3"] / STANDARD_GRAVITY_M_S2,
    )


def cylinder_in3(i: Any) -> float:
    """Return the volume that the cylinder needs, plain geometry."""
    return float(math.pi / 4.0 * i["bore_in"] ** 2 * i["stroke_in"])


def size_in3(i: Any) -> float:
    """Return the gas volume that fills the cylinder between the two pressures, in cubic inches."""
    return volume_for_oil_m3(
        oil_m3=cylinder_in3(i),
        precharge_abs_pa=i["precharge_psia"] * PSI_PA,
        low_abs_pa=i["low_psia"] * PSI_PA,
        high_abs_pa=i["high_psia"] * PSI_PA,
    )


def gas_in3(i: Any, pressure: str) -> float:
    """Return the gas at one of the pressures, in cubic inches."""
    return gas_volume_m3(
        volume_m3=size_in3(i),
        precharge_abs_pa=i["precharge_psia"] * PSI_PA,
        pressure_abs_pa=i[pressure] * PSI_PA,
    )


def rejected_w(i: Any, dp_pa: float, flow_m3_s: float) -> float:
    """Return the heat of pump, relief valve and lines, the lines as a share of the valve's."""
    relief_w = i["relief_share"] * hydraulic_power_w(dp_pa=dp_pa, flow_m3_s=flow_m3_s)
    pump_w = pump_heat_w(dp_pa=dp_pa, flow_m3_s=flow_m3_s, efficiency=i["efficiency"])
    return float(pump_w + relief_w * (1.0 + i["line_share"]))


def relief_degf(i: Any) -> float:
    """Return the temperature of oil that left a relief valve, in degF."""
    rise_dk = throttle_rise_dk(
        dp_pa=i["p_psi"] * PSI_PA,
        rho_kg_m3=i["lb_gal"] * POUND_KG / US_GALLON_M3,
        cp_j_kg_k=i["cp_btu_lb_degf"] * BTU_J / POUND_KG / DEGREE_FAHRENHEIT_K,
    )
    return float(i["in_degf"] + rise_dk / DEGREE_FAHRENHEIT_K)


OURS = {
    "reynolds": lambda i: reynolds(flow_m3_s=flow(i), bore_m=i["bore_m"], nu_m2_s=i["nu_m2_s"]),
    "head_loss": lambda i: loss(i).dp_pa / i["weight_n_m3"],
    "loss_bar": lambda i: loss(i).dp_pa / 1e5,
    "sus": lambda i: nu_from_sus(i["sus_s"]) * 1e6,
    "sus_dynamic": lambda i: (
        dynamic_from_kinematic(nu_m2_s=nu_from_sus(i["sus_s"]), rho_kg_m3=i["rho_kg_m3"]) * 1e3
    ),
    "cylinder_in3": lambda i: gas_in3(i, "low_psia") - gas_in3(i, "high_psia"),
    "size_gal": lambda i: size_in3(i) * INCH_M**3 / US_GALLON_M3,
    "gas_high_in3": lambda i: gas_in3(i, "high_psia"),
    "gas_low_in3": lambda i: gas_in3(i, "low_psia"),
    "relief_degf": relief_degf,
    "reject_btu_h": lambda i: (
        rejected_w(i, i["p_psi"] * PSI_PA, i["flow_us_gpm"] * US_GALLON_M3 / 60.0) * HOUR_S / BTU_J
    ),
    "reject_kw": lambda i: rejected_w(i, i["p_bar"] * 1e5, i["flow_m3_s"]) / 1e3,
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_fluid_power_textbook(row: OutsideRow) -> None:
    """Worked examples of a textbook come out as printed."""
    row.check()
