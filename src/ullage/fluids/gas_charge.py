"""What does a gas cushion hold at a pressure, and what should one know about it?

Oil, room of the gas and energy of ``gas`` in one answer, with the limits of the formulas and of
bladders. Pressures are absolute.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.fluids.gas import ISOTHERMAL, gas_volume_m3, oil_held_m3, stored_energy_j
from ullage.units.caveat import Caveat
from ullage.units.convert import BAR_PA, STANDARD_ATMOSPHERE_PA
from ullage.units.elementwise import Number_co, caveats_where, greatest, kept

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

REAL_GAS_FROM_PA = 200 * BAR_PA  # maker-independent practice: the ideal law holds up to about here

REAL_GAS = Caveat(
    code="above-200-bar",
    text="Above 200 bar nitrogen is no ideal gas: it takes more room than calculated, so less oil "
    "fits behind it (2 % less at 200 bar, 3 % at 350 bar, from 50 bar precharge at 20 degC).",
)

QUICK_FROM = 1.2  # exponents above it mean a quick change
QUICK_REAL_GAS_FROM_PA = 50 * BAR_PA  # tests/outside/coolprop: 3 % at 40 bar, 9 % at 120 bar

QUICK_REAL_GAS = Caveat(
    code="quick-real-gas",
    text="Compressed quickly, real nitrogen is stiffer than the exponent 1.4 says: 7 to 10 % less "
    "oil fits behind it than calculated, and 8 % less energy is stored.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GasCharge(Generic[Number_co]):
    """What a gas cushion holds at a pressure: oil behind it, room of the gas, energy."""

    oil_m3: Number_co
    gas_m3: Number_co
    energy_j: Number_co
    caveats: tuple[Caveat, ...]


@overload
def gas_charge(
    *,
    volume_m3: float,
    precharge_abs_pa: float,
    pressure_abs_pa: float,
    exponent: float = ISOTHERMAL,
) -> GasCharge: ...
@overload
def gas_charge(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> GasCharge[Array]: ...
def gas_charge(
    *,
    volume_m3: Numbers,
    precharge_abs_pa: Numbers,
    pressure_abs_pa: Numbers,
    exponent: Numbers = ISOTHERMAL,
) -> GasCharge[Numbers]:
    """Return what a gas cushion holds at a pressure, with what to know about it.

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
    result : GasCharge
        Oil, gas and energy with caveats.

    Raises
    ------
    OutOfRange
        If a volume or pressure is not positive or the exponent is outside 1 to 2.

    Validity
    --------
    As `oil_held_m3` and `stored_energy_j`.

    Source
    ------
    ``esposito-2009``, chapter 14.

    Examples
    --------
    >>> found = gas_charge(volume_m3=0.35e-3, precharge_abs_pa=61e5, pressure_abs_pa=250e5)
    >>> round(found.oil_m3 * 1e3, 3), [caveat.code for caveat in found.caveats]
    (0.265, ['above-200-bar', 'beyond-four-times-precharge'])
    """
    given = {
        "volume_m3": volume_m3,
        "precharge_abs_pa": precharge_abs_pa,
        "pressure_abs_pa": pressure_abs_pa,
        "exponent": exponent,
    }
    oil_m3, gas_m3, energy_j = kept(
        oil_held_m3(**given), gas_volume_m3(**given), stored_energy_j(**given)
    )
    return GasCharge(
        oil_m3=oil_m3,
        gas_m3=gas_m3,
        energy_j=energy_j,
        caveats=charge_caveats(
            precharge_abs_pa=precharge_abs_pa,
            pressure_abs_pa=pressure_abs_pa,
            exponent=exponent,
        ),
    )


def charge_caveats(
    *, precharge_abs_pa: Numbers, pressure_abs_pa: Numbers, exponent: Numbers = ISOTHERMAL
) -> tuple[Caveat, ...]:
    """Return what to know about a gas cushion at a pressure."""
    return caveats_where(
        (greatest(pressure_abs_pa, precharge_abs_pa) > REAL_GAS_FROM_PA, REAL_GAS),
        ((exponent > QUICK_FROM) & (pressure_abs_pa > QUICK_REAL_GAS_FROM_PA), QUICK_REAL_GAS),
        (
            pressure_abs_pa > 4.0 * precharge_abs_pa,
            Caveat(
                code="beyond-four-times-precharge",
                text="The pressure is more than four times the precharge: most bladders do not "
                "bear that; small diaphragms go to eight times.",
            ),
        ),
        (
            pressure_abs_pa <= precharge_abs_pa,
            Caveat(
                code="below-precharge",
                text="The pressure does not exceed the precharge: no oil is held.",
            ),
        ),
        (
            precharge_abs_pa < STANDARD_ATMOSPHERE_PA,
            Caveat(
                code="precharge-below-atmosphere",
                text="A precharge below the atmosphere is unlikely: was a gauge reading given "
                "where an absolute pressure is asked for?",
            ),
        ),
    )
