"""How much room does the fluid take at another temperature, and where does its level then stand?

Volume correction of lubricating oils. Everything in a circuit swells, but only the reservoir shows
it, so a level shift is always that of the whole circuit.

Left out: water-based and glycol fluids have no table of their own here; `liquid` says so.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.units.caveat import Caveat
from ullage.units.convert import ZERO_CELSIUS_K
from ullage.units.elementwise import Number_co, bounded, caveats_where, exp, kept, magnitude

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

BASE_K = 15.0 + ZERO_CELSIUS_K  # the temperature that rho15 and every correction refer to
EXPANSION_K0_KG_M3_K = 0.6278  # api-mpms-11-1, lubricating oils: coefficient x density at 15 degC

# api-mpms-11-1: limits of the lubricating-oil group and of the method, from memory.
LIGHTEST_OIL_KG_M3, HEAVIEST_OIL_KG_M3 = 800.0, 1164.0
COLDEST_K, HOTTEST_K = ZERO_CELSIUS_K - 50.0, ZERO_CELSIUS_K + 150.0


@overload
def expansion_per_k(rho15_kg_m3: float) -> float: ...
@overload
def expansion_per_k(rho15_kg_m3: Array) -> Array: ...
def expansion_per_k(rho15_kg_m3: Numbers) -> Numbers:
    """Return the thermal expansion coefficient of a lubricating oil at 15 degC.

    Parameters
    ----------
    rho15_kg_m3 : scalar or (...)
        Density at 15 degC, 800 to 1164. [kg/m3]

    Returns
    -------
    alpha_per_k : scalar or (...)
        Relative growth of volume per kelvin. [1/K]

    Raises
    ------
    OutOfRange
        If the density is outside the group.

    Validity
    --------
    Mineral lubricating and hydraulic oils. Handbook figures for other fluids lie between 4.6e-4 and
    1e-3 per kelvin.

    Source
    ------
    ``api-mpms-11-1``, table 54D.

    Examples
    --------
    >>> round(expansion_per_k(870.0) * 1e4, 2)
    7.22
    """
    bounded(
        "rho15_kg_m3",
        rho15_kg_m3,
        low=LIGHTEST_OIL_KG_M3,
        high=HEAVIEST_OIL_KG_M3,
        unit="kg/m3",
        advice="the volume correction is for lubricating oils",
    )
    return EXPANSION_K0_KG_M3_K / rho15_kg_m3


@overload
def volume_correction(*, rho15_kg_m3: float, temperature_k: float) -> float: ...
@overload
def volume_correction(*, rho15_kg_m3: Numbers, temperature_k: Numbers) -> Array: ...
def volume_correction(*, rho15_kg_m3: Numbers, temperature_k: Numbers) -> Numbers:
    """Return the volume at 15 degC over the volume at a temperature.

    Parameters
    ----------
    rho15_kg_m3 : scalar or (...)
        Density at 15 degC, 800 to 1164. [kg/m3]
    temperature_k : scalar or (...)
        Fluid temperature, 223.15 to 423.15. [K]

    Returns
    -------
    factor : scalar or (...)
        Volume correction factor, also the density over the density at 15 degC. [m3/m3]

    Raises
    ------
    OutOfRange
        If density or temperature are outside the ranges above.

    Validity
    --------
    Lubricating oils at atmospheric pressure, about 0.1 % over 60 K. Sub-zero oils that gel differ.

    Source
    ------
    ``api-mpms-11-1``, table 54D.

    Examples
    --------
    >>> round(volume_correction(rho15_kg_m3=875.0, temperature_k=373.15), 6)
    0.938041
    """
    alpha = expansion_per_k(rho15_kg_m3)
    warming = alpha * (_covered("temperature_k", temperature_k) - BASE_K)
    return exp(-warming * (1.0 + 0.8 * warming))


def _covered(name: str, temperature_k: Numbers) -> Numbers:
    """Return a temperature that the volume correction covers; refuse any other by its name."""
    return bounded(
        name,
        temperature_k,
        low=COLDEST_K,
        high=HOTTEST_K,
        unit="K",
        advice="the volume correction covers -50 to 150 degC",
    )


@overload
def density_at_kg_m3(*, rho15_kg_m3: float, temperature_k: float) -> float: ...
@overload
def density_at_kg_m3(*, rho15_kg_m3: Numbers, temperature_k: Numbers) -> Array: ...
def density_at_kg_m3(*, rho15_kg_m3: Numbers, temperature_k: Numbers) -> Numbers:
    """Return the density of a lubricating oil at a temperature.

    Parameters
    ----------
    rho15_kg_m3 : scalar or (...)
        Density at 15 degC, 800 to 1164. [kg/m3]
    temperature_k : scalar or (...)
        Fluid temperature, 223.15 to 423.15. [K]

    Returns
    -------
    rho_kg_m3 : scalar or (...)
        Density. [kg/m3]

    Raises
    ------
    OutOfRange
        If density or temperature are outside the ranges above.

    Validity
    --------
    As `volume_correction`.

    Source
    ------
    ``api-mpms-11-1``, table 54D.

    Examples
    --------
    >>> round(density_at_kg_m3(rho15_kg_m3=875.0, temperature_k=333.15), 1)
    846.5
    """
    return rho15_kg_m3 * volume_correction(rho15_kg_m3=rho15_kg_m3, temperature_k=temperature_k)


@overload
def volume_at_m3(volume_m3: float, *, from_k: float, to_k: float, rho15_kg_m3: float) -> float: ...
@overload
def volume_at_m3(
    volume_m3: Numbers, *, from_k: Numbers, to_k: Numbers, rho15_kg_m3: Numbers
) -> Array: ...
def volume_at_m3(
    volume_m3: Numbers, *, from_k: Numbers, to_k: Numbers, rho15_kg_m3: Numbers
) -> Numbers:
    """Return a volume reduced from one temperature to another, mass unchanged.

    Parameters
    ----------
    volume_m3 : scalar or (...)
        Volume at ``from_k``, 0 or more. [m3]
    from_k : scalar or (...)
        Temperature at which the volume was read. [K]
    to_k : scalar or (...)
        Temperature it is wanted at. [K]
    rho15_kg_m3 : scalar or (...)
        Density at 15 degC, 800 to 1164. [kg/m3]

    Returns
    -------
    volume_m3 : scalar or (...)
        Volume at ``to_k``. [m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above or those of `volume_correction`.

    Validity
    --------
    As `volume_correction`. The vessel's own growth (steel: a twentieth of the oil's) is left out.

    Source
    ------
    ``api-mpms-11-1``, table 54D.

    Examples
    --------
    >>> grown = volume_at_m3(0.010, from_k=293.15, to_k=353.15, rho15_kg_m3=860.0)
    >>> round(grown * 1e3, 3)
    10.466
    """
    bounded("volume_m3", volume_m3, low=0.0, unit="m3")
    _covered("from_k", from_k)
    _covered("to_k", to_k)
    return (
        volume_m3
        * volume_correction(rho15_kg_m3=rho15_kg_m3, temperature_k=from_k)
        / volume_correction(rho15_kg_m3=rho15_kg_m3, temperature_k=to_k)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelShift(Generic[Number_co]):
    """By how much a circuit's fluid swells, and the level with it; shrinking is negative."""

    swell_m3: Number_co
    rise_m: Number_co
    caveats: tuple[Caveat, ...]


@overload
def level_shift(
    *, volume_m3: float, from_k: float, to_k: float, rho15_kg_m3: float, area_m2: float
) -> LevelShift: ...
@overload
def level_shift(
    *, volume_m3: Numbers, from_k: Numbers, to_k: Numbers, rho15_kg_m3: Numbers, area_m2: Numbers
) -> LevelShift[Array]: ...
def level_shift(
    *, volume_m3: Numbers, from_k: Numbers, to_k: Numbers, rho15_kg_m3: Numbers, area_m2: Numbers
) -> LevelShift[Numbers]:
    """Return the shift of the reservoir's level when the whole circuit changes temperature.

    Parameters
    ----------
    volume_m3 : scalar or (...)
        Fluid of the whole circuit at ``from_k``, not that of the reservoir alone. [m3]
    from_k : scalar or (...)
        Temperature before. [K]
    to_k : scalar or (...)
        Temperature after. [K]
    rho15_kg_m3 : scalar or (...)
        Density at 15 degC, 800 to 1164. [kg/m3]
    area_m2 : scalar or (...)
        Free surface of the reservoir. [m2]

    Returns
    -------
    result : LevelShift
        Swell and rise.

    Raises
    ------
    OutOfRange
        If a value is not positive or outside the ranges of `volume_correction`.

    Validity
    --------
    Straight reservoir walls, the whole circuit at one temperature. Cold legs make the true shift
    smaller.

    Source
    ------
    ``api-mpms-11-1``, table 54D.

    Examples
    --------
    >>> found = level_shift(
    ...     volume_m3=0.012, from_k=293.15, to_k=333.15, rho15_kg_m3=868.0, area_m2=0.021
    ... )
    >>> round(found.swell_m3 * 1e3, 3), round(found.rise_m * 1e3, 1)
    (0.363, 17.3)
    """
    bounded("area_m2", area_m2, above=0.0, unit="m2")
    bounded("volume_m3", volume_m3, above=0.0, unit="m3")
    swell_m3 = (
        volume_at_m3(volume_m3, from_k=from_k, to_k=to_k, rho15_kg_m3=rho15_kg_m3) - volume_m3
    )
    swell_m3, rise_m = kept(swell_m3, swell_m3 / area_m2)
    return LevelShift(
        swell_m3=swell_m3,
        rise_m=rise_m,
        caveats=caveats_where(
            (
                magnitude(rise_m) > 0.1,
                Caveat(
                    code="large-level-shift",
                    text="The level moves by more than 100 mm: check that the walls are straight "
                    "over that height and that the reservoir holds it.",
                ),
            ),
        ),
    )
