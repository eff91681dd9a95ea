"""How does each symbol look?

Drawn from scratch after the geometry of ISO 1219-1: a pump is a circle with a filled triangle
that points out, a filter a square on its corner with a dashed line across the flow, a cooler the
same square with arrows that carry heat away, a gas volume a capsule with a hollow triangle, a
cylinder a long box with a piston and a rod, a check valve a ball in a seat, a reservoir an open
box. The body of each is filled with the colour of its fluid. Sizes follow the boxes that
``layout`` gives."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ullage.drawing.placed import Box, Flow, Kind, Symbol
from ullage.drawing.svg import number, points, tag
from ullage.drawing.theme import DAYLIGHT

_INK = DAYLIGHT.ink
_STROKE = 1.5
_FINE = 1.1
_BLEED = 10.0
_ROD = 12.0

#: A quarter turn for each direction of flow, from symbols drawn for flow upwards.
_TURN = {Flow.UP: 0, Flow.RIGHT: 90, Flow.DOWN: 180, Flow.LEFT: 270}


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """The fill of each part that a symbol shows, and the ink that stands out on it."""

    fills: tuple[str, ...]
    inks: tuple[str, ...]

    @property
    def fill(self) -> str:
        """Return the first fill, paper where a symbol shows no fluid."""
        return self.fills[0] if self.fills else DAYLIGHT.paper

    @property
    def ink(self) -> str:
        """Return the ink on the first fill."""
        return self.inks[0] if self.inks else _INK


def symbol_markup(symbol: Symbol, paint: Paint) -> str:
    """Return the drawing of a symbol in its box."""
    return "".join(_DRAWN[symbol.kind](symbol, paint))


def _rect(box: Box, fill: str, **more: str | float) -> str:
    """Return a rectangle with an ink outline."""
    attributes: dict[str, str | float] = {"stroke": _INK, "stroke_width": _STROKE, **more}
    return tag(
        "rect", x=box.x, y=box.y, width=box.width, height=box.height, fill=fill, **attributes
    )


def _line(path: Sequence[tuple[float, float]], **more: str | float) -> str:
    """Return an open line in ink."""
    attributes: dict[str, str | float] = {
        "fill": "none",
        "stroke": _INK,
        "stroke_width": _STROKE,
        **more,
    }
    return tag("polyline", points=points(path), **attributes)


def _area(path: Sequence[tuple[float, float]], fill: str, **more: str | float) -> str:
    """Return a closed shape."""
    return tag("polygon", points=points(path), fill=fill, **more)


def _turned(symbol: Symbol, markup: Sequence[str]) -> str:
    """Return markup drawn for flow upwards, turned around the middle of the box."""
    degrees = _TURN[symbol.flow]
    if degrees == 0:
        return "".join(markup)
    middle = symbol.box.middle
    turn = f"rotate({degrees} {number(middle.x)} {number(middle.y)})"
    return tag("g", markup, transform=turn)


def _reservoir(symbol: Symbol, paint: Paint) -> list[str]:
    """Return an open box; the fluid in it is drawn by ``circuit_svg``, which knows the level."""
    box = symbol.box
    return [
        _line(
            ((box.x, box.y), (box.x, box.bottom), (box.right, box.bottom), (box.right, box.y)),
            stroke_width=2.0,
            stroke_linejoin="round",
        )
    ]


def _pump(symbol: Symbol, paint: Paint) -> list[str]:
    """Return the circle with its triangle at the outlet, and a shaft at the side."""
    box = symbol.box
    side = box.height
    x = box.right - side / 2.0 if not symbol.is_mirrored else box.x + side / 2.0
    if symbol.flow in (Flow.LEFT, Flow.RIGHT):
        x = box.middle.x
    y, r = box.middle.y, side / 2.0 - 0.75
    shaft_end = box.x if not symbol.is_mirrored else box.right
    rim = x - r if not symbol.is_mirrored else x + r
    circle = tag("circle", cx=x, cy=y, r=r, fill=paint.fill, stroke=_INK, stroke_width=_STROKE)
    reach = 0.46 * side
    up = (
        (x, y - r),
        (x - reach / 2.0, y - r + 0.8 * reach),
        (x + reach / 2.0, y - r + 0.8 * reach),
    )
    triangle = _area(up, paint.ink)
    if symbol.flow is not Flow.UP:
        triangle = tag(
            "g", [triangle], transform=f"rotate({_TURN[symbol.flow]} {number(x)} {number(y)})"
        )
    drawn = [circle, triangle]
    if symbol.kind is Kind.PUMP and symbol.flow not in (Flow.LEFT, Flow.RIGHT):
        drawn += [_line(((shaft_end, y + dy), (rim, y + dy)), stroke_width=_FINE) for dy in (-2, 2)]
    if symbol.kind is Kind.HAND_PUMP and symbol.flow not in (Flow.LEFT, Flow.RIGHT):
        # A lever instead of a shaft: a person is the motor.
        drawn.append(_line(((rim, y), (shaft_end, y - 0.45 * side)), stroke_width=2.2))
        drawn.append(tag("circle", cx=shaft_end, cy=y - 0.45 * side, r=2.6, fill=_INK))
    return drawn


def _diamond(box: Box) -> tuple[tuple[float, float], ...]:
    """Return the square on its corner that fills a box."""
    x, y = box.middle.x, box.middle.y
    return ((x, box.y), (box.right, y), (x, box.bottom), (box.x, y))


def _filter(symbol: Symbol, paint: Paint) -> list[str]:
    """Return the square on its corner with the element across the flow."""
    box = symbol.box
    y = box.middle.y
    across = _line(
        ((box.x + 3.0, y), (box.right - 3.0, y)),
        stroke=paint.ink,
        stroke_dasharray="4 3",
    )
    body = _area(_diamond(box), paint.fill, stroke=_INK, stroke_width=_STROKE)
    return [_turned(symbol, [body, across])]


def _cooler(symbol: Symbol, paint: Paint) -> list[str]:
    """Return the square on its corner with arrows that point out, across the flow."""
    box = symbol.box
    x, y, half = box.middle.x, box.middle.y, box.width / 2.0
    drawn = [_area(_diamond(box), paint.fill, stroke=_INK, stroke_width=_STROKE)]
    for way in (-1.0, 1.0):
        tip = x + way * (half - 4.0)
        drawn.append(_line(((x + way * 2.0, y), (tip - way * 4.0, y)), stroke=paint.ink))
        head = ((tip, y), (tip - way * 7.0, y - 3.5), (tip - way * 7.0, y + 3.5))
        drawn.append(_area(head, paint.ink))
    return [_turned(symbol, drawn)]


def _vessel(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a plain vessel with rounded ends."""
    return [_rect(symbol.box, paint.fill, rx=7.0)]


def _gallery(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a block that holds several valves: filled, with the chain line of an assembly."""
    box = symbol.box
    inset = Box(x=box.x + 1.0, y=box.y + 1.0, width=box.width - 2.0, height=box.height - 2.0)
    return [
        _rect(inset, paint.fill, stroke="none"),
        _rect(inset, "none", stroke_dasharray="9 3 2 3"),
    ]


def _pipe(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a line as a filled band between two walls."""
    box = symbol.box
    band = _rect(box, paint.fill, stroke="none")
    if symbol.flow in (Flow.UP, Flow.DOWN):
        walls = [((x, box.y), (x, box.bottom)) for x in (box.x, box.right)]
    else:
        walls = [((box.x, y), (box.right, y)) for y in (box.y, box.bottom)]
    return [band, *(_line(wall, stroke_width=_STROKE) for wall in walls)]


def _diverter(symbol: Symbol, paint: Paint) -> list[str]:
    """Return two squares: aside to the waste where the line passes, straight on beside it.

    Drawn for flow downwards with the waste on the left, then mirrored or turned.
    """
    box = symbol.box
    s = min(box.width, box.height)
    half = s / 2.0
    squares = [
        _rect(Box(x=left, y=-half, width=s, height=s), DAYLIGHT.paper, stroke_width=_FINE)
        for left in (-half, half)
    ]
    aside = [
        _line(((0.0, -half), (0.0, 0.0), (-half + 4.0, 0.0)), stroke_width=_FINE),
        _area(((-half, 0.0), (-half + 5.5, -2.8), (-half + 5.5, 2.8)), _INK),
        _line(((-3.0, half - 4.0), (3.0, half - 4.0)), stroke_width=_FINE),
        _line(((0.0, half - 4.0), (0.0, half)), stroke_width=_FINE),
    ]
    straight = [
        _line(((s, -half), (s, half - 4.0)), stroke_width=_FINE),
        _area(((s, half), (s - 2.8, half - 5.5), (s + 2.8, half - 5.5)), _INK),
    ]
    if symbol.flow is Flow.RIGHT:
        place = f"translate({number(box.middle.x)} {number(box.bottom - half)}) rotate(-90)"
    elif symbol.is_mirrored:
        place = f"translate({number(box.x + half)} {number(box.middle.y)})"
    else:
        place = f"translate({number(box.right - half)} {number(box.middle.y)}) scale(-1 1)"
    return [tag("g", [*squares, *aside, *straight], transform=place)]


def _can(symbol: Symbol, paint: Paint) -> list[str]:
    """Return an open can; what is in it is seen from the side."""
    box = symbol.box
    level = box.y + 0.36 * box.height
    inside = Box(x=box.x + 1.0, y=level, width=box.width - 2.0, height=box.bottom - level)
    drawn = [_rect(inside, paint.fill, stroke="none")] if paint.fills else []
    walls = (
        (box.x + 1.0, box.y),
        (box.x + 1.0, box.bottom),
        (box.right - 1.0, box.bottom),
        (box.right - 1.0, box.y),
    )
    return [*drawn, _line(walls, stroke_linejoin="round")]


def _bleed_point(symbol: Symbol) -> list[str]:
    """Return a stub closed with a cross on top of a chamber."""
    if not symbol.has_bleed:
        return []
    x, y = symbol.box.right - 9.0, symbol.box.y + 4.0
    return [
        _line(((x, y), (x, symbol.box.y + _BLEED)), stroke_width=_FINE),
        _line(((x - 3.0, y - 3.0), (x + 3.0, y + 3.0)), stroke_width=_FINE),
        _line(((x - 3.0, y + 3.0), (x + 3.0, y - 3.0)), stroke_width=_FINE),
    ]


def _body(symbol: Symbol, rod: float) -> Box:
    """Return the box of a chamber without bleed point and rod."""
    box = symbol.box
    top = box.y + (_BLEED if symbol.has_bleed else 0.0)
    return Box(x=box.x, y=top, width=box.width, height=box.bottom - top - rod)


def _rod(body: Box, from_y: float) -> list[str]:
    """Return the rod from the piston to its foot."""
    x, end = body.middle.x, body.bottom + _ROD
    return [
        *(_line(((x + dx, from_y), (x + dx, end - 1.0)), stroke_width=_FINE) for dx in (-2.5, 2.5)),
        _line(((x - 9.0, end - 1.0), (x + 9.0, end - 1.0)), stroke_width=2.0),
    ]


def _cylinder(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a single-acting cylinder: fluid above the piston, air and rod below."""
    body = _body(symbol, _ROD)
    piston = body.bottom - 42.0
    fluid = Box(x=body.x, y=body.y, width=body.width, height=piston - body.y)
    return [
        _rect(body, DAYLIGHT.paper, stroke="none"),
        _rect(fluid, paint.fill, stroke="none"),
        *_rod(body, piston + 3.0),
        _rect(Box(x=body.x, y=piston, width=body.width, height=5.0), _INK, stroke="none"),
        _rect(body, "none"),
        *_bleed_point(symbol),
    ]


def _double(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a double-acting cylinder: one leg's fluid above the piston, the other's below."""
    body = _body(symbol, _ROD)
    middle = body.middle.y
    upper = Box(x=body.x, y=body.y, width=body.width, height=middle - body.y)
    lower = Box(x=body.x, y=middle, width=body.width, height=body.bottom - middle)
    fills = paint.fills if len(paint.fills) == 2 else (paint.fill, paint.fill)
    return [
        _rect(upper, fills[0], stroke="none"),
        _rect(lower, fills[1], stroke="none"),
        *_rod(body, body.bottom),
        _rect(Box(x=body.x, y=middle - 3.0, width=body.width, height=6.0), _INK, stroke="none"),
        _rect(body, "none"),
        *_bleed_point(symbol),
    ]


def _capsule(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a gas volume: oil in the lower half, gas with its hollow triangle above."""
    body = _body(symbol, 0.0)
    r = body.width / 2.0
    x, middle = body.middle.x, body.middle.y
    outline = (
        f"M{number(body.x)} {number(middle)}V{number(body.y + r)}"
        f"A{number(r)} {number(r)} 0 0 1 {number(body.right)} {number(body.y + r)}"
        f"V{number(body.bottom - r)}"
        f"A{number(r)} {number(r)} 0 0 1 {number(body.x)} {number(body.bottom - r)}Z"
    )
    oil = (
        f"M{number(body.x)} {number(middle)}H{number(body.right)}V{number(body.bottom - r)}"
        f"A{number(r)} {number(r)} 0 0 1 {number(body.x)} {number(body.bottom - r)}Z"
    )
    half = min(6.0, 0.28 * body.width)
    top = (body.y + middle) / 2.0 - half * 0.6
    gas = ((x - half, top), (x + half, top), (x, top + 1.5 * half))
    return [
        tag("path", d=outline, fill=DAYLIGHT.paper),
        tag("path", d=oil, fill=paint.fill),
        tag("path", d=outline, fill="none", stroke=_INK, stroke_width=_STROKE),
        _line(((body.x, middle), (body.right, middle))),
        _area(gas, "none", stroke=_INK, stroke_width=_FINE),
        *_bleed_point(symbol),
    ]


def _pocket(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a chamber that never moves, such as the end of a brake line."""
    return [_rect(_body(symbol, 0.0), paint.fill), *_bleed_point(symbol)]


def _check(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a ball in its seat; free flow comes from the gallery and lifts it."""
    box = symbol.box
    y = box.middle.y
    way = 1.0 if symbol.flow is Flow.RIGHT else -1.0
    root = box.x if way > 0 else box.right
    tip = box.right if way > 0 else box.x
    seat = root + way * 5.0
    ball = seat + way * 5.6
    return [
        _line(((root, y), (seat, y)), stroke_width=_FINE),
        _line(((seat + way * 6.0, y - 6.5), (seat, y), (seat + way * 6.0, y + 6.5))),
        tag("circle", cx=ball, cy=y, r=4.0, fill=DAYLIGHT.paper, stroke=_INK, stroke_width=_FINE),
        _line(((ball + way * 4.0, y), (tip, y)), stroke_width=_FINE),
    ]


def _controlled(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a small closed valve with a coil: only a controller opens it."""
    box = symbol.box
    y = box.middle.y
    square = Box(x=box.x + 2.0, y=y - 6.0, width=box.width - 4.0, height=12.0)
    coil = Box(x=square.x + 2.0, y=y - 8.5, width=square.width - 4.0, height=2.5)
    x = square.middle.x
    return [
        _line(((box.x, y), (box.right, y)), stroke_width=_FINE),
        _rect(square, DAYLIGHT.paper, stroke_width=_FINE),
        _rect(coil, _INK, stroke="none"),
        _line(((square.x, y), (x - 2.5, y)), stroke_width=_FINE),
        _line(((x - 2.5, y - 3.0), (x - 2.5, y + 3.0)), stroke_width=_FINE),
        _line(((square.right, y), (x + 2.5, y)), stroke_width=_FINE),
        _line(((x + 2.5, y - 3.0), (x + 2.5, y + 3.0)), stroke_width=_FINE),
    ]


def _closed_end(symbol: Symbol, paint: Paint) -> list[str]:
    """Return a line's end that is closed with a cross."""
    box = symbol.box
    x, y = box.middle.x, box.middle.y
    return [
        _line(((box.x, y), (x, y))),
        _line(((x - 4.0, y - 4.0), (x + 4.0, y + 4.0))),
        _line(((x - 4.0, y + 4.0), (x + 4.0, y - 4.0))),
    ]


def _nothing(symbol: Symbol, paint: Paint) -> list[str]:
    """Return nothing: what stands there is drawn elsewhere."""
    return []


_DRAWN: dict[Kind, Callable[[Symbol, Paint], list[str]]] = {
    Kind.RESERVOIR: _reservoir,
    Kind.PUMP: _pump,
    Kind.HAND_PUMP: _pump,
    Kind.FILTER: _filter,
    Kind.COOLER: _cooler,
    Kind.VESSEL: _vessel,
    Kind.GALLERY: _gallery,
    Kind.LINE: _pipe,
    Kind.DIVERTER: _diverter,
    Kind.WASTE: _can,
    Kind.CYLINDER: _cylinder,
    Kind.PAIR: _double,
    Kind.ACCUMULATOR: _capsule,
    Kind.POCKET: _pocket,
    Kind.CHECK: _check,
    Kind.PILOT_CHECK: _check,
    Kind.CONTROLLED: _controlled,
    Kind.GAS: _capsule,
    Kind.END: _closed_end,
    Kind.CROSSING: _nothing,
    Kind.LEGEND: _nothing,
}
