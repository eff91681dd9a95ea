"""The example that comes with the program: an invented garage, read from a file of the package.

A county's mobile library van with two filed jobs and one under way, and two machines of a hire
yard. ``tools/write_garage.py`` tells the story through the use cases and writes the file; nothing
in it was measured anywhere.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from importlib import resources
from typing import Any

from ullage.errors import NotFound
from ullage.jobs.event import Event
from ullage.jobs.job import JobHead
from ullage.jobs.next_thing import JobLine
from ullage.jobs.ports import Desk
from ullage.records import rows
from ullage.records.job_file import job_to_table, merge_job

FORMAT = "ullage-garage/1"
FILE = "garage.json"


def garage_to_table(desk: Desk) -> dict[str, Any]:
    """Return all that is on a desk, ready for JSON: jobs with what belongs to them, the shelf."""
    store = desk.store
    lines = store.job_lines(limit=1000)
    stock = store.stock(empty_too=True)
    return {
        "format": FORMAT,
        "jobs": [
            job_to_table(desk, line.job_id) for line in sorted(lines, key=lambda x: x.opened_at)
        ],
        "sheets": [rows.sheet_row(sheet) for sheet in store.sheets()],
        "lots": [
            {
                **rows.lot_row(one.lot),
                "movements": [rows.movement_row(m) for m in store.movements(one.lot.id)],
            }
            for one in stock
        ],
    }


def example_table() -> dict[str, Any]:
    """Return the example as it comes with the program."""
    file = resources.files("ullage.records").joinpath("data", FILE)
    table: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return table


def fill_example(
    desk: Desk,
    line: Callable[[JobHead, Sequence[Event]], JobLine],
    table: Mapping[str, Any] | None = None,
) -> None:
    """Put the example on a desk; what is there already stays."""
    given = example_table() if table is None else table
    known = {sheet.id for sheet in desk.store.sheets()}
    for row in given["sheets"]:
        if row["id"] not in known:
            desk.store.save_sheet(rows.sheet_of(row))
    for job in given["jobs"]:
        merge_job(desk, job, line, file=FILE)
    for row in given["lots"]:
        first, *others = [rows.movement_of(movement) for movement in row["movements"]]
        if not _is_there(desk, row["id"]):
            desk.store.add_lot(rows.lot_of(row), first)
        for movement in others:
            desk.store.move_stock(movement)


def _is_there(desk: Desk, lot_id: str) -> bool:
    try:
        return bool(desk.store.movements(lot_id))
    except NotFound:
        return False
