"""`ullage plan` as a person or a script calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ullage.circuit.catalogue import circuit_template
from ullage.cli.entry import main
from ullage.formats.recipe_file import recipe_from_table

BAD_INPUT = 2
KEYS = {
    *("format", "target_pct", "sure_pct", "seed", "members", "reached", "containers", "litres"),
    *("reserve_l", "left_over_l", "held_pct", "tries", "recipe", "expected", "methods", "floor"),
    *("fluid", "filter", "heat", "level", "pace", "due", "sheet", "shopping", "waste", "advice"),
}


@pytest.fixture
def steering(tmp_path: Path) -> Path:
    """Return the file of the steering."""
    path = tmp_path / "steering.circuit.toml"
    path.write_text(circuit_template("rack-steering").text, "utf-8")
    return path


def test_json_has_the_agreed_keys_and_a_recipe_that_reads_back(
    steering: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One object; its recipe, saved and simulated, gives the figures of the plan to the digit."""
    assert main(["plan", str(steering), "--target-pct", "10", "--members", "600", "--json"]) == 0
    plan = json.loads(capsys.readouterr().out)

    assert set(plan) >= KEYS
    assert plan["format"] == "ullage-plan/1"
    assert plan["members"] == 600
    assert plan["litres"] + plan["left_over_l"] == pytest.approx(plan["containers"])
    assert {"parts", "why"} <= set(plan["floor"])
    assert {"sentence", "litres", "seconds", "cycles", "accept", "cautions"} <= set(
        plan["sheet"][0]
    )
    methods = {"name", "recipe", "containers", "p95_pct", "reached", "minutes", "cost"}
    assert methods <= set(plan["methods"][0])
    recipe_from_table(plan["recipe"], "plan.json")
    recipe = tmp_path / "plan.recipe.toml"
    recipe.write_text(as_toml(plan["recipe"]), "utf-8")
    assert (
        main(
            [
                *("simulate", str(steering), str(recipe), "--json"),
                *("--members", str(plan["members"]), "--seed", str(plan["seed"])),
            ]
        )
        == 0
    )
    run = json.loads(capsys.readouterr().out)

    assert run["quantiles"]["remaining_pct"] == plan["expected"]


def as_toml(recipe: dict[str, object]) -> str:
    """Return a recipe of a plan as the file that a person would save."""
    steps = recipe["step"]
    assert isinstance(steps, list)
    lines = [f"{key} = {json.dumps(value)}" for key, value in recipe.items() if key != "step"]
    for step in steps:
        lines.append("[[step]]")
        lines += [f"{key} = {json.dumps(value)}" for key, value in step.items()]
    return "\n".join(lines) + "\n"


def test_a_person_reads_advice(steering: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What to buy, what to do, how sure, what stays, what to measure first, the usual methods."""
    assert main(["plan", str(steering), "--target-pct", "10", "--members", "400"]) == 0
    shown = capsys.readouterr()

    for heading in (
        "What to buy",
        "What to do",
        "How to pour",
        "How sure",
        "What cannot be moved",
        "What to measure first",
        "The usual methods beside it",
        "Mind",
    ):
        assert f"\n{heading}" in shown.out
    assert "of 100 simulated machines" in shown.out
    assert "confirmed" not in shown.out
    assert max(len(line) for line in shown.out.splitlines()) <= 120
    assert shown.err == ""


def test_a_published_limit_may_stand_for_a_number(
    steering: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its name is taken as its figure."""
    words = ["plan", str(steering), "--target-pct", "iso-15380", "--members", "200", "--json"]
    assert main(words) == 0

    assert json.loads(capsys.readouterr().out)["target_pct"] == 2.0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--target-pct", "0"], "above 0"),
        (["--target-pct", "10", "--sure-pct", "20"], "sure_pct"),
        (["--target-pct", "10", "--without", "praying"], "without"),
        (["--target-pct", "10", "--most", "0"], "from 1"),
        (["--target-pct", "10", "--reserve-l", "-1"], "reserve_l"),
        ([], "--target-pct"),
    ],
)
def test_bad_input_is_named(
    steering: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With what is allowed, on standard error."""
    assert main(["plan", str(steering), *words]) == BAD_INPUT
    shown = capsys.readouterr()

    assert said in shown.err
    assert shown.out == ""


def test_a_fluid_of_unknown_family_stops_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is planned before somebody knows what is in there."""
    text = circuit_template("rack-steering").text.replace('"ATF"', '"unknown"', 1)
    path = tmp_path / "unknown.circuit.toml"
    path.write_text(text, "utf-8")
    assert main(["plan", str(path), "--target-pct", "10"]) == BAD_INPUT

    assert "family of the old fluid" in capsys.readouterr().err
