"""Uncertainties: correlation, limits, and the same jug many times."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.units.uncertainty import (
    combined,
    effective_freedom,
    low_best_high,
    rectangular,
    same_jug,
    triangular,
)

SMALL = st.floats(min_value=0.0, max_value=1e3)


def test_one_error_met_many_times_adds_up_in_a_straight_line() -> None:
    """Ten fills of a wrong jug are ten times as wrong; ten readings only three times."""
    once = same_jug(fills=1, tolerance_m3=1e-5, division_m3=1e-5)
    ten = same_jug(fills=10, tolerance_m3=1e-5, division_m3=1e-5)

    assert ten.calibration_m3 == pytest.approx(10 * once.calibration_m3)
    assert ten.reading_m3 == pytest.approx(math.sqrt(10) * once.reading_m3)


@pytest.mark.parametrize(
    "bad",
    [
        {"fills": 0},
        {"fills": 1.5},
        {"fills": -1},
        {"tolerance_m3": -1e-6},
        {"division_m3": math.nan},
    ],
)
def test_a_jug_that_cannot_be_is_refused(bad: dict[str, float]) -> None:
    """Half a fill, a negative tolerance or a division that is no number give no answer."""
    with pytest.raises(OutOfRange, match=next(iter(bad))):
        same_jug(**({"fills": 2, "tolerance_m3": 1e-5, "division_m3": 1e-5} | bad))


def test_a_triangle_between_equal_limits_is_the_symmetric_one() -> None:
    """Low, best and high at equal distances are the triangle of the guide."""
    assert low_best_high(low=3.0, best=5.0, high=7.0) == pytest.approx(triangular(half_width=2.0))


def test_low_best_and_high_that_are_equal_leave_nothing_open() -> None:
    """An exact number has no spread, in spite of large values."""
    assert low_best_high(low=1e9, best=1e9, high=1e9) == 0.0


def test_values_that_do_not_rise_are_refused() -> None:
    """Best above high is a slip of the pen, not an uncertainty."""
    with pytest.raises(OutOfRange, match="must rise"):
        low_best_high(low=1.0, best=3.0, high=2.0)


def test_full_negative_correlation_cancels() -> None:
    """A difference of two readings with one common error is free of it."""
    u = combined(sensitivities=[1.0, -1.0], uncertainties=[2.0, 2.0], correlations={(0, 1): 1.0})

    assert u == 0.0


@given(first=SMALL, second=SMALL, r=st.floats(min_value=-1.0, max_value=1.0))
def test_correlation_stays_between_its_extremes(first: float, second: float, r: float) -> None:
    """No correlation of two inputs makes their sum surer than -1 or less sure than +1."""
    u = combined(sensitivities=[1, 1], uncertainties=[first, second], correlations={(0, 1): r})

    assert abs(first - second) - 1e-6 <= u <= first + second + 1e-6


def test_correlations_that_contradict_each_other_are_refused() -> None:
    """Three inputs cannot all be opposites of each other."""
    opposites = {(0, 1): -1.0, (0, 2): -1.0, (1, 2): -1.0}
    with pytest.raises(OutOfRange, match="true together"):
        combined(sensitivities=[1, 1, 1], uncertainties=[1, 1, 1], correlations=opposites)


@pytest.mark.parametrize("pair", [(0, 0), (0, 2), (-1, 0)])
def test_a_correlation_of_inputs_that_are_not_there_is_refused(pair: tuple[int, int]) -> None:
    """A pair names two different inputs by their places."""
    with pytest.raises(OutOfRange, match="pairs of two places"):
        combined(sensitivities=[1, 1], uncertainties=[1, 1], correlations={pair: 0.5})


def test_lists_of_different_length_are_refused() -> None:
    """Every sensitivity has its uncertainty."""
    with pytest.raises(OutOfRange, match="as many as sensitivities"):
        combined(sensitivities=[1.0], uncertainties=[1.0, 2.0])
    with pytest.raises(OutOfRange, match="one for each"):
        effective_freedom(contributions=[1.0], degrees_of_freedom=[])


def test_certain_limits_alone_have_infinite_freedom() -> None:
    """Limits that are known for certain never cost degrees of freedom."""
    limits = rectangular(half_width=1.0)

    assert effective_freedom(contributions=[limits], degrees_of_freedom=[math.inf]) == math.inf


@pytest.mark.parametrize("degrees", [0.0, -1.0, math.nan])
def test_degrees_of_freedom_below_nothing_are_refused(degrees: float) -> None:
    """A single reading alone has no spread to speak of."""
    with pytest.raises(OutOfRange, match="degrees_of_freedom"):
        effective_freedom(contributions=[1.0], degrees_of_freedom=[degrees])
