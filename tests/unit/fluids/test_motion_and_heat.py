"""Inlet, heat, settling and jets: laws, limits and refusals."""

from __future__ import annotations

import pytest

from ullage.errors import OutOfRange
from ullage.fluids.heat import (
    heat_capacity,
    pump_heat_w,
    stream_heat_w,
    temperature_after_k,
    throttle_rise_dk,
    time_to_temperature,
)
from ullage.fluids.inlet import absolute_from_vacuum_pa, inlet_pressure, submergence
from ullage.fluids.jet import leak_jet
from ullage.fluids.settling import Surface, settling

LUMP = {"ua_w_k": 12.0, "heat_capacity_j_k": 60e3, "ambient_k": 288.15}
SUCTION = {"rho_kg_m3": 870.0, "velocity_m_s": 0.8, "line_loss_pa": 5e3}
GRAIN = {"rho_particle_kg_m3": 7850.0, "rho_kg_m3": 870.0, "nu_m2_s": 46e-6}


def test_a_mouth_without_flow_lies_one_diameter_deep() -> None:
    """At rest the rule leaves the diameter itself."""
    assert submergence(flow_m3_s=0.0, mouth_m=0.02).depth_m == 0.02


def test_only_small_mouths_carry_the_caveat() -> None:
    """The rule was made for decimetres; there it stands without reservation."""
    small, large = (submergence(flow_m3_s=1e-3, mouth_m=d).caveats for d in (0.05, 0.4))

    assert [caveat.code for caveat in small] == ["small-mouth"]
    assert large == ()


def test_the_parts_of_the_inlet_pressure_add_up() -> None:
    """Atmosphere, head and losses make the pressure left."""
    found = inlet_pressure(**SUCTION, surface_above_inlet_m=0.3, strainer_loss_pa=2e3)
    expected = 101325.0 + found.head_pa - found.velocity_head_pa - 5e3 - 2e3

    assert found.pressure_abs_pa == pytest.approx(expected)
    assert found.caveats == ()


def test_a_high_pump_and_cold_oil_are_warned_of() -> None:
    """Below 0.6 bar both limits are named."""
    found = inlet_pressure(**{**SUCTION, "line_loss_pa": 45e3}, surface_above_inlet_m=-0.5)

    assert [c.code for c in found.caveats] == ["inlet-below-limit", "inlet-below-cold-start"]


def test_a_flow_that_cannot_be_sucked_is_refused() -> None:
    """Losses above one atmosphere leave no pressure to report."""
    with pytest.raises(OutOfRange, match="cannot be sucked"):
        inlet_pressure(**{**SUCTION, "line_loss_pa": 120e3}, surface_above_inlet_m=0.2)


@pytest.mark.parametrize("vacuum_inhg", [-1.0, 30.5])
def test_impossible_vacuum_readings_are_refused(vacuum_inhg: float) -> None:
    """A vacuum gauge reads from 0 to 29.92 inches at sea level."""
    with pytest.raises(OutOfRange, match="inHg"):
        absolute_from_vacuum_pa(vacuum_inhg=vacuum_inhg)


def test_time_and_temperature_are_inverse() -> None:
    """After the time found the temperature is the target."""
    found = time_to_temperature(power_w=1500.0, **LUMP, start_k=283.15, target_k=323.15)
    reached = temperature_after_k(found.time_s, power_w=1500.0, **LUMP, start_k=283.15)

    assert reached == pytest.approx(323.15)


@pytest.mark.parametrize(
    ("power_w", "start_k", "target_k"),
    [
        (500.0, 288.15, 343.15),  # ends at 330 K
        (500.0, 288.15, 288.15 + 500.0 / 12.0),  # the end itself is never reached
        (500.0, 300.0, 290.0),  # the wrong way
        (0.0, 333.15, 280.0),  # colder than the surroundings
    ],
)
def test_a_target_that_is_never_reached_is_refused(
    power_w: float, start_k: float, target_k: float
) -> None:
    """No infinite time is returned."""
    with pytest.raises(OutOfRange, match="target_k"):
        time_to_temperature(power_w=power_w, **LUMP, start_k=start_k, target_k=target_k)


def test_being_there_already_takes_no_time() -> None:
    """Start and target alike need no heat."""
    found = time_to_temperature(power_w=0.0, **LUMP, start_k=300.0, target_k=300.0)

    assert found.time_s == 0.0


def test_hot_targets_carry_a_caveat() -> None:
    """Above 60 degC the pump and the hands are at risk."""
    found = time_to_temperature(power_w=1500.0, **LUMP, start_k=288.15, target_k=343.15)

    assert [caveat.code for caveat in found.caveats] == ["hot-for-pump-inlet"]


def test_a_throttled_stream_carries_its_own_heat() -> None:
    """Heat of the stream at the throttle's rise equals pressure times flow."""
    rise_dk = throttle_rise_dk(dp_pa=80e5, rho_kg_m3=870.0)

    carried = stream_heat_w(flow_m3_s=2e-4, rho_kg_m3=870.0, rise_dk=rise_dk)

    assert carried == pytest.approx(80e5 * 2e-4)


def test_a_perfect_pump_makes_no_heat() -> None:
    """Efficiency 1 leaves nothing."""
    assert pump_heat_w(dp_pa=100e5, flow_m3_s=2e-4, efficiency=1.0) == 0.0


def test_an_efficiency_in_percent_is_refused() -> None:
    """85 is most likely 85 %."""
    with pytest.raises(OutOfRange, match=r"0\.85"):
        pump_heat_w(dp_pa=100e5, flow_m3_s=2e-4, efficiency=85.0)


def test_metal_adds_to_the_heat_capacity() -> None:
    """40 kg of steel weigh as much as 11 l of oil."""
    bare, loaded = (heat_capacity(oil_m3=0.012, rho_kg_m3=860.0, metal_kg=m) for m in (0.0, 40.0))

    assert loaded - bare == pytest.approx(18_400.0)


def test_bubbles_rise_and_grains_sink() -> None:
    """The sign tells the direction."""
    grain = settling(diameter_m=50e-6, **GRAIN)
    bubble = settling(diameter_m=50e-6, **{**GRAIN, "rho_particle_kg_m3": 1.2})

    assert grain.speed_m_s > 0.0 > bubble.speed_m_s
    assert bubble.time_over_s(0.1) > 0.0


def test_twice_the_size_is_four_times_the_speed() -> None:
    """Stokes' law goes with the square of the diameter."""
    small, large = (settling(diameter_m=d, **GRAIN).speed_m_s for d in (20e-6, 40e-6))

    assert large == pytest.approx(4.0 * small)


def test_a_mobile_skin_is_half_as_fast_again() -> None:
    """A slipping surface rises 1.5 times as fast, with a caveat."""
    rigid = settling(diameter_m=50e-6, **GRAIN)
    mobile = settling(diameter_m=50e-6, **GRAIN, surface=Surface.MOBILE)

    assert mobile.speed_m_s == pytest.approx(1.5 * rigid.speed_m_s)
    assert [caveat.code for caveat in mobile.caveats] == ["mobile-surface"]


def test_stokes_is_warned_of_and_then_refused() -> None:
    """Between 0.1 and 1 a caveat, above 1 no number."""
    found = settling(diameter_m=450e-6, **GRAIN)
    assert [caveat.code for caveat in found.caveats] == ["beyond-creeping-flow"]

    with pytest.raises(OutOfRange, match="at most 1"):
        settling(diameter_m=2e-3, **GRAIN)


def test_a_particle_that_hovers_never_arrives() -> None:
    """No division by zero: equal densities have no settling time."""
    with pytest.raises(OutOfRange, match="neither sinks nor rises"):
        settling(diameter_m=50e-6, **{**GRAIN, "rho_particle_kg_m3": 870.0}).time_over_s(0.1)


def test_a_jet_below_seven_bar_carries_no_warning() -> None:
    """The warning begins where skin is pierced."""
    below, above = (leak_jet(dp_pa=p, rho_kg_m3=870.0).caveats for p in (6.9e5, 7.0e5))

    assert below == ()
    assert [caveat.code for caveat in above] == ["pierces-skin"]
