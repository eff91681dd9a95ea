"""Which number on a printed colour scale does a fluid have?

The petroleum colour of ASTM D1500 (its glasses, the rule for writing a result down, and the number
from tristimulus values) and the colours of the Gardner glasses. Colour follows ageing as well as
mixing, so these numbers describe a fluid; they do not tell how much of it is old.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.errors import NotFound, OutOfRange
from ullage.fluids.tables import load_table
from ullage.units.bounds import bounded, whole
from ullage.units.caveat import Caveat, only_where_true

REPEATABILITY = 0.5  # ASTM D1500, one operator; two operators 1.0
REPRODUCIBILITY = 1.0

# Illuminant C, 2 degree observer: X, Y, Z of a colourless sample as the method rounds them.
_CLEAR_XYZ = (98.074, 100.0, 118.232)
# From X, Y, Z to the red, green and blue amounts of Judd's triangle of 1935.
_JUDD = ((3.1956, 2.4478, -0.1434), (-2.5455, 7.0492, 0.9963), (0.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chromaticity:
    """A colour as CIE x, y and luminance factor, illuminant C and 2 degree observer."""

    x: float
    y: float
    luminance_share: float


def chromaticity_from_judd(
    *, red_share: float, green_share: float, blue_share: float, luminance_share: float
) -> Chromaticity:
    """Return CIE x and y of a point on the uniform triangle of 1935, on which D1500 is printed.

    Parameters
    ----------
    red_share, green_share, blue_share : scalar
        Coordinates on the triangle, 0 to 1, adding up to 1 within rounding. [-]
    luminance_share : scalar
        Light let through, 0 to 1. [-]

    Returns
    -------
    colour : Chromaticity
        CIE coordinates. [-]

    Raises
    ------
    OutOfRange
        If a coordinate is outside 0 to 1 or the three do not add up to 1.

    Validity
    --------
    Reading the printed numbers as CIE x and y, as is easily done, gives another colour altogether.

    Source
    ------
    Judd 1935 (``judd-1935``), matrix from memory.

    Examples
    --------
    >>> colour = chromaticity_from_judd(
    ...     red_share=0.489, green_share=0.475, blue_share=0.036, luminance_share=0.77)
    >>> round(colour.x, 4), round(colour.y, 4)
    (0.3945, 0.4359)
    """
    shares = (red_share, green_share, blue_share)
    for name, share in zip(("red_share", "green_share", "blue_share"), shares, strict=True):
        bounded(name, share, low=0.0, high=1.0)
    bounded("luminance_share", luminance_share, low=0.0, high=1.0)
    if abs(math.fsum(shares) - 1.0) > 0.005:
        raise OutOfRange("shares", f"a sum of {math.fsum(shares):.4g}", "adding up to 1")
    (ax, ay, az), (bx, by, bz), _ = _JUDD
    # The last row says Z = blue, so two equations are left for X and Y.
    first = red_share - az * blue_share
    second = green_share - bz * blue_share
    determinant = ax * by - ay * bx
    x = (by * first - ay * second) / determinant
    y = (ax * second - bx * first) / determinant
    total = x + y + blue_share
    return Chromaticity(x=x / total, y=y / total, luminance_share=luminance_share)


def d1500_glass(colour: float) -> Chromaticity:
    """Return the colour of one of the glasses of the petroleum scale.

    Parameters
    ----------
    colour : scalar
        Number of the glass, 0.5 to 8 in steps of 0.5. [-]

    Returns
    -------
    glass : Chromaticity
        CIE coordinates and luminance factor. [-]

    Raises
    ------
    NotFound
        If the scale has no such glass.

    Validity
    --------
    Above 5 the printed blue share is rounded to nothing, and the colour with it.

    Source
    ------
    ASTM D1500-12, table 1 (``astm-d1500-12``), from memory; ``chromaticity_from_judd``.

    Examples
    --------
    >>> round(d1500_glass(4.0).x, 4)
    0.5855
    """
    row = load_table("d1500").row("colour", f"{colour:.1f}")
    return chromaticity_from_judd(
        red_share=float(row["red_share"]),
        green_share=float(row["green_share"]),
        blue_share=float(row["blue_share"]),
        luminance_share=float(row["transmittance_share"]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PetroleumColour:
    """A petroleum colour as calculated, as it is written down, and what to beware of."""

    value: float
    text: str
    caveats: tuple[Caveat, ...]


def d1500_from_tristimulus(*, x: float, y: float, z: float) -> PetroleumColour:
    """Return the petroleum colour from tristimulus values at a path of 32.5 mm.

    Parameters
    ----------
    x, y, z : scalar
        CIE tristimulus values of the sample, illuminant C and 2 degree observer, above 0 and up to
        those of a colourless sample (98.074, 100, 118.232) and 2 % more for error. [-]

    Returns
    -------
    colour : PetroleumColour
        The number and its written form. [-]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above, or the colour beyond 8.

    Validity
    --------
    Undyed products. Above 5 the blue value is so small that its error decides.

    Source
    ------
    ASTM D6045 (``astm-d6045``).

    Examples
    --------
    >>> d1500_from_tristimulus(x=55.575, y=55.0, z=3.388).text
    '2.0'
    """
    density = 0.0
    for name, value, clear in zip(("x", "y", "z"), (x, y, z), _CLEAR_XYZ, strict=True):
        bounded(name, value, above=0.0, high=1.02 * clear)
        density -= math.log10(value / clear)
    value = 0.25 + 0.8695 * density
    bounded("colour", value, high=8.0, advice="darker than the scale: dilute as the method says")
    return PetroleumColour(
        value=value,
        text=d1500_text(max(value, 0.0)),
        caveats=only_where_true(
            (
                value > 5.0,
                Caveat(
                    code="blue-too-small",
                    text="Above 5 almost no blue comes through, so the number is unsure.",
                ),
            ),
        ),
    )


def d1500_text(value: float) -> str:
    """Return a petroleum colour as it is written down: between two glasses the darker one, with L.

    Parameters
    ----------
    value : scalar
        Colour, 0 to 8. [-]

    Returns
    -------
    text : text
        Such as ``2.5`` or ``L2.5``.

    Raises
    ------
    OutOfRange
        If the value is outside the range above.

    Validity
    --------
    A match within 0.05 of a glass counts as that glass (our choice; the eye sees no less).

    Source
    ------
    ASTM D1500-12, report (``astm-d1500-12``).

    Examples
    --------
    >>> d1500_text(2.5), d1500_text(2.2)
    ('2.5', 'L2.5')
    """
    bounded("value", value, low=0.0, high=8.0)
    nearest = round(value * 2.0) / 2.0
    if nearest >= 0.5 and abs(value - nearest) <= 0.05:
        return f"{nearest:.1f}"
    return f"L{max(math.ceil(value * 2.0) / 2.0, 0.5):.1f}"


def gardner_glass(number: float) -> Chromaticity:
    """Return the colour of one of the Gardner glasses.

    Parameters
    ----------
    number : scalar
        0 (the illuminant itself) to 18. [-]

    Returns
    -------
    glass : Chromaticity
        CIE coordinates and luminance factor. [-]

    Raises
    ------
    OutOfRange
        If there is no such glass.

    Validity
    --------
    Tubes of 10.65 mm bore, illuminant C, 2 degree observer.

    Source
    ------
    ASTM D1544 (``astm-d1544``).

    Examples
    --------
    >>> gardner_glass(12).x
    0.5077
    """
    row = load_table("gardner").row("number", str(whole("number", number, high=18)))
    return Chromaticity(
        x=float(row["x"]), y=float(row["y"]), luminance_share=float(row["luminance_pct"]) / 100.0
    )


def nearest_gardner(*, x: float, y: float) -> int:
    """Return the Gardner glass whose chromaticity is nearest to a colour.

    Parameters
    ----------
    x, y : scalar
        CIE chromaticity, illuminant C and 2 degree observer, 0 to 1. [-]

    Returns
    -------
    number : scalar
        0 to 18. [-]

    Raises
    ------
    OutOfRange
        If a coordinate is outside the range above.
    NotFound
        If the colour is further than 0.03 from every glass: it is off the scale's yellow-brown.

    Validity
    --------
    To about one number; brightness is not looked at, as the method prescribes.

    Source
    ------
    ASTM D1544 (``astm-d1544``); the distance of 0.03 is our choice.

    Examples
    --------
    >>> nearest_gardner(x=0.51, y=0.463)
    12
    """
    bounded("x", x, low=0.0, high=1.0)
    bounded("y", y, low=0.0, high=1.0)
    table = load_table("gardner")
    distances = [
        math.hypot(x - glass_x, y - glass_y)
        for glass_x, glass_y in zip(table.numbers("x"), table.numbers("y"), strict=True)
    ]
    nearest = min(range(len(distances)), key=distances.__getitem__)
    if distances[nearest] > 0.03:
        raise NotFound("Gardner glass near the colour", f"x {x:.4g}, y {y:.4g}")
    return nearest
