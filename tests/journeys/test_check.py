"""`ullage check` and `ullage template`, as a person or a script calls them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.unit.formats.texts import CIRCUIT, EVIDENCE, RECIPE
from ullage.cli.entry import main

BAD_INPUT = 2


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with the three files that have everything."""
    (tmp_path / "m.circuit.toml").write_text(CIRCUIT, "utf-8")
    (tmp_path / "m.recipe.toml").write_text(RECIPE, "utf-8")
    (tmp_path / "m.evidence.toml").write_text(EVIDENCE, "utf-8")
    return tmp_path


def test_what_a_template_prints_checks_clean(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every built-in file, printed and checked, is without a fault and without a warning."""
    assert main(["template", "--list", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    names = [row["name"] for row in listed["circuits"]]
    assert len(names) == 6
    assert len(listed["recipes"]) >= 8
    for name in names:
        assert main(["template", name]) == 0
        path = tmp_path / f"{name}.circuit.toml"
        path.write_text(capsys.readouterr().out, "utf-8")
        assert main(["check", str(path), "--json"]) == 0
        (row,) = json.loads(capsys.readouterr().out)["files"]
        assert (row["faults"], row["warnings"]) == ([], [])
        for recipe in (r["name"] for r in listed["recipes"] if r["name"].startswith(f"{name}-")):
            assert main(["template", recipe]) == 0
            (tmp_path / f"{recipe}.recipe.toml").write_text(capsys.readouterr().out, "utf-8")
            both = [str(path), str(tmp_path / f"{recipe}.recipe.toml")]
            assert main(["check", *both]) == 0
            assert capsys.readouterr().err == ""


def test_the_list_names_purposes(capsys: pytest.CaptureFixture[str]) -> None:
    """A person finds a circuit by what it is for."""
    assert main(["template", "--list"]) == 0
    shown = capsys.readouterr().out

    assert "levelling-van" in shown
    assert "four-corner parking leveller" in shown
    assert "levelling-van-divert-idle" in shown


def test_an_unknown_template_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    """The known names are listed."""
    assert main(["template", "levelling-bus"]) == BAD_INPUT
    shown = capsys.readouterr()

    assert shown.out == ""
    assert "levelling-bus" in shown.err
    assert "scissor-lift" in shown.err


def test_the_screen_has_the_figures(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Total, shares, seconds to the minimum, line against stroke, Reynolds numbers."""
    assert main(["check", str(folder / "m.circuit.toml")]) == 0
    shown = capsys.readouterr().out

    for words in ("holds 10.59 L", "reservoir", "loop", "legs", "reached after 22 s"):
        assert words in shown
    assert "strut: line 0.161 L, stroke in use 0.228 L" in shown
    assert "at 20 and 60 degC" in shown
    assert "laminar" in shown


def test_every_fault_of_every_file_is_named(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two spoilt files and a right one: the right one is shown, the others are blamed."""
    circuit, recipe = folder / "m.circuit.toml", folder / "m.recipe.toml"
    circuit.write_text(CIRCUIT.replace("heel_l", "hel_l").replace("5.8", "-5.8"), "utf-8")
    recipe.write_text(RECIPE.replace("litres = 4", "litres = 'four'"), "utf-8")
    code = main(["check", str(circuit), str(recipe), str(folder / "m.evidence.toml")])
    shown = capsys.readouterr()

    assert code == BAD_INPUT
    assert "m.evidence.toml: an evidence file, no faults" in shown.out
    for words in ("reservoir.hel_l", "reservoir.start_l = -5.8", "step[3].litres = 'four'"):
        assert words in shown.err
    assert "Traceback" not in shown.err


def test_files_are_held_against_each_other(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each is right alone: the recipe names a leg, the evidence a step, that are not there."""
    recipe, evidence = folder / "m.recipe.toml", folder / "m.evidence.toml"
    recipe.write_text(RECIPE.replace('leg = "strut"', 'leg = "strat"'), "utf-8")
    evidence.write_text(EVIDENCE.replace("after_step = 9", "after_step = 19"), "utf-8")
    assert main(["check", str(recipe), str(evidence)]) == 0
    capsys.readouterr()
    code = main(["check", *(str(p) for p in (folder / "m.circuit.toml", recipe, evidence))])
    shown = capsys.readouterr()

    assert code == BAD_INPUT
    assert "step[9].leg = 'strat'" in shown.err
    assert 'did you mean "strut"?' in shown.err
    assert "sample[2].after_step = 19" in shown.err


def test_json_is_one_object_and_nothing_else(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Faults are there as parts and as sentences, sanity figures in litres and seconds."""
    recipe = folder / "m.recipe.toml"
    recipe.write_text(RECIPE.replace("litres = 4", "litres = inf"), "utf-8")
    code = main(["check", str(folder / "m.circuit.toml"), str(recipe), "--json"])
    told = json.loads(capsys.readouterr().out)
    first, second = told["files"]

    assert (code, told["ok"]) == (BAD_INPUT, False)
    assert (first["kind"], first["faults"]) == ("circuit", [])
    assert first["sanity"]["seconds_to_minimum"] == pytest.approx(22.0, abs=0.5)
    assert second["faults"][0]["key"] == "step[3].litres"
    assert second["faults"][0]["sentence"].startswith("step[3].litres")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("x.toml", "a = 1\n", "nobody can tell what the file is"),
        ("x.circuit.toml", "name = 'x'\n", 'write format = "ullage-circuit/1"'),
        ("x.toml", 'format = "ullage-vials/1"\n', "no format that can be checked"),
        ("x.toml", 'format = "ullage-recipe/9"\n', "newer than this program"),
        ("x.toml", "format = ullage\n", "put text in quotes"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: str, words: str
) -> None:
    """One sentence on standard error, nothing on standard output."""
    (tmp_path / name).write_text(content, "utf-8")
    code = main(["check", str(tmp_path / name)])
    shown = capsys.readouterr()

    assert (code, shown.out) == (BAD_INPUT, "")
    assert words in shown.err


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The path is named."""
    assert main(["check", str(tmp_path / "gone.toml")]) == BAD_INPUT
    assert "gone.toml" in capsys.readouterr().err
