"""How does fluid run through a line: which regime, how fast, at which pressure loss?

Round bores, full of liquid, steady flow. Friction factors of turbulent flow come from the library
`fluids`, loaded when one is asked for; everything the solver needs is plain arithmetic.

Which flow flushes a line is in ``flush``. Left out: hoses that stretch, losses of fittings (give
them as extra length), pulsation.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Generic, TypeVar, overload

from ullage.units.caveat import Caveat
from ullage.units.elementwise import (
    Number_co,
    bounded,
    caveats_where,
    each,
    greatest,
    kept,
    power,
    sqrt,
    where,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers, Objects

LAMINAR_BELOW_RE = 2300.0  # esposito-2009, section 4.4 and iso-23309-2016: laminar below
TURBULENT_ABOVE_RE = 4000.0  # iso-23309-2016: flushing is turbulent above
ROUGHEST_RELATIVE = 0.05  # end of the Moody chart


class Regime(Enum):
    """How the fluid runs: in layers, undecided, or swirling."""

    LAMINAR = "laminar"
    TRANSITIONAL = "transitional"
    TURBULENT = "turbulent"


if TYPE_CHECKING:
    from typing_extensions import TypeVar as TypeVarWithDefault

    Regime_co = TypeVarWithDefault("Regime_co", covariant=True, default=Regime)
else:
    Regime_co = TypeVar("Regime_co", covariant=True)

TRANSITIONAL_FLOW = Caveat(
    code="transitional-flow",
    text="Between Reynolds numbers 2300 and 4000 flow may be laminar or turbulent, and switch; "
    "the friction may be off by a factor of 1.5.",
)


@overload
def velocity_m_s(*, flow_m3_s: float, bore_m: float) -> float: ...
@overload
def velocity_m_s(*, flow_m3_s: Numbers, bore_m: Numbers) -> Array: ...
def velocity_m_s(*, flow_m3_s: Numbers, bore_m: Numbers) -> Numbers:
    """Return the mean velocity in a round bore.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Volume flow, 0 or more. [m3/s]
    bore_m : scalar or (...)
        Inner diameter. [m]

    Returns
    -------
    velocity_m_s : scalar or (...)
        Flow over cross-section. [m/s]

    Raises
    ------
    OutOfRange
        If the flow is negative or the bore is not positive.

    Validity
    --------
    Exact for a full bore.

    Source
    ------
    Continuity.

    Examples
    --------
    >>> round(velocity_m_s(flow_m3_s=10e-3 / 60, bore_m=0.012), 4)
    1.4737
    """
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    bounded("bore_m", bore_m, above=0.0, unit="m")
    return 4.0 * flow_m3_s / (math.pi * bore_m * bore_m)


@overload
def bore_for_velocity_m(*, flow_m3_s: float, velocity_m_s: float) -> float: ...
@overload
def bore_for_velocity_m(*, flow_m3_s: Numbers, velocity_m_s: Numbers) -> Array: ...
def bore_for_velocity_m(*, flow_m3_s: Numbers, velocity_m_s: Numbers) -> Numbers:
    """Return the bore in which a flow runs at a mean velocity.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Volume flow. [m3/s]
    velocity_m_s : scalar or (...)
        Mean velocity wanted. [m/s]

    Returns
    -------
    bore_m : scalar or (...)
        Inner diameter. [m]

    Raises
    ------
    OutOfRange
        If a value is not positive.

    Validity
    --------
    Exact for a full bore.

    Source
    ------
    Continuity.

    Examples
    --------
    >>> round(bore_for_velocity_m(flow_m3_s=20e-3 / 60, velocity_m_s=2.0), 4)
    0.0146
    """
    bounded("flow_m3_s", flow_m3_s, above=0.0, unit="m3/s")
    bounded("velocity_m_s", velocity_m_s, above=0.0, unit="m/s")
    return sqrt(4.0 * flow_m3_s / (math.pi * velocity_m_s))


@overload
def reynolds(*, flow_m3_s: float, bore_m: float, nu_m2_s: float) -> float: ...
@overload
def reynolds(*, flow_m3_s: Numbers, bore_m: Numbers, nu_m2_s: Numbers) -> Array: ...
def reynolds(*, flow_m3_s: Numbers, bore_m: Numbers, nu_m2_s: Numbers) -> Numbers:
    """Return the Reynolds number of a flow in a round bore.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Volume flow, 0 or more. [m3/s]
    bore_m : scalar or (...)
        Inner diameter. [m]
    nu_m2_s : scalar or (...)
        Kinematic viscosity at the fluid's temperature. [m2/s]

    Returns
    -------
    re : scalar or (...)
        Reynolds number. [-]

    Raises
    ------
    OutOfRange
        If the flow is negative or bore or viscosity are not positive.

    Validity
    --------
    Exact: it is the definition, 4 Q / (pi d nu).

    Source
    ------
    ``esposito-2009``, section 4.4.

    Examples
    --------
    >>> round(reynolds(flow_m3_s=22.62e-3 / 60, bore_m=0.008, nu_m2_s=15e-6))
    4000
    """
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s", advice="1 mm2/s is 1e-6 m2/s")
    return 4.0 * flow_m3_s / (math.pi * bore_m * nu_m2_s)


@overload
def regime_of(re: float) -> Regime: ...
@overload
def regime_of(re: Array) -> Objects: ...
def regime_of(re: Numbers) -> Regime | Objects:
    """Return the regime of a Reynolds number.

    Parameters
    ----------
    re : scalar or (...)
        Reynolds number, 0 or more. [-]

    Returns
    -------
    regime : Regime
        Laminar below 2300, turbulent above 4000, transitional between.

    Raises
    ------
    OutOfRange
        If the number is negative.

    Validity
    --------
    Straight smooth lines. Bends and rough inlets bring turbulence earlier.

    Source
    ------
    ``iso-23309-2016`` (4000); ``esposito-2009``, section 4.4 (2300).

    Examples
    --------
    >>> regime_of(1200.0).value, regime_of(3000.0).value, regime_of(4001.0).value
    ('laminar', 'transitional', 'turbulent')
    """
    bounded("re", re, low=0.0)
    if isinstance(re, float):
        if re < LAMINAR_BELOW_RE:
            return Regime.LAMINAR
        return Regime.TURBULENT if re > TURBULENT_ABOVE_RE else Regime.TRANSITIONAL
    fast = where(re > TURBULENT_ABOVE_RE, Regime.TURBULENT, Regime.TRANSITIONAL)
    found: Objects = where(re < LAMINAR_BELOW_RE, Regime.LAMINAR, fast)
    return found


@overload
def flow_for_reynolds_m3_s(re: float, *, bore_m: float, nu_m2_s: float) -> float: ...
@overload
def flow_for_reynolds_m3_s(re: Numbers, *, bore_m: Numbers, nu_m2_s: Numbers) -> Array: ...
def flow_for_reynolds_m3_s(re: Numbers, *, bore_m: Numbers, nu_m2_s: Numbers) -> Numbers:
    """Return the flow that reaches a Reynolds number in a round bore.

    Parameters
    ----------
    re : scalar or (...)
        Reynolds number wanted, 0 or more. [-]
    bore_m : scalar or (...)
        Inner diameter. [m]
    nu_m2_s : scalar or (...)
        Kinematic viscosity at the fluid's temperature. [m2/s]

    Returns
    -------
    flow_m3_s : scalar or (...)
        Volume flow. [m3/s]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Exact: it is the definition turned round.

    Source
    ------
    ``esposito-2009``, section 4.4.

    Examples
    --------
    >>> flow = flow_for_reynolds_m3_s(4000.0, bore_m=0.020, nu_m2_s=15e-6)
    >>> round(flow * 60e3, 3)
    56.549
    """
    bounded("re", re, low=0.0)
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s", advice="1 mm2/s is 1e-6 m2/s")
    return 0.25 * math.pi * re * bore_m * nu_m2_s


@overload
def friction_factor(re: float, *, relative_roughness: float = 0.0) -> float: ...
@overload
def friction_factor(re: Numbers, *, relative_roughness: Numbers = 0.0) -> Array: ...
def friction_factor(re: Numbers, *, relative_roughness: Numbers = 0.0) -> Numbers:
    """Return the Darcy friction factor.

    Parameters
    ----------
    re : scalar or (...)
        Reynolds number, above 0. [-]
    relative_roughness : scalar or (...)
        Height of the wall's roughness over the bore, 0 to 0.05. [-]

    Returns
    -------
    friction_factor : scalar or (...)
        Darcy factor, four times Fanning's. [-]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    64/Re below 2300 (exact), Colebrook above 4000 (about 5 %), Churchill between, where the true
    value is not settled (up to a factor of 1.5). Steps of a few per cent at the two borders.

    Source
    ------
    ``colebrook-1939`` and ``churchill-1977`` as in the library fluids.

    Examples
    --------
    >>> friction_factor(1000.0)
    0.064
    >>> round(friction_factor(1e5, relative_roughness=1e-4), 6)
    0.018514
    """
    bounded("re", re, above=0.0, advice="no flow, no friction")
    bounded("relative_roughness", relative_roughness, low=0.0, high=ROUGHEST_RELATIVE)
    return each(_friction_factor, re=re, relative_roughness=relative_roughness)


def _friction_factor(re: float, relative_roughness: float) -> float:
    """Return the Darcy factor of one flow: each regime has a formula of its own."""
    if re < LAMINAR_BELOW_RE:
        return 64.0 / re
    from fluids.friction import Churchill_1977, Colebrook

    if re <= TURBULENT_ABOVE_RE:
        return float(Churchill_1977(re, relative_roughness))
    return float(Colebrook(re, relative_roughness))


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLoss(Generic[Number_co, Regime_co]):
    """What it costs to push a flow through a line."""

    dp_pa: Number_co
    friction_factor: Number_co
    re: Number_co
    regime: Regime_co
    velocity_m_s: Number_co
    caveats: tuple[Caveat, ...]


@overload
def pressure_loss(
    *,
    flow_m3_s: float,
    bore_m: float,
    length_m: float,
    nu_m2_s: float,
    rho_kg_m3: float,
    roughness_m: float = 0.0,
) -> PressureLoss: ...
@overload
def pressure_loss(
    *,
    flow_m3_s: Numbers,
    bore_m: Numbers,
    length_m: Numbers,
    nu_m2_s: Numbers,
    rho_kg_m3: Numbers,
    roughness_m: Numbers = 0.0,
) -> PressureLoss[Array, Objects]: ...
def pressure_loss(
    *,
    flow_m3_s: Numbers,
    bore_m: Numbers,
    length_m: Numbers,
    nu_m2_s: Numbers,
    rho_kg_m3: Numbers,
    roughness_m: Numbers = 0.0,
) -> PressureLoss[Numbers, Regime | Objects]:
    """Return the pressure loss of a straight line by Darcy and Weisbach.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Volume flow, above 0. [m3/s]
    bore_m : scalar or (...)
        Inner diameter. [m]
    length_m : scalar or (...)
        Length, 0 or more; add the equivalent length of fittings. [m]
    nu_m2_s : scalar or (...)
        Kinematic viscosity at the fluid's temperature. [m2/s]
    rho_kg_m3 : scalar or (...)
        Density at the fluid's temperature. [kg/m3]
    roughness_m : scalar or (...)
        Height of the wall's roughness; drawn tube about 1.5e-6 m (memory). [m]

    Returns
    -------
    result : PressureLoss
        Loss, friction factor, Reynolds number, regime, velocity and caveats.

    Raises
    ------
    OutOfRange
        If a value is not positive or the wall is rougher than 0.05 of the bore.

    Validity
    --------
    Fully developed flow of one temperature: see `entrance_length_m`. Cold walls raise the loss.

    Source
    ------
    ``esposito-2009``, section 4.5; friction factor as in `friction_factor`.

    Examples
    --------
    >>> found = pressure_loss(
    ...     flow_m3_s=10e-3 / 60, bore_m=0.010, length_m=5.0, nu_m2_s=46e-6, rho_kg_m3=870.0
    ... )
    >>> round(found.dp_pa), found.regime.value
    (135880, 'laminar')
    """
    bounded("length_m", length_m, low=0.0, unit="m")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("roughness_m", roughness_m, low=0.0, unit="m")
    re = reynolds(flow_m3_s=flow_m3_s, bore_m=bore_m, nu_m2_s=nu_m2_s)
    speed_m_s = velocity_m_s(flow_m3_s=flow_m3_s, bore_m=bore_m)
    factor = friction_factor(re, relative_roughness=roughness_m / bore_m)
    entrance = entrance_length_m(re, bore_m=bore_m)
    dp_pa = factor * length_m / bore_m * 0.5 * rho_kg_m3 * speed_m_s * speed_m_s
    dp_pa, factor, re, speed_m_s = kept(dp_pa, factor, re, speed_m_s)
    return PressureLoss(
        dp_pa=dp_pa,
        friction_factor=factor,
        re=re,
        regime=regime_of(re),
        velocity_m_s=speed_m_s,
        caveats=caveats_where(
            ((re >= LAMINAR_BELOW_RE) & (re <= TURBULENT_ABOVE_RE), TRANSITIONAL_FLOW),
            (
                entrance > 0.5 * length_m,
                Caveat(
                    code="entrance-flow",
                    text="More than half of the line lies within the entrance length; the true "
                    "loss is higher.",
                ),
            ),
        ),
    )


@overload
def entrance_length_m(re: float, *, bore_m: float) -> float: ...
@overload
def entrance_length_m(re: Numbers, *, bore_m: Numbers) -> Array: ...
def entrance_length_m(re: Numbers, *, bore_m: Numbers) -> Numbers:
    """Return the length after which the flow profile no longer changes.

    Parameters
    ----------
    re : scalar or (...)
        Reynolds number, 0 or more. [-]
    bore_m : scalar or (...)
        Inner diameter. [m]

    Returns
    -------
    length_m : scalar or (...)
        0.06 Re d in laminar flow, 4.4 Re^(1/6) d in turbulent, the longer of both between. [m]

    Raises
    ------
    OutOfRange
        If the number is negative or the bore not positive.

    Validity
    --------
    A rounded inlet from a large vessel; order of magnitude otherwise.

    Source
    ------
    ``munson-2009``, section 8.1.2.

    Examples
    --------
    >>> entrance_length_m(500.0, bore_m=0.010)
    0.3
    """
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("re", re, low=0.0)
    laminar_m = 0.06 * re * bore_m
    turbulent_m = 4.4 * power(re, 1.0 / 6.0) * bore_m
    fast = where(re > TURBULENT_ABOVE_RE, turbulent_m, greatest(laminar_m, turbulent_m))
    found: Numbers = where(re < LAMINAR_BELOW_RE, laminar_m, fast)
    return found
