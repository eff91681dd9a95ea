"""How would a circuit file write this SI value? For sentences that quote one."""

from __future__ import annotations

from ullage.units.convert import LITRE_M3, degc_from_kelvin, gauge_bar_from_absolute_pa


def _rounded(value: float) -> float:
    """Return a value without the digits that only unit conversion put there."""
    return float(f"{value:.6g}")


def litres(volume_m3: float) -> float:
    """Return a volume in litres.

    Parameters
    ----------
    volume_m3 : scalar
        Any volume. [m3]

    Returns
    -------
    shown : scalar
        The same volume. [l]

    Validity
    --------
    Six significant digits: for sentences, not for files or sums.

    Source
    ------
    Exact factors of ``units.convert``.

    Examples
    --------
    >>> litres(0.0011)
    1.1
    """
    return _rounded(volume_m3 / LITRE_M3)


def percent(share: float) -> float:
    """Return a share in percent.

    Parameters
    ----------
    share : scalar
        A share, 1 is the whole. [-]

    Returns
    -------
    shown : scalar
        The same share. [%]

    Validity
    --------
    Six significant digits: for sentences, not for files or sums.

    Source
    ------
    Exact factors of ``units.convert``.

    Examples
    --------
    >>> percent(0.333)
    33.3
    """
    return _rounded(share * 100.0)


def degc(temperature_k: float) -> float:
    """Return a temperature in degrees Celsius.

    Parameters
    ----------
    temperature_k : scalar
        Absolute temperature. [K]

    Returns
    -------
    shown : scalar
        The same temperature. [degC]

    Validity
    --------
    Six significant digits: for sentences, not for files or sums.

    Source
    ------
    Exact factors of ``units.convert``.

    Examples
    --------
    >>> degc(333.15)
    60.0
    """
    return _rounded(degc_from_kelvin(temperature_k))


def gauge_bar(pressure_pa: float) -> float:
    """Return an absolute pressure as a gauge reads it.

    Parameters
    ----------
    pressure_pa : scalar
        Absolute pressure. [Pa]

    Returns
    -------
    shown : scalar
        What a gauge shows. [bar]

    Validity
    --------
    Six significant digits: for sentences, not for files or sums.

    Source
    ------
    Exact factors of ``units.convert``.

    Examples
    --------
    >>> gauge_bar(6101325.0)
    60.0
    """
    return _rounded(gauge_bar_from_absolute_pa(pressure_pa))
