"""From where to where does an axis go, and which round numbers or days stand at it?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date


def round_marks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Return round numbers from ``low`` to ``high``, ``most`` at most.

    >>> round_marks(0.0, 480.0), round_marks(13.0, 20.0)
    ((0.0, 100.0, 200.0, 300.0, 400.0), (14.0, 16.0, 18.0, 20.0))
    """
    step = 10.0 ** math.floor(math.log10((high - low) / most))
    while True:
        for factor in (1.0, 2.0, 5.0):
            size = factor * step
            first, last = math.ceil(low / size - 1e-9), math.floor(high / size + 1e-9)
            if last - first < most:
                return tuple(round(i * size, 9) for i in range(first, last + 1))
        step *= 10.0


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_marks(low: float, high: float, most: int = 6) -> tuple[tuple[float, str], ...]:
    """Return the first days of years or months between two days, counted as ``toordinal`` does.

    >>> low, high = date(2024, 3, 1).toordinal(), date(2029, 2, 1).toordinal()
    >>> [words for _, words in day_marks(low, high)]
    ['2025', '2026', '2027', '2028', '2029']
    """
    first, last = date.fromordinal(math.ceil(low)), date.fromordinal(math.floor(high))
    for step in (1, 2, 3, 6, 12, 24, 60, 120, 240, 600):
        months = range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
        found = [date(n // 12, n % 12 + 1, 1) for n in months if n % step == 0]
        found = [one for one in found if low <= one.toordinal() <= high]
        if len(found) <= most:
            return tuple((float(one.toordinal()), _day_words(one, step)) for one in found)
    return ()


def _day_words(day: date, step: int) -> str:
    return str(day.year) if step >= 12 else f"{_MONTHS[day.month - 1]} {day.year}"


def spanned(
    values: Sequence[float], *, least: float, from_zero: bool = False
) -> tuple[float, float]:
    """Return the ends of an axis that holds some values with a margin, ``least`` wide at least."""
    low, high = min(values), max(values)
    middle, wide = (low + high) / 2.0, max(high - low, least)
    low, high = middle - 0.66 * wide, middle + 0.66 * wide
    if from_zero:
        return 0.0, max(1.12 * max(values), least)
    return low, high
