"""Works on the form of a circuit: checks, draws, adds, moves, removes, saves, shows it again.

The routes are in ``screens.circuit``; what needs numbers is loaded with the first circuit page.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.formats.circuit_keys import CIRCUIT
from ullage.jobs.circuit_changes import changes
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk
from ullage.jobs.save_circuit import keep_circuit, numbered, save_circuit
from ullage.web.circuit_answer import Answer, answer_of
from ullage.web.circuit_fields import moved, rows_of, tidied, with_part, without_part
from ullage.web.circuit_form import FieldFault, judged, texts_of
from ullage.web.circuit_history import piece_of, rankings, unknown_table, versions_of
from ullage.web.circuit_page import (
    CircuitPage,
    lists_of,
    name_cell,
    opened_by,
    sections_of,
    title_of,
    told_of,
)
from ullage.web.circuit_sent import Sent
from ullage.web.desk import render, templates
from ullage.web.drawn import drawings
from ullage.web.forms import as_sentence, new_uid
from ullage.web.shown import Units, moment

_DO = re.compile(r"(check|save|add|up|down|remove)(?:\.([a-z_]+)(?:\.(\d{1,4}))?)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Which circuit is edited: a stored one, or one that is to be added to a machine."""

    machine_id: str
    newest: CircuitVersion | None
    uid: str

    @property
    def action(self) -> str:
        """Return where the form is sent to."""
        if self.newest is None:
            return f"/machines/{self.machine_id}/circuits/new"
        return f"/circuits/{self.newest.circuit_id}"

    @property
    def number(self) -> int:
        """Return the newest version's number, 0 where there is none yet."""
        return 0 if self.newest is None else self.newest.number


def circuit_page(
    request: Request, desk: Desk, units: Units, circuit_id: str, start: int | None
) -> HTMLResponse:
    """Return the page of a circuit, with the newest version in its fields or an earlier one."""
    newest = desk.store.newest_circuit(circuit_id)
    shown = newest if start is None else numbered(desk, circuit_id, start)
    is_earlier = shown.number != newest.number
    sheet = Sheet(machine_id=newest.machine_id, newest=newest, uid=new_uid())
    return edited(
        request,
        desk,
        units,
        sheet,
        texts_of(shown.table, units),
        state=f"Version {shown.number} stands in the fields, not saved yet." if is_earlier else "",
    )


def edit(request: Request, desk: Desk, units: Units, circuit_id: str, form: Sent) -> Response:
    """Work on the form of a stored circuit."""
    newest = desk.store.newest_circuit(circuit_id)
    sheet = Sheet(machine_id=newest.machine_id, newest=newest, uid=form["uid"] or new_uid())
    return worked_on(request, desk, units, sheet, form)


def previewed(request: Request, desk: Desk, units: Units, form: Sent) -> JSONResponse:
    """Return what the page shows of a form that is still being typed."""
    texts = tidied(form.texts)
    circuit, written = judged(desk, texts, units)
    answer = None if circuit is None else answer_of(request, circuit, written.table, units)
    return JSONResponse(
        {
            "state": _state(len(written.faults), is_live=True),
            "faults": [
                {"field": one.field, "place": one.place, "sentence": one.sentence}
                for one in written.faults
            ],
            "rows": _rows(texts, units),
            "drawn": "" if answer is None else answer.drawn,
            "answer": "" if answer is None else _fragment(answer),
        },
        headers={"cache-control": "no-store"},
    )


def worked_on(request: Request, desk: Desk, units: Units, sheet: Sheet, form: Sent) -> Response:
    """Do what the pressed button says with a form, and show the page again unless it was saved."""
    match = _DO.fullmatch(form["do"] or "check")
    do, kind, number = match.groups() if match else ("check", None, None)
    texts = tidied(form.texts)
    opened = {place for one in form["open"].split() for place in opened_by(one, texts)}
    if do == "save":
        return _saved(request, desk, units, sheet, form, texts, opened)
    if kind is not None:
        texts, last = _changed(texts, do, kind, int(number or 0))
        if do in ("up", "down", "remove"):
            opened = {one for one in opened if not one.startswith(f"{kind}.")}
        opened |= {place for one in (last,) for place in opened_by(one, texts)}
    return edited(
        request,
        desk,
        units,
        sheet,
        texts,
        opened=frozenset(opened),
        base=_base(form),
        drawn=form["drawn"],
        is_typed=True,
        says_faults=do == "check",
    )


def _changed(texts: dict[str, str], do: str, kind: str, number: int) -> tuple[dict[str, str], str]:
    """Return the form after a button beside a part, and the part to show unfolded."""
    part = CIRCUIT.table_by_name.get(kind)
    if part is None or not part.many:
        return texts, kind
    match do:
        case "add":
            found = with_part(texts, kind)
            return found, f"{kind}.{len(rows_of(found, kind))}"
        case "remove":
            return without_part(texts, kind, number), ""
        case "up":
            return moved(texts, kind, number, -1), f"{kind}.{max(number - 1, 1)}"
        case "down":
            return moved(texts, kind, number, 1), f"{kind}.{number + 1}"
    return texts, f"{kind}.{number}"


def _saved(
    request: Request,
    desk: Desk,
    units: Units,
    sheet: Sheet,
    form: Sent,
    texts: dict[str, str],
    opened: set[str],
) -> Response:
    """Keep what the form says, or show it again with what stands against that."""
    circuit, written = judged(desk, texts, units)
    base, status, state = _base(form), 422, ""
    notes: tuple[str, ...] = ()
    extra: tuple[FieldFault, ...] = ()
    if circuit is not None:
        try:
            if sheet.newest is None:
                kept = keep_circuit(
                    desk, sheet.machine_id, written.table, circuit_id=f"c{sheet.uid}"
                )
            else:
                kept = save_circuit(desk, sheet.newest.circuit_id, written.table, base=base)
            return RedirectResponse(f"/circuits/{kept.circuit_id}", status_code=303)
        except OutOfRange as error:
            sentence = as_sentence(f"must be {error.allowed}")
            extra = (FieldFault(field="name", place="name", sentence=sentence),)
        except Conflict as error:
            status, state = 409, as_sentence(str(error))
            notes, base = _meanwhile(desk, sheet, base)
    return edited(
        request,
        desk,
        units,
        sheet,
        texts,
        opened=frozenset(opened),
        base=base,
        drawn=form["drawn"],
        is_typed=True,
        state=state,
        notes=notes,
        extra=extra,
        status=status,
    )


def _meanwhile(desk: Desk, sheet: Sheet, base: int) -> tuple[tuple[str, ...], int]:
    """Return what somebody else changed since a version, and the version to save after."""
    if sheet.newest is None:
        return (), base
    newest = desk.store.newest_circuit(sheet.newest.circuit_id)
    try:
        before = numbered(desk, newest.circuit_id, base)
    except NotFound:
        return (), newest.number
    told = changes(before.table, newest.table)
    return tuple(f"Changed meanwhile: {one}." for one in told), newest.number


def edited(
    request: Request,
    desk: Desk,
    units: Units,
    sheet: Sheet,
    texts: Mapping[str, str],
    *,
    opened: frozenset[str] = frozenset(),
    base: int | None = None,
    drawn: str = "",
    is_typed: bool = False,
    state: str = "",
    notes: tuple[str, ...] = (),
    extra: tuple[FieldFault, ...] = (),
    says_faults: bool = True,
    status: int | None = None,
) -> HTMLResponse:
    """Return the editor with some texts in its fields.

    ``drawn`` names the drawing that was shown before: it stays while something can't be right.
    """
    circuit, written = judged(desk, texts, units)
    faults = (*written.faults, *extra) if says_faults else ()
    answer = (
        answer_of(request, circuit, written.table, units)
        if circuit is not None
        else _before(request, desk, sheet, units, drawn)
    )
    newest = sheet.newest
    machine = desk.store.machine(sheet.machine_id)
    ranked = None if newest is None else rankings(request).get(piece_of(newest))
    page = CircuitPage(
        title=str(texts.get("name") or "New circuit"),
        machine=machine.name,
        machine_url=f"/machines/{machine.id}",
        action=sheet.action,
        uid=sheet.uid,
        base=sheet.number if base is None else base,
        drawn="" if answer is None else answer.drawn,
        state=state or _page_state(sheet, len(written.faults) + len(extra), is_typed=is_typed),
        notes=notes,
        faults=faults,
        name=name_cell(texts, faults),
        sections=sections_of(texts, faults, units, opened),
        lists=lists_of(texts),
        answer=answer,
        file_url="" if newest is None else f"/circuits/{newest.circuit_id}/file",
        versions=() if newest is None else versions_of(desk, newest.circuit_id),
        ask_url="" if newest is None else f"/circuits/{newest.circuit_id}/unknown",
        unknown=None if ranked is None else unknown_table(ranked, units),
    )
    is_wrong = bool(faults) and is_typed
    return render(request, "circuit.html", page, status=status or (422 if is_wrong else 200))


def _before(request: Request, desk: Desk, sheet: Sheet, units: Units, drawn: str) -> Answer | None:
    """Return the answer that was shown before, else that of the newest version, if any."""
    try:
        circuit = drawings(request).circuit(drawn)
        return answer_of(request, circuit, desk.forms.circuit_table(circuit), units)
    except NotFound:
        if sheet.newest is None:
            return None
    table = sheet.newest.table
    return answer_of(request, desk.forms.circuit(table, sheet.newest.name), table, units)


def _base(form: Sent) -> int:
    """Return the version that a form started from."""
    return int(form["base"]) if re.fullmatch(r"\d{1,6}", form["base"]) else 0


def _page_state(sheet: Sheet, faults: int, *, is_typed: bool) -> str:
    """Say whether what stands in the fields is kept."""
    if is_typed or sheet.newest is None:
        return _state(faults, is_live=False)
    return f"Version {sheet.newest.number}, saved {moment(sheet.newest.saved_at)}."


def _state(faults: int, *, is_live: bool) -> str:
    """Say how what is typed stands to the drawing."""
    if not faults:
        return "Not saved yet. The drawing shows what is typed."
    count = "One thing" if faults == 1 else f"{faults} things"
    stays = "The drawing still shows how it was before." if is_live else "The drawing waits for it."
    return f"Not saved yet. {count} can't be right. {stays}"


def _rows(texts: Mapping[str, str], units: Units) -> dict[str, dict[str, str]]:
    """Return what each part is called and what it is in a line."""
    found: dict[str, dict[str, str]] = {}
    for part in CIRCUIT.tables:
        for number in rows_of(texts, part.name) if part.many else (0,):
            place = f"{part.name}.{number}" if part.many else part.name
            found[place] = {
                "title": title_of(texts, part, number),
                "told": told_of(texts, part, place, units),
            }
    return found


def _fragment(answer: Answer) -> str:
    """Return drawing and figures as the page shows them."""
    macros: Any = templates().get_template("_circuit.html").module
    return str(macros.answer_part(answer))
