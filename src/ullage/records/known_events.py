"""Events that were read before: they never change, so they need not be read again.

The database remains the judge. Every look asks for the last known event anew with all that follow;
where that one is no longer the same, as after a restore, everything known of the job is forgotten.
"""

from __future__ import annotations

import threading
from collections import OrderedDict

from sqlalchemy import select
from sqlalchemy.engine import Connection

from ullage.jobs.event import Event
from ullage.records import rows
from ullage.records.schema import EVENT

#: Jobs whose events are remembered: more than a garage works on in one day.
_MOST_JOBS = 16


class KnownEvents:
    """Reads events of jobs, each once."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[str, tuple[Event, ...]] = OrderedDict()

    def of(self, base: Connection, job_id: str) -> tuple[Event, ...]:
        """Return all events of a job as a transaction sees them."""
        with self._lock:
            known = self._known.get(job_id, ())
        last = known[-1:]
        found = _read(base, job_id, after=last[0].seq - 1 if last else 0)
        if tuple(found[: len(last)]) != last:
            known, last, found = (), (), _read(base, job_id, after=0)
        every = (*known, *found[len(last) :])
        with self._lock:
            self._known[job_id] = every
            self._known.move_to_end(job_id)
            if len(self._known) > _MOST_JOBS:
                self._known.popitem(last=False)
        return every


def _read(base: Connection, job_id: str, *, after: int) -> list[Event]:
    query = select(EVENT).where(EVENT.c.job_id == job_id, EVENT.c.seq > after)
    return [rows.event_of(row) for row in base.execute(query.order_by(EVENT.c.seq)).mappings()]
