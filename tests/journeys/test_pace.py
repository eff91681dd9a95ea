"""`ullage pace`, as a person or a script calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ullage.circuit.catalogue import circuit_template
from ullage.cli.entry import main

AGREED = {
    *("draw_l_min", "usable_l", "seconds_to_minimum", "seconds_to_minimum_sure", "continuous"),
    *("burst_s", "open_containers", "needed_pour_l_min", "stop_level_l", "lowest_l", "highest_l"),
    "advice",
}


@pytest.fixture
def van(tmp_path: Path) -> str:
    """Return the path of the van's circuit file."""
    path = tmp_path / "van.circuit.toml"
    path.write_text(circuit_template("levelling-van").text, "utf-8")
    return str(path)


def told(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    """Return what a call prints as JSON."""
    assert main(["pace", *words, "--json"]) == 0
    shown: dict[str, object] = json.loads(capsys.readouterr().out)
    return shown


def test_the_agreed_keys_are_there(van: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One object on standard output, with every key that scripts rely on."""
    found = told(capsys, van)

    assert set(found) >= AGREED
    assert found["draw_l_min"] == pytest.approx(14e-3 * 0.88 * 750)
    assert found["usable_l"] == pytest.approx(1.8)
    assert all(isinstance(sentence, str) for sentence in found["advice"])  # type: ignore[attr-defined]


def test_every_option_is_heard(van: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each one moves a figure that it must move."""
    plain = told(capsys, van, "--litres", "8")
    changed = {
        ("--litres", "16"): "bursts",
        ("--container-l", "5"): "open_containers",
        ("--pour-l-min", "9"): "burst_s",
        ("--change-s", "2"): "needed_pour_l_min",
        ("--react-s", "1"): "stop_level_l",
        ("--rundown-s", "1"): "stop_level_l",
        ("--start-rev-min", "900"): "seconds_to_minimum",
        ("--start-s", "1"): "seconds_to_minimum",
        ("--start-l", "3.2"): "usable_l",
        ("--people", "3"): "needed_pour_l_min",
        ("--at-degc", "-40"): "advice",
    }

    for words, key in changed.items():
        assert told(capsys, van, "--litres", "8", *words)[key] != plain[key], words
    alone = told(capsys, van, "--people", "1")
    far = told(capsys, van, "--people", "1", "--walk-s", "20")
    assert far["total_s"] != alone["total_s"]


def test_spreads_may_be_typed(van: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A habit that was timed calls "stop" later than one that is guessed."""
    guessed = told(capsys, van)
    timed = told(capsys, van, "--react-s", "1.8,2,2.2")
    normal = told(capsys, van, "--react-s", "2+-0.1")

    assert timed["stop_level_l"] < guessed["stop_level_l"]  # type: ignore[operator]
    assert normal["stop_level_l"] < guessed["stop_level_l"]  # type: ignore[operator]


def test_people_get_sentences(van: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A verdict, figures, and what to do."""
    assert main(["pace", van]) == 0
    shown = capsys.readouterr().out

    assert "95 of 100 times" in shown
    assert 'Call "stop"' in shown


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--pour-l-min", "5,4"), "one number, low,best,high"),
        (("--pour-l-min", "0"), "pour_m3_s"),
        (("--react-s", "soon"), "--react-s"),
        (("--react-s", "3,2,1"), "in this order"),
        (("--start-l", "0.4"), "above the minimum"),
        (("--people", "0"), "from 1 to 9"),
        (("--litres", "-3"), "above 0"),
        (("--container-l", "nan"), "must be a number"),
    ],
)
def test_nonsense_is_bad_input(
    van: str, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 and a sentence on standard error."""
    assert main(["pace", van, *words]) == 2
    assert said in capsys.readouterr().err
