"""The machines that are looked after: the list of them, and a page for each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from ullage.circuit.catalogue import circuit_templates
from ullage.errors import Conflict, UllageError
from ullage.jobs.add_machine import (
    LONGEST_MARKS,
    Known,
    add_circuit,
    add_machine,
    change_machine,
    template_table,
)
from ullage.jobs.machine import LONGEST_NAME, Counter, CounterReading, Machine
from ullage.jobs.open_job import jobs_in_hand
from ullage.jobs.ports import Desk
from ullage.web.desk import Filled, Here, InUnits, render
from ullage.web.forms import WHOLE_FORM, Field, Typed, as_sentence, blank, filled, new_uid, read
from ullage.web.shown import Units, amount_si, day, figure

router = APIRouter()

MACHINES_SHOWN = 200
JOBS_SHOWN = 100

_COUNTERS = (
    (Counter.DISTANCE.value, "Distance"),
    (Counter.HOURS.value, "Running hours"),
    (Counter.NONE.value, "It has no counter"),
)
#: What is asked of a machine.
KNOWN: tuple[Field, ...] = (
    Field(
        "name",
        "Name",
        "text",
        required=True,
        longest=LONGEST_NAME,
        hint="What you call it, such as Yard lift 5.",
    ),
    Field(
        "marks",
        "Marks",
        "text",
        longest=LONGEST_MARKS,
        hint="How to recognise it in the yard: colour, bodywork, dents.",
    ),
    Field("counter", "Its counter shows", "choice", choices=_COUNTERS, required=True),
)
#: Which built-in circuit to start from.
TEMPLATE = Field(
    "template",
    "Circuit to start from",
    "choice",
    required=True,
    choices=tuple(
        (one.name, one.purpose.split(":", 1)[0].rstrip(".")) for one in circuit_templates()
    ),
    hint="Take the most similar one. Its sizes are guesses until somebody measures.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineLine:
    """A machine on one line."""

    url: str
    name: str
    marks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinesPage:
    """Machines by name, all or those that were looked for."""

    lines: tuple[MachineLine, ...]
    search: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewMachinePage:
    """The form for a machine that is not here yet."""

    fields: tuple[Field, ...]
    typed: Typed


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitLine:
    """A circuit of a machine, and its open job where ``job_url`` is one.

    ``uid`` names the job that this page would open on it.
    """

    circuit_id: str
    name: str
    told: str
    job_url: str
    uid: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    """A job of a machine on one line."""

    url: str
    opened: str
    stage: str
    next: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What the counter showed on a day."""

    day: str
    showed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinePage:
    """All that is known of a machine, and the forms to change it."""

    machine_id: str
    name: str
    marks: str
    counter: str
    latest: str
    circuits: tuple[CircuitLine, ...]
    jobs: tuple[HistoryLine, ...]
    readings: tuple[Reading, ...]
    version: int
    fields: tuple[Field, ...]
    typed: Typed
    is_changing: bool
    circuit_fields: tuple[Field, ...]
    circuit_typed: Typed
    is_adding: bool


@router.get("/machines")
def show_machines(
    request: Request, desk: Here, q: Annotated[str, Query(max_length=80)] = ""
) -> Response:
    """Show the machines."""
    search = q.strip()
    found = desk.store.machines(search=search, limit=MACHINES_SHOWN + 1)
    page = MachinesPage(
        lines=tuple(
            MachineLine(url=f"/machines/{one.id}", name=one.name, marks=one.marks)
            for one in found[:MACHINES_SHOWN]
        ),
        search=search,
        told=_told(len(found), search),
    )
    return render(request, "machines.html", page)


@router.get("/machines/new")
def ask_for_machine(request: Request) -> Response:
    """Show the form for a new machine."""
    page = NewMachinePage(fields=(*KNOWN, TEMPLATE), typed=blank())
    return render(request, "new_machine.html", page)


@router.post("/machines/new")
def take_in_machine(request: Request, desk: Here, units: InUnits, form: Filled) -> Response:
    """Take in a machine with a built-in circuit."""
    typed = read((*KNOWN, TEMPLATE), form, units)
    if typed.is_good:
        try:
            machine = add_machine(desk, known_of(typed), machine_id=f"m{typed.uid}")
            table = template_table(typed.values["template"])
            add_circuit(desk, machine.id, table, circuit_id=f"c{typed.uid}")
            return RedirectResponse(f"/machines/{machine.id}", status_code=303)
        except UllageError as error:
            typed = typed.with_error(error)
    page = NewMachinePage(fields=(*KNOWN, TEMPLATE), typed=typed)
    return render(request, "new_machine.html", page, status=422)


@router.get("/machines/{machine_id}")
def show_machine(request: Request, desk: Here, units: InUnits, machine_id: str) -> Response:
    """Show a machine."""
    return _machine_page(request, desk, units, machine_id)


@router.post("/machines/{machine_id}")
def save_machine(
    request: Request,
    desk: Here,
    units: InUnits,
    machine_id: str,
    form: Filled,
    version: Annotated[int, Form()],
) -> Response:
    """Keep a change, unless somebody else was faster."""
    typed = read(KNOWN, form, units)
    status = 422
    if typed.is_good:
        try:
            change_machine(desk, machine_id, known_of(typed), seen_version=version)
            return RedirectResponse(f"/machines/{machine_id}", status_code=303)
        except Conflict as error:
            status, typed = 409, typed.with_fault(WHOLE_FORM, as_sentence(str(error)))
        except UllageError as error:
            typed = typed.with_error(error)
    return _machine_page(request, desk, units, machine_id, typed=typed, status=status)


@router.post("/machines/{machine_id}/circuits")
def give_circuit(
    request: Request, desk: Here, units: InUnits, machine_id: str, form: Filled
) -> Response:
    """Give a machine another built-in circuit."""
    typed = read((TEMPLATE,), form, units)
    if typed.is_good:
        table = template_table(typed.values["template"])
        add_circuit(desk, machine_id, table, circuit_id=f"c{typed.uid}")
        return RedirectResponse(f"/machines/{machine_id}", status_code=303)
    return _machine_page(request, desk, units, machine_id, circuit_typed=typed, status=422)


def known_of(typed: Typed) -> Known:
    """Return what was typed of a machine."""
    return Known(
        name=typed.values["name"],
        marks=typed.values.get("marks", ""),
        counter=Counter(typed.values["counter"]),
    )


def _machine_page(
    request: Request,
    desk: Desk,
    units: Units,
    machine_id: str,
    *,
    typed: Typed | None = None,
    circuit_typed: Typed | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Return the page of a machine, with the forms that have to be shown again."""
    store = desk.store
    machine = store.machine(machine_id)
    in_hand = jobs_in_hand(desk, machine_id)
    readings = tuple(
        Reading(day=day(one.read_at), showed=_showed(one, units))
        for one in reversed(store.counter_readings(machine_id))
    )
    page = MachinePage(
        machine_id=machine.id,
        name=machine.name,
        marks=machine.marks,
        counter=dict(_COUNTERS)[machine.counter.value],
        latest=f"{readings[0].showed} on {readings[0].day}" if readings else "",
        circuits=tuple(
            CircuitLine(
                circuit_id=one.circuit_id,
                name=one.name,
                told=f"Version {one.number}, saved {day(one.saved_at)}",
                job_url=f"/jobs/{in_hand[one.circuit_id]}" if one.circuit_id in in_hand else "",
                uid=new_uid(),
            )
            for one in store.circuits_of(machine_id)
        ),
        jobs=_history(desk, machine_id),
        readings=readings,
        version=machine.version,
        fields=KNOWN,
        typed=typed or filled(KNOWN, _values(machine), units),
        is_changing=typed is not None,
        circuit_fields=(TEMPLATE,),
        circuit_typed=circuit_typed or blank(),
        is_adding=circuit_typed is not None,
    )
    return render(request, "machine.html", page, status=status)


def _values(machine: Machine) -> dict[str, Any]:
    """Return what the form of a machine shows."""
    return {"name": machine.name, "marks": machine.marks, "counter": machine.counter.value}


def _history(desk: Desk, machine_id: str) -> tuple[HistoryLine, ...]:
    """Return the jobs of a machine, the one opened last on top."""
    lines = (
        *desk.store.job_lines(is_open=True, machine_id=machine_id, limit=JOBS_SHOWN),
        *desk.store.job_lines(is_open=False, machine_id=machine_id, limit=JOBS_SHOWN),
    )
    return tuple(
        HistoryLine(
            url=f"/jobs/{line.job_id}",
            opened=day(line.opened_at),
            stage="Filed" if line.stage is None else line.stage.value.capitalize(),
            next=line.next.sentence if line.stage is not None else "",
        )
        for line in sorted(lines, key=lambda line: line.opened_at, reverse=True)
    )


def _showed(reading: CounterReading, units: Units) -> str:
    """Return what a counter showed."""
    parts = []
    if reading.distance_m is not None:
        parts.append(amount_si(reading.distance_m, "km", units, digits=0))
    if reading.running_s is not None:
        parts.append(f"{figure(reading.running_s / 3600.0, 0)} h")
    return ", ".join(parts)


def _told(count: int, search: str) -> str:
    """Say how many machines there are where the list does not say it by itself."""
    if count > MACHINES_SHOWN:
        return f"These are the first {MACHINES_SHOWN} by name: search for others."
    if count == 0 and search:
        return f"No machine has \u201c{search}\u201d in its name or marks."
    return "" if count else "No machine is here yet."
