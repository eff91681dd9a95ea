"""How do legs stand out from the node that feeds them?

The node is an upright gallery; its actuators stand beside it like the outriggers of a machine,
each at the end of its line. Names with "left" or "right" in them go to their side, the others to
the side with less on it. Coordinates count from the gallery's upper left corner; what it stands
on is ``layout``'s business."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg
from ullage.circuit.volumes import Numbers, line_volume_m3
from ullage.drawing.lettering import folded
from ullage.drawing.measures import Measures
from ullage.drawing.placed import Anchor, Box, Flow, Kind, Label, Point, Role, Symbol, Wire
from ullage.drawing.storeys import legs_of

_VALVE = 17.0
_LEAD = 4.0
_GAS = 15.0
_GAS_HEIGHT = 26.0
_PILOT_LIFT = 8.0
_BLEED = 10.0
_ROD = 12.0
_BETWEEN = 12.0
_VALVE_KINDS = {
    HeldBy.CHECK: Kind.CHECK,
    HeldBy.PILOT: Kind.PILOT_CHECK,
    HeldBy.CONTROLLER: Kind.CONTROLLED,
}


@dataclass(kw_only=True)
class Cell:
    """One actuator with its line, drawn as if it stood to the right of the gallery's edge."""

    symbols: list[Symbol] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    height: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A gallery with everything that stands out from it; x is 0 at the gallery's left edge.

    ``left`` and ``right`` say how far it reaches beyond the gallery's edges.
    """

    symbols: tuple[Symbol, ...]
    labels: tuple[Label, ...]
    wires: tuple[Wire, ...]
    left: float
    right: float
    height: float


def line_thickness(volume_m3: float, largest_m3: float, sizes: Measures) -> float:
    """Return how thick a line is drawn: in proportion to its volume, but never too thin to see."""
    if largest_m3 <= 0.0:
        return sizes.thinnest
    return max(sizes.thinnest, sizes.thickest * volume_m3 / largest_m3)


def block(circuit: Circuit, node: str, sizes: Measures, largest_m3: float) -> Block:
    """Return the gallery of a node with its outriggers."""
    stacks: dict[Flow, list[Cell]] = {Flow.LEFT: [], Flow.RIGHT: []}
    units = legs_of(circuit, node)
    lift = max(_lift(leg) for unit in units for leg in unit)
    for unit in units:
        cell = _cell(unit, sizes, largest_m3, lift)
        stacks[_side(unit, stacks)].append(cell)
    reach = sizes.leg_line + sizes.cylinder
    heights = {
        side: sum(cell.height for cell in cells) + _BETWEEN * max(0, len(cells) - 1)
        for side, cells in stacks.items()
    }
    names = folded(node, sizes.gallery - 8.0, sizes.name_size, most=3, bold=True)
    text = sizes.row * (len(names) + sizes.stacked_rows)
    height = max(*heights.values(), text + 16.0)
    gallery = Box(x=0.0, y=0.0, width=sizes.gallery, height=height)
    symbols = [Symbol(kind=Kind.GALLERY, box=gallery, parts=(node,))]
    labels = [
        Label(
            role=Role.STACKED,
            box=Box(x=4.0, y=(height - text) / 2.0, width=sizes.gallery - 8.0, height=text),
            anchor=Anchor.MIDDLE,
            size=sizes.figure_size,
            rows=names,
            part=node,
            on=node,
        )
    ]
    wires: list[Wire] = []
    for side, cells in stacks.items():
        top = 0.0
        for cell in cells:
            _put(cell, side, top, sizes.gallery, symbols, labels, wires)
            top += cell.height + _BETWEEN
    return Block(
        symbols=tuple(symbols),
        labels=tuple(labels),
        wires=tuple(wires),
        left=reach if stacks[Flow.LEFT] else 0.0,
        right=reach if stacks[Flow.RIGHT] else 0.0,
        height=height,
    )


def _side(unit: tuple[Leg, ...], stacks: dict[Flow, list[Cell]]) -> Flow:
    """Return the side an actuator stands on."""
    name = unit[0].id
    if ("left" in name) != ("right" in name):
        return Flow.LEFT if "left" in name else Flow.RIGHT
    tall = {side: sum(cell.height for cell in cells) for side, cells in stacks.items()}
    return Flow.LEFT if tall[Flow.LEFT] <= tall[Flow.RIGHT] else Flow.RIGHT


def _lift(leg: Leg) -> float:
    """Return the room that a leg needs between its name and its line."""
    pilot = _PILOT_LIFT if leg.held_by is HeldBy.PILOT else 0.0
    return pilot + (_GAS_HEIGHT if _has_gas_beside(leg) else 0.0)


def _has_gas_beside(leg: Leg) -> bool:
    """Tell whether a gas volume stands beside a chamber that moves."""
    return leg.gas is not None and leg.stroke_m3.best > 0.0


def _cell(unit: tuple[Leg, ...], sizes: Measures, largest_m3: float, lift: float) -> Cell:
    """Return the drawing of one actuator; ``lift`` is the room above its lines."""
    if len(unit) == 2:
        return _pair(unit, sizes, largest_m3, lift)
    (leg,) = unit
    if leg.stroke_m3.best > 0.0:
        return _single(leg, sizes, largest_m3, Kind.CYLINDER, lift)
    if leg.gas is None:
        return _single(leg, sizes, largest_m3, Kind.POCKET, lift)
    return _accumulator(leg, sizes, largest_m3)


def _chamber_text(sizes: Measures) -> float:
    """Return the height of the figures inside a chamber."""
    return sizes.row * sizes.stacked_rows


def _single(leg: Leg, sizes: Measures, largest_m3: float, kind: Kind, lift: float) -> Cell:
    """Return a leg with one chamber at the end of its line."""
    cell = Cell()
    y = _line(cell, leg, sizes, largest_m3, top=0.0, lift=lift)
    text = _chamber_text(sizes)
    bleed = _BLEED if leg.bleed else 0.0
    top = y - 15.0 - bleed
    body = text + 12.0
    height = bleed + (body + 46.0 + _ROD if kind is Kind.CYLINDER else body)
    box = Box(x=sizes.leg_line, y=top, width=sizes.cylinder, height=height)
    _chamber(cell, leg, kind, box, Box(x=box.x, y=top + bleed, width=box.width, height=body), sizes)
    cell.height = max(cell.height, box.bottom)
    return cell


def _accumulator(leg: Leg, sizes: Measures, largest_m3: float) -> Cell:
    """Return a gas volume that stands on the end of its line, port below."""
    cell = Cell()
    bleed = _BLEED if leg.bleed else 0.0
    body = 2.0 * (_chamber_text(sizes) + 12.0)
    words = sizes.row * (2 + sizes.stacked_rows)
    y = max(body + bleed + 10.0, words + 14.0)
    _line(cell, leg, sizes, largest_m3, top=0.0, at=y)
    box = Box(
        x=sizes.leg_line, y=y - 10.0 - body - bleed, width=sizes.cylinder, height=body + bleed
    )
    lower = Box(x=box.x, y=box.bottom - body / 2.0, width=box.width, height=body / 2.0 - 4.0)
    _chamber(cell, leg, Kind.ACCUMULATOR, box, lower, sizes)
    middle = box.middle.x
    corners = (Point(x=sizes.leg_line, y=y), Point(x=middle, y=y), Point(x=middle, y=box.bottom))
    cell.wires.append(Wire(corners=corners))
    cell.height = max(cell.height, y + 8.0)
    return cell


def _pair(unit: tuple[Leg, ...], sizes: Measures, largest_m3: float, lift: float) -> Cell:
    """Return a cylinder with a leg on either side of its piston."""
    cell = Cell()
    first, second = unit
    upper = _line(cell, first, sizes, largest_m3, top=0.0, lift=lift)
    lower = _line(cell, second, sizes, largest_m3, top=cell.height + 4.0, lift=lift)
    text = _chamber_text(sizes)
    half = max(text + 10.0, (lower - upper) / 2.0 + 14.0)
    middle = (upper + lower) / 2.0
    bleed = _BLEED if first.bleed or second.bleed else 0.0
    top = middle - half - 3.0 - bleed
    shift = max(0.0, -top)
    _shift(cell, shift)
    top += shift
    body = Box(x=sizes.leg_line, y=top + bleed, width=sizes.cylinder, height=2.0 * half + 6.0)
    box = Box(x=body.x, y=top, width=body.width, height=bleed + body.height + _ROD)
    cell.symbols.append(
        Symbol(
            kind=Kind.PAIR,
            box=box,
            parts=(f"{first.id}.chamber", f"{second.id}.chamber"),
            has_bleed=first.bleed or second.bleed,
        )
    )
    for leg, y in ((first, body.y), (second, body.y + half + 6.0)):
        cell.labels.append(_stacked(leg, Box(x=box.x, y=y, width=box.width, height=half), sizes))
    cell.height = max(cell.height, box.bottom)
    return cell


def _shift(cell: Cell, dy: float) -> None:
    """Move everything drawn so far down."""
    if dy > 0.0:
        moved = Cell()
        _put(cell, Flow.RIGHT, dy, 0.0, moved.symbols, moved.labels, moved.wires)
        cell.symbols, cell.labels, cell.wires = moved.symbols, moved.labels, moved.wires
        cell.height += dy


def _chamber(cell: Cell, leg: Leg, kind: Kind, box: Box, around: Box, sizes: Measures) -> None:
    """Add a chamber and the figures on it."""
    cell.symbols.append(
        Symbol(kind=kind, box=box, parts=(f"{leg.id}.chamber",), has_bleed=leg.bleed)
    )
    cell.labels.append(_stacked(leg, around, sizes))


def _stacked(leg: Leg, around: Box, sizes: Measures) -> Label:
    """Return the figures of a chamber, in the middle of the room that is theirs."""
    text = _chamber_text(sizes)
    chamber = f"{leg.id}.chamber"
    return Label(
        role=Role.STACKED,
        box=Box(
            x=around.x + 1.0,
            y=around.y + (around.height - text) / 2.0,
            width=around.width - 2.0,
            height=text,
        ),
        anchor=Anchor.MIDDLE,
        size=sizes.figure_size - 0.5,
        part=chamber,
        on=chamber,
    )


def _line(
    cell: Cell,
    leg: Leg,
    sizes: Measures,
    largest_m3: float,
    *,
    top: float,
    lift: float = 0.0,
    at: float | None = None,
) -> float:
    """Add a leg's name, its line with what stands in it, and the line's figures; return the
    line's y.

    Without ``at`` the figures stand below the line, else the line lies there and they stand above.
    """
    room = sizes.leg_line - 8.0
    names = folded(leg.id, room, sizes.name_size)
    valve = _VALVE_KINDS.get(leg.held_by)
    has_gas = _has_gas_beside(leg)
    half = max(_VALVE, sizes.thickest) / 2.0
    y = top + sizes.row * len(names) + 4.0 + lift + half if at is None else at
    volume = float(line_volume_m3(leg.line, Numbers())[0])
    thickness = line_thickness(volume, largest_m3, sizes)
    begin, end = 0.0, sizes.leg_line
    if valve is not None:
        begin = _LEAD + _VALVE
        cell.wires.append(Wire(corners=(Point(x=0.0, y=y), Point(x=_LEAD, y=y))))
        box = Box(x=_LEAD, y=y - _VALVE / 2.0, width=_VALVE, height=_VALVE)
        cell.symbols.append(Symbol(kind=valve, box=box, parts=(f"{leg.id}.line",), flow=Flow.RIGHT))
        if valve is Kind.PILOT_CHECK:
            above = y - _VALVE / 2.0
            corners = (
                Point(x=box.middle.x, y=above),
                Point(x=box.middle.x, y=above - 4.0),
                Point(x=0.0, y=above - 4.0),
            )
            cell.wires.append(Wire(corners=corners, is_pilot=True))
    if has_gas:
        end -= _GAS + 6.0
        middle = end + 3.0 + _GAS / 2.0
        lowest = y - 4.0
        box = Box(x=end + 3.0, y=lowest - _GAS_HEIGHT, width=_GAS, height=_GAS_HEIGHT)
        cell.symbols.append(Symbol(kind=Kind.GAS, box=box, parts=(f"{leg.id}.chamber",)))
        cell.wires.append(Wire(corners=(Point(x=end, y=y), Point(x=sizes.leg_line, y=y))))
        cell.wires.append(Wire(corners=(Point(x=middle, y=y), Point(x=middle, y=lowest))))
    band = Box(x=begin, y=y - thickness / 2.0, width=end - begin, height=thickness)
    cell.symbols.append(
        Symbol(
            kind=Kind.LINE,
            box=band,
            parts=(f"{leg.id}.line",),
            flow=Flow.RIGHT,
            thickness=thickness,
        )
    )
    figures = sizes.row * sizes.stacked_rows
    name_height = sizes.row * len(names)
    cell.labels.append(
        Label(
            role=Role.NAME,
            box=Box(x=4.0, y=top, width=room, height=name_height),
            anchor=Anchor.START,
            size=sizes.name_size,
            rows=names,
            part=leg.id,
        )
    )
    below = y + half + 1.0 if at is None else top + name_height
    cell.labels.append(
        Label(
            role=Role.STACKED,
            box=Box(x=4.0, y=below, width=room, height=figures),
            anchor=Anchor.START,
            size=sizes.figure_size,
            part=f"{leg.id}.line",
        )
    )
    cell.height = max(cell.height, below + figures)
    return y


def _put(
    cell: Cell,
    side: Flow,
    top: float,
    edge: float,
    symbols: list[Symbol],
    labels: list[Label],
    wires: list[Wire],
) -> None:
    """Add a cell at its side of a gallery whose right edge is at ``edge``."""
    is_left = side is Flow.LEFT

    def box(old: Box) -> Box:
        x = -old.x - old.width if is_left else edge + old.x
        return Box(x=x, y=old.y + top, width=old.width, height=old.height)

    def point(old: Point) -> Point:
        return Point(x=-old.x if is_left else edge + old.x, y=old.y + top)

    flip = {Flow.RIGHT: Flow.LEFT, Flow.LEFT: Flow.RIGHT} if is_left else {}
    swap = {Anchor.START: Anchor.END, Anchor.END: Anchor.START} if is_left else {}
    for symbol in cell.symbols:
        flow = flip.get(symbol.flow, symbol.flow)
        symbols.append(replace(symbol, box=box(symbol.box), flow=flow))
    for label in cell.labels:
        anchor = swap.get(label.anchor, label.anchor)
        labels.append(replace(label, box=box(label.box), anchor=anchor))
    for wire in cell.wires:
        wires.append(replace(wire, corners=tuple(point(corner) for corner in wire.corners)))
