"""The first form: machines, circuits, jobs with their events and answers, shelf, devices."""

from __future__ import annotations

import sqlite3

_TABLES = (
    """
    CREATE TABLE device (
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        paired_at TEXT NOT NULL,
        seen_at TEXT NOT NULL,
        revoked_at TEXT,
        PRIMARY KEY (id)
    )
    """,
    """
    CREATE TABLE machine (
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        name_folded TEXT NOT NULL,
        folded TEXT NOT NULL,
        marks TEXT NOT NULL,
        counter TEXT NOT NULL,
        version INTEGER NOT NULL,
        added_at TEXT NOT NULL,
        PRIMARY KEY (id),
        UNIQUE (name_folded)
    )
    """,
    """
    CREATE TABLE migration (
        number INTEGER NOT NULL,
        name TEXT NOT NULL,
        code TEXT NOT NULL,
        done_at TEXT NOT NULL,
        PRIMARY KEY (number)
    )
    """,
    """
    CREATE TABLE picture (
        sha256 TEXT NOT NULL,
        media_type TEXT NOT NULL,
        size INTEGER NOT NULL,
        width INTEGER NOT NULL,
        height INTEGER NOT NULL,
        kept_at TEXT NOT NULL,
        PRIMARY KEY (sha256)
    )
    """,
    """
    CREATE TABLE setting (
        "key" TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY ("key")
    )
    """,
    """
    CREATE TABLE sheet (
        id TEXT NOT NULL,
        "of" TEXT NOT NULL,
        name TEXT NOT NULL,
        folded TEXT NOT NULL,
        body TEXT NOT NULL,
        version INTEGER NOT NULL,
        saved_at TEXT NOT NULL,
        PRIMARY KEY (id)
    )
    """,
    """
    CREATE TABLE circuit_version (
        id TEXT NOT NULL,
        circuit_id TEXT NOT NULL,
        machine_id TEXT NOT NULL,
        number INTEGER NOT NULL,
        name TEXT NOT NULL,
        body TEXT NOT NULL,
        saved_at TEXT NOT NULL,
        PRIMARY KEY (id),
        UNIQUE (circuit_id, number),
        FOREIGN KEY(machine_id) REFERENCES machine (id)
    )
    """,
    """
    CREATE INDEX circuit_version_machine ON circuit_version (machine_id)
    """,
    """
    CREATE TABLE lot (
        id TEXT NOT NULL,
        sheet_id TEXT NOT NULL,
        mark TEXT NOT NULL,
        container_m3 FLOAT,
        expires_on TEXT,
        received_on TEXT NOT NULL,
        PRIMARY KEY (id),
        FOREIGN KEY(sheet_id) REFERENCES sheet (id)
    )
    """,
    """
    CREATE INDEX lot_sheet ON lot (sheet_id)
    """,
    """
    CREATE TABLE job (
        id TEXT NOT NULL,
        machine_id TEXT NOT NULL,
        circuit_id TEXT NOT NULL,
        circuit_version_id TEXT NOT NULL,
        title TEXT NOT NULL,
        opened_at TEXT NOT NULL,
        PRIMARY KEY (id),
        FOREIGN KEY(machine_id) REFERENCES machine (id),
        FOREIGN KEY(circuit_version_id) REFERENCES circuit_version (id)
    )
    """,
    """
    CREATE TABLE answer (
        id TEXT NOT NULL,
        job_id TEXT NOT NULL,
        "of" TEXT NOT NULL,
        made_at TEXT NOT NULL,
        code TEXT NOT NULL,
        seed INTEGER NOT NULL,
        inputs TEXT NOT NULL,
        fingerprint TEXT NOT NULL,
        body TEXT NOT NULL,
        PRIMARY KEY (id),
        FOREIGN KEY(job_id) REFERENCES job (id)
    )
    """,
    """
    CREATE INDEX answer_job ON answer (job_id, "of", made_at)
    """,
    """
    CREATE TABLE counter_reading (
        id INTEGER NOT NULL,
        machine_id TEXT NOT NULL,
        job_id TEXT,
        read_at TEXT NOT NULL,
        distance_m FLOAT,
        running_s FLOAT,
        PRIMARY KEY (id),
        FOREIGN KEY(machine_id) REFERENCES machine (id),
        FOREIGN KEY(job_id) REFERENCES job (id)
    )
    """,
    """
    CREATE INDEX counter_reading_machine ON counter_reading (machine_id, read_at)
    """,
    """
    CREATE TABLE event (
        job_id TEXT NOT NULL,
        seq INTEGER NOT NULL,
        uid TEXT NOT NULL,
        device TEXT NOT NULL,
        device_seq INTEGER NOT NULL,
        kind TEXT NOT NULL,
        device_at TEXT NOT NULL,
        server_at TEXT NOT NULL,
        payload TEXT NOT NULL,
        PRIMARY KEY (job_id, seq),
        FOREIGN KEY(job_id) REFERENCES job (id),
        UNIQUE (uid)
    )
    """,
    """
    CREATE TABLE job_line (
        job_id TEXT NOT NULL,
        machine_id TEXT NOT NULL,
        title TEXT NOT NULL,
        folded TEXT NOT NULL,
        stage TEXT,
        next_sentence TEXT NOT NULL,
        next_who TEXT NOT NULL,
        rank INTEGER NOT NULL,
        is_open INTEGER NOT NULL,
        opened_at TEXT NOT NULL,
        touched_at TEXT NOT NULL,
        PRIMARY KEY (job_id),
        FOREIGN KEY(job_id) REFERENCES job (id),
        FOREIGN KEY(machine_id) REFERENCES machine (id)
    )
    """,
    """
    CREATE INDEX job_line_machine ON job_line (machine_id, is_open, rank, touched_at)
    """,
    """
    CREATE INDEX job_line_open ON job_line (is_open, rank, touched_at, job_id)
    """,
    """
    CREATE TABLE movement (
        uid TEXT NOT NULL,
        lot_id TEXT NOT NULL,
        count FLOAT NOT NULL,
        why TEXT NOT NULL,
        moved_at TEXT NOT NULL,
        job_id TEXT,
        PRIMARY KEY (uid),
        FOREIGN KEY(lot_id) REFERENCES lot (id),
        FOREIGN KEY(job_id) REFERENCES job (id)
    )
    """,
    """
    CREATE INDEX movement_lot ON movement (lot_id, moved_at)
    """,
)


def up(base: sqlite3.Connection) -> None:
    """Make every table and index."""
    for sql in _TABLES:
        base.execute(sql)
