"""One file with everything: made while others write, checked whole before it replaces anything.

A backup is a zip with the database, every photo, and ``manifest.json`` with the hash of each. A
restore unpacks it beside the data, checks all of it and brings it up to date. Then it takes the
write lock, backs up what is there, puts the old content in its place and lets go: one transaction,
so that nobody can write something that is in neither. Photos are named by their content: they are
added, none is removed. A device that was struck out here stays struck out.
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
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ullage import __version__
from ullage.errors import Conflict
from ullage.records.migrate import known_migrations, looked_at, migrate, missing_guards
from ullage.records.schema import METADATA, guards

FORMAT = "ullage-backup/1"
MANIFEST = "manifest.json"
_BASE = "ullage.sqlite3"
_PICTURE = re.compile(r"pictures/([0-9a-f]{2})/(\1[0-9a-f]{62})\.(original|jpg)")
_LARGEST_MANIFEST = 50_000_000
_PIECE = 1 << 20
#: How long a restore waits for somebody who is writing.
_PATIENCE_S = 30.0
_NO_ZIP = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    EOFError,
    OSError,
    ValueError,
    NotImplementedError,  # a way of packing that nobody of us uses
    RuntimeError,  # packed under a password, or nested without end
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did: where what was there before is kept, and what came.

    ``lost`` counts photos that were lost or damaged already when the backup was made.
    """

    kept_before: Path
    jobs: int
    photos: int
    lost: int
    made_at: str


def write_backup(data: Path, target: Path) -> Path:
    """Write everything in a folder of data into one file and return its path.

    A photo that the disk lost or damaged is not packed, but named in the list of contents: one bad
    photo must not spoil the backup of all the others.

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
            if _is_sound(name, picture):
                files[name] = picture
        lost = [sha256 for sha256 in _photos_of(base) if _original(sha256) not in files]
        packed = Path(room) / "packed"
        _pack(files, packed, lost)
        target.parent.mkdir(parents=True, exist_ok=True)
        part = target.with_name(f".{target.name}.part")
        shutil.copyfile(packed, part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, target)
    return target


def _original(sha256: str) -> str:
    """Return the name under which a photo's bytes are packed."""
    return f"pictures/{sha256[:2]}/{sha256}.original"


def _photos_of(base: Path) -> list[str]:
    """Return the hashes of the photos that a database names."""
    with closing(sqlite3.connect(base)) as open_:
        return [row[0] for row in open_.execute("SELECT sha256 FROM picture ORDER BY sha256")]


def _is_sound(name: str, picture: Path) -> bool:
    """Tell whether a file is a photo or a preview, and a photo is the one it is named after."""
    found = _PICTURE.fullmatch(name)
    return found is not None and (found[3] == "jpg" or _hash_of(picture) == found[2])


def _pack(files: dict[str, Path], target: Path, lost: list[str]) -> None:
    manifest: dict[str, Any] = {
        "format": FORMAT,
        "code": __version__,
        "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "lost": lost,
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
        photos = 0
        for picture in sorted(room.glob("pictures/*/*")):
            _put(picture, data / picture.relative_to(room))
            photos += picture.name.endswith(".original")
        with _locked(data / _BASE, room / _BASE) as live:
            write_backup(data, before)
            _replace_rows(live)
            jobs = int(live.execute("SELECT count(*) FROM job").fetchone()[0])
    return Restored(
        kept_before=before,
        jobs=jobs,
        photos=photos,
        lost=len(manifest["lost"]),
        made_at=str(manifest["made_at"]),
    )


def _put(source: Path, target: Path) -> None:
    """Move a photo to its place, whole and safely on the disk, unless just that lies there."""
    if target.exists() and _hash_of(target) == _hash_of(source):
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    with source.open("rb+") as file:
        os.fsync(file.fileno())
    os.replace(source, target)
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


@contextmanager
def _locked(path: Path, other: Path) -> Iterator[sqlite3.Connection]:
    """Open a database with another one beside it as ``old``; all that is done is done at once."""
    with closing(sqlite3.connect(path, timeout=_PATIENCE_S, isolation_level=None)) as live:
        live.execute("PRAGMA foreign_keys = OFF")  # rows come table by table, and were checked
        live.execute("PRAGMA synchronous = FULL")
        live.execute("ATTACH ? AS old", (str(other),))
        try:
            live.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError as error:
            raise Conflict(f"{path} is busy ({error}); nothing was changed, try again") from None
        try:
            yield live
            live.execute("COMMIT")
        except BaseException:
            live.execute("ROLLBACK")
            raise


def _replace_rows(live: sqlite3.Connection) -> None:
    """Put the rows of the database ``old`` in place of all rows.

    Both have the same tables. The guards are lifted for it and set again in the same transaction.
    """
    struck_out = live.execute(
        "SELECT revoked_at, id FROM device WHERE revoked_at IS NOT NULL"
    ).fetchall()
    for name in guards():
        live.execute(f"DROP TRIGGER main.{name}")
    for table in METADATA.sorted_tables:
        columns = ", ".join(f'"{column.name}"' for column in table.columns)
        live.execute(f'DELETE FROM main."{table.name}"')
        live.execute(
            f'INSERT INTO main."{table.name}" ({columns}) SELECT {columns} FROM old."{table.name}"'
        )
    live.executemany("UPDATE main.device SET revoked_at = ? WHERE id = ?", struck_out)
    for sql in guards().values():
        live.execute(sql)


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
        except _NO_ZIP as error:
            if isinstance(error, FileNotFoundError | PermissionError | IsADirectoryError):
                raise
            raise Conflict(
                f"{file} is no backup or is damaged ({error}); nothing was changed"
            ) from None
        _check_base(room / _BASE, file)
        gone = {
            sha256
            for sha256 in _photos_of(room / _BASE)
            if sha256 not in manifest["lost"] and _original(sha256) not in manifest["files"]
        }
        if gone:
            raise Conflict(
                f"{file} lacks photos that its jobs name ({len(gone)}); nothing was changed"
            )
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
        or not isinstance(manifest.get("lost"), list)
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
            tables = {name for type_, name, _ in _forms_of(base) if type_ == "table"}
            unguarded = [
                guard for guard in missing_guards(base) if guard.rsplit("_no_", 1)[0] in tables
            ]
    except sqlite3.DatabaseError as error:
        raise Conflict(f"{file}: its database is damaged ({error}); nothing was changed") from None
    if health != "ok" or lost is not None or forms[0] is None:
        raise Conflict(f"{file}: its database is damaged ({health}); nothing was changed")
    if forms[0] > newest:
        raise Conflict(
            f"{file} was made by a newer program (form {forms[0]}, this one knows up to {newest}); "
            "use the newer program; nothing was changed"
        )
    if unguarded:
        raise Conflict(
            f"{file}: its entries are no longer kept from being changed ({unguarded[0]} is "
            "missing); nothing was changed"
        )
    migrate(path)
    with closing(sqlite3.connect(path)) as base:
        strange = _forms_of(base) ^ _sound_forms(path.with_name("sound.sqlite3"))
        torn = base.execute(
            "SELECT job_id FROM event GROUP BY job_id HAVING min(seq) <> 1 OR max(seq) <> count(*)"
        ).fetchone()
    if strange:
        names = ", ".join(sorted({name for _, name, _ in strange}))
        raise Conflict(
            f"{file}: its tables are not those of this program ({names}); nothing was changed"
        )
    if torn is not None:
        raise Conflict(f"{file}: entries of job {torn[0]} are missing; nothing was changed")


def _forms_of(base: sqlite3.Connection) -> set[tuple[str, str, str]]:
    """Return the tables, indexes, triggers and views of a database as they were made."""
    rows = base.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {(str(type_), str(name), str(sql)) for type_, name, sql in rows}


def _sound_forms(path: Path) -> set[tuple[str, str, str]]:
    """Return what a database is made of that went through all steps and nothing else."""
    migrate(path)
    with closing(sqlite3.connect(path)) as base:
        return _forms_of(base)
