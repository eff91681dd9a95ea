"""One check for all numbers: what is inside passes, what is not gets a full sentence."""

from __future__ import annotations

import math

import pytest

from ullage.errors import OutOfRange
from ullage.units.bounds import bounded, whole


@pytest.mark.parametrize(
    ("value", "limits"),
    [
        (0.0, {"low": 0.0}),
        (1.0, {"high": 1.0}),
        (0.5, {"above": 0.0, "below": 1.0}),
        (-1e300, {}),
    ],
)
def test_a_value_inside_comes_back_unchanged(value: float, limits: dict[str, float]) -> None:
    """Ends named by low and high belong to the range."""
    assert bounded("x", value, **limits) == value


@pytest.mark.parametrize(
    ("value", "limits", "said"),
    [
        (0.0, {"above": 0.0}, "x must be above 0 m, got 0 m"),
        (1.0, {"below": 1.0}, "x must be below 1 m, got 1 m"),
        (-0.1, {"low": 0.0, "high": 2.0}, "x must be from 0 to 2 m, got -0.1 m"),
        (3.0, {"above": 0.0, "high": 2.0}, "x must be above 0 m and at most 2 m, got 3 m"),
        (math.nan, {"low": 0.0}, "x must be at least 0 m, got nan m"),
        (math.inf, {}, "x must be a finite number, got inf m"),
        (-math.inf, {"high": 1.0}, "x must be at most 1 m, got -inf m"),
    ],
)
def test_a_value_outside_is_refused(value: float, limits: dict[str, float], said: str) -> None:
    """The sentence names the value, its unit and the range."""
    with pytest.raises(OutOfRange) as caught:
        bounded("x", value, unit="m", **limits)

    assert str(caught.value) == said


def test_a_whole_number_has_no_fraction() -> None:
    """Two and a half strokes are not a number of strokes."""
    assert whole("strokes", 3.0) == 3
    with pytest.raises(OutOfRange, match="a whole number"):
        whole("strokes", 2.5)
    with pytest.raises(OutOfRange, match="from 1 to 4"):
        whole("strokes", 5, low=1, high=4)
