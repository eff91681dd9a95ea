"""Warm-up by hand, what warmth buys on the built-in circuits, and how long fluid must rest."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.unit.planning.machines import OIL, bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Heat, Line, Path
from ullage.circuit.uncertain import Uncertain, exact
from ullage.errors import NotFound, OutOfRange
from ullage.fluids.liquid import Liquid
from ullage.planning.finding import PRACTICE, Finding
from ullage.planning.own_table import own_table
from ullage.planning.rest import air_release, debris_settling
from ullage.planning.warmth import (
    exchange_temperature,
    line_reynolds,
    lump_of,
    warm_up,
    what_warmth_buys,
)
from ullage.units.convert import kelvin_from_degc

COLD_K, WARM_K = kelvin_from_degc(10.0), kelvin_from_degc(60.0)


def heated(**changes: Uncertain | float) -> Circuit:
    """Return the bench circuit that makes 1 kW at idle: 100 bar, 0.1 l/s."""
    heat = Heat(
        ambient_k=kelvin_from_degc(15.0),
        ua_w_k=exact(10.0),
        heat_capacity_j_k=exact(20e3),
        pump_pa=101325.0 + 100e5,
    )
    return replace(bench(), heat=replace(heat, **changes))


def codes(findings: tuple[Finding, ...]) -> set[str]:
    """Return the codes of findings."""
    return {finding.code for finding in findings}


def test_warm_up_by_hand() -> None:
    """It ends 100 K above 15 degC with 2000 s as its time constant: 35 K take 862 s."""
    found = warm_up(heated(), target_k=kelvin_from_degc(50.0))

    assert found.final_k == pytest.approx(kelvin_from_degc(115.0))
    assert found.time_s == pytest.approx(-2000.0 * math.log(0.65))
    assert found.soonest_s == found.latest_s == pytest.approx(found.time_s)


def test_doubt_has_two_ends() -> None:
    """More loss and more metal make it later, less sooner."""
    found = warm_up(
        heated(
            ua_w_k=Uncertain(best=10.0, low=8.0, high=12.0),
            heat_capacity_j_k=Uncertain(best=20e3, low=15e3, high=25e3),
        )
    )

    assert found.soonest_s is not None
    assert found.time_s is not None
    assert found.latest_s is not None
    assert found.soonest_s < found.time_s < found.latest_s


def test_some_machines_never_get_warm() -> None:
    """The gearbox makes 100 W: it ends a few kelvin above the yard."""
    found = warm_up(built_in("auto-gearbox"))

    assert found.time_s is None
    assert found.soonest_s is None
    assert "never-warm" in {caveat.code for caveat in found.caveats}


def test_what_is_not_written_is_common_practice() -> None:
    """Without [heat] every figure is usual, wide and named."""
    found = warm_up(bench(), target_k=kelvin_from_degc(16.0))
    told = {caveat.code: caveat.text for caveat in found.caveats}

    assert len(lump_of(bench()).assumed) == 4
    assert PRACTICE in told["heat-assumed"]


def test_hands_make_no_heat() -> None:
    """A pressure bleeder warms nothing."""
    assert lump_of(built_in("wheel-brakes")).power_w.best == 0.0


def test_small_lines_save_no_litres() -> None:
    """No line of any built-in circuit turns turbulent at idle by warming to 60 degC."""
    for name in ("levelling-van", "scissor-lift", "compact-loader", "rack-steering"):
        found = what_warmth_buys(built_in(name), cold_k=COLD_K, warm_k=WARM_K)

        assert "no-line-turns-turbulent" in codes(found)
        assert "lines-turn-turbulent" not in codes(found)


def test_a_line_that_turns_turbulent_is_named() -> None:
    """0.3 l/s of thin fluid in 8 mm: 1700 cold, beyond 6000 warm."""
    thin = Liquid(nu40_m2_s=10e-6, nu100_m2_s=2.6e-6, rho15_kg_m3=860.0, class_="HM")
    machine = replace(
        bench(per_rev=30e-6),
        fluid=thin,
        lines=(Line(id="pipe", bore_m=exact(0.008), length_m=exact(2.0)),),
        paths=(Path(id="main", through=("pipe", "block"), divert_after="block"),),
    )
    found = what_warmth_buys(machine, cold_k=COLD_K, warm_k=WARM_K)
    by_hand = 4.0 * 3e-4 / (math.pi * 0.008 * thin.nu_m2_s(WARM_K))

    assert line_reynolds(machine, temperature_k=WARM_K)["pipe"] == pytest.approx(by_hand)
    assert "lines-turn-turbulent" in codes(found)


def test_warmth_opens_a_thermostat_or_does_not() -> None:
    """The gearbox's cooler is shut at 60 degC and open at 80."""
    gearbox = built_in("auto-gearbox")
    hot_k = kelvin_from_degc(80.0)

    assert "thermostat-stays-shut" in codes(what_warmth_buys(gearbox, cold_k=COLD_K, warm_k=WARM_K))
    assert "thermostat-opens" in codes(what_warmth_buys(gearbox, cold_k=COLD_K, warm_k=hot_k))


def test_warmth_shuts_a_by_pass() -> None:
    """The loader's filter is by-passed just above freezing: a winter start, then not."""
    loader = built_in("compact-loader")
    winter = what_warmth_buys(loader, cold_k=kelvin_from_degc(-5.0), warm_k=WARM_K)
    autumn = what_warmth_buys(loader, cold_k=COLD_K, warm_k=WARM_K)

    assert "bypass-shuts" in codes(winter)
    assert "bypass-either-way" in codes(autumn)


def test_cold_fluid_cools_the_circuit_and_shuts_its_thermostat() -> None:
    """80 degC at the start, litres of 15 degC: below 75 before it is through."""
    found = exchange_temperature(
        built_in("auto-gearbox"), litres_m3=8e-3, start_k=kelvin_from_degc(80.0)
    )

    assert found.end_k < kelvin_from_degc(75.0)
    assert {"cools-down", "thermostat-shuts"} <= codes(found.findings)


def test_warm_containers_keep_it_warm() -> None:
    """Fluid of the circuit's own temperature takes no heat along but for the losses."""
    cold = exchange_temperature(
        heated(), litres_m3=5e-3, start_k=WARM_K, new_fluid_k=kelvin_from_degc(5.0)
    )
    warm = exchange_temperature(heated(), litres_m3=5e-3, start_k=WARM_K, new_fluid_k=WARM_K)

    assert cold.end_k < WARM_K < warm.end_k
    assert cold.time_s == pytest.approx(50.0)


def test_air_needs_longer_in_the_cold() -> None:
    """In proportion to viscosity, and said to be ours."""
    cold = air_release(OIL, temperature_k=kelvin_from_degc(20.0))
    ratio = OIL.nu_m2_s(kelvin_from_degc(20.0)) / OIL.nu_m2_s(kelvin_from_degc(50.0))

    assert cold.time_s == pytest.approx(600.0 * ratio)
    assert [caveat.code for caveat in cold.caveats] == ["air-release-scaled"]


def test_a_fluid_outside_the_table_borrows() -> None:
    """Brake fluid has no row."""
    brake = built_in("wheel-brakes").new_fluid
    found = air_release(brake, temperature_k=kelvin_from_degc(50.0))

    assert [caveat.code for caveat in found.caveats] == ["air-release-borrowed"]


def test_debris_by_stokes() -> None:
    """50 um of steel through 0.2 m, worked out by hand from Stokes' law."""
    at_k = kelvin_from_degc(40.0)
    rho = OIL.density_kg_m3(at_k)
    speed = (7850.0 - rho) * 9.80665 * (50e-6) ** 2 / (18.0 * 46e-6 * rho)

    found = debris_settling(OIL, temperature_k=at_k, depth_m=0.2)

    assert found.time_s == pytest.approx(0.2 / speed, rel=1e-9)
    assert {caveat.code for caveat in found.caveats} == {"waste-is-a-mixture"}


def test_fine_debris_is_not_waited_for() -> None:
    """10 um take 25 times as long: magnet or membrane instead."""
    found = debris_settling(
        OIL, temperature_k=kelvin_from_degc(40.0), depth_m=0.2, diameter_m=10e-6
    )

    assert "too-slow-to-wait" in {caveat.code for caveat in found.caveats}


def test_a_target_below_the_start_is_refused() -> None:
    """It is warm enough already."""
    with pytest.raises(OutOfRange, match="target_k"):
        warm_up(heated(), target_k=kelvin_from_degc(10.0))


def test_a_table_that_is_none_is_refused() -> None:
    """The known ones are named."""
    with pytest.raises(NotFound, match="air_release"):
        own_table("tides")
