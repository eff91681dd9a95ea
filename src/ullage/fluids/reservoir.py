"""What happens in a reservoir whose level moves, and how much volume hides behind it?

Dilution at changing volume, time to a level, volume by tracer, the dilution check, and the balance
of what went in and came out. How the level shows in millimetres is ``circuit``'s business.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, overload

from ullage.errors import Contradiction
from ullage.units.caveat import Caveat
from ullage.units.elementwise import bounded, exp, log1p, refuse_where, where

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

# One-sided 95 % point of the normal distribution: below it a rise may well be reading error.
_ONE_SIDED_95 = 1.645


@overload
def varying_volume(*, start_m3: float, in_m3_s: float, out_m3_s: float, time_s: float) -> float: ...
@overload
def varying_volume(
    *, start_m3: Numbers, in_m3_s: Numbers, out_m3_s: Numbers, time_s: Numbers
) -> Array: ...
def varying_volume(
    *, start_m3: Numbers, in_m3_s: Numbers, out_m3_s: Numbers, time_s: Numbers
) -> Numbers:
    """Return the old fluid in a mixed reservoir that is filled and emptied at different rates.

    Parameters
    ----------
    start_m3 : scalar or (...)
        Volume at the start, all of it old, above 0. [m3]
    in_m3_s, out_m3_s : scalar or (...)
        New fluid poured in and mixture drawn out, each 0 or more. [m3/s]
    time_s : scalar or (...)
        How long, 0 or more. [s]

    Returns
    -------
    vfrac : scalar or (...)
        Old fluid over all fluid in the reservoir, and at its outlet. [m3/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above or the reservoir runs empty before ``time_s``.

    Validity
    --------
    The reservoir mixes at once; nothing comes back to it from the circuit.

    Source
    ------
    Closed form of the mass balance (derived); checked against an integrator in
    ``tests/outside/scipy_washout``.

    Examples
    --------
    >>> varying_volume(start_m3=0.002, in_m3_s=1e-4, out_m3_s=5e-5, time_s=40.0)
    0.25
    """
    bounded("start_m3", start_m3, above=0.0, unit="m3")
    bounded("in_m3_s", in_m3_s, low=0.0, unit="m3/s")
    bounded("out_m3_s", out_m3_s, low=0.0, unit="m3/s")
    bounded("time_s", time_s, low=0.0, unit="s")
    growth = (in_m3_s - out_m3_s) * time_s / start_m3
    refuse_where(
        growth <= -1.0,
        "time_s",
        time_s,
        lambda start, gain: f"below {-start / gain:.6g} s",
        "the reservoir is empty then",
        unit="s",
        told_by=(start_m3, in_m3_s - out_m3_s),
    )
    # log1p(g)/g is 1 at a standing level, where the power law of the textbook is undefined.
    is_standing = growth == 0.0
    slope = where(is_standing, 1.0, log1p(growth) / where(is_standing, 1.0, growth))
    return exp(-in_m3_s * time_s / start_m3 * slope)


@overload
def level_time(*, start_m3: float, keep_m3: float, in_m3_s: float, out_m3_s: float) -> float: ...
@overload
def level_time(
    *, start_m3: Numbers, keep_m3: Numbers, in_m3_s: Numbers, out_m3_s: Numbers
) -> Array: ...
def level_time(
    *, start_m3: Numbers, keep_m3: Numbers, in_m3_s: Numbers, out_m3_s: Numbers
) -> Numbers:
    """Return how long until a falling level reaches the volume that has to stay.

    Parameters
    ----------
    start_m3 : scalar or (...)
        Volume at the start, at least ``keep_m3``. [m3]
    keep_m3 : scalar or (...)
        Volume that has to stay, 0 or more. [m3]
    in_m3_s, out_m3_s : scalar or (...)
        Poured in and drawn out, each 0 or more; more out than in. [m3/s]

    Returns
    -------
    time_s : scalar or (...)
        Time until the volume is ``keep_m3``. [s]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above, or the level does not fall.

    Validity
    --------
    Constant rates. The flare of an engine start and a late hand come on top.

    Source
    ------
    Mass balance (derived).

    Examples
    --------
    >>> level_time(start_m3=0.002, keep_m3=0.001, in_m3_s=0.0, out_m3_s=1e-4)
    10.0
    """
    bounded("keep_m3", keep_m3, low=0.0, unit="m3")
    bounded("start_m3", start_m3, low=keep_m3, unit="m3")
    bounded("in_m3_s", in_m3_s, low=0.0, unit="m3/s")
    bounded(
        "out_m3_s",
        out_m3_s,
        above=in_m3_s,
        unit="m3/s",
        advice="the level does not fall, so it never gets there",
    )
    return (start_m3 - keep_m3) / (out_m3_s - in_m3_s)


@overload
def tracer_volume(*, tracer_kg: float, before_kg_m3: float, after_kg_m3: float) -> float: ...
@overload
def tracer_volume(*, tracer_kg: Numbers, before_kg_m3: Numbers, after_kg_m3: Numbers) -> Array: ...
def tracer_volume(*, tracer_kg: Numbers, before_kg_m3: Numbers, after_kg_m3: Numbers) -> Numbers:
    """Return an unknown volume from the rise that a known amount of tracer makes in it.

    Parameters
    ----------
    tracer_kg : scalar or (...)
        Tracer put in, above 0. [kg]
    before_kg_m3, after_kg_m3 : scalar or (...)
        Concentration before and after mixing; after is the larger. [kg/m3]

    Returns
    -------
    volume_m3 : scalar or (...)
        Volume that the tracer has mixed with. [m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Finds what mixes, so it is a lower bound of what is there. The volume of the tracer itself
    counts as part of the answer.

    Source
    ------
    Mass balance; Felder and Rousseau, ch. 2 (``felder-2005``).

    Examples
    --------
    >>> tracer_volume(tracer_kg=3e-9, before_kg_m3=0.0, after_kg_m3=6e-7)
    0.005
    """
    bounded("tracer_kg", tracer_kg, above=0.0, unit="kg")
    bounded("before_kg_m3", before_kg_m3, low=0.0, unit="kg/m3")
    bounded("after_kg_m3", after_kg_m3, above=before_kg_m3, unit="kg/m3")
    return tracer_kg / (after_kg_m3 - before_kg_m3)


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenVolume:
    """What a dilution check tells: old fluid that came out of hiding.

    ``limit_m3`` is the smallest volume that the two readings can tell from nothing.
    """

    hidden_m3: float
    u_m3: float
    limit_m3: float
    caveats: tuple[Caveat, ...]


def dilution_check(
    *,
    known_m3: float,
    before_vfrac: float,
    after_vfrac: float,
    u_before_vfrac: float,
    u_after_vfrac: float,
    hidden_vfrac: float = 1.0,
) -> HiddenVolume:
    """Return how much fluid came out of hiding, from the old fluid seen before and after.

    Parameters
    ----------
    known_m3 : scalar
        Fluid that was mixed already at the first reading, above 0. [m3]
    before_vfrac, after_vfrac : scalar
        Old fluid before and after long circulating and exercising, 0 to ``hidden_vfrac``. [m3/m3]
    u_before_vfrac, u_after_vfrac : scalar
        Standard uncertainty of each reading, 0 or more. [m3/m3]
    hidden_vfrac : scalar
        Old fluid in what was hidden, above 0 to 1. [m3/m3]

    Returns
    -------
    hidden : HiddenVolume
        Volume, its standard uncertainty, the decision limit, and what to beware of. [m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.
    Contradiction
        If the old fluid fell by more than the readings can be wrong.

    Validity
    --------
    A lower bound: only what came out can be seen. Both readings stand for the whole mixture.

    Source
    ------
    Mass balance (derived); decision limit after ISO 11843-1 (``iso-11843-1``), from memory.

    Examples
    --------
    >>> found = dilution_check(known_m3=0.008, before_vfrac=0.10, after_vfrac=0.20,
    ...                        u_before_vfrac=0.01, u_after_vfrac=0.01)
    >>> found.hidden_m3
    0.001
    """
    bounded("known_m3", known_m3, above=0.0, unit="m3")
    bounded("hidden_vfrac", hidden_vfrac, above=0.0, high=1.0)
    bounded("before_vfrac", before_vfrac, low=0.0, below=hidden_vfrac)
    bounded("after_vfrac", after_vfrac, low=0.0, below=hidden_vfrac)
    bounded("u_before_vfrac", u_before_vfrac, low=0.0, high=1.0)
    bounded("u_after_vfrac", u_after_vfrac, low=0.0, high=1.0)
    rise = after_vfrac - before_vfrac
    u_rise = math.hypot(u_before_vfrac, u_after_vfrac)
    if rise < -2.0 * u_rise:
        raise Contradiction(
            f"old fluid must not fall by more than twice the uncertainty of the difference "
            f"({100.0 * u_rise:.3g} points), but fell from {100.0 * before_vfrac:.4g} to "
            f"{100.0 * after_vfrac:.4g} %; it cannot vanish while nothing is poured: check which "
            "sample is which"
        )
    gap = hidden_vfrac - after_vfrac
    hidden_m3 = known_m3 * rise / gap
    u_m3 = math.hypot(
        known_m3 / gap * u_before_vfrac,
        known_m3 * (hidden_vfrac - before_vfrac) / (gap * gap) * u_after_vfrac,
    )
    limit_m3 = _ONE_SIDED_95 * known_m3 / hidden_vfrac * u_rise
    caveats = [
        Caveat(code="lower-bound", text="Only fluid that came out is seen; more may still hide.")
    ]
    if hidden_m3 < limit_m3:
        caveats.append(
            Caveat(
                code="below-decision-limit",
                text="The rise is within reading error: nothing hidden is shown, and nothing "
                f"smaller than {limit_m3 * 1000:.2g} l could be.",
            )
        )
    return HiddenVolume(hidden_m3=hidden_m3, u_m3=u_m3, limit_m3=limit_m3, caveats=tuple(caveats))


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeBalance:
    """What is unaccounted for, its standard uncertainty, and whether the books close."""

    residual_m3: float
    u_m3: float

    @property
    def closes(self) -> bool:
        """Tell whether the residual is no larger than twice its uncertainty."""
        return abs(self.residual_m3) <= 2.0 * self.u_m3


def volume_balance(
    *,
    start_m3: float,
    in_m3: float,
    out_m3: float,
    end_m3: float,
    u_m3: float = 0.0,
) -> VolumeBalance:
    """Return what is unaccounted for after fluid went in and out.

    Parameters
    ----------
    start_m3 : scalar
        Fluid in the circuit before, 0 or more. [m3]
    in_m3, out_m3 : scalar
        Fluid poured in and taken out since, 0 or more. [m3]
    end_m3 : scalar
        Fluid in the circuit now, 0 or more. [m3]
    u_m3 : scalar
        Standard uncertainty of the sum of the four, one jug for several of them taken into
        account. [m3]

    Returns
    -------
    balance : VolumeBalance
        Start and in, less out and end. Positive: fluid is missing. [m3]

    Raises
    ------
    OutOfRange
        If a volume is negative or not finite.

    Validity
    --------
    All four at one temperature.

    Source
    ------
    Mass balance (derived); the test at twice the uncertainty is common practice, no source.

    Examples
    --------
    >>> volume_balance(start_m3=0.0100, in_m3=0.0120, out_m3=0.0116, end_m3=0.0103).residual_m3
    0.0001
    """
    values = {"start_m3": start_m3, "in_m3": in_m3, "out_m3": out_m3, "end_m3": end_m3}
    for name, value in values.items():
        bounded(name, value, low=0.0, unit="m3")
    bounded("u_m3", u_m3, low=0.0, unit="m3")
    return VolumeBalance(residual_m3=math.fsum((start_m3, in_m3, -out_m3, -end_m3)), u_m3=u_m3)
