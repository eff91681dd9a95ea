"""Colour as a measure: mixes, windows, paths, and the encoding of pictures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.optics import (
    absorbance,
    linear_from_srgb,
    old_share,
    srgb_from_linear,
    transmittance_at_path,
)

SHARE = st.floats(min_value=0.0, max_value=1.0)


@given(share=SHARE)
def test_a_mix_gives_back_its_share(share: float) -> None:
    """Absorbances add up by volume, and the sum undoes it."""
    mix = share * 1.2 + (1.0 - share) * 0.2
    found = old_share(old_absorbance=1.2, new_absorbance=0.2, mix_absorbance=mix)

    assert found.old_vfrac == pytest.approx(share, abs=1e-12)
    assert "outside-window" not in [caveat.code for caveat in found.caveats]


def test_the_uncertainty_is_that_of_small_shifts() -> None:
    """The stated spread is what shifting each absorbance by its own does."""
    at = {"old_absorbance": 1.2, "new_absorbance": 0.2, "mix_absorbance": 0.5}
    step = 1e-6
    slopes = [
        (
            old_share(**(at | {name: value + step})).old_vfrac
            - old_share(**(at | {name: value - step})).old_vfrac
        )
        / (2 * step)
        for name, value in at.items()
    ]

    assert old_share(**at).u_vfrac == pytest.approx(0.01 * math.hypot(*slopes), rel=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "mix"), [(1.6, 0.2, 0.5), (1.2, 0.05, 0.5), (1.2, 0.0, 0.09)]
)
def test_readings_outside_the_window_are_said(old: float, new: float, mix: float) -> None:
    """Too dark or too pale to be read well: the answer carries it."""
    found = old_share(old_absorbance=old, new_absorbance=new, mix_absorbance=mix)

    assert [caveat.code for caveat in found.caveats] == ["outside-window"]


def test_a_little_outside_the_references_is_reading_error() -> None:
    """A hair lighter than new is flagged and not turned into zero."""
    found = old_share(old_absorbance=1.2, new_absorbance=0.2, mix_absorbance=0.19)

    assert found.old_vfrac == pytest.approx(-0.01)
    assert [caveat.code for caveat in found.caveats] == ["outside-references"]


@pytest.mark.parametrize(
    ("mix", "said"), [(0.1, "lighter than the new"), (1.5, "darker than the old")]
)
def test_far_outside_the_references_is_refused(mix: float, said: str) -> None:
    """The references do not stand for such a mix."""
    with pytest.raises(OutOfRange, match=said):
        old_share(old_absorbance=1.2, new_absorbance=0.2, mix_absorbance=mix)


@pytest.mark.parametrize("old", [0.2, 0.24, 0.1])
def test_references_that_are_alike_or_swapped_are_refused(old: float) -> None:
    """Nothing can be read off two colours that do not differ."""
    with pytest.raises(OutOfRange, match="swapped"):
        old_share(old_absorbance=old, new_absorbance=0.2, mix_absorbance=0.2)


@pytest.mark.parametrize("bad", [0.0, -0.1, 1.01, math.nan])
def test_light_that_cannot_be_is_refused(bad: float) -> None:
    """More light than through a clear vessel, or none at all, has no absorbance."""
    with pytest.raises(OutOfRange, match="transmittance"):
        absorbance(bad)


def test_a_deep_vessel_looks_as_dark_as_far_older_fluid() -> None:
    """Ten times the path, ten times the absorbance."""
    deep = transmittance_at_path(transmittance=0.8, from_m=0.02, to_m=0.2)

    assert absorbance(deep) == pytest.approx(10.0 * absorbance(0.8))


@given(value=SHARE)
def test_encoding_there_and_back_is_identity(value: float) -> None:
    """Both branches of the curve and their joint."""
    assert linear_from_srgb(srgb_from_linear(value)) == pytest.approx(value, abs=1e-6)


@given(first=SHARE, second=SHARE)
def test_more_light_never_gives_a_smaller_value(first: float, second: float) -> None:
    """The encoding rises all the way."""
    low, high = sorted((first, second))

    assert srgb_from_linear(low) <= srgb_from_linear(high)
    assert linear_from_srgb(low) <= linear_from_srgb(high)


@pytest.mark.parametrize("bad", [-0.01, 1.01, math.inf])
def test_values_off_the_scale_are_refused(bad: float) -> None:
    """Neither negative light nor more than white is encoded."""
    with pytest.raises(OutOfRange):
        srgb_from_linear(bad)
    with pytest.raises(OutOfRange):
        linear_from_srgb(bad)
