"""Write down a small store in the newest form: ``python -m tests.old_versions.make``.

Run once for each form, by whoever adds its migration; the file is never made again, because a later
program would write it otherwise. It is SQL, so that a review can read it.
"""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from datetime import date
from pathlib import Path

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.jobs.ports import Desk, Device
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf
from ullage.records.database import open_database
from ullage.records.migrate import APPLICATION_ID, known_migrations
from ullage.records.store import SqlStore

HERE = Path(__file__).parent


def stock_up(desk: Desk) -> None:
    """Put a row into each table that the van's job leaves empty."""
    store, now = desk.store, desk.now()
    store.save_sheet(
        Sheet(
            id="fluid",
            of=SheetOf.FLUID,
            name="Leveller fluid",
            table={"class": "HV"},
            saved_at=now,
        )
    )
    lot = Lot(
        id="lot1",
        sheet_id="fluid",
        mark="L1",
        container_m3=1e-3,
        expires_on=date(2028, 1, 1),
        received_on=date(2026, 1, 1),
    )
    delivered = Movement(uid="in1", lot_id="lot1", count=6.0, why="delivered", moved_at=now)
    store.add_lot(lot, delivered)
    store.move_stock(
        Movement(uid="out1", lot_id="lot1", count=-2.5, why="used", moved_at=now, job_id="job1")
    )
    store.set_setting("units.volume", "us_qt")
    store.add_device(Device(id="phone", name="Bay phone", paired_at=now, seen_at=now))


def main() -> None:
    """Write the file of the newest form, unless it is there."""
    number = known_migrations()[-1].number
    target = HERE / f"{number:04d}.sql"
    if target.exists():
        raise SystemExit(f"{target.name} is kept already and never made again")
    with tempfile.TemporaryDirectory() as room:
        path = Path(room) / "store.sqlite3"
        with open_database(path) as engine:
            desk = memory_desk(SqlStore(engine))
            fill(desk)
            stock_up(desk)
        with closing(sqlite3.connect(path)) as base:
            lines = [f"PRAGMA application_id = {APPLICATION_ID};", *base.iterdump()]
    target.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
