"""The store over a database: every method one transaction, durable when it returns."""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Engine, Select, Table, and_, func, insert, select, update
from sqlalchemy.engine import Connection
from sqlalchemy.exc import IntegrityError

from ullage.errors import Conflict, NotFound
from ullage.jobs.answer import Answer, Of
from ullage.jobs.event import Draft, Event
from ullage.jobs.job import JobHead
from ullage.jobs.machine import CircuitVersion, CounterReading, Machine
from ullage.jobs.next_thing import JobLine
from ullage.jobs.ports import Device, Picture
from ullage.records import rows
from ullage.records.known_events import KnownEvents
from ullage.records.schema import (
    ANSWER,
    CIRCUIT_VERSION,
    COUNTER_READING,
    DEVICE,
    EVENT,
    JOB,
    JOB_LINE,
    MACHINE,
    PICTURE,
    SETTING,
)
from ullage.records.served_store import SqlServed
from ullage.records.shelf_store import SqlShelf

#: Names asked for in one query; a database takes so many at least.
_AT_ONCE = 500
_CHANGED = "somebody else changed it in between; load it again and repeat the change"


class SqlStore(SqlShelf, SqlServed):
    """A ``JobStore`` on a database."""

    def __init__(self, engine: Engine) -> None:
        self._readers = engine
        self._writers = engine.execution_options(writes=True)
        self._known = KnownEvents()
        self._turn = threading.Lock()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with self._readers.begin() as base:
            yield base

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        # Threads queue here: waiting for the lock of the file means to look again and again, ever
        # more seldom, while whoever comes later goes first.
        with self._turn, self._writers.begin() as base:
            yield base

    # machines and circuits

    def add_machine(self, machine: Machine) -> None:
        """Keep a new machine."""
        try:
            with self._writing() as base:
                base.execute(insert(MACHINE).values(rows.machine_row(machine)))
        except IntegrityError:
            raise _same_name(machine.name) from None

    def change_machine(self, machine: Machine) -> None:
        """Keep a change, and let the lines of its jobs be found by the new name."""
        try:
            with self._writing() as base:
                _one(base, MACHINE, "id", machine.id, "machine")
                changed = base.execute(
                    update(MACHINE)
                    .where(MACHINE.c.id == machine.id, MACHINE.c.version == machine.version - 1)
                    .values(rows.machine_row(machine))
                )
                if changed.rowcount != 1:
                    raise Conflict(_CHANGED)
                lines = base.execute(select(JOB_LINE).where(JOB_LINE.c.machine_id == machine.id))
                for row in lines.mappings().all():
                    line = rows.line_of_row(row)
                    base.execute(
                        update(JOB_LINE)
                        .where(JOB_LINE.c.job_id == line.job_id)
                        .values(rows.line_row(line, machine.name))
                    )
        except IntegrityError:
            raise _same_name(machine.name) from None

    def machine(self, machine_id: str) -> Machine:
        """Return a machine."""
        with self._reading() as base:
            return rows.machine_of(_one(base, MACHINE, "id", machine_id, "machine"))

    def machines(self, *, search: str = "", limit: int = 200) -> tuple[Machine, ...]:
        """Return machines by name."""
        query = select(MACHINE).order_by(MACHINE.c.name_folded).limit(limit)
        if search:
            query = query.where(MACHINE.c.folded.contains(search.casefold(), autoescape=True))
        with self._reading() as base:
            return tuple(rows.machine_of(row) for row in base.execute(query).mappings())

    def add_circuit_version(self, version: CircuitVersion) -> None:
        """Keep another version."""
        kept = select(func.count()).where(CIRCUIT_VERSION.c.circuit_id == version.circuit_id)
        try:
            with self._writing() as base:
                _one(base, MACHINE, "id", version.machine_id, "machine")
                if version.number != base.execute(kept).scalar_one() + 1:
                    raise Conflict(_CHANGED)
                base.execute(insert(CIRCUIT_VERSION).values(rows.version_row(version)))
        except IntegrityError:
            raise Conflict(_CHANGED) from None

    def circuit_version(self, version_id: str) -> CircuitVersion:
        """Return one version."""
        with self._reading() as base:
            return rows.version_of(_one(base, CIRCUIT_VERSION, "id", version_id, "circuit"))

    def circuit_versions(self, circuit_id: str) -> tuple[CircuitVersion, ...]:
        """Return every version, the newest first."""
        query = (
            select(CIRCUIT_VERSION)
            .where(CIRCUIT_VERSION.c.circuit_id == circuit_id)
            .order_by(CIRCUIT_VERSION.c.number.desc())
        )
        with self._reading() as base:
            found = tuple(rows.version_of(row) for row in base.execute(query).mappings())
        if not found:
            raise NotFound("circuit", circuit_id)
        return found

    def newest_circuit(self, circuit_id: str) -> CircuitVersion:
        """Return the newest version."""
        return self.circuit_versions(circuit_id)[0]

    def circuits_of(self, machine_id: str) -> tuple[CircuitVersion, ...]:
        """Return the newest version of each circuit, by name."""
        newest = (
            select(CIRCUIT_VERSION.c.circuit_id, func.max(CIRCUIT_VERSION.c.number).label("number"))
            .where(CIRCUIT_VERSION.c.machine_id == machine_id)
            .group_by(CIRCUIT_VERSION.c.circuit_id)
            .subquery()
        )
        same = and_(
            CIRCUIT_VERSION.c.circuit_id == newest.c.circuit_id,
            CIRCUIT_VERSION.c.number == newest.c.number,
        )
        with self._reading() as base:
            found = base.execute(select(CIRCUIT_VERSION).join(newest, same)).mappings().all()
        versions = (rows.version_of(row) for row in found)
        return tuple(sorted(versions, key=lambda v: (v.name.casefold(), v.circuit_id)))

    # jobs

    def open_job(self, head: JobHead, line: JobLine) -> None:
        """Keep a new job."""
        with self._writing() as base:
            machine = _one(base, MACHINE, "id", head.machine_id, "machine")
            _one(base, CIRCUIT_VERSION, "id", head.circuit_version_id, "circuit")
            if base.execute(select(JOB.c.id).where(JOB.c.id == head.id)).first():
                raise Conflict("a job with this id is kept already")
            base.execute(insert(JOB).values(rows.head_row(head)))
            base.execute(insert(JOB_LINE).values(rows.line_row(line, machine["name"])))

    def job_head(self, job_id: str) -> JobHead:
        """Return a job's head."""
        with self._reading() as base:
            return rows.head_of(_one(base, JOB, "id", job_id, "job"))

    def append(
        self,
        job_id: str,
        drafts: Sequence[Draft],
        line: Callable[[JobHead, Sequence[Event]], JobLine],
        *,
        at: datetime,
    ) -> tuple[Event, ...]:
        """Add events behind all others of a job, each uid once, and renew the job's line."""
        with self._writing() as base:
            head = rows.head_of(_one(base, JOB, "id", job_id, "job"))
            mine = self._known.of(base, job_id)
            given: list[Event] = []
            added: list[Event] = []
            for draft in drafts:
                kept = next((e for e in added if e.uid == draft.uid), None) or _kept(base, draft)
                if kept is None:
                    place = len(mine) + len(added) + 1
                    kept = rows.stored(draft, job_id=job_id, seq=place, at=at)
                    added.append(kept)
                elif kept.job_id != job_id or kept.kind is not draft.kind:
                    raise Conflict(f"another entry bears the id {draft.uid!r}; load the page again")
                given.append(kept)
            if added:
                base.execute(insert(EVENT), [rows.event_row(event) for event in added])
                machine = _one(base, MACHINE, "id", head.machine_id, "machine")
                renewed = rows.line_row(line(head, [*mine, *added]), machine["name"])
                base.execute(update(JOB_LINE).where(JOB_LINE.c.job_id == job_id).values(renewed))
            return tuple(given)

    def events(self, job_id: str, *, after: int = 0) -> tuple[Event, ...]:
        """Return the events of a job in order."""
        with self._reading() as base:
            _one(base, JOB, "id", job_id, "job")
            # They are numbered from 1 without a gap.
            return self._known.of(base, job_id)[after:]

    def jobs_of(self, uids: Collection[str]) -> dict[str, str]:
        """Return the job of each event that is stored, by its ``uid``."""
        asked = sorted(uids)
        found: dict[str, str] = {}
        with self._reading() as base:
            for first in range(0, len(asked), _AT_ONCE):
                some = EVENT.c.uid.in_(asked[first : first + _AT_ONCE])
                for row in base.execute(select(EVENT.c.uid, EVENT.c.job_id).where(some)):
                    found[row.uid] = row.job_id
        return found

    def job_lines(
        self,
        *,
        is_open: bool | None = None,
        machine_id: str | None = None,
        search: str = "",
        limit: int = 100,
        offset: int = 0,
    ) -> tuple[JobLine, ...]:
        """Return jobs by rank, then the longest untouched first; closed ones the newest first.

        Open and closed jobs are read one after the other, each in the order of an index.
        """
        found: list[JobLine] = []
        with self._reading() as base:
            for half in (True, False):
                if is_open is (not half) or len(found) >= limit:
                    continue
                chosen = _chosen(half, machine_id, search)
                query = select(JOB_LINE).where(*chosen).limit(limit - len(found)).offset(offset)
                found += [
                    rows.line_of_row(r) for r in base.execute(_in_order(query, half)).mappings()
                ]
                if half and is_open is None and offset:
                    before = select(func.count()).select_from(JOB_LINE).where(*chosen)
                    offset = max(0, offset - base.execute(before).scalar_one())
        return tuple(found)

    def count_jobs(
        self, *, is_open: bool | None = None, machine_id: str | None = None, search: str = ""
    ) -> int:
        """Return how many there are."""
        query = select(func.count()).select_from(JOB_LINE)
        with self._reading() as base:
            wanted = query.where(*_chosen(is_open, machine_id, search))
            return int(base.execute(wanted).scalar_one())

    def add_counter_reading(self, reading: CounterReading) -> None:
        """Keep a reading of a counter."""
        with self._writing() as base:
            _one(base, MACHINE, "id", reading.machine_id, "machine")
            base.execute(insert(COUNTER_READING).values(rows.counter_row(reading)))

    def counter_readings(self, machine_id: str) -> tuple[CounterReading, ...]:
        """Return a machine's readings in the order of time."""
        query = (
            select(COUNTER_READING)
            .where(COUNTER_READING.c.machine_id == machine_id)
            .order_by(COUNTER_READING.c.read_at, COUNTER_READING.c.id)
        )
        with self._reading() as base:
            return tuple(rows.counter_of(row) for row in base.execute(query).mappings())

    # answers

    def keep_answer(self, answer: Answer) -> None:
        """Keep an answer."""
        try:
            with self._writing() as base:
                _one(base, JOB, "id", answer.job_id, "job")
                base.execute(insert(ANSWER).values(rows.answer_row(answer)))
        except IntegrityError:
            raise Conflict("an answer with this id is kept already") from None

    def answer(self, answer_id: str) -> Answer:
        """Return an answer."""
        with self._reading() as base:
            return rows.answer_of(_one(base, ANSWER, "id", answer_id, "answer"))

    def answers(self, job_id: str, of: Of | None = None) -> tuple[Answer, ...]:
        """Return the answers of a job, the newest first."""
        query = select(ANSWER).where(ANSWER.c.job_id == job_id)
        if of is not None:
            query = query.where(ANSWER.c.of == of.value)
        query = query.order_by(ANSWER.c.made_at.desc(), ANSWER.c.id.desc())
        with self._reading() as base:
            return tuple(rows.answer_of(row) for row in base.execute(query).mappings())

    # pictures, settings, devices

    def add_picture(self, picture: Picture) -> None:
        """Keep the row of a photo, once."""
        there = select(PICTURE.c.sha256).where(PICTURE.c.sha256 == picture.sha256)
        with self._writing() as base:
            if base.execute(there).first() is None:
                base.execute(insert(PICTURE).values(rows.picture_row(picture)))

    def picture(self, sha256: str) -> Picture:
        """Return the row of a photo."""
        with self._reading() as base:
            return rows.picture_of(_one(base, PICTURE, "sha256", sha256, "photo"))

    def settings(self) -> dict[str, str]:
        """Return every setting that was ever set."""
        with self._reading() as base:
            return {row.key: row.value for row in base.execute(select(SETTING))}

    def set_setting(self, key: str, value: str) -> None:
        """Keep a setting."""
        with self._writing() as base:
            changed = base.execute(update(SETTING).where(SETTING.c.key == key).values(value=value))
            if changed.rowcount == 0:
                base.execute(insert(SETTING).values(key=key, value=value))

    def add_device(self, device: Device) -> None:
        """Keep a device that was let in."""
        try:
            with self._writing() as base:
                base.execute(insert(DEVICE).values(rows.device_row(device)))
        except IntegrityError:
            raise Conflict("a device with this id is kept already") from None

    def change_device(self, device: Device) -> None:
        """Keep when a device was seen, or that it is no longer let in."""
        with self._writing() as base:
            _one(base, DEVICE, "id", device.id, "device")
            base.execute(
                update(DEVICE).where(DEVICE.c.id == device.id).values(rows.device_row(device))
            )

    def devices(self) -> tuple[Device, ...]:
        """Return all devices, the newest first."""
        query = select(DEVICE).order_by(DEVICE.c.paired_at.desc())
        with self._reading() as base:
            return tuple(rows.device_of(row) for row in base.execute(query).mappings())


def _one(base: Connection, table: Table, key: str, value: str, what: str) -> rows.Row:
    """Return the one row of a table with a key, or raise ``NotFound``."""
    row = base.execute(select(table).where(table.c[key] == value)).mappings().first()
    if row is None:
        raise NotFound(what, value)
    return row


def _kept(base: Connection, draft: Draft) -> Event | None:
    """Return the event that was stored for a draft before, of whatever job."""
    row = base.execute(select(EVENT).where(EVENT.c.uid == draft.uid)).mappings().first()
    return None if row is None else rows.event_of(row)


def _chosen(is_open: bool | None, machine_id: str | None, search: str) -> list[ColumnElement[bool]]:
    """Return the conditions of a list of jobs."""
    found: list[ColumnElement[bool]] = []
    if is_open is not None:
        found.append(JOB_LINE.c.is_open == int(is_open))
    if machine_id is not None:
        found.append(JOB_LINE.c.machine_id == machine_id)
    if search:
        found.append(JOB_LINE.c.folded.contains(search.casefold(), autoescape=True))
    return found


def _in_order(query: Select[Any], is_open: bool) -> Select[Any]:
    """Return a query of open or of closed jobs in the order of the list."""
    if is_open:
        return query.order_by(JOB_LINE.c.rank, JOB_LINE.c.touched_at, JOB_LINE.c.job_id)
    return query.order_by(JOB_LINE.c.touched_at.desc(), JOB_LINE.c.job_id)


def _same_name(name: str) -> Conflict:
    return Conflict(f"a machine called {name!r} is kept already; give this one another name")
