"""Methods side by side as a picture: what each leaves, on one line from 0 to 100 % old.

A bar reaches over nine machines of ten, in the colour of what is left in the middle one; the tick
is that machine. The target is a hairline through all bars. Upright, names stand above them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ullage.drawing.figures import Spread, percent, percent_band
from ullage.drawing.lettering import folded
from ullage.drawing.ramp import fluid_colour
from ullage.drawing.svg import Value, escaped, tag, titled
from ullage.drawing.theme import DAYLIGHT, SANS, dark_rules

_SIZE = 14.0
_BAR, _TOP, _FOOT = 16.0, 52.0, 30.0
_MARKS = (0, 25, 50, 75, 100)
_KEY = "ullage-methods"


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodBar:
    """A method: its name, what it leaves, and what it needs in a few words (may be empty)."""

    name: str
    left: Spread
    needs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Where things stand; upright, names and needs stand above the bar."""

    width: float
    left: float
    right: float
    row: float
    upright: bool

    def across(self, share: float) -> float:
        """Return where a share stands on the line."""
        return self.left + (self.width - self.left - self.right) * min(max(share, 0.0), 1.0)


_WIDE = _Sheet(width=900.0, left=280.0, right=230.0, row=48.0, upright=False)
_UPRIGHT = _Sheet(width=360.0, left=10.0, right=14.0, row=66.0, upright=True)


def methods_picture(bars: Sequence[MethodBar], *, target_share: float, upright: bool) -> str:
    """Return methods as SVG text."""
    sheet = _UPRIGHT if upright else _WIDE
    bottom = _TOP + sheet.row * len(bars)
    height = bottom + _FOOT
    drawn = [
        tag("style", [dark_rules(f"#{_KEY}")]),
        tag("rect", width=sheet.width, height=height, fill=DAYLIGHT.paper),
        _text(10.0, 20.0, "Old fluid left, %", fill=DAYLIGHT.grey, anchor="start"),
    ]
    for mark in _MARKS:
        x = sheet.across(mark / 100.0)
        drawn += _through(sheet, x, len(bars), DAYLIGHT.hairline)
        anchor = "start" if upright and mark == 0 else "end" if upright and mark == 100 else None
        drawn.append(_text(x, bottom + 19.0, f"{mark}", fill=DAYLIGHT.grey, anchor=anchor))
    for number, bar in enumerate(bars):
        drawn.append(_row(sheet, bar, _TOP + sheet.row * number))
    x = sheet.across(target_share)
    drawn += _through(sheet, x, len(bars), DAYLIGHT.ink, width=1.5)
    drawn.append(_line(x, _TOP - 12.0, x, _TOP - 2.0, DAYLIGHT.ink, width=1.5))
    is_far = target_share > 0.6  # there the word would run out of the picture
    word = f"target {100.0 * target_share:.3g}"
    drawn.append(
        _text(x + (-4.0 if is_far else 4.0), _TOP - 14.0, word, anchor="end" if is_far else "start")
    )
    told = "; ".join(
        f"{bar.name}: {percent(bar.left.middle)} left, nine of ten {percent_band(bar.left)}"
        for bar in bars
    )
    return tag(
        "svg",
        [tag("title", [escaped(f"What each method leaves. {told}.")]), *drawn],
        xmlns="http://www.w3.org/2000/svg",
        id=_KEY,
        viewBox=f"0 0 {sheet.width:.0f} {height:.0f}",
        width=sheet.width,
        height=height,
        style="max-width:100%;height:auto",
        role="img",
        font_family=SANS,
        font_variant_numeric="tabular-nums",
    )


def _row(sheet: _Sheet, bar: MethodBar, top: float) -> str:
    """Return one method."""
    left = bar.left
    figure = f"{percent(left.middle)} ({percent_band(left).removesuffix(' %')})"
    if sheet.upright:
        middle = top + 46.0
        name = folded(bar.name, sheet.width - 20.0, _SIZE, most=1)
        parts = [_text(sheet.left, top + 16.0, name[0], weight=600, anchor="start")]
        words = f"{figure}, {bar.needs}" if bar.needs else figure
        parts.append(_text(sheet.left, top + 33.0, words, fill=DAYLIGHT.grey, anchor="start"))
    else:
        middle = top + 0.5 * sheet.row
        names = folded(bar.name, sheet.left - 34.0, _SIZE, most=2)
        first = middle + 0.35 * _SIZE - 0.6 * _SIZE * (len(names) - 1)
        parts = [
            _text(10.0, first + 1.2 * _SIZE * n, name, weight=600, anchor="start")
            for n, name in enumerate(names)
        ]
        x = sheet.width - sheet.right + 22.0
        parts.append(_text(x, middle - 3.0, figure, anchor="start"))
        parts.append(_text(x, middle + 14.0, bar.needs, fill=DAYLIGHT.grey, anchor="start"))
    low, high = sheet.across(left.low), sheet.across(left.high)
    width = max(high - low, 3.0)
    parts.append(
        tag(
            "rect",
            x=low,
            y=middle - 0.5 * _BAR,
            width=width,
            height=_BAR,
            fill=fluid_colour(left.middle),
            stroke=DAYLIGHT.ink,
            stroke_width=0.75,
        )
    )
    at = sheet.across(left.middle)
    parts.append(_line(at, middle - 0.8 * _BAR, at, middle + 0.8 * _BAR, DAYLIGHT.ink, width=2.0))
    return titled(parts, f"{bar.name}: {figure}")


def _through(sheet: _Sheet, x: float, rows: int, stroke: str, *, width: float = 1.0) -> list[str]:
    """Return a line through all bars; upright, it leaves the words free."""
    if not sheet.upright:
        return [_line(x, _TOP - 6.0, x, _TOP + sheet.row * rows, stroke, width=width)]
    tops = (_TOP + sheet.row * row for row in range(rows))
    return [_line(x, top + 37.0, x, top + 57.0, stroke, width=width) for top in tops]


def _line(x1: float, y1: float, x2: float, y2: float, stroke: str, *, width: float = 1.0) -> str:
    """Return a line."""
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width)


def _text(
    x: float,
    y: float,
    words: str,
    *,
    fill: str = DAYLIGHT.ink,
    weight: int | None = None,
    anchor: Value | None = None,
) -> str:
    """Return words; centred where no anchor is given."""
    return tag(
        "text",
        [escaped(words)],
        x=x,
        y=y,
        fill=fill,
        font_size=_SIZE,
        font_weight=weight,
        text_anchor=anchor or "middle",
    )
