"""A ``JobStore`` in memory: what the real one has to agree with, in the fewest lines."""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime
from typing import TypeVar

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.answer import Answer, Of
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import JobHead
from ullage.jobs.machine import CircuitVersion, CounterReading, Machine
from ullage.jobs.next_thing import JobLine
from ullage.jobs.ports import Device, Picture
from ullage.jobs.served import Served
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf, Stock


class MemoryStore:
    """Keeps everything in dictionaries, under one lock."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._machines: dict[str, Machine] = {}
        self._versions: dict[str, CircuitVersion] = {}
        self._heads: dict[str, JobHead] = {}
        self._lines: dict[str, JobLine] = {}
        self._events: dict[str, list[Event]] = {}
        self._counters: list[CounterReading] = []
        self._answers: dict[str, Answer] = {}
        self._sheets: dict[str, Sheet] = {}
        self._lots: dict[str, Lot] = {}
        self._movements: dict[str, Movement] = {}
        self._pictures: dict[str, Picture] = {}
        self._settings: dict[str, str] = {}
        self._devices: dict[str, Device] = {}

    # machines and circuits

    def add_machine(self, machine: Machine) -> None:
        """Keep a new machine."""
        same = [m for m in self._machines.values() if m.name.casefold() == machine.name.casefold()]
        if machine.id in self._machines or same:
            raise Conflict(f"a machine called {machine.name!r} is kept already")
        self._machines[machine.id] = machine

    def change_machine(self, machine: Machine) -> None:
        """Keep a change."""
        kept = self.machine(machine.id)
        if machine.version != kept.version + 1:
            raise Conflict("somebody else changed it")
        for other in self._machines.values():
            if other.id != machine.id and other.name.casefold() == machine.name.casefold():
                raise Conflict(f"a machine called {machine.name!r} is kept already")
        self._machines[machine.id] = machine

    def machine(self, machine_id: str) -> Machine:
        """Return a machine."""
        return _found(self._machines, "machine", machine_id)

    def machines(self, *, search: str = "", limit: int = 200) -> tuple[Machine, ...]:
        """Return machines by name."""
        wanted = search.casefold()
        hits = [m for m in self._machines.values() if wanted in f"{m.name}\n{m.marks}".casefold()]
        return tuple(sorted(hits, key=lambda m: m.name.casefold())[:limit])

    def add_circuit_version(self, version: CircuitVersion) -> None:
        """Keep another version."""
        self.machine(version.machine_id)
        kept = [v for v in self._versions.values() if v.circuit_id == version.circuit_id]
        if version.number != len(kept) + 1 or version.id in self._versions:
            raise Conflict("somebody else saved this circuit")
        self._versions[version.id] = version

    def circuit_version(self, version_id: str) -> CircuitVersion:
        """Return one version."""
        return _found(self._versions, "circuit", version_id)

    def circuit_versions(self, circuit_id: str) -> tuple[CircuitVersion, ...]:
        """Return every version, the newest first."""
        kept = [v for v in self._versions.values() if v.circuit_id == circuit_id]
        if not kept:
            raise NotFound("circuit", circuit_id)
        return tuple(sorted(kept, key=lambda v: -v.number))

    def newest_circuit(self, circuit_id: str) -> CircuitVersion:
        """Return the newest version."""
        return self.circuit_versions(circuit_id)[0]

    def circuits_of(self, machine_id: str) -> tuple[CircuitVersion, ...]:
        """Return the newest version of each circuit, by name."""
        ids = {v.circuit_id for v in self._versions.values() if v.machine_id == machine_id}
        newest = (self.newest_circuit(circuit_id) for circuit_id in ids)
        return tuple(sorted(newest, key=lambda v: (v.name.casefold(), v.circuit_id)))

    # jobs

    def open_job(self, head: JobHead, line: JobLine) -> None:
        """Keep a new job."""
        self.machine(head.machine_id)
        self.circuit_version(head.circuit_version_id)
        if head.id in self._heads:
            raise Conflict("a job with this id is kept already")
        self._heads[head.id], self._lines[head.id], self._events[head.id] = head, line, []

    def job_head(self, job_id: str) -> JobHead:
        """Return a job's head."""
        return _found(self._heads, "job", job_id)

    def append(
        self,
        job_id: str,
        drafts: Sequence[Draft],
        line: Callable[[JobHead, Sequence[Event]], JobLine],
        *,
        at: datetime,
    ) -> tuple[Event, ...]:
        """Add events behind all others."""
        with self._lock:
            head = self.job_head(job_id)
            everywhere = {e.uid: e for events in self._events.values() for e in events}
            mine = list(self._events[job_id])
            given: list[Event] = []
            for draft in drafts:
                kept = everywhere.get(draft.uid)
                if kept is None:
                    kept = Event(
                        job_id=job_id,
                        seq=len(mine) + 1,
                        uid=draft.uid,
                        device=draft.device,
                        device_seq=draft.device_seq,
                        kind=draft.kind,
                        device_at=draft.device_at,
                        server_at=at,
                        payload=dict(draft.payload),
                    )
                    mine.append(kept)
                    everywhere[kept.uid] = kept
                elif kept.job_id != job_id or kept.kind is not draft.kind:
                    raise Conflict("another entry bears this id")
                given.append(kept)
            self._lines[job_id] = line(head, mine)
            self._events[job_id] = mine
            return tuple(given)

    def events(self, job_id: str, *, after: int = 0) -> tuple[Event, ...]:
        """Return the events of a job."""
        self.job_head(job_id)
        return tuple(event for event in self._events[job_id] if event.seq > after)

    def jobs_of(self, uids: Collection[str]) -> dict[str, str]:
        """Return the job of each event that is here."""
        every = (event for events in self._events.values() for event in events)
        return {event.uid: event.job_id for event in every if event.uid in uids}

    def job_lines(
        self,
        *,
        is_open: bool | None = None,
        machine_id: str | None = None,
        search: str = "",
        limit: int = 100,
        offset: int = 0,
    ) -> tuple[JobLine, ...]:
        """Return jobs by rank."""
        hits = self._hits(is_open, machine_id, search)
        running = sorted(
            (line for line in hits if line.stage is not None),
            key=lambda line: (line.rank, line.touched_at, line.job_id),
        )
        closed = sorted((line for line in hits if line.stage is None), key=lambda x: x.job_id)
        closed.sort(key=lambda line: line.touched_at, reverse=True)
        return tuple([*running, *closed][offset : offset + limit])

    def count_jobs(
        self, *, is_open: bool | None = None, machine_id: str | None = None, search: str = ""
    ) -> int:
        """Return how many there are."""
        return len(self._hits(is_open, machine_id, search))

    def _hits(self, is_open: bool | None, machine_id: str | None, search: str) -> list[JobLine]:
        return [
            line
            for line in self._lines.values()
            if (is_open is None or is_open == (line.stage is not None))
            and (machine_id is None or machine_id == line.machine_id)
            and search.casefold()
            in f"{line.title}\n{self._machines[line.machine_id].name}".casefold()
        ]

    def add_counter_reading(self, reading: CounterReading) -> None:
        """Keep a reading of a counter."""
        self.machine(reading.machine_id)
        self._counters.append(reading)

    def counter_readings(self, machine_id: str) -> tuple[CounterReading, ...]:
        """Return a machine's readings."""
        mine = [r for r in self._counters if r.machine_id == machine_id]
        return tuple(sorted(mine, key=lambda reading: reading.read_at))

    def served(self, *, search: str = "") -> tuple[Served, ...]:
        """Return every circuit with what was filed last on it."""
        return tuple(
            self._served(machine, circuit, len(circuits))
            for machine in self.machines(search=search, limit=len(self._machines))
            for circuits in (self.circuits_of(machine.id),)
            for circuit in (circuits or (None,))
        )

    def _served(self, machine: Machine, circuit: CircuitVersion | None, many: int) -> Served:
        circuit_id = "" if circuit is None else circuit.circuit_id
        lines = [
            line
            for line in self.job_lines(machine_id=machine.id, limit=len(self._lines))
            if self._heads[line.job_id].circuit_id == circuit_id
        ]
        closed = [line.job_id for line in lines if line.stage is None]
        job_id = closed[0] if closed else None
        readings = self.counter_readings(machine.id)
        distances = [one for one in readings if one.distance_m is not None]
        hours = [one for one in readings if one.running_s is not None]
        return Served(
            machine=machine,
            circuit_id=circuit_id,
            circuit="" if circuit is None else circuit.name,
            is_only_circuit=many < 2,
            job_id=job_id,
            open_job_id=next((line.job_id for line in lines if line.stage is not None), None),
            events=tuple(
                event
                for event in (() if job_id is None else self._events[job_id])
                if event.kind in (Kind.NEXT_DUE, Kind.UNDONE)
            ),
            distances=_ends(distances),
            hours=_ends(hours),
        )

    # answers

    def keep_answer(self, answer: Answer) -> None:
        """Keep an answer."""
        self.job_head(answer.job_id)
        if answer.id in self._answers:
            raise Conflict("an answer with this id is kept already")
        self._answers[answer.id] = answer

    def answer(self, answer_id: str) -> Answer:
        """Return an answer."""
        return _found(self._answers, "answer", answer_id)

    def answers(self, job_id: str, of: Of | None = None) -> tuple[Answer, ...]:
        """Return the answers of a job, the newest first."""
        mine = [a for a in self._answers.values() if a.job_id == job_id and of in (None, a.of)]
        return tuple(sorted(reversed(mine), key=lambda answer: answer.made_at, reverse=True))

    # shelf

    def save_sheet(self, sheet: Sheet) -> None:
        """Keep a sheet."""
        kept = self._sheets.get(sheet.id)
        if sheet.version != (1 if kept is None else kept.version + 1):
            raise Conflict("somebody else changed it")
        self._sheets[sheet.id] = sheet

    def sheet(self, sheet_id: str) -> Sheet:
        """Return a sheet."""
        return _found(self._sheets, "sheet", sheet_id)

    def sheets(self, of: SheetOf | None = None) -> tuple[Sheet, ...]:
        """Return sheets by name."""
        mine = [sheet for sheet in self._sheets.values() if of in (None, sheet.of)]
        return tuple(sorted(mine, key=lambda sheet: (sheet.name.casefold(), sheet.id)))

    def add_lot(self, lot: Lot, first: Movement) -> None:
        """Keep a delivery."""
        self.sheet(lot.sheet_id)
        if lot.id in self._lots or first.uid in self._movements:
            raise Conflict("a lot with this id is kept already")
        self._lots[lot.id] = lot
        self._movements[first.uid] = first

    def move_stock(self, movement: Movement) -> None:
        """Keep a movement, once."""
        with self._lock:
            _found(self._lots, "lot", movement.lot_id)
            if movement.uid in self._movements:
                return
            left = self._left(movement.lot_id)
            if left + movement.count < -1e-9:
                raise OutOfRange("count", -movement.count, f"at most {left:g}, which is left")
            self._movements[movement.uid] = movement

    def _left(self, lot_id: str) -> float:
        return sum(m.count for m in self._movements.values() if m.lot_id == lot_id)

    def stock(self, *, sheet_id: str | None = None, empty_too: bool = False) -> tuple[Stock, ...]:
        """Return lots with what is left."""
        every = (
            Stock(lot=lot, sheet=self._sheets[lot.sheet_id], left=self._left(lot.id))
            for lot in self._lots.values()
            if sheet_id in (None, lot.sheet_id)
        )
        kept = [stock for stock in every if empty_too or stock.left > 1e-9]
        return tuple(sorted(kept, key=lambda s: (s.lot.expires_on or date.max, s.lot.id)))

    def movements(self, lot_id: str) -> tuple[Movement, ...]:
        """Return the movements of a lot."""
        mine = [m for m in self._movements.values() if m.lot_id == lot_id]
        return tuple(sorted(mine, key=lambda movement: movement.moved_at))

    # pictures, settings, devices

    def add_picture(self, picture: Picture) -> None:
        """Keep the row of a photo."""
        self._pictures.setdefault(picture.sha256, picture)

    def picture(self, sha256: str) -> Picture:
        """Return the row of a photo."""
        return _found(self._pictures, "photo", sha256)

    def settings(self) -> dict[str, str]:
        """Return every setting."""
        return dict(self._settings)

    def set_setting(self, key: str, value: str) -> None:
        """Keep a setting."""
        self._settings[key] = value

    def add_device(self, device: Device) -> None:
        """Keep a device."""
        if device.id in self._devices:
            raise Conflict("a device with this id is kept already")
        self._devices[device.id] = device

    def change_device(self, device: Device) -> None:
        """Keep a change of a device."""
        _found(self._devices, "device", device.id)
        self._devices[device.id] = device

    def devices(self) -> tuple[Device, ...]:
        """Return all devices, the newest first."""
        return tuple(
            sorted(self._devices.values(), key=lambda device: device.paired_at, reverse=True)
        )


_T = TypeVar("_T")


def _ends(readings: list[CounterReading]) -> tuple[CounterReading, ...]:
    return tuple(readings) if len(readings) < 2 else (readings[0], readings[-1])


def _found(kept: dict[str, _T], what: str, name: str) -> _T:
    if name not in kept:
        raise NotFound(what, name)
    return kept[name]
