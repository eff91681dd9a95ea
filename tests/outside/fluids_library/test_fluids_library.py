"""Do pipe flow, drag and viscosity scales agree with general-purpose libraries?"""

from __future__ import annotations

from pathlib import Path

import pytest
from chemicals.viscosity import viscosity_converter
from fluids.core import Froude, Reynolds
from fluids.drag import v_terminal
from fluids.friction import one_phase_dP

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.dispersion import turbulent_dispersion
from ullage.fluids.inlet import submergence
from ullage.fluids.pipe_flow import friction_factor, pressure_loss, reynolds
from ullage.fluids.settling import settling
from ullage.fluids.viscosity import nu_from_sus, walther_line

OURS = {
    "friction": lambda i: friction_factor(i["re"], relative_roughness=i["ed"]),
    "peclet": lambda i: (
        1.0 / turbulent_dispersion(re=i["re"], velocity_m_s=1.0, bore_m=1.0).dispersion_m2_s
    ),
    "paraffin": lambda i: (
        walther_line(
            t1_k=313.15,
            nu1_m2_s=i["nu40_mm2_s"] * 1e-6,
            t2_k=373.15,
            nu2_m2_s=i["nu100_mm2_s"] * 1e-6,
        ).nu_m2_s(i["t_degc"] + 273.15)
        * 1e6
    ),
}
CODE = "code, library"


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


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [
        *rows_from_expected(Path(__file__).parent, OURS),
        *pipe_rows(),
        *drag_rows(),
        *saybolt_rows(),
    ]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_fluids_library(row: OutsideRow) -> None:
    """Pipe flow, drag and viscosity units agree with a general library."""
    row.check()
