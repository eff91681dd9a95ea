"""Which real parts are plugged in? The only place that chooses a database, files, clock and names.

What needs the solver is imported when it is first asked for: the list of jobs must not wait for it.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ullage import __version__
from ullage.jobs.ports import Desk, Forms, JobStore, PictureFiles
from ullage.photos.files import FolderPictures
from ullage.records.database import open_database
from ullage.records.store import SqlStore

if TYPE_CHECKING:
    from ullage.circuit.network import Circuit
    from ullage.evidence.answer import Verdict
    from ullage.evidence.observation import Evidence
    from ullage.planning.due import Due
    from ullage.planning.plan import Plan
    from ullage.planning.sheet import Line
    from ullage.planning.shopping import Item, Waste
    from ullage.transport.recipe import Recipe
    from ullage.transport.result import Run

DATABASE = "ullage.sqlite3"
PICTURES = "pictures"


@dataclass(frozen=True, slots=True, kw_only=True)
class App:
    """Everything that pages and commands are handed: the desk, and the folder that holds it all."""

    desk: Desk
    data: Path


class FileForms:
    """The tables of our files turned into values and back."""

    def circuit(self, table: Mapping[str, Any], name: str) -> Circuit:
        """Return a circuit."""
        from ullage.formats.circuit_file import circuit_from_table

        return circuit_from_table(table, name)

    def circuit_table(self, circuit: Circuit) -> dict[str, Any]:
        """Return the table of a circuit file."""
        from ullage.formats.circuit_json import circuit_to_json

        return circuit_to_json(circuit)

    def recipe(self, table: Mapping[str, Any], name: str) -> Recipe:
        """Return a recipe."""
        from ullage.formats.recipe_file import recipe_from_table

        return recipe_from_table(table, name)

    def recipe_table(self, recipe: Recipe) -> dict[str, Any]:
        """Return the table of a recipe file."""
        from ullage.formats.recipe_file import recipe_to_json

        return recipe_to_json(recipe)

    def evidence(self, table: Mapping[str, Any], name: str) -> Evidence:
        """Return what was measured."""
        from ullage.formats.evidence_file import evidence_from_table

        return evidence_from_table(table, name)

    def plan_table(self, plan: Plan) -> dict[str, Any]:
        """Return what ``plan --json`` prints."""
        from ullage.formats.plan_json import plan_to_json

        return plan_to_json(plan)

    def lists_table(
        self, sheet: Sequence[Line], items: Sequence[Item], waste: Waste
    ) -> dict[str, Any]:
        """Return a sheet, what to have at hand and what comes out."""
        from ullage.formats.plan_json import lists_to_json

        return lists_to_json(sheet, items, waste)

    def verdict_table(self, verdict: Verdict) -> dict[str, Any]:
        """Return what ``prove --json`` prints."""
        from ullage.formats.verdict_json import verdict_to_json

        return verdict_to_json(verdict)

    def due_table(self, due: Due) -> dict[str, Any]:
        """Return the verdict of the first stage as a table."""
        from ullage.formats.judged_json import due_to_json

        return due_to_json(due)

    def run_table(self, run: Run, circuit: Circuit) -> dict[str, Any]:
        """Return what ``simulate --json`` prints."""
        from ullage.formats.result_json import run_to_json

        return run_to_json(run, circuit)


def utc_now() -> datetime:
    """Return the time of this machine's clock."""
    return datetime.now(UTC)


def new_id() -> str:
    """Return a name that nobody else makes: 80 random bits in base 32 of lower-case letters."""
    return "".join(secrets.choice("abcdefghijkmnpqrstuvwxyz23456789") for _ in range(16))


def desk_of(store: JobStore, pictures: PictureFiles, forms: Forms) -> Desk:
    """Return a desk with this machine's clock."""
    return Desk(
        store=store,
        pictures=pictures,
        forms=forms,
        now=utc_now,
        new_id=new_id,
        code=__version__,
    )


@contextmanager
def open_app(data: Path) -> Iterator[App]:
    """Open a folder of data, made and brought up to date where needed, and close it again.

    Raises
    ------
    Conflict
        If the data was written by a newer program, or lost what guards it.
    """
    data.mkdir(parents=True, exist_ok=True)
    with open_database(data / DATABASE) as engine:
        yield App(
            desk=desk_of(SqlStore(engine), FolderPictures(data / PICTURES), FileForms()),
            data=data,
        )


def default_data() -> Path:
    """Return where the data lies unless a person says otherwise."""
    home = os.environ.get("XDG_DATA_HOME")
    return (Path(home) if home else Path.home() / ".local" / "share") / "ullage"
