"""With which values is each function of the liquid's physics tried on arrays?

Each parameter has a few values that are right in any combination and fall on both sides of the
borders inside the function. ``tests/contracts/test_arrays.py`` asks that no function is forgotten.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ullage.fluids import (
    blend,
    compressibility,
    density,
    dispersion,
    drain_fill,
    filter_drop,
    filtration,
    flush,
    gas,
    gas_charge,
    heat,
    inlet,
    jet,
    optics,
    pipe_flow,
    reservoir,
    residence,
    settling,
    viscosity,
    washout,
)
from ullage.fluids.liquid import Liquid
from ullage.units import uncertainty

Values = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A function, the values of its parameters, and what else it needs."""

    name: str
    work: Callable[..., Any]
    values: Mapping[str, Values]
    fixed: Mapping[str, Any] = field(default_factory=dict)


OIL = Liquid(nu40_m2_s=32e-6, nu100_m2_s=5.4e-6, rho15_kg_m3=875.0, class_="HV")
GLYCOL = Liquid(nu40_m2_s=7e-6, nu100_m2_s=2e-6, rho15_kg_m3=1060.0, class_="BRAKE-GLYCOL")
LINE = viscosity.walther_line(t1_k=313.15, nu1_m2_s=32e-6, t2_k=373.15, nu2_m2_s=5.4e-6)
STEEL_FALLS = settling.settling(
    diameter_m=100e-6, rho_particle_kg_m3=7850.0, rho_kg_m3=870.0, nu_m2_s=46e-6
)
LOOP = filtration.FilterLoop(
    volume_m3=0.01, flow_m3_s=1e-4, efficiency_share=0.9, ingress_per_s=1e4
)
SHEET = filter_drop.FilterDrop(
    element_pa=2e4, flow_m3_s=1e-3, nu_m2_s=30e-6, rho_kg_m3=870.0, housing_pa=5e3
)

WARM_K: Values = (268.15, 293.15, 353.15, 400.0)
OILS_KG_M3: Values = (810.0, 868.0, 1000.0)
FLOWS_M3_S: Values = (1e-6, 1e-4, 2e-3)
BORES_M: Values = (0.006, 0.012)
THICKNESS_M2_S: Values = (3e-6, 15e-6, 900e-6)
SHARES: Values = (0.0, 0.25, 1.0)
TURNOVERS: Values = (0.0, 0.3, 0.5, 1.0, 4.0)
CHARGE: dict[str, Values] = {
    "volume_m3": (0.0, 1e-3),
    "precharge_abs_pa": (1e4, 60e5, 120e5),
    "pressure_abs_pa": (60e5, 120e5, 250e5),
    "exponent": (1.0, 1.4),
}
BETWEEN: dict[str, Values] = {
    "precharge_abs_pa": (50e5, 60e5),
    "low_abs_pa": (60e5, 80e5),
    "high_abs_pa": (120e5, 180e5),
    "exponent": (1.0, 1.4),
}
LUMP: dict[str, Values] = {
    "power_w": (900.0, 1500.0),
    "ua_w_k": (8.0, 12.0),
    "heat_capacity_j_k": (4e4, 6e4),
    "ambient_k": (280.0, 288.15),
    "start_k": (288.15, 300.0),
}
JUG: dict[str, Values] = {
    "fills": (1.0, 10.0),
    "tolerance_m3": (0.0, 1e-5),
    "division_m3": (0.0, 1e-5),
}
FILTER: dict[str, Values] = {
    "flow_m3_s": (5e-4, 1e-3),
    "rho_kg_m3": (860.0, 880.0),
}
BYPASS: dict[str, Values] = {**FILTER, "bypass_pa": (1.0e5, 1.7e5)}


def forms(form: viscosity.ZForm) -> tuple[Case, Case]:
    """Return both ways of one form of Z."""
    return (
        Case(
            name="viscosity.z_from_nu",
            work=viscosity.z_from_nu,
            values={"nu_m2_s": THICKNESS_M2_S},
            fixed={"form": form},
        ),
        Case(
            name="viscosity.nu_from_z",
            work=viscosity.nu_from_z,
            values={"z": (3.7, 12.0, 900.0)},
            fixed={"form": form},
        ),
    )


def mixture(rule: blend.BlendRule) -> Callable[..., Any]:
    """Return a mixture of two as a function of two viscosities and a share."""

    def mix(thin_m2_s: Any, thick_m2_s: Any, share: Any) -> Any:
        return blend.blend_nu_m2_s(
            nu_m2_s=[thin_m2_s, thick_m2_s], fractions=[share, 1.0 - share], rule=rule
        )

    return mix


def first_mass_share(share: Any, light_kg_m3: Any, heavy_kg_m3: Any) -> Any:
    """Return the share of mass of the first of two parts."""
    return blend.mass_fractions(vfrac=[share, 1.0 - share], rho_kg_m3=[light_kg_m3, heavy_kg_m3])[0]


CASES: tuple[Case, ...] = (
    *(case for form in viscosity.ZForm for case in forms(form)),
    Case(name="viscosity.nu_m2_s", work=LINE.nu_m2_s, values={"temperature_k": WARM_K}),
    Case(
        name="viscosity.viscosity_at",
        work=viscosity.viscosity_at,
        values={"temperature_k": (*WARM_K, 430.0)},
        fixed={"t1_k": 313.15, "nu1_m2_s": 32e-6, "t2_k": 373.15, "nu2_m2_s": 5.4e-6},
    ),
    Case(
        name="viscosity.nu_from_sus",
        work=viscosity.nu_from_sus,
        values={"sus_s": (33.0, 100.0, 100.5, 230.0)},
    ),
    Case(
        name="viscosity.dynamic_from_kinematic",
        work=viscosity.dynamic_from_kinematic,
        values={"nu_m2_s": THICKNESS_M2_S, "rho_kg_m3": OILS_KG_M3},
    ),
    Case(
        name="density.expansion_per_k",
        work=density.expansion_per_k,
        values={"rho15_kg_m3": OILS_KG_M3},
    ),
    Case(
        name="density.volume_correction",
        work=density.volume_correction,
        values={"rho15_kg_m3": OILS_KG_M3, "temperature_k": WARM_K},
    ),
    Case(
        name="density.density_at_kg_m3",
        work=density.density_at_kg_m3,
        values={"rho15_kg_m3": OILS_KG_M3, "temperature_k": WARM_K},
    ),
    Case(
        name="density.volume_at_m3",
        work=density.volume_at_m3,
        values={
            "volume_m3": (0.0, 0.01),
            "from_k": WARM_K,
            "to_k": WARM_K,
            "rho15_kg_m3": OILS_KG_M3,
        },
    ),
    Case(
        name="density.level_shift",
        work=density.level_shift,
        values={
            "volume_m3": (0.003, 0.1),
            "from_k": (283.15, 333.15),
            "to_k": (283.15, 333.15),
            "rho15_kg_m3": OILS_KG_M3,
            "area_m2": (0.01, 0.03),
        },
    ),
    Case(
        name="pipe_flow.velocity_m_s",
        work=pipe_flow.velocity_m_s,
        values={"flow_m3_s": (0.0, 1e-4), "bore_m": BORES_M},
    ),
    Case(
        name="pipe_flow.bore_for_velocity_m",
        work=pipe_flow.bore_for_velocity_m,
        values={"flow_m3_s": FLOWS_M3_S, "velocity_m_s": (0.5, 2.0)},
    ),
    Case(
        name="pipe_flow.reynolds",
        work=pipe_flow.reynolds,
        values={"flow_m3_s": (0.0, 1e-4), "bore_m": BORES_M, "nu_m2_s": THICKNESS_M2_S},
    ),
    Case(
        name="pipe_flow.regime_of",
        work=pipe_flow.regime_of,
        values={"re": (0.0, 2299.0, 2300.0, 4000.0, 4001.0)},
    ),
    Case(
        name="pipe_flow.flow_for_reynolds_m3_s",
        work=pipe_flow.flow_for_reynolds_m3_s,
        values={"re": (0.0, 4000.0), "bore_m": BORES_M, "nu_m2_s": THICKNESS_M2_S},
    ),
    Case(
        name="pipe_flow.friction_factor",
        work=pipe_flow.friction_factor,
        values={"re": (1.0, 2299.0, 2300.0, 4000.0, 1e5), "relative_roughness": (0.0, 1e-3)},
    ),
    Case(
        name="pipe_flow.pressure_loss",
        work=pipe_flow.pressure_loss,
        values={
            "flow_m3_s": FLOWS_M3_S,
            "bore_m": BORES_M,
            "length_m": (0.1, 5.0),
            "nu_m2_s": THICKNESS_M2_S,
            "rho_kg_m3": (850.0, 900.0),
            "roughness_m": (0.0, 1e-5),
        },
    ),
    Case(
        name="pipe_flow.entrance_length_m",
        work=pipe_flow.entrance_length_m,
        values={"re": (0.0, 2299.0, 2300.0, 4000.0, 1e5), "bore_m": BORES_M},
    ),
    Case(
        name="flush.flush_flow",
        work=flush.flush_flow,
        values={"flow_m3_s": FLOWS_M3_S, "bore_m": BORES_M, "nu_m2_s": THICKNESS_M2_S},
    ),
    Case(
        name="settling.settling",
        work=settling.settling,
        values={
            "diameter_m": (5e-6, 50e-6, 150e-6),
            "rho_particle_kg_m3": (1.2, 868.0, 7850.0),
            "rho_kg_m3": (868.0, 880.0),
            "nu_m2_s": (30e-6, 90e-6),
        },
    ),
    Case(name="settling.time_over_s", work=STEEL_FALLS.time_over_s, values={"depth_m": (0.0, 0.2)}),
    Case(name="gas.gas_volume_m3", work=gas.gas_volume_m3, values=CHARGE),
    Case(name="gas.oil_held_m3", work=gas.oil_held_m3, values=CHARGE),
    Case(name="gas.stored_energy_j", work=gas.stored_energy_j, values=CHARGE),
    Case(
        name="gas.oil_between_m3",
        work=gas.oil_between_m3,
        values={"volume_m3": (0.0, 1e-3), **BETWEEN},
    ),
    Case(
        name="gas.volume_for_oil_m3",
        work=gas.volume_for_oil_m3,
        values={"oil_m3": (1e-3, 5e-3), **BETWEEN},
    ),
    Case(
        name="gas.precharge_at_pa",
        work=gas.precharge_at_pa,
        values={"pressure_abs_pa": (60e5, 100e5), "from_k": WARM_K, "to_k": WARM_K},
    ),
    Case(name="gas_charge.gas_charge", work=gas_charge.gas_charge, values=CHARGE),
    Case(
        name="heat.time_to_temperature",
        work=heat.time_to_temperature,
        values={**LUMP, "target_k": (300.0, 315.0, 340.0)},
    ),
    Case(
        name="heat.temperature_after_k",
        work=heat.temperature_after_k,
        values={"time_s": (0.0, 60.0, 5000.0), **LUMP},
    ),
    Case(
        name="heat.heat_capacity",
        work=heat.heat_capacity,
        values={
            "oil_m3": (0.003, 0.012),
            "rho_kg_m3": OILS_KG_M3,
            "metal_kg": (0.0, 40.0),
            "oil_cp_j_kg_k": (1800.0, 1900.0),
            "metal_cp_j_kg_k": (460.0, 900.0),
        },
    ),
    Case(
        name="heat.throttle_rise_dk",
        work=heat.throttle_rise_dk,
        values={"dp_pa": (0.0, 1e7), "rho_kg_m3": OILS_KG_M3, "cp_j_kg_k": (1800.0, 1900.0)},
    ),
    Case(
        name="heat.hydraulic_power_w",
        work=heat.hydraulic_power_w,
        values={"dp_pa": (0.0, 70e5), "flow_m3_s": (0.0, 1e-3)},
    ),
    Case(
        name="heat.pump_heat_w",
        work=heat.pump_heat_w,
        values={"dp_pa": (0.0, 70e5), "flow_m3_s": (0.0, 1e-3), "efficiency": (0.6, 1.0)},
    ),
    Case(
        name="heat.stream_heat_w",
        work=heat.stream_heat_w,
        values={
            "flow_m3_s": (0.0, 1e-4),
            "rho_kg_m3": OILS_KG_M3,
            "rise_dk": (-5.0, 0.0, 8.0),
            "cp_j_kg_k": (1800.0, 1900.0),
        },
    ),
    Case(name="washout.mixed", work=washout.mixed, values={"turnovers": TURNOVERS}),
    Case(name="washout.plug", work=washout.plug, values={"turnovers": TURNOVERS}),
    Case(name="washout.laminar", work=washout.laminar, values={"turnovers": TURNOVERS}),
    Case(
        name="washout.tanks_in_series",
        work=washout.tanks_in_series,
        values={"turnovers": (*TURNOVERS, 800.0)},
        fixed={"tanks": 7},
    ),
    Case(
        name="washout.dead_space",
        work=washout.dead_space,
        values={"turnovers": TURNOVERS, "active_share": (0.5, 1.0), "mixed_feed_share": SHARES},
    ),
    Case(
        name="washout.two_tanks",
        work=washout.two_tanks,
        values={
            "first_m3": (0.001, 0.002, 0.0020001),
            "second_m3": (0.001, 0.002),
            "through_m3": (0.0, 0.003, 1.0),
        },
    ),
    Case(
        name="washout.mixed_turnovers",
        work=washout.mixed_turnovers,
        values={"target_vfrac": (0.01, 0.5, 0.7, 1.0)},
    ),
    Case(
        name="washout.laminar_turnovers",
        work=washout.laminar_turnovers,
        values={"target_vfrac": (0.01, 0.5, 0.7, 1.0)},
    ),
    Case(
        name="washout.shuttle_chamber",
        work=washout.shuttle_chamber,
        values={
            "swept_m3": (1e-4, 3e-4),
            "unswept_m3": (0.0, 1e-4),
            "line_m3": (0.0, 1e-4, 2e-4),
            "strokes": (0.0, 2.0, 50.0),
        },
    ),
    Case(
        name="blend.blending_number",
        work=blend.blending_number,
        values={"nu_m2_s": THICKNESS_M2_S},
    ),
    *(
        Case(
            name="blend.blend_nu_m2_s",
            work=mixture(rule),
            values={
                "thin_m2_s": (3e-6, 20e-6),
                "thick_m2_s": (32e-6, 900e-6),
                "share": SHARES,
            },
        )
        for rule in blend.BlendRule
    ),
    Case(
        name="blend.mass_fractions",
        work=first_mass_share,
        values={"share": SHARES, "light_kg_m3": (850.0, 860.0), "heavy_kg_m3": (900.0, 1000.0)},
    ),
    Case(
        name="blend.lederer_roegiers_pa_s",
        work=blend.lederer_roegiers_pa_s,
        values={
            "mu1_pa_s": (0.02, 0.04),
            "mu2_pa_s": (0.01, 0.04),
            "fraction2": SHARES,
            "alpha": (0.8, 1.2),
        },
    ),
    Case(
        name="blend.lederer_alpha",
        work=blend.lederer_alpha,
        values={
            "mu1_pa_s": (0.03, 0.04),
            "mu2_pa_s": (0.01, 0.012),
            "fraction2": (0.3, 0.5),
            "mixture_pa_s": (0.015, 0.02),
        },
    ),
    *(
        Case(
            name="blend.old_fraction_from_viscosity",
            work=blend.old_fraction_from_viscosity,
            values={
                "mixture_m2_s": (32.2e-6, 45e-6, 65e-6),
                "old_m2_s": (31e-6, 32.3e-6),
                "new_m2_s": (66e-6, 68e-6),
                "u_relative": (0.005, 0.1),
            },
            fixed={"rule": rule},
        )
        for rule in blend.BlendRule
    ),
    Case(
        name="residence.closed_vessel_variance",
        work=residence.closed_vessel_variance,
        values={"dispersion_number": (0.001, 0.12, 9e3, 2e4)},
    ),
    Case(
        name="residence.dispersion_number",
        work=residence.dispersion_number,
        values={"relative_variance": (0.01, 0.2111, 0.99)},
    ),
    Case(
        name="residence.mixing_zone_m",
        work=residence.mixing_zone_m,
        values={"zone_m": (0.0, 8.0), "at_m": (16.0, 32.0), "to_m": (32.0, 50.0)},
    ),
    Case(
        name="dispersion.taylor_aris",
        work=dispersion.taylor_aris,
        values={
            "velocity_m_s": (1e-6, 0.5),
            "bore_m": BORES_M,
            "diffusivity_m2_s": (1e-10, 1e-7),
            "length_m": (0.5, 5.0),
        },
    ),
    Case(
        name="dispersion.radial_diffusion_time_s",
        work=dispersion.radial_diffusion_time_s,
        values={"bore_m": BORES_M, "diffusivity_m2_s": (1e-10, 1e-9)},
    ),
    Case(
        name="dispersion.turbulent_dispersion",
        work=dispersion.turbulent_dispersion,
        values={"re": (2300.0, 4000.0, 1e5), "velocity_m_s": (0.5, 2.0), "bore_m": BORES_M},
    ),
    Case(
        name="drain_fill.drains_to_target",
        work=drain_fill.drains_to_target,
        values={
            "total_m3": (0.008, 0.012),
            "drained_m3": (0.001, 0.004, 0.008),
            "target_vfrac": (0.05, 0.25, 1.0),
        },
    ),
    Case(
        name="compressibility.relative_volume",
        work=compressibility.relative_volume,
        values={"pressure_pa": (0.0, 25e6, 124e6), "temperature_k": (284.0, 313.15, 373.15)},
    ),
    Case(
        name="compressibility.secant_bulk_modulus_pa",
        work=compressibility.secant_bulk_modulus_pa,
        values={"pressure_pa": (1e6, 25e6, 124e6), "temperature_k": (284.0, 313.15, 373.15)},
    ),
    Case(
        name="compressibility.effective_bulk_modulus_pa",
        work=compressibility.effective_bulk_modulus_pa,
        values={
            "liquid_pa": (1.5e9, 1.7e9),
            "air_vfrac": (0.0, 0.01),
            "pressure_abs_pa": (1e5, 35e5),
            "exponent": (1.0, 1.4),
            "bore_m": (0.0, 0.01),
            "wall_m": (0.001, 0.002),
            "wall_modulus_pa": (2e9, float("inf")),
        },
    ),
    Case(
        name="compressibility.dissolved_air_vfrac",
        work=compressibility.dissolved_air_vfrac,
        values={"pressure_abs_pa": (0.0, 1e5, 1e7), "bunsen": (0.06, 0.12)},
    ),
    Case(
        name="filter_drop.clean_drop_pa",
        work=filter_drop.clean_drop_pa,
        values={**FILTER, "nu_m2_s": THICKNESS_M2_S},
        fixed={"sheet": SHEET},
    ),
    Case(
        name="filter_drop.bypass_viscosity_m2_s",
        work=filter_drop.bypass_viscosity_m2_s,
        values=BYPASS,
        fixed={"sheet": SHEET},
    ),
    Case(
        name="filter_drop.bypass_temperature_k",
        work=filter_drop.bypass_temperature_k,
        values=BYPASS,
        fixed={"sheet": SHEET, "line": LINE},
    ),
    Case(
        name="filter_drop.life_used_share",
        work=filter_drop.life_used_share,
        values={"drop_share": SHARES},
    ),
    Case(
        name="filtration.retention",
        work=filtration.retention,
        values={"upstream": (1000.0, 40_000.0), "downstream": (10.0, 30.0, 1000.0)},
    ),
    Case(
        name="filtration.efficiency_share",
        work=filtration.efficiency_share,
        values={"ratio": (1.0, 75.0)},
    ),
    Case(
        name="filtration.loop_concentration",
        work=filtration.loop_concentration,
        values={"start_per_m3": (0.0, 1e9), "time_s": (0.0, 100.0, 700.0)},
        fixed={"loop": LOOP},
    ),
    Case(
        name="filtration.time_to_concentration",
        work=filtration.time_to_concentration,
        values={"start_per_m3": (2e8, 1e9), "target_per_m3": (1.2e8, 2e8, 5e8)},
        fixed={"loop": LOOP},
    ),
    Case(
        name="filtration.unseen_share",
        work=filtration.unseen_share,
        values={"turnovers": TURNOVERS},
    ),
    Case(
        name="inlet.froude",
        work=inlet.froude,
        values={"velocity_m_s": (0.0, 1.5), "length_m": (0.012, 0.2)},
    ),
    Case(
        name="inlet.submergence",
        work=inlet.submergence,
        values={"flow_m3_s": (0.0, 1e-4), "mouth_m": (0.012, 0.2)},
    ),
    Case(
        name="inlet.inlet_pressure",
        work=inlet.inlet_pressure,
        values={
            "rho_kg_m3": (860.0, 880.0),
            "surface_above_inlet_m": (-0.5, 0.3),
            "velocity_m_s": (0.0, 1.0),
            "line_loss_pa": (0.0, 25_000.0),
            "strainer_loss_pa": (0.0, 20_000.0),
            "atmosphere_abs_pa": (90e3, 101325.0),
            "least_abs_pa": (0.6e5, 0.8e5),
        },
    ),
    Case(
        name="inlet.absolute_from_vacuum_pa",
        work=inlet.absolute_from_vacuum_pa,
        values={"vacuum_inhg": (0.0, 5.0), "atmosphere_abs_pa": (90e3, 101325.0)},
    ),
    Case(
        name="jet.leak_jet",
        work=jet.leak_jet,
        values={"dp_pa": (0.0, 6e5, 145e5), "rho_kg_m3": OILS_KG_M3},
    ),
    *(
        Case(
            name=f"liquid.{name}", work=getattr(liquid, name), values={"temperature_k": WARM_K[1:]}
        )
        for liquid in (OIL, GLYCOL)
        for name in ("nu_m2_s", "volume_factor", "density_kg_m3")
    ),
    Case(
        name="optics.absorbance",
        work=optics.absorbance,
        values={"transmittance": (0.01, 0.5, 1.0)},
    ),
    Case(
        name="optics.transmittance_at_path",
        work=optics.transmittance_at_path,
        values={"transmittance": (0.01, 0.5, 1.0), "from_m": (0.01, 0.02), "to_m": (0.01, 0.025)},
    ),
    Case(
        name="optics.old_share",
        work=optics.old_share,
        values={
            "old_absorbance": (1.2, 1.6),
            "new_absorbance": (0.2, 0.21),
            "mix_absorbance": (0.199, 0.5, 1.19),
            "u_old": (0.01, 0.02),
            "u_new": (0.01, 0.02),
            "u_mix": (0.01, 0.02),
        },
    ),
    Case(
        name="optics.linear_from_srgb",
        work=optics.linear_from_srgb,
        values={"encoded": (0.0, 0.04045, 0.0405, 1.0)},
    ),
    Case(
        name="optics.srgb_from_linear",
        work=optics.srgb_from_linear,
        values={"linear": (0.0, 0.0031308, 0.00314, 1.0)},
    ),
    Case(
        name="reservoir.varying_volume",
        work=reservoir.varying_volume,
        values={
            "start_m3": (0.002, 0.003),
            "in_m3_s": (0.0, 5e-5, 1e-4),
            "out_m3_s": (0.0, 5e-5),
            "time_s": (0.0, 30.0),
        },
    ),
    Case(
        name="reservoir.level_time",
        work=reservoir.level_time,
        values={
            "start_m3": (0.002, 0.003),
            "keep_m3": (0.0, 0.002),
            "in_m3_s": (0.0, 5e-5),
            "out_m3_s": (1e-4, 2e-4),
        },
    ),
    Case(
        name="reservoir.tracer_volume",
        work=reservoir.tracer_volume,
        values={
            "tracer_kg": (1e-9, 3e-9),
            "before_kg_m3": (0.0, 1e-7),
            "after_kg_m3": (5e-7, 6e-7),
        },
    ),
    *(
        Case(
            name=f"uncertainty.{name}",
            work=getattr(uncertainty, name),
            values={"half_width": (0.0, 1.0, 3.0)},
        )
        for name in ("rectangular", "triangular", "u_shaped")
    ),
    Case(
        name="uncertainty.resolution",
        work=uncertainty.resolution,
        values={"division": (0.0, 1.0, 3.0)},
    ),
    Case(
        name="uncertainty.low_best_high",
        work=uncertainty.low_best_high,
        values={"low": (-1.0, 0.0), "best": (0.0, 0.5), "high": (0.5, 2.0)},
    ),
    Case(name="uncertainty.same_jug", work=uncertainty.same_jug, values=JUG),
)
