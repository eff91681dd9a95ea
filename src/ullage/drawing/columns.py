"""How do the parts of a column stand above each other?

The rising column begins at the reservoir and goes up, the falling one begins at the storeys and
goes down to the reservoir. Each part has a slot with its symbol on the column's line and its
words beside it; between slots lie junctions where other ways may leave or join. Lines fill their
slots, so that the column reads as one pipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from ullage.drawing.lettering import folded
from ullage.drawing.measures import Measures
from ullage.drawing.outriggers import line_thickness
from ullage.drawing.placed import Anchor, Box, Flow, Kind, Label, Point, Role, Symbol
from ullage.drawing.sheet import Sheet
from ullage.drawing.storeys import TANK_IN, TANK_OUT, Item

_JUNCTION = 14.0
_CAN = 30.0
_SHAFT = 10.0


@dataclass(kw_only=True)
class Column:
    """The slots of one column from the storeys down, and where everything came to stand."""

    items: tuple[Item, ...]
    sizes: Measures
    thickness: dict[str, float]
    is_rising: bool
    slots: tuple[float, ...]
    junctions: dict[str, Point] = field(default_factory=dict)
    junctions_before: dict[str, Point] = field(default_factory=dict)
    symbols: dict[str, Box] = field(default_factory=dict)
    foot: Point = field(default_factory=lambda: Point(x=0.0, y=0.0))

    @property
    def height(self) -> float:
        """Return the least height of the column with its junctions."""
        return sum(self.slots) + _JUNCTION * (len(self.slots) + 1)

    def place(
        self, sheet: Sheet, x: float, top: float, base: float, room: float, *, is_left: bool
    ) -> None:
        """Stand the column between the storeys at ``top`` and the reservoir at ``base``."""
        spare = max(0.0, base - top - self.height)
        stretchable = [i for i, item in enumerate(self.items) if item.kind is Kind.LINE]
        more = spare / len(stretchable) if stretchable else 0.0
        gap = _JUNCTION + (0.0 if stretchable else spare / (len(self.items) + 1))
        heights = [slot + (more if i in stretchable else 0.0) for i, slot in enumerate(self.slots)]
        y = top
        ends: list[tuple[float, float]] = []
        for item, height in zip(self.items, heights, strict=True):
            slot = Box(x=x, y=y + gap, width=0.0, height=height)
            ends.append(self._stand(sheet, item, slot, room, is_left=is_left))
            y = slot.bottom
        self._join(sheet, x, top, base, gap, heights, ends)

    def _join(
        self,
        sheet: Sheet,
        x: float,
        top: float,
        base: float,
        gap: float,
        heights: list[float],
        ends: list[tuple[float, float]],
    ) -> None:
        """Connect the slots and note the junctions between them."""
        names = [item.id for item in self.items]
        levels = [top]
        y = top
        for height in heights:
            y += gap + height
            levels.append(y + gap / 2.0)
        levels[-1] = base
        order = [*reversed(names)] if self.is_rising else names
        places = [*reversed(levels)] if self.is_rising else levels
        chain = [TANK_OUT, *order] if self.is_rising else [*order, TANK_IN]
        for i, name in enumerate(chain):
            at = Point(x=x, y=places[i])
            if self.is_rising:
                self.junctions[name] = at
                if i + 1 < len(chain):
                    self.junctions_before[chain[i + 1]] = at
            else:
                self.junctions_before[name] = at
                if i > 0:
                    self.junctions[chain[i - 1]] = at
        for (_, below), (above, _) in pairwise(ends):
            sheet.wire([Point(x=x, y=below), Point(x=x, y=above)])
        self.foot = Point(x=x, y=ends[-1][1] if ends else top)
        if ends:
            sheet.wire([Point(x=x, y=top), Point(x=x, y=ends[0][0])])

    def _stand(
        self, sheet: Sheet, item: Item, slot: Box, room: float, *, is_left: bool
    ) -> tuple[float, float]:
        """Place one item in its slot; return where its symbol begins and ends."""
        sizes = self.sizes
        side = sizes.symbol
        x, y = slot.x, slot.middle.y
        words_right = is_left != (sizes.shape.value == "wide")
        if item.kind is Kind.LINE:
            thickness = self.thickness[item.id]
            box = Box(x=x - thickness / 2.0, y=slot.y, width=thickness, height=slot.height)
        elif item.kind is Kind.DIVERTER:
            thickness, square = 0.0, side / 2.0
            left = x - square / 2.0 - (square if words_right else 0.0)
            box = Box(x=left, y=y - square / 2.0, width=side, height=square)
        elif item.kind in (Kind.PUMP, Kind.HAND_PUMP):
            thickness = 0.0
            left = x - side / 2.0 - (_SHAFT if words_right else 0.0)
            box = Box(x=left, y=y - side / 2.0, width=side + _SHAFT, height=side)
        else:
            thickness, box = 0.0, Box(x=x - side / 2.0, y=y - side / 2.0, width=side, height=side)
        flow = Flow.UP if self.is_rising else Flow.DOWN
        sheet.symbols.append(
            Symbol(
                kind=item.kind,
                box=box,
                parts=(item.part,) if item.part else (),
                flow=flow,
                thickness=thickness,
                is_mirrored=not words_right,
            )
        )
        self.symbols[item.id] = box
        edge = side / 2.0 + 8.0
        if item.kind is Kind.DIVERTER:
            edge = self._can(sheet, box, y, words_right=words_right)
        self._words(sheet, item, Point(x=x, y=y), edge, room, words_right=words_right)
        return (box.y, box.bottom)

    def _can(self, sheet: Sheet, box: Box, y: float, *, words_right: bool) -> float:
        """Stand the waste can beside the diverter; return where words may begin."""
        near = 14.0
        port_x = box.right if words_right else box.x
        can_x = port_x + near if words_right else port_x - near - _CAN
        can = Box(x=can_x, y=y + 5.0, width=_CAN, height=_CAN)
        sheet.symbols.append(Symbol(kind=Kind.WASTE, box=can))
        middle = can.middle.x
        sheet.wire(
            [Point(x=port_x, y=y), Point(x=middle, y=y), Point(x=middle, y=can.y + 9.0)],
            arrow=True,
        )
        return self.sizes.symbol / 4.0 + near + _CAN + 6.0

    def _words(
        self, sheet: Sheet, item: Item, at: Point, edge: float, room: float, *, words_right: bool
    ) -> None:
        """Add an item's name and room for its figures."""
        sizes = self.sizes
        width = room - (edge - sizes.symbol / 2.0 - 8.0)
        names, rows, role = words_of(item, sizes, width, rows=sizes.side_rows)
        height = sizes.row * (len(names) + rows)
        x = at.x + edge if words_right else at.x - edge - width
        sheet.labels.append(
            Label(
                role=role,
                box=Box(x=x, y=at.y - height / 2.0, width=width, height=height),
                anchor=Anchor.START if words_right else Anchor.END,
                size=sizes.figure_size,
                rows=names,
                part=item.part,
            )
        )


def words_of(
    item: Item, sizes: Measures, room: float, *, rows: int
) -> tuple[tuple[str, ...], int, Role]:
    """Return the words beside an item, how many rows of figures follow, and what they say."""
    if item.kind is Kind.DIVERTER:
        return ("diverter", "to waste"), 2, Role.WASTE
    if not item.part:
        return folded(item.kind.value, room, sizes.name_size), 0, Role.NAME
    role = Role.STACKED if rows == sizes.stacked_rows else Role.FIGURES
    return folded(item.part, room, sizes.name_size), rows, role


def column(
    items: Sequence[Item],
    sizes: Measures,
    volumes: dict[str, float],
    largest_m3: float,
    *,
    is_rising: bool,
) -> Column:
    """Return a column of items given in flow order, not yet placed."""
    from_top = tuple(reversed(items)) if is_rising else tuple(items)
    slots: list[float] = []
    for item in from_top:
        names, rows, _ = words_of(item, sizes, sizes.column_label, rows=sizes.side_rows)
        text = sizes.row * (len(names) + rows) + 6.0
        symbol = 0.0 if item.kind is Kind.LINE else sizes.symbol
        slots.append(max(text, symbol, 2.0 * (_CAN + 6.0) if item.kind is Kind.DIVERTER else 0.0))
    return Column(
        items=from_top,
        sizes=sizes,
        thickness={
            item.id: line_thickness(volumes[item.id], largest_m3, sizes)
            for item in items
            if item.kind is Kind.LINE
        },
        is_rising=is_rising,
        slots=tuple(slots),
    )
