"""The drawing says what the run says, and no name can break it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import ullage.circuit
from tests.unit.drawing.circuits import ALL, brakes, four_corners
from tests.unit.drawing.runs import run_of
from ullage.circuit.network import Circuit
from ullage.drawing.circuit_svg import draw
from ullage.drawing.lettering import text_width
from ullage.drawing.measures import measures
from ullage.drawing.placed import Shape
from ullage.drawing.ramp import fluid_colour
from ullage.formats.circuit_file import read_circuit

SVG = "{http://www.w3.org/2000/svg}"
TEMPLATES = sorted((Path(ullage.circuit.__file__).parent / "data").glob("*.circuit.toml"))


def _texts(svg: str) -> list[str]:
    """Return all rows of text of a drawing."""
    return ["".join(text.itertext()) for text in ElementTree.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("shape", Shape)
@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name.split(".")[0])
def test_every_template_is_valid_and_tells_its_name(path: Path, shape: Shape) -> None:
    """Each is well-formed, has a role, a title and a description, and names all of its parts."""
    circuit = read_circuit(path)
    root = ElementTree.fromstring(draw(circuit, run_of(circuit, members=40), shape=shape))
    told = root.findtext(f"{SVG}desc") or ""

    assert root.get("role") == "img"
    assert circuit.name in (root.findtext(f"{SVG}title") or "")
    assert [part for part in run_of(circuit).parts if f"{part}: " not in told] == []


@pytest.mark.parametrize("shape", Shape)
def test_the_figures_drawn_are_those_of_the_run(shape: Shape) -> None:
    """A whole percent and litres stand on the drawing for every part, and in all."""
    circuit = four_corners()
    parts = ("suction", "filter", "valve-block", "front-left.line", "rear-right.chamber")
    shares = {part: 0.01 + 0.17 * i for i, part in enumerate(parts)}
    run = run_of(circuit, shares=shares)
    texts = _texts(draw(circuit, run, shape=shape))
    drawn = " ".join(texts)

    for share in shares.values():
        assert re.search(rf"(^| ){round(100 * share)} %( |$)", drawn)
    assert "1 % · 0.30 L" in texts
    assert any(f"{round(100 * run.remaining_share[0])} % of the fluid" in text for text in texts)


def test_each_part_wears_the_colour_of_its_share() -> None:
    """Colours are the ramp's, at the part's share."""
    circuit = four_corners()
    svg = draw(circuit, run_of(circuit, shares={"filter": 0.37, "supply": 0.83}))

    for share in (0.37, 0.83):
        assert f'fill="{fluid_colour(share)}"' in svg


def test_an_ensemble_shows_the_middle_and_the_band() -> None:
    """Nine in ten machines lie in the band under the share."""
    circuit = four_corners()
    run = run_of(circuit, members=400, shares={"filter": 0.5})
    share = run.parts["filter"].old_m3 / run.parts["filter"].fluid_m3
    low, middle, high = (round(100 * q) for q in np.quantile(share, (0.05, 0.5, 0.95)))
    texts = _texts(draw(circuit, run))

    assert f"{middle} % · 0.35 L" in texts
    assert f"{low}–{high} %" in texts


def test_without_a_run_there_is_no_colour_and_no_share() -> None:
    """Before anything is simulated, the drawing shows what there is, not how old it is."""
    svg = draw(four_corners(), None)
    colours = {fluid_colour(i / 100) for i in range(101)}

    assert [colour for colour in colours if colour in svg] == []
    assert "%" not in "".join(_texts(svg))


def test_the_two_schemes_differ_in_paper_and_ink_alone() -> None:
    """For paper the dark rules are left out, and nothing else changes."""
    circuit = four_corners()
    both = draw(circuit, run_of(circuit))
    paper = draw(circuit, run_of(circuit), turns_dark=False)

    assert "prefers-color-scheme" in both
    assert re.sub(r"<style>.*?</style>", "", both) == paper


@given(st.text(max_size=60))
@settings(max_examples=60)
def test_no_name_breaks_a_drawing(name: str) -> None:
    """Any text may be the circuit's name; the drawing stays well-formed, and nothing runs."""
    circuit = replace(brakes(), name=name)
    root = ElementTree.fromstring(draw(circuit, None))

    assert list(root.iter(f"{SVG}script")) == []


def test_markup_in_a_name_is_shown_as_text() -> None:
    """A name that looks like markup is words."""
    name = '<script>alert("1")</script> & "van"'
    svg = draw(replace(brakes(), name=name), None)

    assert "<script" not in svg
    assert name in (ElementTree.fromstring(svg).findtext(f"{SVG}title") or "")


@pytest.mark.parametrize("make", ALL)
def test_two_drawings_on_one_page_share_no_id(make: object) -> None:
    """Gradients and descriptions of one drawing are never those of another."""
    assert callable(make)
    circuit = make()
    assert isinstance(circuit, Circuit)
    ids = [
        set(re.findall(r' id="([^"]+)"', draw(circuit, run_of(circuit, seed=seed), shape=shape)))
        for seed in (1, 2)
        for shape in Shape
    ]

    assert sum(len(found) for found in ids) == len(set().union(*ids))


@pytest.mark.parametrize("shape", Shape)
def test_the_longest_figures_fit_their_room(shape: Shape) -> None:
    """Even the widest typeface keeps share, litres and band inside the label."""
    sizes = measures(shape, is_banded=True)
    size = sizes.figure_size
    share = text_width("100 %", size, bold=True)
    litres = text_width("88.8 L", size)
    side = share + text_width(" · 88.8 L", size)
    stacked = max(share, litres, text_width("95–100 %", size - 1.5))
    within = max(text_width("100 %", size - 0.5, bold=True), text_width("95–100", size - 2.0))

    assert side <= sizes.column_label
    assert (stacked if shape is Shape.UPRIGHT else side) <= sizes.item_label
    assert stacked <= sizes.leg_line - 8.0
    assert within <= sizes.cylinder - 2.0
    assert within <= sizes.gallery - 8.0
