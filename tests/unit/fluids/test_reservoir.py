"""Reservoirs: levels that fall, fluid that hides, books that close."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import Contradiction, OutOfRange
from ullage.fluids.reservoir import (
    dilution_check,
    level_time,
    tracer_volume,
    varying_volume,
    volume_balance,
)

READING = {"u_before_vfrac": 0.01, "u_after_vfrac": 0.01}


def test_filling_dilutes_by_volume_alone() -> None:
    """With nothing drawn out the old share is start over present volume."""
    left = varying_volume(start_m3=2e-3, in_m3_s=1e-4, out_m3_s=0.0, time_s=20.0)

    assert left == pytest.approx(0.5)


def test_a_standing_level_is_the_mixed_vessel() -> None:
    """The power law goes over into the exponential without a jump."""
    still = varying_volume(start_m3=2e-3, in_m3_s=1e-4, out_m3_s=1e-4, time_s=30.0)
    nearly = varying_volume(start_m3=2e-3, in_m3_s=1e-4, out_m3_s=1e-4 * (1 + 1e-9), time_s=30.0)

    assert still == pytest.approx(math.exp(-1.5))
    assert nearly == pytest.approx(still, rel=1e-7)


def test_an_empty_reservoir_has_no_mixture() -> None:
    """The sentence says when it ran empty."""
    with pytest.raises(OutOfRange, match="below 20 s"):
        varying_volume(start_m3=2e-3, in_m3_s=0.0, out_m3_s=1e-4, time_s=20.0)


def test_the_time_to_a_level_leads_to_the_level() -> None:
    """Volume and rate over that time leave what has to stay."""
    time_s = level_time(start_m3=2e-3, keep_m3=0.5e-3, in_m3_s=4e-5, out_m3_s=9e-5)

    assert 2e-3 - time_s * 5e-5 == pytest.approx(0.5e-3)


@pytest.mark.parametrize("in_m3_s", [9e-5, 1e-4])
def test_a_level_that_does_not_fall_never_gets_there(in_m3_s: float) -> None:
    """No endless time is returned."""
    with pytest.raises(OutOfRange, match="does not fall"):
        level_time(start_m3=2e-3, keep_m3=0.5e-3, in_m3_s=in_m3_s, out_m3_s=9e-5)


def test_a_start_below_what_has_to_stay_is_refused() -> None:
    """The level was passed before it began."""
    with pytest.raises(OutOfRange, match="start_m3"):
        level_time(start_m3=1e-4, keep_m3=0.5e-3, in_m3_s=0.0, out_m3_s=9e-5)


@given(hidden=st.floats(1e-5, 1e-2), before=st.floats(0.0, 0.6))
def test_the_check_finds_the_volume_that_came_out(hidden: float, before: float) -> None:
    """Mixing a hidden volume of old fluid in and asking back gives it again."""
    known = 8e-3
    after = (known * before + hidden) / (known + hidden)
    found = dilution_check(known_m3=known, before_vfrac=before, after_vfrac=after, **READING)

    assert found.hidden_m3 == pytest.approx(hidden, rel=1e-9)


def test_the_uncertainty_is_that_of_small_shifts() -> None:
    """The stated spread is what shifting either reading by its own does."""

    def hidden(before: float, after: float) -> float:
        """Return the volume found for two readings."""
        return dilution_check(
            known_m3=8e-3, before_vfrac=before, after_vfrac=after, **READING
        ).hidden_m3

    step = 1e-6
    by_before = (hidden(0.1 + step, 0.3) - hidden(0.1 - step, 0.3)) / (2 * step)
    by_after = (hidden(0.1, 0.3 + step) - hidden(0.1, 0.3 - step)) / (2 * step)
    found = dilution_check(known_m3=8e-3, before_vfrac=0.1, after_vfrac=0.3, **READING)

    assert found.u_m3 == pytest.approx(0.01 * math.hypot(by_before, by_after), rel=1e-6)


def test_a_rise_within_reading_error_is_said() -> None:
    """Below the decision limit nothing is shown."""
    found = dilution_check(known_m3=8e-3, before_vfrac=0.10, after_vfrac=0.11, **READING)

    assert found.hidden_m3 < found.limit_m3
    assert [c.code for c in found.caveats] == ["lower-bound", "below-decision-limit"]


def test_old_fluid_that_vanished_is_a_contradiction() -> None:
    """Swapped samples are named as the likely reason."""
    with pytest.raises(Contradiction, match="which sample is which"):
        dilution_check(known_m3=8e-3, before_vfrac=0.30, after_vfrac=0.20, **READING)


def test_a_mixture_as_old_as_what_hides_tells_nothing() -> None:
    """At the end of the scale any volume would fit."""
    with pytest.raises(OutOfRange, match="after_vfrac"):
        dilution_check(known_m3=8e-3, before_vfrac=0.3, after_vfrac=1.0, **READING)


def test_a_tracer_that_does_not_show_is_refused() -> None:
    """No rise, no volume."""
    with pytest.raises(OutOfRange, match="after_kg_m3"):
        tracer_volume(tracer_kg=1e-6, before_kg_m3=1e-3, after_kg_m3=1e-3)


@pytest.mark.parametrize(("u_m3", "closes"), [(0.4e-4, False), (0.6e-4, True)])
def test_books_close_within_twice_their_uncertainty(u_m3: float, closes: bool) -> None:
    """A tenth of a litre is missing; whether that matters depends on the jug."""
    books = volume_balance(start_m3=0.0100, in_m3=0.0120, out_m3=0.0116, end_m3=0.0103, u_m3=u_m3)

    assert books.closes is closes
