"""Every function of the liquid's physics is held to the outside, or says why it is not."""

from __future__ import annotations

import ast
import csv
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FLUIDS = ROOT / "src" / "ullage" / "fluids"
OUTSIDE = ROOT / "tests" / "outside"


def public_functions() -> set[str]:
    """Return the public functions and methods of the physics as ``module.function``."""
    found = set()
    for file in FLUIDS.glob("*.py"):
        for node in ast.parse(file.read_text("utf-8")).body:
            inner = node.body if isinstance(node, ast.ClassDef) else [node]
            found |= {
                f"{file.stem}.{one.name}"
                for one in inner
                if isinstance(one, ast.FunctionDef) and not one.name.startswith("_")
            }
    return found


def unchecked() -> dict[str, str]:
    """Return what is listed as not checked outside, with the reason."""
    with (OUTSIDE / "unchecked.csv").open(encoding="utf-8", newline="") as file:
        return {row["function"]: row["reason"] for row in csv.DictReader(file)}


def is_checked(function: str, text: str) -> bool:
    """Tell whether an outside check calls a function by its name."""
    return re.search(rf"\b{function.partition('.')[2]}\b", text) is not None


def test_every_function_is_checked_outside_or_says_why_not() -> None:
    """No function is in neither list, none in both, and no reason is left out."""
    text = "\n".join(file.read_text("utf-8") for file in OUTSIDE.rglob("*.py"))
    functions = public_functions()
    checked = {function for function in functions if is_checked(function, text)}

    assert set(unchecked()) == functions - checked
    assert all(len(reason) > 20 for reason in unchecked().values())


def test_an_unlisted_function_would_be_noticed() -> None:
    """A name that no outside check bears does not count as checked."""
    assert not is_checked("viscosity.no_such_formula", "viscosity_at(nu) + formula")
    assert is_checked("viscosity.viscosity_at", "viscosity_at(nu)")
