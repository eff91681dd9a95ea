"""The level from event to event, against a ledger written apart and against sums by hand."""

from __future__ import annotations

import pytest

from tests.unit.planning.follower import Day
from ullage.errors import OutOfRange
from ullage.planning.saw_tooth import Draw, Pour, saw_tooth

CASES = [
    # start, steady, flare, flare_s, container, rate, change, pourers, first_s, litres
    (3e-3, 1.0e-4, 2.0e-4, 3.0, 1e-3, 1.0e-4, 4.0, 1, 0.0, 12e-3),
    (3e-3, 5.0e-5, 1.0e-4, 2.5, 1e-3, 1.5e-4, 4.0, 1, 0.0, 12e-3),
    (3e-3, 1.5e-4, 1.5e-4, 0.0, 5e-4, 1.0e-4, 9.0, 2, 0.0, 7e-3),
    (3e-3, 1.5e-4, 0.5e-4, 4.0, 1e-3, 4.0e-4, 9.0, 2, 0.0, 9e-3),
    (2e-3, 8.0e-5, 2.4e-4, 3.3, 1e-3, 9.0e-5, 30.0, 3, 7.0, 9e-3),
]


def both(case: tuple[float, ...]) -> tuple[list[tuple[float, float]], Day, float]:
    """Return our bends, the ledger and the litres of a case."""
    start, steady, flare, flare_s, container, rate, change, pourers, first_s, litres = case
    ours = saw_tooth(
        start_m3=start,
        draw=Draw(steady_m3_s=steady, flare_m3_s=flare, flare_s=flare_s),
        pour=Pour(
            container_m3=container,
            pour_m3_s=rate,
            change_s=change,
            pourers=int(pourers),
            first_s=first_s,
        ),
        litres_m3=litres,
    )
    day = Day(
        start=start,
        steady=steady,
        flare=flare,
        flare_s=flare_s,
        margin_s=0.0,
        container=container,
        rate=lambda _: rate,
        change=lambda _: change,
        pourers=int(pourers),
        first_s=first_s,
    )
    return list(zip(ours.times_s, ours.levels_m3, strict=True)), day, litres


@pytest.mark.parametrize("case", CASES)
def test_the_level_is_what_a_ledger_of_containers_says(case: tuple[float, ...]) -> None:
    """Lowest and highest level, and every bend, agree to rounding."""
    ours, day, litres = both(case)
    times, levels = day.levels(litres)
    spans = day.unheld(times[-1])

    assert min(level for _, level in ours) == pytest.approx(min(levels), abs=1e-12)
    assert max(level for _, level in ours) == pytest.approx(max(levels), abs=1e-12)
    assert ours[-1] == pytest.approx((times[-1], levels[-1]), abs=1e-9)
    for t, level in ours:
        assert level == pytest.approx(day.start - day.drawn(t) + day.poured(spans, t), abs=1e-12)


def test_by_hand() -> None:
    """2 l, 0.1 l/s out, a litre in 5 s, 3 s to fetch the next: up 0.5 l, down 0.3 l, and so on."""
    found = saw_tooth(
        start_m3=2e-3,
        draw=Draw(steady_m3_s=1e-4, flare_m3_s=1e-4, flare_s=0.0),
        pour=Pour(container_m3=1e-3, pour_m3_s=2e-4, change_s=3.0),
        litres_m3=2.1e-3,
    )

    assert found.times_s == pytest.approx((0.0, 5.0, 8.0, 13.0, 16.0, 21.0))
    assert found.levels_m3 == pytest.approx((2e-3, 2.5e-3, 2.2e-3, 2.7e-3, 2.4e-3, 2.9e-3))
    assert found.containers == 3


def test_a_held_level_never_rises_above_where_it_is_held() -> None:
    """The stream slows down to the pump's flow; the container then lasts longer."""
    found = saw_tooth(
        start_m3=2e-3,
        draw=Draw(steady_m3_s=1e-4, flare_m3_s=1e-4, flare_s=0.0),
        pour=Pour(container_m3=1e-3, pour_m3_s=2e-4, change_s=3.0),
        litres_m3=2.6e-3,
        hold_m3=2e-3,
    )

    # Held for 10 s, 3 s without: 1.7 l; 3 s of 0.2 l/s bring it back, the rest is held.
    assert found.highest_m3 == pytest.approx(2e-3)
    assert found.times_s == pytest.approx((0.0, 10.0, 13.0, 16.0, 20.0, 23.0, 26.0))
    assert found.lowest_m3 == pytest.approx(1.7e-3)


def test_thimbles_are_refused() -> None:
    """A container that would be emptied a million times is a slip of units."""
    with pytest.raises(OutOfRange, match="larger containers"):
        saw_tooth(
            start_m3=2e-3,
            draw=Draw(steady_m3_s=1e-4, flare_m3_s=1e-4, flare_s=0.0),
            pour=Pour(container_m3=1e-9, pour_m3_s=2e-4, change_s=0.0),
            litres_m3=2.6e-3,
        )
