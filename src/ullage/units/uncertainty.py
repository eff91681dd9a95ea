"""How sure is a number that was made of others?

Standard uncertainties from what is known of one reading (limits, a scale division, a tolerance),
and how they combine: with correlation, with degrees of freedom, and for the case that matters most
here, the same jug filled many times. Intervals that need Student's t are left to the caller.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.errors import OutOfRange
from ullage.units import bounds
from ullage.units.elementwise import Number_co, bounded, hypot, kept, sqrt, whole

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers


@overload
def rectangular(*, half_width: float) -> float: ...
@overload
def rectangular(*, half_width: Array) -> Array: ...
def rectangular(*, half_width: Numbers) -> Numbers:
    """Return the standard uncertainty of a value that lies anywhere within +- ``half_width``.

    Parameters
    ----------
    half_width : scalar or (...)
        Half of the interval, 0 or more. [any]

    Returns
    -------
    u : scalar or (...)
        Standard uncertainty in the same unit. [any]

    Raises
    ------
    OutOfRange
        If the half width is negative or not finite.

    Validity
    --------
    Every value within the limits is equally likely and none lies outside.

    Source
    ------
    JCGM 100:2008, 4.3.7 (``jcgm-100-2008``).

    Examples
    --------
    >>> rectangular(half_width=1.0)
    0.57735
    """
    return bounded("half_width", half_width, low=0.0) / math.sqrt(3.0)


@overload
def triangular(*, half_width: float) -> float: ...
@overload
def triangular(*, half_width: Array) -> Array: ...
def triangular(*, half_width: Numbers) -> Numbers:
    """Return the standard uncertainty where the middle of +- ``half_width`` is the likeliest.

    Parameters
    ----------
    half_width : scalar or (...)
        Half of the interval, 0 or more. [any]

    Returns
    -------
    u : scalar or (...)
        Standard uncertainty in the same unit. [any]

    Raises
    ------
    OutOfRange
        If the half width is negative or not finite.

    Validity
    --------
    Likelihood falls in a straight line from the middle to nothing at both limits.

    Source
    ------
    JCGM 100:2008, 4.3.9 (``jcgm-100-2008``).

    Examples
    --------
    >>> triangular(half_width=1.0)
    0.40825
    """
    return bounded("half_width", half_width, low=0.0) / math.sqrt(6.0)


@overload
def u_shaped(*, half_width: float) -> float: ...
@overload
def u_shaped(*, half_width: Array) -> Array: ...
def u_shaped(*, half_width: Numbers) -> Numbers:
    """Return the standard uncertainty of a value that swings between two limits like a sine.

    Parameters
    ----------
    half_width : scalar or (...)
        Half of the swing, 0 or more. [any]

    Returns
    -------
    u : scalar or (...)
        Standard uncertainty in the same unit. [any]

    Raises
    ------
    OutOfRange
        If the half width is negative or not finite.

    Validity
    --------
    For a thermostat or another thing that spends most of its time near its limits.

    Source
    ------
    JCGM 100:2008, 4.3.7 and annex H.1.3.4 (``jcgm-100-2008``).

    Examples
    --------
    >>> u_shaped(half_width=1.0)
    0.70711
    """
    return bounded("half_width", half_width, low=0.0) / math.sqrt(2.0)


@overload
def resolution(*, division: float) -> float: ...
@overload
def resolution(*, division: Array) -> Array: ...
def resolution(*, division: Numbers) -> Numbers:
    """Return the standard uncertainty that a scale or display with steps of ``division`` adds.

    Parameters
    ----------
    division : scalar or (...)
        Distance between two marks or two displayed values, 0 or more. [any]

    Returns
    -------
    u : scalar or (...)
        Standard uncertainty in the same unit. [any]

    Raises
    ------
    OutOfRange
        If the division is negative or not finite.

    Validity
    --------
    The reading is rounded to the nearest mark. Parallax and a curved surface come on top.

    Source
    ------
    JCGM 100:2008, F.2.2.1 (``jcgm-100-2008``).

    Examples
    --------
    >>> resolution(division=1.0)
    0.28868
    """
    return bounded("division", division, low=0.0) / math.sqrt(12.0)


@overload
def low_best_high(*, low: float, best: float, high: float) -> float: ...
@overload
def low_best_high(*, low: Numbers, best: Numbers, high: Numbers) -> Array: ...
def low_best_high(*, low: Numbers, best: Numbers, high: Numbers) -> Numbers:
    """Return the standard uncertainty of "surely between low and high, most likely best".

    Parameters
    ----------
    low, best, high : scalar or (...)
        The three values, rising. [any]

    Returns
    -------
    u : scalar or (...)
        Standard uncertainty in the same unit. [any]

    Raises
    ------
    OutOfRange
        If the three do not rise or one is not finite.

    Validity
    --------
    The triangular distribution over the three values.

    Source
    ------
    Variance of the triangular distribution, closed form; for low and high at the same distance it
    is ``triangular`` (JCGM 100:2008, 4.3.9, ``jcgm-100-2008``).

    Examples
    --------
    >>> low_best_high(low=-1.0, best=0.0, high=1.0)
    0.40825
    """
    bounded("low", low)
    bounded("best", best, low=low, advice="low, best and high must rise")
    bounded("high", high, low=best, advice="low, best and high must rise")
    # Written with differences: the expanded form loses digits where the three are close.
    a, b = best - low, high - best
    return sqrt((a * a + a * b + b * b) / 18.0)


def combined(
    *,
    sensitivities: Sequence[float],
    uncertainties: Sequence[float],
    correlations: Mapping[tuple[int, int], float] | None = None,
) -> float:
    """Return the standard uncertainty of a result made of several inputs.

    Parameters
    ----------
    sensitivities : (n,)
        How much the result moves per unit of each input. [any]
    uncertainties : (n,)
        Standard uncertainty of each input, 0 or more. [any]
    correlations : mapping
        Correlation coefficient of pairs of inputs by their places from 0, each from -1 to 1;
        pairs that are not named are independent. [-]

    Returns
    -------
    u : scalar
        Combined standard uncertainty of the result. [any]

    Raises
    ------
    OutOfRange
        If the two lists differ in length, an uncertainty is negative, a pair names an input that
        does not exist, or the correlations cannot all be true together.

    Validity
    --------
    First order: the result is close to a straight line over the spread of every input.

    Source
    ------
    JCGM 100:2008, equation 16 (``jcgm-100-2008``).

    Examples
    --------
    >>> combined(sensitivities=[1.0, 1.0, 1.0], uncertainties=[5.8, 3.9, 6.7])
    9.68
    >>> combined(sensitivities=[1.0, 1.0], uncertainties=[2.0, 2.0], correlations={(0, 1): 1.0})
    4.0
    """
    if len(sensitivities) != len(uncertainties):
        raise OutOfRange(
            "uncertainties",
            f"{len(uncertainties)} values",
            f"as many as sensitivities ({len(sensitivities)})",
        )
    terms = [
        bounds.bounded("sensitivities", c) * bounds.bounded("uncertainties", u, low=0.0)
        for c, u in zip(sensitivities, uncertainties, strict=True)
    ]
    variance = math.fsum(term * term for term in terms)
    for (first, second), r in (correlations or {}).items():
        if first == second or not {first, second} <= set(range(len(terms))):
            raise OutOfRange(
                "correlations", (first, second), f"pairs of two places from 0 to {len(terms) - 1}"
            )
        variance += (
            2.0
            * bounds.bounded("correlations", r, low=-1.0, high=1.0)
            * terms[first]
            * terms[second]
        )
    rounding = 1e-12 * math.fsum(term * term for term in terms)
    if variance < -rounding:
        raise OutOfRange(
            "correlations",
            f"a variance of {variance:.6g}",
            "such that all of them can be true together",
            "check the signs",
        )
    return math.sqrt(max(variance, 0.0))


def effective_freedom(
    *, contributions: Sequence[float], degrees_of_freedom: Sequence[float]
) -> float:
    """Return the effective degrees of freedom of a combined uncertainty (Welch-Satterthwaite).

    Parameters
    ----------
    contributions : (n,)
        Sensitivity times standard uncertainty of each input, in the unit of the result. [any]
    degrees_of_freedom : (n,)
        Degrees of freedom of each, above 0; infinity for limits known for certain. [-]

    Returns
    -------
    degrees : scalar
        Effective degrees of freedom, infinity where every input has infinitely many. [-]

    Raises
    ------
    OutOfRange
        If the lists differ in length, are empty, or hold a value outside the ranges above.

    Validity
    --------
    Independent inputs only; a good guide rather than an exact law.

    Source
    ------
    JCGM 100:2008, G.4.1 equation G.2b (``jcgm-100-2008``).

    Examples
    --------
    >>> effective_freedom(contributions=[3.0, 4.0], degrees_of_freedom=[4.0, float("inf")])
    30.864
    """
    if not contributions or len(contributions) != len(degrees_of_freedom):
        raise OutOfRange(
            "degrees_of_freedom",
            f"{len(degrees_of_freedom)} values",
            f"one for each contribution ({len(contributions)}), at least one",
        )
    squares = [bounds.bounded("contributions", u) ** 2 for u in contributions]
    for degrees in degrees_of_freedom:
        if not degrees > 0.0:  # a NaN fails here too; infinity is a legal answer
            raise OutOfRange("degrees_of_freedom", degrees, "above 0")
    spread = math.fsum(s * s / d for s, d in zip(squares, degrees_of_freedom, strict=True))
    return math.fsum(squares) ** 2 / spread if spread > 0.0 else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class JugUncertainty(Generic[Number_co]):
    """The spread of a volume measured with one jug, and the two parts that it is made of."""

    total_m3: Number_co
    calibration_m3: Number_co
    reading_m3: Number_co


@overload
def same_jug(*, fills: float, tolerance_m3: float, division_m3: float) -> JugUncertainty: ...
@overload
def same_jug(
    *, fills: Numbers, tolerance_m3: Numbers, division_m3: Numbers
) -> JugUncertainty[Array]: ...
def same_jug(
    *, fills: Numbers, tolerance_m3: Numbers, division_m3: Numbers
) -> JugUncertainty[Numbers]:
    """Return the standard uncertainty of a volume made of several fills of one jug.

    Parameters
    ----------
    fills : scalar or (...)
        How often the same jug was filled, a whole number from 1. [-]
    tolerance_m3 : scalar or (...)
        Limit of error of its marks, plus or minus, 0 or more. [m3]
    division_m3 : scalar or (...)
        Volume between two marks, 0 or more. [m3]

    Returns
    -------
    uncertainty : JugUncertainty
        Total and its two parts. [m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    The error of the marks is the same at every fill, so it adds up in a straight line with the
    number of fills; reading errors are new each time and grow with its square root. What stays
    behind on the walls is not in it.

    Source
    ------
    JCGM 100:2008, equation 16 with full correlation, and 4.3.7 (``jcgm-100-2008``).

    Examples
    --------
    >>> round(same_jug(fills=10, tolerance_m3=10e-6, division_m3=10e-6).total_m3 * 1e6, 2)
    58.45
    """
    count = whole("fills", fills, low=1, high=10_000)
    bounded("tolerance_m3", tolerance_m3, low=0.0, unit="m3")
    bounded("division_m3", division_m3, low=0.0, unit="m3")
    calibration_m3 = count * rectangular(half_width=tolerance_m3)
    reading_m3 = sqrt(count) * resolution(division=division_m3)
    total_m3, calibration_m3, reading_m3 = kept(
        hypot(calibration_m3, reading_m3), calibration_m3, reading_m3
    )
    return JugUncertainty(total_m3=total_m3, calibration_m3=calibration_m3, reading_m3=reading_m3)
