"""Printed colour scales: how results are written, and colours that are off the scale."""

from __future__ import annotations

import pytest

from ullage.errors import NotFound, OutOfRange
from ullage.fluids.colour_scale import (
    chromaticity_from_judd,
    d1500_from_tristimulus,
    d1500_glass,
    d1500_text,
    gardner_glass,
    nearest_gardner,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "L0.5"), (0.5, "0.5"), (0.56, "L1.0"), (2.2, "L2.5"), (2.46, "2.5"), (8.0, "8.0")],
)
def test_between_two_glasses_the_darker_one_is_written(value: float, text: str) -> None:
    """With an L before it."""
    assert d1500_text(value) == text


def test_darker_fluid_has_a_higher_number() -> None:
    """Halving all light raises the colour by three times 0.8695 log 2."""
    light = d1500_from_tristimulus(x=60.0, y=60.0, z=10.0).value
    dark = d1500_from_tristimulus(x=30.0, y=30.0, z=5.0).value

    assert dark - light == pytest.approx(0.8695 * 3 * 0.30103, abs=1e-4)


def test_a_colour_above_five_is_said_to_be_unsure() -> None:
    """Almost no blue comes through there."""
    found = d1500_from_tristimulus(x=12.0, y=8.0, z=0.01)

    assert [caveat.code for caveat in found.caveats] == ["blue-too-small"]


def test_a_colour_beyond_the_scale_is_refused() -> None:
    """The method asks for dilution."""
    with pytest.raises(OutOfRange, match="dilute"):
        d1500_from_tristimulus(x=1.0, y=0.5, z=1e-6)


@pytest.mark.parametrize("bad", [{"x": 0.0}, {"y": 110.0}, {"z": -1.0}])
def test_tristimulus_values_that_cannot_be_are_refused(bad: dict[str, float]) -> None:
    """No light, or more than a colourless sample lets through."""
    with pytest.raises(OutOfRange, match=next(iter(bad))):
        d1500_from_tristimulus(**({"x": 50.0, "y": 50.0, "z": 50.0} | bad))


def test_glasses_get_darker_and_redder() -> None:
    """Along the scale light falls and x rises."""
    glasses = [d1500_glass(0.5 * k) for k in range(1, 17)]

    assert [g.luminance_share for g in glasses] == sorted(
        (g.luminance_share for g in glasses), reverse=True
    )
    assert [g.x for g in glasses] == sorted(g.x for g in glasses)


def test_a_glass_that_is_not_there_is_refused() -> None:
    """The scale has steps of a half."""
    with pytest.raises(NotFound):
        d1500_glass(2.3)
    with pytest.raises(OutOfRange):
        gardner_glass(19)


def test_shares_that_do_not_add_up_are_refused() -> None:
    """Coordinates on a triangle always do."""
    with pytest.raises(OutOfRange, match="adding up to 1"):
        chromaticity_from_judd(red_share=0.5, green_share=0.2, blue_share=0.1, luminance_share=0.5)


@pytest.mark.parametrize("number", range(19))
def test_a_glass_is_nearest_to_itself(number: int) -> None:
    """Its own colour finds it again."""
    glass = gardner_glass(number)

    assert nearest_gardner(x=glass.x, y=glass.y) == number


def test_a_green_fluid_has_no_gardner_number() -> None:
    """Dyed fluids are off the scale of yellow and brown."""
    with pytest.raises(NotFound, match="Gardner"):
        nearest_gardner(x=0.25, y=0.50)
