"""Lines through readings, one of them spoilt, and which date comes first."""

from __future__ import annotations

import itertools
import statistics
import subprocess
import sys

import numpy as np
import pytest

from ullage.errors import OutOfRange
from ullage.planning.due import DAY_S, Interval, Use
from ullage.planning.trend import next_due, trend

YEAR_S = 365.25 * DAY_S


def test_a_straight_line_is_found() -> None:
    """100 a year from 100: 500 is met after four."""
    found = trend([0.0, 1.0, 2.0, 3.0, 3.5], [100.0, 200.0, 300.0, 400.0, 450.0], limit=500.0)

    assert found.slope == pytest.approx(100.0)
    assert found.crosses_at == pytest.approx(4.0)
    assert found.caveats == ()


def test_the_slope_is_the_median_of_all_pairs() -> None:
    """Counted pair by pair."""
    rng = np.random.default_rng(3)
    x = [0.0, 1.0, 2.5, 3.0, 4.5, 6.0, 7.0]
    y = [2.0 * a + float(rng.normal(0.0, 0.5)) for a in x]
    slopes = [(y[j] - y[i]) / (x[j] - x[i]) for i, j in itertools.combinations(range(7), 2)]

    found = trend(x, y, limit=50.0)

    assert found.slope == pytest.approx(statistics.median(slopes))
    assert found.slope_low < found.slope < found.slope_high


def test_one_spoilt_sample_hardly_moves_it() -> None:
    """A bottle that caught a flake reads five times too much."""
    x = [float(i) for i in range(9)]
    y = [10.0 + 3.0 * i for i in x]
    y[4] *= 5.0

    assert trend(x, y, limit=100.0).slope == pytest.approx(3.0, abs=0.3)


def test_the_interval_covers_the_truth_as_often_as_it_says() -> None:
    """Of 400 series at least 86 of 100 hold the true slope, and not all of them."""
    rng = np.random.default_rng(5)
    x = np.linspace(0.0, 10.0, 12)
    held = 0
    for _ in range(400):
        found = trend(x.tolist(), (0.7 * x + rng.normal(0.0, 1.0, 12)).tolist(), limit=50.0)
        held += found.slope_low <= 0.7 <= found.slope_high

    assert 0.86 <= held / 400 <= 0.99


def test_falling_readings_never_meet_a_limit_above() -> None:
    """It runs away from it, and few readings are said to be few."""
    found = trend([0.0, 1.0, 2.0], [30.0, 20.0, 10.0], limit=100.0)

    assert found.crosses_at is None
    assert [caveat.code for caveat in found.caveats] == ["few-readings"]


def test_readings_past_the_limit_meet_it_now() -> None:
    """No date in the past is made up."""
    assert trend([0.0, 1.0, 2.0], [90.0, 110.0, 130.0], limit=100.0).crosses_at == 2.0


@pytest.mark.parametrize(
    ("x", "y"),
    [([0.0, 1.0], [1.0, 2.0]), ([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]), ([0.0, 1.0, 2.0], [1.0, 2.0])],
)
def test_too_little_makes_no_trend(x: list[float], y: list[float]) -> None:
    """Two readings, one place, or lists that do not match."""
    with pytest.raises(OutOfRange, match="readings"):
        trend(x, y, limit=5.0)


def test_what_comes_first_on_a_usual_day() -> None:
    """100 000 km at 100 km a day are sooner than four years, a tenth earlier for old fluid."""
    found = next_due(
        interval=Interval(distance_m=1e8, age_s=4 * YEAR_S),
        old_vfrac=0.1,
        per_day=Use(distance_m=1e5),
    )

    assert found.what == "distance"
    assert found.x == pytest.approx(0.9e8)
    assert "10 % of old fluid" in found.reason


def test_a_trend_may_come_before_the_interval() -> None:
    """Water that rises by 100 mg/kg a year from 300 is at 500 after two."""
    line = trend(
        [0.0, 0.5 * YEAR_S, YEAR_S, 1.5 * YEAR_S], [300.0, 350.0, 400.0, 450.0], limit=500.0
    )
    found = next_due(
        interval=Interval(age_s=4 * YEAR_S), old_vfrac=0.0, trends=(("water", "age", line),)
    )

    assert found.what == "age"
    assert found.x == pytest.approx(2.0 * YEAR_S)
    assert "water" in found.reason


def test_without_any_figure_there_is_no_date() -> None:
    """Nothing to go by."""
    with pytest.raises(OutOfRange, match="interval"):
        next_due(interval=Interval(), old_vfrac=0.1)


def test_a_plan_is_not_kept_waiting_by_statistics() -> None:
    """What only trends need is loaded when somebody asks for one."""
    asks = "import sys, ullage.cli.plan; assert not [m for m in sys.modules if 'scipy' in m]"
    ended = subprocess.run(
        [sys.executable, "-c", asks], capture_output=True, text=True, check=False
    )

    assert (ended.returncode, ended.stderr) == (0, "")
