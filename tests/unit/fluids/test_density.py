"""Volumes at temperatures, level shifts and squeeze: laws and refusals."""

from __future__ import annotations

import pytest

from ullage.errors import OutOfRange
from ullage.fluids.compressibility import (
    dissolved_air_vfrac,
    effective_bulk_modulus_pa,
    relative_volume,
    secant_bulk_modulus_pa,
)
from ullage.fluids.density import (
    BASE_K,
    density_at_kg_m3,
    level_shift,
    volume_at_m3,
    volume_correction,
)


def test_the_correction_is_one_at_fifteen_degrees() -> None:
    """The base temperature corrects nothing."""
    assert volume_correction(rho15_kg_m3=870.0, temperature_k=BASE_K) == 1.0


def test_a_volume_there_and_back_is_unchanged() -> None:
    """Reducing to another temperature and back loses nothing."""
    warm = volume_at_m3(0.012, from_k=288.15, to_k=343.15, rho15_kg_m3=868.0)
    back = volume_at_m3(warm, from_k=343.15, to_k=288.15, rho15_kg_m3=868.0)

    assert back == pytest.approx(0.012, rel=1e-14)


def test_mass_does_not_change_with_temperature() -> None:
    """Volume times density is the same hot and cold."""
    hot_m3 = volume_at_m3(0.012, from_k=293.15, to_k=353.15, rho15_kg_m3=868.0)
    cold_kg, hot_kg = (
        volume * density_at_kg_m3(rho15_kg_m3=868.0, temperature_k=temperature_k)
        for volume, temperature_k in ((0.012, 293.15), (hot_m3, 353.15))
    )

    assert hot_kg == pytest.approx(cold_kg, rel=1e-14)


def test_cooling_lowers_the_level() -> None:
    """Shrinking is a negative rise."""
    shift = level_shift(
        volume_m3=0.012, from_k=333.15, to_k=293.15, rho15_kg_m3=868.0, area_m2=0.021
    )

    assert shift.swell_m3 < 0.0
    assert shift.rise_m == pytest.approx(shift.swell_m3 / 0.021)


def test_a_large_shift_asks_for_a_look_at_the_walls() -> None:
    """More than 100 mm carries a caveat."""
    shift = level_shift(volume_m3=0.1, from_k=293.15, to_k=333.15, rho15_kg_m3=868.0, area_m2=0.021)

    assert [caveat.code for caveat in shift.caveats] == ["large-level-shift"]


@pytest.mark.parametrize(
    ("rho15_kg_m3", "temperature_k"),
    [(700.0, 300.0), (1200.0, 300.0), (870.0, 200.0), (870.0, 430.0), (870.0, float("nan"))],
)
def test_outside_the_oil_group_is_refused(rho15_kg_m3: float, temperature_k: float) -> None:
    """Neither other liquids nor other temperatures get the oils' factor."""
    with pytest.raises(OutOfRange):
        volume_correction(rho15_kg_m3=rho15_kg_m3, temperature_k=temperature_k)


def test_hot_oil_is_squeezed_more() -> None:
    """At 50 MPa the hot oil keeps less of its volume than the cold one."""
    cold, hot = (relative_volume(pressure_pa=50e6, temperature_k=t) for t in (283.15, 373.15))

    assert hot < cold < 1.0


def test_between_rows_the_table_is_linear() -> None:
    """Halfway between two pressures lies the mean."""
    middle = relative_volume(pressure_pa=37.5e6, temperature_k=313.15)

    assert middle == pytest.approx((0.986 + 0.974) / 2)


def test_the_table_is_not_extended() -> None:
    """Pressures beyond the table are refused."""
    with pytest.raises(OutOfRange, match="pressure_pa"):
        relative_volume(pressure_pa=130e6, temperature_k=313.15)


def test_the_modulus_rises_with_pressure() -> None:
    """Squeezed oil is stiffer."""
    low, high = (secant_bulk_modulus_pa(pressure_pa=p, temperature_k=313.15) for p in (25e6, 100e6))

    assert high > low


def test_no_air_and_a_stiff_wall_leave_the_liquid() -> None:
    """Without either softness the effective modulus is the liquid's own."""
    modulus = effective_bulk_modulus_pa(liquid_pa=1.7e9, air_vfrac=0.0, pressure_abs_pa=1e5)

    assert modulus == pytest.approx(1.7e9)


def test_a_gauge_zero_is_refused_as_absolute_pressure() -> None:
    """Zero absolute pressure is most likely a gauge reading; the advice says so."""
    with pytest.raises(OutOfRange, match="gauge"):
        effective_bulk_modulus_pa(liquid_pa=1.7e9, air_vfrac=0.01, pressure_abs_pa=0.0)


def test_dissolved_air_follows_absolute_pressure() -> None:
    """Twice the pressure holds twice the air."""
    once, twice = (dissolved_air_vfrac(pressure_abs_pa=p) for p in (101325.0, 202650.0))

    assert (once, twice) == pytest.approx((0.09, 0.18))
