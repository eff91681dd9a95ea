"""Tracer curves: moments, models, and records that cannot be read."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.residence import (
    closed_vessel_variance,
    dispersion_number,
    mixing_zone_m,
    residence_time,
)


def tank_curve(tanks: int, mean_s: float) -> tuple[list[float], list[float]]:
    """Return the tracer curve of a chain of tanks, sampled finely."""
    times = [mean_s * k / 200 for k in range(1, 1600)]
    return times, [t ** (tanks - 1) * math.exp(-tanks * t / mean_s) for t in times]


@pytest.mark.parametrize("tanks", [2, 3, 8])
def test_the_curve_of_a_chain_gives_back_its_tanks(tanks: int) -> None:
    """Mean and spread of a known chain are those of the chain."""
    times, concentrations = tank_curve(tanks, 40.0)
    found = residence_time(times_s=times, concentrations=concentrations)

    assert found.mean_s == pytest.approx(40.0, rel=1e-3)
    assert found.tanks == pytest.approx(tanks, rel=5e-3)


def test_the_unit_of_the_tracer_does_not_matter() -> None:
    """Ten times the reading, the same times."""
    times, c = tank_curve(3, 40.0)
    one = residence_time(times_s=times, concentrations=c)
    ten = residence_time(times_s=times, concentrations=[10 * x for x in c])

    assert ten.mean_s == pytest.approx(one.mean_s)
    assert ten.area == pytest.approx(10 * one.area)


@given(number=st.floats(min_value=1e-4, max_value=300.0))
def test_a_dispersion_number_leads_back_to_itself(number: float) -> None:
    """Spread and number are each other's inverse."""
    spread = closed_vessel_variance(dispersion_number=number)

    assert dispersion_number(relative_variance=spread) == pytest.approx(number, rel=1e-6)


def test_the_spread_has_no_jump_where_the_series_takes_over() -> None:
    """Large numbers approach a mixed tank smoothly."""
    below = closed_vessel_variance(dispersion_number=0.99e4)
    above = closed_vessel_variance(dispersion_number=1.01e4)

    assert below < above < 1.0
    assert above - below == pytest.approx(0.02 / 3.0 * 1e-4, rel=0.01)


@pytest.mark.parametrize("variance", [0.0, -0.1, 0.9995, 1.2, math.nan])
def test_a_spread_wider_than_a_mixed_tank_is_refused(variance: float) -> None:
    """The sentence names what makes such curves."""
    with pytest.raises(OutOfRange, match="dead corner"):
        dispersion_number(relative_variance=variance)


@pytest.mark.parametrize(
    ("times", "c", "said"),
    [
        ([0, 1], [0, 1], "at least three"),
        ([0, 1, 2], [0, 1], "one for each time"),
        ([0, 2, 1], [0, 1, 0], "times must rise"),
        ([-1, 0, 1], [0, 1, 0], "times_s"),
        ([0, 1, 2], [0, -1, 0], "background"),
        ([0, 1, 2], [0, 0, 0], "above 0 somewhere"),
        ([0, 1, 2], [0, 1, 0], "single point"),
    ],
)
def test_records_that_cannot_be_read_are_refused(
    times: list[float], c: list[float], said: str
) -> None:
    """Each with its own reason."""
    with pytest.raises(OutOfRange, match=said):
        residence_time(times_s=times, concentrations=c)


def test_a_record_that_stops_early_is_said() -> None:
    """Its mean and spread are too small."""
    times, c = tank_curve(2, 40.0)
    found = residence_time(times_s=times[:300], concentrations=c[:300])

    assert [caveat.code for caveat in found.caveats] == ["tail-cut-off"]
    assert found.mean_s < 40.0


def test_a_zone_grows_with_the_root_of_the_distance() -> None:
    """Four times as far, twice as long."""
    assert mixing_zone_m(zone_m=1.0, at_m=2.0, to_m=8.0) == pytest.approx(2.0)
