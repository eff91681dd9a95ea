"""Figures read the same everywhere, and never say nothing or everything where it isn't so."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.drawing.figures import litres, percent_band, spread, whole_percent
from ullage.drawing.lettering import folded, text_width
from ullage.drawing.panel import spread_out, ticks


@given(st.floats(1e-6, 1.0 - 1e-6))
def test_a_trace_is_never_nothing_and_a_rest_never_everything(share: float) -> None:
    """Nought per cent means none, a hundred means all."""
    assert whole_percent(share) not in ("0", "100")


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=30))
def test_a_band_holds_its_middle(shares: list[float]) -> None:
    """What is written as the band is never narrower than the band itself."""
    values = spread(np.array(shares))
    ends = percent_band(values).removesuffix(" %").replace("<1", "0").replace(">99", "100")
    low, high = (float(end) for end in (ends.split("–") * 2)[:2])

    assert low - 0.5 <= 100.0 * values.middle <= high + 1.0


def test_a_spread_without_anybody_is_refused() -> None:
    """Where no member arrived there is no figure to show."""
    with pytest.raises(ValueError, match="one member at least"):
        spread(np.array([np.nan, np.nan]))


@pytest.mark.parametrize(
    ("volume_m3", "expected"),
    [(9.99e-3, "9.99 L"), (9.996e-3, "10.0 L"), (9.94e-5, "99 mL"), (9.96e-5, "0.10 L")],
)
def test_litres_change_their_form_without_a_gap(volume_m3: float, expected: str) -> None:
    """Rounding never makes 100 mL or 9.100 L."""
    assert litres(volume_m3) == expected


@given(st.text(max_size=80), st.floats(30.0, 200.0))
def test_folded_words_fit_their_room(words: str, room: float) -> None:
    """No row is wider than it may be."""
    rows = folded(words, room, 12.0, most=3)

    assert len(rows) <= 3
    assert all(text_width(row, 12.0) <= room for row in rows)


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=6))
def test_names_at_the_ends_of_curves_never_touch(wishes: list[float]) -> None:
    """However close the curves end, their names stand one below the other inside the plot."""
    heights = [20.0] * len(wishes)
    tops = spread_out(sorted(wishes), heights, 0.0, 120.0)

    assert all(b - a >= 20.0 - 1e-9 for a, b in pairwise(tops))
    assert tops[-1] + 20.0 <= 120.0 + 1e-9


@given(st.floats(0.05, 5000.0))
def test_an_axis_has_a_handful_of_round_numbers(most: float) -> None:
    """From two to eight ticks, the first at nought, none beyond the end."""
    found = ticks(most)

    assert found[0] == 0.0
    assert 2 <= len(found) <= 8
    assert found[-1] <= most + 1e-6
