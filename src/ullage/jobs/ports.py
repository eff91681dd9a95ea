"""What a use case needs from outside: shapes that a database, a clock or a file format must fit.

Nothing here does anything. The real parts are plugged in by ``wiring``; tests plug in their own.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Protocol

from ullage.jobs.answer import Answer, Of
from ullage.jobs.event import Draft, Event
from ullage.jobs.job import JobHead
from ullage.jobs.machine import CircuitVersion, CounterReading, Machine
from ullage.jobs.next_thing import JobLine
from ullage.jobs.served import Served
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf, Stock

if TYPE_CHECKING:
    # Named in signatures alone. Loading them would load the solver, and the first page of the app
    # must not wait for it.
    from ullage.circuit.network import Circuit
    from ullage.evidence.answer import Verdict
    from ullage.evidence.observation import Evidence
    from ullage.planning.due import Due
    from ullage.planning.plan import Plan
    from ullage.planning.sheet import Line
    from ullage.planning.shopping import Item, Waste
    from ullage.transport.recipe import Recipe
    from ullage.transport.result import Run

Table = Mapping[str, Any]


class Clock(Protocol):
    """Tells the time, aware and in UTC."""

    def __call__(self) -> datetime:
        """Return now."""
        ...


class NewId(Protocol):
    """Makes names that nobody else makes."""

    def __call__(self) -> str:
        """Return a new one: lower-case letters and digits."""
        ...


class Forms(Protocol):
    """Turns the tables of our files into values and back."""

    def circuit(self, table: Table, name: str) -> Circuit:
        """Return a circuit, or raise ``FileFaults`` with every fault."""
        ...

    def circuit_table(self, circuit: Circuit) -> dict[str, Any]:
        """Return the table of a circuit file."""
        ...

    def recipe(self, table: Table, name: str) -> Recipe:
        """Return a recipe, or raise ``FileFaults``."""
        ...

    def recipe_table(self, recipe: Recipe) -> dict[str, Any]:
        """Return the table of a recipe file."""
        ...

    def evidence(self, table: Table, name: str) -> Evidence:
        """Return what was measured, or raise ``FileFaults``."""
        ...

    def plan_table(self, plan: Plan) -> dict[str, Any]:
        """Return what ``plan --json`` prints."""
        ...

    def lists_table(
        self, sheet: Sequence[Line], items: Sequence[Item], waste: Waste
    ) -> dict[str, Any]:
        """Return a sheet, what to have at hand and what comes out, as a plan's table does."""
        ...

    def verdict_table(self, verdict: Verdict) -> dict[str, Any]:
        """Return what ``prove --json`` prints."""
        ...

    def due_table(self, due: Due) -> dict[str, Any]:
        """Return the verdict of the first stage as a table."""
        ...

    def run_table(self, run: Run, circuit: Circuit) -> dict[str, Any]:
        """Return what ``simulate --json`` prints."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A phone or laptop that was let in; ``revoked_at`` is set once it no longer is."""

    id: str
    name: str
    paired_at: datetime
    seen_at: datetime
    revoked_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photo as it is kept: original by the hash of its bytes, size upright, in pixels."""

    sha256: str
    media_type: str
    size: int
    width: int
    height: int
    kept_at: datetime


class JobStore(Protocol):
    """Keeps everything. A method that changes something has stored it durably when it returns."""

    # machines and circuits
    def add_machine(self, machine: Machine) -> None:
        """Keep a new machine; ``Conflict`` if its id or its name is taken."""
        ...

    def change_machine(self, machine: Machine) -> None:
        """Keep a change whose ``version`` follows the stored one, else ``Conflict``."""
        ...

    def machine(self, machine_id: str) -> Machine:
        """Return a machine or raise ``NotFound``."""
        ...

    def machines(self, *, search: str = "", limit: int = 200) -> tuple[Machine, ...]:
        """Return machines by name; ``search`` is looked for in name and marks, in any case."""
        ...

    def add_circuit_version(self, version: CircuitVersion) -> None:
        """Keep another version; ``Conflict`` if its number is not the next one."""
        ...

    def circuit_version(self, version_id: str) -> CircuitVersion:
        """Return one version or raise ``NotFound``."""
        ...

    def newest_circuit(self, circuit_id: str) -> CircuitVersion:
        """Return the newest version of a circuit or raise ``NotFound``."""
        ...

    def circuit_versions(self, circuit_id: str) -> tuple[CircuitVersion, ...]:
        """Return every version of a circuit, the newest first, or raise ``NotFound``."""
        ...

    def circuits_of(self, machine_id: str) -> tuple[CircuitVersion, ...]:
        """Return the newest version of each circuit of a machine, by name."""
        ...

    # jobs
    def open_job(self, head: JobHead, line: JobLine) -> None:
        """Keep a new job."""
        ...

    def job_head(self, job_id: str) -> JobHead:
        """Return a job's head or raise ``NotFound``."""
        ...

    def append(
        self,
        job_id: str,
        drafts: Sequence[Draft],
        line: Callable[[JobHead, Sequence[Event]], JobLine],
        *,
        at: datetime,
    ) -> tuple[Event, ...]:
        """Add events behind all others of a job, in one transaction, and renew the job's line.

        A draft whose ``uid`` is stored already is not stored again: its stored event is returned
        in its place. ``Conflict`` if that event belongs to another job or another kind.
        ``line`` is given all events of the job, the new ones included.
        """
        ...

    def events(self, job_id: str, *, after: int = 0) -> tuple[Event, ...]:
        """Return the events of a job whose ``seq`` is above ``after``, in order."""
        ...

    def jobs_of(self, uids: Collection[str]) -> dict[str, str]:
        """Return the job of each event that is stored, by its ``uid``; others are left out."""
        ...

    def job_lines(
        self,
        *,
        is_open: bool | None = None,
        machine_id: str | None = None,
        search: str = "",
        limit: int = 100,
        offset: int = 0,
    ) -> tuple[JobLine, ...]:
        """Return jobs by rank, then the longest untouched first; closed ones the newest first."""
        ...

    def count_jobs(
        self, *, is_open: bool | None = None, machine_id: str | None = None, search: str = ""
    ) -> int:
        """Return how many jobs ``job_lines`` would return without a limit."""
        ...

    def add_counter_reading(self, reading: CounterReading) -> None:
        """Keep a reading of a machine's counter."""
        ...

    def counter_readings(self, machine_id: str) -> tuple[CounterReading, ...]:
        """Return a machine's readings in the order of time."""
        ...

    def served(self, *, search: str = "") -> tuple[Served, ...]:
        """Return every circuit with what was filed last on it, by machine and circuit.

        ``search`` is looked for as in ``machines``. A machine without a circuit is there once. No
        job is read whole, so thousands of machines take a few reads.
        """
        ...

    # answers
    def keep_answer(self, answer: Answer) -> None:
        """Keep an answer."""
        ...

    def answer(self, answer_id: str) -> Answer:
        """Return an answer or raise ``NotFound``."""
        ...

    def answers(self, job_id: str, of: Of | None = None) -> tuple[Answer, ...]:
        """Return the answers of a job, the newest first."""
        ...

    # shelf
    def save_sheet(self, sheet: Sheet) -> None:
        """Keep a new sheet (version 1) or a change, as ``change_machine`` does."""
        ...

    def sheet(self, sheet_id: str) -> Sheet:
        """Return a sheet or raise ``NotFound``."""
        ...

    def sheets(self, of: SheetOf | None = None) -> tuple[Sheet, ...]:
        """Return sheets by name."""
        ...

    def add_lot(self, lot: Lot, first: Movement) -> None:
        """Keep a delivery with its first movement."""
        ...

    def move_stock(self, movement: Movement) -> None:
        """Keep a movement, once per ``uid``; ``OutOfRange`` if more would be taken than is left."""
        ...

    def stock(self, *, sheet_id: str | None = None, empty_too: bool = False) -> tuple[Stock, ...]:
        """Return lots with what is left, the first to expire first."""
        ...

    def movements(self, lot_id: str) -> tuple[Movement, ...]:
        """Return the movements of a lot in the order of time."""
        ...

    # pictures, settings, devices
    def add_picture(self, picture: Picture) -> None:
        """Keep the row of a photo; a second time is no fault."""
        ...

    def picture(self, sha256: str) -> Picture:
        """Return the row of a photo or raise ``NotFound``."""
        ...

    def settings(self) -> dict[str, str]:
        """Return every setting that was ever set."""
        ...

    def set_setting(self, key: str, value: str) -> None:
        """Keep a setting."""
        ...

    def add_device(self, device: Device) -> None:
        """Keep a device that was let in."""
        ...

    def change_device(self, device: Device) -> None:
        """Keep when a device was seen, or that it is no longer let in."""
        ...

    def devices(self) -> tuple[Device, ...]:
        """Return all devices, the newest first."""
        ...


class PictureFiles(Protocol):
    """Keeps the bytes of photos as files by content."""

    def keep(self, data: bytes, *, at: datetime) -> Picture:
        """Keep the original bytes and a preview; ``OutOfRange`` if it is no picture we take."""
        ...

    def original(self, sha256: str) -> bytes:
        """Return the bytes as they came or raise ``NotFound``."""
        ...

    def preview(self, sha256: str) -> bytes:
        """Return an upright JPEG without location or raise ``NotFound``."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """All that the use cases work with: one value handed to every one of them."""

    store: JobStore
    pictures: PictureFiles
    forms: Forms
    now: Clock
    new_id: NewId
    code: str
