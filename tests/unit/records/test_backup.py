"""A backup brings everything back, and a wrong one changes nothing."""

from __future__ import annotations

import hashlib
import io
import json
import random
import threading
import time
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.fakes.garage import fill, photo
from ullage.errors import Conflict
from ullage.jobs.event import Event, Kind
from ullage.jobs.log import log
from ullage.jobs.ports import Device
from ullage.records.backup import MANIFEST, checked_backup, restore_backup, write_backup
from ullage.records.schema import guards
from ullage.wiring import DATABASE, open_app


@pytest.fixture
def full(tmp_path: Path) -> Path:
    """Return a folder of data with a machine, a job, an answer and a photo."""
    data = tmp_path / "data"
    with open_app(data) as app:
        fill(app.desk)
    return data


def _told(data: Path) -> tuple[object, ...]:
    """Return all that a folder of data holds of the job."""
    with open_app(data) as app:
        store = app.desk.store
        events = store.events("job1")
        shown = [e.payload["sha256"] for e in events if e.kind is Kind.PHOTO]
        return (
            store.machines(),
            store.job_lines(),
            events,
            store.answers("job1"),
            store.counter_readings("van2"),
            [app.desk.pictures.original(sha) for sha in shown],
        )


def test_a_backup_brings_everything_back(full: Path, tmp_path: Path) -> None:
    """Into an empty folder, to the last byte of a photo."""
    file = write_backup(full, tmp_path / "all.ullage-backup")
    done = restore_backup(file, tmp_path / "other")

    assert _told(tmp_path / "other") == _told(full)
    assert (done.jobs, done.photos) == (1, 1)


def test_what_was_there_before_is_kept_beside(full: Path, tmp_path: Path) -> None:
    """A restore of the wrong backup can be taken back by another restore."""
    empty = tmp_path / "empty"
    with open_app(empty):
        pass
    nothing = write_backup(empty, tmp_path / "nothing.ullage-backup")
    before = _told(full)
    done = restore_backup(nothing, full)
    with open_app(full) as app:
        assert app.desk.store.machines() == ()
    restore_backup(done.kept_before, full)

    assert _told(full) == before


def test_a_backup_is_made_and_restored_while_the_app_is_open(full: Path, tmp_path: Path) -> None:
    """Other connections read the old content, then the new one."""
    with open_app(full) as app:
        file = write_backup(full, tmp_path / "all.ullage-backup")
        log(app.desk, "job1", Kind.NOTE, {"note": "after the backup"})
        restore_backup(file, full)

        assert all(event.kind is not Kind.NOTE for event in app.desk.store.events("job1"))
        log(app.desk, "job1", Kind.NOTE, {"note": "after the restore"})
        assert app.desk.store.events("job1")[-1].payload == {"note": "after the restore"}


def test_a_backup_overwrites_nothing(full: Path, tmp_path: Path) -> None:
    """A file that is there stays."""
    (tmp_path / "old").write_text("mine")

    with pytest.raises(Conflict, match="is there already"):
        write_backup(full, tmp_path / "old")
    assert (tmp_path / "old").read_text() == "mine"
    with pytest.raises(Conflict, match="holds no data"):
        write_backup(tmp_path / "nowhere", tmp_path / "new")


def _repacked(
    file: Path, change: Callable[[dict[str, bytes], dict[str, Any]], None], *, honest: bool = False
) -> Path:
    """Return a copy of a backup with something changed; ``honest`` renews sizes and hashes."""
    with zipfile.ZipFile(file) as pack:
        content = {name: pack.read(name) for name in pack.namelist()}
    manifest = json.loads(content.pop(MANIFEST))
    change(content, manifest)
    if honest:
        manifest["files"] = {
            name: {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
            for name, data in content.items()
        }
    changed = file.with_name("changed.ullage-backup")
    with zipfile.ZipFile(changed, "w") as pack:
        pack.writestr(MANIFEST, json.dumps(manifest))
        for name, data in content.items():
            pack.writestr(name, data)
    return changed


def _flip(content: dict[str, bytes], name: str) -> None:
    data = bytearray(content[name])
    data[len(data) // 2] ^= 0xFF
    content[name] = bytes(data)


def _picture(content: dict[str, bytes]) -> str:
    return next(name for name in content if name.endswith(".original"))


def _sql(*statements: str) -> Callable[[dict[str, bytes], dict[str, Any]], None]:
    """Return a change of the database inside a backup."""

    def change(content: dict[str, bytes], _: dict[str, Any]) -> None:
        import sqlite3
        import tempfile
        from contextlib import closing

        with tempfile.TemporaryDirectory() as room:
            path = Path(room) / "base"
            path.write_bytes(content[DATABASE])
            with closing(sqlite3.connect(path, isolation_level=None)) as base:
                for statement in statements:
                    base.execute(statement)
            content[DATABASE] = path.read_bytes()

    return change


_WRONG: dict[str, tuple[Callable[[dict[str, bytes], dict[str, Any]], None], bool, str]] = {
    "flipped database": (lambda c, m: _flip(c, DATABASE), False, "not what was packed"),
    "flipped photo": (lambda c, m: _flip(c, _picture(c)), False, "not what was packed"),
    "another photo": (
        lambda c, m: c.update({_picture(c): photo(3)}),
        True,
        "is another photo",
    ),
    "missing photo": (lambda c, m: c.pop(_picture(c)) and None, False, "other files than it lists"),
    "escaping path": (
        lambda c, m: c.update({"../../evil": b"x"}),
        True,
        "is no part of a backup",
    ),
    "unlisted file": (lambda c, m: c.update({"extra": b"x"}), False, "other files than it lists"),
    "newer backup": (lambda c, m: m.update(format="ullage-backup/2"), False, "a newer program"),
    "another format": (lambda c, m: m.update(format="other/1"), False, "no backup of this program"),
    "no list": (lambda c, m: m.pop("files") and None, False, "is incomplete"),
    "newer database": (
        _sql("INSERT INTO migration VALUES (99,'later','9','2030')"),
        True,
        "form 99",
    ),
    "no guards": (_sql("DROP TRIGGER event_no_delete"), True, "event_no_delete"),
    "not ours": (_sql("PRAGMA application_id = 7"), True, "another program"),
    "lost photo": (lambda c, m: c.pop(_picture(c)) and None, True, "lacks photos"),
    "no list of lost photos": (lambda c, m: m.pop("lost") and None, False, "is incomplete"),
    "missing table": (_sql("DROP TABLE setting"), True, "not those of this program .setting"),
    "missing column": (_sql("ALTER TABLE device DROP COLUMN name"), True, "not those of this"),
    "another trigger": (
        _sql("CREATE TRIGGER sly AFTER INSERT ON event BEGIN DELETE FROM setting; END"),
        True,
        "not those of this program .sly",
    ),
    "hole in a job": (
        _sql(
            "DROP TRIGGER event_no_delete",
            "DELETE FROM event WHERE seq = 2",
            guards()["event_no_delete"],
        ),
        True,
        "entries of job job1 are missing",
    ),
    "no database": (lambda c, m: c.update({DATABASE: b"x" * 5000}), True, "damaged"),
}


@pytest.mark.parametrize("what", _WRONG)
def test_a_wrong_backup_changes_nothing(full: Path, tmp_path: Path, what: str) -> None:
    """It is refused with a sentence before anything is replaced."""
    change, honest, says = _WRONG[what]
    file = _repacked(write_backup(full, tmp_path / "all"), change, honest=honest)
    before = _told(full)
    names = sorted(path.name for path in full.iterdir() if not path.name.endswith(("-wal", "-shm")))

    with pytest.raises(Conflict, match=says):
        restore_backup(file, full)
    assert _told(full) == before
    assert sorted(p.name for p in full.iterdir() if not p.name.endswith(("-wal", "-shm"))) == names


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_backup_that_was_cut_off_changes_nothing(
    full: Path, tmp_path: Path, share: float
) -> None:
    """Wherever it was cut."""
    file = write_backup(full, tmp_path / "all")
    data = file.read_bytes()
    file.write_bytes(data[: int(len(data) * share)])
    before = _told(full)

    with pytest.raises(Conflict, match="no backup or is damaged"):
        restore_backup(file, full)
    assert _told(full) == before


def test_no_damaged_byte_gets_by(full: Path, tmp_path: Path) -> None:
    """Wherever a byte is wrong: refused with a sentence, or it was one that nobody reads."""
    file = write_backup(full, tmp_path / "all")
    data = file.read_bytes()
    chance = random.Random(4)
    refused = 0
    for _ in range(60):
        wrong = bytearray(data)
        wrong[chance.randrange(len(wrong))] ^= chance.randrange(1, 256)
        file.write_bytes(wrong)
        try:
            with checked_backup(file, tmp_path) as (room, _manifest):
                assert (room / DATABASE).exists()
        except Conflict:
            refused += 1

    assert refused > 30


def test_one_bad_photo_spoils_no_backup(full: Path, tmp_path: Path) -> None:
    """It is left out and counted; restoring on top of it mends what another backup still has."""
    good = write_backup(full, tmp_path / "good")
    bad = next((full / "pictures").rglob("*.original"))
    whole = bad.read_bytes()
    bad.write_bytes(whole[:-5])
    later = write_backup(full, tmp_path / "later")

    assert (restore_backup(later, tmp_path / "other").lost, bad.read_bytes()) == (1, whole[:-5])
    assert restore_backup(good, full).lost == 0
    assert bad.read_bytes() == whole


def test_a_device_that_was_struck_out_stays_out(full: Path, tmp_path: Path) -> None:
    """An old backup knows nothing of that."""
    at = datetime(2026, 5, 4, tzinfo=UTC)
    phone = Device(id="phone", name="Bay phone", paired_at=at, seen_at=at)
    with open_app(full) as app:
        app.desk.store.add_device(phone)
        file = write_backup(full, tmp_path / "all")
        app.desk.store.change_device(replace(phone, revoked_at=at))
        restore_backup(file, full)

        assert [device.revoked_at for device in app.desk.store.devices()] == [at]


def test_what_is_written_during_a_restore_is_in_one_of_the_two(full: Path, tmp_path: Path) -> None:
    """An entry that was acknowledged is in the backup made before, or in the store afterwards."""
    file = write_backup(full, tmp_path / "all")
    told: list[str] = []
    stop = threading.Event()

    def tap() -> None:
        with open_app(full) as app:
            while not stop.is_set():
                told.append(log(app.desk, "job1", Kind.NOTE, {"note": "tap"}).uid)

    tapper = threading.Thread(target=tap)
    tapper.start()
    while len(told) < 3:
        time.sleep(0.01)
    done = restore_backup(file, full)
    seen = len(told)
    while len(told) < seen + 3:
        time.sleep(0.01)
    stop.set()
    tapper.join()
    restore_backup(done.kept_before, tmp_path / "before")
    kept = {event.uid for data in (full, tmp_path / "before") for event in _events(data)}

    assert set(told) <= kept
    assert [event.seq for event in _events(full)] == list(range(1, len(_events(full)) + 1))


def _events(data: Path) -> tuple[Event, ...]:
    with open_app(data) as app:
        return app.desk.store.events("job1")


def test_a_zip_of_something_else_is_refused(tmp_path: Path) -> None:
    """Holiday pictures are no backup."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as pack:
        pack.writestr("beach.jpg", photo())
    file = tmp_path / "holiday.zip"
    file.write_bytes(packed.getvalue())

    with pytest.raises(Conflict, match="has no manifest"):
        restore_backup(file, tmp_path / "data")
