"""The charts of a machine's page of trends: what is followed, over time or over a counter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from ullage.drawing.trend_axes import day_marks, round_marks, spanned
from ullage.drawing.trend_svg import Axis, Dot, Hairline, Sign, TrendChart
from ullage.jobs.machine import Counter
from ullage.jobs.trends import SIZES, UNITS, Followed, Limit, NextDue, Point, What
from ullage.units.convert import HOUR_S
from ullage.web.shown import Units, day, figure, own_value, word_of

_KM_M = 1e3

#: What is said of a reading that is none.
NOT_FIRM = "; expected before measuring, the readings contradict it"
#: What each kind of reading is called, at the head of its chart.
TITLES = {
    What.REMAINDER: "Old fluid left by each job",
    What.PARTICLES: "Particle code as found",
    What.WATER: "Water as found",
    What.VISCOSITY: "Viscosity at 40 \N{DEGREE SIGN}C as found",
    What.ACID: "Acid number as found",
}
_SIGNS = dict(zip(SIZES, Sign, strict=True))
# An axis is at least this wide, so that one reading still has a place of its own.
_LEAST_UP = {
    What.REMAINDER: 5.0,
    What.PARTICLES: 6.0,
    What.WATER: 50.0,
    What.VISCOSITY: 4.0,
    What.ACID: 0.5,
}
_LEAST_DAYS, _LEAST_COUNT = 180.0, 500.0


class Over(StrEnum):
    """What readings are followed over."""

    TIME = "time"
    DISTANCE = "distance"
    HOURS = "hours"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A reading and where it stands across."""

    point: Point
    x: float


def placed(points: Sequence[Point], over: Over, units: Units) -> tuple[Placed, ...]:
    """Return the readings that have a place; a counter that nobody read gives none."""
    found = ((point, _place(point, over, units)) for point in points)
    return tuple(Placed(point=point, x=x) for point, x in found if x is not None)


def overs(followed: Followed, counter: Counter) -> tuple[Over, ...]:
    """Return what a kind of reading can be followed over: time, and the machine's own counter."""
    match counter:
        case Counter.DISTANCE if any(p.distance_m is not None for p in followed.points):
            return (Over.TIME, Over.DISTANCE)
        case Counter.HOURS if any(p.running_s is not None for p in followed.points):
            return (Over.TIME, Over.HOURS)
    return (Over.TIME,)


def _place(point: Point, over: Over, units: Units) -> float | None:
    if over is Over.TIME:
        local = point.at.astimezone()
        return local.toordinal() + (local.hour + local.minute / 60.0) / 24.0
    if over is Over.DISTANCE:
        return _own_distance(point.distance_m, units)
    return None if point.running_s is None else point.running_s / HOUR_S


def _own_distance(distance_m: float | None, units: Units) -> float | None:
    return None if distance_m is None else own_value(distance_m / _KM_M, "km", units)


def chart(followed: Followed, over: Over, next_due: NextDue | None, units: Units) -> TrendChart:
    """Return the chart of one kind of reading."""
    dots = placed(followed.points, over, units)
    moment = _moment(next_due, over, units)
    return TrendChart(
        title=TITLES[followed.what],
        told=told(followed, over, units),
        across=_across([dot.x for dot in dots], over, moment, units),
        up=_up(followed),
        dots=tuple(_dot(one, followed.what) for one in dots),
        limits=tuple(
            Hairline(at=limit.value, words=limit_told(limit, followed.what))
            for limit in followed.limits
        ),
        moment=moment,
        signs=tuple((sign, size) for size, sign in _SIGNS.items())
        if followed.what is What.PARTICLES
        else (),
    )


def _dot(one: Placed, what: What) -> Dot:
    point = one.point
    return Dot(
        x=one.x,
        y=point.value,
        low=point.low,
        high=point.high,
        figure=figure(point.value, 0 if what in (What.REMAINDER, What.PARTICLES) else None),
        told=f"{reading_told(point, what)}, {day(point.at)}{'' if point.is_firm else NOT_FIRM}",
        sign=_SIGNS.get(point.size, Sign.CIRCLE),
        old_share=point.value / 100.0 if what is What.REMAINDER else None,
        is_firm=point.is_firm,
    )


def _across(xs: Sequence[float], over: Over, moment: Hairline | None, units: Units) -> Axis:
    """Return the axis across; a moment to come is still on it."""
    least = _LEAST_DAYS if over is Over.TIME else _LEAST_COUNT
    low, high = spanned([*xs, *((moment.at,) if moment else ())], least=least)
    if over is Over.TIME:
        return Axis(low=low, high=high, marks=day_marks(low, high), words="time")
    low = max(low, 0.0)
    words = "distance" if over is Over.DISTANCE else "running hours"
    unit = word_of("km", units) if over is Over.DISTANCE else "h"
    return Axis(
        low=low,
        high=high,
        marks=tuple((mark, figure(mark, 0)) for mark in round_marks(low, high)),
        words=f"{words}, {unit}",
    )


def _up(followed: Followed) -> Axis:
    """Return the axis upwards: from nothing, except for what is never near it."""
    what = followed.what
    values = [limit.value for limit in followed.limits]
    for point in followed.points:
        values += [
            point.value,
            *(end for end in (point.low, point.high) if end is not None),
        ]
    from_zero = what not in (What.PARTICLES, What.VISCOSITY)
    low, high = spanned(values, least=_LEAST_UP[what], from_zero=from_zero)
    low = max(low, 0.0)
    if what is What.REMAINDER:
        high = min(high, 100.0)
    return Axis(
        low=low,
        high=high,
        marks=tuple((mark, figure(mark)) for mark in round_marks(low, high)),
        words=unit_of(what) or "ISO 4406 number",
    )


def _moment(next_due: NextDue | None, over: Over, units: Units) -> Hairline | None:
    """Return when the exchange is due next, where that is known over this."""
    if next_due is None:
        return None
    if over is Over.TIME:
        if next_due.on is None:
            return None
        return Hairline(at=float(next_due.on.toordinal()), words=f"due {day(next_due.on)}")
    at = (
        _own_distance(next_due.distance_m, units)
        if over is Over.DISTANCE
        else None
        if next_due.running_s is None
        else next_due.running_s / HOUR_S
    )
    unit = word_of("km", units) if over is Over.DISTANCE else "h"
    return None if at is None else Hairline(at=at, words=f"due at {figure(at, 0)} {unit}")


def unit_of(what: What) -> str:
    """Return the unit of a kind of reading, nothing for a code."""
    return "old fluid, %" if what is What.REMAINDER else word_of(UNITS[what], Units())


def reading_told(point: Point, what: What) -> str:
    """Return a reading in words, with its interval where one is known."""
    if what is What.PARTICLES:
        return f"{point.value:.0f} at {point.size}"
    if what is What.REMAINDER:
        band = (
            ""
            if point.low is None or point.high is None
            else f" ({point.low:.0f}\N{EN DASH}{point.high:.0f})"
        )
        return f"{point.value:.0f} %{band}"
    return f"{figure(point.value)} {unit_of(what)}"


def limit_told(limit: Limit, what: What) -> str:
    """Return a limit in words, with whose it is."""
    unit = "%" if what is What.REMAINDER else unit_of(what)
    value = f"{figure(limit.value)} {unit}".strip()
    if limit.size:
        return f"{value} at {limit.size}: {limit.source}"
    return f"{value}: {limit.words}; {limit.source}"


def told(followed: Followed, over: Over, units: Units) -> str:
    """Return a chart in words: how many readings, the first and the last, the limits."""
    dots = placed(followed.points, over, units)
    times = sorted({one.point.at for one in dots})
    across = {Over.TIME: "time", Over.DISTANCE: "distance", Over.HOURS: "running hours"}[over]

    def at(when: object) -> str:
        same = [one.point for one in dots if one.point.at == when]
        return " and ".join(reading_told(point, followed.what) for point in same)

    title = TITLES[followed.what]
    if len(times) == 1:
        said = f"{title}, over {across}: one reading, {at(times[0])} on {day(times[0])}."
    else:
        said = (
            f"{title}, over {across}: {len(times)} readings, from {at(times[0])} on "
            f"{day(times[0])} to {at(times[-1])} on {day(times[-1])}."
        )
    limits = "; ".join(limit_told(limit, followed.what) for limit in followed.limits)
    return f"{said} {limits}." if limits else said
