"""How would a circuit file write this SI value? For sentences that quote one."""

from __future__ import annotations

from ullage.units.convert import degc_from_kelvin, gauge_bar_from_absolute_pa


def _rounded(value: float) -> float:
    """Return a value without the digits that only unit conversion put there."""
    return float(f"{value:.6g}")


def litres(volume_m3: float) -> float:
    """Return a volume in litres.

    >>> litres(0.0011)
    1.1
    """
    return _rounded(volume_m3 * 1e3)


def percent(share: float) -> float:
    """Return a share in percent."""
    return _rounded(share * 1e2)


def degc(temperature_k: float) -> float:
    """Return a temperature in degrees Celsius."""
    return round(degc_from_kelvin(temperature_k), 6)


def gauge_bar(pressure_pa: float) -> float:
    """Return an absolute pressure as a gauge reads it, in bar."""
    return _rounded(gauge_bar_from_absolute_pa(pressure_pa))
