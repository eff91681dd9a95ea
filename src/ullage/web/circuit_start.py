"""Another circuit for a machine: built in, copied, from a file or from nothing, not saved yet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import Request, Response

from ullage.circuit.catalogue import circuit_templates
from ullage.errors import Fault, FileFaults, NotFound
from ullage.formats import document
from ullage.formats.circuit_keys import CIRCUIT
from ullage.jobs.add_machine import template_table
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk
from ullage.web.circuit_editor import Sheet, edited, worked_on
from ullage.web.circuit_fields import tidied
from ullage.web.circuit_form import fault_told, fields_of, texts_of
from ullage.web.circuit_sent import LARGEST_BYTES, Sent
from ullage.web.desk import render
from ullage.web.forms import as_sentence, new_uid
from ullage.web.shown import Units

_MACHINES_LOOKED_AT = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Something to start from: its address, its name and what it is for."""

    url: str
    name: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitNewPage:
    """What another circuit of a machine may start from."""

    machine: str
    machine_url: str
    action: str
    empty_url: str
    templates: tuple[Start, ...]
    copies: tuple[Start, ...]
    text: str
    faults: tuple[str, ...]


def start_page(request: Request, desk: Desk, units: Units, machine_id: str, start: str) -> Response:
    """Return the page that asks what to start from, or the editor with what was chosen."""
    desk.store.machine(machine_id)
    if not start:
        return _ask(request, desk, machine_id)
    sheet = Sheet(machine_id=machine_id, newest=None, uid=new_uid())
    texts = texts_of(start_table(desk, start), units)
    return edited(request, desk, units, sheet, texts, says_faults=False)


def edit_new(request: Request, desk: Desk, units: Units, machine_id: str, form: Sent) -> Response:
    """Take a file in, or work on the form of a circuit that is not saved yet."""
    desk.store.machine(machine_id)
    if form["do"] == "import":
        return _import(request, desk, units, machine_id, form)
    sheet = Sheet(machine_id=machine_id, newest=None, uid=form["uid"] or new_uid())
    return worked_on(request, desk, units, sheet, form)


def starts(desk: Desk, machine_id: str) -> tuple[tuple[Start, ...], tuple[Start, ...]]:
    """Return the built-in circuits, and those of machines that may be copied, own ones first."""
    here = f"/machines/{machine_id}/circuits/new?start="
    built_in = tuple(
        Start(
            url=f"{here}template.{one.name}", name=_headline(one.purpose), told=_rest(one.purpose)
        )
        for one in circuit_templates()
    )
    machines = desk.store.machines(limit=_MACHINES_LOOKED_AT)
    copies = tuple(
        Start(url=f"{here}copy.{version.id}", name=version.name, told=machine.name)
        for machine in sorted(machines, key=lambda one: one.id != machine_id)
        for version in desk.store.circuits_of(machine.id)
    )
    return built_in, copies


def start_table(desk: Desk, start: str) -> dict[str, Any]:
    """Return the table that ``template.NAME``, ``copy.VERSION`` or ``empty`` stands for.

    Raises
    ------
    NotFound
        If there is no such thing.
    """
    kind, _, name = start.partition(".")
    if kind == "template":
        return template_table(name)
    if kind == "copy":
        version: CircuitVersion = desk.store.circuit_version(name)
        return dict(version.table)
    if kind == "empty":
        return {}
    raise NotFound("circuit to start from", start)


def imported_table(text: str | bytes) -> dict[str, Any]:
    """Return the table of a circuit file in TOML or JSON, right or not.

    Raises
    ------
    FileFaults
        If it is neither, or a file of another kind.
    """
    if isinstance(text, bytes):
        text = _decoded(text)
    if not text.strip():
        raise _fault("is empty", "paste the text of a circuit file, or choose one")
    raw = document.raw_table(text, "file")
    kind = document.kind_of(raw)
    if kind not in (None, CIRCUIT.word) or not set(raw) & set(CIRCUIT.table_by_name):
        what = "no circuit file" if kind is None else f"a file of kind {kind!r}"
        raise _fault(f"is {what}", f'a circuit file begins with format = "{CIRCUIT.format}"')
    return raw


def _decoded(data: bytes) -> str:
    """Return the text of a file."""
    if len(data) > LARGEST_BYTES:
        raise _fault("is too large to be a circuit file", "check that it is the file you mean")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _fault("is not UTF-8 text", "check that it is the file you mean") from None


def _fault(problem: str, advice: str) -> FileFaults:
    """Return the one fault of a file as a whole."""
    return FileFaults("file", [Fault(key="file", value=None, problem=problem, advice=advice)])


def _headline(purpose: str) -> str:
    """Return what a built-in circuit is."""
    return purpose.split(":", 1)[0].rstrip(".")


def _rest(purpose: str) -> str:
    """Return what is particular about it."""
    return purpose.partition(":")[2].strip()


def _import(request: Request, desk: Desk, units: Units, machine_id: str, form: Sent) -> Response:
    """Show what a file says in the editor, with every fault; or why it is no circuit file."""
    try:
        raw = imported_table(form["text"] if form.file is None else form.file)
    except FileFaults as error:
        told = tuple(as_sentence(f"{one.key}: {fault_told(one)}") for one in error.faults)
        return _ask(request, desk, machine_id, text=form["text"], faults=told)
    texts = texts_of(raw, units)
    sheet = Sheet(machine_id=machine_id, newest=None, uid=new_uid())
    return edited(
        request, desk, units, sheet, texts, notes=_left_out(desk, raw, texts), is_typed=True
    )


def _left_out(desk: Desk, raw: dict[str, object], texts: dict[str, str]) -> tuple[str, ...]:
    """Return faults of a file for which the page has no field: what bears them is not taken in."""
    try:
        desk.forms.circuit(raw, "file")
    except FileFaults as error:
        return tuple(
            as_sentence(f"In the file, {one.sentence()}")
            for one in error.faults
            if not fields_of(one.key, tidied(texts)) or one.problem == "is not a known key"
        )
    return ()


def _ask(
    request: Request,
    desk: Desk,
    machine_id: str,
    *,
    text: str = "",
    faults: tuple[str, ...] = (),
) -> Response:
    """Return the page that asks what to start from."""
    machine = desk.store.machine(machine_id)
    templates, copies = starts(desk, machine_id)
    here = f"/machines/{machine_id}/circuits/new"
    page = CircuitNewPage(
        machine=machine.name,
        machine_url=f"/machines/{machine_id}",
        action=here,
        empty_url=f"{here}?start=empty",
        templates=templates,
        copies=copies,
        text=text,
        faults=faults,
    )
    return render(request, "circuit_new.html", page, status=422 if faults else 200)
