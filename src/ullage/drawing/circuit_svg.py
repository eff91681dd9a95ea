"""How does a circuit look, with every part in the colour of its remainder?

``draw`` lays the circuit out, fills each part with the colour of the old fluid in it and writes the
share and the litres beside it. The result is one SVG that fits any width, turns dark where the
reader's device asks for it, and tells its parts' names when they are pointed at or read aloud.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from ullage.circuit.network import Circuit
from ullage.drawing import ramp
from ullage.drawing.held import Contents, contents
from ullage.drawing.layout import lay_out
from ullage.drawing.legend import legend
from ullage.drawing.measures import SHEET_PX, measures
from ullage.drawing.placed import Kind, Layout, Role, Shape, Symbol, Wire
from ullage.drawing.svg import escaped, number, points, tag, titled
from ullage.drawing.symbols import Paint, symbol_markup
from ullage.drawing.theme import DAYLIGHT, SANS, dark_rules
from ullage.drawing.words import Words
from ullage.transport.result import Run

# Narrower than this, words of the wide shape would be too small to read.
_NARROW_PX = 700


def draw(
    circuit: Circuit,
    run: Run | None,
    *,
    width: int = SHEET_PX,
    shape: Shape | None = None,
    title: str | None = None,
    turns_dark: bool = True,
) -> str:
    """Return the drawing of a circuit as SVG text, coloured by a run where there is one.

    ``width`` is the width in pixels that it is made for; it scales to any. ``shape`` None chooses
    upright where that is narrow. ``title`` stands above it in place of the circuit's name.
    ``turns_dark`` False keeps daylight colours, for paper."""
    chosen = shape or (Shape.UPRIGHT if width < _NARROW_PX else Shape.WIDE)
    is_banded = run is not None and run.members > 1
    layout = lay_out(circuit, chosen, is_banded=is_banded, has_run=run is not None, title=title)
    return _Picture(circuit, contents(circuit, run), layout).markup(width, turns_dark=turns_dark)


class _Picture:
    """Writes down one layout."""

    def __init__(self, circuit: Circuit, held: Contents, layout: Layout) -> None:
        self.circuit = circuit
        self.held = held
        self.layout = layout
        self.sizes = measures(layout.shape, is_banded=True)
        fingerprint = zlib.crc32(repr((circuit.name, layout.shape, held)).encode())
        self.key = f"ullage-{fingerprint:08x}"

    def markup(self, width: int, *, turns_dark: bool) -> str:
        """Return the whole SVG."""
        layout = self.layout
        content = [
            tag("title", [escaped(f"Circuit: {self.circuit.name}")], id=f"{self.key}-title"),
            tag("desc", [escaped(self._told())], id=f"{self.key}-desc"),
        ]
        if turns_dark:
            content.append(tag("style", [dark_rules(f"#{self.key}")]))
        content.append(tag("rect", width=layout.width, height=layout.height, fill=DAYLIGHT.paper))
        content += self._marks()
        content += self._labels()
        return tag(
            "svg",
            content,
            xmlns="http://www.w3.org/2000/svg",
            id=self.key,
            viewBox=f"0 0 {number(layout.width)} {number(layout.height)}",
            width=width,
            height=width * layout.height / layout.width,
            style="max-width:100%;height:auto",
            role="img",
            aria_labelledby=f"{self.key}-title {self.key}-desc",
            font_family=SANS,
            font_variant_numeric="tabular-nums",
        )

    def _told(self) -> str:
        """Return the whole drawing as a text, for readers who can't see it."""
        parts = "; ".join(f"{part}: {held.told()}" for part, held in self.held.parts.items())
        return f"{self.held.sentence()} By part: {parts}."

    def _marks(self) -> Iterator[str]:
        """Yield fluid in the reservoir, wires, joints, then all symbols on top of them."""
        layout = self.layout
        tanks = [symbol for symbol in layout.symbols if symbol.kind is Kind.RESERVOIR]
        for tank in tanks:
            yield titled([self._level(tank), self._drawn(tank)], self._told_of(tank))
        for wire in layout.wires:
            yield _wire(wire)
        for tank in tanks:
            yield from self._dips(tank)
        for joint in layout.joints:
            yield tag("circle", cx=joint.x, cy=joint.y, r=2.6, fill=DAYLIGHT.ink)
        for symbol in layout.symbols:
            if symbol.kind is Kind.LEGEND:
                yield self._legend(symbol)
            elif symbol.kind is not Kind.RESERVOIR and symbol.kind is not Kind.CROSSING:
                yield titled([self._drawn(symbol)], self._told_of(symbol))

    def _labels(self) -> Iterator[str]:
        """Yield all words; what went to waste is told once, for all diverters together."""
        words = Words(contents=self.held, row=self.sizes.row)
        has_told = False
        for label in self.layout.labels:
            yield from words.written(label, tells_waste=not has_told)
            has_told = has_told or label.role is Role.WASTE

    def _drawn(self, symbol: Symbol) -> str:
        """Return a symbol in its colours."""
        return symbol_markup(symbol, self._paint(symbol))

    def _paint(self, symbol: Symbol) -> Paint:
        """Return the colours of a symbol."""
        if symbol.kind is Kind.WASTE:
            share = self.held.waste_old_share
            shares = [] if share is None else [share]
        else:
            shares = [
                held.old.middle
                for part in symbol.parts
                if (held := self.held.parts.get(part)) is not None and held.old is not None
            ]
        return Paint(
            fills=tuple(ramp.fluid_colour(share) for share in shares),
            inks=tuple(ramp.ink_on(share) for share in shares),
        )

    def _told_of(self, symbol: Symbol) -> str:
        """Return what a symbol says when it is pointed at."""
        if symbol.kind is Kind.PILOT_CHECK:
            leg = self.circuit.leg_by_id[symbol.parts[0].removesuffix(".line")]
            if leg.opens_with:
                return f"{symbol.kind.value}, opens with {leg.opens_with}"
        told = "; ".join(
            f"{part}: {self.held.parts[part].told()}"
            for part in symbol.parts
            if part in self.held.parts
        )
        return f"{symbol.kind.value}, {told}" if told else symbol.kind.value

    # --- the reservoir ------------------------------------------------------------------------

    def _surface(self, tank: Symbol) -> float:
        """Return the y of the fluid's surface in the reservoir."""
        brim = self.circuit.reservoir.brim_m3.best
        fluid = self.held.parts["reservoir"].fluid_m3
        filled = min(max(fluid / brim, 0.0), 1.0) if brim > 0.0 else 0.0
        return tank.box.bottom - filled * (tank.box.height - 3.0)

    def _level(self, tank: Symbol) -> str:
        """Return the fluid in the reservoir up to its level."""
        old = self.held.parts["reservoir"].old
        box, surface = tank.box, self._surface(tank)
        fill = DAYLIGHT.wash if old is None else ramp.fluid_colour(old.middle)
        fluid = tag(
            "rect",
            x=box.x,
            y=surface,
            width=box.width,
            height=box.bottom - surface,
            fill=fill,
        )
        line = tag(
            "line",
            x1=box.x,
            x2=box.right,
            y1=surface,
            y2=surface,
            stroke=DAYLIGHT.ink,
            stroke_width=1.0,
        )
        return fluid + line

    def _dips(self, tank: Symbol) -> Iterator[str]:
        """Yield what reaches into the reservoir once more, in ink that stands out there."""
        old = self.held.parts["reservoir"].old
        if old is None:
            return
        surface = self._surface(tank)
        for wire in self.layout.wires:
            first, last = wire.corners[0], wire.corners[-1]
            if first.x == last.x and surface < last.y < tank.box.bottom:
                yield tag(
                    "line",
                    x1=first.x,
                    x2=last.x,
                    y1=surface,
                    y2=last.y,
                    stroke=ramp.ink_on(old.middle),
                    stroke_width=1.6,
                )

    def _legend(self, symbol: Symbol) -> str:
        """Return the ramp with the whole circuit's mark."""
        remaining = self.held.remaining
        return legend(
            symbol.box,
            key=self.key,
            size=self.sizes.small_size,
            remaining=None if remaining is None else remaining.middle,
        )


def _wire(wire: Wire) -> str:
    """Return a wire, with a head at its end if it has one."""
    corners = [(corner.x, corner.y) for corner in wire.corners]
    line = tag(
        "polyline",
        points=points(corners),
        fill="none",
        stroke=DAYLIGHT.ink,
        stroke_width=1.1 if wire.is_pilot else 1.6,
        stroke_linejoin="round",
        stroke_linecap=None if wire.is_pilot or wire.arrow else "square",
        stroke_dasharray="4 3" if wire.is_pilot else None,
    )
    if not wire.arrow:
        return line
    (x0, y0), (x, y) = corners[-2], corners[-1]
    length = max(abs(x - x0) + abs(y - y0), 1e-9)
    dx, dy = (x - x0) / length, (y - y0) / length
    back_x, back_y = x - 7.0 * dx, y - 7.0 * dy
    head = (
        (x, y),
        (back_x - 3.2 * dy, back_y + 3.2 * dx),
        (back_x + 3.2 * dy, back_y - 3.2 * dx),
    )
    return line + tag("polygon", points=points(head), fill=DAYLIGHT.ink)
