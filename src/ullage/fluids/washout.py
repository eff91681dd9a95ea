"""How much old fluid is left when new fluid goes through a vessel that has a closed answer?

Flow is constant and the level stands still unless a function says otherwise. ``turnovers`` is the
volume that went through over the volume of the vessel. Drains and refills are in ``drain_fill``.
Recipes on whole circuits belong to ``transport``; these forms are what it is checked against, and
what a person does on paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.units.bounds import bounded, whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Washout:
    """Old fluid at the outlet right now, and old fluid still inside, each from 0 to 1."""

    outlet_vfrac: float
    inside_vfrac: float


def mixed(*, turnovers: float) -> Washout:
    """Return the old fluid of a vessel that mixes at once.

    Parameters
    ----------
    turnovers : scalar
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
    left = math.exp(-bounded("turnovers", turnovers, low=0.0))
    return Washout(outlet_vfrac=left, inside_vfrac=left)


def plug(*, turnovers: float) -> Washout:
    """Return the old fluid of a line in which new fluid pushes the old out like a piston.

    Parameters
    ----------
    turnovers : scalar
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
    return Washout(
        outlet_vfrac=1.0 if turnovers < 1.0 else 0.0, inside_vfrac=max(1.0 - turnovers, 0.0)
    )


def laminar(*, turnovers: float) -> Washout:
    """Return the old fluid of a line with laminar flow and no diffusion.

    Parameters
    ----------
    turnovers : scalar
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
    if turnovers < 0.5:
        return Washout(outlet_vfrac=1.0, inside_vfrac=1.0 - turnovers)
    return Washout(outlet_vfrac=0.25 / (turnovers * turnovers), inside_vfrac=0.25 / turnovers)


def tanks_in_series(*, turnovers: float, tanks: float) -> Washout:
    """Return the old fluid of a chain of equal mixed tanks.

    Parameters
    ----------
    turnovers : scalar
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
    count = whole("tanks", tanks, low=1, high=1000)
    tank_turnovers = count * turnovers
    if tank_turnovers == 0.0:
        return Washout(outlet_vfrac=1.0, inside_vfrac=1.0)
    # Poisson terms from their logarithms: exp(-x) alone would be 0 from 746 tank turnovers on.
    log_x = math.log(tank_turnovers)
    terms = [math.exp(i * log_x - tank_turnovers - math.lgamma(i + 1.0)) for i in range(count)]
    outlets: list[float] = []
    passed = 0.0
    for term in terms:
        passed += term
        outlets.append(min(passed, 1.0))
    return Washout(outlet_vfrac=outlets[-1], inside_vfrac=math.fsum(outlets) / count)


def dead_space(*, turnovers: float, active_share: float, mixed_feed_share: float = 1.0) -> Washout:
    """Return the old fluid of a mixed vessel with a dead corner and a short cut.

    Parameters
    ----------
    turnovers : scalar
        Volumes of new fluid per volume of the whole vessel, 0 or more. [-]
    active_share : scalar
        Part of the volume that mixes, above 0 up to 1; the rest keeps its old fluid. [m3/m3]
    mixed_feed_share : scalar
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
    kept = math.exp(-mixed_feed_share * turnovers / active_share)
    return Washout(
        outlet_vfrac=mixed_feed_share * kept,
        inside_vfrac=active_share * kept + (1.0 - active_share),
    )


def two_tanks(*, first_m3: float, second_m3: float, through_m3: float) -> Washout:
    """Return the old fluid of two mixed tanks of different size, one after the other.

    Parameters
    ----------
    first_m3, second_m3 : scalar
        Volume of each tank, above 0. [m3]
    through_m3 : scalar
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
    first = math.exp(-through_m3 / first_m3)
    alone = math.exp(-through_m3 / second_m3)
    contrast = through_m3 * (first_m3 - second_m3) / (first_m3 * second_m3)
    if abs(contrast) < 1.0:
        # The textbook quotient is 0/0 for tanks of one size; this is the same thing without it.
        growth = math.expm1(contrast) / contrast if contrast != 0.0 else 1.0
        second = first + alone * (through_m3 / first_m3) * growth
    else:
        second = (first_m3 * first - second_m3 * alone) / (first_m3 - second_m3)
    second = min(second, 1.0)
    inside = (first_m3 * first + second_m3 * second) / (first_m3 + second_m3)
    return Washout(outlet_vfrac=second, inside_vfrac=min(inside, 1.0))


def mixed_turnovers(*, target_vfrac: float) -> float:
    """Return the turnovers after which a mixed vessel holds no more old fluid than a target.

    Parameters
    ----------
    target_vfrac : scalar
        Old fluid that may stay, above 0 to 1. [m3/m3]

    Returns
    -------
    turnovers : scalar
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
    return -math.log(bounded("target_vfrac", target_vfrac, above=0.0, high=1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class LaminarTurnovers:
    """Line volumes until the outlet, and until the line itself, is down to a target."""

    outlet: float
    inside: float


def laminar_turnovers(*, target_vfrac: float) -> LaminarTurnovers:
    """Return the line volumes that a laminar line needs for a target, at its outlet and inside.

    Parameters
    ----------
    target_vfrac : scalar
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
    inside = 0.25 / target_vfrac if target_vfrac <= 0.5 else 1.0 - target_vfrac
    return LaminarTurnovers(outlet=0.5 / math.sqrt(target_vfrac), inside=inside)


def shuttle_chamber(*, swept_m3: float, unswept_m3: float, line_m3: float, strokes: float) -> float:
    """Return the old fluid in a dead-end chamber after full strokes behind a plug line.

    Parameters
    ----------
    swept_m3 : scalar
        Volume that one stroke moves, above 0. [m3]
    unswept_m3 : scalar
        Volume left in the retracted chamber, 0 or more. [m3]
    line_m3 : scalar
        Volume of the line between the chamber and the new fluid, 0 or more. [m3]
    strokes : scalar
        Full strokes out and back, a whole number from 0. [-]

    Returns
    -------
    vfrac : scalar
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
    if line_m3 >= swept_m3:
        return 1.0
    kept: float = (unswept_m3 + line_m3) / (unswept_m3 + swept_m3)
    return math.pow(kept, count)
