"""How does one panel of a chart look: shares upwards, litres poured to the right?

The upright axis wears the ramp itself, so that a height on it is a colour of fluid. Curves are
named where they end; a moment is a hairline with its words above. No boxes, no legend."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ullage.drawing import ramp
from ullage.drawing.curves import Curve
from ullage.drawing.lettering import folded, text_width
from ullage.drawing.placed import Anchor, Box
from ullage.drawing.svg import escaped, points, tag
from ullage.drawing.theme import DAYLIGHT
from ullage.drawing.words import text
from ullage.units.convert import LITRE_M3

_STRIP = 9.0
_STOPS = 24
_LEADING = 1.22


@dataclass(frozen=True, slots=True, kw_only=True)
class EndLabel:
    """The name of a curve where it ends: ``share`` is its height there, rows its words."""

    share: float
    rows: tuple[str, ...]
    is_strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A plot in its box; ``most_m3`` is the right end of its axis."""

    box: Box
    most_m3: float
    size: float
    key: str

    def x(self, poured_m3: float) -> float:
        """Return where a number of litres stands."""
        return self.box.x + self.box.width * poured_m3 / self.most_m3

    def y(self, share: float) -> float:
        """Return where a share stands."""
        return self.box.bottom - self.box.height * share

    def axes(self, *, says_shares: bool, says_litres: bool) -> Iterator[str]:
        """Yield the ramp as the upright axis, hairlines, and the litres below."""
        box = self.box
        stops = [
            tag("stop", offset=f"{i / _STOPS:.4f}", stop_color=ramp.fluid_colour(i / _STOPS))
            for i in range(_STOPS + 1)
        ]
        yield tag(
            "defs",
            [
                tag(
                    "linearGradient",
                    stops,
                    id=f"{self.key}-height",
                    gradientUnits="userSpaceOnUse",
                    x1=0,
                    x2=0,
                    y1=box.bottom,
                    y2=box.y,
                )
            ],
        )
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            y = self.y(share)
            yield _line(box.x, y, box.right, y, DAYLIGHT.hairline, 0.7)
            if says_shares:
                words = f"{100 * share:.0f} %" if share < 1.0 else "100 % old"
                anchor = Anchor.END
                x = box.x - _STRIP - 7.0
                if share == 1.0:
                    anchor, x = Anchor.START, box.x - _STRIP - 3.0
                    y -= 0.75 * self.size + 3.0
                yield self._words(words, x, y + 0.35 * self.size, anchor)
        yield tag(
            "rect",
            x=box.x - _STRIP - 3.0,
            y=box.y,
            width=_STRIP,
            height=box.height,
            fill=f"url(#{self.key}-height)",
            stroke=DAYLIGHT.ink,
            stroke_width=0.8,
        )
        yield _line(box.x, box.bottom, box.right, box.bottom, DAYLIGHT.ink, 1.0)
        for litres in ticks(self.most_m3 / LITRE_M3):
            x = self.x(litres * LITRE_M3)
            yield _line(x, box.bottom, x, box.bottom + 4.0, DAYLIGHT.ink, 1.0)
            if says_litres:
                yield self._words(f"{litres:g}", x, box.bottom + 6.0 + self.size, Anchor.MIDDLE)
        if says_litres:
            yield self._words(
                "litres poured", box.right, box.bottom + 8.0 + 2.1 * self.size, Anchor.END
            )

    def band(self, curve: Curve) -> str:
        """Return the band of a curve."""
        if not curve.is_banded:
            return ""
        there = [(self.x(p), self.y(s)) for p, s in zip(curve.poured_m3, curve.high, strict=True)]
        back = [(self.x(p), self.y(s)) for p, s in zip(curve.poured_m3, curve.low, strict=True)]
        return tag(
            "polygon",
            points=points([*there, *reversed(back)]),
            fill=DAYLIGHT.ink,
            fill_opacity=0.14,
        )

    def fluid_line(self, curve: Curve) -> str:
        """Return a curve that wears the colour of fluid at each height, between walls of ink."""
        path = self._path(curve)
        look = {"fill": "none", "stroke_linejoin": "round", "stroke_linecap": "round"}
        return tag("polyline", points=path, stroke=DAYLIGHT.ink, stroke_width=6.0, **look) + tag(
            "polyline", points=path, stroke=f"url(#{self.key}-height)", stroke_width=3.6, **look
        )

    def ink_line(self, curve: Curve) -> str:
        """Return a curve in plain ink."""
        return tag(
            "polyline",
            points=self._path(curve),
            fill="none",
            stroke=DAYLIGHT.ink,
            stroke_width=1.6,
            stroke_linejoin="round",
        )

    def moment(self, poured_m3: float, shares: Sequence[float], words: str, room: Box) -> str:
        """Return a hairline at a moment, dots on the curves there, and the words above them."""
        x = self.x(poured_m3)
        rows = folded(words, room.width, self.size, most=4)
        length = max(text_width(row, self.size) for row in rows)
        start = min(max(x - length / 2.0, room.x), room.right - length)
        drawn = [_line(x, room.bottom, x, self.box.bottom, DAYLIGHT.ink, 0.9, dashed=True)]
        for i, row in enumerate(reversed(rows)):
            y = room.bottom - 6.0 - i * _LEADING * self.size
            drawn.append(self._words(row, start, y, Anchor.START, fill=DAYLIGHT.ink))
        for share in shares:
            drawn.append(
                tag(
                    "circle",
                    cx=x,
                    cy=self.y(share),
                    r=4.2,
                    fill=DAYLIGHT.paper,
                    stroke=DAYLIGHT.ink,
                    stroke_width=1.6,
                )
            )
        return "".join(drawn)

    def end_labels(self, labels: Sequence[EndLabel], x: float) -> Iterator[str]:
        """Yield the names of curves beside their ends, moved apart where they would touch."""
        leading = _LEADING * self.size
        heights = [leading * len(label.rows) for label in labels]
        order = sorted(range(len(labels)), key=lambda i: self.y(labels[i].share))
        tops = [self.y(labels[i].share) - heights[i] / 2.0 for i in order]
        spread = spread_out(tops, [heights[i] + 5.0 for i in order], self.box.y, self.box.bottom)
        for i, top in zip(order, spread, strict=True):
            for n, row in enumerate(labels[i].rows):
                is_strong = labels[i].is_strong and n == 1
                yield self._words(
                    row,
                    x,
                    top + leading * (n + 0.78),
                    Anchor.START,
                    fill=DAYLIGHT.ink if n < 2 else DAYLIGHT.grey,
                    weight=600 if is_strong else None,
                )

    def _path(self, curve: Curve) -> str:
        """Return the corner points of a curve's middle."""
        return points(
            (self.x(p), self.y(s)) for p, s in zip(curve.poured_m3, curve.middle, strict=True)
        )

    def _words(
        self,
        words: str,
        x: float,
        y: float,
        anchor: Anchor,
        *,
        fill: str = DAYLIGHT.grey,
        weight: int | None = None,
    ) -> str:
        """Return one row of text."""
        return text(
            [escaped(words)], x=x, y=y, anchor=anchor, size=self.size, fill=fill, weight=weight
        )


def spread_out(
    tops: Sequence[float], heights: Sequence[float], upper: float, lower: float
) -> list[float]:
    """Return where labels stand, sorted from the top, so that none touches the next.

    Each stays as near to its wish as the others let it, between ``upper`` and ``lower`` where they
    fit.

    >>> spread_out([0.0, 4.0], [10.0, 10.0], 0.0, 100.0)
    [0.0, 10.0]
    """
    placed: list[float] = []
    edge = upper
    for top, height in zip(tops, heights, strict=True):
        placed.append(max(top, edge))
        edge = placed[-1] + height
    edge = lower
    for i in reversed(range(len(placed))):
        placed[i] = min(placed[i], edge - heights[i])
        edge = placed[i]
    return placed


def ticks(most: float) -> tuple[float, ...]:
    """Return round numbers from nought to ``most``, about five of them.

    >>> ticks(12.5)
    (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0)
    """
    if most <= 0.0:
        return (0.0,)
    step = 10.0 ** math.floor(math.log10(most / 5.0))
    step *= next(f for f in (1.0, 2.0, 5.0, 10.0) if most / (f * step) <= 7.0)
    return tuple(round(i * step, 9) for i in range(math.floor(most / step + 1e-9) + 1))


def _line(
    x1: float, y1: float, x2: float, y2: float, stroke: str, width: float, *, dashed: bool = False
) -> str:
    """Return a straight line."""
    return tag(
        "line",
        x1=x1,
        y1=y1,
        x2=x2,
        y2=y2,
        stroke=stroke,
        stroke_width=width,
        stroke_dasharray="3 3" if dashed else None,
    )
