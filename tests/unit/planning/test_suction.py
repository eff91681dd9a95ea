"""Pressure at the inlet by Hagen and Poiseuille, depth of the mouth, and what both advise."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.unit.planning.machines import OIL, bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Limits, Line, Path
from ullage.circuit.uncertain import exact
from ullage.errors import OutOfRange
from ullage.planning.suction import (
    coldest_for_inlet_k,
    least_inlet_pa,
    pressure_at_inlet,
    suction_advice,
    suction_of,
)
from ullage.planning.surface import height_m, volume_m3
from ullage.units.convert import kelvin_from_degc

AT_K = kelvin_from_degc(20.0)


def sucking(bore_m: float = 0.012, length_m: float = 1.0, **limits: float) -> Circuit:
    """Return the bench circuit with a suction line before its pump."""
    return replace(
        bench(),
        lines=(Line(id="suction", bore_m=exact(bore_m), length_m=exact(length_m)),),
        paths=(Path(id="main", through=("suction", "block"), divert_after="block"),),
        limits=Limits(**limits),
    )


def codes(circuit: Circuit, flow: float = 1e-4) -> set[str]:
    """Return the codes of the advice at a flow, no faster at the start."""
    return {
        c.code for c in suction_advice(circuit, flow_m3_s=flow, flare_m3_s=flow, temperature_k=AT_K)
    }


def test_laminar_loss_by_hand() -> None:
    """128 nu rho L Q / pi d^4 and the velocity head, from one atmosphere."""
    flow = 1e-4
    nu, rho = OIL.nu_m2_s(AT_K), OIL.density_kg_m3(AT_K)
    loss = 128.0 * nu * rho * 1.0 * flow / (math.pi * 0.012**4)
    speed = flow / (math.pi / 4.0 * 0.012**2)

    found = pressure_at_inlet(sucking(), flow_m3_s=flow, temperature_k=AT_K)

    assert found is not None
    assert found.pressure_abs_pa == pytest.approx(101325.0 - loss - 0.5 * rho * speed**2, rel=1e-6)


def test_the_coldest_temperature_leaves_just_what_is_asked_for() -> None:
    """A little colder is too cold."""
    circuit = sucking(inlet_min_pa=0.8e5)
    coldest = coldest_for_inlet_k(circuit, flow_m3_s=2e-4)
    assert coldest is not None

    at = pressure_at_inlet(circuit, flow_m3_s=2e-4, temperature_k=coldest)
    below = pressure_at_inlet(circuit, flow_m3_s=2e-4, temperature_k=coldest - 0.2)

    assert at is not None
    assert below is not None
    assert below.pressure_abs_pa < 0.8e5 <= at.pressure_abs_pa


def test_a_thin_line_never_does() -> None:
    """4 mm and three metres: nothing is left, however warm."""
    circuit = sucking(bore_m=0.004, length_m=3.0)

    assert coldest_for_inlet_k(circuit, flow_m3_s=2e-4) is None
    assert "inlet-never" in codes(circuit, 2e-4)


def test_cold_days_are_told() -> None:
    """A line that does at 40 degC and not at 20."""
    assert "inlet-too-cold" in codes(sucking(bore_m=0.011, length_m=2.0), 2e-4)
    assert "inlet-enough" in codes(sucking(bore_m=0.025))


def test_a_deep_mouth_is_asked_for() -> None:
    """D (1 + 2.3 Fr) at 12 mm and 0.1 l/s is 83 mm; the minimum of 1 l over 0.02 m2 has 50."""
    told = {c.code: c.text for c in suction_advice(sucking(), flow_m3_s=1e-4, flare_m3_s=1e-4)}
    speed = 1e-4 / (math.pi / 4.0 * 0.012**2)
    depth = 0.012 * (1.0 + 2.3 * speed / math.sqrt(9.80665 * 0.012))

    assert f"{depth * 1e3:.0f} mm of fluid" in told["minimum-below-submergence"]
    assert "cautious for oil" in told["minimum-below-submergence"]


def test_the_limit_is_the_pumps_own_or_what_is_usual() -> None:
    """0.8 bar absolute where its papers are silent."""
    assert least_inlet_pa(sucking()) == 0.8e5
    assert least_inlet_pa(sucking(inlet_min_pa=0.9e5)) == 0.9e5


@pytest.mark.parametrize("name", ["scissor-lift", "wheel-brakes", "auto-gearbox"])
def test_a_pump_inside_its_tank_has_no_suction_line(name: str) -> None:
    """Nothing is made up, and the advice says so."""
    circuit = built_in(name)

    assert suction_of(circuit) is None
    assert pressure_at_inlet(circuit, flow_m3_s=1e-4, temperature_k=AT_K) is None
    assert codes(circuit) == {"suction-unknown"}


def test_paths_that_share_the_suction_line_add_up() -> None:
    """Both paths of the loader draw through one hose."""
    found = suction_of(built_in("compact-loader"))

    assert found is not None
    assert found.share == pytest.approx(1.0)


def test_heights_and_volumes_are_inverse() -> None:
    """By area and by table, also beyond its ends."""
    tank = bench().reservoir
    table = replace(tank, area_m2=None, table=((0.0, 2e-4), (0.04, 9e-4), (0.1, 3e-3)))

    for reservoir in (tank, table):
        for litres in (0.1, 0.5, 2.0, 3.6):
            back = volume_m3(reservoir, height_m(reservoir, litres * 1e-3))
            assert back == pytest.approx(litres * 1e-3)


def test_a_reservoir_without_area_has_no_heights() -> None:
    """It says how to find out."""
    with pytest.raises(OutOfRange, match="quarter of a litre"):
        height_m(replace(bench().reservoir, area_m2=None), 1e-3)
