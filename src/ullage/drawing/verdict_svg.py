"""The verdict as a picture: one line a part, from nothing old to all old.

A thin outline is what was expected before the readings, the solid bar what they leave, each nine
times in ten; the tick is the middle. The target is a hairline through all lines. Where the
readings do not fit there is no solid bar. Upright, names stand above their bars, for a phone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ullage.drawing.ramp import fluid_colour
from ullage.drawing.svg import Value, escaped, tag, titled
from ullage.drawing.theme import DAYLIGHT, SANS, dark_rules
from ullage.evidence.answer import Band, Verdict

_TOP, _BAR = 74.0, 14.0
_FOOT, _UPRIGHT_FOOT = 44.0, 64.0
_MARKS = (0, 25, 50, 75, 100)
WHOLE = "whole circuit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A part with what was expected of it before the readings, and what they leave."""

    name: str
    before: Band
    after: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Where things stand: the width, the ends of the line from 0 to 100 %, the height of a row.

    Upright, the name stands above its bar and its figure at the right end of the same line."""

    width: float
    left: float
    right: float
    row: float
    upright: bool

    def across(self, share: float) -> float:
        """Return where a share stands on the line."""
        return self.left + (self.width - self.left - self.right) * min(max(share, 0.0), 1.0)


_WIDE = _Sheet(width=720.0, left=150.0, right=70.0, row=34.0, upright=False)
_UPRIGHT = _Sheet(width=360.0, left=10.0, right=10.0, row=52.0, upright=True)


def verdict_picture(verdict: Verdict, *, title: str) -> str:
    """Return the picture of a verdict as SVG."""
    parts = verdict.parts.items()
    return bars_picture(
        (
            Bar(name=WHOLE, before=verdict.remaining_before, after=verdict.remaining),
            *(Bar(name=name, before=part.before, after=part.after) for name, part in parts),
        ),
        target_share=verdict.target_share,
        fits=verdict.fit.fits,
        title=title,
        told=" ".join(verdict.sentences),
    )


def bars_picture(
    bars: Sequence[Bar],
    *,
    target_share: float | None,
    fits: bool,
    title: str,
    told: str,
    upright: bool = False,
) -> str:
    """Return bars as SVG; ``told`` is the picture in words."""
    sheet = _UPRIGHT if upright else _WIDE
    bottom = _TOP + sheet.row * len(bars)
    height = bottom + (_UPRIGHT_FOOT if upright else _FOOT)
    drawn = [
        tag("style", [dark_rules("svg.verdict")]),
        tag("rect", width=sheet.width, height=height, fill=DAYLIGHT.paper),
        _text(sheet.left if upright else 16.0, 30.0, title, font_size=17.0, font_weight=600),
        _text(sheet.left, 54.0, "old fluid, %", fill=DAYLIGHT.grey, font_size=13.0),
    ]
    for mark in _MARKS:
        x = sheet.across(mark / 100.0)
        drawn += _through(sheet, x, len(bars), DAYLIGHT.hairline if upright else DAYLIGHT.wash)
        drawn.append(
            _text(
                x,
                bottom + 18.0,
                f"{mark}",
                fill=DAYLIGHT.grey,
                font_size=13.0,
                middle=not upright or 0 < mark < 100,
                end=upright and mark == 100,
            )
        )
    for i, bar in enumerate(bars):
        drawn.append(_row(sheet, bar, _TOP + sheet.row * i, fits=fits))
    if target_share is not None:
        x = sheet.across(target_share)
        drawn += _through(sheet, x, len(bars), DAYLIGHT.ink)
        drawn.append(_line(x, _TOP - 18.0, x, _TOP - 6.0, DAYLIGHT.ink))
        is_far = target_share > 0.7
        beside = x - 4.0 if is_far else x + 4.0
        word = f"target {100.0 * target_share:.3g}"
        drawn.append(_text(beside, _TOP - 8.0, word, fill=DAYLIGHT.ink, font_size=13.0, end=is_far))
    drawn.append(_key(sheet, bottom + 36.0, fits=fits))
    return tag(
        "svg",
        [tag("title", [escaped(told)]), *drawn],
        xmlns="http://www.w3.org/2000/svg",
        class_="verdict",
        viewBox=f"0 0 {sheet.width:.0f} {height:.0f}",
        font_family=SANS,
        role="img",
    )


def _row(sheet: _Sheet, bar: Bar, y: float, *, fits: bool) -> str:
    """Return one part: outline before, bar after, tick at the middle, figure at the end."""
    middle = y + (36.0 if sheet.upright else 0.5 * sheet.row)
    line = y + 22.0 if sheet.upright else middle + 5.0
    shown = bar.after if fits else bar.before
    low, high = (round(100.0 * v) for v in (shown.p05, shown.p95))
    figure = f"{low}" if low == high else f"{low}–{high}"
    if sheet.upright:
        written = [
            _text(sheet.left, line, bar.name, font_size=15.0),
            _text(sheet.width - sheet.right, line, figure, font_size=15.0, end=True),
        ]
    else:
        written = [
            _text(sheet.left - 14.0, line, bar.name, font_size=14.0, end=True),
            _text(sheet.width - sheet.right + 12.0, line, figure, font_size=13.0),
        ]
    parts = [
        *written,
        _bar(sheet, bar.before, middle, fill="none", stroke=DAYLIGHT.grey, stroke_width=1.0),
    ]
    if fits:
        parts.append(
            _bar(sheet, bar.after, middle, height=_BAR - 4.0, fill=fluid_colour(bar.after.p50))
        )
    x = sheet.across(shown.p50)
    parts.append(_line(x, middle - 0.5 * _BAR - 2.0, x, middle + 0.5 * _BAR + 2.0, DAYLIGHT.ink))
    told = f"{bar.name}: {round(100.0 * shown.p50)} % old, nine times in ten {low} to {high} %"
    return titled(parts, told)


def _through(sheet: _Sheet, x: float, rows: int, stroke: str) -> list[str]:
    """Return a line through all rows; upright, it leaves the names free."""
    if not sheet.upright:
        return [_line(x, _TOP - 8.0, x, _TOP + sheet.row * rows, stroke)]
    tops = (_TOP + sheet.row * i for i in range(rows))
    return [_line(x, top + 26.0, x, top + 46.0, stroke) for top in tops]


def _bar(sheet: _Sheet, band: Band, middle: float, *, height: float = _BAR, **look: Value) -> str:
    """Return a bar over a band; bands of no width stay visible."""
    left, right = sheet.across(band.p05), sheet.across(band.p95)
    return tag(
        "rect",
        x=left,
        y=middle - 0.5 * height,
        width=max(right - left, 1.5),
        height=height,
        rx=2.0,
        **look,
    )


def _key(sheet: _Sheet, y: float, *, fits: bool) -> str:
    """Return what outline and bar mean."""
    grey, left = DAYLIGHT.grey, sheet.left
    outline = tag(
        "rect", x=left, y=y - 9.0, width=22.0, height=9.0, rx=2.0, fill="none", stroke=grey
    )
    words = _text(left + 28.0, y, "before the readings", fill=grey, font_size=13.0)
    x, below = (left, y + 20.0) if sheet.upright else (left + 170.0, y)
    if not fits:
        none = "the readings do not fit: no bar"
        return outline + words + _text(x, below, none, fill=grey, font_size=13.0)
    bar = tag("rect", x=x, y=below - 8.0, width=22.0, height=7.0, rx=2.0, fill=fluid_colour(0.4))
    return outline + words + bar + _text(x + 28.0, below, "after them", fill=grey, font_size=13.0)


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
