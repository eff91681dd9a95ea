"""How long does fluid stay in a vessel, read from a tracer curve?

Mean and spread of a measured curve, and the two one-number models that people fit to it: tanks in
series and the dispersion number of a closed vessel. Coefficients of dispersion from flow are in
``dispersion``; what old fluid does with such a vessel is in ``washout``.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, overload

from ullage.errors import OutOfRange
from ullage.units.caveat import Caveat
from ullage.units.elementwise import bounded, caveats_where, each, expm1, sqrt, where

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

_TAIL_SHARE = 0.02  # of the peak; above it the record was stopped too early (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidenceTime:
    """Moments of a tracer curve: area in its own unit times s, mean and variance, caveats."""

    area: float
    mean_s: float
    variance_s2: float
    caveats: tuple[Caveat, ...]

    @property
    def relative_variance(self) -> float:
        """Variance over the square of the mean: 0 for a plug, 1 for one mixed tank."""
        return self.variance_s2 / self.mean_s**2

    @property
    def tanks(self) -> float:
        """Number of equal mixed tanks with the same spread, not rounded."""
        return 1.0 / self.relative_variance


def residence_time(
    *, times_s: Sequence[float] | Array, concentrations: Sequence[float] | Array
) -> ResidenceTime:
    """Return mean and variance of the residence time from a pulse of tracer.

    Parameters
    ----------
    times_s : (n,)
        Rising times since the pulse, the first 0 or more, at least three. [s]
    concentrations : (n,)
        Tracer at the outlet at these times, background taken off, 0 or more, in any unit. [any]

    Returns
    -------
    found : ResidenceTime
        Area under the curve, mean, variance. [s]

    Raises
    ------
    OutOfRange
        If the lists differ in length, times do not rise, a value is negative, or the
        curve is flat or a single point.

    Validity
    --------
    A short pulse and no tracer that comes round again. Straight lines between the points: few
    points or a tail cut off make both mean and variance too small.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 11 (``levenspiel-1999``); trapezoidal
    rule.

    Examples
    --------
    >>> curve = residence_time(times_s=[0, 5, 10, 15, 20, 25, 30, 35],
    ...                        concentrations=[0, 3, 5, 5, 4, 2, 1, 0])
    >>> curve.mean_s, curve.variance_s2
    (15.0, 47.5)
    """
    if len(times_s) != len(concentrations) or len(times_s) < 3:
        raise OutOfRange(
            "concentrations",
            f"{len(concentrations)} values for {len(times_s)} times",
            "one for each time, at least three",
        )
    # One curve is one list; of arrays the elements are taken as plain numbers.
    times_s = [float(time_s) for time_s in times_s]
    concentrations = [float(concentration) for concentration in concentrations]
    for time_s in times_s:
        bounded("times_s", time_s, low=0.0, unit="s")
    for earlier, later in pairwise(times_s):
        bounded("times_s", later, above=earlier, unit="s", advice="times must rise")
    for concentration in concentrations:
        bounded("concentrations", concentration, low=0.0, advice="take the background off first")
    area = _integral(times_s, concentrations)
    if area <= 0.0:
        raise OutOfRange("concentrations", "0 everywhere", "above 0 somewhere")
    weights = [c / area for c in concentrations]
    mean_s = _integral(times_s, [t * w for t, w in zip(times_s, weights, strict=True)])
    # About the mean, not as a difference of squares, which would lose digits for late narrow peaks.
    variance_s2 = _integral(
        times_s, [(t - mean_s) ** 2 * w for t, w in zip(times_s, weights, strict=True)]
    )
    if variance_s2 <= 0.0 or mean_s <= 0.0:
        raise OutOfRange(
            "concentrations",
            "a peak of a single point",
            "above 0 at several times",
            "sample faster: a spread can't be read off one point",
        )
    return ResidenceTime(
        area=area,
        mean_s=mean_s,
        variance_s2=variance_s2,
        caveats=caveats_where(
            (
                concentrations[-1] > _TAIL_SHARE * max(concentrations),
                Caveat(
                    code="tail-cut-off",
                    text="The record stops before the tracer is gone: mean and spread are too "
                    "small.",
                ),
            ),
        ),
    )


@overload
def closed_vessel_variance(*, dispersion_number: float) -> float: ...
@overload
def closed_vessel_variance(*, dispersion_number: Array) -> Array: ...
def closed_vessel_variance(*, dispersion_number: Numbers) -> Numbers:
    """Return the relative variance of a closed vessel with axial dispersion.

    Parameters
    ----------
    dispersion_number : scalar or (...)
        Dispersion coefficient over speed and length, above 0. [-]

    Returns
    -------
    variance : scalar or (...)
        Variance over the square of the mean, 0 to 1. [-]

    Raises
    ------
    OutOfRange
        If the number is not above 0.

    Validity
    --------
    Plug flow into and out of the vessel: nothing wanders back through the ends.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 13 (``levenspiel-1999``).

    Examples
    --------
    >>> closed_vessel_variance(dispersion_number=0.12)
    0.2112
    """
    m = bounded("dispersion_number", dispersion_number, above=0.0)
    # The closed form subtracts two huge numbers there; its series is 1 - 1/(3 m) + 1/(12 m2).
    series = 1.0 - 1.0 / (3.0 * m) * (1.0 - 0.25 / m)
    closed = 2.0 * m + 2.0 * m * m * expm1(-1.0 / m)
    found: Numbers = where(m > 1e4, series, closed)
    return found


@overload
def dispersion_number(*, relative_variance: float) -> float: ...
@overload
def dispersion_number(*, relative_variance: Array) -> Array: ...
def dispersion_number(*, relative_variance: Numbers) -> Numbers:
    """Return the dispersion number of a closed vessel from the spread of its tracer curve.

    Parameters
    ----------
    relative_variance : scalar or (...)
        Variance over the square of the mean, above 0 and below 0.999. [-]

    Returns
    -------
    number : scalar or (...)
        Dispersion coefficient over speed and length. [-]

    Raises
    ------
    OutOfRange
        If the variance is outside the range above: no closed vessel spreads wider than a mixed
        tank, so there is a dead corner, a second way through, or tracer that came round again.

    Validity
    --------
    As for ``closed_vessel_variance``.

    Source
    ------
    Root of ``closed_vessel_variance``, by Brent's method.

    Examples
    --------
    >>> dispersion_number(relative_variance=0.2111)
    0.12
    """
    bounded(
        "relative_variance",
        relative_variance,
        above=0.0,
        below=0.999,
        advice="wider than a mixed tank: look for a dead corner, a second way, or a second pass",
    )
    return each(_dispersion_number, relative_variance=relative_variance)


def _dispersion_number(relative_variance: float) -> float:
    """Find the root of ``closed_vessel_variance`` for one variance."""
    from scipy.optimize import brentq  # scipy is slow to load: only for who asks

    # The variance lies below 2 m and above 1 - 1/(3 m), so these two enclose the root.
    low = 0.5 * relative_variance
    high = max(1.0, 1.0 / (1.0 - relative_variance))
    return float(
        brentq(lambda m: closed_vessel_variance(dispersion_number=m) - relative_variance, low, high)
    )


@overload
def mixing_zone_m(*, zone_m: float, at_m: float, to_m: float) -> float: ...
@overload
def mixing_zone_m(*, zone_m: Numbers, at_m: Numbers, to_m: Numbers) -> Array: ...
def mixing_zone_m(*, zone_m: Numbers, at_m: Numbers, to_m: Numbers) -> Numbers:
    """Return how long the mixed zone between two fluids is further along a line.

    Parameters
    ----------
    zone_m : scalar or (...)
        Length of the zone where it was seen, 0 or more. [m]
    at_m, to_m : scalar or (...)
        Distance run where it was seen and where it is wanted, above 0. [m]

    Returns
    -------
    length_m : scalar or (...)
        Length of the zone at ``to_m``; it grows with the square root of the distance. [m]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Turbulent flow in one line without fittings. In a laminar line the zone grows with the distance
    itself.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., example 14.1 (``levenspiel-1999``).

    Examples
    --------
    >>> mixing_zone_m(zone_m=8.0, at_m=32.0, to_m=50.0)
    10.0
    """
    bounded("zone_m", zone_m, low=0.0, unit="m")
    bounded("at_m", at_m, above=0.0, unit="m")
    bounded("to_m", to_m, above=0.0, unit="m")
    return zone_m * sqrt(to_m / at_m)


def _integral(xs: Sequence[float], ys: Sequence[float]) -> float:
    """Integrate by the trapezoidal rule."""
    return math.fsum(
        (right - left) * (lower + upper) / 2.0
        for (left, right), (lower, upper) in zip(pairwise(xs), pairwise(ys), strict=True)
    )
