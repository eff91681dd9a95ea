"""Every formula takes arrays, or the page about the library says why it does not."""

from __future__ import annotations

import ast
import doctest
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.unit.fluids.array_cases import CASES

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "ullage"
MODULES = [*sorted((SOURCE / "fluids").glob("*.py")), SOURCE / "units" / "uncertainty.py"]
PAGE = ROOT / "docs" / "reference" / "library.md"


def is_formula(function: ast.FunctionDef) -> bool:
    """Tell whether a function makes something of numbers; sentences and a yes or no are no such."""
    gives = ast.unparse(function.returns) if function.returns else "None"
    given = function.args
    takes = [
        ast.unparse(one.annotation)
        for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)
        if one.annotation
    ]
    takes_numbers = any(re.search(r"\b(float|Numbers|Array)\b", text) for text in takes)
    return takes_numbers and gives not in ("None", "str", "bool") and "Caveat" not in gives


def formulas(source: str) -> Iterator[ast.FunctionDef]:
    """Go through the public formulas of a module, and those of its public classes."""
    for node in ast.parse(source).body:
        inner = node.body if isinstance(node, ast.ClassDef) else [node]
        if isinstance(node, ast.ClassDef) and node.name.startswith("_"):
            continue
        for one in inner:
            if (
                isinstance(one, ast.FunctionDef)
                and not one.name.startswith("_")
                and is_formula(one)
                and "overload" not in [ast.unparse(mark) for mark in one.decorator_list]
            ):
                yield one


def all_formulas() -> dict[str, ast.FunctionDef]:
    """Return the formulas by ``module.function``."""
    return {
        f"{file.stem}.{one.name}": one
        for file in MODULES
        for one in formulas(file.read_text("utf-8"))
    }


def numbers_alone() -> dict[str, str]:
    """Return what the page lists as taking no arrays, with the reason."""
    below = PAGE.read_text("utf-8").split("## Numbers alone")[1]
    return dict(re.findall(r"^\| `([\w.]+)` \| (.+) \|$", below, flags=re.MULTILINE))


def test_every_formula_takes_arrays_or_says_why_not() -> None:
    """None is forgotten, none is listed that is tried, and each reason is a sentence."""
    tried = {case.name for case in CASES}

    assert sorted(tried - set(all_formulas())) == []
    assert sorted(numbers_alone()) == sorted(set(all_formulas()) - tried)
    assert [name for name, why in numbers_alone().items() if len(why) < 20] == []


@pytest.mark.parametrize("name", sorted({case.name for case in CASES}))
def test_a_formula_is_tried_with_all_its_numbers(name: str) -> None:
    """A parameter declared to take arrays is one of those tried, and the text says so."""
    function = all_formulas()[name]
    given = function.args
    takes = {
        one.arg
        for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)
        if one.annotation and ast.unparse(one.annotation) == "Numbers"
    }
    text = ast.get_docstring(function) or ""
    described = {
        parameter
        for names in re.findall(r"^([\w, ]+) : scalar or \(\.\.\.\)$", text, flags=re.MULTILINE)
        for parameter in names.split(", ")
    }

    assert takes - described == set()
    # Mixtures take lists; the other formulas are called with the names of their parameters.
    if "Sequence" not in ast.unparse(given):
        assert takes == {
            parameter for case in CASES if case.name == name for parameter in case.values
        }


def test_a_formula_that_nobody_tries_would_be_found() -> None:
    """A new function with a number in it counts as a formula, a sentence about one does not."""
    source = (
        "def new(*, flow_m3_s: float) -> float: ...\n"
        "def told(flow_m3_s: float) -> tuple[Caveat, ...]: ...\n"
        "def _own(x: float) -> float: ...\n"
    )

    assert [one.name for one in formulas(source)] == ["new"]


def test_the_page_shows_what_happens() -> None:
    """The examples on the page give what the page says."""
    found = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")

    assert found.attempted > 5
    assert found.failed == 0


TYPED = """
from typing import assert_type

import numpy as np
from numpy.typing import NDArray

from ullage.fluids.pipe_flow import PressureLoss, Regime, pressure_loss, reynolds
from ullage.fluids.washout import Washout, mixed

flows = np.linspace(1e-5, 1e-4, 5)
assert_type(reynolds(flow_m3_s=1e-4, bore_m=0.008, nu_m2_s=15e-6), float)
assert_type(reynolds(flow_m3_s=flows, bore_m=0.008, nu_m2_s=15e-6), NDArray[np.float64])
one = mixed(turnovers=1.0)
assert_type(one, Washout)
assert_type(one.inside_vfrac, float)
assert_type(mixed(turnovers=flows).inside_vfrac, NDArray[np.float64])
many = pressure_loss(flow_m3_s=flows, bore_m=0.008, length_m=1.0, nu_m2_s=15e-6, rho_kg_m3=870.0)
assert_type(many.regime, NDArray[np.object_])
"""


@pytest.mark.slow
def test_a_type_checker_knows_numbers_from_arrays(tmp_path: Path) -> None:
    """Numbers in give a float, an array among them gives an array, in results too."""
    program = tmp_path / "typed.py"
    program.write_text(TYPED, encoding="utf-8")
    settings = ("--config-file", str(ROOT / "pyproject.toml"), "--cache-dir", str(tmp_path))

    told = subprocess.run(
        [sys.executable, "-m", "mypy", *settings, str(program)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )

    assert told.stdout.strip() == "Success: no issues found in 1 source file"
