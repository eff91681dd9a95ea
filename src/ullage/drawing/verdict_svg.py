"""The verdict as a picture: one line a part, from nothing old to all old.

A thin outline is what was expected before the readings, the solid bar what they leave, each nine
times in ten; the tick is the middle. The target is a hairline through all lines. Where the readings
do not fit there is no solid bar."""

from __future__ import annotations

from ullage.drawing.ramp import fluid_colour
from ullage.drawing.svg import Value, escaped, tag, titled
from ullage.drawing.theme import DAYLIGHT, SANS, dark_rules
from ullage.evidence.answer import Band, Verdict

_WIDTH, _LEFT, _RIGHT = 720.0, 150.0, 70.0
_TOP, _ROW, _BAR = 74.0, 34.0, 14.0
_FOOT = 44.0
_MARKS = (0, 25, 50, 75, 100)


def verdict_picture(verdict: Verdict, *, title: str) -> str:
    """Return the picture of a verdict as SVG."""
    rows = [("whole circuit", verdict.remaining_before, verdict.remaining)]
    rows += [(name, part.before, part.after) for name, part in verdict.parts.items()]
    bottom = _TOP + _ROW * len(rows)
    drawn = [
        tag("style", [dark_rules("svg.verdict")]),
        tag("rect", width=_WIDTH, height=bottom + _FOOT, fill=DAYLIGHT.paper),
        _text(_LEFT - 134.0, 30.0, title, font_size=17.0, font_weight=600),
        _text(_LEFT, 54.0, "old fluid, %", fill=DAYLIGHT.grey, font_size=12.0),
    ]
    for mark in _MARKS:
        x = _across(mark / 100.0)
        drawn.append(_line(x, _TOP - 8.0, x, bottom, DAYLIGHT.wash))
        drawn.append(
            _text(x, bottom + 18.0, f"{mark}", fill=DAYLIGHT.grey, font_size=12.0, middle=True)
        )
    for i, (name, before, after) in enumerate(rows):
        drawn.append(_row(name, before, after, _TOP + _ROW * i, fits=verdict.fit.fits))
    if verdict.target_share is not None:
        x = _across(verdict.target_share)
        drawn.append(_line(x, _TOP - 12.0, x, bottom, DAYLIGHT.ink))
        drawn.append(_text(x + 4.0, _TOP - 8.0, "target", fill=DAYLIGHT.ink, font_size=12.0))
    drawn.append(_key(bottom + 36.0, fits=verdict.fit.fits))
    return tag(
        "svg",
        [tag("title", [escaped(" ".join(verdict.sentences))]), *drawn],
        xmlns="http://www.w3.org/2000/svg",
        class_="verdict",
        viewBox=f"0 0 {_WIDTH:.0f} {bottom + _FOOT:.0f}",
        font_family=SANS,
        role="img",
    )


def _across(share: float) -> float:
    """Return where a share stands on the line."""
    return _LEFT + (_WIDTH - _LEFT - _RIGHT) * min(max(share, 0.0), 1.0)


def _row(name: str, before: Band, after: Band, y: float, *, fits: bool) -> str:
    """Return one part: outline before, bar after, tick at the middle, figure at the end."""
    middle = y + 0.5 * _ROW
    shown = after if fits else before
    parts = [
        _text(_LEFT - 14.0, middle + 5.0, name, font_size=14.0, end=True),
        _bar(before, middle, fill="none", stroke=DAYLIGHT.grey, stroke_width=1.0),
    ]
    if fits:
        parts.append(_bar(after, middle, height=_BAR - 4.0, fill=fluid_colour(after.p50)))
    x = _across(shown.p50)
    parts.append(_line(x, middle - 0.5 * _BAR - 2.0, x, middle + 0.5 * _BAR + 2.0, DAYLIGHT.ink))
    low, high = (round(100.0 * v) for v in (shown.p05, shown.p95))
    figure = f"{low}" if low == high else f"{low}–{high}"
    parts.append(_text(_WIDTH - _RIGHT + 12.0, middle + 5.0, figure, font_size=13.0))
    told = f"{name}: {round(100.0 * shown.p50)} % old, nine times in ten {low} to {high} %"
    return titled(parts, told)


def _bar(band: Band, middle: float, *, height: float = _BAR, **look: Value) -> str:
    """Return a bar over a band; bands of no width stay visible."""
    left, right = _across(band.p05), _across(band.p95)
    return tag(
        "rect",
        x=left,
        y=middle - 0.5 * height,
        width=max(right - left, 1.5),
        height=height,
        rx=2.0,
        **look,
    )


def _key(y: float, *, fits: bool) -> str:
    """Return what outline and bar mean."""
    grey = DAYLIGHT.grey
    outline = tag(
        "rect", x=_LEFT, y=y - 9.0, width=22.0, height=9.0, rx=2.0, fill="none", stroke=grey
    )
    words = _text(_LEFT + 28.0, y, "before the readings", fill=grey, font_size=12.0)
    x = _LEFT + 170.0
    if not fits:
        none = "the readings do not fit: no bar"
        return outline + words + _text(x, y, none, fill=grey, font_size=12.0)
    bar = tag("rect", x=x, y=y - 8.0, width=22.0, height=7.0, rx=2.0, fill=fluid_colour(0.4))
    return outline + words + bar + _text(x + 28.0, y, "after them", fill=grey, font_size=12.0)


def _line(x1: float, y1: float, x2: float, y2: float, stroke: str) -> str:
    """Return a hairline."""
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=1.0)


def _text(
    x: float,
    y: float,
    words: str,
    *,
    fill: str = DAYLIGHT.ink,
    font_size: float,
    font_weight: int | None = None,
    middle: bool = False,
    end: bool = False,
) -> str:
    """Return words; they start at ``x`` unless they end or are centred there."""
    anchor = "middle" if middle else "end" if end else None
    return tag(
        "text",
        [escaped(words)],
        x=x,
        y=y,
        fill=fill,
        font_size=font_size,
        font_weight=font_weight,
        text_anchor=anchor,
    )
