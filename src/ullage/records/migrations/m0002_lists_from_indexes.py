"""The second form: a list of jobs is read and searched in an index, in its own order."""

from __future__ import annotations

import sqlite3

_STEPS = (
    "DROP INDEX job_line_open",
    "DROP INDEX job_line_machine",
    "CREATE INDEX job_line_open ON job_line (is_open, rank, touched_at, job_id, folded)",
    "CREATE INDEX job_line_closed ON job_line (is_open, touched_at DESC, job_id, folded)",
    "CREATE INDEX job_line_machine_open ON job_line "
    "(machine_id, is_open, rank, touched_at, job_id, folded)",
    "CREATE INDEX job_line_machine_closed ON job_line "
    "(machine_id, is_open, touched_at DESC, job_id, folded)",
)


def up(base: sqlite3.Connection) -> None:
    """Give each of the two lists its index, with the text that is searched in it."""
    for sql in _STEPS:
        base.execute(sql)
