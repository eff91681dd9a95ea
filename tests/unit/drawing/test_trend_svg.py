"""Readings as a picture: everything in its place, words on their lines, in both shapes."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from ullage.drawing.ramp import fluid_colour
from ullage.drawing.theme import DAYLIGHT
from ullage.drawing.trend_axes import round_marks, spanned
from ullage.drawing.trend_svg import (
    MOST_FIGURES,
    Axis,
    Dot,
    Hairline,
    Sign,
    TrendChart,
    trend_picture,
)

SVG = "{http://www.w3.org/2000/svg}"
ACROSS = Axis(low=0.0, high=100.0, marks=((0.0, "0"), (100.0, "100")), words="distance, km")
UP = Axis(low=0.0, high=50.0, marks=((0.0, "0"), (50.0, "50")), words="mg/kg")


def _chart(*dots: Dot, **more: object) -> TrendChart:
    given: dict[str, object] = {"title": "Water", "told": "Water.", "across": ACROSS, "up": UP}
    return TrendChart(**{**given, "dots": dots, **more})  # type: ignore[arg-type]


def _dot(x: float, y: float, **more: object) -> Dot:
    return Dot(x=x, y=y, figure=f"{y:g}", told=f"{y:g} mg/kg", **more)  # type: ignore[arg-type]


def _drawn(chart: TrendChart, *, upright: bool = False) -> ET.Element:
    return ET.fromstring(trend_picture(chart, upright=upright))


def _texts(root: ET.Element) -> dict[str, ET.Element]:
    return {element.text or "": element for element in root.iter(f"{SVG}text")}


@pytest.mark.parametrize("upright", [False, True])
def test_more_stands_higher_and_later_stands_further(upright: bool) -> None:
    """In both shapes."""
    root = _drawn(_chart(_dot(20.0, 10.0), _dot(80.0, 40.0)), upright=upright)
    first, second = root.iter(f"{SVG}circle")

    assert float(first.get("cx", 0)) < float(second.get("cx", 0))
    assert float(first.get("cy", 0)) > float(second.get("cy", 0))


def test_only_old_fluid_wears_its_colour() -> None:
    """Other readings are ink; what is not firm is open."""
    root = _drawn(
        _chart(_dot(10.0, 30.0, old_share=0.3), _dot(50.0, 20.0), _dot(90.0, 10.0, is_firm=False))
    )
    fills = [circle.get("fill") for circle in root.iter(f"{SVG}circle")]

    assert fills == [fluid_colour(0.3), DAYLIGHT.ink, DAYLIGHT.paper]


def test_an_interval_reaches_from_end_to_end() -> None:
    """Twice as far for an interval that is twice as long."""
    root = _drawn(
        _chart(_dot(30.0, 20.0, low=15.0, high=25.0), _dot(70.0, 20.0, low=10.0, high=30))
    )
    upright = [
        abs(float(line.get("y1", 0)) - float(line.get("y2", 0)))
        for line in root.iter(f"{SVG}line")
        if line.get("x1") == line.get("x2") and line.get("stroke") == DAYLIGHT.grey
    ]

    assert upright[1] == pytest.approx(2.0 * upright[0], abs=0.05)


def test_words_of_a_limit_stand_on_its_line() -> None:
    """Where no reading is, within a line's height of it."""
    limit = Hairline(at=40.0, words="40 mg/kg: limit; papers of the machine")
    root = _drawn(_chart(_dot(10.0, 41.0), limits=(limit,)))
    words = _texts(root)[limit.words]
    line = next(
        one
        for one in root.iter(f"{SVG}line")
        if one.get("stroke") == DAYLIGHT.ink
        and one.get("y1") == one.get("y2")
        and 60.0 < float(one.get("y1", 0)) < 200.0
    )
    dot = next(root.iter(f"{SVG}circle"))

    assert abs(float(words.get("y", 0)) - float(line.get("y1", 0))) < 20.0
    is_beside = float(words.get("x", 0)) > float(dot.get("cx", 0)) + 8.0
    is_below = float(words.get("y", 0)) > float(dot.get("cy", 0)) + 12.0
    assert is_beside or is_below


def test_a_moment_is_within_the_picture() -> None:
    """Its words too, at the very edge."""
    root = _drawn(_chart(_dot(1.0, 1.0), moment=Hairline(at=100.0, words="due 20 April 2029")))
    words = _texts(root)["due 20 April 2029"]

    assert 60.0 < float(words.get("x", 0)) < 680.0


def test_many_readings_leave_their_figures_to_the_table() -> None:
    """They would stand in each other's way; each still tells itself."""
    dots = tuple(_dot(5.0 * i, i + 0.5) for i in range(MOST_FIGURES + 1))
    root = _drawn(_chart(*dots))

    assert "3.5" not in _texts(root)
    assert "3.5 mg/kg" in [title.text for title in root.iter(f"{SVG}title")]


def test_each_sign_has_its_outline_and_its_name() -> None:
    """Circle, square, diamond: told apart without colour."""
    signs = tuple((sign, sign.value) for sign in Sign)
    root = _drawn(_chart(*(_dot(30.0, 20.0, sign=sign) for sign in Sign), signs=signs))

    assert len(list(root.iter(f"{SVG}circle"))) == 2
    assert len(list(root.iter(f"{SVG}polygon"))) == 2
    assert {"circle", "square", "diamond"} <= set(_texts(root))


def test_words_can_not_break_the_picture() -> None:
    """Whatever stands in them."""
    limit = Hairline(at=40.0, words="</text><script>")
    root = _drawn(_chart(_dot(1.0, 1.0), limits=(limit,), told="a < b & c"))

    assert next(root.iter(f"{SVG}title")).text == "a < b & c"
    assert list(root.iter(f"{SVG}script")) == []


def test_one_reading_has_an_axis_of_its_own() -> None:
    """Wide enough to stand in the middle of it."""
    low, high = spanned([7.0], least=10.0)

    assert (low + high) / 2.0 == pytest.approx(7.0)
    assert high - low > 10.0


@pytest.mark.parametrize("high", [1e-3, 0.7, 3.0, 49.0, 12345.0, 9e8])
def test_marks_are_few_and_lie_within(high: float) -> None:
    """Two at least, six at most, evenly."""
    marks = round_marks(0.0, high)

    assert 2 <= len(marks) <= 6
    assert all(0.0 <= mark <= high * (1.0 + 1e-9) for mark in marks)


def test_words_of_a_limit_make_room_for_readings() -> None:
    """Where all of them would hide one, what stands before the colon is left; else all stay."""
    words = "20 mg/kg: limit; common practice, no source"
    limit = Hairline(at=20.0, words=words)
    crowded = [_dot(x, y) for x in (10.0, 30.0, 50.0, 70.0, 90.0) for y in (18.0, 22.0)]
    free = _texts(_drawn(_chart(_dot(50.0, 45.0), limits=(limit,)), upright=True))
    short = _texts(_drawn(_chart(*crowded, limits=(limit,)), upright=True))

    assert "20 mg/kg" not in free
    assert any("common practice" in text for text in free)
    assert "20 mg/kg" in short
