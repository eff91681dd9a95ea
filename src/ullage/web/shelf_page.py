"""What the pages of the shelf show: stock, sheets and lots as texts, and their forms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ullage.jobs.keep_shelf import LONGEST_MARK, LONGEST_WHY, MOST_AT_ONCE, expiry_told, lot_of
from ullage.jobs.ports import Desk
from ullage.jobs.shelf import Sheet, SheetOf, Stock
from ullage.web.forms import Field, Typed, blank, filled
from ullage.web.shelf_fields import facts_of, fields_for, typed_of
from ullage.web.shown import Units, amount_si, day, figure

_WHERE = (("off", "Take off the shelf"), ("back", "Put back"))
MOVE: tuple[Field, ...] = (
    Field("way", "What happens", "choice", choices=_WHERE, required=True),
    Field("count", "How many", "number", required=True, low=0.0, high=MOST_AT_ONCE),
    Field(
        "why",
        "Why",
        "text",
        required=True,
        longest=LONGEST_WHY,
        hint="Such as: leaked, given to the other bay, counted again.",
    ),
)
_LOT = (
    Field(
        "mark",
        "Mark of the lot",
        "text",
        required=True,
        longest=LONGEST_MARK,
        hint="As it is printed on it, or as you marked it.",
    ),
    Field("count", "How many came", "number", required=True, low=0.0, high=MOST_AT_ONCE),
)
_SIZE = Field(
    "container_l", "Each container holds", "number", unit="l", required=True, low=0.0, high=2000.0
)
_UNTIL = (
    Field("received_on", "Came on", "date", required=True),
    Field("expires_on", "Good until", "date", hint="Leave it empty where nothing is printed."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLine:
    """A lot on one line."""

    url: str
    name: str
    told: str
    expiry: str
    is_expired: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A sheet on one line."""

    url: str
    name: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfPage:
    """Stock, the first to expire first, and all sheets."""

    expired: tuple[LotLine, ...]
    lots: tuple[LotLine, ...]
    fluids: tuple[SheetLine, ...]
    filters: tuple[SheetLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSheetPage:
    """The form of a sheet that is not here yet."""

    of: str
    fields: tuple[Field, ...]
    typed: Typed


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfSheetPage:
    """What a sheet says, its lots, and the forms to take in another and to change it."""

    sheet_id: str
    of: str
    name: str
    facts: tuple[tuple[str, str], ...]
    saved: str
    lots: tuple[LotLine, ...]
    lot_fields: tuple[Field, ...]
    lot_typed: Typed
    is_delivering: bool
    version: int
    fields: tuple[Field, ...]
    typed: Typed
    is_changing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementLine:
    """Something that was put onto a lot or taken off it."""

    day: str
    count: str
    why: str
    job_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPage:
    """A lot: what is left, until when it lasts, what was moved, and the form to move more."""

    lot_id: str
    name: str
    sheet_url: str
    sheet: str
    left: str
    expiry: str
    is_expired: bool
    came: str
    movements: tuple[MovementLine, ...]
    fields: tuple[Field, ...]
    typed: Typed


def lot_fields(of: SheetOf) -> tuple[Field, ...]:
    """Return the form of a delivery; only fluid comes in containers."""
    return (*_LOT, *((_SIZE,) if of is SheetOf.FLUID else ()), *_UNTIL)


def shelf_page(desk: Desk, units: Units) -> ShelfPage:
    """Return the whole shelf."""
    today = desk.now().date()
    stock = desk.store.stock()
    lines = [(_is_expired(one, today), _lot_line(one, today, units)) for one in stock]
    on_hand: dict[str, float] = {}
    for one in stock:
        on_hand[one.sheet.id] = on_hand.get(one.sheet.id, 0.0) + one.left
    sheets = desk.store.sheets()
    return ShelfPage(
        expired=tuple(line for is_expired, line in lines if is_expired),
        lots=tuple(line for is_expired, line in lines if not is_expired),
        fluids=tuple(_sheet_line(s, on_hand, units) for s in sheets if s.of is SheetOf.FLUID),
        filters=tuple(_sheet_line(s, on_hand, units) for s in sheets if s.of is SheetOf.FILTER),
    )


def new_sheet_page(of: SheetOf, typed: Typed | None = None) -> NewSheetPage:
    """Return the form of a new sheet."""
    return NewSheetPage(of=of.value, fields=fields_for(of), typed=typed or blank())


def sheet_page(
    desk: Desk,
    units: Units,
    sheet_id: str,
    *,
    typed: Typed | None = None,
    lot_typed: Typed | None = None,
) -> ShelfSheetPage:
    """Return a sheet, with the forms that have to be shown again."""
    sheet = desk.store.sheet(sheet_id)
    today = desk.now().date()
    delivery = lot_fields(sheet.of)
    return ShelfSheetPage(
        sheet_id=sheet.id,
        of=sheet.of.value,
        name=sheet.name,
        facts=facts_of(sheet.of, sheet.table, units),
        saved=f"Version {sheet.version}, saved {day(sheet.saved_at)}",
        lots=tuple(
            _lot_line(one, today, units)
            for one in desk.store.stock(sheet_id=sheet.id, empty_too=True)
        ),
        lot_fields=delivery,
        lot_typed=lot_typed or filled(delivery, {"received_on": today}, units),
        is_delivering=lot_typed is not None,
        version=sheet.version,
        fields=fields_for(sheet.of),
        typed=typed or typed_of(sheet.of, sheet.name, sheet.table, units),
        is_changing=typed is not None,
    )


def lot_page(desk: Desk, units: Units, lot_id: str, *, typed: Typed | None = None) -> LotPage:
    """Return a lot, with the form that has to be shown again."""
    stock = lot_of(desk, lot_id)
    today = desk.now().date()
    return LotPage(
        lot_id=lot_id,
        name=f"Lot {stock.lot.mark}",
        sheet_url=f"/shelf/sheets/{stock.sheet.id}",
        sheet=stock.sheet.name,
        left=_left(stock, units),
        expiry=expiry_told(stock.lot, today),
        is_expired=_is_expired(stock, today),
        came=day(stock.lot.received_on),
        movements=tuple(
            MovementLine(
                day=day(one.moved_at),
                count=f"{'+' if one.count > 0 else ''}{figure(one.count)}",
                why=one.why,
                job_url=f"/jobs/{one.job_id}" if one.job_id else "",
            )
            for one in reversed(desk.store.movements(lot_id))
        ),
        fields=MOVE,
        typed=typed or filled(MOVE, {"way": "off"}, units),
    )


def _is_expired(stock: Stock, today: date) -> bool:
    return stock.lot.expires_on is not None and stock.lot.expires_on < today


def _lot_line(stock: Stock, today: date, units: Units) -> LotLine:
    return LotLine(
        url=f"/shelf/lots/{stock.lot.id}",
        name=f"{stock.sheet.name}, lot {stock.lot.mark}",
        told=_left(stock, units),
        expiry=expiry_told(stock.lot, today),
        is_expired=_is_expired(stock, today),
    )


def _left(stock: Stock, units: Units) -> str:
    """Say what is left of a lot."""
    if stock.left < 1e-9:
        return "nothing left"
    count, size = figure(stock.left, 2), stock.lot.container_m3
    if size is None:
        return f"{count} {'element' if stock.left == 1.0 else 'elements'} left"
    word = "container" if stock.left == 1.0 else "containers"
    return (
        f"{count} {word} of {amount_si(size, 'l', units)} left, "
        f"{amount_si(stock.left * size, 'l', units)} in all"
    )


def _sheet_line(sheet: Sheet, on_hand: dict[str, float], units: Units) -> SheetLine:
    facts = facts_of(sheet.of, sheet.table, units)
    told = "; ".join(f"{label}: {text}" for label, text in facts[:3])
    words = [told, "" if sheet.id in on_hand else "none on the shelf"]
    return SheetLine(
        url=f"/shelf/sheets/{sheet.id}",
        name=sheet.name,
        told="; ".join(word for word in words if word),
    )
