"""Events that are remembered are those of the database, whoever writes beside."""

from __future__ import annotations

from pathlib import Path

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.jobs.event import Event, Kind
from ullage.jobs.log import log
from ullage.records.backup import restore_backup, write_backup
from ullage.records.database import open_database
from ullage.records.known_events import KnownEvents
from ullage.records.store import SqlStore
from ullage.wiring import DATABASE


def _notes(events: tuple[Event, ...]) -> list[str]:
    return [event.payload["note"] for event in events if event.kind is Kind.NOTE]


def test_what_another_program_adds_is_seen(tmp_path: Path) -> None:
    """Two stores on one file write in turn; both see everything, in one order."""
    with open_database(tmp_path / DATABASE) as engine:
        here, there = memory_desk(SqlStore(engine)), memory_desk(SqlStore(engine))
        fill(here)
        for number in range(4):
            log(here, "job1", Kind.NOTE, {"note": f"here {number}"}, uid=f"h{number}")
            log(there, "job1", Kind.NOTE, {"note": f"there {number}"}, uid=f"t{number}")
        events = here.store.events("job1")

        assert events == there.store.events("job1")
        assert _notes(events) == [f"{side} {n}" for n in range(4) for side in ("here", "there")]
        assert [event.seq for event in events] == list(range(1, len(events) + 1))


def test_what_a_restore_took_away_is_forgotten(tmp_path: Path) -> None:
    """Also when as many other entries came in its place."""
    with open_database(tmp_path / DATABASE) as engine:
        desk = memory_desk(SqlStore(engine))
        fill(desk)
        file = write_backup(tmp_path, tmp_path / "all")
        log(desk, "job1", Kind.NOTE, {"note": "lost"}, uid="lost")
        assert _notes(desk.store.events("job1")) == ["lost"]
        restore_backup(file, tmp_path)
        log(memory_desk(SqlStore(engine)), "job1", Kind.NOTE, {"note": "new"}, uid="new")

        assert _notes(desk.store.events("job1")) == ["new"]


def test_a_few_jobs_are_remembered(tmp_path: Path) -> None:
    """However many are looked at, the memory does not grow with them."""
    known = KnownEvents()
    with open_database(tmp_path / DATABASE) as engine, engine.connect() as base:
        for number in range(100):
            assert known.of(base, f"job{number}") == ()

    assert len(known._known) == 16
