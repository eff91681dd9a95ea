"""How much old fluid does a colour show?

Absorbance of a mix between two references, the same fluid at another path length, and the encoding
of a picture. Everything here works on linear light. Reading vials off a photograph belongs to the
photo part; the printed colour scales are in ``colour_scale``.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.units.caveat import Caveat
from ullage.units.elementwise import (
    Number_co,
    bounded,
    caveats_where,
    greatest,
    hypot,
    kept,
    least,
    log10,
    power,
    refuse_where,
    where,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

LOWEST_ABSORBANCE = 0.1  # usable window of a broad-band reading; from memory
HIGHEST_ABSORBANCE = 1.5
READING_ABSORBANCE = 0.01  # standard uncertainty of one reading where none is given; from memory
LEAST_CONTRAST = 0.05  # absorbance between the references under which a mix can't be told


@overload
def absorbance(transmittance: float) -> float: ...
@overload
def absorbance(transmittance: Array) -> Array: ...
def absorbance(transmittance: Numbers) -> Numbers:
    """Return the decadic absorbance of a fluid from the light that it lets through.

    Parameters
    ----------
    transmittance : scalar or (...)
        Light through the fluid over light through the same vessel when clear, in linear light,
        above 0 up to 1. [-]

    Returns
    -------
    absorbance : scalar or (...)
        Minus the decadic logarithm, 0 or more. [-]

    Raises
    ------
    OutOfRange
        If the transmittance is outside the range above.

    Validity
    --------
    Any clear liquid. Between 0.1 and 1.5 the reading is worth something.

    Source
    ------
    Beer and Lambert's law, ISO 80000-7 (``iso-80000-7``).

    Examples
    --------
    >>> absorbance(0.1)
    1.0
    """
    bounded(
        "transmittance",
        transmittance,
        above=0.0,
        high=1.0,
        advice="divide by the light through the same vessel when clear",
    )
    return -log10(transmittance) + 0.0  # never -0.0


@overload
def transmittance_at_path(*, transmittance: float, from_m: float, to_m: float) -> float: ...
@overload
def transmittance_at_path(*, transmittance: Numbers, from_m: Numbers, to_m: Numbers) -> Array: ...
def transmittance_at_path(*, transmittance: Numbers, from_m: Numbers, to_m: Numbers) -> Numbers:
    """Return the light through the same fluid at another path length.

    Parameters
    ----------
    transmittance : scalar or (...)
        Light let through at ``from_m``, above 0 up to 1. [-]
    from_m, to_m : scalar or (...)
        Path where it was read and where it is wanted, above 0. [m]

    Returns
    -------
    transmittance : scalar or (...)
        Light let through at ``to_m``. [-]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    One wavelength. For a camera's broad bands this misjudges a bucket by 10 points and more, so it
    explains why a deep vessel looks dark and must not be used to compare vessels.

    Source
    ------
    Beer and Lambert's law, ISO 80000-7 (``iso-80000-7``).

    Examples
    --------
    >>> transmittance_at_path(transmittance=0.5, from_m=0.010, to_m=0.025)
    0.176777
    """
    bounded("transmittance", transmittance, above=0.0, high=1.0)
    bounded("from_m", from_m, above=0.0, unit="m")
    bounded("to_m", to_m, above=0.0, unit="m")
    return power(transmittance, to_m / from_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class OldShare(Generic[Number_co]):
    """Old fluid in a mix, its standard uncertainty, and what to beware of.

    The share is not clipped: a little below 0 or above 1 is reading error and says so.
    """

    old_vfrac: Number_co
    u_vfrac: Number_co
    caveats: tuple[Caveat, ...]


@overload
def old_share(
    *,
    old_absorbance: float,
    new_absorbance: float,
    mix_absorbance: float,
    u_old: float = READING_ABSORBANCE,
    u_new: float = READING_ABSORBANCE,
    u_mix: float = READING_ABSORBANCE,
) -> OldShare: ...
@overload
def old_share(
    *,
    old_absorbance: Numbers,
    new_absorbance: Numbers,
    mix_absorbance: Numbers,
    u_old: Numbers = READING_ABSORBANCE,
    u_new: Numbers = READING_ABSORBANCE,
    u_mix: Numbers = READING_ABSORBANCE,
) -> OldShare[Array]: ...
def old_share(
    *,
    old_absorbance: Numbers,
    new_absorbance: Numbers,
    mix_absorbance: Numbers,
    u_old: Numbers = READING_ABSORBANCE,
    u_new: Numbers = READING_ABSORBANCE,
    u_mix: Numbers = READING_ABSORBANCE,
) -> OldShare[Numbers]:
    """Return the old fluid in a mix from three absorbances in equal vessels.

    Parameters
    ----------
    old_absorbance, new_absorbance, mix_absorbance : scalar or (...)
        Absorbance of pure old fluid, pure new fluid and the mix; old the darkest. [-]
    u_old, u_new, u_mix : scalar or (...)
        Standard uncertainty of each, above 0. [-]

    Returns
    -------
    share : OldShare
        Old fluid and its standard uncertainty. [m3/m3]

    Raises
    ------
    OutOfRange
        If old is not darker than new by at least 0.05, or the mix lies outside the two by more
        than three times the uncertainty.

    Validity
    --------
    Same vessels, path, light and band; the old reference stands for all old fluid in the mix. In a
    camera's broad bands the answer bends: with two references alone expect up to 4 points more.

    Source
    ------
    Beer and Lambert's law for a mix (``iso-80000-7``); uncertainty by JCGM 100:2008, equation 10
    (``jcgm-100-2008``); window 0.1 to 1.5 from memory.

    Examples
    --------
    >>> found = old_share(old_absorbance=1.2, new_absorbance=0.2, mix_absorbance=0.4)
    >>> round(found.old_vfrac, 9), round(found.u_vfrac, 4)
    (0.2, 0.013)
    """
    for name, value in (
        ("old_absorbance", old_absorbance),
        ("new_absorbance", new_absorbance),
        ("mix_absorbance", mix_absorbance),
    ):
        bounded(name, value, low=0.0)
    for name, u in (("u_old", u_old), ("u_new", u_new), ("u_mix", u_mix)):
        bounded(name, u, above=0.0)
    contrast = old_absorbance - new_absorbance
    refuse_where(
        contrast < LEAST_CONTRAST,
        "old_absorbance",
        old_absorbance,
        lambda new: f"at least {LEAST_CONTRAST} more than new_absorbance ({new:.4g})",
        "the references differ too little to tell a mix: use a longer path, or check whether "
        "they are swapped",
        told_by=(new_absorbance,),
    )
    share = (mix_absorbance - new_absorbance) / contrast
    u_share = hypot(share * u_old, (1.0 - share) * u_new, u_mix) / contrast
    outside = greatest(-share, share - 1.0)
    for is_foreign, advice in (
        (
            share - 1.0 > 3.0 * u_share,
            "darker than the old reference: it does not stand for this fluid",
        ),
        (
            -share > 3.0 * u_share,
            "lighter than the new reference: another fluid, bubbles, or swapped vials",
        ),
    ):
        refuse_where(
            is_foreign,
            "mix_absorbance",
            mix_absorbance,
            lambda new, old: f"between new ({new:.4g}) and old ({old:.4g}) within reading error",
            advice,
            told_by=(new_absorbance, old_absorbance),
        )
    share, u_share = kept(share, u_share)
    darkest = greatest(greatest(old_absorbance, new_absorbance), mix_absorbance)
    palest = least(least(old_absorbance, new_absorbance), mix_absorbance)
    return OldShare(
        old_vfrac=share,
        u_vfrac=u_share,
        caveats=caveats_where(
            (
                (palest < LOWEST_ABSORBANCE) | (darkest > HIGHEST_ABSORBANCE),
                Caveat(
                    code="outside-window",
                    text="An absorbance is outside 0.1 to 1.5, where readings are poor: "
                    "choose a longer path for pale fluid, a shorter one for dark.",
                ),
            ),
            (
                outside > 0.0,
                Caveat(
                    code="outside-references",
                    text="The mix lies just outside the two references: reading error.",
                ),
            ),
        ),
    )


@overload
def linear_from_srgb(encoded: float) -> float: ...
@overload
def linear_from_srgb(encoded: Array) -> Array: ...
def linear_from_srgb(encoded: Numbers) -> Numbers:
    """Return the linear light of an sRGB value.

    Parameters
    ----------
    encoded : scalar or (...)
        Value of one channel over its full scale, 0 to 1. [-]

    Returns
    -------
    linear : scalar or (...)
        Linear light, 0 to 1. [-]

    Raises
    ------
    OutOfRange
        If the value is outside the range above.

    Validity
    --------
    Pictures encoded in sRGB without a tone curve. Phones add one, so take ratios to a patch beside.

    Source
    ------
    IEC 61966-2-1:1999 (``iec-61966-2-1``).

    Examples
    --------
    >>> linear_from_srgb(128 / 255)
    0.21586050
    """
    bounded("encoded", encoded, low=0.0, high=1.0)
    curved = power((encoded + 0.055) / 1.055, 2.4)
    found: Numbers = where(encoded <= 0.04045, encoded / 12.92, curved)
    return found


@overload
def srgb_from_linear(linear: float) -> float: ...
@overload
def srgb_from_linear(linear: Array) -> Array: ...
def srgb_from_linear(linear: Numbers) -> Numbers:
    """Return the sRGB value of linear light.

    Parameters
    ----------
    linear : scalar or (...)
        Linear light, 0 to 1. [-]

    Returns
    -------
    encoded : scalar or (...)
        Value of one channel over its full scale, 0 to 1. [-]

    Raises
    ------
    OutOfRange
        If the value is outside the range above.

    Validity
    --------
    As for ``linear_from_srgb``.

    Source
    ------
    IEC 61966-2-1:1999 (``iec-61966-2-1``).

    Examples
    --------
    >>> srgb_from_linear(0.18)
    0.46135613
    """
    bounded("linear", linear, low=0.0, high=1.0)
    curved = 1.055 * power(linear, 1.0 / 2.4) - 0.055
    found: Numbers = where(linear <= 0.0031308, 12.92 * linear, curved)
    return found
