"""The page about files is the one that the rows print, and reading files stays light."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.reference import files_reference

PAGE = Path(__file__).resolve().parents[3] / "docs" / "reference" / "files.md"


def test_the_page_is_up_to_date() -> None:
    """Whoever changes a row prints the page again: python -m ullage.formats.reference."""
    assert PAGE.read_text("utf-8") == files_reference()


def test_every_key_says_what_it_means_and_shows_one() -> None:
    """No row without a meaning and an example."""
    bare = [
        f"{table.name}.{key.name}"
        for table in CIRCUIT.tables
        for key in table.keys
        if not key.about or not key.example
    ]

    assert bare == []


def test_reading_a_circuit_loads_nothing_heavy() -> None:
    """Neither the solver's compiler nor a validator may stand between a file and its answer."""
    code = (
        "import sys, ullage.formats.circuit_file, ullage.formats.recipe_file;"
        "print([m for m in ('numba', 'scipy', 'pydantic', 'pint', 'fluids') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"
