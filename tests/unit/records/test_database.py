"""What the world does to a database is told in a sentence, and nothing half is stored."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import event, text
from sqlalchemy.exc import OperationalError

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.errors import Conflict
from ullage.jobs.event import Kind
from ullage.jobs.log import log
from ullage.records import database
from ullage.records.database import open_database
from ullage.records.store import SqlStore
from ullage.wiring import DATABASE


def test_every_connection_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    """Write-ahead log, every write on the disk before it counts, keys checked."""
    with open_database(tmp_path / DATABASE) as engine, engine.connect() as base:
        asked = ("journal_mode", "synchronous", "foreign_keys")
        found = [base.execute(text(f"PRAGMA {name}")).scalar() for name in asked]

    assert found == ["wal", 2, 1]


def test_a_writer_that_waits_too_long_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program holds the lock; afterwards all goes on."""
    monkeypatch.setattr(database, "_PATIENCE_S", 0.05)
    with open_database(tmp_path / DATABASE) as engine:
        desk = memory_desk(SqlStore(engine))
        fill(desk)
        with closing(sqlite3.connect(tmp_path / DATABASE, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(Conflict, match="nothing was stored: somebody else"):
                log(desk, "job1", Kind.NOTE, {"note": "too late"})
            other.execute("ROLLBACK")
        log(desk, "job1", Kind.NOTE, {"note": "now"})

        assert [e.payload.get("note") for e in desk.store.events("job1")][3:] == ["now"]


def test_a_full_disk_stores_nothing_half(tmp_path: Path) -> None:
    """The entry that found no room is not there; those before it are."""
    with open_database(tmp_path / DATABASE) as engine:
        desk = memory_desk(SqlStore(engine))
        fill(desk)

        @event.listens_for(engine, "begin")
        def fills(base: object) -> None:
            base.exec_driver_sql("PRAGMA max_page_count = 1")  # type: ignore[attr-defined]

        told = [event.uid for event in desk.store.events("job1")]

        def write_on() -> None:
            for _ in range(200):
                told.append(log(desk, "job1", Kind.NOTE, {"note": "x" * 3000}).uid)

        with pytest.raises(Conflict, match="the disk is full"):
            write_on()
        assert [event.uid for event in desk.store.events("job1")] == told


def test_a_mistake_of_the_program_stays_one(tmp_path: Path) -> None:
    """Wrong SQL is not passed off as trouble with the disk."""
    with (
        open_database(tmp_path / DATABASE) as engine,
        engine.connect() as base,
        pytest.raises(OperationalError, match="no such table"),
    ):
        base.execute(text("SELECT * FROM nowhere"))
