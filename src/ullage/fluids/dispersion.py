"""How far does the front between old and new fluid spread along a line?

Coefficients of axial dispersion for the two regimes in which such a coefficient exists. Laminar
flow in the short lines of a vehicle is neither: see the caveat of `taylor_aris`.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.fluids.pipe_flow import LAMINAR_BELOW_RE, TRANSITIONAL_FLOW, TURBULENT_ABOVE_RE
from ullage.units.caveat import Caveat
from ullage.units.elementwise import Number_co, bounded, caveats_where, kept, power

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread(Generic[Number_co]):
    """How strongly a front between two fluids spreads along a line.

    ``dispersion_m2_s`` is the coefficient of axial dispersion.
    """

    dispersion_m2_s: Number_co
    caveats: tuple[Caveat, ...]


@overload
def taylor_aris(
    *, velocity_m_s: float, bore_m: float, diffusivity_m2_s: float, length_m: float
) -> Spread: ...
@overload
def taylor_aris(
    *, velocity_m_s: Numbers, bore_m: Numbers, diffusivity_m2_s: Numbers, length_m: Numbers
) -> Spread[Array]: ...
def taylor_aris(
    *, velocity_m_s: Numbers, bore_m: Numbers, diffusivity_m2_s: Numbers, length_m: Numbers
) -> Spread[Numbers]:
    """Return the axial dispersion of laminar flow whose profile diffusion has evened out.

    Parameters
    ----------
    velocity_m_s : scalar or (...)
        Mean velocity, above 0. [m/s]
    bore_m : scalar or (...)
        Inner diameter. [m]
    diffusivity_m2_s : scalar or (...)
        Molecular diffusivity of one fluid in the other; oils about 1e-10 m2/s (memory). [m2/s]
    length_m : scalar or (...)
        Length of the line; decides whether the law applies at all. [m]

    Returns
    -------
    result : Spread
        D + u2 d2 / (192 D), with a caveat where transit is too short for it.

    Raises
    ------
    OutOfRange
        If a value is not positive.

    Validity
    --------
    Only where transit takes much longer than radius squared over diffusivity; in vehicle lines it
    never does (44 h in an 8 mm bore) and pure convection is the right picture.

    Source
    ------
    ``taylor-1953``; ``aris-1956``.

    Examples
    --------
    >>> found = taylor_aris(
    ...     velocity_m_s=0.5, bore_m=0.008, diffusivity_m2_s=1e-10, length_m=5.0
    ... )
    >>> round(found.dispersion_m2_s, 2), found.caveats[0].code
    (833.33, 'no-taylor-regime')
    """
    bounded("velocity_m_s", velocity_m_s, above=0.0, unit="m/s")
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("diffusivity_m2_s", diffusivity_m2_s, above=0.0, unit="m2/s")
    bounded("length_m", length_m, above=0.0, unit="m")
    transit_s = length_m / velocity_m_s
    evening_s = radial_diffusion_time_s(bore_m=bore_m, diffusivity_m2_s=diffusivity_m2_s)
    ud = velocity_m_s * bore_m
    # Transit shapes the caveat alone, but a length of many gives as many answers.
    dispersion_m2_s, transit_s = kept(
        diffusivity_m2_s + ud * ud / (192.0 * diffusivity_m2_s), transit_s
    )
    return Spread(
        dispersion_m2_s=dispersion_m2_s,
        caveats=caveats_where(
            (
                transit_s < evening_s,
                Caveat(
                    code="no-taylor-regime",
                    text="The fluid leaves the line before diffusion evens out its profile: use "
                    "pure laminar convection instead of this coefficient.",
                ),
            ),
        ),
    )


@overload
def radial_diffusion_time_s(*, bore_m: float, diffusivity_m2_s: float) -> float: ...
@overload
def radial_diffusion_time_s(*, bore_m: Numbers, diffusivity_m2_s: Numbers) -> Array: ...
def radial_diffusion_time_s(*, bore_m: Numbers, diffusivity_m2_s: Numbers) -> Numbers:
    """Return the time in which diffusion evens out a cross-section.

    Parameters
    ----------
    bore_m : scalar or (...)
        Inner diameter. [m]
    diffusivity_m2_s : scalar or (...)
        Molecular diffusivity. [m2/s]

    Returns
    -------
    time_s : scalar or (...)
        Radius squared over diffusivity. [s]

    Raises
    ------
    OutOfRange
        If a value is not positive.

    Validity
    --------
    A time scale: right within a factor of a few.

    Source
    ------
    ``taylor-1953``.

    Examples
    --------
    >>> round(radial_diffusion_time_s(bore_m=0.008, diffusivity_m2_s=1e-10) / 3600)
    44
    """
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("diffusivity_m2_s", diffusivity_m2_s, above=0.0, unit="m2/s")
    return 0.25 * bore_m * bore_m / diffusivity_m2_s


@overload
def turbulent_dispersion(*, re: float, velocity_m_s: float, bore_m: float) -> Spread: ...
@overload
def turbulent_dispersion(
    *, re: Numbers, velocity_m_s: Numbers, bore_m: Numbers
) -> Spread[Array]: ...
def turbulent_dispersion(*, re: Numbers, velocity_m_s: Numbers, bore_m: Numbers) -> Spread[Numbers]:
    """Return the axial dispersion of turbulent flow in a line.

    Parameters
    ----------
    re : scalar or (...)
        Reynolds number, above 2300. [-]
    velocity_m_s : scalar or (...)
        Mean velocity, above 0. [m/s]
    bore_m : scalar or (...)
        Inner diameter. [m]

    Returns
    -------
    result : Spread
        u d (3.0e7 Re^-2.1 + 1.35 Re^-0.125), with a caveat in the transitional range.

    Raises
    ------
    OutOfRange
        If the flow is laminar or a value is not positive.

    Validity
    --------
    A line through scattered measurements: right within a factor of two.

    Source
    ------
    ``levenspiel-1999``, figure 13.15.

    Examples
    --------
    >>> found = turbulent_dispersion(re=10_000.0, velocity_m_s=2.0, bore_m=0.010)
    >>> round(found.dispersion_m2_s, 6)
    0.010927
    """
    bounded("velocity_m_s", velocity_m_s, above=0.0, unit="m/s")
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("re", re, low=LAMINAR_BELOW_RE, advice="laminar flow has another law")
    scale_m2_s = velocity_m_s * bore_m
    (dispersion_m2_s,) = kept(scale_m2_s * (3.0e7 * power(re, -2.1) + 1.35 * power(re, -0.125)))
    return Spread(
        dispersion_m2_s=dispersion_m2_s,
        caveats=caveats_where((re <= TURBULENT_ABOVE_RE, TRANSITIONAL_FLOW)),
    )
