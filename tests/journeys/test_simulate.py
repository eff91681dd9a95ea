"""Somebody asks what a recipe leaves where: in words, as a picture, and for a script."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from ullage.circuit.catalogue import circuit_template, circuit_templates
from ullage.cli.entry import main
from ullage.transport.examples import recipe_template, recipe_templates

VAN = "levelling-van"


def _files(folder: Path, circuit: str, recipe: str) -> tuple[str, str]:
    """Write a built-in circuit and recipe as a person would, and return their paths."""
    machine, plan = folder / f"{circuit}.circuit.toml", folder / f"{recipe}.recipe.toml"
    machine.write_text(circuit_template(circuit).text, encoding="utf-8")
    plan.write_text(recipe_template(recipe).text, encoding="utf-8")
    return str(machine), str(plan)


@pytest.mark.parametrize(
    ("circuit", "recipe"),
    [(c.name, r.name) for c in circuit_templates() for r in recipe_templates(c.name)],
)
def test_every_built_in_recipe_is_told_part_by_part_and_step_by_step(
    circuit: str, recipe: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What people read and what scripts read are the same figures."""
    files = _files(tmp_path, circuit, recipe)
    code = main(["simulate", *files])
    told = capsys.readouterr()
    main(["simulate", *files, "--json"])
    answer = json.loads(capsys.readouterr().out)

    assert (code, told.err) == (0, "")
    for name, part in answer["parts"].items():
        assert re.search(rf"^{re.escape(name)} +\S+ m?L +\S+ m?L +", told.out, re.MULTILINE)
        share = 100.0 * part["old_l"] / part["fluid_l"] if part["fluid_l"] else None
        if share is not None and 0.5 <= share < 99.5:
            shown = re.search(rf"^{re.escape(name)} .* (\d+) %$", told.out, re.MULTILINE)
            assert shown is not None
            assert abs(int(shown[1]) - share) <= 0.5 + 1e-9
    for step in answer["steps"]:
        assert f"{step['step']}. {step['do']}: " in told.out
        for note in step["notes"]:
            assert note["text"].split()[0] in told.out
    assert "closed to better than a millionth of a litre" in " ".join(told.out.split())


def test_an_ensemble_shows_its_band(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The band in the words is that of the quantiles in the object."""
    files = _files(tmp_path, VAN, f"{VAN}-divert-idle")
    main(["simulate", *files, "--members", "200", "--seed", "3"])
    told = " ".join(capsys.readouterr().out.split())
    main(["simulate", *files, "--members", "200", "--seed", "3", "--json"])
    band = json.loads(capsys.readouterr().out)["quantiles"]["remaining_pct"]

    assert f"leave {band['p50']:.0f} % old fluid inside" in told
    assert f"have {band['p05']:.0f}–{band['p95']:.0f} %" in told


def test_json_prints_one_object_and_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Standard output is one object also when pictures are asked for."""
    files = _files(tmp_path, VAN, f"{VAN}-divert-axles")
    drawing, chart = tmp_path / "van.svg", tmp_path / "chart.svg"
    code = main(["simulate", *files, "--json", "--draw", str(drawing), "--chart", str(chart)])
    printed = capsys.readouterr()

    assert (code, printed.err) == (0, "")
    assert json.loads(printed.out)["format"] == "ullage-result/1"
    assert ElementTree.parse(drawing).getroot().get("role") == "img"
    assert ElementTree.parse(chart).getroot().get("role") == "img"


def smallest_letters_px(picture: Path, screen_px: float) -> float:
    """Return the height of the smallest letters of a picture that fills a screen's width."""
    root = ElementTree.parse(picture).getroot()
    across = float(root.attrib["viewBox"].split()[2])
    sizes = [float(text.attrib["font-size"]) for text in root.iter() if "font-size" in text.attrib]
    assert sizes
    return min(sizes) * screen_px / across


@pytest.mark.parametrize("members", [1, 40])
def test_upright_pictures_can_be_read_on_a_phone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], members: int
) -> None:
    """On a screen 360 px wide no letter is smaller than 10 px, and wide pictures stay wide."""
    files = _files(tmp_path, VAN, f"{VAN}-divert-axles")
    wide, tall, chart = (tmp_path / f"{name}.svg" for name in ("wide", "tall", "chart"))
    again = ["simulate", *files, "--members", str(members)]
    main([*again, "--draw", str(wide)])
    code = main([*again, "--upright", "--draw", str(tall), "--chart", str(chart)])

    assert code == 0
    assert f"The circuit, drawn: {tall}" in capsys.readouterr().out
    assert smallest_letters_px(wide, 360.0) < 7.0
    assert smallest_letters_px(tall, 360.0) >= 10.0
    assert smallest_letters_px(chart, 360.0) >= 10.0
    box = [float(side) for side in ElementTree.parse(tall).getroot().attrib["viewBox"].split()]
    assert box[3] > box[2]


def test_upright_without_a_picture_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The option shapes pictures; alone it means nothing, and says what is missing."""
    files = _files(tmp_path, VAN, f"{VAN}-divert-axles")

    assert main(["simulate", *files, "--upright"]) == 2
    assert "--upright must stand beside --draw or --chart" in capsys.readouterr().err


def test_a_recipe_that_cannot_be_carried_out_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, every fault with its place, nothing simulated and nothing drawn."""
    machine, plan = _files(tmp_path, VAN, f"{VAN}-divert-axles")
    text = Path(plan).read_text(encoding="utf-8").replace('"front", "rear"', '"bow", "stern"')
    Path(plan).write_text(text, encoding="utf-8")
    drawing = tmp_path / "van.svg"
    code = main(["simulate", machine, plan, "--draw", str(drawing)])
    printed = capsys.readouterr()

    assert (code, printed.out) == (2, "")
    assert "bow" in printed.err
    assert "stern" in printed.err
    assert not drawing.exists()


def test_a_picture_is_never_written_over_another_kind_of_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slip that names the circuit file as the picture destroys nothing."""
    machine, plan = _files(tmp_path, VAN, f"{VAN}-divert-idle")
    before = Path(machine).read_text(encoding="utf-8")
    code = main(["simulate", machine, plan, "--draw", machine])

    assert code == 2
    assert ".svg" in capsys.readouterr().err
    assert Path(machine).read_text(encoding="utf-8") == before


def test_the_story_tells_that_idle_pouring_leaves_the_legs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody moved the struts, so nearly all old fluid is there, and the words say so."""
    files = _files(tmp_path, VAN, f"{VAN}-divert-idle")
    main(["simulate", *files])
    told = " ".join(capsys.readouterr().out.split())
    legs = re.search(r"of the fluid inside is still old, (\d+) % of that in the legs", told)

    assert legs is not None
    assert int(legs[1]) > 90
    assert "Nothing moved front-left, front-right, rear-left and rear-right" in told
