"""Methods beside each other: bars where their shares are, the target through them, safe names."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from ullage.drawing.figures import Spread
from ullage.drawing.methods_svg import MethodBar, methods_picture
from ullage.drawing.ramp import fluid_colour

_SVG = "{http://www.w3.org/2000/svg}"


def _bar(name: str, low: float, middle: float, high: float) -> MethodBar:
    left = Spread(low=low, middle=middle, high=high, is_one=False)
    return MethodBar(name=name, left=left, needs="12 containers, 2 h")


@pytest.mark.parametrize("upright", [False, True])
def test_a_bar_reaches_from_end_to_end_in_the_colour_of_its_middle(upright: bool) -> None:
    """Between the marks for 0 and 100 % of the same picture."""
    drawn = methods_picture([_bar("a", 0.25, 0.5, 0.75)], target_share=0.1, upright=upright)
    tree = ElementTree.fromstring(drawn)
    marks = {
        one.text: float(one.attrib["x"])
        for one in tree.iter(f"{_SVG}text")
        if one.text in ("0", "25", "75", "100")
    }
    rect = next(one for one in tree.iter(f"{_SVG}rect") if one.get("fill") == fluid_colour(0.5))
    left, width = float(rect.attrib["x"]), float(rect.attrib["width"])

    assert left == pytest.approx(marks["25"], abs=0.02)
    assert left + width == pytest.approx(marks["75"], abs=0.02)


def test_what_is_all_one_figure_can_still_be_seen() -> None:
    """A bar of no width is drawn as a sliver."""
    drawn = methods_picture([_bar("a", 0.0, 0.0, 0.0)], target_share=0.1, upright=False)
    rect = re.findall(r'<rect [^>]*stroke-width="0.75"', drawn)

    assert [re.search(r' width="([\d.]+)"', one)[1] for one in rect] == ["3"]  # type: ignore[index]


def test_the_picture_is_told_in_words() -> None:
    """Each method with its share and its band."""
    drawn = methods_picture(
        [_bar("This plan", 0.05, 0.08, 0.1), _bar("Drain", 0.5, 0.6, 0.7)],
        target_share=0.1,
        upright=False,
    )
    title = ElementTree.fromstring(drawn).findtext(f"{_SVG}title")

    assert title is not None
    assert "This plan: 8 % left, nine of ten 5–10 %" in title
    assert "Drain: 60 % left, nine of ten 50–70 %" in title


def test_names_cannot_break_the_picture() -> None:
    """Markup in a name stays text."""
    drawn = methods_picture([_bar("<script>&\"'", 0.1, 0.2, 0.3)], target_share=0.9, upright=True)

    assert "<script>" not in drawn
    ElementTree.fromstring(drawn)
