"""The list of jobs: one line each, what has to happen first on top; and the way to a new one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from ullage.errors import UllageError
from ullage.jobs.add_machine import add_circuit, add_machine, template_table
from ullage.jobs.next_thing import JobLine
from ullage.jobs.open_job import jobs_in_hand, open_job
from ullage.jobs.ports import Desk
from ullage.web.desk import PLACES, Filled, Here, InUnits, Uid, render
from ullage.web.forms import Field, Typed, blank, new_uid, read
from ullage.web.screens.machine import KNOWN, TEMPLATE, known_of
from ullage.web.shown import day

router = APIRouter()

ON_A_PAGE = 50
MACHINES_SHOWN = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A job on one line."""

    url: str
    title: str
    stage: str
    next: str
    who: str
    touched: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobsPage:
    """Some lines of the list, where they stand in it, and the ways to the others."""

    lines: tuple[Line, ...]
    search: str
    is_filed: bool
    told: str
    earlier_url: str
    later_url: str
    other_url: str
    other: str
    due_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A circuit that a job can be opened on, or carried on with where ``job_url`` is one.

    ``uid`` names the job that this page would open.
    """

    circuit_id: str
    machine: str
    marks: str
    circuit: str
    job_url: str
    uid: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewJobPage:
    """The circuits to choose from, and a form for a machine that is not here yet."""

    choices: tuple[Choice, ...]
    search: str
    told: str
    fields: tuple[Field, ...]
    typed: Typed


@router.get("/")
def show_jobs(
    request: Request,
    desk: Here,
    q: Annotated[str, Query(max_length=80)] = "",
    page: Annotated[int, Query(ge=1, le=1_000_000)] = 1,
    filed: bool = False,
) -> Response:
    """Show the jobs that are open, or those that are filed."""
    search = q.strip()
    found, count = _found(desk, search, page, is_open=not filed)
    pages = max(1, -(-count // ON_A_PAGE))
    if page > pages:
        page = pages
        found, count = _found(desk, search, page, is_open=not filed)
    shown = JobsPage(
        lines=tuple(_line(line) for line in found),
        search=search,
        is_filed=filed,
        told=_told(count, page, pages, filed=filed, search=search),
        earlier_url=_url(search, page - 1, filed) if page > 1 else "",
        later_url=_url(search, page + 1, filed) if page < pages else "",
        other_url=_url(search, 1, not filed),
        other="Jobs in hand" if filed else "Filed jobs",
        due_url="/due" if "/due" in dict(PLACES) else "",
    )
    return render(request, "jobs.html", shown)


@router.get("/jobs/new")
def choose_circuit(
    request: Request, desk: Here, q: Annotated[str, Query(max_length=80)] = ""
) -> Response:
    """Show what a job can be opened on."""
    return render(request, "new_job.html", _new_page(desk, q.strip(), blank()))


@router.post("/jobs")
def open_on_circuit(desk: Here, circuit: Annotated[str, Form()], uid: Uid) -> Response:
    """Open a job on a circuit that is here."""
    head = open_job(desk, circuit, job_id=uid)
    return RedirectResponse(f"/jobs/{head.id}", status_code=303)


@router.post("/jobs/new")
def open_on_new_machine(request: Request, desk: Here, units: InUnits, form: Filled) -> Response:
    """Take in a machine with a built-in circuit and open its first job."""
    typed = read((*KNOWN, TEMPLATE), form, units)
    if typed.is_good:
        try:
            machine = add_machine(desk, known_of(typed), machine_id=f"m{typed.uid}")
            table = template_table(typed.values["template"])
            circuit = add_circuit(desk, machine.id, table, circuit_id=f"c{typed.uid}")
            head = open_job(desk, circuit.circuit_id, job_id=typed.uid)
            return RedirectResponse(f"/jobs/{head.id}", status_code=303)
        except UllageError as error:
            typed = typed.with_error(error)
    return render(request, "new_job.html", _new_page(desk, "", typed), status=422)


def _found(desk: Desk, search: str, page: int, *, is_open: bool) -> tuple[tuple[JobLine, ...], int]:
    """Return the jobs on a page of the list, and how many there are on all pages."""
    store = desk.store
    before = (page - 1) * ON_A_PAGE
    found = store.job_lines(is_open=is_open, search=search, limit=ON_A_PAGE + 1, offset=before)
    if page == 1 and len(found) <= ON_A_PAGE:
        # Most lists end on their first page: counting them would be looking twice.
        return found, len(found)
    return found[:ON_A_PAGE], store.count_jobs(is_open=is_open, search=search)


def _line(line: JobLine) -> Line:
    """Return a job as its line shows it."""
    return Line(
        url=f"/jobs/{line.job_id}",
        title=line.title,
        stage="Filed" if line.stage is None else line.stage.value.capitalize(),
        next=line.next.sentence,
        who=line.next.who,
        touched=day(line.touched_at),
    )


def _url(search: str, page: int, filed: bool) -> str:
    """Return the address of a page of the list."""
    asked = {
        **({"q": search} if search else {}),
        **({"page": str(page)} if page > 1 else {}),
        **({"filed": "yes"} if filed else {}),
    }
    return f"/?{urlencode(asked)}" if asked else "/"


def _told(count: int, page: int, pages: int, *, filed: bool, search: str) -> str:
    """Say how many jobs there are, and which of them stand here."""
    what = "filed" if filed else "in hand"
    found = f" with \u201c{search}\u201d" if search else ""
    if count == 0:
        return f"No job{found} is {what}."
    many = f"One job{found} is {what}." if count == 1 else f"{count} jobs{found} are {what}."
    return many if pages == 1 else f"{many} Page {page} of {pages}."


def _new_page(desk: Desk, search: str, typed: Typed) -> NewJobPage:
    """Return the circuits of the machines that were looked for, and the form for a new one."""
    machines = desk.store.machines(search=search, limit=MACHINES_SHOWN + 1)
    choices = []
    for machine in machines[:MACHINES_SHOWN]:
        in_hand = jobs_in_hand(desk, machine.id)
        for version in desk.store.circuits_of(machine.id):
            job_id = in_hand.get(version.circuit_id)
            choices.append(
                Choice(
                    circuit_id=version.circuit_id,
                    machine=machine.name,
                    marks=machine.marks,
                    circuit=version.name,
                    job_url=f"/jobs/{job_id}" if job_id else "",
                    uid=new_uid(),
                )
            )
    return NewJobPage(
        choices=tuple(choices),
        search=search,
        told=f"These are the first {MACHINES_SHOWN} machines by name: search for others."
        if len(machines) > MACHINES_SHOWN
        else ""
        if machines
        else f"No machine has \u201c{search}\u201d in its name or marks."
        if search
        else "No machine is here yet: describe the first one.",
        fields=(*KNOWN, TEMPLATE),
        typed=typed,
    )
