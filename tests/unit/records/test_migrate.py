"""A database is brought up to date in whole steps, or stays as it was."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from ullage.errors import Conflict
from ullage.records.migrate import APPLICATION_ID, Migration, known_migrations, migrate
from ullage.records.schema import FACTS, METADATA, guards


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """Return a database of today with a machine and an event in it."""
    path = tmp_path / "store.sqlite3"
    migrate(path)
    with closing(sqlite3.connect(path)) as open_:
        open_.executescript(
            """
            INSERT INTO machine VALUES ('m1','Van','van','van','','distance',1,'2026-01-01');
            INSERT INTO circuit_version VALUES ('c1','c','m1',1,'Leveller','{}','2026-01-01');
            INSERT INTO job VALUES ('j1','m1','c','c1','Exchange','2026-01-01');
            INSERT INTO event VALUES ('j1',1,'u1','desk',0,'note','2026','2026','{"note":"x"}');
            """
        )
    return path


def _rows(path: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as open_:
        return open_.execute(query).fetchall()


def test_the_steps_make_what_the_store_reads(tmp_path: Path) -> None:
    """Columns, keys and indexes after the last step are those of the schema."""
    path = tmp_path / "store.sqlite3"
    migrate(path)
    engine = create_engine(f"sqlite:///{path}")
    made = inspect(engine)
    plan = create_engine("sqlite://")
    METADATA.create_all(plan)
    wanted = inspect(plan)
    tables = sorted(METADATA.tables)

    assert sorted(made.get_table_names()) == tables
    for table in tables:
        for ask in ("get_columns", "get_indexes", "get_foreign_keys", "get_unique_constraints"):
            shown = [sorted(map(repr, getattr(side, ask)(table))) for side in (made, wanted)]
            assert shown[0] == shown[1]
    engine.dispose()
    plan.dispose()


def test_a_second_time_does_nothing(base: Path) -> None:
    """No step runs twice, and no copy is made for nothing."""

    assert migrate(base) == ()
    assert len(_rows(base, "SELECT * FROM migration")) == len(known_migrations())


@pytest.mark.parametrize("table", FACTS)
@pytest.mark.parametrize("act", ["update", "delete"])
def test_facts_can_be_neither_changed_nor_removed(base: Path, table: str, act: str) -> None:
    """The database itself refuses, whoever asks."""
    fill = {
        "answer": "INSERT INTO answer VALUES ('a','j1','plan','t','c',0,'{}','f','{}')",
        "movement": "INSERT INTO movement VALUES ('u','l1',1.0,'w','t',NULL)",
        "counter_reading": "INSERT INTO counter_reading VALUES (1,'m1',NULL,'t',1.0,NULL)",
    }
    column = {"event": "kind", "answer": "code", "circuit_version": "name", "movement": "why"}
    key = column.get(table, "read_at" if table == "counter_reading" else "name")
    with closing(sqlite3.connect(base, isolation_level=None)) as open_:
        open_.execute("INSERT INTO sheet VALUES ('s1','fluid','F','f','{}',1,'t')")
        open_.execute("INSERT INTO lot VALUES ('l1','s1','L',NULL,NULL,'t')")
        if table in fill:
            open_.execute(fill[table])
        sql = f"UPDATE {table} SET {key} = 'other'" if act == "update" else f"DELETE FROM {table}"

        with pytest.raises(sqlite3.IntegrityError, match="rows are facts"):
            open_.execute(sql)


def test_a_step_that_fails_leaves_the_file_as_it_was(base: Path) -> None:
    """Also what it did before it failed is undone, and a copy lies beside."""
    before = _rows(base, "SELECT * FROM machine") + _rows(base, "SELECT name FROM sqlite_master")

    def breaks(open_: sqlite3.Connection) -> None:
        open_.execute("CREATE TABLE half (id TEXT)")
        open_.execute("DROP TRIGGER event_no_delete")
        open_.execute("DELETE FROM event")
        open_.execute("INSERT INTO nowhere VALUES (1)")

    steps = [*known_migrations(), Migration(number=99, name="broken step", up=breaks)]

    with pytest.raises(Conflict, match=r"form 99 \(broken step\).*it is as it was"):
        migrate(base, steps)
    after = _rows(base, "SELECT * FROM machine") + _rows(base, "SELECT name FROM sqlite_master")
    assert after == before
    assert len(_rows(base, "SELECT * FROM event")) == 1
    assert [copy.name for copy in base.parent.glob("*.before-0099-*")] != []


def test_a_step_that_would_leave_rows_pointing_nowhere_is_refused(base: Path) -> None:
    """Rebuilding a table with keys off must not lose what others point to."""

    def loses(open_: sqlite3.Connection) -> None:
        open_.execute("DELETE FROM machine")

    steps = [*known_migrations(), Migration(number=99, name="loses machines", up=loses)]

    with pytest.raises(Conflict, match="would point nowhere"):
        migrate(base, steps)
    assert len(_rows(base, "SELECT * FROM machine")) == 1


def test_a_rebuilt_table_keeps_its_guards_and_its_rows(base: Path) -> None:
    """Renaming drops triggers; the step sets them again."""

    def rebuilds(open_: sqlite3.Connection) -> None:
        open_.execute("CREATE TABLE anew AS SELECT * FROM event")
        open_.execute("DROP TABLE event")
        open_.execute("ALTER TABLE anew RENAME TO event")

    steps = [*known_migrations(), Migration(number=99, name="rebuild", up=rebuilds)]
    copies = migrate(base, steps)

    assert len(_rows(base, "SELECT * FROM event")) == 1
    assert len(copies) == 1
    assert _rows(copies[0], "SELECT max(number) FROM migration") == [
        (known_migrations()[-1].number,)
    ]
    with (
        closing(sqlite3.connect(base)) as open_,
        pytest.raises(sqlite3.IntegrityError, match="facts"),
    ):
        open_.execute("DELETE FROM event")


def test_a_newer_database_is_left_alone(base: Path) -> None:
    """The sentence says which form it has, and which are known."""
    with closing(sqlite3.connect(base, isolation_level=None)) as open_:
        open_.execute("INSERT INTO migration VALUES (99,'later','9.0','2030')")

    with pytest.raises(Conflict, match="its form is 99"):
        migrate(base)


def test_a_database_without_its_guards_is_refused(base: Path) -> None:
    """Somebody worked on it with another program."""
    with closing(sqlite3.connect(base, isolation_level=None)) as open_:
        open_.execute("DROP TRIGGER event_no_update")

    with pytest.raises(Conflict, match="event_no_update"):
        migrate(base)


def test_files_of_others_are_left_alone(tmp_path: Path) -> None:
    """Neither text nor another program's database is touched."""
    text = tmp_path / "text.sqlite3"
    text.write_text("dear diary, " * 200)
    foreign = tmp_path / "foreign.sqlite3"
    with closing(sqlite3.connect(foreign)) as open_:
        open_.execute("CREATE TABLE bookmarks (id TEXT)")
        open_.commit()
    before = foreign.read_bytes()

    with pytest.raises(Conflict, match="no database or is damaged"):
        migrate(text)
    with pytest.raises(Conflict, match="belongs to another program"):
        migrate(foreign)
    assert foreign.read_bytes() == before
    assert text.read_text().startswith("dear diary")


def test_the_file_says_whose_it_is(base: Path) -> None:
    """In its header, where other programs look too."""

    assert _rows(base, "PRAGMA application_id") == [(APPLICATION_ID,)]
    assert {
        name for (name,) in _rows(base, "SELECT name FROM sqlite_master WHERE type='trigger'")
    } == set(guards())
