"""How much does pressure squeeze the fluid, and how much softer does air make it?

Relative volume of a mineral oil under pressure from a handbook table; the stiffness of a line full
of oil with free air in it; the air that oil holds in solution.

Left out: the rate at which air dissolves, and the difference of tangent and secant modulus in the
table's own figures.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from bisect import bisect_right
from functools import cache
from typing import TYPE_CHECKING, overload

from ullage.fluids.tables import load_table
from ullage.units.convert import STANDARD_ATMOSPHERE_PA, ZERO_CELSIUS_K
from ullage.units.elementwise import bounded, each, refuse_where, where

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

BUNSEN_AIR_MINERAL_OIL = 0.09  # memory: 0.06 to 0.12 by volume at one atmosphere


@cache
def _grid() -> tuple[list[float], list[float], dict[tuple[float, float], float]]:
    """Return temperatures in kelvin, pressures in pascals and relative volumes of the table."""
    volumes = {
        (float(row["temperature_degc"]) + ZERO_CELSIUS_K, float(row["pressure_mpa"]) * 1e6): float(
            row["relative_volume"]
        )
        for row in load_table("oil_under_pressure")
    }
    temperatures = sorted({key[0] for key in volumes})
    pressures = sorted({key[1] for key in volumes})
    return temperatures, pressures, volumes


def _place(x: float, xs: list[float]) -> tuple[int, float]:
    """Return the cell of a rising list that holds x and how far into it x lies, 0 to 1."""
    left = min(max(bisect_right(xs, x) - 1, 0), len(xs) - 2)
    return left, (x - xs[left]) / (xs[left + 1] - xs[left])


@overload
def relative_volume(*, pressure_pa: float, temperature_k: float) -> float: ...
@overload
def relative_volume(*, pressure_pa: Numbers, temperature_k: Numbers) -> Array: ...
def relative_volume(*, pressure_pa: Numbers, temperature_k: Numbers) -> Numbers:
    """Return the volume of a mineral oil under pressure over its volume without, same temperature.

    Parameters
    ----------
    pressure_pa : scalar or (...)
        Gauge pressure, 0 to 125e6. [Pa]
    temperature_k : scalar or (...)
        Fluid temperature, 283.15 to 373.15. [K]

    Returns
    -------
    ratio : scalar or (...)
        Relative volume, 1 at no pressure. [m3/m3]

    Raises
    ------
    OutOfRange
        If pressure or temperature are outside the table.

    Validity
    --------
    An oil of grade 32 and index 100, linear between the rows; 0.0005 as printed. Other mineral oils
    differ by a tenth of the squeeze.

    Source
    ------
    ``hydraulic-handbook``, table 7.1; data/oil_under_pressure.csv.

    Examples
    --------
    >>> relative_volume(pressure_pa=25e6, temperature_k=313.15)
    0.986
    """
    temperatures, pressures, _ = _grid()
    bounded("pressure_pa", pressure_pa, low=0.0, high=pressures[-1], unit="Pa")
    bounded("temperature_k", temperature_k, low=temperatures[0], high=temperatures[-1], unit="K")
    return each(_in_grid, pressure_pa=pressure_pa, temperature_k=temperature_k)


def _in_grid(pressure_pa: float, temperature_k: float) -> float:
    """Interpolate in the table, along both of its sides."""
    temperatures, pressures, volumes = _grid()
    i, s = _place(temperature_k, temperatures)
    j, r = _place(pressure_pa, pressures)
    cold, hot = temperatures[i], temperatures[i + 1]
    low, high = pressures[j], pressures[j + 1]
    return (1 - s) * ((1 - r) * volumes[cold, low] + r * volumes[cold, high]) + s * (
        (1 - r) * volumes[hot, low] + r * volumes[hot, high]
    )


@overload
def secant_bulk_modulus_pa(*, pressure_pa: float, temperature_k: float) -> float: ...
@overload
def secant_bulk_modulus_pa(*, pressure_pa: Numbers, temperature_k: Numbers) -> Array: ...
def secant_bulk_modulus_pa(*, pressure_pa: Numbers, temperature_k: Numbers) -> Numbers:
    """Return the bulk modulus of a mineral oil, pressure over relative squeeze.

    Parameters
    ----------
    pressure_pa : scalar or (...)
        Gauge pressure, above 0 to 125e6. [Pa]
    temperature_k : scalar or (...)
        Fluid temperature, 283.15 to 373.15. [K]

    Returns
    -------
    modulus_pa : scalar or (...)
        Secant modulus from no pressure. [Pa]

    Raises
    ------
    OutOfRange
        If pressure or temperature are outside the table.

    Validity
    --------
    As `relative_volume`; the third decimal of the table makes 4 % at 25 MPa, more below.

    Source
    ------
    ``hydraulic-handbook``, table 7.1.

    Examples
    --------
    >>> round(secant_bulk_modulus_pa(pressure_pa=25e6, temperature_k=313.15) / 1e6)
    1786
    """
    bounded("pressure_pa", pressure_pa, above=0.0, unit="Pa")
    squeeze = 1.0 - relative_volume(pressure_pa=pressure_pa, temperature_k=temperature_k)
    return pressure_pa / squeeze


@overload
def effective_bulk_modulus_pa(
    *,
    liquid_pa: float,
    air_vfrac: float,
    pressure_abs_pa: float,
    exponent: float = 1.0,
    bore_m: float = 0.0,
    wall_m: float = 1.0,
    wall_modulus_pa: float = math.inf,
) -> float: ...
@overload
def effective_bulk_modulus_pa(
    *,
    liquid_pa: Numbers,
    air_vfrac: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = 1.0,
    bore_m: Numbers = 0.0,
    wall_m: Numbers = 1.0,
    wall_modulus_pa: Numbers = math.inf,
) -> Array: ...
def effective_bulk_modulus_pa(
    *,
    liquid_pa: Numbers,
    air_vfrac: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = 1.0,
    bore_m: Numbers = 0.0,
    wall_m: Numbers = 1.0,
    wall_modulus_pa: Numbers = math.inf,
) -> Numbers:
    """Return the stiffness of oil with free air in a line that stretches.

    Parameters
    ----------
    liquid_pa : scalar or (...)
        Bulk modulus of the liquid alone. [Pa]
    air_vfrac : scalar or (...)
        Free air over total volume, at the pressure itself, 0 to below 1. [m3/m3]
    pressure_abs_pa : scalar or (...)
        Absolute pressure. [Pa]
    exponent : scalar or (...)
        1 for slow changes, 1.4 for quick ones. [-]
    bore_m : scalar or (...)
        Inner diameter of the line; 0 for a stiff wall. [m]
    wall_m : scalar or (...)
        Thickness of the wall. [m]
    wall_modulus_pa : scalar or (...)
        Young's modulus of the wall; infinite for a stiff wall. [Pa]

    Returns
    -------
    modulus_pa : scalar or (...)
        Effective bulk modulus. [Pa]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Small changes about one pressure; thin walls.

    Source
    ------
    ``merritt-1967``, from memory: 1/K = 1/K_liquid + x/(n p) + (D/t)/E.

    Examples
    --------
    >>> round(effective_bulk_modulus_pa(liquid_pa=1.7e9, air_vfrac=0.01, pressure_abs_pa=35e5), -6)
    290000000.0
    """
    bounded("liquid_pa", liquid_pa, above=0.0, unit="Pa")
    bounded("air_vfrac", air_vfrac, low=0.0, below=1.0, unit="m3/m3")
    bounded(
        "pressure_abs_pa",
        pressure_abs_pa,
        above=0.0,
        unit="Pa",
        advice="this is absolute pressure: add 101325 Pa to a gauge reading",
    )
    bounded("exponent", exponent, low=1.0, high=2.0)
    bounded("bore_m", bore_m, low=0.0, unit="m")
    bounded("wall_m", wall_m, above=0.0, unit="m")
    # A stiff wall is infinite, which the other checks refuse.
    refuse_where(
        where(wall_modulus_pa > 0.0, False, True),
        "wall_modulus_pa",
        wall_modulus_pa,
        "above 0 Pa",
        unit="Pa",
    )
    softness = (
        1.0 / liquid_pa
        + air_vfrac / (exponent * pressure_abs_pa)
        + bore_m / wall_m / wall_modulus_pa
    )
    return 1.0 / softness


@overload
def dissolved_air_vfrac(
    *, pressure_abs_pa: float, bunsen: float = BUNSEN_AIR_MINERAL_OIL
) -> float: ...
@overload
def dissolved_air_vfrac(
    *, pressure_abs_pa: Numbers, bunsen: Numbers = BUNSEN_AIR_MINERAL_OIL
) -> Array: ...
def dissolved_air_vfrac(
    *, pressure_abs_pa: Numbers, bunsen: Numbers = BUNSEN_AIR_MINERAL_OIL
) -> Numbers:
    """Return the air that oil holds in solution, as gas volume at 0 degC and one atmosphere.

    Parameters
    ----------
    pressure_abs_pa : scalar or (...)
        Absolute pressure of the air above the oil. [Pa]
    bunsen : scalar or (...)
        Bunsen coefficient: gas volume per oil volume and atmosphere. [m3/m3]

    Returns
    -------
    vfrac : scalar or (...)
        Volume of dissolved air over volume of oil. [m3/m3]

    Raises
    ------
    OutOfRange
        If the pressure is negative or the coefficient outside 0 to 1.

    Validity
    --------
    Equilibrium; proportional to absolute pressure up to about 300 bar. Mineral oils 0.06 to 0.12.

    Source
    ------
    Henry's law; coefficient from memory.

    Examples
    --------
    >>> dissolved_air_vfrac(pressure_abs_pa=101325.0)
    0.09
    """
    bounded("pressure_abs_pa", pressure_abs_pa, low=0.0, unit="Pa")
    bounded("bunsen", bunsen, low=0.0, high=1.0, unit="m3/m3")
    return bunsen * pressure_abs_pa / STANDARD_ATMOSPHERE_PA
