"""One job as one file, to be handed to another garage or another laptop, and merged there.

``ullage-job/1`` is JSON: the machine, every version of its circuit up to the one used, the job with
its events and answers, and its photos. Merging goes by the ids that devices made: what is there
already stays, so the same file twice changes nothing. The server's time of an event is that of the
store which it is merged into; the device's time stays.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import JobHead
from ullage.jobs.next_thing import JobLine
from ullage.jobs.payload import checked
from ullage.jobs.ports import Desk
from ullage.records import rows

FORMAT = "ullage-job/1"


def job_to_table(desk: Desk, job_id: str) -> dict[str, Any]:
    """Return a job with all that belongs to it, ready for JSON."""
    store = desk.store
    head = store.job_head(job_id)
    used = store.circuit_version(head.circuit_version_id)
    versions = [v for v in store.circuit_versions(head.circuit_id) if v.number <= used.number]
    events = store.events(job_id)
    shown = {e.payload["sha256"] for e in events if e.kind is Kind.PHOTO}
    return {
        "format": FORMAT,
        "code": desk.code,
        "machine": rows.machine_row(store.machine(head.machine_id)),
        "circuit_versions": [rows.version_row(version) for version in reversed(versions)],
        "job": rows.head_row(head),
        "events": [rows.event_row(event) for event in events],
        "answers": [rows.answer_row(answer) for answer in reversed(store.answers(job_id))],
        "counter_readings": [
            rows.counter_row(reading)
            for reading in store.counter_readings(head.machine_id)
            if reading.job_id == job_id
        ],
        "photos": {
            sha256: base64.b64encode(desk.pictures.original(sha256)).decode()
            for sha256 in sorted(shown)
        },
    }


def merge_job(
    desk: Desk,
    table: Mapping[str, Any],
    line: Callable[[JobHead, Sequence[Event]], JobLine],
    *,
    file: str,
) -> str:
    """Put a job from a file into the store and return its id.

    Raises
    ------
    OutOfRange
        If the file is no job, or something in it is not what it should be.
    Conflict
        If another machine bears the name, or a circuit or an event differs from what is here.
    """
    if table.get("format") != FORMAT:
        raise OutOfRange(
            "format",
            repr(table.get("format")),
            f"{FORMAT!r}",
            f"{file} is no exported job, or is one of a newer program",
        )
    try:
        machine = rows.machine_of(table["machine"])
        versions = [rows.version_of(row) for row in table["circuit_versions"]]
        head = rows.head_of(table["job"])
        events = [rows.event_of(row) for row in table["events"]]
        answers = [rows.answer_of(row) for row in table["answers"]]
        counters = [rows.counter_of(row) for row in table.get("counter_readings", ())]
        photos = {
            sha256: base64.b64decode(text, validate=True)
            for sha256, text in table.get("photos", {}).items()
        }
    except (KeyError, TypeError, ValueError, AttributeError, binascii.Error) as error:
        raise OutOfRange(
            "job", f"{type(error).__name__}: {error}", "as it was exported", f"export {file} again"
        ) from None
    drafts = [_draft(event) for event in events]
    store = desk.store
    if not _is_there(store.machine, machine.id):
        store.add_machine(machine)
    for version in versions:
        if _is_there(store.circuit_version, version.id):
            continue
        store.add_circuit_version(version)
    for sha256, data in photos.items():
        picture = desk.pictures.keep(data, at=desk.now())
        if picture.sha256 != sha256:
            raise OutOfRange("photos", sha256[:12], "named by its content", "export it again")
        store.add_picture(picture)
    if not _is_there(store.job_head, head.id):
        store.open_job(head, line(head, ()))
    elif store.job_head(head.id) != head:
        raise Conflict(f"another job bears the id {head.id!r} here; nothing of it was merged")
    store.append(head.id, drafts, line, at=desk.now())
    for answer in answers:
        if not _is_there(store.answer, answer.id):
            store.keep_answer(answer)
    here = set(store.counter_readings(machine.id))
    for reading in counters:
        if reading not in here:
            store.add_counter_reading(reading)
    return head.id


def _draft(event: Event) -> Draft:
    return Draft(
        uid=event.uid,
        device=event.device,
        device_seq=event.device_seq,
        kind=event.kind,
        device_at=_aware(event.device_at),
        payload=checked(event.kind, event.payload),
    )


def _aware(at: datetime) -> datetime:
    if at.tzinfo is None:
        raise OutOfRange("device_at", at.isoformat(), "a time with its zone")
    return at


def _is_there(lookup: Callable[[str], object], name: str) -> bool:
    try:
        lookup(name)
    except NotFound:
        return False
    return True
