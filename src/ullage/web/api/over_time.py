"""What is due when, and how each circuit did over the years: worked out from what jobs left."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel

from ullage.jobs.due_list import Count, Due, Mark, When, due_list
from ullage.jobs.trends import UNITS, Followed, Trends, What, trends_of
from ullage.units.convert import HOUR_S
from ullage.web.api.given import IdInPath
from ullage.web.api.problems import refusals
from ullage.web.desk import Here

router = APIRouter(tags=["over time"])

_KM_M = 1e3
_PER_COUNT = {Count.DAY: 1.0, Count.DISTANCE: _KM_M, Count.HOURS: HOUR_S}


class MarkTold(BaseModel):
    """One count that an exchange is due by: ``at`` and ``shown`` are km or hours by ``count``.

    ``on`` is the day that this comes to at the machine's own pace, null where nobody can tell.
    """

    count: Count
    at: float | None
    shown: float | None
    read_at: datetime | None
    on: date | None
    is_passed: bool


class DueTold(BaseModel):
    """A circuit of a machine and when its exchange is due; ``circuit`` is null where it has none.

    ``first`` is what comes first, ``others`` are the other counts, ``last_job`` is the job that
    was filed last on the circuit.
    """

    machine: str
    machine_name: str
    circuit: str | None
    circuit_name: str
    when: When
    first: MarkTold | None
    others: list[MarkTold]
    reason: str
    last_job: str | None
    open_job: str | None


class PointTold(BaseModel):
    """One reading, with the ends of its interval where one is known.

    ``is_firm`` is false for a remainder that readings contradict.
    """

    job: str
    at: datetime
    distance_km: float | None
    hours: float | None
    value: float
    low: float | None
    high: float | None
    size: str
    is_firm: bool


class LimitTold(BaseModel):
    """What a reading is held to, in words, and whose word it is."""

    value: float
    words: str
    source: str
    size: str


class FollowedTold(BaseModel):
    """One kind of reading; ``unit`` is the ending that keys of this unit bear, empty for a code."""

    what: What
    unit: str
    interval: str
    points: list[PointTold]
    limits: list[LimitTold]


class TrendsTold(BaseModel):
    """What is followed of one circuit; kinds that nobody ever read are left out."""

    circuit: str
    circuit_name: str
    followed: list[FollowedTold]


def _clean(value: float) -> float:
    """Return a figure without what converting it left behind its last digits."""
    return float(f"{value:.12g}")


def _in_units(value: float | None, size: float) -> float | None:
    """Return an SI figure in units of a size; None stays None."""
    return None if value is None else _clean(value / size)


def _mark(mark: Mark) -> MarkTold:
    size = _PER_COUNT[mark.count]
    return MarkTold(
        count=mark.count,
        at=_in_units(mark.at, size),
        shown=_in_units(mark.shown, size),
        read_at=mark.read_at,
        on=mark.on,
        is_passed=mark.is_passed,
    )


def _due(due: Due) -> DueTold:
    served = due.served
    return DueTold(
        machine=served.machine.id,
        machine_name=served.machine.name,
        circuit=served.circuit_id or None,
        circuit_name=served.circuit,
        when=due.when,
        first=None if due.first is None else _mark(due.first),
        others=[_mark(mark) for mark in due.others],
        reason=due.reason,
        last_job=served.job_id,
        open_job=served.open_job_id,
    )


def _followed(followed: Followed) -> FollowedTold:
    return FollowedTold(
        what=followed.what,
        unit=UNITS[followed.what],
        interval=followed.interval,
        points=[
            PointTold(
                job=point.job_id,
                at=point.at,
                distance_km=_in_units(point.distance_m, _KM_M),
                hours=_in_units(point.running_s, HOUR_S),
                value=point.value,
                low=point.low,
                high=point.high,
                size=point.size,
                is_firm=point.is_firm,
            )
            for point in followed.points
        ],
        limits=[
            LimitTold(value=_clean(one.value), words=one.words, source=one.source, size=one.size)
            for one in followed.limits
        ],
    )


def _trends(trends: Trends) -> TrendsTold:
    return TrendsTold(
        circuit=trends.circuit_id,
        circuit_name=trends.circuit,
        followed=[_followed(one) for one in trends.followed],
    )


@router.get("/due")
def list_due(
    desk: Here,
    q: Annotated[str, Query(max_length=80, description="Looked for in name and marks.")] = "",
) -> list[DueTold]:
    """Return all circuits by when their exchange is due, overdue ones first."""
    return [_due(due) for due in due_list(desk, search=q.strip())]


@router.get("/machines/{machine_id}/trends", responses=refusals(404))
def read_trends(desk: Here, machine_id: IdInPath) -> list[TrendsTold]:
    """Return what is followed of each circuit of a machine, with the limits it is held to."""
    _, found = trends_of(desk, machine_id)
    return [_trends(one) for one in found]
