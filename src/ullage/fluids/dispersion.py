"""How far does the front between old and new fluid spread along a line?

Coefficients of axial dispersion for the two regimes in which such a coefficient exists. Laminar
flow in the short lines of a vehicle is neither: see the caveat of `taylor_aris`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.errors import OutOfRange
from ullage.fluids.pipe_flow import LAMINAR_BELOW_RE, TRANSITIONAL_FLOW, Regime, regime_of
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How strongly a front between two fluids spreads along a line.

    ``dispersion_m2_s`` is the coefficient of axial dispersion.
    """

    dispersion_m2_s: float
    caveats: tuple[Caveat, ...]


def taylor_aris(
    *, velocity_m_s: float, bore_m: float, diffusivity_m2_s: float, length_m: float
) -> Spread:
    """Return the axial dispersion of laminar flow whose profile diffusion has evened out.

    Parameters
    ----------
    velocity_m_s : scalar
        Mean velocity, above 0. [m/s]
    bore_m : scalar
        Inner diameter. [m]
    diffusivity_m2_s : scalar
        Molecular diffusivity of one fluid in the other; oils about 1e-10 m2/s (memory). [m2/s]
    length_m : scalar
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
    return Spread(
        dispersion_m2_s=diffusivity_m2_s + ud * ud / (192.0 * diffusivity_m2_s),
        caveats=only_where_true(
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


def radial_diffusion_time_s(*, bore_m: float, diffusivity_m2_s: float) -> float:
    """Return the time in which diffusion evens out a cross-section.

    Parameters
    ----------
    bore_m : scalar
        Inner diameter. [m]
    diffusivity_m2_s : scalar
        Molecular diffusivity. [m2/s]

    Returns
    -------
    time_s : scalar
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


def turbulent_dispersion(*, re: float, velocity_m_s: float, bore_m: float) -> Spread:
    """Return the axial dispersion of turbulent flow in a line.

    Parameters
    ----------
    re : scalar
        Reynolds number, above 2300. [-]
    velocity_m_s : scalar
        Mean velocity, above 0. [m/s]
    bore_m : scalar
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
    regime = regime_of(re)
    if regime is Regime.LAMINAR:
        raise OutOfRange(
            "re", f"{re:.6g}", f"at least {LAMINAR_BELOW_RE:g}", "laminar flow has another law"
        )
    scale_m2_s = velocity_m_s * bore_m
    return Spread(
        dispersion_m2_s=scale_m2_s * (3.0e7 * math.pow(re, -2.1) + 1.35 * math.pow(re, -0.125)),
        caveats=only_where_true((regime is Regime.TRANSITIONAL, TRANSITIONAL_FLOW)),
    )
