"""Burns: always on the safe side of the table."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.scald import scald_time

HOT = st.floats(min_value=318.15, max_value=573.15)


@given(first=HOT, second=HOT)
def test_hotter_never_takes_longer(first: float, second: float) -> None:
    """And the deeper burn never comes first."""
    cool, hot = (scald_time(temperature_k=t) for t in sorted((first, second)))

    assert hot.second_degree_s <= cool.second_degree_s
    assert hot.third_degree_s >= hot.second_degree_s


def test_between_two_rows_the_shorter_time_counts() -> None:
    """52 degC is taken as 55 degC."""
    assert scald_time(temperature_k=325.15) == scald_time(temperature_k=328.15)
    assert scald_time(temperature_k=324.15).second_degree_s == 120.0


@pytest.mark.parametrize("temperature_k", [310.0, 600.0, float("nan")])
def test_where_the_table_is_silent_nothing_is_said(temperature_k: float) -> None:
    """Below its first row, and beyond what a hydraulic fluid survives."""
    with pytest.raises(OutOfRange, match="temperature_k"):
        scald_time(temperature_k=temperature_k)
