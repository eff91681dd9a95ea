"""How do the parts of a storey stand beside each other?

A storey is one row, or several where it is too long for the sheet. Its line runs level; lines,
vessels and the rest stand on it with their words below; galleries stand on it (upright) or hang
from it (wide). Beside the line, on the side away from the galleries, lies a gap for connections."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from ullage.circuit.network import Circuit
from ullage.drawing.columns import words_of
from ullage.drawing.lettering import folded
from ullage.drawing.measures import Measures
from ullage.drawing.outriggers import Block, block, line_thickness
from ullage.drawing.placed import Anchor, Box, Flow, Kind, Label, Point, Role, Shape, Symbol
from ullage.drawing.routes import Key
from ullage.drawing.sheet import Sheet
from ullage.drawing.storeys import Item, Storeys

_BETWEEN = 16.0
_ASIDE = 5.0
_STEM = 12.0
_PORT = 14.0
_CAN = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """How far an item reaches: across, above the row's line, and below it."""

    width: float
    above: float
    below: float


@dataclass(kw_only=True)
class Row:
    """One row of a storey and where everything in it came to stand."""

    run: int
    items: tuple[str, ...]
    caption: str
    extents: tuple[Extent, ...]
    sizes: Measures
    storeys: Storeys
    blocks: dict[str, Block]
    thickness: dict[str, float]
    line_y: float = 0.0
    bottom: float = 0.0
    entries: dict[str, Point] = field(default_factory=dict)
    exits: dict[str, Point] = field(default_factory=dict)
    cells: dict[str, Box] = field(default_factory=dict)
    symbols: dict[str, Box] = field(default_factory=dict)
    gap_y: dict[Key, float] = field(default_factory=dict)

    @property
    def width(self) -> float:
        """Return the width of the row."""
        return sum(extent.width for extent in self.extents) + _BETWEEN * (len(self.items) - 1)

    def place(self, sheet: Sheet, middle: float, top: float, left: float, *, gap: float) -> float:
        """Place the row around a middle, its upper edge at ``top``; return the caption's height.

        ``gap`` is the room for connections between the caption and the row.
        """
        said = self._say(sheet, top, left, 2.0 * (middle - left)) if self.caption else 0.0
        top += said + gap
        above = max(extent.above for extent in self.extents)
        below = max(extent.below for extent in self.extents)
        self.line_y = top + above
        self.bottom = self.line_y + below
        x = middle - self.width / 2.0
        for item, extent in zip(self.items, self.extents, strict=True):
            self.cells[item] = Box(x=x, y=top, width=extent.width, height=above + below)
            self._stand(sheet, self.storeys.items[item], self.cells[item])
            x += extent.width + _BETWEEN
        return said

    def wire(self, sheet: Sheet) -> None:
        """Connect neighbours."""
        for start, end in zip(self.items, self.items[1:], strict=False):
            a, b = self.exits[start], self.entries[end]
            y = self.line_y
            sheet.wire([a, Point(x=a.x, y=y), Point(x=b.x, y=y), b])

    def exit_x(self, item: str) -> float:
        """Return where a wire may turn aside behind an item."""
        if item in self.blocks:
            return self.exits[item].x + _ASIDE + 3.0
        return self.cells[item].right + _ASIDE

    def entry_x(self, item: str) -> float:
        """Return where a wire may come in before an item."""
        if item in self.blocks:
            return self.entries[item].x - _ASIDE - 3.0
        return self.cells[item].x - _ASIDE

    def give_back_port(self, item: str) -> Point:
        """Return where a gallery lets out what its legs give back."""
        box = self.symbols[item]
        y = box.y if self.sizes.shape is Shape.WIDE else box.bottom
        return Point(x=box.middle.x, y=y)

    def give_back_entry(self, item: str) -> tuple[Point, ...]:
        """Return the way into an item that takes what legs give back.

        Wide, it leads into the symbol from above; upright, words are in the way there, and it
        joins the row's line before the item."""
        box = self.symbols[item]
        if self.sizes.shape is Shape.WIDE and item not in self.blocks:
            return (Point(x=box.middle.x, y=box.y),)
        return (Point(x=self.entry_x(item), y=self.line_y), self.entries[item])

    def _say(self, sheet: Sheet, top: float, left: float, room: float) -> float:
        """Write above the row what is special about its path; return the height that takes."""
        sizes = self.sizes
        rows = folded(self.caption, room, sizes.small_size)
        height = sizes.row * len(rows)
        sheet.labels.append(
            Label(
                role=Role.CAPTION,
                box=Box(x=left, y=top, width=room, height=height),
                anchor=Anchor.MIDDLE,
                size=sizes.small_size,
                rows=rows,
            )
        )
        return height + 2.0

    def _stand(self, sheet: Sheet, item: Item, cell: Box) -> None:
        """Place one item of the row."""
        if item.kind is Kind.GALLERY:
            self._stand_block(sheet, item, cell)
            return
        sizes = self.sizes
        x, y = cell.middle.x, self.line_y
        half = sizes.symbol / 2.0
        if item.kind is Kind.CROSSING:
            self.entries[item.id] = self.exits[item.id] = Point(x=x, y=y)
            return
        if item.kind is Kind.LINE:
            thickness = self.thickness[item.id]
            box = Box(x=cell.x, y=y - thickness / 2.0, width=cell.width, height=thickness)
        elif item.kind is Kind.DIVERTER:
            thickness = 0.0
            box = Box(x=x - half / 2.0, y=y - 1.5 * half, width=half, height=2.0 * half)
        elif item.kind is Kind.END:
            thickness, box = 0.0, Box(x=x - 6.0, y=y - 6.0, width=12.0, height=12.0)
        else:
            thickness, box = 0.0, Box(x=x - half, y=y - half, width=2.0 * half, height=2.0 * half)
        sheet.symbols.append(
            Symbol(
                kind=item.kind,
                box=box,
                parts=(item.part,) if item.part else (),
                flow=Flow.RIGHT,
                thickness=thickness,
            )
        )
        self.symbols[item.id] = box
        self.entries[item.id] = Point(x=box.x, y=y)
        self.exits[item.id] = Point(x=box.right, y=y)
        words_top = y + half + 3.0
        if item.kind is Kind.DIVERTER:
            can = Box(x=x - _CAN / 2.0, y=y + 22.0, width=_CAN, height=_CAN)
            sheet.symbols.append(Symbol(kind=Kind.WASTE, box=can))
            sheet.wire([Point(x=x, y=box.bottom), Point(x=x, y=can.y + 8.0)], arrow=True)
            words_top = can.bottom + 3.0
        names, rows, role = words_of(item, sizes, cell.width, rows=sizes.item_rows)
        if item.kind is Kind.END:
            return
        sheet.labels.append(
            Label(
                role=role,
                box=Box(
                    x=cell.x, y=words_top, width=cell.width, height=sizes.row * (len(names) + rows)
                ),
                anchor=Anchor.MIDDLE,
                size=sizes.figure_size,
                rows=names,
                part=item.part,
            )
        )

    def _stand_block(self, sheet: Sheet, item: Item, cell: Box) -> None:
        """Stand a gallery on the row's line, or hang it from there."""
        unit = self.blocks[item.id]
        hangs = self.sizes.shape is Shape.WIDE
        dx = cell.x + unit.left
        dy = self.line_y + _STEM if hangs else self.line_y - _STEM - unit.height
        for symbol in unit.symbols:
            sheet.symbols.append(replace(symbol, box=symbol.box.moved(dx, dy)))
        for label in unit.labels:
            sheet.labels.append(replace(label, box=label.box.moved(dx, dy)))
        for wire in unit.wires:
            moved = tuple(Point(x=c.x + dx, y=c.y + dy) for c in wire.corners)
            sheet.wires.append(replace(wire, corners=moved))
        box = Box(x=dx, y=dy, width=self.sizes.gallery, height=unit.height)
        self.symbols[item.id] = box
        port_y = box.y if hangs else box.bottom
        inward, outward = box.x + _PORT, box.right - _PORT
        ends = {edge.end for edge in self.storeys.edges}, {e.start for e in self.storeys.edges}
        for x, joined in zip((inward, outward), ends, strict=True):
            if item.id not in joined:
                continue
            sheet.wire([Point(x=x, y=port_y), Point(x=x, y=self.line_y)])
        self.entries[item.id] = Point(x=inward, y=self.line_y)
        self.exits[item.id] = Point(x=outward, y=self.line_y)


def rows_of(
    circuit: Circuit,
    storeys: Storeys,
    sizes: Measures,
    volumes: dict[str, float],
    largest_m3: float,
    room: float,
) -> tuple[Row, ...]:
    """Return the rows of all storeys, the main one first, each as long as ``room`` lets it be."""
    blocks = {
        item.id: block(circuit, item.id, sizes, largest_m3)
        for item in storeys.items.values()
        if item.kind is Kind.GALLERY
    }
    thickness = {
        item.id: line_thickness(volumes[item.id], largest_m3, sizes)
        for item in storeys.items.values()
        if item.kind is Kind.LINE
    }
    rows: list[Row] = []
    for number, run in enumerate(storeys.runs):
        caption = run.caption
        for items in _broken(run.items, storeys, sizes, blocks, room):
            rows.append(
                Row(
                    run=number,
                    items=items,
                    caption=caption,
                    extents=tuple(_extent(storeys.items[i], sizes, blocks) for i in items),
                    sizes=sizes,
                    storeys=storeys,
                    blocks=blocks,
                    thickness=thickness,
                )
            )
            caption = ""
    return tuple(rows)


def _broken(
    items: tuple[str, ...], storeys: Storeys, sizes: Measures, blocks: dict[str, Block], room: float
) -> tuple[tuple[str, ...], ...]:
    """Return the items in rows that are no longer than ``room``, if single items are not."""
    widths = [_extent(storeys.items[item], sizes, blocks).width for item in items]
    longest = room
    rows = _filled(items, widths, longest)
    # Rows of about the same length read better than full ones with a rest behind them.
    while len(shorter := _filled(items, widths, longest - _BETWEEN)) == len(rows):
        if shorter == rows and longest < max(widths):
            break
        rows, longest = shorter, longest - _BETWEEN
    return rows


def _filled(
    items: tuple[str, ...], widths: list[float], room: float
) -> tuple[tuple[str, ...], ...]:
    """Return the items in rows, each filled as far as ``room`` goes."""
    rows: list[list[str]] = [[]]
    length = 0.0
    for item, width in zip(items, widths, strict=True):
        if rows[-1] and length + _BETWEEN + width > room:
            rows.append([])
            length = 0.0
        length += width + (_BETWEEN if rows[-1] else 0.0)
        rows[-1].append(item)
    return tuple(tuple(row) for row in rows)


def _extent(item: Item, sizes: Measures, blocks: dict[str, Block]) -> Extent:
    """Return how far an item reaches."""
    half = sizes.symbol / 2.0
    if item.kind is Kind.GALLERY:
        unit = blocks[item.id]
        tall = unit.height + _STEM
        is_wide = sizes.shape is Shape.WIDE
        return Extent(
            width=unit.left + sizes.gallery + unit.right,
            above=6.0 if is_wide else tall,
            below=tall if is_wide else 6.0,
        )
    if item.kind is Kind.CROSSING:
        return Extent(width=10.0, above=6.0, below=6.0)
    if item.kind is Kind.END:
        return Extent(width=12.0, above=8.0, below=8.0)
    names, rows, _ = words_of(item, sizes, sizes.item_label, rows=sizes.item_rows)
    text = sizes.row * (len(names) + rows) + 3.0
    can = 22.0 + _CAN - half if item.kind is Kind.DIVERTER else 0.0
    above = 1.5 * half if item.kind is Kind.DIVERTER else half
    return Extent(width=sizes.item_label, above=above, below=half + can + text)
