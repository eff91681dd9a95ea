"""A store that an older program wrote opens in this one, with everything in it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.old_versions.make import HERE
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import JobStore
from ullage.records.backup import restore_backup, write_backup
from ullage.records.migrate import known_migrations
from ullage.wiring import DATABASE, open_app

FORMS = sorted(HERE.glob("*.sql"))


@pytest.fixture(params=FORMS, ids=lambda file: str(file.stem))
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Return a folder of data as an older program left it."""
    file: Path = request.param
    data = tmp_path / "data"
    data.mkdir()
    with closing(sqlite3.connect(data / DATABASE)) as base:
        base.executescript(file.read_text(encoding="utf-8"))
    return data


def _rows(data: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return all rows by table; of migrations, the first."""
    with closing(sqlite3.connect(data / DATABASE)) as base:
        tables = [
            row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        found = {table: base.execute(f'SELECT * FROM "{table}"').fetchall() for table in tables}
    found["migration"] = [row for row in found["migration"] if row[0] == 1]
    return found


def test_a_store_of_every_form_is_kept() -> None:
    """Whoever adds a migration adds the store that the next one has to open."""

    assert [int(file.stem) for file in FORMS] == [step.number for step in known_migrations()]


def _check(store: JobStore) -> None:
    """Look at something of everything."""
    machine = store.machine("van2")
    stock = store.stock()[0]

    assert (machine.name, machine.marks) == ("Library van 2", "green stripe")
    assert machine.added_at == datetime(2026, 5, 4, 8, 0, 1, tzinfo=UTC)
    assert store.newest_circuit("leveller").table["format"] == "ullage-circuit/1"
    assert [event.kind for event in store.events("job1")][:3] == [
        Kind.AS_FOUND,
        Kind.USE,
        Kind.PHOTO,
    ]
    assert store.events("job1")[0].payload["level_mm"] == -6.0
    assert store.job_lines(search="LIBRARY")[0].job_id == "job1"
    assert store.answer("job1-due").body == {"answer": "due"}
    assert store.counter_readings("van2")[0].distance_m == 8.4e7
    assert (stock.lot.mark, stock.sheet.name, stock.left) == ("L1", "Leveller fluid", 3.5)
    assert store.settings()["units.volume"] == "us_qt"
    assert store.devices()[0].name == "Bay phone"


def test_an_old_store_opens_with_everything_in_it(old: Path) -> None:
    """No row is lost or changed, the job goes on, and a copy of each older form lies beside."""
    before = _rows(old)
    with closing(sqlite3.connect(old / DATABASE)) as base:
        done = base.execute("SELECT count(*) FROM migration").fetchone()[0]
    with open_app(old) as app:
        assert _rows(old) == before
        _check(app.desk.store)
        log(app.desk, "job1", Kind.NOTE, {"note": "goes on"})
        assert load_job(app.desk, "job1").seq == 4

    assert len(list(old.glob("*.before-*"))) == len(known_migrations()) - done


def test_an_old_backup_is_brought_up_to_date(old: Path, tmp_path: Path) -> None:
    """What an older program backed up can be restored; the backup stays as it is."""
    photo = next(row[0] for row in _rows(old)["picture"])
    file = write_backup(old, tmp_path / "old.ullage-backup")
    before = file.read_bytes()
    done = restore_backup(file, tmp_path / "new")
    with open_app(tmp_path / "new") as app:
        _check(app.desk.store)

    assert (done.jobs, done.lost, len(str(photo))) == (1, 1, 64)
    assert file.read_bytes() == before
