"""One file with everything: made while others write, checked whole before it replaces anything.

A backup is a zip with the database, every photo, and ``manifest.json`` with the hash of each. A
restore unpacks it beside the data, checks all of it, brings it up to date, backs up what is there
now, and only then writes the old content into the database in a single transaction. Photos are
named by their content: they are added, none is removed.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ullage import __version__
from ullage.errors import Conflict
from ullage.photos.files import written
from ullage.records.migrate import known_migrations, looked_at, migrate, missing_guards

FORMAT = "ullage-backup/1"
MANIFEST = "manifest.json"
_BASE = "ullage.sqlite3"
_PICTURE = re.compile(r"pictures/([0-9a-f]{2})/(\1[0-9a-f]{62})\.(original|jpg)")
_LARGEST_MANIFEST = 50_000_000
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did: where what was there before is kept, and what came."""

    kept_before: Path
    jobs: int
    photos: int
    made_at: str


def write_backup(data: Path, target: Path) -> Path:
    """Write everything in a folder of data into one file and return its path.

    Raises
    ------
    Conflict
        If the file is there already, or the folder holds no data.
    """
    if target.exists():
        raise Conflict(f"{target} is there already; name another file, or remove it first")
    if not (data / _BASE).exists():
        raise Conflict(f"{data} holds no data to back up; name the folder with --data")
    with tempfile.TemporaryDirectory(dir=data, prefix=".backup-") as room:
        base = Path(room) / _BASE
        with closing(sqlite3.connect(data / _BASE)) as live:
            live.execute("VACUUM INTO ?", (str(base),))
        # Listed after the database was copied: every photo that it names is there by then.
        files = {_BASE: base}
        for picture in sorted((data / "pictures").glob("*/*")):
            name = picture.relative_to(data).as_posix()
            if _PICTURE.fullmatch(name):
                files[name] = picture
        packed = Path(room) / "packed"
        _pack(files, packed)
        target.parent.mkdir(parents=True, exist_ok=True)
        part = target.with_name(f".{target.name}.part")
        shutil.copyfile(packed, part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, target)
    return target


def _pack(files: dict[str, Path], target: Path) -> None:
    manifest: dict[str, Any] = {
        "format": FORMAT,
        "code": __version__,
        "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "files": {
            name: {"sha256": _hash_of(path), "size": path.stat().st_size}
            for name, path in files.items()
        },
    }
    with zipfile.ZipFile(target, "w") as pack:
        pack.writestr(MANIFEST, json.dumps(manifest, indent=1))
        for name, path in files.items():
            # Photos are compressed already.
            how = zipfile.ZIP_DEFLATED if name == _BASE else zipfile.ZIP_STORED
            pack.write(path, name, compress_type=how)


def _hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def restore_backup(file: Path, data: Path) -> Restored:
    """Put the content of a backup in place of what a folder of data holds.

    Raises
    ------
    Conflict
        If the file is no backup, is cut off, was tampered with, or is of a newer program; nothing
        is changed then.
    """
    data.mkdir(parents=True, exist_ok=True)
    with checked_backup(file, data) as (room, manifest):
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
        before = data / f"before-restore-{stamp}.ullage-backup"
        migrate(data / _BASE)  # a folder without data gets an empty database, which is backed up
        write_backup(data, before)
        photos = 0
        for picture in sorted(room.glob("pictures/*/*")):
            written(data / picture.relative_to(room), picture.read_bytes())
            photos += picture.name.endswith(".original")
        with (
            closing(sqlite3.connect(room / _BASE)) as source,
            closing(sqlite3.connect(data / _BASE, timeout=30.0)) as live,
        ):
            jobs = int(source.execute("SELECT count(*) FROM job").fetchone()[0])
            source.backup(live)
            live.execute("PRAGMA synchronous = FULL")
            live.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return Restored(kept_before=before, jobs=jobs, photos=photos, made_at=str(manifest["made_at"]))


@contextmanager
def checked_backup(file: Path, beside: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Unpack a backup into a room of its own once it was checked; the room goes again afterwards.

    Raises
    ------
    Conflict
        As ``restore_backup`` does.
    """
    with tempfile.TemporaryDirectory(dir=beside, prefix=".restore-") as name:
        room = Path(name)
        try:
            with zipfile.ZipFile(file) as pack:
                manifest = _manifest(pack, file)
                for entry, promised in manifest["files"].items():
                    _unpack(pack, entry, promised, room / entry, file)
        except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, OSError, ValueError) as error:
            if isinstance(error, FileNotFoundError | PermissionError | IsADirectoryError):
                raise
            raise Conflict(
                f"{file} is no backup or is damaged ({error}); nothing was changed"
            ) from None
        _check_base(room / _BASE, file)
        yield room, manifest


def _manifest(pack: zipfile.ZipFile, file: Path) -> dict[str, Any]:
    """Return the list of contents, which has to be exactly what is packed."""
    names = [info.filename for info in pack.infolist()]
    if MANIFEST not in names or pack.getinfo(MANIFEST).file_size > _LARGEST_MANIFEST:
        raise Conflict(f"{file} is no backup: it has no {MANIFEST}; nothing was changed")
    manifest = json.loads(pack.read(MANIFEST))
    made = manifest.get("format") if isinstance(manifest, dict) else None
    if made != FORMAT:
        newer = isinstance(made, str) and made.startswith("ullage-backup/")
        why = "was made by a newer program" if newer else "is no backup of this program"
        raise Conflict(f"{file} {why} (format {made!r}); nothing was changed")
    files = manifest.get("files")
    if (
        not isinstance(files, dict)
        or _BASE not in files
        or not isinstance(manifest.get("made_at"), str)
    ):
        raise Conflict(f"{file} is damaged: its {MANIFEST} is incomplete; nothing was changed")
    if sorted(names) != sorted([MANIFEST, *files]):
        raise Conflict(f"{file} holds other files than it lists; nothing was changed")
    for name in files:
        if name != _BASE and not _PICTURE.fullmatch(name):
            raise Conflict(f"{file} holds {name!r}, which is no part of a backup; nothing changed")
    return dict(manifest)


def _unpack(pack: zipfile.ZipFile, entry: str, promised: object, target: Path, file: Path) -> None:
    """Unpack one file, no further than it said it would be, and compare its hash."""
    if not isinstance(promised, dict) or pack.getinfo(entry).file_size != promised.get("size"):
        raise Conflict(f"{file} is damaged: {entry} has another size; nothing was changed")
    target.parent.mkdir(parents=True, exist_ok=True)
    seen = hashlib.sha256()
    with pack.open(entry) as source, target.open("wb") as out:
        while piece := source.read(_PIECE):
            seen.update(piece)
            out.write(piece)
    if seen.hexdigest() != promised.get("sha256"):
        raise Conflict(f"{file} is damaged: {entry} is not what was packed; nothing was changed")
    picture = _PICTURE.fullmatch(entry)
    if picture and picture[3] == "original" and seen.hexdigest() != picture[2]:
        raise Conflict(f"{file} is damaged: {entry} is another photo; nothing was changed")


def _check_base(path: Path, file: Path) -> None:
    """Refuse a database that is damaged, newer, or lacks its guards; bring an older one up."""
    newest = known_migrations()[-1].number
    try:
        with closing(sqlite3.connect(path)) as base:
            looked_at(base, file)
            health = base.execute("PRAGMA integrity_check(1)").fetchone()[0]
            lost = base.execute("PRAGMA foreign_key_check").fetchone()
            forms = base.execute("SELECT max(number) FROM migration").fetchone()
            guards = missing_guards(base)
    except sqlite3.DatabaseError as error:
        raise Conflict(f"{file}: its database is damaged ({error}); nothing was changed") from None
    if health != "ok" or lost is not None or forms[0] is None:
        raise Conflict(f"{file}: its database is damaged ({health}); nothing was changed")
    if forms[0] > newest:
        raise Conflict(
            f"{file} was made by a newer program (form {forms[0]}, this one knows up to {newest}); "
            "use the newer program; nothing was changed"
        )
    if guards:
        raise Conflict(
            f"{file}: its entries are no longer kept from being changed ({guards[0]} is missing); "
            "nothing was changed"
        )
    migrate(path)
