"""The tables as they stand after the last migration.

What happened is kept for good: events, answers, versions of circuits, movements of stock and
readings of counters can be added, but neither changed nor removed. The database itself refuses.
Instants are text in UTC, ``2026-05-04T08:00:00.000000+00:00``, which sorts as time does; tables of
files and payloads are JSON text; ``folded`` columns hold text as it is searched.
"""

from __future__ import annotations

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    desc,
)

METADATA = MetaData()

MACHINE = Table(
    "machine",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("name_folded", Text, nullable=False, unique=True),
    Column("folded", Text, nullable=False),
    Column("marks", Text, nullable=False),
    Column("counter", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("added_at", Text, nullable=False),
)
CIRCUIT_VERSION = Table(
    "circuit_version",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("circuit_id", Text, nullable=False),
    Column("machine_id", Text, ForeignKey("machine.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("name", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("saved_at", Text, nullable=False),
    UniqueConstraint("circuit_id", "number"),
    Index("circuit_version_machine", "machine_id"),
)
JOB = Table(
    "job",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("machine_id", Text, ForeignKey("machine.id"), nullable=False),
    Column("circuit_id", Text, nullable=False),
    Column("circuit_version_id", Text, ForeignKey("circuit_version.id"), nullable=False),
    Column("title", Text, nullable=False),
    Column("opened_at", Text, nullable=False),
)
# One row a job, renewed with every event; it can be made anew from the events.
JOB_LINE = Table(
    "job_line",
    METADATA,
    Column("job_id", Text, ForeignKey("job.id"), primary_key=True),
    Column("machine_id", Text, ForeignKey("machine.id"), nullable=False),
    Column("title", Text, nullable=False),
    Column("folded", Text, nullable=False),
    Column("stage", Text),
    Column("next_sentence", Text, nullable=False),
    Column("next_who", Text, nullable=False),
    Column("rank", Integer, nullable=False),
    Column("is_open", Integer, nullable=False),
    Column("opened_at", Text, nullable=False),
    Column("touched_at", Text, nullable=False),
    # Each list is read from an index in its own order (open jobs by rank, then the longest
    # untouched; closed ones the newest first) and searched there too: no other row is looked at.
    Index("job_line_open", "is_open", "rank", "touched_at", "job_id", "folded"),
    Index("job_line_closed", "is_open", desc("touched_at"), "job_id", "folded"),
    Index(
        "job_line_machine_open", "machine_id", "is_open", "rank", "touched_at", "job_id", "folded"
    ),
    Index(
        "job_line_machine_closed", "machine_id", "is_open", desc("touched_at"), "job_id", "folded"
    ),
)
EVENT = Table(
    "event",
    METADATA,
    Column("job_id", Text, ForeignKey("job.id"), primary_key=True),
    Column("seq", Integer, primary_key=True),
    Column("uid", Text, nullable=False, unique=True),
    Column("device", Text, nullable=False),
    Column("device_seq", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("device_at", Text, nullable=False),
    Column("server_at", Text, nullable=False),
    Column("payload", Text, nullable=False),
)
COUNTER_READING = Table(
    "counter_reading",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("machine_id", Text, ForeignKey("machine.id"), nullable=False),
    Column("job_id", Text, ForeignKey("job.id")),
    Column("read_at", Text, nullable=False),
    Column("distance_m", Float),
    Column("running_s", Float),
    Index("counter_reading_machine", "machine_id", "read_at"),
)
ANSWER = Table(
    "answer",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("job_id", Text, ForeignKey("job.id"), nullable=False),
    Column("of", Text, nullable=False),
    Column("made_at", Text, nullable=False),
    Column("code", Text, nullable=False),
    Column("seed", Integer, nullable=False),
    Column("inputs", Text, nullable=False),
    Column("fingerprint", Text, nullable=False),
    Column("body", Text, nullable=False),
    Index("answer_job", "job_id", "of", "made_at"),
)
SHEET = Table(
    "sheet",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("of", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("folded", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("saved_at", Text, nullable=False),
)
LOT = Table(
    "lot",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("sheet_id", Text, ForeignKey("sheet.id"), nullable=False),
    Column("mark", Text, nullable=False),
    Column("container_m3", Float),
    Column("expires_on", Text),
    Column("received_on", Text, nullable=False),
    Index("lot_sheet", "sheet_id"),
)
MOVEMENT = Table(
    "movement",
    METADATA,
    Column("uid", Text, primary_key=True),
    Column("lot_id", Text, ForeignKey("lot.id"), nullable=False),
    Column("count", Float, nullable=False),
    Column("why", Text, nullable=False),
    Column("moved_at", Text, nullable=False),
    Column("job_id", Text, ForeignKey("job.id")),
    Index("movement_lot", "lot_id", "moved_at"),
)
PICTURE = Table(
    "picture",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("media_type", Text, nullable=False),
    Column("size", Integer, nullable=False),
    Column("width", Integer, nullable=False),
    Column("height", Integer, nullable=False),
    Column("kept_at", Text, nullable=False),
)
SETTING = Table(
    "setting",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
DEVICE = Table(
    "device",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("paired_at", Text, nullable=False),
    Column("seen_at", Text, nullable=False),
    Column("revoked_at", Text),
)
MIGRATION = Table(
    "migration",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("code", Text, nullable=False),
    Column("done_at", Text, nullable=False),
)

#: Tables whose rows are facts: added, never changed or removed.
FACTS = ("event", "answer", "circuit_version", "movement", "counter_reading", "migration")


def guards() -> dict[str, str]:
    """Return the triggers that keep facts as they are, by name, in the SQL of SQLite."""
    return {
        f"{table}_no_{act}": (
            f"CREATE TRIGGER {table}_no_{act} BEFORE {act.upper()} ON {table} BEGIN "
            f"SELECT RAISE(ABORT, '{table} rows are facts: add another one instead'); END"
        )
        for table in FACTS
        for act in ("update", "delete")
    }
