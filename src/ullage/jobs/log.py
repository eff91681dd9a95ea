"""Write down what happened in a job, and read a job back: the way every other use case takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ullage.errors import Conflict
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import Job, JobHead, folded, standing
from ullage.jobs.next_thing import JobLine, line_of
from ullage.jobs.payload import checked
from ullage.jobs.ports import Desk

#: The device of entries that are made by the server's own pages and commands.
DESK_DEVICE = "desk"


def load_job(desk: Desk, job_id: str) -> Job:
    """Return a job as it stands now, or raise ``NotFound``."""
    return folded(desk.store.job_head(job_id), desk.store.events(job_id))


def log(
    desk: Desk, job_id: str, kind: Kind, payload: Mapping[str, Any], *, uid: str | None = None
) -> Event:
    """Add one event made here and now. ``uid`` given: once, however often it is sent.

    Raises
    ------
    OutOfRange, NotFound
        If the payload is not one of the kind, or there is no such job.
    Conflict
        If the job is closed: its record is filed, and only taking back the filing opens it again.
    """
    draft = Draft(
        uid=uid or desk.new_id(),
        device=DESK_DEVICE,
        device_seq=0,
        kind=kind,
        device_at=desk.now(),
        payload=payload,
    )
    return log_all(desk, job_id, (draft,))[0]


def log_all(desk: Desk, job_id: str, drafts: Sequence[Draft]) -> tuple[Event, ...]:
    """Add events that devices made, all or none, each uid once; the payloads are checked here."""
    job = load_job(desk, job_id)
    good = [replace(draft, payload=checked(draft.kind, draft.payload)) for draft in drafts]
    if job.is_closed and not all(draft.kind in (Kind.STAGE, Kind.UNDONE) for draft in good):
        raise Conflict("the record of this job is filed; reopen its last stage before adding to it")
    return desk.store.append(job_id, good, line_from_events, at=desk.now())


def take_back(desk: Desk, job_id: str, uid: str) -> Event:
    """Take back an event of a job; taking back a taking back brings the event back.

    Raises
    ------
    Conflict
        If the event is not one of this job's, or was taken back already.
    """
    events = desk.store.events(job_id)
    found = next((event for event in events if event.uid == uid), None)
    if found is None:
        raise Conflict("there is no such entry in this job; load the page again")
    counts = {event.uid for event in standing(events)}
    if found.kind is not Kind.UNDONE and uid not in counts:
        raise Conflict("that entry was taken back already")
    return log(desk, job_id, Kind.UNDONE, {"uid": uid})


def line_from_events(head: JobHead, events: Sequence[Event]) -> JobLine:
    """Return the line that the list of jobs shows."""
    return line_of(folded(head, events))
