"""Where do readings run to, over distance, time or hours, and when is the next change due?

A robust straight line: the median of the slopes of all pairs, so that one spoilt sample changes
little, with the interval that belongs to it. Leaves out curves; additives that run out do so in the
end faster than any line says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ullage.errors import OutOfRange
from ullage.planning.due import Interval, Use, life_after
from ullage.planning.finding import OURS
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true

#: Of the slopes that the interval covers.
CONFIDENCE = 0.9
FEWEST = 3
_FEW = 5
_INTERVALS = {
    "age": "the interval in time",
    "distance": "the interval in distance",
    "running": "the interval in running hours",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A line through readings: value = ``level`` + ``slope`` x (x - ``pivot``), with its ends.

    ``crosses_at`` is where the line meets the limit, None where it runs away from it;
    ``crosses_soonest`` and ``crosses_latest`` belong to the steep and the flat end of the slope.
    """

    slope: float
    slope_low: float
    slope_high: float
    level: float
    pivot: float
    last: float
    crosses_at: float | None
    crosses_soonest: float | None
    crosses_latest: float | None
    caveats: tuple[Caveat, ...]

    def at(self, x: float) -> float:
        """Return the value of the line at a place."""
        return self.level + self.slope * (x - self.pivot)


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """When the next change is due, as use of the fluid now in: what comes first, and why.

    ``x`` is in the unit of that use: m for distance, s for age and running.
    """

    what: str
    x: float
    reason: str
    source: str


def trend(x: Sequence[float], y: Sequence[float], *, limit: float) -> Trend:
    """Return a robust line through readings, and where it meets a limit.

    Parameters
    ----------
    x : (n,)
        Distance, age or hours of the fluid at each reading, three different ones at least. [any]
    y : (n,)
        The readings. [any]
    limit : scalar
        What they must not exceed. [any]

    Returns
    -------
    trend : Trend
        Slope with its interval, and where the limit is met.

    Raises
    ------
    OutOfRange
        If there are fewer than three readings, at fewer than three places, or not as many of one
        as of the other.

    Validity
    --------
    One filling, without top-ups of note: fresh fluid makes readings look younger. The interval
    covers the slope at 90 %, as if the scatter were the same throughout; with fewer than five
    readings it is wide or the ends of all slopes.

    Source
    ------
    Median of slopes with its rank interval, by scipy (``theil-1950``, ``sen-1968``).

    Examples
    --------
    >>> found = trend([0.0, 1.0, 2.0, 3.0], [100.0, 200.0, 300.0, 400.0], limit=500.0)
    >>> round(found.crosses_at, 6)
    4.0
    """
    if len(x) != len(y) or len(x) < FEWEST or len(set(x)) < FEWEST:
        raise OutOfRange(
            "readings",
            f"{len(x)} places and {len(y)} values",
            f"at least {FEWEST} values at as many different places",
            "one or two readings make no trend: judge them by their limits",
        )
    for value in (*x, *y, limit):
        bounded("reading", value)
    # Loading it takes half a second, which a plan without trends need not wait for.
    from scipy.stats import theilslopes

    across, up = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    found = theilslopes(up, across, alpha=CONFIDENCE)
    slope, low, high = float(found[0]), float(found[2]), float(found[3])
    pivot = float(np.median(across))
    level = float(np.median(up - slope * (across - pivot)))
    last = float(across.max())

    def meets(rate: float) -> float | None:
        if level + rate * (last - pivot) >= limit:
            return last
        return pivot + (limit - level) / rate if rate > 0.0 else None

    return Trend(
        slope=slope,
        slope_low=low,
        slope_high=high,
        level=level,
        pivot=pivot,
        last=last,
        crosses_at=meets(slope),
        crosses_soonest=meets(high),
        crosses_latest=meets(low),
        caveats=only_where_true(
            (
                len(x) < _FEW,
                Caveat(
                    code="few-readings",
                    text="Fewer than five readings: the line is a first guess.",
                ),
            ),
            (
                low <= 0.0 <= high,
                Caveat(
                    code="no-clear-trend",
                    text="The readings may as well stand still: the limit may never be met.",
                ),
            ),
        ),
    )


def next_due(
    *,
    interval: Interval,
    old_vfrac: float,
    shortening: float = 1.0,
    trends: Sequence[tuple[str, str, Trend]] = (),
    per_day: Use | None = None,
) -> Next:
    """Return when the next change is due, and what comes first.

    Parameters
    ----------
    interval : Interval
        What an entirely new filling lasts.
    old_vfrac : scalar
        Old fluid that the change left behind, 0 to 1. [m3/m3]
    shortening : scalar
        As in ``due.life_after``. [-]
    trends : (n,)
        Reading, use ("distance", "age" or "running") and its line over that use.
    per_day : Use
        Distance and hours of a usual day, to compare them with age; ``age_s`` is ignored.

    Returns
    -------
    found : Next
        The first of all dates, as use of the filling.

    Raises
    ------
    OutOfRange
        If no interval and no trend gives any date.

    Validity
    --------
    The shortening by old fluid is an assumption. Without a usual day, age comes before distance and
    distance before hours where several are named.

    Source
    ------
    Ours, no source: ``due.life_after``.
    """
    percent = f"{100.0 * old_vfrac:.0f} % of old fluid stayed"
    dates: list[Next] = []
    for what, name in (("age", "age_s"), ("distance", "distance_m"), ("running", "running_s")):
        whole: float | None = getattr(interval, name)
        if whole is not None:
            left = life_after(life=whole, old_vfrac=old_vfrac, shortening=shortening)
            dates.append(
                Next(
                    what=what,
                    x=left,
                    reason=f"{_INTERVALS[what]}, shortened because {percent}",
                    source=OURS,
                )
            )
    for reading, what, line in trends:
        soonest = line.crosses_soonest if line.crosses_at is not None else None
        if soonest is not None:
            dates.append(
                Next(
                    what=what,
                    x=soonest,
                    reason=f"{reading} meets its limit if it goes on like this",
                    source=OURS,
                )
            )
    if not dates:
        raise OutOfRange(
            "interval",
            "nothing",
            "an interval of distance, age or hours, or a trend that meets its limit",
            "take the usual one",
        )
    return min(dates, key=lambda date: _days(date, per_day))


def _days(date: Next, per_day: Use | None) -> float:
    """Return a date in days where a usual day says so; else its place in the order of giving."""
    if date.what == "age":
        return date.x / 86400.0
    use = per_day or Use()
    rate = use.distance_m if date.what == "distance" else use.running_s
    return date.x / rate if rate else float("inf")
