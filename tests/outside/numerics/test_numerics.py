"""Do our closed forms agree with plain numerical integration, root finding and random draws?"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from tests.outside.rows import OutsideRow, label
from ullage.fluids.blend import BlendRule, blend_nu_m2_s, old_fraction_from_viscosity
from ullage.fluids.compressibility import effective_bulk_modulus_pa
from ullage.fluids.gas import stored_energy_j
from ullage.fluids.heat import temperature_after_k, time_to_temperature
from ullage.fluids.pipe_flow import friction_factor, pressure_loss
from ullage.fluids.viscosity import ZForm, nu_from_z, z_from_nu


def row(
    subject: str, quantity: str, ours: float, theirs: float, relative: float, reason: str
) -> OutsideRow:
    """Return a comparison with a number computed by a numerical method."""
    return OutsideRow(
        subject=subject,
        quantity=quantity,
        ours=ours,
        theirs=theirs,
        tolerance=abs(theirs) * relative,
        source="scipy 1.17, the equation itself solved numerically",
        provenance="library",
        kind="code, numerical solution",
        reason=reason,
    )


def heat_rows() -> list[OutsideRow]:
    """Integrate the balance of heat and find when it crosses the target."""
    ua, capacity, ambient = 12.0, 60e3, 288.15
    found = []
    for name, power, start, target in (
        ("warming by 1.5 kW to 60 degC", 1500.0, 278.15, 333.15),
        ("cooling from 80 to 40 degC", 0.0, 353.15, 313.15),
    ):

        def slope(_t: float, y: np.ndarray, power: float = power) -> list[float]:
            return [(power - ua * (y[0] - ambient)) / capacity]

        def crossing(_t: float, y: np.ndarray, target: float = target) -> float:
            return float(y[0] - target)

        crossing.terminal = True  # type: ignore[attr-defined]
        solved = solve_ivp(
            slope, (0.0, 1e5), [start], events=crossing, rtol=1e-10, atol=1e-9, max_step=200.0
        )
        ours = time_to_temperature(
            power_w=power,
            ua_w_k=ua,
            heat_capacity_j_k=capacity,
            ambient_k=ambient,
            start_k=start,
            target_k=target,
        )
        theirs = float(solved.t_events[0][0])
        found.append(row("heat", f"{name} [s]", ours.time_s, theirs, 1e-6, "steps of the solver"))
        after = solve_ivp(slope, (0.0, 1800.0), [start], rtol=1e-10, atol=1e-9)
        found.append(
            row(
                "heat",
                f"{name}, after 30 minutes [K]",
                temperature_after_k(
                    1800.0,
                    power_w=power,
                    ua_w_k=ua,
                    heat_capacity_j_k=capacity,
                    ambient_k=ambient,
                    start_k=start,
                ),
                float(after.y[0][-1]),
                1e-8,
                "steps of the solver",
            )
        )
    return found


def friction_rows() -> list[OutsideRow]:
    """Solve the equation of Colebrook, and integrate the laminar profile over the bore."""
    found = []
    for re, rough in ((5e3, 0.0), (5e4, 1e-3), (1e6, 1e-5), (1e5, 0.03)):

        def gap(f: float, re: float = re, rough: float = rough) -> float:
            root = math.sqrt(f)
            return 1.0 / root + 2.0 * math.log10(rough / 3.7 + 2.51 / (re * root))

        theirs = brentq(gap, 1e-3, 0.2, xtol=1e-15, rtol=1e-14)
        found.append(
            row(
                "friction factor",
                f"Colebrook, Reynolds {re:g}, roughness {rough:g} [-]",
                friction_factor(re, relative_roughness=rough),
                float(theirs),
                1e-6,
                "library writes the constants with more digits",
            )
        )
    # A pressure gradient drives a parabola; the flow is its integral over the bore.
    gradient, radius, nu, rho = 2e4, 0.005, 46e-6, 870.0
    flow, _ = quad(
        lambda r: 2.0 * math.pi * r * gradient / (4.0 * nu * rho) * (radius**2 - r**2), 0.0, radius
    )
    ours = pressure_loss(
        flow_m3_s=flow, bore_m=2.0 * radius, length_m=1.0, nu_m2_s=nu, rho_kg_m3=rho
    )
    found.append(
        row(
            "pressure loss",
            "laminar profile integrated [Pa]",
            ours.dp_pa,
            gradient,
            1e-9,
            "rounding",
        )
    )
    return found


def viscosity_rows() -> list[OutsideRow]:
    """Invert the chart function by root finding."""
    found = []
    for nu, form, relative in (
        (0.4, ZForm.MEDIUM, 3e-4),
        (1.3, ZForm.MEDIUM, 3e-4),
        (0.4, ZForm.FULL, 1e-9),
        (1.3, ZForm.FULL, 1e-9),
    ):
        z = z_from_nu(nu * 1e-6, form)
        theirs = brentq(lambda x, f=form, z=z: z_from_nu(x * 1e-6, f) - z, 0.21, 5.0, xtol=1e-14)
        found.append(
            row(
                "chart function Z",
                f"{form.value} form turned back to {nu} mm2/s [mm2/s]",
                nu_from_z(z, form) * 1e6,
                float(theirs),
                relative,
                "the explicit inverse of the standard is a fit"
                if form is ZForm.MEDIUM
                else "rounding",
            )
        )
    return found


def mixture_rows() -> list[OutsideRow]:
    """Find the share by root finding and its uncertainty by random draws."""
    old, new, mixed, u = 30e-6, 46e-6, 37e-6, 0.005
    found = []
    for rule in BlendRule:
        ours = old_fraction_from_viscosity(
            mixture_m2_s=mixed, old_m2_s=old, new_m2_s=new, u_relative=u, rule=rule
        )
        theirs = brentq(
            lambda x, rule=rule: (
                blend_nu_m2_s(nu_m2_s=[old, new], fractions=[x, 1.0 - x], rule=rule) - mixed
            ),
            0.0,
            1.0,
            xtol=1e-13,
        )
        found.append(
            row(
                "mixture of two oils",
                f"share by {rule.value} [-]",
                ours.share,
                theirs,
                1e-8,
                "rounding",
            )
        )
    # The rule of Arrhenius is simple enough to write out for a cloud of draws.
    drawn = np.random.default_rng(7).normal(1.0, u, (3, 200_000))
    log_mixed, log_old, log_new = (
        np.log(nu * factors) for nu, factors in zip((mixed, old, new), drawn, strict=True)
    )
    spread = float(np.std((log_mixed - log_new) / (log_old - log_new)))
    ours = old_fraction_from_viscosity(
        mixture_m2_s=mixed, old_m2_s=old, new_m2_s=new, u_relative=u, rule=BlendRule.ARRHENIUS
    )
    found.append(
        row(
            "mixture of two oils",
            "standard uncertainty of the share by Arrhenius [-]",
            ours.u_share,
            spread,
            0.02,
            "200 000 seeded draws; first order against the whole",
        )
    )
    return found


def compression_rows() -> list[OutsideRow]:
    """Integrate the work on a gas, and squeeze oil with bubbles by a little."""
    v0, p0, p1 = 0.35e-3, 61e5, 121e5
    found = []
    for exponent in (1.0, 1.2, 1.4):
        v1 = v0 * (p0 / p1) ** (1.0 / exponent)
        work, _ = quad(lambda v, n=exponent: p0 * (v0 / v) ** n, v1, v0, epsabs=0.0, epsrel=1e-12)
        found.append(
            row(
                "gas charge",
                f"work of compression, exponent {exponent} [J]",
                stored_energy_j(
                    volume_m3=v0, precharge_abs_pa=p0, pressure_abs_pa=p1, exponent=exponent
                ),
                work,
                1e-9,
                "rounding",
            )
        )
    modulus, air, pressure, step = 1.7e9, 0.01, 35e5, 10.0

    def volume(p: float) -> float:
        liquid = (1.0 - air) * math.exp(-(p - pressure) / modulus)
        return liquid + air * pressure / p

    theirs = -volume(pressure) * 2.0 * step / (volume(pressure + step) - volume(pressure - step))
    found.append(
        row(
            "oil with air in it",
            "modulus of oil with 1 % air at 35 bar abs [Pa]",
            effective_bulk_modulus_pa(liquid_pa=modulus, air_vfrac=air, pressure_abs_pa=pressure),
            theirs,
            0.003,
            "the textbook form gives the liquid all of the volume, not all but the air",
        )
    )
    return found


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [*heat_rows(), *friction_rows(), *viscosity_rows(), *mixture_rows(), *compression_rows()]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_numerics(row: OutsideRow) -> None:
    """Closed forms agree with numerical integration and root finding."""
    row.check()
