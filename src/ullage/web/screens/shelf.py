"""The shelf: sheets of fluids and filters, stock by lot, deliveries and what is taken off.

The routes only know where to send whom: what a sheet may say is known by what reads circuits, which
loads numpy, and the first page must not wait for that.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from ullage.jobs.shelf import SheetOf
from ullage.web.desk import Filled, Here, InUnits, render

router = APIRouter()


@router.get("/shelf")
def show_shelf(request: Request, desk: Here, units: InUnits) -> Response:
    """Show the whole shelf."""
    from ullage.web.shelf_page import shelf_page

    return render(request, "shelf.html", shelf_page(desk, units))


@router.get("/shelf/new/{of}")
def ask_for_sheet(request: Request, of: SheetOf) -> Response:
    """Show the form of a new fluid or filter."""
    from ullage.web.shelf_page import new_sheet_page

    return render(request, "new_sheet.html", new_sheet_page(of))


@router.post("/shelf/new/{of}")
def new_sheet(request: Request, desk: Here, units: InUnits, of: SheetOf, form: Filled) -> Response:
    """Keep a new fluid or filter."""
    from ullage.web.shelf_sent import take_in_sheet

    return take_in_sheet(request, desk, units, of, form)


@router.get("/shelf/sheets/{sheet_id}")
def show_sheet(request: Request, desk: Here, units: InUnits, sheet_id: str) -> Response:
    """Show a sheet and its lots."""
    from ullage.web.shelf_page import sheet_page

    return render(request, "shelf_sheet.html", sheet_page(desk, units, sheet_id))


@router.post("/shelf/sheets/{sheet_id}")
def change_sheet(
    request: Request,
    desk: Here,
    units: InUnits,
    sheet_id: str,
    form: Filled,
    version: Annotated[int, Form()],
) -> Response:
    """Keep a change of a sheet."""
    from ullage.web.shelf_sent import save_sheet

    return save_sheet(request, desk, units, sheet_id, form, version)


@router.post("/shelf/sheets/{sheet_id}/lots")
def new_lot(request: Request, desk: Here, units: InUnits, sheet_id: str, form: Filled) -> Response:
    """Put a delivery onto the shelf."""
    from ullage.web.shelf_sent import take_in_lot

    return take_in_lot(request, desk, units, sheet_id, form)


@router.get("/shelf/lots/{lot_id}")
def show_lot(request: Request, desk: Here, units: InUnits, lot_id: str) -> Response:
    """Show a lot and what was moved."""
    from ullage.web.shelf_page import lot_page

    return render(request, "lot.html", lot_page(desk, units, lot_id))


@router.post("/shelf/lots/{lot_id}/movements")
def move_stock(request: Request, desk: Here, units: InUnits, lot_id: str, form: Filled) -> Response:
    """Take some of a lot off, or put some back."""
    from ullage.web.shelf_sent import take_off

    return take_off(request, desk, units, lot_id, form)
