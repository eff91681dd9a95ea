"""Do pipe flow, drag and viscosity scales agree with general-purpose libraries?"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import pytest
from chemicals.viscosity import viscosity_converter
from fluids.core import Froude, Reynolds
from fluids.drag import v_terminal
from fluids.friction import one_phase_dP

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.dispersion import turbulent_dispersion
from ullage.fluids.gas import oil_held_m3, precharge_at_pa
from ullage.fluids.inlet import submergence
from ullage.fluids.pipe_flow import friction_factor, pressure_loss, reynolds
from ullage.fluids.settling import settling
from ullage.fluids.viscosity import nu_from_sus, walther_line

OURS = {
    "friction": lambda i: friction_factor(i["re"], relative_roughness=i["ed"]),
    "peclet": lambda i: (
        1.0 / turbulent_dispersion(re=i["re"], velocity_m_s=1.0, bore_m=1.0).dispersion_m2_s
    ),
}
CODE = "code, library"
FIT = "model, fit to measurements"
THERMO = "thermo 0.6.1"
ZERO_CELSIUS_K = 273.15


def compare(
    subject: str,
    quantity: str,
    ours: float,
    theirs: float,
    relative: float,
    source: str,
    reason: str,
    kind: str = CODE,
) -> OutsideRow:
    """Return a comparison with a number that a library computed."""
    return OutsideRow(
        subject=subject,
        quantity=quantity,
        ours=ours,
        theirs=float(theirs),
        tolerance=abs(float(theirs)) * relative,
        source=source,
        provenance="library",
        kind=kind,
        reason=reason,
    )


def pipe_rows() -> list[OutsideRow]:
    """Compare pressure losses, Reynolds and Froude numbers."""
    found = []
    for name, litres, bore, nu, rough, relative in (
        ("laminar, thick oil", 10.0, 0.010, 46e-6, 0.0, 1e-9),
        ("laminar, hot oil", 5.0, 0.008, 9e-6, 1.5e-6, 1e-9),
        ("turbulent, smooth", 60.0, 0.012, 9e-6, 0.0, 1e-6),
        ("turbulent, rough", 90.0, 0.016, 5e-6, 30e-6, 1e-6),
    ):
        rho, flow = 860.0, litres / 60e3
        theirs = one_phase_dP(
            m=flow * rho, rho=rho, mu=nu * rho, D=bore, roughness=rough, L=3.0, Method="Colebrook"
        )
        if name.startswith("laminar"):
            theirs = one_phase_dP(
                m=flow * rho, rho=rho, mu=nu * rho, D=bore, roughness=rough, L=3.0
            )
        ours = pressure_loss(
            flow_m3_s=flow,
            bore_m=bore,
            length_m=3.0,
            nu_m2_s=nu,
            rho_kg_m3=rho,
            roughness_m=rough,
        )
        found.append(
            compare(
                "pressure loss",
                f"{name}, 3 m of {bore * 1e3:g} mm, {litres:g} l/min [Pa]",
                ours.dp_pa,
                theirs,
                relative,
                "fluids 1.3.1, one_phase_dP",
                "rounding; turbulent friction comes from the same library",
            )
        )
    found.append(
        compare(
            "Reynolds number",
            "10 l/min, 8 mm, 22 mm2/s [-]",
            reynolds(flow_m3_s=10.0 / 60e3, bore_m=0.008, nu_m2_s=22e-6),
            Reynolds(V=10.0 / 60e3 * 4 / (3.141592653589793 * 0.008**2), D=0.008, nu=22e-6),
            1e-12,
            "fluids 1.3.1, Reynolds",
            "rounding",
        )
    )
    mouth = submergence(flow_m3_s=10.0 / 60e3, mouth_m=0.012)
    found.append(
        compare(
            "submergence",
            "Froude number, 10 l/min into 12 mm [-]",
            mouth.froude,
            Froude(V=mouth.velocity_m_s, L=0.012),
            1e-9,
            "fluids 1.3.1, Froude",
            "rounding",
        )
    )
    return found


def drag_rows() -> list[OutsideRow]:
    """Compare Stokes' speed with the terminal speed under full drag."""
    found = []
    for um, rho_particle, nu, relative in (
        (20.0, 2650.0, 46e-6, 0.001),
        (100.0, 7850.0, 46e-6, 0.003),
        (250.0, 7850.0, 22e-6, 0.02),
        (400.0, 7850.0, 22e-6, 0.065),
    ):
        ours = settling(
            diameter_m=um * 1e-6, rho_particle_kg_m3=rho_particle, rho_kg_m3=870.0, nu_m2_s=nu
        )
        theirs = v_terminal(D=um * 1e-6, rhop=rho_particle, rho=870.0, mu=nu * 870.0)
        found.append(
            compare(
                "settling",
                f"{um:g} um, {rho_particle:g} kg/m3, Reynolds {ours.particle_re:.2g} [mm/s]",
                ours.speed_m_s * 1e3,
                theirs * 1e3,
                relative,
                "fluids 1.3.1, v_terminal with its drag correlation",
                f"{relative:.1%}: Stokes is too fast as the particle Reynolds number nears 1",
                "model, drag measured on spheres",
            )
        )
    return found


def saybolt_rows() -> list[OutsideRow]:
    """Compare the Saybolt scale."""
    return [
        compare(
            "Saybolt time",
            f"{seconds:g} s [mm2/s]",
            nu_from_sus(seconds) * 1e6,
            viscosity_converter(seconds, "saybolt universal", "kinematic viscosity") * 1e6,
            relative,
            "chemicals 1.5.2, viscosity_converter (ASTM D2161)",
            "the two-branch equation of the textbook is rounder than the standard's",
        )
        for seconds, relative in ((50.0, 0.02), (150.0, 0.01), (500.0, 0.02))
    ]


def paraffin_rows() -> list[OutsideRow]:
    """Draw our line through the viscosities of paraffins at 40 and 100 degC and read it elsewhere.

    The fits that the library keeps for one liquid differ by 4 to 5 % among themselves at 20 degC;
    n-hexadecane is the one with a reference equation.
    """
    from thermo.viscosity import ViscosityLiquid
    from thermo.volume import VolumeLiquid

    found = []
    for name, cas, kg_mol, fit, density_fit, shares in (
        ("n-tetradecane", "629-59-4", 0.198388, "DIPPR_PERRY_8E", "DIPPR_PERRY_8E", COARSE[0]),
        ("n-pentadecane", "629-62-9", 0.212415, "DIPPR_PERRY_8E", "DIPPR_PERRY_8E", COARSE[1]),
        ("n-hexadecane", "544-76-3", 0.226441, "REFPROP_FIT", "HEOS_FIT", REFERENCE),
        ("n-octadecane", "593-45-3", 0.254494, "DIPPR_PERRY_8E", "DIPPR_PERRY_8E", COARSE[2]),
    ):
        # How that library reads its tables (a file left open, an old word of pandas) is not ours.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            viscosity, volume = ViscosityLiquid(CASRN=cas), VolumeLiquid(CASRN=cas)
        viscosity.method, volume.method = fit, density_fit

        def theirs_m2_s(
            t_degc: float, mu: Any = viscosity, v: Any = volume, m: float = kg_mol
        ) -> float:
            t_k = t_degc + ZERO_CELSIUS_K
            return float(mu.T_dependent_property(t_k) * v.T_dependent_property(t_k) / m)

        line = walther_line(
            t1_k=40.0 + ZERO_CELSIUS_K,
            nu1_m2_s=theirs_m2_s(40.0),
            t2_k=100.0 + ZERO_CELSIUS_K,
            nu2_m2_s=theirs_m2_s(100.0),
        )
        found += [
            compare(
                "viscosity over temperature",
                f"{name} at {t_degc:g} degC from 40 and 100 degC [mm2/s]",
                line.nu_m2_s(t_degc + ZERO_CELSIUS_K) * 1e6,
                theirs_m2_s(t_degc) * 1e6,
                share,
                f"{THERMO}, {fit} with volume of {density_fit}",
                f"{share:.1%}: the straight line is an approximation, and the figure is a fit "
                "from which other fits of the same liquid are as far away",
                FIT,
            )
            for t_degc, share in shares.items()
        ]
    return found


# Room for the line by temperature in degC: below the 40 degC point it is extrapolated.
COARSE = (
    {20.0: 0.015, 60.0: 0.005, 80.0: 0.005},
    {20.0: 0.05, 60.0: 0.015, 80.0: 0.01},
    {30.0: 0.025, 60.0: 0.02, 80.0: 0.02},
)
REFERENCE = {20.0: 0.005, 60.0: 0.005, 80.0: 0.005}


def nitrogen_rows() -> list[OutsideRow]:
    """Hold the ideal gas behind oil against a cubic equation of state of nitrogen."""
    from thermo.eos import PR

    # Critical point and acentric factor of nitrogen, from memory.
    nitrogen = {"Tc": 126.192, "Pc": 3395800.0, "omega": 0.0372}
    room_k, warm_k = 293.15, 353.15

    def volume(bar: float) -> float:
        state = PR(T=room_k, P=bar * 1e5, **nitrogen)
        return float(state.V_g if hasattr(state, "V_g") else state.V_l)

    found = [
        compare(
            "gas charge",
            f"oil per gas volume, 50 to {bar:g} bar abs, slow [-]",
            oil_held_m3(volume_m3=1.0, precharge_abs_pa=50e5, pressure_abs_pa=bar * 1e5),
            1.0 - volume(bar) / volume(50.0),
            share,
            f"{THERMO}, equation of Peng and Robinson",
            f"{share:.1%}: nitrogen is no ideal gas; ours is high, as its caveat says",
            "model, cubic equation of state",
        )
        for bar, share in ((100.0, 0.005), (200.0, 0.025), (350.0, 0.04))
    ]
    found += [
        compare(
            "gas charge",
            f"precharge at 80 degC of {bar:g} bar abs at 20 degC [bar]",
            precharge_at_pa(pressure_abs_pa=bar * 1e5, from_k=room_k, to_k=warm_k) / 1e5,
            PR(T=warm_k, V=volume(bar), **nitrogen).P / 1e5,
            share,
            f"{THERMO}, equation of Peng and Robinson",
            f"{share:.0%}: nitrogen is no ideal gas; ours is low",
            "model, cubic equation of state",
        )
        for bar, share in ((60.0, 0.03), (200.0, 0.07))
    ]
    return found


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [
        *rows_from_expected(Path(__file__).parent, OURS),
        *pipe_rows(),
        *drag_rows(),
        *saybolt_rows(),
        *paraffin_rows(),
        *nitrogen_rows(),
    ]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_fluids_library(row: OutsideRow) -> None:
    """Pipe flow, drag and viscosity units agree with a general library."""
    row.check()
