"""One job as one file, to be handed to another garage or another laptop, and merged there.

``ullage-job/1`` is JSON: the machine, every version of its circuit up to the one used, the job with
its events and answers, and its photos. Merging goes by the ids that devices made: what is there
already stays, so the same file twice changes nothing. The server's time of an event is that of the
store which it is merged into; the device's time stays. Where a circuit was changed here as well,
versions that come get the next numbers, and what was saved last stays the newest.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn

from sqlalchemy import Float, Integer, Table, Text

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.answer import Answer
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import JobHead
from ullage.jobs.machine import CircuitVersion, CounterReading, Machine
from ullage.jobs.next_thing import JobLine
from ullage.jobs.payload import checked
from ullage.jobs.ports import Desk
from ullage.records import rows
from ullage.records.schema import (
    ANSWER,
    CIRCUIT_VERSION,
    COUNTER_READING,
    EVENT,
    JOB,
    MACHINE,
)

FORMAT = "ullage-job/1"
_ID = re.compile(r"[0-9A-Za-z_-]{1,80}")
#: Columns that hold tables; in the file they are tables, not text.
_TABLES = ("body", "payload", "inputs")
_VALUES: Mapping[type, tuple[type, ...]] = {Text: (str,), Integer: (int,), Float: (int, float)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SentJob:
    """A job as a file brought it, read and checked, not yet merged."""

    machine: Machine
    versions: tuple[CircuitVersion, ...]
    head: JobHead
    drafts: tuple[Draft, ...]
    answers: tuple[Answer, ...]
    counters: tuple[CounterReading, ...]
    photos: Mapping[str, bytes]


def job_to_table(desk: Desk, job_id: str) -> dict[str, Any]:
    """Return a job with all that belongs to it, ready for JSON."""
    store = desk.store
    head = store.job_head(job_id)
    events = store.events(job_id)
    # The job may have gone on with newer versions than the one that it was opened with.
    used = {head.circuit_version_id}
    used |= {event.payload["version"] for event in events if event.kind is Kind.CIRCUIT}
    last = max(store.circuit_version(version_id).number for version_id in used)
    versions = [v for v in store.circuit_versions(head.circuit_id) if v.number <= last]
    shown = {e.payload["sha256"] for e in events if e.kind is Kind.PHOTO}
    return {
        "format": FORMAT,
        "code": desk.code,
        "machine": rows.machine_row(store.machine(head.machine_id)),
        "circuit_versions": [_opened(rows.version_row(v)) for v in reversed(versions)],
        "job": rows.head_row(head),
        "events": [_opened(rows.event_row(event)) for event in events],
        "answers": [_opened(rows.answer_row(answer)) for answer in reversed(store.answers(job_id))],
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


def read_job(file: Path) -> dict[str, Any]:
    """Return the table in a file of JSON; what it means is looked at by ``merge_job``.

    Raises
    ------
    OutOfRange
        If it is no JSON, or no table.
    """
    try:
        text = file.read_text(encoding="utf-8")
        table = json.loads(text, parse_constant=_no_number)
        json.dumps(table, ensure_ascii=False).encode()  # half of a character is no text
    except (ValueError, RecursionError) as error:
        raise OutOfRange(str(file), f"no JSON ({error})", "an exported job") from None
    if not isinstance(table, dict):
        raise OutOfRange(str(file), type(table).__name__, "an exported job")
    return table


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


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
    OutOfRange, FileFaults
        If the file is no job, or something in it is not what it should be.
    Conflict
        If another machine bears the name, or what is here under the same id differs.
    """
    sent = _sent(desk, table, file)
    _check_against(desk, sent)
    store = desk.store
    if not _is_there(store.machine, sent.machine.id):
        store.add_machine(sent.machine)
    for sha256, data in sent.photos.items():
        picture = desk.pictures.keep(data, at=desk.now())
        if picture.sha256 != sha256:
            raise OutOfRange("photos", sha256[:12], "named by its content", "export it again")
        store.add_picture(picture)
    _merge_circuit(desk, sent)
    if not _is_there(store.job_head, sent.head.id):
        store.open_job(sent.head, line(sent.head, ()))
    store.append(sent.head.id, sent.drafts, line, at=desk.now())
    for answer in sent.answers:
        if not _is_there(store.answer, answer.id):
            store.keep_answer(answer)
    here = set(store.counter_readings(sent.machine.id))
    for reading in sent.counters:
        if reading not in here:
            store.add_counter_reading(reading)
    return sent.head.id


def _sent(desk: Desk, table: Mapping[str, Any], file: str) -> SentJob:
    """Return what a file brought, once it holds together by itself."""
    if table.get("format") != FORMAT:
        raise OutOfRange(
            "format",
            repr(table.get("format")),
            f"{FORMAT!r}",
            f"{file} is no exported job, or is one of a newer program",
        )
    try:
        sent = SentJob(
            machine=rows.machine_of(_typed(MACHINE, table["machine"])),
            versions=tuple(
                rows.version_of(_typed(CIRCUIT_VERSION, row)) for row in table["circuit_versions"]
            ),
            head=rows.head_of(_typed(JOB, table["job"])),
            drafts=tuple(_draft(rows.event_of(_typed(EVENT, row))) for row in table["events"]),
            answers=tuple(rows.answer_of(_typed(ANSWER, row)) for row in table["answers"]),
            counters=tuple(
                rows.counter_of(_typed(COUNTER_READING, row))
                for row in table.get("counter_readings", ())
            ),
            photos={
                sha256: base64.b64decode(text, validate=True)
                for sha256, text in table.get("photos", {}).items()
            },
        )
    except (KeyError, TypeError, ValueError, AttributeError, binascii.Error) as error:
        raise OutOfRange(
            "job", f"{type(error).__name__}: {error}", "as it was exported", f"export {file} again"
        ) from None
    head = sent.head
    for name in (
        sent.machine.id,
        head.id,
        head.circuit_id,
        *(version.id for version in sent.versions),
        *(answer.id for answer in sent.answers),
    ):
        if not _ID.fullmatch(name):
            raise OutOfRange(
                "id", repr(name), "1 to 80 letters, digits and hyphens", "export again"
            )
    used = next((v for v in sent.versions if v.id == head.circuit_version_id), None)
    belongs = (
        used is not None
        and head.machine_id == sent.machine.id
        and all(
            (v.machine_id, v.circuit_id) == (head.machine_id, head.circuit_id)
            for v in sent.versions
        )
        and all(answer.job_id == head.id for answer in sent.answers)
        and all((c.machine_id, c.job_id) == (head.machine_id, head.id) for c in sent.counters)
        and len({draft.uid for draft in sent.drafts}) == len(sent.drafts)
    )
    if used is None or not belongs:
        raise OutOfRange("job", "parts of different jobs", "one job", f"export {file} again")
    desk.forms.circuit(used.table, used.name)
    _names_only_what_came(sent, file)
    for draft in sent.drafts:
        if draft.kind is Kind.RECIPE:
            desk.forms.recipe(draft.payload["recipe"], "recipe")
    return sent


def _names_only_what_came(sent: SentJob, file: str) -> None:
    """Refuse entries that name what did not come along: the job could not be shown."""
    came = {
        (Kind.CIRCUIT, "version"): {version.id for version in sent.versions},
        (Kind.ANSWERED, "answer"): {answer.id for answer in sent.answers},
        (Kind.RECIPE, "from"): {answer.id for answer in sent.answers},
        (Kind.PHOTO, "sha256"): set(sent.photos),
    }
    for draft in sent.drafts:
        for (kind, key), names in came.items():
            name = draft.payload.get(key)
            if draft.kind is kind and name is not None and name not in names:
                raise OutOfRange(
                    f"{kind.value}.{key}",
                    repr(name),
                    "something in the file",
                    f"export {file} again",
                )


def _check_against(desk: Desk, sent: SentJob) -> None:
    """Refuse what would contradict what is here, before anything is kept."""
    store = desk.store
    if not _is_there(store.machine, sent.machine.id):
        folded = sent.machine.name.casefold()
        for other in store.machines(search=sent.machine.name):
            if other.name.casefold() == folded:
                raise Conflict(
                    f"another machine here is called {other.name!r}; rename it, then import again"
                )
    for version in sent.versions:
        if _is_there(store.circuit_version, version.id):
            kept = store.circuit_version(version.id)
            if replace(kept, number=version.number) != version:
                raise Conflict(
                    f"another circuit bears the id {version.id!r} here; nothing was merged"
                )
    owners = store.jobs_of({draft.uid for draft in sent.drafts})
    strange = next((uid for uid, job_id in owners.items() if job_id != sent.head.id), None)
    if strange is not None:
        raise Conflict(f"an entry of another job bears the id {strange!r} here; nothing was merged")
    if not _is_there(store.job_head, sent.head.id):
        return
    if store.job_head(sent.head.id) != sent.head:
        raise Conflict(f"another job bears the id {sent.head.id!r} here; nothing was merged")
    here = {event.uid: event for event in store.events(sent.head.id)}
    for draft in sent.drafts:
        event = here.get(draft.uid)
        if event is not None and (event.kind, event.payload) != (draft.kind, draft.payload):
            raise Conflict(f"another entry bears the id {draft.uid!r} here; nothing was merged")


def _merge_circuit(desk: Desk, sent: SentJob) -> None:
    """Add the versions that are missing; what was saved last stays the newest."""
    store = desk.store
    circuit_id = sent.head.circuit_id
    missing = [v for v in sent.versions if not _is_there(store.circuit_version, v.id)]
    if not missing:
        return
    here = store.circuit_versions(circuit_id) if _is_there(store.newest_circuit, circuit_id) else ()
    for number, version in enumerate(missing, start=len(here) + 1):
        store.add_circuit_version(replace(version, number=number))
    if here and here[0].saved_at > missing[-1].saved_at:
        count = len(here) + len(missing)
        store.add_circuit_version(replace(here[0], id=desk.new_id(), number=count + 1))


def _opened(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with its tables as tables."""
    return {key: json.loads(value) if key in _TABLES else value for key, value in row.items()}


def _typed(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row of a table with its tables as text, or say which value can't stand in it."""
    closed = {key: rows.json_text(value) if key in _TABLES else value for key, value in row.items()}
    for column in table.columns:
        value = closed.get(column.name)
        if column.name not in row or (value is None and column.nullable):
            continue  # what is missing is missed where it is needed
        if isinstance(value, bool) or not isinstance(value, _VALUES[type(column.type)]):
            raise ValueError(f"{table.name}.{column.name} is {value!r}")
    return closed


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
