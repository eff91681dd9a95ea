"""Somebody has measured, and asks what is left where: in words, as a picture, and for a script."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from xml.etree import ElementTree

import pytest

from ullage.circuit.catalogue import circuit_template
from ullage.cli.entry import main
from ullage.transport.examples import recipe_template

VAN, AXLES = "levelling-van", "levelling-van-divert-axles"
EXAMPLE = resources.files("ullage.evidence") / "data" / f"{VAN}.evidence.toml"


def _files(folder: Path, evidence: str | None = None) -> list[str]:
    """Write the files of the van as a person would, and return their paths."""
    texts = {
        f"{VAN}.circuit.toml": circuit_template(VAN).text,
        f"{AXLES}.recipe.toml": recipe_template(AXLES).text,
        f"{VAN}.evidence.toml": EXAMPLE.read_text("utf-8") if evidence is None else evidence,
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [str(folder / name) for name in texts]


def test_the_example_is_judged_in_three_sentences_and_a_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is left, whether it is enough, what next; the picture is where it was asked for."""
    drawn = tmp_path / "verdict.svg"
    code = main(["prove", *_files(tmp_path), "--target-pct", "60", "--draw", str(drawn)])
    told = " ".join(capsys.readouterr().out.split())

    assert code == 0
    assert "old fluid is left, nine times in ten" in told
    assert "The target of 60 % is met: the chance is" in told
    assert "Nothing more needs to be measured" in told
    assert "which is within what the readings can be wrong" in told
    assert ElementTree.parse(drawn).getroot().tag.endswith("svg")


def test_scripts_get_one_object_and_the_same_one_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One seed, one answer; every leg is there, the remainder lies within its parts' range."""
    words = ["prove", *_files(tmp_path), "--json", "--seed", "3"]
    main(words)
    first = capsys.readouterr()
    main(words)
    found = json.loads(first.out)

    assert first.err == ""
    assert capsys.readouterr().out == first.out
    assert found["fits"] is True
    assert found["final"] is True
    assert set(found["parts"]) >= {"reservoir", "loop", "front-left", "rear-right"}
    assert found["remaining_pct"]["p05"] < found["remaining_pct"]["p50"]
    assert found["remaining_pct"]["p50"] < found["remaining_pct"]["p95"]
    assert found["next"][0]["minutes"] > 0.0


def test_an_empty_evidence_file_gives_what_the_circuit_leads_to_expect(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing measured is no error: the prior is the answer, and is called so."""
    code = main(["prove", *_files(tmp_path, 'format = "ullage-evidence/1"\n')])
    told = " ".join(capsys.readouterr().out.split())

    assert code == 0
    assert "Nothing was measured yet" in told
    assert "Next, " in told


def test_readings_that_contradict_each_other_say_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No figure is made up of two that cannot both be right."""
    sample = '[[sample]]\nwhere = "outflow"\nafter_step = 3\nold_pct = {}\nu_pct = 2\n'
    text = f'format = "ullage-evidence/1"\n{sample.format(2)}{sample.format(60)}'
    code = main(["prove", *_files(tmp_path, text), "--target-pct", "10"])
    told = " ".join(capsys.readouterr().out.split())

    assert code == 0
    assert "The readings do not fit this circuit and recipe" in told
    assert "is met" not in told


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("after_step = 3", "there is no such step"),
        ('"leg:front-left"', "is no leg of the circuit"),
    ],
)
def test_readings_of_another_job_are_refused(
    change: str, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Steps and legs that are not there are faults of the evidence file, exit code 2."""
    wrong = {"after_step = 3": "after_step = 31", '"leg:front-left"': '"leg:front-lefd"'}[change]
    text = EXAMPLE.read_text("utf-8").replace(change, wrong, 1)

    code = main(["prove", *_files(tmp_path, text)])

    assert code == 2
    assert says in capsys.readouterr().err
