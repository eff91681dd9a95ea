"""How much old fluid is left when new fluid goes through a vessel that has a closed answer?

Flow is constant and the level stands still unless a function says otherwise. ``turnovers`` is the
volume that went through over the volume of the vessel. Drains and refills are in ``drain_fill``.
Recipes on whole circuits belong to ``transport``; these forms are what it is checked against, and
what a person does on paper.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.units.elementwise import (
    Number_co,
    bounded,
    exp,
    expm1,
    greatest,
    kept,
    least,
    log,
    magnitude,
    power,
    sqrt,
    where,
    whole,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Washout(Generic[Number_co]):
    """Old fluid at the outlet right now, and old fluid still inside, each from 0 to 1."""

    outlet_vfrac: Number_co
    inside_vfrac: Number_co


@overload
def mixed(*, turnovers: float) -> Washout: ...
@overload
def mixed(*, turnovers: Array) -> Washout[Array]: ...
def mixed(*, turnovers: Numbers) -> Washout[Numbers]:
    """Return the old fluid of a vessel that mixes at once.

    Parameters
    ----------
    turnovers : scalar or (...)
        Volumes of new fluid per volume of the vessel, 0 or more. [-]

    Returns
    -------
    washout : Washout
        Old fluid at the outlet and inside; the two are equal. [m3/m3]

    Raises
    ------
    OutOfRange
        If ``turnovers`` is negative or not finite.

    Validity
    --------
    Mixing much faster than one turnover. Corners that mix late make the figure hopeful.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 11 (``levenspiel-1999``).

    Examples
    --------
    >>> mixed(turnovers=3.0).inside_vfrac
    0.049787
    """
    left = exp(-bounded("turnovers", turnovers, low=0.0))
    return _washout(outlet=left, inside=left)


@overload
def plug(*, turnovers: float) -> Washout: ...
@overload
def plug(*, turnovers: Array) -> Washout[Array]: ...
def plug(*, turnovers: Numbers) -> Washout[Numbers]:
    """Return the old fluid of a line in which new fluid pushes the old out like a piston.

    Parameters
    ----------
    turnovers : scalar or (...)
        Volumes of new fluid per volume of the line, 0 or more. [-]

    Returns
    -------
    washout : Washout
        Old fluid at the outlet (1, then 0) and inside. [m3/m3]

    Raises
    ------
    OutOfRange
        If ``turnovers`` is negative or not finite.

    Validity
    --------
    The best any flushing can do; a turbulent line comes near it, a laminar one does not.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 11 (``levenspiel-1999``).

    Examples
    --------
    >>> plug(turnovers=0.75)
    Washout(outlet_vfrac=1.0, inside_vfrac=0.25)
    """
    bounded("turnovers", turnovers, low=0.0)
    return _washout(outlet=where(turnovers < 1.0, 1.0, 0.0), inside=greatest(1.0 - turnovers, 0.0))


@overload
def laminar(*, turnovers: float) -> Washout: ...
@overload
def laminar(*, turnovers: Array) -> Washout[Array]: ...
def laminar(*, turnovers: Numbers) -> Washout[Numbers]:
    """Return the old fluid of a line with laminar flow and no diffusion.

    Parameters
    ----------
    turnovers : scalar or (...)
        Volumes of new fluid per volume of the line, 0 or more. [-]

    Returns
    -------
    washout : Washout
        Old fluid at the outlet and inside. [m3/m3]

    Raises
    ------
    OutOfRange
        If ``turnovers`` is negative or not finite.

    Validity
    --------
    Parabolic speed profile over the whole length, Reynolds number below 2300, equal viscosities.
    In lines of oil diffusion across the bore takes a day, so leaving it out costs nothing. Each
    bend or fitting that stirs the cross-section makes the true remainder smaller.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 15 (``levenspiel-1999``).

    Examples
    --------
    >>> laminar(turnovers=5.0)
    Washout(outlet_vfrac=0.01, inside_vfrac=0.05)
    """
    bounded("turnovers", turnovers, low=0.0)
    # The first new fluid arrives at half a line volume; until then the outlet gives 1 here too.
    late = greatest(turnovers, 0.5)
    return _washout(
        outlet=0.25 / (late * late), inside=where(turnovers < 0.5, 1.0 - turnovers, 0.25 / late)
    )


@overload
def tanks_in_series(*, turnovers: float, tanks: float) -> Washout: ...
@overload
def tanks_in_series(*, turnovers: Array, tanks: float) -> Washout[Array]: ...
def tanks_in_series(*, turnovers: Numbers, tanks: float) -> Washout[Numbers]:
    """Return the old fluid of a chain of equal mixed tanks.

    Parameters
    ----------
    turnovers : scalar or (...)
        Volumes of new fluid per volume of the whole chain, 0 or more. [-]
    tanks : scalar
        Number of tanks, a whole number from 1 to 1000. [-]

    Returns
    -------
    washout : Washout
        Old fluid at the outlet of the last tank and in all of them. [m3/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    A stand-in for anything between mixed (1) and plug (many). It has no slow tail: where fluid
    hides in dead corners the figure is hopeful.

    Source
    ------
    Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 14 (``levenspiel-1999``); the remainder
    inside is the mean over the tanks of what each passes on.

    Examples
    --------
    >>> tanks_in_series(turnovers=2.0, tanks=3).outlet_vfrac
    0.061969
    """
    bounded("turnovers", turnovers, low=0.0)
    count = int(whole("tanks", tanks, low=1, high=1000))
    # Of nothing there is no logarithm; so little new fluid leaves everything old.
    tank_turnovers = greatest(count * turnovers, 1e-300)
    # Poisson terms from their logarithms: exp(-x) alone would be 0 from 746 tank turnovers on.
    log_x = log(tank_turnovers)
    outlet: Numbers = 0.0
    inside: Numbers = 0.0
    for place in range(count):
        term = exp(place * log_x - tank_turnovers - math.lgamma(place + 1.0))
        outlet = outlet + term
        # The outlet of this tank and of every later one lets the term through.
        inside = inside + term * (count - place)
    return _washout(outlet=least(outlet, 1.0), inside=least(inside / count, 1.0))


@overload
def dead_space(
    *, turnovers: float, active_share: float, mixed_feed_share: float = 1.0
) -> Washout: ...
@overload
def dead_space(
    *, turnovers: Numbers, active_share: Numbers, mixed_feed_share: Numbers = 1.0
) -> Washout[Array]: ...
def dead_space(
    *, turnovers: Numbers, active_share: Numbers, mixed_feed_share: Numbers = 1.0
) -> Washout[Numbers]:
    """Return the old fluid of a mixed vessel with a dead corner and a short cut.

    Parameters
    ----------
    turnovers : scalar or (...)
        Volumes of new fluid per volume of the whole vessel, 0 or more. [-]
    active_share : scalar or (...)
        Part of the volume that mixes, above 0 up to 1; the rest keeps its old fluid. [m3/m3]
    mixed_feed_share : scalar or (...)
        Part of the new fluid that takes part in mixing, 0 to 1; the rest runs straight to the
        outlet. [m3/m3]

    Returns
    -------
    washout : Washout
        Old fluid at the outlet, short cut included, and inside, dead corner included. [m3/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    The dead corner never mixes; a real one does so slowly, so over hours the figure is gloomy.

    Source
    ------
    Cholette and Cloutier 1959 (``cholette-1959``).

    Examples
    --------
    >>> dead_space(turnovers=2.0, active_share=0.8).inside_vfrac
    0.265668
    """
    bounded("turnovers", turnovers, low=0.0)
    bounded("active_share", active_share, above=0.0, high=1.0)
    bounded("mixed_feed_share", mixed_feed_share, low=0.0, high=1.0)
    left = exp(-mixed_feed_share * turnovers / active_share)
    return _washout(
        outlet=mixed_feed_share * left, inside=active_share * left + (1.0 - active_share)
    )


@overload
def two_tanks(*, first_m3: float, second_m3: float, through_m3: float) -> Washout: ...
@overload
def two_tanks(*, first_m3: Numbers, second_m3: Numbers, through_m3: Numbers) -> Washout[Array]: ...
def two_tanks(*, first_m3: Numbers, second_m3: Numbers, through_m3: Numbers) -> Washout[Numbers]:
    """Return the old fluid of two mixed tanks of different size, one after the other.

    Parameters
    ----------
    first_m3, second_m3 : scalar or (...)
        Volume of each tank, above 0. [m3]
    through_m3 : scalar or (...)
        New fluid that went through, 0 or more. [m3]

    Returns
    -------
    washout : Washout
        Old fluid at the outlet of the second tank and in both together. [m3/m3]

    Raises
    ------
    OutOfRange
        If a volume is outside the ranges above.

    Validity
    --------
    Both tanks mix at once; the line between them holds nothing.

    Source
    ------
    Closed form of two mass balances; checked against an integrator in
    ``tests/outside/scipy_washout``.

    Examples
    --------
    >>> two_tanks(first_m3=0.002, second_m3=0.001, through_m3=0.003).outlet_vfrac
    0.396473
    """
    bounded("first_m3", first_m3, above=0.0, unit="m3")
    bounded("second_m3", second_m3, above=0.0, unit="m3")
    bounded("through_m3", through_m3, low=0.0, unit="m3")
    first = exp(-through_m3 / first_m3)
    alone = exp(-through_m3 / second_m3)
    contrast = through_m3 * (first_m3 - second_m3) / (first_m3 * second_m3)
    # The textbook quotient is 0/0 for tanks of one size; close to that this says the same without.
    is_close = magnitude(contrast) < 1.0
    is_equal = contrast == 0.0
    small = where(is_close & (contrast != 0.0), contrast, 1.0)
    growth = where(is_equal, 1.0, expm1(small) / small)
    apart_m3 = where(is_close, 1.0, first_m3 - second_m3)
    second = where(
        is_close,
        first + alone * (through_m3 / first_m3) * growth,
        (first_m3 * first - second_m3 * alone) / apart_m3,
    )
    second = least(second, 1.0)
    inside = (first_m3 * first + second_m3 * second) / (first_m3 + second_m3)
    return _washout(outlet=second, inside=least(inside, 1.0))


@overload
def mixed_turnovers(*, target_vfrac: float) -> float: ...
@overload
def mixed_turnovers(*, target_vfrac: Array) -> Array: ...
def mixed_turnovers(*, target_vfrac: Numbers) -> Numbers:
    """Return the turnovers after which a mixed vessel holds no more old fluid than a target.

    Parameters
    ----------
    target_vfrac : scalar or (...)
        Old fluid that may stay, above 0 to 1. [m3/m3]

    Returns
    -------
    turnovers : scalar or (...)
        Volumes of new fluid per volume of the vessel. [-]

    Raises
    ------
    OutOfRange
        If the target is outside the range above.

    Validity
    --------
    As for ``mixed``.

    Source
    ------
    Inverse of ``mixed``.

    Examples
    --------
    >>> mixed_turnovers(target_vfrac=0.02)
    3.912
    """
    return -log(bounded("target_vfrac", target_vfrac, above=0.0, high=1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class LaminarTurnovers(Generic[Number_co]):
    """Line volumes until the outlet, and until the line itself, is down to a target."""

    outlet: Number_co
    inside: Number_co


@overload
def laminar_turnovers(*, target_vfrac: float) -> LaminarTurnovers: ...
@overload
def laminar_turnovers(*, target_vfrac: Array) -> LaminarTurnovers[Array]: ...
def laminar_turnovers(*, target_vfrac: Numbers) -> LaminarTurnovers[Numbers]:
    """Return the line volumes that a laminar line needs for a target, at its outlet and inside.

    Parameters
    ----------
    target_vfrac : scalar or (...)
        Old fluid that may stay, above 0 to 1. [m3/m3]

    Returns
    -------
    turnovers : LaminarTurnovers
        Volumes of new fluid per volume of the line, for either meaning of the target. [-]

    Raises
    ------
    OutOfRange
        If the target is outside the range above.

    Validity
    --------
    As for ``laminar``. The outlet clears long before the line does.

    Source
    ------
    Inverse of ``laminar``.

    Examples
    --------
    >>> laminar_turnovers(target_vfrac=0.01)
    LaminarTurnovers(outlet=5.0, inside=25.0)
    """
    bounded("target_vfrac", target_vfrac, above=0.0, high=1.0)
    inside = where(target_vfrac <= 0.5, 0.25 / target_vfrac, 1.0 - target_vfrac)
    outlet, inside = kept(0.5 / sqrt(target_vfrac), inside)
    return LaminarTurnovers(outlet=outlet, inside=inside)


@overload
def shuttle_chamber(
    *, swept_m3: float, unswept_m3: float, line_m3: float, strokes: float
) -> float: ...
@overload
def shuttle_chamber(
    *, swept_m3: Numbers, unswept_m3: Numbers, line_m3: Numbers, strokes: Numbers
) -> Array: ...
def shuttle_chamber(
    *, swept_m3: Numbers, unswept_m3: Numbers, line_m3: Numbers, strokes: Numbers
) -> Numbers:
    """Return the old fluid in a dead-end chamber after full strokes behind a plug line.

    Parameters
    ----------
    swept_m3 : scalar or (...)
        Volume that one stroke moves, above 0. [m3]
    unswept_m3 : scalar or (...)
        Volume left in the retracted chamber, 0 or more. [m3]
    line_m3 : scalar or (...)
        Volume of the line between the chamber and the new fluid, 0 or more. [m3]
    strokes : scalar or (...)
        Full strokes out and back, a whole number from 0. [-]

    Returns
    -------
    vfrac : scalar or (...)
        Old fluid over all fluid in the extended chamber. [m3/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    New fluid always stands at the far end of the line, the line moves as a plug, the chamber
    mixes. A laminar line lets some new fluid through along its axis, so the chamber of a laminar
    leg is a little fresher than this.

    Source
    ------
    Closed form (derived): each stroke brings in the stroke less the line of new fluid.

    Examples
    --------
    >>> shuttle_chamber(swept_m3=3e-4, unswept_m3=1e-4, line_m3=1e-4, strokes=2)
    0.25
    >>> shuttle_chamber(swept_m3=1e-4, unswept_m3=1e-4, line_m3=2e-4, strokes=50)
    1.0
    """
    bounded("swept_m3", swept_m3, above=0.0, unit="m3")
    bounded("unswept_m3", unswept_m3, low=0.0, unit="m3")
    bounded("line_m3", line_m3, low=0.0, unit="m3")
    count = whole("strokes", strokes)
    # A line that holds a whole stroke keeps all new fluid out of the chamber, however often.
    left = least((unswept_m3 + line_m3) / (unswept_m3 + swept_m3), 1.0)
    return power(left, count)


def _washout(*, outlet: Numbers, inside: Numbers) -> Washout[Numbers]:
    """Return both shares, as numbers or as arrays of one shape."""
    outlet, inside = kept(outlet, inside)
    return Washout(outlet_vfrac=outlet, inside_vfrac=inside)
