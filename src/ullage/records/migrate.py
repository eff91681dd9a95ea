"""Bring a database to the form that this program writes: numbered steps, forward only.

Each step runs in one transaction together with the row that says it ran, after a copy of the file
was put beside it. Foreign keys are off while tables are rebuilt, because a rebuild with them on can
take rows with it unseen; they are checked before the step is kept.
"""

from __future__ import annotations

import importlib
import pkgutil
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from ullage import __version__
from ullage.errors import Conflict
from ullage.records import migrations
from ullage.records.schema import guards

#: What marks a file as ours in its header ("ullg").
APPLICATION_ID = 0x756C6C67


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One step: its number, its name, and what it does to an open database."""

    number: int
    name: str
    up: Callable[[sqlite3.Connection], None]


def known_migrations() -> tuple[Migration, ...]:
    """Return the steps that come with this program, in order."""
    found = []
    for module in pkgutil.iter_modules(migrations.__path__):
        number, _, name = module.name.removeprefix("m").partition("_")
        up = importlib.import_module(f"{migrations.__name__}.{module.name}").up
        found.append(Migration(number=int(number), name=name.replace("_", " "), up=up))
    return tuple(sorted(found, key=lambda step: step.number))


def migrate(path: Path, steps: Sequence[Migration] | None = None) -> tuple[Path, ...]:
    """Carry out every step that a database lacks; return the copies made before them.

    Raises
    ------
    Conflict
        If the file belongs to another program or a newer one, is damaged, lacks a guard, or a
        step failed; the file then is as it was.
    """
    every = known_migrations() if steps is None else tuple(steps)
    is_new = not path.exists() or path.stat().st_size == 0
    base = sqlite3.connect(path, isolation_level=None)
    try:
        if not is_new:
            looked_at(base, path)
        done = applied(base)
        newest = every[-1].number if every else 0
        if done and done[-1] > newest:
            raise Conflict(
                f"{path} was written by a newer program (its form is {done[-1]}, this program "
                f"knows up to {newest}); use the newer program"
            )
        copies = []
        base.execute("PRAGMA journal_mode = WAL")
        for step in every:
            if step.number in done:
                continue
            if not is_new:
                copies.append(_copied(base, path, step))
            _carry_out(base, path, step)
        _check_guards(base, path)
    finally:
        base.close()
    return tuple(copies)


def looked_at(base: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that is no database, is not ours, or is damaged."""
    try:
        mark = base.execute("PRAGMA application_id").fetchone()[0]
        health = base.execute("PRAGMA quick_check(1)").fetchone()[0]
    except sqlite3.DatabaseError as error:
        raise Conflict(
            f"{path} is no database or is damaged ({error}); restore a backup of it"
        ) from None
    if mark != APPLICATION_ID:
        raise Conflict(f"{path} belongs to another program; name another folder for the data")
    if health != "ok":
        raise Conflict(f"{path} is damaged ({health}); restore a backup of it")


def applied(base: sqlite3.Connection) -> tuple[int, ...]:
    """Return the numbers of the steps that a database has been through."""
    query = "SELECT name FROM sqlite_master WHERE type = 'table' AND name = 'migration'"
    if base.execute(query).fetchone() is None:
        return ()
    rows = base.execute("SELECT number FROM migration ORDER BY number").fetchall()
    return tuple(row[0] for row in rows)


def _copied(base: sqlite3.Connection, path: Path, step: Migration) -> Path:
    """Put a copy of the database beside it and return where."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    copy = path.with_name(f"{path.name}.before-{step.number:04d}-{stamp}")
    base.execute("VACUUM INTO ?", (str(copy),))
    return copy


def _carry_out(base: sqlite3.Connection, path: Path, step: Migration) -> None:
    """Carry out one step and its row, or nothing."""
    base.execute("PRAGMA foreign_keys = OFF")  # has no effect within a transaction
    base.execute("BEGIN IMMEDIATE")
    try:
        if step.number in applied(base):  # another process was faster
            base.execute("ROLLBACK")
            return
        step.up(base)
        _renew_guards(base)
        base.execute(
            "INSERT INTO migration (number, name, code, done_at) VALUES (?, ?, ?, ?)",
            (step.number, step.name, __version__, datetime.now(UTC).isoformat()),
        )
        lost = base.execute("PRAGMA foreign_key_check").fetchall()
        if lost:
            raise Conflict(f"{len(lost)} rows of table {lost[0][0]} would point nowhere")
        base.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        base.execute("COMMIT")
    except BaseException as error:
        base.execute("ROLLBACK")
        if isinstance(error, sqlite3.Error | Conflict):
            raise Conflict(
                f"{path} could not be brought to form {step.number} ({step.name}): {error}; it is "
                "as it was"
            ) from error
        raise


def _renew_guards(base: sqlite3.Connection) -> None:
    """Set the triggers anew: rebuilding a table drops those that stood on it."""
    tables = {row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    for name, sql in guards().items():
        if name.rsplit("_no_", 1)[0] in tables:
            base.execute(f"DROP TRIGGER IF EXISTS {name}")
            base.execute(sql)


def missing_guards(base: sqlite3.Connection) -> tuple[str, ...]:
    """Return the triggers that should be there and are not, or say something else."""
    rows = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    there = dict(rows)
    return tuple(name for name, sql in guards().items() if there.get(name) != sql)


def _check_guards(base: sqlite3.Connection, path: Path) -> None:
    lost = missing_guards(base)
    if lost:
        raise Conflict(
            f"{path} has lost what keeps its entries from being changed ({', '.join(lost)}); "
            "somebody worked on it with another program: restore a backup"
        )
