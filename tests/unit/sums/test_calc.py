"""The command of the bench sums: sentences, JSON, lists, help, and exit codes."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import pytest

from ullage.cli.calc import run
from ullage.sums.registry import HOMES, bench_sums


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a command printed, and its exit code."""

    code: int
    out: str
    err: str


def calc(name: str | None, *pairs: str, flags: Sequence[str] = ()) -> Said:
    """Run the command."""
    out, err = io.StringIO(), io.StringIO()
    code = run(
        name,
        pairs,
        as_json="json" in flags,
        list_all="list" in flags,
        help_="help" in flags,
        out=out,
        err=err,
    )
    return Said(code=code, out=out.getvalue(), err=err.getvalue())


def test_a_sentence_carries_value_unit_limits_and_caveats() -> None:
    """What a person reads at the bench."""
    said = calc("reynolds", "flow_l_min=6", "bore_mm=8", "nu_mm2_s=15")

    assert said.code == 0
    assert said.out.splitlines() == [
        "Reynolds number 1061: laminar at 1.989 m/s; a turbulent flush needs 22.62 l/min.",
        "Holds: Round bore; use the viscosity at the coldest place of the line.",
        "Beware: The flush stays laminar: expect a film of old fluid on the walls and particles "
        "left in place.",
    ]
    assert said.err == ""


def test_json_is_one_object_and_nothing_else() -> None:
    """A script can read it, caveats included."""
    said = calc("beta", "up=1000", "down=10", flags=["json"])
    printed = json.loads(said.out)

    assert printed["beta"] == 100.0
    assert [caveat["code"] for caveat in printed["caveats"]] == ["few-counts"]
    assert said.out.count("\n") == 1


@pytest.mark.parametrize(
    ("name", "pairs", "said"),
    [
        ("beta", ["up=1000"], "down missing"),
        ("beta", ["up=1000", "down"], "of the form key=value, got 'down'"),
        ("beta", ["up=1000", "up=2", "down=1"], "up must be given once"),
        ("beta", ["up=x", "down=1"], "up must be a plain number"),
        ("beta", ["up=1000", "dwn=1"], "down (nearest)"),
        ("betta", [], "beta (nearest)"),
        (None, [], "the name of a sum"),
        ("reynolds", ["flow_l_min=2 gal/min", "bore_mm=8", "nu_mm2_s=15"], "us_gal (3.785 l)"),
        ("dilution", ["known_l=8", "before_pct=20", "after_pct=9", "u_pct=1"], "cannot vanish"),
    ],
)
@pytest.mark.parametrize("flags", [[], ["json"]])
def test_bad_input_is_a_sentence_on_standard_error(
    name: str | None, pairs: list[str], said: str, flags: list[str]
) -> None:
    """Exit code 2, nothing on standard output, with JSON as without."""
    found = calc(name, *pairs, flags=flags)

    assert found.code == 2
    assert found.out == ""
    assert found.err.startswith("ullage calc: ")
    assert said in found.err


def test_the_list_names_every_sum_with_its_purpose() -> None:
    """One line each, in text and in JSON."""
    text = calc(None, flags=["list"])
    listed = json.loads(calc(None, flags=["list", "json"]).out)["sums"]

    assert [line.split()[0] for line in text.out.splitlines()] == list(HOMES)
    assert [one["name"] for one in listed] == list(HOMES)
    assert calc("beta", flags=["list"]).code == 2


@pytest.mark.parametrize("name", HOMES)
def test_help_shows_formula_source_validity_keys_and_an_example(name: str) -> None:
    """Everything that a person needs to trust the figure, in text and in JSON."""
    (found,) = (one for one in bench_sums() if one.name == name)
    text = calc(name, flags=["help"]).out
    described = json.loads(calc(name, flags=["help", "json"]).out)

    for part in (found.formula, found.source, found.validity, *(key.name for key in found.keys)):
        assert part in text
    assert "example: ullage calc " + name in text
    assert [key["name"] for key in described["keys"]] == [key.name for key in found.keys]


def test_help_without_a_name_is_the_usage_and_the_list() -> None:
    """Nobody is left alone with a prompt."""
    said = calc(None, flags=["help"])

    assert said.code == 0
    assert "ullage calc NAME key=value" in said.out
    assert "membrane-count" in said.out


def test_a_quick_sum_loads_neither_numpy_nor_scipy_nor_pint() -> None:
    """A person waits for no library that the sum does not use."""
    code = (
        "import sys; from ullage.cli.calc import _main; "
        "_main(['iso4406', 'n4_per_ml=150', 'n6_per_ml=25', 'n14_per_ml=1']); "
        "_main(['filter-time', '--help']); _main(['--list']); "
        "heavy = {'numpy', 'scipy', 'pint', 'fluids', 'chemicals', 'numba', 'typer', 'pydantic'}; "
        "sys.exit(bool(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert done.returncode == 0, sorted(done.stdout.splitlines())[:3]


def test_the_module_runs_by_itself() -> None:
    """The same command without the rest of the program."""
    done = subprocess.run(
        [sys.executable, "-m", "ullage.cli.calc", "jug", "fills=1", "tolerance_ml=0", "--json"],
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 2
    assert "division_ml missing" in done.stderr
