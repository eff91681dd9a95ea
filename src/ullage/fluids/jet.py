"""How fast does fluid leave a pinhole under pressure?"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.units.caveat import Caveat
from ullage.units.convert import BAR_PA
from ullage.units.elementwise import Number_co, bounded, caveats_where, kept, sqrt

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

SKIN_PIERCED_FROM_PA = 7.0 * BAR_PA  # injection-injuries: 100 psi


@dataclass(frozen=True, slots=True, kw_only=True)
class Jet(Generic[Number_co]):
    """Speed of a leak's jet, without losses."""

    speed_m_s: Number_co
    caveats: tuple[Caveat, ...]


@overload
def leak_jet(*, dp_pa: float, rho_kg_m3: float) -> Jet: ...
@overload
def leak_jet(*, dp_pa: Numbers, rho_kg_m3: Numbers) -> Jet[Array]: ...
def leak_jet(*, dp_pa: Numbers, rho_kg_m3: Numbers) -> Jet[Numbers]:
    """Return the speed of an ideal jet from a pressure difference.

    Parameters
    ----------
    dp_pa : scalar or (...)
        Pressure inside above the pressure outside, 0 or more. [Pa]
    rho_kg_m3 : scalar or (...)
        Density. [kg/m3]

    Returns
    -------
    result : Jet
        Root of twice the pressure over density, with a warning from 7 bar.

    Raises
    ------
    OutOfRange
        If the pressure is negative or the density not positive.

    Validity
    --------
    An upper bound: a real pinhole loses a few per cent, a thick oil more.

    Source
    ------
    Bernoulli.

    Examples
    --------
    >>> found = leak_jet(dp_pa=145e5, rho_kg_m3=870.0)
    >>> round(found.speed_m_s, 1), found.caveats[0].code
    (182.6, 'pierces-skin')
    """
    bounded("dp_pa", dp_pa, low=0.0, unit="Pa")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    (speed_m_s,) = kept(sqrt(2.0 * dp_pa / rho_kg_m3))
    return Jet(
        speed_m_s=speed_m_s,
        caveats=caveats_where(
            (
                dp_pa >= SKIN_PIERCED_FROM_PA,
                Caveat(
                    code="pierces-skin",
                    text="From about 7 bar a jet can go through skin: release the pressure first, "
                    "never search a leak by hand, treat an injection as a surgical emergency.",
                ),
            ),
        ),
    )
