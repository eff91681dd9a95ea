"""What is a drawing made of once everything has its place?

Boxes with a symbol in them, labels, wires and joints, as plain values in drawing units with x to
the right and y down. Which colour and which figures they get is ``circuit_svg``'s business."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Shape(StrEnum):
    """For which room a drawing is laid out."""

    UPRIGHT = "upright"
    WIDE = "wide"


class Kind(StrEnum):
    """Which symbol stands in a box."""

    RESERVOIR = "reservoir"
    PUMP = "pump"
    HAND_PUMP = "hand pump"
    FILTER = "filter"
    COOLER = "cooler"
    VESSEL = "vessel"
    GALLERY = "gallery"
    LINE = "line"
    DIVERTER = "diverter"
    WASTE = "waste"
    CYLINDER = "cylinder"
    PAIR = "double-acting cylinder"
    ACCUMULATOR = "accumulator"
    POCKET = "dead end"
    CHECK = "check valve"
    PILOT_CHECK = "pilot-operated check valve"
    CONTROLLED = "valve of a controller"
    GAS = "gas volume"
    END = "closed end"
    CROSSING = "crossing"
    LEGEND = "legend"


class Flow(StrEnum):
    """Where fluid goes through a symbol, or where a leg's line leads, seen from its root."""

    UP = "up"
    DOWN = "down"
    RIGHT = "right"
    LEFT = "left"


class Role(StrEnum):
    """What a label says."""

    TITLE = "title"
    SUMMARY = "summary"
    CAPTION = "caption"
    NAME = "name"
    FIGURES = "figures"
    STACKED = "stacked figures"
    WASTE = "waste"


class Anchor(StrEnum):
    """Which end of a text stands at its x."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A place on the paper."""

    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle on the paper; x and y are its upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Return the x of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Return the y of the lower edge."""
        return self.y + self.height

    @property
    def middle(self) -> Point:
        """Return the centre."""
        return Point(x=self.x + self.width / 2.0, y=self.y + self.height / 2.0)

    def overlaps(self, other: Box, slack: float = 0.01) -> bool:
        """Tell whether two rectangles share more than an edge."""
        return (
            self.x < other.right - slack
            and other.x < self.right - slack
            and self.y < other.bottom - slack
            and other.y < self.bottom - slack
        )

    def moved(self, dx: float, dy: float) -> Box:
        """Return the rectangle at another place."""
        return Box(x=self.x + dx, y=self.y + dy, width=self.width, height=self.height)


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """A symbol in its box. ``parts`` are the ids whose fluid it shows, in the order drawn."""

    kind: Kind
    box: Box
    parts: tuple[str, ...] = ()
    flow: Flow = Flow.UP
    thickness: float = 0.0
    has_bleed: bool = False
    is_mirrored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Room for a text. ``rows`` are words known beforehand; figures of ``part`` come below them.

    ``box`` covers rows and figures together; ``on`` is the part whose fluid lies under the text.
    """

    role: Role
    box: Box
    anchor: Anchor
    size: float
    rows: tuple[str, ...] = ()
    part: str = ""
    on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """A connection without a volume of its own. ``arrow`` puts a head at its last corner."""

    corners: tuple[Point, ...]
    is_pilot: bool = False
    arrow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A whole drawing: its size and everything on it. ``joints`` are dots where wires meet."""

    shape: Shape
    width: float
    height: float
    symbols: tuple[Symbol, ...]
    labels: tuple[Label, ...]
    wires: tuple[Wire, ...]
    joints: tuple[Point, ...]
