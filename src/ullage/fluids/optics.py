"""How much old fluid does a colour show?

Absorbance of a mix between two references, the same fluid at another path length, and the encoding
of a picture. Everything here works on linear light. Reading vials off a photograph belongs to the
photo part; the printed colour scales are in ``colour_scale``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.errors import OutOfRange
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true

LOWEST_ABSORBANCE = 0.1  # usable window of a broad-band reading; from memory
HIGHEST_ABSORBANCE = 1.5
READING_ABSORBANCE = 0.01  # standard uncertainty of one reading where none is given; from memory
LEAST_CONTRAST = 0.05  # absorbance between the references under which a mix can't be told


def absorbance(transmittance: float) -> float:
    """Return the decadic absorbance of a fluid from the light that it lets through.

    Parameters
    ----------
    transmittance : scalar
        Light through the fluid over light through the same vessel when clear, in linear light,
        above 0 up to 1. [-]

    Returns
    -------
    absorbance : scalar
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
    return -math.log10(transmittance) + 0.0  # never -0.0


def transmittance_at_path(*, transmittance: float, from_m: float, to_m: float) -> float:
    """Return the light through the same fluid at another path length.

    Parameters
    ----------
    transmittance : scalar
        Light let through at ``from_m``, above 0 up to 1. [-]
    from_m, to_m : scalar
        Path where it was read and where it is wanted, above 0. [m]

    Returns
    -------
    transmittance : scalar
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
    return math.pow(transmittance, to_m / from_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class OldShare:
    """Old fluid in a mix, its standard uncertainty, and what to beware of.

    The share is not clipped: a little below 0 or above 1 is reading error and says so.
    """

    old_vfrac: float
    u_vfrac: float
    caveats: tuple[Caveat, ...]


def old_share(
    *,
    old_absorbance: float,
    new_absorbance: float,
    mix_absorbance: float,
    u_old: float = READING_ABSORBANCE,
    u_new: float = READING_ABSORBANCE,
    u_mix: float = READING_ABSORBANCE,
) -> OldShare:
    """Return the old fluid in a mix from three absorbances in equal vessels.

    Parameters
    ----------
    old_absorbance, new_absorbance, mix_absorbance : scalar
        Absorbance of pure old fluid, pure new fluid and the mix; old the darkest. [-]
    u_old, u_new, u_mix : scalar
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
    if contrast < LEAST_CONTRAST:
        raise OutOfRange(
            "old_absorbance",
            f"{old_absorbance:.4g}",
            f"at least {LEAST_CONTRAST} more than new_absorbance ({new_absorbance:.4g})",
            "the references differ too little to tell a mix: use a longer path, or check whether "
            "they are swapped",
        )
    share = (mix_absorbance - new_absorbance) / contrast
    u_share = math.hypot(share * u_old, (1.0 - share) * u_new, u_mix) / contrast
    outside = max(-share, share - 1.0)
    if outside > 3.0 * u_share:
        darker = share > 1.0
        raise OutOfRange(
            "mix_absorbance",
            f"{mix_absorbance:.4g}",
            f"between new ({new_absorbance:.4g}) and old ({old_absorbance:.4g}) within reading "
            "error",
            "darker than the old reference: it does not stand for this fluid"
            if darker
            else "lighter than the new reference: another fluid, bubbles, or swapped vials",
        )
    readings = (old_absorbance, new_absorbance, mix_absorbance)
    return OldShare(
        old_vfrac=share,
        u_vfrac=u_share,
        caveats=only_where_true(
            (
                any(not LOWEST_ABSORBANCE <= a <= HIGHEST_ABSORBANCE for a in readings),
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


def linear_from_srgb(encoded: float) -> float:
    """Return the linear light of an sRGB value.

    Parameters
    ----------
    encoded : scalar
        Value of one channel over its full scale, 0 to 1. [-]

    Returns
    -------
    linear : scalar
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
    if encoded <= 0.04045:
        return encoded / 12.92
    return math.pow((encoded + 0.055) / 1.055, 2.4)


def srgb_from_linear(linear: float) -> float:
    """Return the sRGB value of linear light.

    Parameters
    ----------
    linear : scalar
        Linear light, 0 to 1. [-]

    Returns
    -------
    encoded : scalar
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
    if linear <= 0.0031308:
        return 12.92 * linear
    return 1.055 * math.pow(linear, 1.0 / 2.4) - 0.055
