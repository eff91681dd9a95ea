"""Where does everything in a drawing of a circuit stand?

Pure geometry: a circuit becomes boxes, labels and wires in drawing units. Upright, for a phone,
the storeys lie on top of the two columns and galleries stand on them; wide, for a laptop, the
storeys lie between the columns and galleries hang from them. Nothing overlaps, whatever the
circuit; the tests hold that. Which colours and figures appear is ``circuit_svg``'s business."""

from __future__ import annotations

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, line_volume_m3
from ullage.drawing.columns import Column, column
from ullage.drawing.lettering import SERIF_BOLD, folded
from ullage.drawing.measures import Measures, measures
from ullage.drawing.placed import (
    Anchor,
    Box,
    Kind,
    Label,
    Layout,
    Point,
    Role,
    Shape,
    Symbol,
)
from ullage.drawing.routes import Key, Route, Side, Tracks, route_all
from ullage.drawing.rows import Row, rows_of
from ullage.drawing.sheet import Sheet
from ullage.drawing.storeys import TANK_IN, TANK_OUT, Storeys, arrange

_TANK_HEIGHT = 66.0
_TANK_WIDE = 360.0
_BEFORE_TANK = 14.0
_LEGEND = 44.0
_BETWEEN_WORDS = 5.0


def lay_out(
    circuit: Circuit, shape: Shape, *, is_banded: bool, has_run: bool, title: str | None = None
) -> Layout:
    """Return the drawing of a circuit for a shape.

    ``title`` None is the circuit's name. ``is_banded`` leaves room for a band under each share,
    ``has_run`` for the sentence and the legend."""
    sizes = measures(shape, is_banded=is_banded)
    return _Drawing(circuit, sizes, title or circuit.name, has_run=has_run).finished()


class _Drawing:
    """Places one circuit, from the top of the sheet down."""

    def __init__(self, circuit: Circuit, sizes: Measures, title: str, *, has_run: bool) -> None:
        self.circuit = circuit
        self.sizes = sizes
        self.has_run = has_run
        self.title = title
        self.is_wide = sizes.shape is Shape.WIDE
        self.storeys: Storeys = arrange(circuit)
        self.sheet = Sheet()
        lines = [*circuit.lines, *(leg.line for leg in circuit.legs)]
        volumes = {line.id: float(line_volume_m3(line, Numbers())[0]) for line in lines}
        self.volumes = volumes
        self.largest_m3 = max(volumes.values(), default=0.0)
        self.rise = self._column(self.storeys.rise, is_rising=True)
        self.fall = self._column(self.storeys.fall, is_rising=False)
        self._across()

    def _column(self, items: tuple[str, ...], *, is_rising: bool) -> Column:
        """Return the slots of one column, not yet placed."""
        return column(
            [self.storeys.items[item] for item in items],
            self.sizes,
            self.volumes,
            self.largest_m3,
            is_rising=is_rising,
        )

    # --- across the sheet ---------------------------------------------------------------------

    def _across(self) -> None:
        """Settle the width: rows are packed, tracks are counted, then columns and tracks get
        their x."""
        sizes = self.sizes
        half = sizes.symbol / 2.0 + 10.0
        outer = sizes.margin + (
            sizes.column_label + 8.0 + sizes.symbol / 2.0 if self.is_wide else half
        )
        inner = half + 14.0 if self.is_wide else 16.0
        room = sizes.width - 2.0 * (outer + inner)
        pack = rows_of(self.circuit, self.storeys, sizes, self.volumes, self.largest_m3, room)
        self.rows: tuple[Row, ...] = pack
        self.tracks: Tracks = route_all(self.storeys, tuple(row.items for row in pack))
        free = self._free_keys()
        beside = {
            side: [key for key in self.tracks.beside[side] if key not in free]
            for side in (Side.LEFT, Side.RIGHT)
        }
        more = {side: sizes.track * len(keys) for side, keys in beside.items()}
        is_open = [not self.is_wide and i == self._order()[0] for i in range(len(pack))]
        widths = list(zip(is_open, (row.width for row in pack), strict=True))
        widest = max((width for opened, width in widths if not opened), default=0.0)
        open_widest = max((width for opened, width in widths if opened), default=0.0)
        need = widest + 2.0 * (outer + inner) + more[Side.LEFT] + more[Side.RIGHT]
        if not self.is_wide:
            words = sizes.symbol / 2.0 + 8.0 + sizes.column_label + _BETWEEN_WORDS
            need = max(need, 2.0 * (outer + max(more.values()) + words))
        self.width = max(sizes.width, need, open_widest + 2.0 * sizes.margin)
        shift = 0.0 if self.is_wide else 1.0
        self.x_left = outer + shift * more[Side.LEFT]
        self.x_right = self.width - outer - shift * more[Side.RIGHT]
        self.region = (
            self.x_left + inner + (1.0 - shift) * more[Side.LEFT],
            self.x_right - inner - (1.0 - shift) * more[Side.RIGHT],
        )
        self.x_of: dict[Key, float] = {}
        for side, keys in beside.items():
            for i, key in enumerate(keys):
                self.x_of[key] = self._track_x(side, i, half)
        for key, x in free.items():
            self.x_of[key] = self.x_left if x is Side.LEFT else self.x_right

    def _free_keys(self) -> dict[Key, Side]:
        """Return the tracks that go straight on from the ends of the columns (upright only)."""
        rise, fall = self.storeys.rise, self.storeys.fall
        if self.is_wide:
            return {}
        return {
            ("out", rise[-1] if rise else TANK_OUT): Side.LEFT,
            ("in", fall[0] if fall else TANK_IN): Side.RIGHT,
        }

    def _track_x(self, side: Side, place: int, half: float) -> float:
        """Return the x of a track: upright outside of the columns, wide inside of them."""
        step = self.sizes.track * place
        if self.is_wide:
            offset = half + 8.0 + step
            return self.x_left + offset if side is Side.LEFT else self.x_right - offset
        near = self.sizes.margin + 3.0 + step
        return near if side is Side.LEFT else self.width - near

    # --- down the sheet -----------------------------------------------------------------------

    def finished(self) -> Layout:
        """Return the drawing."""
        top = self._header()
        bottom = self._place_rows(top)
        needed = max(self.rise.height, self.fall.height)
        if self.is_wide:
            start = self.rows[0].line_y if self.rows else top
            base = max(bottom + 10.0, start + needed)
        else:
            start = bottom + 6.0
            base = start + needed
        room = self._words_room(self.x_left)
        self.rise.place(self.sheet, self.x_left, start, base, room, is_left=True)
        room = self._words_room(self.width - self.x_right)
        self.fall.place(self.sheet, self.x_right, start, base, room, is_left=False)
        for row in self.rows:
            row.wire(self.sheet)
        for route in self.tracks.routes:
            self._draw(route)
        height = self._tank(base)
        return Layout(
            shape=self.sizes.shape,
            width=self.width,
            height=height,
            symbols=tuple(self.sheet.symbols),
            labels=tuple(self.sheet.labels),
            wires=self.sheet.merged(),
            joints=self.sheet.joints(),
        )

    def _words_room(self, away: float) -> float:
        """Return the room for words beside a column so far ``away`` from its edge of the sheet."""
        if self.is_wide:
            return self.sizes.column_label
        return self.width / 2.0 - _BETWEEN_WORDS - (away + self.sizes.symbol / 2.0 + 8.0)

    def _header(self) -> float:
        """Place title, sentence and legend; return where the drawing may begin."""
        sizes, sheet = self.sizes, self.sheet
        room = self.width - 2.0 * sizes.margin
        y = sizes.margin + 4.0
        legend_width = 380.0 if self.is_wide else room
        words = room - legend_width - 40.0 if self.is_wide and self.has_run else room
        titles = folded(self.title, words, SERIF_BOLD * sizes.title_size)
        title = Box(x=sizes.margin, y=y, width=words, height=1.3 * sizes.title_size * len(titles))
        sheet.labels.append(
            Label(
                role=Role.TITLE, box=title, anchor=Anchor.START, size=sizes.title_size, rows=titles
            )
        )
        rows = (2 if self.is_wide else 3) if self.has_run else 1
        summary = Box(
            x=sizes.margin,
            y=title.bottom + 4.0,
            width=words,
            height=rows * 1.3 * sizes.figure_size,
        )
        sheet.labels.append(
            Label(role=Role.SUMMARY, box=summary, anchor=Anchor.START, size=sizes.figure_size)
        )
        bottom = summary.bottom
        if self.has_run:
            x = self.width - sizes.margin - legend_width
            legend = Box(
                x=x,
                y=y if self.is_wide else summary.bottom + 6.0,
                width=legend_width,
                height=_LEGEND,
            )
            sheet.symbols.append(Symbol(kind=Kind.LEGEND, box=legend))
            bottom = max(bottom, legend.bottom)
        return bottom + 18.0

    def _place_rows(self, top: float) -> float:
        """Place the rows downwards; return the lower edge of the last one."""
        y = top
        order = self._order()
        for i in order:
            row = self.rows[i]
            gap = self.sizes.track * len(self.tracks.gaps.get(i, ()))
            gap += 5.0 if gap else 0.0
            left, right = self.region
            if not self.is_wide and i == order[0]:
                left, right = self.sizes.margin, self.width - self.sizes.margin
            above = gap if self.is_wide else 0.0
            said = row.place(self.sheet, (left + right) / 2.0, y, left, gap=above)
            edge = y + said + 4.0 if self.is_wide else row.bottom + 6.0
            for j, key in enumerate(self.tracks.gaps.get(i, ())):
                row.gap_y[key] = edge + self.sizes.track * j
            y = row.bottom + (0.0 if self.is_wide else gap) + 12.0
        return y

    def _order(self) -> tuple[int, ...]:
        """Return the rows from the top down; upright, the last row of the main storey is on top.

        That top row may use the whole width, because no track passes beside it.
        """
        main = [i for i, row in enumerate(self.rows) if row.run == 0]
        if self.is_wide:
            return tuple(range(len(self.rows)))
        return (*reversed(main), *(i for i in range(len(self.rows)) if i not in main))

    # --- connections --------------------------------------------------------------------------

    def _draw(self, route: Route) -> None:
        """Add the wire of a route."""
        start, end = route.edge.start, route.edge.end
        corners = list(self._leaving(start, route))
        here = corners[-1]
        goal = list(self._entering(end, route))
        if route.side is Side.LEVEL:
            corners.append(Point(x=goal[0].x, y=here.y))
        else:
            x = self.x_of[route.track]
            corners += [Point(x=x, y=here.y), Point(x=x, y=goal[0].y)]
        corners += goal
        self.sheet.wire(corners, arrow=route.gives_back)

    def _leaving(self, start: str, route: Route) -> tuple[Point, ...]:
        """Return the corners from an item to the height at which its wire goes sideways."""
        for columned in (self.rise, self.fall):
            if start in columned.junctions:
                return (columned.junctions[start],)
        row = next(row for row in self.rows if start in row.items)
        if route.gives_back:
            port = row.give_back_port(start)
            return (port, Point(x=port.x, y=row.gap_y[route.track]))
        exit_ = row.exits[start]
        if route.leaves_by is None:
            return (exit_,)
        aside = Point(x=row.exit_x(start), y=row.line_y)
        return (exit_, aside, Point(x=aside.x, y=row.gap_y[route.leaves_by]))

    def _entering(self, end: str, route: Route) -> tuple[Point, ...]:
        """Return the corners from the height at which a wire comes in to the item."""
        for columned in (self.rise, self.fall):
            if route.gives_back and end in columned.symbols:
                box = columned.symbols[end]
                x_track = self.x_of[route.track]
                x = box.right if x_track > box.middle.x else box.x
                return (Point(x=x, y=box.middle.y),)
            if end in columned.junctions_before:
                return (columned.junctions_before[end],)
        row = next(row for row in self.rows if end in row.items)
        if route.gives_back:
            into = row.give_back_entry(end)
            return (Point(x=into[0].x, y=row.gap_y[route.track]), *into)
        entry = row.entries[end]
        if route.enters_by is None:
            return (entry,)
        aside = Point(x=row.entry_x(end), y=row.line_y)
        return (Point(x=aside.x, y=row.gap_y[route.enters_by]), aside, entry)

    # --- the reservoir ------------------------------------------------------------------------

    def _tank(self, base: float) -> float:
        """Place the reservoir under the columns; return the height of the sheet."""
        sizes, sheet = self.sizes, self.sheet
        reach = 22.0
        if self.is_wide:
            middle = self.width / 2.0
            x, width = middle - _TANK_WIDE / 2.0, _TANK_WIDE
        else:
            x, width = self.x_left - reach, self.x_right - self.x_left + 2.0 * reach
        box = Box(x=x, y=base + _BEFORE_TANK, width=width, height=_TANK_HEIGHT)
        sheet.symbols.append(Symbol(kind=Kind.RESERVOIR, box=box, parts=("reservoir",)))
        inlet_x, outlet_x = (box.x + reach, box.right - reach)
        has_way_back = bool(self.storeys.fall) or any(
            edge.end == TANK_IN for edge in self.storeys.edges
        )
        deep = box.bottom - 8.0
        sheet.wire(
            [
                Point(x=inlet_x, y=deep),
                Point(x=inlet_x, y=base),
                Point(x=self.x_left, y=base),
                self.rise.foot,
            ]
        )
        if has_way_back:
            sheet.wire(
                [
                    self.fall.foot,
                    Point(x=self.x_right, y=base),
                    Point(x=outlet_x, y=base),
                    Point(x=outlet_x, y=deep - 8.0),
                ]
            )
        height = sizes.row * (1 + sizes.side_rows)
        label = Box(
            x=box.middle.x - min(width, 240.0) / 2.0,
            y=box.bottom + 4.0,
            width=min(width, 240.0),
            height=height,
        )
        sheet.labels.append(
            Label(
                role=Role.FIGURES,
                box=label,
                anchor=Anchor.MIDDLE,
                size=sizes.figure_size,
                rows=("reservoir",),
                part="reservoir",
            )
        )
        return label.bottom + sizes.margin + 4.0
