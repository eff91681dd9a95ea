"""The verdict's bars tell each part, wide for a desk and upright for a phone."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from ullage.drawing.verdict_svg import Bar, bars_picture
from ullage.evidence.answer import Band

_BARS = (
    Bar(
        name="whole circuit",
        before=Band(p05=0.2, p50=0.3, p95=0.5),
        after=Band(p05=0.28, p50=0.31, p95=0.35),
    ),
    Bar(
        name="rear-left <b>",
        before=Band(p05=0.5, p50=0.8, p95=1.0),
        after=Band(p05=0.7, p50=0.85, p95=0.97),
    ),
)


def _picture(*, upright: bool, fits: bool = True, target: float | None = 0.1) -> str:
    return bars_picture(
        _BARS, target_share=target, fits=fits, title="Van", told="31 % is old.", upright=upright
    )


@pytest.mark.parametrize("upright", [False, True])
def test_every_part_is_told_in_words(upright: bool) -> None:
    """Who cannot see the bars reads the same figures, names escaped."""
    root = ElementTree.fromstring(_picture(upright=upright))
    titles = [title.text for title in root.iter("{http://www.w3.org/2000/svg}title")]

    assert titles == [
        "31 % is old.",
        "whole circuit: 31 % old, nine times in ten 28 to 35 %",
        "rear-left <b>: 85 % old, nine times in ten 70 to 97 %",
    ]


@pytest.mark.parametrize("upright", [False, True])
def test_no_solid_bar_where_the_readings_do_not_fit(upright: bool) -> None:
    """Then the outlines alone are drawn, and the key says why."""
    fitting = _picture(upright=upright).count('height="10"')
    not_fitting = _picture(upright=upright, fits=False)

    assert fitting == len(_BARS)
    assert not_fitting.count('height="10"') == 0
    assert "do not fit" in not_fitting


def test_the_upright_picture_fits_a_phone() -> None:
    """Nothing in it is written smaller than 13 px on a screen 360 px wide."""
    picture = _picture(upright=True)
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', picture)]

    assert 'viewBox="0 0 360 ' in picture
    assert min(sizes) >= 13.0


def test_without_a_target_there_is_no_hairline_of_one() -> None:
    """Nobody said what is good enough."""
    assert "target" not in _picture(upright=False, target=None)
