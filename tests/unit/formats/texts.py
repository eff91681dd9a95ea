"""The three files that have every key, and one way to spoil them."""

from __future__ import annotations

from pathlib import Path

import pytest

from ullage.errors import Fault, FileFaults
from ullage.formats.circuit_file import parse_circuit
from ullage.formats.evidence_file import parse_evidence
from ullage.formats.recipe_file import parse_recipe

HERE = Path(__file__).parent
CIRCUIT = (HERE / "everything.circuit.toml").read_text("utf-8")
RECIPE = (HERE / "everything.recipe.toml").read_text("utf-8")
EVIDENCE = (HERE / "everything.evidence.toml").read_text("utf-8")

PARSERS = {"circuit": parse_circuit, "recipe": parse_recipe, "evidence": parse_evidence}
TEXTS = {"circuit": CIRCUIT, "recipe": RECIPE, "evidence": EVIDENCE}


def spoilt(kind: str, old: str, new: str) -> str:
    """Return a file with one place changed; the place must be there exactly once or be first."""
    assert old in TEXTS[kind], old
    return TEXTS[kind].replace(old, new, 1)


def faults_of(kind: str, text: str) -> tuple[Fault, ...]:
    """Return the faults of a text that must have some."""
    with pytest.raises(FileFaults) as caught:
        PARSERS[kind](text, f"spoilt.{kind}.toml")
    assert caught.value.file == f"spoilt.{kind}.toml"
    return caught.value.faults
