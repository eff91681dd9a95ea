"""What is due: every circuit of every machine, the one whose exchange is due first on top.

The last filed job of a circuit says until when its fluid lasts: a day, a distance, hours, or
several. A distance becomes a day by the newest reading of the counter and the machine's own pace.
The store hands out all that is needed at once (``Served``), so that a list of thousands reads no
job. Leaves out working the dates out: closing a job does that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from ullage.jobs.event import Event, Kind
from ullage.jobs.job import standing
from ullage.jobs.machine import CounterReading
from ullage.jobs.ports import Desk
from ullage.jobs.served import Served
from ullage.units.convert import HOUR_S

_KM_M, _DAY_S = 1e3, 24.0 * HOUR_S
#: A pace from readings closer to each other than this says little.
LEAST_DAYS = 7.0


class When(StrEnum):
    """Where an exchange stands in time."""

    OVERDUE = "overdue"
    TO_COME = "to come"
    UNKNOWN = "unknown"
    NEVER = "never served"


class Count(StrEnum):
    """What a date counts."""

    DAY = "day"
    DISTANCE = "distance"
    HOURS = "hours"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How far a counter goes in a day, and between which readings that was seen."""

    per_day: float
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One count that an exchange is due by.

    ``at`` and ``shown`` are where it is due and what the counter showed last, in m or s; ``on`` is
    the day that this comes to, None where nobody can tell. ``is_passed`` is true for what a
    calendar or a counter shows, not for what only the pace suggests.
    """

    count: Count
    at: float | None = None
    shown: float | None = None
    read_at: datetime | None = None
    pace: Pace | None = None
    on: date | None = None
    is_passed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A circuit of a machine and when its exchange is due: by the first of its marks, and why."""

    served: Served
    when: When
    first: Mark | None
    others: tuple[Mark, ...]
    reason: str


def due_list(desk: Desk, *, search: str = "") -> tuple[Due, ...]:
    """Return all circuits: overdue ones by how long, those to come by day, then the others."""
    today = desk.now().date()
    found = [due_of(served, today) for served in desk.store.served(search=search)]
    return tuple(sorted(found, key=_order))


def due_of(served: Served, today: date) -> Due:
    """Return when the exchange of a circuit is due."""
    if served.job_id is None:
        return Due(served=served, when=When.NEVER, first=None, others=(), reason="")
    event = _next_due(served.events)
    if event is None:
        return Due(
            served=served,
            when=When.UNKNOWN,
            first=None,
            others=(),
            reason="its last record does not say when it is due again",
        )
    marks = sorted(_marks(event, served, today), key=_soonest)
    reason = str(event.payload["reason"])
    if not marks:
        return Due(served=served, when=When.UNKNOWN, first=None, others=(), reason=reason)
    first, *others = marks
    is_over = first.is_passed or (first.on is not None and first.on < today)
    when = When.OVERDUE if is_over else When.UNKNOWN if first.on is None else When.TO_COME
    return Due(served=served, when=when, first=first, others=tuple(others), reason=reason)


def _next_due(events: Sequence[Event]) -> Event | None:
    """Return the newest date that was not taken back."""
    stands = [event for event in standing(events) if event.kind is Kind.NEXT_DUE]
    return stands[-1] if stands else None


def _marks(event: Event, served: Served, today: date) -> Iterator[Mark]:
    """Yield what an exchange is due by."""
    payload = event.payload
    if payload.get("on"):
        on = _day(str(payload["on"]))
        if on is not None:
            yield Mark(count=Count.DAY, on=on, is_passed=on < today)
    for count, key, size, readings, name in (
        (Count.DISTANCE, "distance_km", _KM_M, served.distances, "distance_m"),
        (Count.HOURS, "hours", HOUR_S, served.hours, "running_s"),
    ):
        if payload.get(key) is not None:
            yield counted(count, float(payload[key]) * size, readings, name)


def counted(count: Count, at: float, readings: Sequence[CounterReading], name: str) -> Mark:
    """Return the mark of a counter, with the day that its pace comes to."""
    if not readings:
        return Mark(count=count, at=at)
    last = readings[-1]
    shown = float(getattr(last, name))
    pace = pace_of(readings, name)
    left = at - shown
    on: date | None = None
    if left <= 0.0:
        on = last.read_at.date()
    elif pace is not None and pace.per_day > 0.0 and left / pace.per_day < 36_500.0:
        on = (last.read_at + timedelta(days=left / pace.per_day)).date()
    return Mark(
        count=count,
        at=at,
        shown=shown,
        read_at=last.read_at,
        pace=pace,
        on=on,
        is_passed=left <= 0.0,
    )


def pace_of(readings: Sequence[CounterReading], name: str) -> Pace | None:
    """Return how far a counter goes in a day; None where the readings can't say.

    From the first to the last reading, as when a date is worked out.
    """
    if len(readings) < 2:
        return None
    first, last = readings[0], readings[-1]
    days = (last.read_at - first.read_at).total_seconds() / _DAY_S
    if days < LEAST_DAYS:
        return None
    way = float(getattr(last, name)) - float(getattr(first, name))
    return Pace(per_day=max(way, 0.0) / days, first_at=first.read_at, last_at=last.read_at)


def _soonest(mark: Mark) -> tuple[bool, date]:
    """Order marks: what is passed first, then by day, then what has none."""
    return (not mark.is_passed, mark.on or date.max)


_PLACES = {When.OVERDUE: 0, When.TO_COME: 1, When.UNKNOWN: 2, When.NEVER: 3}


def _order(due: Due) -> tuple[int, date, str, str]:
    on = due.first.on if due.first is not None and due.first.on is not None else date.max
    served = due.served
    return (_PLACES[due.when], on, served.machine.name.casefold(), served.circuit.casefold())


def _day(text: str) -> date | None:
    """Return a day; a job that came from elsewhere may hold any text."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
