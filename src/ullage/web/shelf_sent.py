"""What the forms of the shelf do when they are sent: keep, or come back with what is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from ullage.errors import Conflict, FileFaults, UllageError
from ullage.jobs.keep_shelf import Delivery, add_sheet, change_sheet, deliver, move
from ullage.jobs.ports import Desk
from ullage.jobs.shelf import SheetOf
from ullage.units.convert import LITRE_M3
from ullage.web.desk import render
from ullage.web.forms import WHOLE_FORM, Typed, as_sentence, read
from ullage.web.shelf_fields import fields_for, table_of, with_faults
from ullage.web.shelf_page import MOVE, lot_fields, lot_page, new_sheet_page, sheet_page
from ullage.web.shown import Units


def take_in_sheet(
    request: Request, desk: Desk, units: Units, of: SheetOf, form: Mapping[str, Any]
) -> Response:
    """Keep a new sheet."""
    typed = read(fields_for(of), form, units)
    status = 422
    if typed.is_good:
        try:
            name, table = typed.values["name"], table_of(of, typed)
            sheet = add_sheet(desk, of, name, table, sheet_id=f"s{typed.uid}")
            return RedirectResponse(f"/shelf/sheets/{sheet.id}", status_code=303)
        except UllageError as error:
            status, typed = _refused(of, typed, error)
    return render(request, "new_sheet.html", new_sheet_page(of, typed), status=status)


def save_sheet(
    request: Request,
    desk: Desk,
    units: Units,
    sheet_id: str,
    form: Mapping[str, Any],
    version: int,
) -> Response:
    """Keep a change of a sheet, unless somebody else was faster."""
    of = desk.store.sheet(sheet_id).of
    typed = read(fields_for(of), form, units)
    status = 422
    if typed.is_good:
        try:
            name, table = typed.values["name"], table_of(of, typed)
            change_sheet(desk, sheet_id, name, table, seen_version=version)
            return RedirectResponse(f"/shelf/sheets/{sheet_id}", status_code=303)
        except UllageError as error:
            status, typed = _refused(of, typed, error)
    page = sheet_page(desk, units, sheet_id, typed=typed)
    return render(request, "shelf_sheet.html", page, status=status)


def take_in_lot(
    request: Request, desk: Desk, units: Units, sheet_id: str, form: Mapping[str, Any]
) -> Response:
    """Put a delivery onto the shelf."""
    typed = read(lot_fields(desk.store.sheet(sheet_id).of), form, units)
    if typed.is_good:
        size_l = typed.values.get("container_l")
        came = Delivery(
            mark=typed.values["mark"],
            count=typed.values["count"],
            container_m3=None if size_l is None else size_l * LITRE_M3,
            received_on=typed.values["received_on"],
            expires_on=typed.values.get("expires_on"),
        )
        try:
            lot_id = deliver(desk, sheet_id, came, uid=typed.uid)
            return RedirectResponse(f"/shelf/lots/{lot_id}", status_code=303)
        except UllageError as error:
            typed = typed.with_error(error)
    page = sheet_page(desk, units, sheet_id, lot_typed=typed)
    return render(request, "shelf_sheet.html", page, status=422)


def take_off(
    request: Request, desk: Desk, units: Units, lot_id: str, form: Mapping[str, Any]
) -> Response:
    """Take some of a lot off the shelf, or put some back."""
    typed = read(MOVE, form, units)
    if typed.is_good:
        sign = -1.0 if typed.values["way"] == "off" else 1.0
        count, why = sign * typed.values["count"], typed.values["why"]
        try:
            move(desk, lot_id, count, why, uid=typed.uid)
            return RedirectResponse(f"/shelf/lots/{lot_id}", status_code=303)
        except UllageError as error:
            typed = typed.with_error(error)
    return render(request, "lot.html", lot_page(desk, units, lot_id, typed=typed), status=422)


def _refused(of: SheetOf, typed: Typed, error: UllageError) -> tuple[int, Typed]:
    """Return the status and the form of a sheet that was not kept."""
    if isinstance(error, Conflict):
        return 409, typed.with_fault(WHOLE_FORM, as_sentence(str(error)))
    if isinstance(error, FileFaults):
        return 422, with_faults(of, typed, error)
    return 422, typed.with_error(error)
