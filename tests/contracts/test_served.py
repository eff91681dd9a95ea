"""Every store knows what was served last on each circuit, and says the same."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path

import pytest

from tests.fakes.desk import memory_desk
from tests.fakes.store import MemoryStore
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.event import Kind
from ullage.jobs.log import log, take_back
from ullage.jobs.machine import CounterReading
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk, JobStore
from ullage.jobs.served import Served
from ullage.jobs.stage import STAGES
from ullage.records.database import open_database
from ullage.records.store import SqlStore


@pytest.fixture(params=["memory", "sqlite"])
def desk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Desk]:
    """Give a desk with each store in turn, with a van that has a leveller on it."""
    with ExitStack() as open_:
        store: JobStore = (
            MemoryStore()
            if request.param == "memory"
            else SqlStore(open_.enter_context(open_database(tmp_path / "store.sqlite3")))
        )
        made = memory_desk(store)
        van = add_machine(made, Known(name="Library van 2", marks="green"), machine_id="van2")
        add_circuit(made, van.id, template_table("levelling-van"), circuit_id="leveller")
        yield made


def _filed(desk: Desk, circuit: str, on: str = "", job: str | None = None) -> str:
    """File a job that says when it is due again."""
    head = open_job(desk, circuit, job_id=job)
    if on:
        log(desk, head.id, Kind.NEXT_DUE, {"on": on, "reason": "interval"}, uid=f"{head.id}-due")
    for stage in STAGES:
        log(desk, head.id, Kind.STAGE, {"stage": stage.value, "state": "finished"})
    return head.id


def _one(desk: Desk) -> Served:
    (found,) = desk.store.served()
    return found


def test_a_circuit_that_was_never_served_is_there(desk: Desk) -> None:
    """With nothing beside it."""
    found = _one(desk)

    assert (found.machine.id, found.circuit_id, found.job_id) == ("van2", "leveller", None)
    assert (found.events, found.distances, found.hours) == ((), (), ())


def test_a_machine_without_a_circuit_is_there(desk: Desk) -> None:
    """Once, with no circuit."""
    add_machine(desk, Known(name="Yard lift 5"), machine_id="lift5")
    found = [(one.machine.id, one.circuit_id) for one in desk.store.served()]

    assert found == [("van2", "leveller"), ("lift5", "")]


def test_the_job_filed_last_counts(desk: Desk) -> None:
    """With its dates and takings back, and no other entry; one in hand stands beside it."""
    _filed(desk, "leveller", "2027-01-01")
    last = _filed(desk, "leveller", "2028-01-01")
    in_hand = open_job(desk, "leveller")
    found = _one(desk)

    assert (found.job_id, found.open_job_id) == (last, in_hand.id)
    assert [event.payload["on"] for event in found.events] == ["2028-01-01"]


def test_takings_back_come_along(desk: Desk) -> None:
    """So that a date that was taken back can be told from one that stands."""
    job = open_job(desk, "leveller", job_id="job00001").id
    log(desk, job, Kind.NEXT_DUE, {"on": "2027-01-01", "reason": "r"}, uid="due-00001")
    log(desk, job, Kind.NOTE, {"note": "of no use here"})
    take_back(desk, job, "due-00001")
    for stage in STAGES:
        log(desk, job, Kind.STAGE, {"stage": stage.value, "state": "finished"})

    assert [event.kind for event in _one(desk).events] == [Kind.NEXT_DUE, Kind.UNDONE]


def test_each_circuit_of_a_machine_has_its_own_job(desk: Desk) -> None:
    """By name, each with the newest one."""
    add_circuit(desk, "van2", {**template_table("wheel-brakes")}, circuit_id="brakes")
    job = _filed(desk, "brakes", "2027-01-01")
    found = {one.circuit_id: one for one in desk.store.served()}

    assert (found["brakes"].job_id, found["leveller"].job_id) == (job, None)
    assert not found["brakes"].is_only_circuit


def test_the_first_and_the_newest_reading_of_each_count(desk: Desk) -> None:
    """Whatever the others in between showed."""
    start = desk.now()
    for day, way, run in ((0, 1e6, None), (10, None, 3.6e3), (20, 2e6, None), (40, 5e6, 7.2e3)):
        desk.store.add_counter_reading(
            CounterReading(
                machine_id="van2",
                job_id=None,
                read_at=start + timedelta(days=day),
                distance_m=way,
                running_s=run,
            )
        )
    found = _one(desk)

    assert [one.distance_m for one in found.distances] == [1e6, 5e6]
    assert [one.running_s for one in found.hours] == [3.6e3, 7.2e3]


def test_machines_are_searched_as_in_their_list(desk: Desk) -> None:
    """By name or marks, in any case."""
    add_machine(desk, Known(name="Yard lift 5"), machine_id="lift5")

    assert [one.machine.id for one in desk.store.served(search="GREEN")] == ["van2"]
    assert [one.machine.id for one in desk.store.served(search="lift")] == ["lift5"]
    assert desk.store.served(search="50%") == ()
