"""Keep the shelf: sheets of fluids and filters, deliveries, and what is taken off or put back.

A sheet is good if a circuit can hold it, so it is put into a built-in one and read as any circuit
is. Leaves out what a job takes: that is part of closing it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ullage.errors import Conflict, Fault, FileFaults, NotFound, OutOfRange
from ullage.jobs.add_machine import template_table
from ullage.jobs.machine import named
from ullage.jobs.ports import Desk
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf, Stock

LONGEST_MARK = 40
LONGEST_WHY = 80
#: Containers of one delivery; more is a slip of the finger.
MOST_AT_ONCE = 10_000.0
DELIVERED = "delivered"
_NEAR_DAYS = 60
_TRIED_IN = "levelling-van"


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What came: how many containers or elements, how they are marked, and until when they last.

    ``container_m3`` is what one container holds; elements have none.
    """

    mark: str
    count: float
    container_m3: float | None = None
    received_on: date
    expires_on: date | None = None


def add_sheet(
    desk: Desk, of: SheetOf, name: str, table: Mapping[str, Any], *, sheet_id: str | None = None
) -> Sheet:
    """Keep a new sheet. ``sheet_id`` given: once, however often it is sent.

    Raises
    ------
    Conflict
        If another sheet of this kind bears the name.
    FileFaults
        If no circuit could hold what the sheet says; keys are those within the sheet.
    """
    if sheet_id is not None:
        try:
            return desk.store.sheet(sheet_id)
        except NotFound:
            pass
    sheet = Sheet(
        id=sheet_id or desk.new_id(),
        of=of,
        name=named(name, "name"),
        table=dict(table),
        saved_at=desk.now(),
    )
    _refuse(desk, sheet)
    desk.store.save_sheet(sheet)
    return sheet


def change_sheet(
    desk: Desk, sheet_id: str, name: str, table: Mapping[str, Any], *, seen_version: int
) -> Sheet:
    """Change a sheet, as a person saw it at ``seen_version``.

    Raises
    ------
    Conflict
        If it was changed since, or another sheet of this kind bears the name.
    FileFaults
        As ``add_sheet``.
    """
    kept = desk.store.sheet(sheet_id)
    if kept.version != seen_version:
        raise Conflict(
            f"somebody else changed the sheet of {kept.name} meanwhile; compare with what it says "
            "now, and save again if yours should stand"
        )
    changed = replace(
        kept,
        name=named(name, "name"),
        table=dict(table),
        version=kept.version + 1,
        saved_at=desk.now(),
    )
    if (changed.name, changed.table) == (kept.name, dict(kept.table)):
        return kept
    _refuse(desk, changed)
    desk.store.save_sheet(changed)
    return changed


def _refuse(desk: Desk, sheet: Sheet) -> None:
    """Raise what speaks against a sheet."""
    for other in desk.store.sheets(sheet.of):
        if other.id != sheet.id and other.name.casefold() == sheet.name.casefold():
            raise Conflict(
                f"a {sheet.of.value} called {other.name!r} stands on the shelf already; give this "
                "one another name"
            )
    faults = tuple(_faults(desk, sheet))
    if faults:
        raise FileFaults(sheet.name, faults)


def _faults(desk: Desk, sheet: Sheet) -> Iterator[Fault]:
    """Yield what a circuit would have against a sheet, with the keys as they stand in the sheet."""
    circuit = template_table(_TRIED_IN)
    if sheet.of is SheetOf.FLUID:
        within = "fluid."
        circuit.pop("new_fluid", None)
        circuit["fluid"] = dict(sheet.table)
    else:
        place = next(i for i, node in enumerate(circuit["node"]) if node.get("element"))
        node = circuit["node"][place]
        within = f"node[{node['id']}]."
        circuit["node"][place] = {
            "id": node["id"],
            "volume_l": node["volume_l"],
            "element": True,
            **sheet.table,
        }
    try:
        desk.forms.circuit(circuit, sheet.name)
    except FileFaults as error:
        for fault in error.faults:
            yield replace(fault, key=fault.key.removeprefix(within))


def deliver(desk: Desk, sheet_id: str, delivery: Delivery, *, uid: str) -> str:
    """Put a lot onto the shelf, once for a ``uid``; return its name.

    Raises
    ------
    OutOfRange
        If nothing came, the mark is no line, or a fluid came in containers without a size.
    """
    lot_id = f"l{uid}"
    if desk.store.movements(lot_id):
        return lot_id
    sheet = desk.store.sheet(sheet_id)
    if not 0.0 < delivery.count <= MOST_AT_ONCE:
        raise OutOfRange("count", delivery.count, f"above 0 and at most {MOST_AT_ONCE:g}")
    if sheet.of is SheetOf.FLUID and not delivery.container_m3:
        raise OutOfRange("container_l", "nothing", "above 0", "say what one container holds")
    mark = delivery.mark.strip()
    if not mark or len(mark) > LONGEST_MARK or not mark.isprintable():
        raise OutOfRange(
            "mark",
            repr(mark[:LONGEST_MARK]),
            f"1 to {LONGEST_MARK} printable characters on one line",
        )
    lot = Lot(
        id=lot_id,
        sheet_id=sheet.id,
        mark=mark,
        container_m3=delivery.container_m3 if sheet.of is SheetOf.FLUID else None,
        expires_on=delivery.expires_on,
        received_on=delivery.received_on,
    )
    first = Movement(
        uid=uid, lot_id=lot_id, count=delivery.count, why=DELIVERED, moved_at=desk.now()
    )
    desk.store.add_lot(lot, first)
    return lot_id


def move(desk: Desk, lot_id: str, count: float, why: str, *, uid: str) -> None:
    """Take containers or elements off a lot (negative) or put some back, once for a ``uid``.

    Raises
    ------
    NotFound
        If there is no such lot.
    OutOfRange
        If nothing is moved, more than is there, or no reason is given.
    """
    lot_of(desk, lot_id)
    why = why.strip()
    if count == 0.0 or not abs(count) <= MOST_AT_ONCE:
        raise OutOfRange("count", count, f"above 0 and at most {MOST_AT_ONCE:g}")
    if not why or len(why) > LONGEST_WHY or not why.isprintable():
        raise OutOfRange(
            "why", repr(why[:LONGEST_WHY]), f"1 to {LONGEST_WHY} printable characters on one line"
        )
    desk.store.move_stock(
        Movement(uid=uid, lot_id=lot_id, count=count, why=why, moved_at=desk.now())
    )


def lot_of(desk: Desk, lot_id: str) -> Stock:
    """Return a lot with what is left of it, if only nothing, or raise ``NotFound``."""
    stock = desk.store.stock(empty_too=True)
    found = next((one for one in stock if one.lot.id == lot_id), None)
    if found is None:
        raise NotFound("lot", lot_id)
    return found


def expiry_told(lot: Lot, today: date) -> str:
    """Say until when a lot lasts; nothing where nobody wrote that down.

    >>> lot = Lot(
    ...     id="l", sheet_id="s", mark="K7", expires_on=date(2026, 5, 1),
    ...     received_on=date(2025, 5, 1),
    ... )
    >>> expiry_told(lot, date(2026, 5, 3)), expiry_told(lot, date(2026, 4, 30))
    ('expired 2 days ago: not for a machine', 'expires tomorrow')
    """
    if lot.expires_on is None:
        return ""
    days = (lot.expires_on - today).days
    if days < 0:
        ago = "yesterday" if days == -1 else f"{-days} days ago"
        return f"expired {ago}: not for a machine"
    if days <= 1:
        return "expires tomorrow" if days else "expires today"
    if days <= _NEAR_DAYS:
        return f"expires in {days} days"
    return f"good until {lot.expires_on.day} {lot.expires_on:%B %Y}"
