"""Open the database: brought up to date, every write durable before it counts as done."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection, ExceptionContext
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from ullage.errors import Conflict
from ullage.records.migrate import migrate

_PATIENCE_S = 10.0
#: What the world around a database can do to it, and what a person does then.
_TROUBLE = {
    sqlite3.SQLITE_BUSY: "somebody else has been writing for too long; try again",
    sqlite3.SQLITE_FULL: "the disk is full; make room, then try again",
    sqlite3.SQLITE_READONLY: "the folder of the data can't be written to; mend its rights",
    sqlite3.SQLITE_CANTOPEN: "the folder of the data can't be used; see whether it is there",
    sqlite3.SQLITE_IOERR: "the disk failed; copy the folder of the data elsewhere",
    sqlite3.SQLITE_CORRUPT: "the database is damaged; restore a backup",
    sqlite3.SQLITE_NOTADB: "the database is damaged; restore a backup",
}


@contextmanager
def open_database(path: Path) -> Iterator[Engine]:
    """Open a database of SQLite, made or migrated where needed, and close all of it again.

    Raises
    ------
    Conflict
        As ``migrate`` does; later from any use of it, if the disk is full, failing or locked.
    """
    migrate(path)
    engine = create_engine(
        f"sqlite:///{path}",
        poolclass=QueuePool,
        connect_args={"check_same_thread": False, "timeout": _PATIENCE_S},
    )
    event.listen(engine, "connect", _connected)
    event.listen(engine, "begin", _begun)
    event.listen(engine, "handle_error", _explained)
    try:
        yield engine
    finally:
        engine.dispose()


def _connected(base: sqlite3.Connection, _entry: ConnectionPoolEntry) -> None:
    """Set up a connection. The driver's own BEGIN comes too late for us, so it is switched off."""
    base.isolation_level = None
    base.execute("PRAGMA foreign_keys = ON")
    base.execute("PRAGMA journal_mode = WAL")
    # FULL: what was acknowledged survives a power cut, at four milliseconds a write.
    base.execute("PRAGMA synchronous = FULL")
    base.execute(f"PRAGMA busy_timeout = {int(_PATIENCE_S * 1e3)}")


def _begun(connection: Connection) -> None:
    """Begin; a writer takes the lock at once, or two that read first would wait for each other."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _explained(context: ExceptionContext) -> None:
    """Say what the world did to the database; mistakes of the program stay what they are."""
    code = getattr(context.original_exception, "sqlite_errorcode", 0) & 0xFF
    if code in _TROUBLE:
        raise Conflict(f"nothing was stored: {_TROUBLE[code]}") from context.original_exception
