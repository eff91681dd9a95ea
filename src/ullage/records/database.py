"""Open the database: brought up to date, every write durable before it counts as done."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from ullage.records.migrate import migrate

_PATIENCE_S = 10.0


@contextmanager
def open_database(path: Path) -> Iterator[Engine]:
    """Open a database of SQLite, made or migrated where needed, and close all of it again.

    Raises
    ------
    Conflict
        As ``migrate`` does.
    """
    migrate(path)
    engine = create_engine(
        f"sqlite:///{path}",
        poolclass=QueuePool,
        connect_args={"check_same_thread": False, "timeout": _PATIENCE_S},
    )
    event.listen(engine, "connect", _connected)
    event.listen(engine, "begin", _begun)
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
