"""A docstring of the core says of every number what it is, in which unit, and after whom."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from ullage.units.suffixes import suffix_of

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "ullage"
# Factors of the units carry their source beside them, each on its own line.
SOURCED = ("fluids", "circuit", "transport")
MODULES = sorted(PACKAGE.rglob("*.py"))
ORDER = ("Parameters", "Returns", "Raises", "Validity", "Source", "Examples")

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One name of a Parameters or Returns section, with the unit in brackets at its end."""

    name: str
    unit: str | None


def sections(docstring: str) -> dict[str, str]:
    """Return the underlined sections of a docstring by heading, in order."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}$\n?", docstring, flags=re.MULTILINE)
    return {
        heading: text.strip("\n") for heading, text in zip(parts[1::2], parts[2::2], strict=True)
    }


def entries(section: str) -> list[Entry]:
    """Return the names that a section describes; ``a, b : scalar`` describes two."""
    found = []
    for block in re.split(r"\n(?=\S)", section):
        head, _, text = block.partition("\n")
        names, colon, _ = head.partition(" : ")
        if colon:
            unit = re.search(r"\[([^\[\]]*)\]\.?$", text.strip())
            found += [
                Entry(name=name.strip(), unit=unit[1] if unit else None)
                for name in names.split(",")
            ]
    return found


def signature(function: Function) -> list[str]:
    """Return the names of the parameters, without self and cls."""
    given = function.args
    names = [one.arg for one in (*given.posonlyargs, *given.args)]
    names += [f"*{given.vararg.arg}"] if given.vararg else []
    names += [one.arg for one in given.kwonlyargs]
    names += [f"**{given.kwarg.arg}"] if given.kwarg else []
    return [name for name in names if name not in ("self", "cls")]


def bracket_of(name: str) -> str | None:
    """Return the unit that a name carries, as docstrings print it; None for a plain number."""
    if "_" not in name and len(name) < 3:
        return None  # `n` counts and `k` numbers: a bare letter is no suffix
    row = suffix_of(name)
    return row.bracket if row else None


def is_physics(function: Function) -> bool:
    """Tell whether a function turns numbers with units into numbers.

    Text, a yes or no, and caveats about an answer are no physics.
    """
    gives = ast.unparse(function.returns) if function.returns else "None"
    if gives in ("None", "str", "bool") or "Caveat" in gives:
        return False
    return any(bracket_of(name) for name in signature(function))


def is_described(node: ast.AST) -> bool:
    """Tell whether a node is a public function with a text of its own; an overload has none."""
    return (
        isinstance(node, Function)
        and not node.name.startswith("_")
        and "overload" not in [ast.unparse(one) for one in node.decorator_list]
    )


def public_functions(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    """Go through the public functions and the public methods of public classes."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, Function) and is_described(inner):
                    yield f"{node.name}.{inner.name}", inner
        elif isinstance(node, Function) and is_described(node):
            yield node.name, node


def faults(source: str, *, is_sourced: bool = True) -> list[str]:
    """Return what is wrong with the docstrings of a module, one sentence each."""
    found = []
    for name, function in public_functions(ast.parse(source)):
        parts = sections(ast.get_docstring(function) or "")
        parameters = signature(function)
        must_be_whole = is_sourced and is_physics(function)
        described = entries(parts.get("Parameters", ""))
        if "Parameters" in parts or must_be_whole:
            names = [entry.name for entry in described]
            if names != parameters:
                found.append(f"{name}: Parameters describe {names}, the signature has {parameters}")
        for entry in (*described, *entries(parts.get("Returns", ""))):
            carried = bracket_of(entry.name)
            if carried is not None and entry.unit != carried:
                found.append(f"{name}: {entry.name} must say [{carried}], says [{entry.unit}]")
        if must_be_whole and not parts.get("Source", "").strip():
            found.append(f"{name}: has numbers with units and no Source")
        ordered = [heading for heading in ORDER if heading in parts]
        if [heading for heading in parts if heading in ORDER] != ordered:
            found.append(f"{name}: sections stand in the order {list(parts)}, not {ordered}")
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_docstrings_agree_with_signatures_and_suffixes(module: Path) -> None:
    """Names, units and the source of physics are what the code says."""
    floor = module.relative_to(PACKAGE).parts[0]

    assert faults(module.read_text("utf-8"), is_sourced=floor in SOURCED) == []


SOUND = '''
def flow(*, volume_m3: float, time_s: float, turns: int) -> float:
    """Return the flow.

    Parameters
    ----------
    volume_m3 : scalar
        What came out. [m3]
    time_s : scalar
        In which time. [s]
    turns : scalar
        How often. [-]

    Returns
    -------
    flow_m3_s : scalar
        Mean flow. [m3/s]

    Source
    ------
    Continuity.
    """
'''


def test_a_sound_docstring_passes() -> None:
    """The form asked for is one that the check accepts."""
    assert faults(SOUND) == []


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("What came out. [m3]", "What came out. [l]", "volume_m3 must say [m3], says [l]"),
        ("What came out. [m3]", "What came out.", "volume_m3 must say [m3], says [None]"),
        ("Mean flow. [m3/s]", "Mean flow. [m3]", "flow_m3_s must say [m3/s], says [m3]"),
        ("    turns : scalar\n        How often. [-]\n", "", "the signature has"),
        ("    time_s : scalar", "    span_s : scalar", "the signature has"),
        ("    Continuity.\n", "", "no Source"),
        ("    Source\n    ------\n    Continuity.\n", "", "no Source"),
        ("Parameters\n    ----------", "Takes\n    -----", "the signature has"),
        (
            "    Source\n    ------\n    Continuity.\n",
            "    Source\n    ------\n    Continuity.\n\n    Raises\n    ------\n    OutOfRange\n",
            "sections stand in the order",
        ),
    ],
)
def test_a_planted_fault_is_found(right: str, wrong: str, expected: str) -> None:
    """A wrong unit, a forgotten name, a missing source: each is told by name."""
    assert right in SOUND

    (fault,) = faults(SOUND.replace(right, wrong))

    assert expected in fault
