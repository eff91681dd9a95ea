"""Every store keeps what it was given, in order and once: one suite for all of them."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fakes.store import MemoryStore
from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.answer import Answer, Of
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import JobHead, folded
from ullage.jobs.machine import CircuitVersion, Counter, CounterReading, Machine
from ullage.jobs.next_thing import JobLine, line_of
from ullage.jobs.ports import Device, JobStore, Picture
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf
from ullage.records.database import open_database
from ullage.records.store import SqlStore

AT = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


@pytest.fixture(params=["memory", "sqlite"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[JobStore]:
    """Give each store in turn; another database is another row here."""
    with ExitStack() as open_:
        if request.param == "memory":
            yield MemoryStore()
        else:
            yield SqlStore(open_.enter_context(open_database(tmp_path / "store.sqlite3")))


def machine(name: str = "Library van 2", **more: object) -> Machine:
    """Return a machine whose id is its name without spaces."""
    made = Machine(id=name.casefold().replace(" ", "-"), name=name, added_at=AT)
    return replace(made, **more)  # type: ignore[arg-type] # the keys are those of Machine


def version(number: int = 1, circuit: str = "leveller") -> CircuitVersion:
    """Return a version of a circuit of the van."""
    return CircuitVersion(
        id=f"{circuit}-{number}",
        circuit_id=circuit,
        machine_id="library-van-2",
        number=number,
        name="Four-corner leveller",
        table={"format": "ullage-circuit/1", "legs": [number, 0.1, "ä"]},
        saved_at=AT + timedelta(days=number),
    )


def head(job: str = "job1") -> JobHead:
    """Return a job of the van."""
    return JobHead(
        id=job,
        machine_id="library-van-2",
        circuit_id="leveller",
        circuit_version_id="leveller-1",
        title=f"Exchange {job}",
        opened_at=AT,
    )


def draft(uid: str, kind: Kind = Kind.NOTE, **payload: object) -> Draft:
    """Return an event that a phone made."""
    return Draft(
        uid=uid,
        device="phone",
        device_seq=int("".join(c for c in uid if c.isdigit()) or 0),
        kind=kind,
        device_at=AT,
        payload=payload or {"note": f"note {uid}"},
    )


def line(job: JobHead, events: Sequence[Event]) -> JobLine:
    """Return the line of a job, as the use cases make it."""
    return line_of(folded(job, events))


def with_van(store: JobStore) -> JobStore:
    """Return the store with the van and its circuit."""
    store.add_machine(machine())
    store.add_circuit_version(version())
    return store


def with_job(store: JobStore, *jobs: str) -> JobStore:
    """Return the store with the van and jobs on it."""
    with_van(store)
    for job in jobs or ("job1",):
        store.open_job(head(job), line(head(job), ()))
    return store


# --- machines and circuits ------------------------------------------------------------------------


def test_a_machine_comes_back_as_it_was_kept(store: JobStore) -> None:
    """Every field, down to the microsecond and the zone."""
    kept = machine("Yard lift 5", marks="yellow, dent", counter=Counter.HOURS)
    store.add_machine(kept)

    assert store.machine("yard-lift-5") == kept


def test_two_machines_cannot_bear_one_name(store: JobStore) -> None:
    """Not in other letters either, and not by renaming."""
    store.add_machine(machine())
    store.add_machine(machine("Yard lift 5"))

    with pytest.raises(Conflict, match="LIBRARY VAN 2"):
        store.add_machine(machine("LIBRARY VAN 2", id="other"))
    with pytest.raises(Conflict, match="library van 2"):
        store.change_machine(machine("library van 2", id="yard-lift-5", version=2))


def test_machines_are_found_by_name_and_marks_in_any_case(store: JobStore) -> None:
    """Also beyond the letters of English; signs of a pattern mean themselves."""
    store.add_machine(machine("Überlandbus", marks="grün"))
    store.add_machine(machine("Yard lift 5", marks="100%_new"))

    assert [m.name for m in store.machines(search="üBERLAND")] == ["Überlandbus"]
    assert [m.name for m in store.machines(search="GRÜN")] == ["Überlandbus"]
    assert [m.name for m in store.machines(search="%_")] == ["Yard lift 5"]
    assert [m.name for m in store.machines()] == ["Yard lift 5", "Überlandbus"]


def test_a_machine_is_changed_from_its_newest_version_alone(store: JobStore) -> None:
    """Who changes an older one is told so, and nothing is overwritten."""
    store.add_machine(machine())
    store.change_machine(machine(marks="new paint", version=2))

    with pytest.raises(Conflict):
        store.change_machine(machine(marks="old paint", version=2))
    assert store.machine("library-van-2").marks == "new paint"


def test_what_nobody_kept_is_not_found(store: JobStore) -> None:
    """Each lookup says what it looked for."""
    lookups = [
        (store.machine, "machine"),
        (store.circuit_version, "circuit"),
        (store.newest_circuit, "circuit"),
        (store.circuit_versions, "circuit"),
        (store.job_head, "job"),
        (store.events, "job"),
        (store.answer, "answer"),
        (store.sheet, "sheet"),
        (store.picture, "photo"),
    ]
    for lookup, what in lookups:
        with pytest.raises(NotFound, match=f"no {what} is called 'nowhere'"):
            lookup("nowhere")


def test_versions_of_a_circuit_follow_each_other(store: JobStore) -> None:
    """The newest is the last added; a number that is taken or skipped is refused."""
    with_van(store)
    store.add_circuit_version(version(2))

    with pytest.raises(Conflict):
        store.add_circuit_version(replace(version(2), id="other"))
    with pytest.raises(Conflict):
        store.add_circuit_version(version(4))
    assert store.newest_circuit("leveller") == version(2)
    assert store.circuit_version("leveller-1") == version(1)
    assert [v.number for v in store.circuit_versions("leveller")] == [2, 1]


def test_a_machine_shows_the_newest_version_of_each_circuit(store: JobStore) -> None:
    """One line a circuit."""
    with_van(store)
    store.add_circuit_version(version(2))
    store.add_circuit_version(version(1, "steering"))

    assert [v.id for v in store.circuits_of("library-van-2")] == ["leveller-2", "steering-1"]


# --- jobs and events ------------------------------------------------------------------------------


def test_a_job_comes_back_with_its_line(store: JobStore) -> None:
    """As it was opened."""
    with_job(store)

    assert store.job_head("job1") == head()
    assert store.job_lines() == (line(head(), ()),)
    with pytest.raises(Conflict):
        store.open_job(head(), line(head(), ()))


def test_events_stand_in_the_order_in_which_they_came(store: JobStore) -> None:
    """Numbered from 1 without a gap, with the server's time, and readable from any place."""
    with_job(store)
    store.append("job1", [draft("a1"), draft("a2")], line, at=AT + timedelta(minutes=1))
    store.append("job1", [draft("b1", Kind.POURED, litres=1.0)], line, at=AT)
    events = store.events("job1")

    assert [(event.seq, event.uid) for event in events] == [(1, "a1"), (2, "a2"), (3, "b1")]
    assert events[0].server_at == AT + timedelta(minutes=1)
    assert events[2].payload == {"litres": 1.0}
    assert [event.uid for event in store.events("job1", after=2)] == ["b1"]


def test_sending_an_event_twice_keeps_it_once(store: JobStore) -> None:
    """The second time gives back what was stored the first time, also within one sending."""
    with_job(store)
    first = store.append("job1", [draft("a1")], line, at=AT)
    again = store.append(
        "job1", [draft("a1"), draft("a2"), draft("a2")], line, at=AT + timedelta(hours=1)
    )

    assert again[0] == first[0]
    assert again[1] == again[2]
    assert [event.uid for event in store.events("job1")] == ["a1", "a2"]


def test_an_id_belongs_to_one_job_and_one_kind(store: JobStore) -> None:
    """Otherwise nothing of the sending is stored."""
    with_job(store, "job1", "job2")
    store.append("job1", [draft("a1")], line, at=AT)

    with pytest.raises(Conflict):
        store.append("job2", [draft("b1"), draft("a1")], line, at=AT)
    with pytest.raises(Conflict):
        store.append("job1", [draft("a1", Kind.ENGINE, on=True)], line, at=AT)
    assert store.events("job2") == ()


def test_the_job_of_an_entry_is_found_by_its_name(store: JobStore) -> None:
    """However many are asked for; those that nobody kept are left out."""
    with_job(store, "job1", "job2")
    store.append("job1", [draft("a1")], line, at=AT)
    store.append("job2", [draft("b1")], line, at=AT)
    asked = {"a1", "b1", *(f"c{number}" for number in range(1200))}

    assert store.jobs_of(asked) == {"a1": "job1", "b1": "job2"}
    assert store.jobs_of(()) == {}


def test_the_line_of_a_job_follows_its_events(store: JobStore) -> None:
    """What the list shows is what the events add up to."""
    with_job(store)
    store.append("job1", [draft("a1", Kind.STAGE, stage="assess", state="finished")], line, at=AT)

    assert store.job_lines() == (line(head(), store.events("job1")),)


def test_a_line_that_cannot_be_made_stores_nothing(store: JobStore) -> None:
    """The event and the line go in together or not at all."""
    with_job(store)

    def breaks(_: JobHead, __: Sequence[Event]) -> JobLine:
        raise RuntimeError("no line")

    with pytest.raises(RuntimeError, match="no line"):
        store.append("job1", [draft("a1")], breaks, at=AT)
    assert store.events("job1") == ()


def finish(store: JobStore, job: str, count: int, *, day: int) -> None:
    """Finish the first stages of a job on a day."""
    stages = ("assess", "plan", "prepare", "exchange", "refit", "prove", "record")[:count]
    at = AT + timedelta(days=day)
    drafts = [
        replace(draft(f"{job}-{stage}", Kind.STAGE, stage=stage, state="finished"), device_at=at)
        for stage in stages
    ]
    store.append(job, drafts, line, at=at)


def test_jobs_are_listed_by_what_has_to_happen_first(store: JobStore) -> None:
    """Machines that stand open, then the longest untouched; closed ones last, newest first."""
    with_job(store, "assess", "closed1", "closed2", "exchange", "older", "plan")
    finish(store, "closed1", 7, day=1)
    finish(store, "closed2", 7, day=2)
    finish(store, "exchange", 3, day=5)
    finish(store, "plan", 1, day=4)
    finish(store, "older", 1, day=3)
    every = ["exchange", "older", "plan", "assess", "closed2", "closed1"]

    assert [one.job_id for one in store.job_lines()] == every
    assert [one.job_id for one in store.job_lines(is_open=True)] == every[:4]
    assert [one.job_id for one in store.job_lines(is_open=False)] == every[4:]
    for offset in range(7):
        page = [one.job_id for one in store.job_lines(limit=2, offset=offset)]
        assert page == every[offset : offset + 2]
    assert (store.count_jobs(), store.count_jobs(is_open=True)) == (6, 4)


def test_jobs_are_found_by_title_and_by_the_machines_newest_name(store: JobStore) -> None:
    """A machine that was renamed is found by its new name."""
    with_job(store, "job1", "job2")
    store.change_machine(machine("Bücherbus", id="library-van-2", version=2))

    assert store.count_jobs(search="BÜCHERBUS") == 2
    assert store.count_jobs(search="library van") == 0
    assert [one.job_id for one in store.job_lines(search="exchange JOB2")] == ["job2"]
    assert store.count_jobs(machine_id="library-van-2") == 2
    assert store.job_lines(machine_id="another") == ()


def test_appends_from_many_threads_leave_no_gap(store: JobStore) -> None:
    """Every event once, numbered without a hole."""
    with_job(store)
    failures: list[BaseException] = []

    def tap(device: int) -> None:
        try:
            for number in range(12):
                store.append("job1", [draft(f"d{device}n{number}")], line, at=AT)
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=tap, args=(device,)) for device in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    events = store.events("job1")

    assert failures == []
    assert [event.seq for event in events] == list(range(1, 49))
    assert len({event.uid for event in events}) == 48


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    sendings=st.lists(
        st.lists(st.integers(min_value=1, max_value=9), min_size=1, max_size=4), max_size=6
    )
)
def test_replaying_everything_equals_sending_it_once(
    store: JobStore, sendings: list[list[int]]
) -> None:
    """Whatever a device sends again, in whatever parts, the job stays the same."""
    job = f"job{len(store.job_lines(limit=1000))}"
    if job == "job0":
        with_van(store)
    store.open_job(head(job), line(head(job), ()))
    for sending in sendings:
        store.append(job, [draft(f"{job}x{number}") for number in sending], line, at=AT)
    once = store.events(job)
    for sending in sendings:
        store.append(job, [draft(f"{job}x{number}") for number in sending], line, at=AT)

    assert store.events(job) == once
    assert [event.seq for event in once] == list(range(1, len(once) + 1))


def test_counters_are_kept_in_the_order_of_time(store: JobStore) -> None:
    """Readings that came late stand where they belong."""
    with_job(store)
    late = CounterReading(machine_id="library-van-2", job_id="job1", read_at=AT, distance_m=2e7)
    early = replace(late, job_id=None, read_at=AT - timedelta(days=1), running_s=3.6e3)
    store.add_counter_reading(late)
    store.add_counter_reading(early)

    assert store.counter_readings("library-van-2") == (early, late)


def test_answers_are_kept_whole_and_the_newest_comes_first(store: JobStore) -> None:
    """With inputs, seed and the version of the program."""
    with_job(store)
    first = Answer(
        id="answer1",
        job_id="job1",
        of=Of.PLAN,
        made_at=AT,
        code="0.1.0",
        seed=7,
        inputs={"target_pct": 10.0},
        fingerprint="ab",
        body={"containers": 13, "notes": ["ä"]},
    )
    second = replace(first, id="answer2", made_at=AT + timedelta(seconds=1))
    verdict = replace(second, id="answer3", of=Of.VERDICT)
    for answer in (first, second, verdict):
        store.keep_answer(answer)

    assert store.answer("answer1") == first
    assert store.answers("job1", Of.PLAN) == (second, first)
    assert len(store.answers("job1")) == 3
    with pytest.raises(Conflict):
        store.keep_answer(first)


# --- shelf ----------------------------------------------------------------------------------------


def with_lots(store: JobStore) -> JobStore:
    """Return the store with two lots of one fluid."""
    store.save_sheet(
        Sheet(
            id="fluid",
            of=SheetOf.FLUID,
            name="Leveller fluid",
            table={"class": "HV"},
            saved_at=AT,
        )
    )
    for number, expires in ((1, date(2028, 1, 1)), (2, date(2027, 1, 1))):
        lot = Lot(
            id=f"lot{number}",
            sheet_id="fluid",
            mark=f"L{number}",
            container_m3=1e-3,
            expires_on=expires,
            received_on=date(2026, 1, 1),
        )
        first = Movement(uid=f"in{number}", lot_id=lot.id, count=6.0, why="delivered", moved_at=AT)
        store.add_lot(lot, first)
    return store


def test_a_sheet_changes_from_its_newest_version_alone(store: JobStore) -> None:
    """As a machine does."""
    with_lots(store)
    kept = store.sheet("fluid")
    store.save_sheet(replace(kept, name="Leveller fluid 22", version=2))

    with pytest.raises(Conflict):
        store.save_sheet(replace(kept, name="another", version=2))
    assert [sheet.name for sheet in store.sheets(SheetOf.FLUID)] == ["Leveller fluid 22"]
    assert store.sheets(SheetOf.FILTER) == ()


def test_stock_is_what_its_movements_add_up_to(store: JobStore) -> None:
    """The first to expire comes first; an empty lot is left out unless it is asked for."""
    with_lots(store)
    out = Movement(uid="out", lot_id="lot2", count=-6.0, why="used", moved_at=AT)
    store.move_stock(out)
    store.move_stock(out)

    assert [(one.lot.id, one.left) for one in store.stock()] == [("lot1", 6.0)]
    assert [one.lot.id for one in store.stock(empty_too=True)] == ["lot2", "lot1"]
    assert len(store.movements("lot2")) == 2
    assert store.stock(sheet_id="another") == ()


def test_more_than_is_left_cannot_be_taken(store: JobStore) -> None:
    """The sentence says how much is left, and nothing is moved."""
    with_lots(store)

    with pytest.raises(OutOfRange, match="at most 6"):
        store.move_stock(Movement(uid="out", lot_id="lot1", count=-6.5, why="used", moved_at=AT))
    with pytest.raises(NotFound):
        store.move_stock(Movement(uid="out", lot_id="none", count=1.0, why="x", moved_at=AT))
    assert [one.left for one in store.stock()] == [6.0, 6.0]


# --- pictures, settings, devices ------------------------------------------------------------------


def test_photos_settings_and_devices_come_back(store: JobStore) -> None:
    """A photo kept twice is one; a setting and a device hold what was said last."""
    photo = Picture(
        sha256="ab" * 32, media_type="image/jpeg", size=9, width=3, height=2, kept_at=AT
    )
    store.add_picture(photo)
    store.add_picture(replace(photo, kept_at=AT + timedelta(days=1)))
    store.set_setting("volume", "litre")
    store.set_setting("volume", "us_qt")
    phone = Device(id="d1", name="Bay phone", paired_at=AT, seen_at=AT)
    store.add_device(phone)
    store.change_device(replace(phone, revoked_at=AT))
    store.add_device(replace(phone, id="d2", paired_at=AT + timedelta(days=1)))

    assert store.picture("ab" * 32) == photo
    assert store.settings() == {"volume": "us_qt"}
    assert [(d.id, d.revoked_at) for d in store.devices()] == [("d2", None), ("d1", AT)]
    with pytest.raises(Conflict):
        store.add_device(phone)
    with pytest.raises(NotFound):
        store.change_device(replace(phone, id="d3"))
