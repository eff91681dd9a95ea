"""How much oil stands behind a gas cushion, and how much energy does the gas hold?

Every pressure here is absolute: the names say ``_abs_pa``. A gauge reading must be raised by the
atmosphere first (`ullage.units.convert.absolute_pa_from_gauge_bar`).

The gas follows p V^n = constant. What to know about a charge: see ``gas_charge``. Left out: the
temperature of the gas during a change, gas dissolved in oil.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from typing import TYPE_CHECKING, overload

from ullage.units.elementwise import bounded, expm1, greatest, least, log, power, where

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

ISOTHERMAL = 1.0
ADIABATIC_NITROGEN = 1.4  # ratio of specific heats of a two-atomic gas at moderate pressure
STEEPEST_EXPONENT = 2.0  # nitrogen in the cold at several hundred bar comes near it

ADVICE_ABSOLUTE = "this is absolute pressure: add 101325 Pa to a gauge reading"


@overload
def gas_volume_m3(
    *,
    volume_m3: float,
    precharge_abs_pa: float,
    pressure_abs_pa: float,
    exponent: float = ISOTHERMAL,
) -> float: ...
@overload
def gas_volume_m3(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Array: ...
def gas_volume_m3(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Numbers:
    """Return the room that the gas takes at a pressure.

    Parameters
    ----------
    volume_m3 : scalar or (...)
        Gas volume at precharge, V0. [m3]
    precharge_abs_pa : scalar or (...)
        Absolute pressure of the gas with no oil behind it. [Pa]
    pressure_abs_pa : scalar or (...)
        Absolute pressure now. [Pa]
    exponent : scalar or (...)
        n of p V^n: 1 slow, 1.4 fast; 1 to 2. [-]

    Returns
    -------
    volume_m3 : scalar or (...)
        V0 (p0/p)^(1/n), and V0 at or below precharge, where the gas fills its shell. [m3]

    Raises
    ------
    OutOfRange
        If a volume or pressure is not positive or the exponent is outside 1 to 2.

    Validity
    --------
    Nitrogen up to about 200 bar. Above it the gas is larger than this.

    Source
    ------
    ``esposito-2009``, chapter 14; n by duration: common practice, no source.

    Examples
    --------
    >>> gas_volume_m3(volume_m3=1e-3, precharge_abs_pa=60e5, pressure_abs_pa=120e5)
    0.0005
    """
    bounded("volume_m3", volume_m3, low=0.0, unit="m3")
    bounded("precharge_abs_pa", precharge_abs_pa, above=0.0, unit="Pa", advice=ADVICE_ABSOLUTE)
    bounded("pressure_abs_pa", pressure_abs_pa, above=0.0, unit="Pa", advice=ADVICE_ABSOLUTE)
    bounded(
        "exponent",
        exponent,
        low=1.0,
        high=STEEPEST_EXPONENT,
        advice="1 for changes over minutes, 1.4 for quick ones",
    )
    # At or below precharge the gas fills its shell.
    squeeze = least(precharge_abs_pa / pressure_abs_pa, 1.0)
    return volume_m3 * power(squeeze, 1.0 / exponent)


@overload
def oil_held_m3(
    *,
    volume_m3: float,
    precharge_abs_pa: float,
    pressure_abs_pa: float,
    exponent: float = ISOTHERMAL,
) -> float: ...
@overload
def oil_held_m3(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Array: ...
def oil_held_m3(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Numbers:
    """Return the oil behind a gas cushion at a pressure.

    Parameters
    ----------
    volume_m3 : scalar or (...)
        Gas volume at precharge, V0. [m3]
    precharge_abs_pa : scalar or (...)
        Absolute pressure of the gas with no oil behind it. [Pa]
    pressure_abs_pa : scalar or (...)
        Absolute pressure now. [Pa]
    exponent : scalar or (...)
        n of p V^n: 1 slow, 1.4 fast; 1 to 2. [-]

    Returns
    -------
    oil_m3 : scalar or (...)
        V0 (1 - (p0/p)^(1/n)), 0 at or below precharge. [m3]

    Raises
    ------
    OutOfRange
        If a volume or pressure is not positive or the exponent is outside 1 to 2.

    Validity
    --------
    Nitrogen up to about 200 bar. Above it less oil fits than this; in quick changes 3 % less from
    20 to 40 bar, 7 to 10 % less from 60 bar up.

    Source
    ------
    ``esposito-2009``, chapter 14.

    Examples
    --------
    >>> oil_held_m3(volume_m3=1e-3, precharge_abs_pa=60e5, pressure_abs_pa=120e5)
    0.0005
    """
    gas_m3 = gas_volume_m3(
        volume_m3=volume_m3,
        precharge_abs_pa=precharge_abs_pa,
        pressure_abs_pa=pressure_abs_pa,
        exponent=exponent,
    )
    return volume_m3 - gas_m3


@overload
def oil_between_m3(
    *,
    volume_m3: float,
    precharge_abs_pa: float,
    low_abs_pa: float,
    high_abs_pa: float,
    exponent: float = ISOTHERMAL,
) -> float: ...
@overload
def oil_between_m3(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    low_abs_pa: Numbers,
    high_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Array: ...
def oil_between_m3(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    low_abs_pa: Numbers,
    high_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Numbers:
    """Return the oil that a gas cushion gives between two pressures.

    Parameters
    ----------
    volume_m3 : scalar or (...)
        Gas volume at precharge, V0. [m3]
    precharge_abs_pa : scalar or (...)
        Absolute pressure of the gas with no oil behind it. [Pa]
    low_abs_pa : scalar or (...)
        Lower absolute pressure. [Pa]
    high_abs_pa : scalar or (...)
        Higher absolute pressure, at least ``low_abs_pa``. [Pa]
    exponent : scalar or (...)
        n of p V^n: 1 slow, 1.4 fast; 1 to 2. [-]

    Returns
    -------
    oil_m3 : scalar or (...)
        V0 ((p0/p1)^(1/n) - (p0/p2)^(1/n)); what lies below precharge gives nothing. [m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Nitrogen up to about 200 bar.

    Source
    ------
    ``esposito-2009``, chapter 14.

    Examples
    --------
    >>> litres = oil_between_m3(
    ...     volume_m3=10.0, precharge_abs_pa=72e5, low_abs_pa=80e5, high_abs_pa=180e5
    ... )
    >>> round(litres, 9)
    5.0
    """
    bounded("low_abs_pa", low_abs_pa, above=0.0, unit="Pa", advice=ADVICE_ABSOLUTE)
    bounded("high_abs_pa", high_abs_pa, low=low_abs_pa, unit="Pa", advice=ADVICE_ABSOLUTE)
    at_low, at_high = (
        gas_volume_m3(
            volume_m3=volume_m3,
            precharge_abs_pa=precharge_abs_pa,
            pressure_abs_pa=pressure_abs_pa,
            exponent=exponent,
        )
        for pressure_abs_pa in (low_abs_pa, high_abs_pa)
    )
    return at_low - at_high


@overload
def volume_for_oil_m3(
    *,
    oil_m3: float,
    precharge_abs_pa: float,
    low_abs_pa: float,
    high_abs_pa: float,
    exponent: float = ISOTHERMAL,
) -> float: ...
@overload
def volume_for_oil_m3(
    *,
    oil_m3: Numbers,
    precharge_abs_pa: Numbers,
    low_abs_pa: Numbers,
    high_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Array: ...
def volume_for_oil_m3(
    *,
    oil_m3: Numbers,
    precharge_abs_pa: Numbers,
    low_abs_pa: Numbers,
    high_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> Numbers:
    """Return the gas volume that gives an amount of oil between two pressures.

    Parameters
    ----------
    oil_m3 : scalar or (...)
        Oil wanted between the two pressures. [m3]
    precharge_abs_pa : scalar or (...)
        Absolute precharge pressure. [Pa]
    low_abs_pa : scalar or (...)
        Lower absolute pressure, at least the precharge. [Pa]
    high_abs_pa : scalar or (...)
        Higher absolute pressure, above ``low_abs_pa``. [Pa]
    exponent : scalar or (...)
        n of p V^n: 1 slow, 1.4 fast; 1 to 2. [-]

    Returns
    -------
    volume_m3 : scalar or (...)
        Gas volume at precharge, V0. [m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Nitrogen up to about 200 bar; above it a larger volume is needed.

    Source
    ------
    ``esposito-2009``, chapter 14.

    Examples
    --------
    >>> round(volume_for_oil_m3(oil_m3=5.0, precharge_abs_pa=72e5, low_abs_pa=80e5,
    ...     high_abs_pa=180e5, exponent=1.4), 3)
    12.261
    """
    bounded("oil_m3", oil_m3, above=0.0, unit="m3")
    bounded("low_abs_pa", low_abs_pa, low=precharge_abs_pa, unit="Pa", advice=ADVICE_ABSOLUTE)
    bounded("high_abs_pa", high_abs_pa, above=low_abs_pa, unit="Pa", advice=ADVICE_ABSOLUTE)
    return oil_m3 / oil_between_m3(
        volume_m3=1.0,
        precharge_abs_pa=precharge_abs_pa,
        low_abs_pa=low_abs_pa,
        high_abs_pa=high_abs_pa,
        exponent=exponent,
    )


@overload
def precharge_at_pa(*, pressure_abs_pa: float, from_k: float, to_k: float) -> float: ...
@overload
def precharge_at_pa(*, pressure_abs_pa: Numbers, from_k: Numbers, to_k: Numbers) -> Array: ...
def precharge_at_pa(*, pressure_abs_pa: Numbers, from_k: Numbers, to_k: Numbers) -> Numbers:
    """Return the absolute precharge that a gauge would find at another temperature.

    Parameters
    ----------
    pressure_abs_pa : scalar or (...)
        Absolute pressure at ``from_k``, no oil behind the gas. [Pa]
    from_k : scalar or (...)
        Gas temperature at the reading. [K]
    to_k : scalar or (...)
        Gas temperature wanted. [K]

    Returns
    -------
    pressure_abs_pa : scalar or (...)
        Absolute pressure at ``to_k``. [Pa]

    Raises
    ------
    OutOfRange
        If a value is not positive.

    Validity
    --------
    Fixed volume, ideal gas. From 20 to 80 degC real nitrogen ends 2 % higher at 60 bar and 6 %
    higher at 200 bar.

    Source
    ------
    Gay-Lussac's law.

    Examples
    --------
    >>> round(precharge_at_pa(pressure_abs_pa=61e5, from_k=293.15, to_k=353.15) / 1e5, 2)
    73.49
    """
    bounded("pressure_abs_pa", pressure_abs_pa, above=0.0, unit="Pa", advice=ADVICE_ABSOLUTE)
    bounded("from_k", from_k, above=0.0, unit="K")
    bounded("to_k", to_k, above=0.0, unit="K")
    return pressure_abs_pa * to_k / from_k


@overload
def stored_energy_j(
    *,
    volume_m3: float,
    precharge_abs_pa: float,
    pressure_abs_pa: float,
    exponent: float = ADIABATIC_NITROGEN,
) -> float: ...
@overload
def stored_energy_j(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ADIABATIC_NITROGEN,
) -> Array: ...
def stored_energy_j(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ADIABATIC_NITROGEN,
) -> Numbers:
    """Return the work that brought the gas from precharge to a pressure.

    Parameters
    ----------
    volume_m3 : scalar or (...)
        Gas volume at precharge, V0. [m3]
    precharge_abs_pa : scalar or (...)
        Absolute precharge pressure. [Pa]
    pressure_abs_pa : scalar or (...)
        Absolute pressure now. [Pa]
    exponent : scalar or (...)
        n of p V^n: 1 slow, 1.4 fast; 1 to 2. [-]

    Returns
    -------
    energy_j : scalar or (...)
        p0 V0 / (n - 1) ((p/p0)^((n-1)/n) - 1), p0 V0 ln(p/p0) for n = 1; 0 below precharge. [J]

    Raises
    ------
    OutOfRange
        If a volume or pressure is not positive or the exponent is outside 1 to 2.

    Validity
    --------
    Nitrogen up to about 200 bar. The push of the atmosphere is left out, as is the energy of the
    gas at precharge, which stays in the shell after the oil is bled.

    Source
    ------
    Derived: work of a polytropic change; checked in ``tests/outside/published_examples``.

    Examples
    --------
    >>> round(stored_energy_j(volume_m3=0.5e-3, precharge_abs_pa=50e5, pressure_abs_pa=160e5), 1)
    2463.8
    """
    gas_volume_m3(
        volume_m3=volume_m3,
        precharge_abs_pa=precharge_abs_pa,
        pressure_abs_pa=pressure_abs_pa,
        exponent=exponent,
    )
    log_ratio = log(greatest(pressure_abs_pa / precharge_abs_pa, 1.0))
    start_j = precharge_abs_pa * volume_m3
    # expm1 keeps the limit n -> 1 smooth: (r^x - 1) / x tends to ln r.
    x = (exponent - 1.0) / exponent
    is_limit = x * log_ratio < 1e-12
    rise = expm1(x * log_ratio) / where(is_limit, 1.0, exponent - 1.0)
    work: Numbers = where(is_limit, log_ratio / exponent, rise)
    return start_j * work
