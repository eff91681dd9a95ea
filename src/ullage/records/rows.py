"""Rows of the database as values, and values as rows."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from ullage.jobs.answer import Answer, Of
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import JobHead
from ullage.jobs.machine import CircuitVersion, Counter, CounterReading, Machine
from ullage.jobs.next_thing import JobLine, NextThing
from ullage.jobs.ports import Device, Picture
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf
from ullage.jobs.stage import Stage

Row = Mapping[Any, Any]
Values = dict[str, Any]


def instant(at: datetime) -> str:
    """Return an instant as text that sorts as time does; it must know its zone."""
    if at.tzinfo is None:
        raise ValueError("an instant without a zone was given to the store")
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def _at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _maybe_at(text: str | None) -> datetime | None:
    return None if text is None else _at(text)


def json_text(table: Mapping[str, Any]) -> str:
    """Return a table as JSON; NaN and infinity are a mistake of the program."""
    return json.dumps(table, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def machine_row(machine: Machine) -> Values:
    """Return the row of a machine."""
    return {
        "id": machine.id,
        "name": machine.name,
        "name_folded": machine.name.casefold(),
        "folded": f"{machine.name}\n{machine.marks}".casefold(),
        "marks": machine.marks,
        "counter": machine.counter.value,
        "version": machine.version,
        "added_at": instant(machine.added_at),
    }


def machine_of(row: Row) -> Machine:
    """Return the machine of a row."""
    return Machine(
        id=row["id"],
        name=row["name"],
        marks=row["marks"],
        counter=Counter(row["counter"]),
        version=row["version"],
        added_at=_at(row["added_at"]),
    )


def version_row(version: CircuitVersion) -> Values:
    """Return the row of a version of a circuit."""
    return {
        "id": version.id,
        "circuit_id": version.circuit_id,
        "machine_id": version.machine_id,
        "number": version.number,
        "name": version.name,
        "body": json_text(version.table),
        "saved_at": instant(version.saved_at),
    }


def version_of(row: Row) -> CircuitVersion:
    """Return the version of a circuit in a row."""
    return CircuitVersion(
        id=row["id"],
        circuit_id=row["circuit_id"],
        machine_id=row["machine_id"],
        number=row["number"],
        name=row["name"],
        table=json.loads(row["body"]),
        saved_at=_at(row["saved_at"]),
    )


def head_row(head: JobHead) -> Values:
    """Return the row of a job."""
    return {
        "id": head.id,
        "machine_id": head.machine_id,
        "circuit_id": head.circuit_id,
        "circuit_version_id": head.circuit_version_id,
        "title": head.title,
        "opened_at": instant(head.opened_at),
    }


def head_of(row: Row) -> JobHead:
    """Return the head of a job in a row."""
    return JobHead(
        id=row["id"],
        machine_id=row["machine_id"],
        circuit_id=row["circuit_id"],
        circuit_version_id=row["circuit_version_id"],
        title=row["title"],
        opened_at=_at(row["opened_at"]),
    )


def line_row(line: JobLine, machine_name: str) -> Values:
    """Return the row of a job's line; it is found by its title and by its machine's name."""
    return {
        "job_id": line.job_id,
        "machine_id": line.machine_id,
        "title": line.title,
        "folded": f"{line.title}\n{machine_name}".casefold(),
        "stage": None if line.stage is None else line.stage.value,
        "next_sentence": line.next.sentence,
        "next_who": line.next.who,
        "rank": line.rank,
        "is_open": 0 if line.stage is None else 1,
        "opened_at": instant(line.opened_at),
        "touched_at": instant(line.touched_at),
    }


def line_of_row(row: Row) -> JobLine:
    """Return a job's line in a row."""
    return JobLine(
        job_id=row["job_id"],
        machine_id=row["machine_id"],
        title=row["title"],
        stage=None if row["stage"] is None else Stage(row["stage"]),
        next=NextThing(sentence=row["next_sentence"], who=row["next_who"]),
        rank=row["rank"],
        opened_at=_at(row["opened_at"]),
        touched_at=_at(row["touched_at"]),
    )


def event_row(event: Event) -> Values:
    """Return the row of an event."""
    return {
        "job_id": event.job_id,
        "seq": event.seq,
        "uid": event.uid,
        "device": event.device,
        "device_seq": event.device_seq,
        "kind": event.kind.value,
        "device_at": instant(event.device_at),
        "server_at": instant(event.server_at),
        "payload": json_text(event.payload),
    }


def event_of(row: Row) -> Event:
    """Return the event of a row."""
    return Event(
        job_id=row["job_id"],
        seq=row["seq"],
        uid=row["uid"],
        device=row["device"],
        device_seq=row["device_seq"],
        kind=Kind(row["kind"]),
        device_at=_at(row["device_at"]),
        server_at=_at(row["server_at"]),
        payload=json.loads(row["payload"]),
    )


def stored(draft: Draft, *, job_id: str, seq: int, at: datetime) -> Event:
    """Return a draft with its place in the order and the time of the server."""
    return Event(
        job_id=job_id,
        seq=seq,
        uid=draft.uid,
        device=draft.device,
        device_seq=draft.device_seq,
        kind=draft.kind,
        device_at=draft.device_at,
        server_at=at,
        payload=dict(draft.payload),
    )


def counter_row(reading: CounterReading) -> Values:
    """Return the row of a reading of a counter."""
    return {
        "machine_id": reading.machine_id,
        "job_id": reading.job_id,
        "read_at": instant(reading.read_at),
        "distance_m": reading.distance_m,
        "running_s": reading.running_s,
    }


def counter_of(row: Row) -> CounterReading:
    """Return the reading of a counter in a row."""
    return CounterReading(
        machine_id=row["machine_id"],
        job_id=row["job_id"],
        read_at=_at(row["read_at"]),
        distance_m=row["distance_m"],
        running_s=row["running_s"],
    )


def answer_row(answer: Answer) -> Values:
    """Return the row of an answer."""
    return {
        "id": answer.id,
        "job_id": answer.job_id,
        "of": answer.of.value,
        "made_at": instant(answer.made_at),
        "code": answer.code,
        "seed": answer.seed,
        "inputs": json_text(answer.inputs),
        "fingerprint": answer.fingerprint,
        "body": json_text(answer.body),
    }


def answer_of(row: Row) -> Answer:
    """Return the answer of a row."""
    return Answer(
        id=row["id"],
        job_id=row["job_id"],
        of=Of(row["of"]),
        made_at=_at(row["made_at"]),
        code=row["code"],
        seed=row["seed"],
        inputs=json.loads(row["inputs"]),
        fingerprint=row["fingerprint"],
        body=json.loads(row["body"]),
    )


def sheet_row(sheet: Sheet) -> Values:
    """Return the row of a sheet."""
    return {
        "id": sheet.id,
        "of": sheet.of.value,
        "name": sheet.name,
        "folded": sheet.name.casefold(),
        "body": json_text(sheet.table),
        "version": sheet.version,
        "saved_at": instant(sheet.saved_at),
    }


def sheet_of(row: Row) -> Sheet:
    """Return the sheet of a row."""
    return Sheet(
        id=row["id"],
        of=SheetOf(row["of"]),
        name=row["name"],
        table=json.loads(row["body"]),
        version=row["version"],
        saved_at=_at(row["saved_at"]),
    )


def lot_row(lot: Lot) -> Values:
    """Return the row of a lot."""
    return {
        "id": lot.id,
        "sheet_id": lot.sheet_id,
        "mark": lot.mark,
        "container_m3": lot.container_m3,
        "expires_on": None if lot.expires_on is None else lot.expires_on.isoformat(),
        "received_on": lot.received_on.isoformat(),
    }


def lot_of(row: Row) -> Lot:
    """Return the lot of a row."""
    expires = row["expires_on"]
    return Lot(
        id=row["id"],
        sheet_id=row["sheet_id"],
        mark=row["mark"],
        container_m3=row["container_m3"],
        expires_on=None if expires is None else date.fromisoformat(expires),
        received_on=date.fromisoformat(row["received_on"]),
    )


def movement_row(movement: Movement) -> Values:
    """Return the row of a movement."""
    return {
        "uid": movement.uid,
        "lot_id": movement.lot_id,
        "count": movement.count,
        "why": movement.why,
        "moved_at": instant(movement.moved_at),
        "job_id": movement.job_id,
    }


def movement_of(row: Row) -> Movement:
    """Return the movement of a row."""
    return Movement(
        uid=row["uid"],
        lot_id=row["lot_id"],
        count=row["count"],
        why=row["why"],
        moved_at=_at(row["moved_at"]),
        job_id=row["job_id"],
    )


def picture_row(picture: Picture) -> Values:
    """Return the row of a photo."""
    return {
        "sha256": picture.sha256,
        "media_type": picture.media_type,
        "size": picture.size,
        "width": picture.width,
        "height": picture.height,
        "kept_at": instant(picture.kept_at),
    }


def picture_of(row: Row) -> Picture:
    """Return the photo of a row."""
    return Picture(
        sha256=row["sha256"],
        media_type=row["media_type"],
        size=row["size"],
        width=row["width"],
        height=row["height"],
        kept_at=_at(row["kept_at"]),
    )


def device_row(device: Device) -> Values:
    """Return the row of a device."""
    return {
        "id": device.id,
        "name": device.name,
        "paired_at": instant(device.paired_at),
        "seen_at": instant(device.seen_at),
        "revoked_at": None if device.revoked_at is None else instant(device.revoked_at),
    }


def device_of(row: Row) -> Device:
    """Return the device of a row."""
    return Device(
        id=row["id"],
        name=row["name"],
        paired_at=_at(row["paired_at"]),
        seen_at=_at(row["seen_at"]),
        revoked_at=_maybe_at(row["revoked_at"]),
    )
