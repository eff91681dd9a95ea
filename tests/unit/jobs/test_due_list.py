"""What is due: dates, distances and hours against counters and their pace."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from tests.fakes.desk import START, memory_desk
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.due_list import Count, When, due_list, due_of
from ullage.jobs.event import Event, Kind
from ullage.jobs.log import log
from ullage.jobs.machine import CounterReading, Machine
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.served import Served
from ullage.jobs.stage import STAGES

TODAY = date(2026, 5, 4)
AT = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


def _event(kind: Kind, name: str, /, **payload: Any) -> Event:
    return Event(
        job_id="job1",
        seq=1,
        uid=name,
        device="desk",
        device_seq=0,
        kind=kind,
        device_at=AT,
        server_at=AT,
        payload=payload,
    )


def _read(
    days_ago: float, *, km: float | None = None, hours: float | None = None
) -> CounterReading:
    return CounterReading(
        machine_id="m",
        job_id=None,
        read_at=AT - timedelta(days=days_ago),
        distance_m=None if km is None else km * 1e3,
        running_s=None if hours is None else hours * 3600.0,
    )


def _served(*events: Event, **more: Any) -> Served:
    given: dict[str, Any] = {"job_id": "job1", "events": events, **more}
    machine = Machine(id="m", name="Yard lift 5", added_at=AT)
    return Served(machine=machine, circuit_id="c", circuit="Mast", is_only_circuit=True, **given)


def test_a_day_that_is_over_is_overdue() -> None:
    """The day itself still counts as to come."""
    over = _served(_event(Kind.NEXT_DUE, "a", on="2026-05-03", reason="age"))
    due = _served(_event(Kind.NEXT_DUE, "a", on="2026-05-04", reason="age"))

    assert due_of(over, TODAY).when is When.OVERDUE
    assert due_of(due, TODAY).when is When.TO_COME


def test_a_distance_becomes_a_day_by_the_pace() -> None:
    """100 km a day, 1000 km to go: ten days."""
    served = _served(
        _event(Kind.NEXT_DUE, "a", distance_km=51_000.0, reason="distance"),
        distances=(_read(100, km=40_000.0), _read(0, km=50_000.0)),
    )
    found = due_of(served, TODAY)

    assert found.first is not None
    assert (found.when, found.first.on) == (When.TO_COME, date(2026, 5, 14))
    assert found.first.pace is not None
    assert found.first.pace.per_day == pytest.approx(100e3)


def test_a_counter_past_its_mark_is_overdue_since_it_was_read() -> None:
    """Whatever a calendar says."""
    served = _served(
        _event(Kind.NEXT_DUE, "a", on="2027-01-01", distance_km=49_000.0, reason="first of two"),
        distances=(_read(3, km=50_000.0),),
    )
    found = due_of(served, TODAY)

    assert found.first is not None
    assert (found.when, found.first.count) == (When.OVERDUE, Count.DISTANCE)
    assert (found.first.is_passed, found.first.on) == (True, date(2026, 5, 1))


def test_a_pace_may_say_that_a_mark_was_passed_unseen() -> None:
    """Overdue, but not called passed: nobody read the counter since."""
    served = _served(
        _event(Kind.NEXT_DUE, "a", hours=1010.0, reason="hours"),
        hours=(_read(120, hours=900.0), _read(20, hours=1000.0)),
    )
    found = due_of(served, TODAY)

    assert found.first is not None
    assert (found.when, found.first.is_passed) == (When.OVERDUE, False)
    assert found.first.on == date(2026, 4, 24)


@pytest.mark.parametrize(
    "readings",
    [(), (_read(5, km=40_000.0),), (_read(5, km=40_000.0), _read(1, km=40_300.0))],
    ids=["none", "one", "two within a week"],
)
def test_without_a_pace_nobody_can_tell(readings: tuple[CounterReading, ...]) -> None:
    """A distance alone is no day."""
    served = _served(
        _event(Kind.NEXT_DUE, "a", distance_km=51_000.0, reason="distance"), distances=readings
    )
    found = due_of(served, TODAY)

    assert found.first is not None
    assert (found.when, found.first.on) == (When.UNKNOWN, None)


def test_a_machine_that_stands_still_never_gets_there() -> None:
    """Nor does one whose counter ran backwards."""
    served = _served(
        _event(Kind.NEXT_DUE, "a", distance_km=51_000.0, reason="distance"),
        distances=(_read(100, km=50_000.0), _read(0, km=49_000.0)),
    )

    assert due_of(served, TODAY).when is When.UNKNOWN


def test_the_first_of_several_marks_counts() -> None:
    """The others are kept behind it."""
    served = _served(
        _event(
            Kind.NEXT_DUE, "a", on="2026-12-01", distance_km=51_000.0, hours=9e3, reason="first"
        ),
        distances=(_read(100, km=40_000.0), _read(0, km=50_000.0)),
    )
    found = due_of(served, TODAY)

    assert found.first is not None
    assert found.first.count is Count.DISTANCE
    assert [mark.count for mark in found.others] == [Count.DAY, Count.HOURS]


def test_a_date_that_was_taken_back_does_not_count() -> None:
    """The one before it does."""
    served = _served(
        _event(Kind.NEXT_DUE, "a", on="2026-01-01", reason="first"),
        _event(Kind.NEXT_DUE, "b", on="2028-01-01", reason="second"),
        _event(Kind.UNDONE, "c", uid="b"),
    )

    assert due_of(served, TODAY).reason == "first"


def test_a_record_without_a_date_says_so() -> None:
    """As does a day that is none."""
    silent, odd = (
        due_of(_served(), TODAY),
        due_of(_served(_event(Kind.NEXT_DUE, "a", on="in spring", reason="said so")), TODAY),
    )

    assert (silent.when, odd.when) == (When.UNKNOWN, When.UNKNOWN)
    assert "does not say" in silent.reason


def _machine(desk: Desk, name: str, on: str = "") -> None:
    machine = add_machine(desk, Known(name=name))
    circuit = add_circuit(desk, machine.id, template_table("scissor-lift"))
    if on:
        head = open_job(desk, circuit.circuit_id)
        if on != "silent":
            log(desk, head.id, Kind.NEXT_DUE, {"on": on, "reason": "age"})
        for stage in STAGES:
            log(desk, head.id, Kind.STAGE, {"stage": stage.value, "state": "finished"})


def test_the_list_begins_with_the_longest_overdue() -> None:
    """Then what comes first, then what nobody can tell, then what was never served."""
    desk = memory_desk()
    for name, on in (
        ("Fresh", ""),
        ("Later", "2027-05-01"),
        ("Over", "2026-04-01"),
        ("Silent", "silent"),
        ("Soon", "2026-06-01"),
        ("Long over", "2025-04-01"),
    ):
        _machine(desk, name, on)
    found = due_list(desk)

    expected = ["Long over", "Over", "Soon", "Later", "Silent", "Fresh"]
    assert expected == [one.served.machine.name for one in found]
    assert found[-1].when is When.NEVER
    assert desk.now().date() == START.date()
