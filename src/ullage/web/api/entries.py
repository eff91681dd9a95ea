"""Entries of a job: read on from a place, sent by devices, taken back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field, JsonValue, StrictInt

from ullage.jobs.close_job import give_back
from ullage.jobs.entries_sent import take_in
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.log import take_back
from ullage.web.api.given import IdInPath, Instant, Sent, Table, Uid
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here

router = APIRouter(prefix="/jobs/{job_id}", tags=["entries"])

_MOST = 500


class EntryTold(BaseModel):
    """An entry as it is stored: the ``seq``-th of its job, from 1, without gaps."""

    seq: int
    uid: str
    device: str
    device_seq: int
    kind: Kind
    device_at: datetime
    server_at: datetime
    payload: dict[str, JsonValue]


class EntriesTold(BaseModel):
    """Entries in order; ``last`` is where to read on, ``is_all`` whether more are there."""

    entries: list[EntryTold]
    last: int
    is_all: bool


class NewEntry(Sent):
    """An entry as a device made it. What a kind may carry stands in the reference."""

    uid: Uid
    device: str = Field(min_length=1, max_length=80, pattern=r"^[ -~]+$")
    device_seq: StrictInt = Field(ge=0, le=2**53)
    kind: Kind
    device_at: Instant
    payload: Table


class NewEntries(Sent):
    """Entries of one job, all kept or none."""

    entries: list[NewEntry] = Field(min_length=1, max_length=_MOST)


class EntryNamed(Sent):
    """An entry of the job, by its ``uid``."""

    uid: str = Field(min_length=1, max_length=120)


def _told(event: Event) -> EntryTold:
    return EntryTold(
        seq=event.seq,
        uid=event.uid,
        device=event.device,
        device_seq=event.device_seq,
        kind=event.kind,
        device_at=event.device_at,
        server_at=event.server_at,
        payload=dict(event.payload),
    )


def _part(events: Sequence[Event], after: int) -> EntriesTold:
    part = events[:_MOST]
    return EntriesTold(
        entries=[_told(event) for event in part],
        last=part[-1].seq if part else after,
        is_all=len(part) == len(events),
    )


@router.get("/entries", responses=refusals(404))
def entries_after(
    desk: Here,
    job_id: IdInPath,
    after: Annotated[int, Query(ge=0, le=2**53, description="The last place that is known.")] = 0,
) -> EntriesTold:
    """Return at most 500 entries behind a place, those that were taken back too."""
    return _part(desk.store.events(job_id, after=after), after)


@router.post("/entries", responses={**TAKING_IN, **refusals(404, 409)})
def send_entries(desk: Here, job_id: IdInPath, sent: NewEntries) -> EntriesTold:
    """Add entries, all or none; one whose ``uid`` is known is returned as it is stored."""
    drafts = [
        Draft(
            uid=one.uid,
            device=one.device,
            device_seq=one.device_seq,
            kind=one.kind,
            device_at=one.device_at,
            payload=one.payload,
        )
        for one in sent.entries
    ]
    return _part(take_in(desk, job_id, drafts), 0)


@router.post("/take-back", responses={**TAKING_IN, **refusals(404, 409)})
def take_back_entry(desk: Here, job_id: IdInPath, sent: EntryNamed) -> EntryTold:
    """Take back an entry, and return the entry that says so; a lot goes back on the shelf."""
    found = next((one for one in desk.store.events(job_id) if one.uid == sent.uid), None)
    if found is None or found.kind is not Kind.LOT_USED:
        return _told(take_back(desk, job_id, sent.uid))
    give_back(desk, job_id, sent.uid)
    return _told(desk.store.events(job_id)[-1])
