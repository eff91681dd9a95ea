"""The colours of fluid: dark is old, equal steps look equal, figures on them can be read."""

from __future__ import annotations

import numpy as np

from ullage.drawing.ramp import contrast, fluid_colour, ink_on, linear_light
from ullage.drawing.theme import DARK, DAYLIGHT, Scheme

SHARES = np.linspace(0.0, 1.0, 201)


def _oklab(colour: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a colour in OKLab, by the forward matrices of its definition (Ottosson 2020)."""
    light = linear_light(colour)
    cones = np.cbrt(
        np.array(
            [
                [0.4122214708, 0.5363325363, 0.0514459929],
                [0.2119034982, 0.6806995451, 0.1073969566],
                [0.0883024619, 0.2817188376, 0.6299787005],
            ]
        )
        @ np.array([light.red, light.green, light.blue])
    )
    opponent = np.array(
        [
            [0.2104542553, 0.7936177850, -0.0040720468],
            [1.9779984951, -2.4285922050, 0.4505937099],
            [0.0259040371, 0.7827717662, -0.8086757660],
        ]
    )
    return np.asarray(opponent @ cones)


def test_lightness_falls_from_new_to_old_in_equal_steps() -> None:
    """The darker of two fluids is the older one, and by about as much as it looks."""
    lightness = np.array([_oklab(fluid_colour(share))[0] for share in SHARES])
    steps = np.diff(lightness)

    assert np.all(steps < 0.0)
    assert np.max(np.abs(lightness - np.linspace(lightness[0], lightness[-1], 201))) < 0.008


def test_the_ends_are_straw_and_umber() -> None:
    """New fluid is pale and yellow, old fluid dark and brown."""
    new, old = _oklab(fluid_colour(0.0)), _oklab(fluid_colour(1.0))

    assert new[0] > 0.90
    assert old[0] < 0.32
    assert new[2] > 0.05
    assert old[1] > 0.01


def test_figures_on_any_fluid_can_be_read() -> None:
    """WCAG 2.2 AA asks 4.5 to 1 of text; the middle of the ramp is the hard part."""
    worst = min(contrast(ink_on(share), fluid_colour(share)) for share in SHARES)

    assert worst >= 4.5


def test_words_on_paper_can_be_read_in_both_schemes() -> None:
    """Ink and grey are words; both stand out from paper and from washed paper."""

    def worst(scheme: Scheme) -> float:
        return min(
            contrast(words, ground)
            for words in (scheme.ink, scheme.grey)
            for ground in (scheme.paper, scheme.wash)
        )

    assert worst(DAYLIGHT) >= 4.5
    assert worst(DARK) >= 4.5
