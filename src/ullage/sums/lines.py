"""Sums about flow: regime and loss in a line, depth over a suction mouth, settling."""

from __future__ import annotations

from typing import Final

from ullage.fluids.flush import flush_flow
from ullage.fluids.inlet import submergence
from ullage.fluids.pipe_flow import pressure_loss, velocity_m_s
from ullage.fluids.settling import settling
from ullage.sums.bench_sum import BenchSum, Found, Output, figure
from ullage.sums.key import Key

FLOW = Key(name="flow_l_min", meaning="flow", above=0.0, high=1e5)
BORE = Key(name="bore_mm", meaning="inner diameter", above=0.0, high=2000.0)
NU = Key(name="nu_mm2_s", meaning="viscosity at the fluid's temperature", above=0.0, high=1e6)
RHO = Key(name="rho_kg_m3", meaning="density of the fluid", low=200.0, high=5000.0)


def _reynolds(flow_m3_s: float, bore_m: float, nu_m2_s: float) -> Found:
    """Work out the regime of a line, and what flushing it needs."""
    found = flush_flow(flow_m3_s=flow_m3_s, bore_m=bore_m, nu_m2_s=nu_m2_s)
    return Found(
        values={
            "re": found.re,
            "regime": found.regime.value,
            "velocity_m_s": velocity_m_s(flow_m3_s=flow_m3_s, bore_m=bore_m),
            "flow_for_4000_m3_s": found.needed_m3_s,
        },
        caveats=found.caveats,
    )


def _pressure_loss(
    flow_m3_s: float,
    bore_m: float,
    length_m: float,
    nu_m2_s: float,
    rho_kg_m3: float,
    roughness_m: float,
) -> Found:
    """Work out the loss of a straight line."""
    found = pressure_loss(
        flow_m3_s=flow_m3_s,
        bore_m=bore_m,
        length_m=length_m,
        nu_m2_s=nu_m2_s,
        rho_kg_m3=rho_kg_m3,
        roughness_m=roughness_m,
    )
    return Found(
        values={
            "dp_pa": found.dp_pa,
            "friction_factor": found.friction_factor,
            "re": found.re,
            "regime": found.regime.value,
            "velocity_m_s": found.velocity_m_s,
        },
        caveats=found.caveats,
    )


def _submergence(flow_m3_s: float, mouth_m: float) -> Found:
    """Work out the depth over a suction mouth."""
    found = submergence(flow_m3_s=flow_m3_s, mouth_m=mouth_m)
    return Found(
        values={
            "depth_m": found.depth_m,
            "froude": found.froude,
            "velocity_m_s": found.velocity_m_s,
        },
        caveats=found.caveats,
    )


def _settling(
    diameter_m: float, rho_particle_kg_m3: float, rho_kg_m3: float, nu_m2_s: float, depth_m: float
) -> Found:
    """Work out how fast a particle sinks or a bubble rises."""
    found = settling(
        diameter_m=diameter_m,
        rho_particle_kg_m3=rho_particle_kg_m3,
        rho_kg_m3=rho_kg_m3,
        nu_m2_s=nu_m2_s,
    )
    return Found(
        values={
            "speed_m_s": found.speed_m_s,
            "time_s": found.time_over_s(depth_m),
            "particle_re": found.particle_re,
        },
        caveats=found.caveats,
    )


SUMS: Final = (
    BenchSum(
        name="reynolds",
        purpose="whether a line flows laminar or turbulent, and the flow that flushing needs",
        keys=(FLOW, BORE, NU),
        outputs=(
            Output(name="re", meaning="Reynolds number"),
            Output(name="regime", meaning="laminar below 2300, turbulent above 4000"),
            Output(name="velocity_m_s", meaning="mean velocity"),
            Output(name="flow_for_4000_l_min", meaning="flow from which the line is turbulent"),
        ),
        formula="Re = v d/nu, v = 4 Q/(pi d^2)",
        source="ISO 23309:2016 for the flow that flushing needs",
        validity="Round bore; use the viscosity at the coldest place of the line.",
        work=_reynolds,
        say=lambda given, found: (
            f"Reynolds number {figure(found['re'])}: {found['regime']} at "
            f"{figure(found['velocity_m_s'])} m/s; a turbulent flush needs "
            f"{figure(found['flow_for_4000_l_min'])} l/min."
        ),
        example=("flow_l_min=6", "bore_mm=8", "nu_mm2_s=15"),
    ),
    BenchSum(
        name="pressure-loss",
        purpose="pressure that a straight line takes",
        keys=(
            FLOW,
            BORE,
            Key(
                name="length_m",
                meaning="length, fittings added as equivalent length",
                above=0.0,
                high=1e4,
            ),
            NU,
            RHO,
            Key(
                name="roughness_mm",
                meaning="height of the wall's roughness; drawn tube from memory",
                low=0.0,
                high=50.0,
                default="0.0015",
            ),
        ),
        outputs=(
            Output(name="dp_bar", meaning="pressure loss"),
            Output(name="friction_factor", meaning="Darcy friction factor"),
            Output(name="re", meaning="Reynolds number"),
            Output(name="regime", meaning="laminar below 2300, turbulent above 4000"),
            Output(name="velocity_m_s", meaning="mean velocity"),
        ),
        formula="dp = f L/d rho v^2/2; f = 64/Re laminar, Churchill between, Colebrook turbulent",
        source="Darcy and Weisbach; Churchill 1977; Colebrook 1939",
        validity="Fully developed flow of one temperature; exact when laminar, about 5 % when "
        "turbulent, unsure by half between Reynolds numbers 2300 and 4000.",
        work=_pressure_loss,
        say=lambda given, found: (
            f"The line takes {figure(found['dp_bar'])} bar over {given['length_m']} "
            f"({found['regime']}, Reynolds number {figure(found['re'])}, friction factor "
            f"{figure(found['friction_factor'])})."
        ),
        example=(
            "flow_l_min=10",
            "bore_mm=10",
            "length_m=5",
            "nu_mm2_s=46",
            "rho_kg_m3=870",
            "roughness_mm=0.0015",
        ),
    ),
    BenchSum(
        name="submergence",
        purpose="depth of fluid over a suction mouth that keeps air out",
        keys=(
            FLOW,
            Key(
                name="bore_mm",
                meaning="outside diameter of the mouth",
                above=0.0,
                high=5000.0,
                si_name="mouth_m",
            ),
        ),
        outputs=(
            Output(name="depth_mm", meaning="depth of the mouth below the surface"),
            Output(name="froude", meaning="Froude number at the mouth"),
            Output(name="velocity_m_s", meaning="velocity at the mouth"),
        ),
        formula="S = D (1 + 2.3 Fr), Fr = v/sqrt(g D)",
        source="ANSI/HI 9.8, section 9.8.7",
        validity="Made for water intakes of decimetres; for a small oil suction a cautious figure, "
        "since viscosity damps the swirl.",
        work=_submergence,
        say=lambda given, found: (
            f"Keep {figure(found['depth_mm'])} mm of fluid over the mouth, or a vortex may draw "
            f"air (Froude number {figure(found['froude'])})."
        ),
        example=("flow_l_min=10", "bore_mm=12"),
    ),
    BenchSum(
        name="settling",
        purpose="how fast a particle sinks or a bubble rises in fluid at rest",
        keys=(
            Key(name="diameter_um", meaning="diameter", above=0.0, high=1e5),
            Key(
                name="rho_particle_kg_m3",
                meaning="density of the particle (steel 7850, silica 2650, air 1.2)",
                above=0.0,
                high=25000.0,
            ),
            RHO,
            NU,
            Key(name="depth_mm", meaning="way to go", above=0.0, high=1e5),
        ),
        outputs=(
            Output(name="speed_mm_s", meaning="speed downwards, negative when it rises"),
            Output(name="time_s", meaning="time for the depth"),
            Output(name="particle_re", meaning="Reynolds number of the particle"),
        ),
        formula="v = (rho_p - rho) g d^2/(18 rho nu), t = depth/|v|",
        source="Stokes 1851",
        validity="Spheres up to a particle Reynolds number of 0.1 within 2 %, up to 1 too fast by "
        "as much as 15 %; beyond that it is refused.",
        work=_settling,
        say=lambda given, found: (
            f"It {'sinks' if found['speed_mm_s'] > 0.0 else 'rises'} at "
            f"{figure(abs(found['speed_mm_s']))} mm/s and takes {figure(found['time_s'])} s for "
            f"{given['depth_mm']}."
        ),
        example=(
            "diameter_um=20",
            "rho_particle_kg_m3=2650",
            "rho_kg_m3=870",
            "nu_mm2_s=46",
            "depth_mm=100",
        ),
    ),
)
