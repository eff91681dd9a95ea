"""Which colour does an old share have, and which ink can be read on it?

Dark umber is old, pale straw is new. Lightness falls in equal steps from new to old (OKLab, so
that equal steps look equal), hue and strength pass through amber in between. The colours mean
fluid: they are the same by daylight and in the dark; only paper and ink around them change
(``theme``). Nothing else in a drawing may wear them."""

from __future__ import annotations

import math
from dataclasses import dataclass

# Lightness, strength and hue of three fluids; our own choice, by eye.
_NEW = (0.935, 0.070, 98.0)
_HALF = (0.610, 0.122, 71.0)
_OLD = (0.285, 0.050, 50.0)

#: The two inks for figures on fluid: whichever stands out more is taken.
DARK_INK = "#050301"
LIGHT_INK = "#ffffff"


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearLight:
    """Red, green and blue in linear light, 0 to 1."""

    red: float
    green: float
    blue: float

    @property
    def luminance(self) -> float:
        """Return the relative luminance (sRGB primaries, IEC 61966-2-1)."""
        return 0.2126 * self.red + 0.7152 * self.green + 0.0722 * self.blue


def _parabola(new: float, half: float, old: float, share: float) -> float:
    """Return the value at a share of the parabola through three points at 0, 1/2 and 1."""
    bend = 2.0 * (new - 2.0 * half + old)
    return new + (old - new - bend) * share + bend * share * share


def _linear_light(share: float) -> LinearLight:
    """Return the colour of an old share in linear light.

    The matrices are those of the OKLab definition (B. Ottosson, 2020); from memory, held by a test
    that turns the colours back.
    """
    lightness, strength, hue = (
        _parabola(*points, share) for points in zip(_NEW, _HALF, _OLD, strict=True)
    )
    a = strength * math.cos(math.radians(hue))
    b = strength * math.sin(math.radians(hue))
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    medium = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    rgb = (
        4.0767416621 * long - 3.3077115913 * medium + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * medium - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * medium + 1.7076147010 * short,
    )
    red, green, blue = (min(max(value, 0.0), 1.0) for value in rgb)
    return LinearLight(red=red, green=green, blue=blue)


def _encoded(value: float) -> int:
    """Return a linear value as it stands in a file, 0 to 255 (IEC 61966-2-1)."""
    shown = 12.92 * value if value <= 0.0031308 else 1.055 * value ** (1.0 / 2.4) - 0.055
    return math.floor(255.0 * shown + 0.5)


def linear_light(colour: str) -> LinearLight:
    """Return what a colour written ``#rrggbb`` is in linear light."""
    values = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values)
    return LinearLight(red=red, green=green, blue=blue)


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    darker, lighter = sorted(linear_light(colour).luminance for colour in (one, other))
    return (lighter + 0.05) / (darker + 0.05)


def fluid_colour(old_share: float) -> str:
    """Return the colour of fluid of which ``old_share`` (0 to 1) is old.

    >>> fluid_colour(0.0) == fluid_colour(-1e-15)
    True
    """
    colour = _linear_light(min(max(old_share, 0.0), 1.0))
    return "#" + "".join(
        f"{_encoded(value):02x}" for value in (colour.red, colour.green, colour.blue)
    )


def ink_on(old_share: float) -> str:
    """Return the ink for figures on fluid of that old share: at least 4.5 to 1 everywhere."""
    colour = fluid_colour(old_share)
    return max(DARK_INK, LIGHT_INK, key=lambda ink: contrast(ink, colour))
