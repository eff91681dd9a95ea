"""What the page of trends shows: charts, the same figures as tables, and when it is due next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ullage.drawing.trend_svg import trend_picture
from ullage.errors import NotFound
from ullage.jobs.machine import Counter
from ullage.jobs.ports import Desk
from ullage.jobs.trends import Followed, NextDue, Point, Trends, What, trends_of
from ullage.units.convert import HOUR_S
from ullage.web.forms import as_sentence
from ullage.web.shown import NBSP, Units, amount_si, day, figure
from ullage.web.trend_charts import (
    NOT_FIRM,
    TITLES,
    Over,
    chart,
    limit_told,
    overs,
    placed,
    reading_told,
    told,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartShown:
    """A chart: its two shapes, and itself in words."""

    wide_url: str
    upright_url: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """A reading in the table beside the charts."""

    job_url: str
    day: str
    counter: str
    value: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedShown:
    """One kind of reading: charts, table, limits, and what intervals mean."""

    title: str
    charts: tuple[ChartShown, ...]
    rows: tuple[ReadingRow, ...]
    limits: tuple[str, ...]
    interval: str
    missing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitTrends:
    """All that is followed of a circuit, and when its exchange is due next."""

    name: str
    due: str
    reason: str
    followed: tuple[FollowedShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendsPage:
    """The trends of a machine, circuit by circuit."""

    machine_url: str
    machine: str
    circuits: tuple[CircuitTrends, ...]


def trends_page(desk: Desk, units: Units, machine_id: str) -> TrendsPage:
    """Return the trends of a machine."""
    machine, found = trends_of(desk, machine_id)
    counter = machine.counter
    return TrendsPage(
        machine_url=f"/machines/{machine.id}",
        machine=machine.name,
        circuits=tuple(_circuit(machine.id, one, counter, units) for one in found),
    )


def trend_image(
    desk: Desk,
    units: Units,
    machine_id: str,
    circuit_id: str,
    what: What,
    over: Over,
    *,
    is_upright: bool,
) -> str:
    """Return one chart as SVG, or raise ``NotFound``."""
    machine, found = trends_of(desk, machine_id)
    for trends in found:
        for followed in trends.followed:
            is_asked = (trends.circuit_id, followed.what) == (circuit_id, what)
            if is_asked and over in overs(followed, machine.counter):
                shown = chart(followed, over, trends.next_due, units)
                return trend_picture(shown, upright=is_upright)
    raise NotFound("chart", f"{what.value} over {over.value}")


def _circuit(machine_id: str, trends: Trends, counter: Counter, units: Units) -> CircuitTrends:
    address = f"/machines/{machine_id}/trends/{trends.circuit_id}"
    due = trends.next_due
    return CircuitTrends(
        name=trends.circuit,
        due="" if due is None else _due(due, units),
        reason="" if due is None else as_sentence(due.reason),
        followed=tuple(_followed(address, one, counter, units) for one in trends.followed),
    )


def _due(due: NextDue, units: Units) -> str:
    """Say when the exchange is due next."""
    parts = []
    if due.on is not None:
        parts.append(f"by {day(due.on)}")
    if due.distance_m is not None:
        parts.append(f"at {amount_si(due.distance_m, 'km', units, digits=0)}")
    if due.running_s is not None:
        parts.append(f"at {figure(due.running_s / HOUR_S, 0)}{NBSP}h")
    if not parts:
        return ""
    first = " or ".join(parts)
    return f"Due again {first}{', whichever comes first' if len(parts) > 1 else ''}."


def _followed(address: str, followed: Followed, counter: Counter, units: Units) -> FollowedShown:
    over_what = overs(followed, counter)
    return FollowedShown(
        title=TITLES[followed.what],
        charts=tuple(
            ChartShown(
                wide_url=f"{address}/{followed.what.value}/{over.value}/wide.svg",
                upright_url=f"{address}/{followed.what.value}/{over.value}/upright.svg",
                told=told(followed, over, units),
            )
            for over in over_what
        ),
        rows=_rows(followed, counter, units),
        limits=tuple(as_sentence(limit_told(one, followed.what)) for one in followed.limits),
        interval=as_sentence(followed.interval),
        missing=_missing(followed, over_what, units),
    )


def _rows(followed: Followed, counter: Counter, units: Units) -> tuple[ReadingRow, ...]:
    """Return the readings, the newest first; the numbers of a code stand together."""
    by_time: dict[tuple[str, str], list[Point]] = {}
    for point in followed.points:
        by_time.setdefault((point.at.isoformat(), point.job_id), []).append(point)
    return tuple(
        ReadingRow(
            job_url=f"/jobs/{same[0].job_id}",
            day=day(same[0].at),
            counter=_counter(same[0], counter, units),
            value=_value(followed.what, same),
            note="" if same[0].is_firm else as_sentence(NOT_FIRM.strip("; ")),
        )
        for same in sorted(by_time.values(), key=lambda points: points[0].at, reverse=True)
    )


def _value(what: What, same: Sequence[Point]) -> str:
    if what is What.PARTICLES:
        return "/".join(f"{point.value:.0f}" for point in same)
    return reading_told(same[0], what)


def _counter(point: Point, counter: Counter, units: Units) -> str:
    """Return what the machine's counter showed."""
    if counter is Counter.DISTANCE and point.distance_m is not None:
        return amount_si(point.distance_m, "km", units, digits=0)
    if counter is Counter.HOURS and point.running_s is not None:
        return f"{figure(point.running_s / HOUR_S, 0)}{NBSP}h"
    return "none" if counter is Counter.NONE else "not read"


def _missing(followed: Followed, over_what: Sequence[Over], units: Units) -> str:
    """Say which readings a chart over a counter has to leave out."""
    if all(len(placed(followed.points, one, units)) == len(followed.points) for one in over_what):
        return ""
    return "Readings of jobs in which nobody read the counter stand in the chart over time alone."
