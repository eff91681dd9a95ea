"""The part of the store that is the shelf: sheets, lots and their movements."""

from __future__ import annotations

from contextlib import AbstractContextManager
from datetime import date

from sqlalchemy import func, insert, select, update
from sqlalchemy.engine import Connection
from sqlalchemy.exc import IntegrityError

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf, Stock
from ullage.records import rows
from ullage.records.schema import LOT, MOVEMENT, SHEET

#: Less of a container than this is none.
_NOTHING = 1e-9


class SqlShelf:
    """What a store does about sheets and stock; the transactions come from the store."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def _writing(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def save_sheet(self, sheet: Sheet) -> None:
        """Keep a new sheet, or a change of one."""
        with self._writing() as base:
            kept = base.execute(select(SHEET.c.version).where(SHEET.c.id == sheet.id)).scalar()
            if sheet.version != (1 if kept is None else kept + 1):
                raise Conflict(
                    "somebody else changed this sheet in between; load it again and repeat the "
                    "change"
                )
            if kept is None:
                base.execute(insert(SHEET).values(rows.sheet_row(sheet)))
            else:
                base.execute(
                    update(SHEET).where(SHEET.c.id == sheet.id).values(rows.sheet_row(sheet))
                )

    def sheet(self, sheet_id: str) -> Sheet:
        """Return a sheet."""
        with self._reading() as base:
            row = base.execute(select(SHEET).where(SHEET.c.id == sheet_id)).mappings().first()
        if row is None:
            raise NotFound("sheet", sheet_id)
        return rows.sheet_of(row)

    def sheets(self, of: SheetOf | None = None) -> tuple[Sheet, ...]:
        """Return sheets by name."""
        query = select(SHEET).order_by(SHEET.c.folded, SHEET.c.id)
        if of is not None:
            query = query.where(SHEET.c.of == of.value)
        with self._reading() as base:
            return tuple(rows.sheet_of(row) for row in base.execute(query).mappings())

    def add_lot(self, lot: Lot, first: Movement) -> None:
        """Keep a delivery with its first movement."""
        self.sheet(lot.sheet_id)
        try:
            with self._writing() as base:
                base.execute(insert(LOT).values(rows.lot_row(lot)))
                base.execute(insert(MOVEMENT).values(rows.movement_row(first)))
        except IntegrityError:
            raise Conflict("a lot with this id is kept already") from None

    def move_stock(self, movement: Movement) -> None:
        """Keep a movement, once; what is not there can't be taken."""
        left_of = select(func.sum(MOVEMENT.c.count)).where(MOVEMENT.c.lot_id == movement.lot_id)
        with self._writing() as base:
            if base.execute(select(LOT.c.id).where(LOT.c.id == movement.lot_id)).first() is None:
                raise NotFound("lot", movement.lot_id)
            if base.execute(select(MOVEMENT).where(MOVEMENT.c.uid == movement.uid)).first():
                return
            left = float(base.execute(left_of).scalar() or 0.0)
            if left + movement.count < -_NOTHING:
                raise OutOfRange("count", -movement.count, f"at most {left:g}, which is left")
            base.execute(insert(MOVEMENT).values(rows.movement_row(movement)))

    def stock(self, *, sheet_id: str | None = None, empty_too: bool = False) -> tuple[Stock, ...]:
        """Return lots with what is left, the first to expire first."""
        left = func.sum(MOVEMENT.c.count).label("left_on_shelf")
        query = select(LOT, left).join(MOVEMENT, MOVEMENT.c.lot_id == LOT.c.id).group_by(LOT.c.id)
        if sheet_id is not None:
            query = query.where(LOT.c.sheet_id == sheet_id)
        with self._reading() as base:
            found = base.execute(query).mappings().all()
            sheets = {
                row["id"]: rows.sheet_of(row) for row in base.execute(select(SHEET)).mappings()
            }
        stock = [
            Stock(
                lot=rows.lot_of(row),
                sheet=sheets[row["sheet_id"]],
                left=float(row["left_on_shelf"]),
            )
            for row in found
        ]
        kept = [one for one in stock if empty_too or one.left > _NOTHING]
        return tuple(sorted(kept, key=lambda one: (one.lot.expires_on or date.max, one.lot.id)))

    def movements(self, lot_id: str) -> tuple[Movement, ...]:
        """Return the movements of a lot in the order of time."""
        query = (
            select(MOVEMENT)
            .where(MOVEMENT.c.lot_id == lot_id)
            .order_by(MOVEMENT.c.moved_at, MOVEMENT.c.uid)
        )
        with self._reading() as base:
            return tuple(rows.movement_of(row) for row in base.execute(query).mappings())
