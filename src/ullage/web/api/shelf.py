"""The shelf: sheets of fluids and filters, stock by lot, deliveries and movements."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from ullage.jobs.keep_shelf import (
    LONGEST_MARK,
    LONGEST_WHY,
    Delivery,
    add_sheet,
    change_sheet,
    deliver,
    lot_of,
    move,
)
from ullage.jobs.machine import LONGEST_NAME
from ullage.jobs.shelf import Movement, Sheet, SheetOf, Stock
from ullage.units.convert import LITRE_M3
from ullage.web.api.given import Day, Id, IdInPath, Number, Sent, Table, Uid, Version
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here

router = APIRouter(prefix="/shelf", tags=["shelf"])


class SheetTold(BaseModel):
    """The properties of a fluid or a filter; ``version`` counts changes."""

    id: str
    of: SheetOf
    name: str
    table: Table
    version: int
    saved_at: datetime


class NewSheet(Sent):
    """A sheet to keep; with an ``id`` of the sender's it is kept once.

    ``table`` is what a circuit file has for it: [fluid], or the element of a [[node]].
    """

    of: SheetOf
    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    table: Table
    id: Id | None = None


class ChangedSheet(Sent):
    """What a sheet says now; ``version`` is the one that the change was made from."""

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    table: Table
    version: Version


class StockTold(BaseModel):
    """A lot and what is left of it, in containers or elements."""

    lot: str
    sheet: str
    name: str
    of: SheetOf
    mark: str
    container_l: float | None
    received_on: date
    expires_on: date | None
    left: float


class NewLot(Sent):
    """A delivery: containers of a fluid, each of ``container_l``, or elements."""

    uid: Uid
    mark: str = Field(min_length=1, max_length=LONGEST_MARK)
    count: Number
    container_l: Annotated[Number, Field(gt=0.0, le=10_000.0)] | None = None
    received_on: Day
    expires_on: Day | None = None


class MovementTold(BaseModel):
    """Something that went onto the shelf (positive) or off it."""

    uid: str
    count: float
    why: str
    moved_at: datetime
    job: str | None


class NewMovement(Sent):
    """Containers or elements that are taken off (negative) or put back."""

    uid: Uid
    count: Number
    why: str = Field(min_length=1, max_length=LONGEST_WHY)


def _sheet(sheet: Sheet) -> SheetTold:
    return SheetTold(
        id=sheet.id,
        of=sheet.of,
        name=sheet.name,
        table=dict(sheet.table),
        version=sheet.version,
        saved_at=sheet.saved_at,
    )


def _stock(one: Stock) -> StockTold:
    lot = one.lot
    return StockTold(
        lot=lot.id,
        sheet=one.sheet.id,
        name=one.sheet.name,
        of=one.sheet.of,
        mark=lot.mark,
        container_l=None if lot.container_m3 is None else lot.container_m3 / LITRE_M3,
        received_on=lot.received_on,
        expires_on=lot.expires_on,
        left=one.left,
    )


def _movement(movement: Movement) -> MovementTold:
    return MovementTold(
        uid=movement.uid,
        count=movement.count,
        why=movement.why,
        moved_at=movement.moved_at,
        job=movement.job_id,
    )


@router.get("/sheets")
def list_sheets(desk: Here, of: SheetOf | None = None) -> list[SheetTold]:
    """Return sheets by name."""
    return [_sheet(sheet) for sheet in desk.store.sheets(of)]


@router.post("/sheets", status_code=201, responses={**TAKING_IN, **refusals(409)})
def take_in_sheet(desk: Here, sent: NewSheet) -> SheetTold:
    """Keep a new sheet."""
    return _sheet(add_sheet(desk, sent.of, sent.name, sent.table, sheet_id=sent.id))


@router.get("/sheets/{sheet_id}", responses=refusals(404))
def one_sheet(desk: Here, sheet_id: IdInPath) -> SheetTold:
    """Return a sheet."""
    return _sheet(desk.store.sheet(sheet_id))


@router.put("/sheets/{sheet_id}", responses={**TAKING_IN, **refusals(404, 409)})
def save_sheet(desk: Here, sheet_id: IdInPath, sent: ChangedSheet) -> SheetTold:
    """Keep a change, unless somebody else was faster."""
    return _sheet(change_sheet(desk, sheet_id, sent.name, sent.table, seen_version=sent.version))


@router.post(
    "/sheets/{sheet_id}/lots", status_code=201, responses={**TAKING_IN, **refusals(404, 409)}
)
def take_in_lot(desk: Here, sheet_id: IdInPath, sent: NewLot) -> StockTold:
    """Put a delivery onto the shelf."""
    came = Delivery(
        mark=sent.mark,
        count=sent.count,
        container_m3=None if sent.container_l is None else sent.container_l * LITRE_M3,
        received_on=sent.received_on,
        expires_on=sent.expires_on,
    )
    return _stock(lot_of(desk, deliver(desk, sheet_id, came, uid=sent.uid)))


@router.get("/stock")
def list_stock(
    desk: Here,
    sheet: Annotated[str | None, Query(max_length=80)] = None,
    empty_too: Annotated[bool, Query(description="Also lots of which nothing is left.")] = False,
) -> list[StockTold]:
    """Return lots with what is left, the first to expire first."""
    return [_stock(one) for one in desk.store.stock(sheet_id=sheet, empty_too=empty_too)]


@router.get("/lots/{lot_id}", responses=refusals(404))
def one_lot(desk: Here, lot_id: IdInPath) -> StockTold:
    """Return a lot with what is left of it, if only nothing."""
    return _stock(lot_of(desk, lot_id))


@router.get("/lots/{lot_id}/movements", responses=refusals(404))
def movements_of(desk: Here, lot_id: IdInPath) -> list[MovementTold]:
    """Return what was moved of a lot, in the order of time."""
    lot_of(desk, lot_id)
    return [_movement(one) for one in desk.store.movements(lot_id)]


@router.post("/lots/{lot_id}/movements", responses={**TAKING_IN, **refusals(404)})
def move_lot(desk: Here, lot_id: IdInPath, sent: NewMovement) -> StockTold:
    """Take some off the shelf or put some back, once."""
    move(desk, lot_id, sent.count, sent.why, uid=sent.uid)
    return _stock(lot_of(desk, lot_id))
