"""Readings over the years as a picture: points with intervals, hairlines for limits.

Each limit has its words, its source among them, on its own line; a moment to come is a dashed
hairline. Nothing is drawn through the points. Only old fluid wears the colours of fluid.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from ullage.drawing.lettering import folded, text_width
from ullage.drawing.placed import Box
from ullage.drawing.ramp import fluid_colour
from ullage.drawing.svg import Value, escaped, points, tag, titled
from ullage.drawing.theme import DAYLIGHT, SANS, dark_rules

_SIZE, _SMALL = 13.0, 12.0
_LEADING = 1.2 * _SMALL
# Above this stand title and unit.
_HEAD = 56.0
_R = 5.0
#: More figures than these would stand in each other's way: the table beside has them all.
MOST_FIGURES = 12


class Sign(Enum):
    """The outline of a point, which tells kinds apart."""

    CIRCLE = "circle"
    SQUARE = "square"
    DIAMOND = "diamond"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A reading: where it stands, its interval, its figure, and itself in words.

    ``old_share`` is set where the reading is a share of old fluid; without ``is_firm`` it is open.
    """

    x: float
    y: float
    low: float | None = None
    high: float | None = None
    figure: str
    told: str
    sign: Sign = Sign.CIRCLE
    old_share: float | None = None
    is_firm: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Hairline:
    """A line across the picture (a limit) or up it (a moment), with its words."""

    at: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """From where to where, the marks with their words, and what is counted."""

    low: float
    high: float
    marks: tuple[tuple[float, str], ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendChart:
    """All that a picture shows; ``signs`` names the signs where there are several."""

    title: str
    told: str
    across: Axis
    up: Axis
    dots: tuple[Dot, ...]
    limits: tuple[Hairline, ...] = ()
    moment: Hairline | None = None
    signs: tuple[tuple[Sign, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """Where the plot stands in its picture."""

    chart: TrendChart
    width: float
    left: float
    right: float
    top: float
    bottom: float

    def x(self, value: float) -> float:
        """Return where a value stands across."""
        axis = self.chart.across
        return self.left + (self.right - self.left) * (value - axis.low) / (axis.high - axis.low)

    def y(self, value: float) -> float:
        """Return where a value stands upwards."""
        axis = self.chart.up
        share = (value - axis.low) / (axis.high - axis.low)
        return self.bottom - (self.bottom - self.top) * min(max(share, 0.0), 1.0)


def trend_picture(chart: TrendChart, *, upright: bool = False) -> str:
    """Return a chart as SVG, wide for a laptop or upright for a phone."""
    width = 360.0 if upright else 720.0
    labels = max((text_width(words, _SIZE) for _, words in chart.up.marks), default=0.0)
    top = (92.0 if chart.moment else 72.0) + (22.0 if upright else 0.0)
    box = _Box(
        chart=chart,
        width=width,
        left=labels + 16.0,
        right=width - (14.0 if upright else 24.0),
        top=top,
        bottom=top + (280.0 if upright else 210.0),
    )
    height = box.bottom + (72.0 if chart.signs else 50.0)
    drawn = [
        tag("style", [dark_rules("svg.trend")]),
        tag("rect", width=width, height=height, fill=DAYLIGHT.paper),
        _text(8.0, 26.0, chart.title, size=17.0, weight=600),
        _text(8.0, 50.0, chart.up.words, fill=DAYLIGHT.grey),
        *_axes(box),
        *_moment(box),
        *(part for dot in chart.dots for part in _interval(box, dot)),
        *_limits(box),
        *(_dot(box, dot) for dot in chart.dots),
        *_signs(box),
    ]
    return tag(
        "svg",
        [tag("title", [escaped(chart.told)]), *drawn],
        xmlns="http://www.w3.org/2000/svg",
        class_="trend",
        viewBox=f"0 0 {width:.0f} {height:.0f}",
        font_family=SANS,
        role="img",
    )


def _axes(box: _Box) -> Iterator[str]:
    """Yield marks and their words."""
    chart = box.chart
    for value, words in chart.up.marks:
        y = box.y(value)
        yield _line(box.left, y, box.right, y, DAYLIGHT.wash)
        yield _text(box.left - 8.0, y + 4.5, words, fill=DAYLIGHT.grey, anchor="end")
    yield _line(box.left, box.bottom, box.right, box.bottom, DAYLIGHT.ink)
    edge = 0.0
    for value, words in chart.across.marks:
        x = box.x(value)
        half = text_width(words, _SIZE) / 2.0
        yield _line(x, box.bottom, x, box.bottom + 5.0, DAYLIGHT.ink)
        if x - half >= edge and x + half <= box.width:
            yield _text(x, box.bottom + 20.0, words, fill=DAYLIGHT.grey, anchor="middle")
            edge = x + half + 8.0
    yield _text(box.right, box.bottom + 40.0, chart.across.words, fill=DAYLIGHT.grey, anchor="end")


def _moment(box: _Box) -> Iterator[str]:
    """Yield a moment to come: a dashed hairline, its words above."""
    moment = box.chart.moment
    if moment is None:
        return
    x = box.x(moment.at)
    yield tag(
        "line",
        x1=x,
        y1=box.top - 10.0,
        x2=x,
        y2=box.bottom,
        stroke=DAYLIGHT.ink,
        stroke_width=1.0,
        stroke_dasharray="4 3",
    )
    middle = _moment_middle(box, text_width(moment.words, _SIZE))
    yield _text(middle, box.top - 15.0, moment.words, anchor="middle")


def _moment_middle(box: _Box, wide: float) -> float:
    """Return where the words of a moment are centred: above it, within the picture."""
    x = box.x(box.chart.moment.at) if box.chart.moment else 0.0
    return min(max(x, wide / 2.0 + 4.0), box.width - wide / 2.0 - 4.0)


def _limits(box: _Box) -> Iterator[str]:
    """Yield each limit as a hairline with its words on it, where they hide least."""
    readings = list(_readings(box))
    taken = [*readings, *_moment_room(box)]
    for limit in sorted(box.chart.limits, key=lambda one: -one.at):
        y = box.y(limit.at)
        yield _line(box.left, y, box.right, y, DAYLIGHT.ink)
        rows, room = _lettered(box, y, limit.words, taken, readings)
        taken.append(room)
        for i, row in enumerate(rows):
            yield _text(
                room.x,
                room.y + _LEADING * (i + 0.85),
                row,
                size=_SMALL,
                is_on_lines=True,
            )


def _lettered(
    box: _Box, y: float, words: str, taken: Sequence[Box], readings: Sequence[Box]
) -> tuple[tuple[str, ...], Box]:
    """Return the rows of a limit's words, and where they go.

    Where all of them would hide a reading, what stands before the colon does: the page says the
    rest below the picture."""
    found = []
    for said in dict.fromkeys((words, words.partition(":")[0])):
        rows = folded(said, box.right - box.left - 8.0, _SMALL, most=3)
        room = _room(box, y, rows, taken)
        found.append((round(sum(_shared(room, other) for other in readings)), rows, room))
    _, rows, room = min(found, key=lambda one: one[0])
    return rows, room


def _room(box: _Box, y: float, rows: Sequence[str], taken: Sequence[Box]) -> Box:
    """Return where words hide least: above the line rather than below, left rather than right."""
    wide = max(text_width(row, _SMALL) for row in rows)
    tall = _LEADING * len(rows)
    starts = [box.left + 4.0]
    while starts[-1] + 24.0 + wide <= box.right - 4.0:
        starts.append(starts[-1] + 24.0)
    found = [
        Box(x=x, y=top, width=wide, height=tall)
        for top in (y - 4.0 - tall, y + 3.0)
        if top >= _HEAD and top + tall <= box.bottom
        for x in starts
    ] or [Box(x=starts[0], y=y - 4.0 - tall, width=wide, height=tall)]
    return min(found, key=lambda room: round(sum(_shared(room, other) for other in taken)))


def _shared(one: Box, other: Box) -> float:
    """Return the area that two boxes share."""
    across = min(one.right, other.right) - max(one.x, other.x)
    up = min(one.bottom, other.bottom) - max(one.y, other.y)
    return max(across, 0.0) * max(up, 0.0)


def _readings(box: _Box) -> Iterator[Box]:
    """Yield the room that readings, their figures and their intervals take."""
    for dot in box.chart.dots:
        x, y = box.x(dot.x), box.y(dot.y)
        figure = text_width(dot.figure, _SIZE) + 6.0 if _has_figures(box.chart) else 0.0
        yield Box(x=x - 9.0, y=y - 9.0, width=18.0 + figure, height=18.0)
        if dot.low is not None and dot.high is not None:
            top = box.y(dot.high)
            yield Box(x=x - 5.0, y=top, width=10.0, height=box.y(dot.low) - top)


def _moment_room(box: _Box) -> Iterator[Box]:
    """Yield the room that the moment to come and its words take."""
    if box.chart.moment is not None:
        x = box.x(box.chart.moment.at)
        yield Box(x=x - 2.0, y=box.top, width=4.0, height=box.bottom - box.top)
        wide = text_width(box.chart.moment.words, _SIZE)
        start = _moment_middle(box, wide) - wide / 2.0
        yield Box(x=start, y=box.top - 28.0, width=wide, height=18.0)


def _has_figures(chart: TrendChart) -> bool:
    return len(chart.dots) <= MOST_FIGURES


def _interval(box: _Box, dot: Dot) -> Iterator[str]:
    """Yield the interval of a reading."""
    if dot.low is None or dot.high is None:
        return
    x, low, high = box.x(dot.x), box.y(dot.low), box.y(dot.high)
    yield _line(x, low, x, high, DAYLIGHT.grey, 1.6)
    for y in (low, high):
        yield _line(x - 4.0, y, x + 4.0, y, DAYLIGHT.grey, 1.6)


def _dot(box: _Box, dot: Dot) -> str:
    """Return a reading with its figure, which tells itself when it is pointed at."""
    x, y = box.x(dot.x), box.y(dot.y)
    fill = DAYLIGHT.ink if dot.old_share is None else fluid_colour(dot.old_share)
    parts = [_sign(dot.sign, x, y, fill if dot.is_firm else DAYLIGHT.paper)]
    if _has_figures(box.chart):
        room = text_width(dot.figure, _SIZE) + 10.0
        is_far = x + room > box.width
        parts.append(
            _text(
                x - 10.0 if is_far else x + 10.0,
                y + 4.5,
                dot.figure,
                anchor="end" if is_far else None,
                is_on_lines=True,
            )
        )
    return titled(parts, dot.told)


def _sign(sign: Sign, x: float, y: float, fill: str) -> str:
    """Return the sign of a point."""
    look: dict[str, Value] = {"fill": fill, "stroke": DAYLIGHT.ink, "stroke_width": 1.5}
    match sign:
        case Sign.CIRCLE:
            return tag("circle", cx=x, cy=y, r=_R, **look)
        case Sign.SQUARE:
            side = 2.0 * _R - 1.0
            return tag("rect", x=x - side / 2, y=y - side / 2, width=side, height=side, **look)
    far = _R + 1.5
    corners = points([(x, y - far), (x + far, y), (x, y + far), (x - far, y)])
    return tag("polygon", points=corners, **look)


def _signs(box: _Box) -> Iterator[str]:
    """Yield what the signs mean."""
    x = box.left
    for sign, words in box.chart.signs:
        yield _sign(sign, x + _R, box.bottom + 58.0, DAYLIGHT.ink)
        yield _text(x + 18.0, box.bottom + 62.5, words, fill=DAYLIGHT.grey)
        x += 34.0 + text_width(words, _SIZE)


def _line(x1: float, y1: float, x2: float, y2: float, stroke: str, width: float = 1.0) -> str:
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width)


def _text(
    x: float,
    y: float,
    words: str,
    *,
    fill: str = DAYLIGHT.ink,
    size: float = _SIZE,
    weight: int | None = None,
    anchor: str | None = None,
    is_on_lines: bool = False,
) -> str:
    """Return words; on lines they bring a margin of paper with them."""
    return tag(
        "text",
        [escaped(words)],
        x=x,
        y=y,
        fill=fill,
        font_size=size,
        font_weight=weight,
        text_anchor=anchor,
        stroke=DAYLIGHT.paper if is_on_lines else None,
        stroke_width=4.0 if is_on_lines else None,
        paint_order="stroke" if is_on_lines else None,
        stroke_linejoin="round" if is_on_lines else None,
    )
