"""What has been drawn so far, and where wires meet?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ullage.drawing.placed import Label, Point, Symbol, Wire

_SAME = 0.05


@dataclass(kw_only=True)
class Sheet:
    """A drawing while it is made."""

    symbols: list[Symbol] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)

    def wire(self, corners: Sequence[Point], *, arrow: bool = False) -> None:
        """Add a wire without corners that change nothing."""
        kept: list[Point] = []
        for corner in corners:
            if kept and _near(kept[-1], corner):
                continue
            if len(kept) > 1 and _is_between(kept[-2], kept[-1], corner):
                kept.pop()
            kept.append(corner)
        if len(kept) > 1:
            self.wires.append(Wire(corners=tuple(kept), arrow=arrow))

    def merged(self) -> tuple[Wire, ...]:
        """Return the wires with every stretch once, although several connections share it."""
        kept = [wire for wire in self.wires if wire.arrow or wire.is_pilot]
        lanes: dict[tuple[bool, float], list[tuple[float, float]]] = {}
        for wire in self.wires:
            if wire.arrow or wire.is_pilot:
                continue
            for a, b in zip(wire.corners, wire.corners[1:], strict=False):
                is_level = abs(a.y - b.y) < _SAME
                low, high = sorted((a.x, b.x) if is_level else (a.y, b.y))
                key = (is_level, round(a.y if is_level else a.x, 1))
                lanes.setdefault(key, []).append((low, high))
        for (is_level, at), stretches in lanes.items():
            for low, high in _united(stretches):
                ends = (
                    (Point(x=low, y=at), Point(x=high, y=at))
                    if is_level
                    else (Point(x=at, y=low), Point(x=at, y=high))
                )
                kept.append(Wire(corners=ends))
        return tuple(kept)

    def joints(self) -> tuple[Point, ...]:
        """Return where a wire ends or turns on another one: there they are joined, not crossed."""
        found: list[Point] = []
        for wire in self.wires:
            for corner in wire.corners:
                meets = any(
                    _inside(a, b, corner)
                    for other in self.wires
                    if other is not wire
                    for a, b in zip(other.corners, other.corners[1:], strict=False)
                )
                if meets and not wire.is_pilot and not any(_near(corner, old) for old in found):
                    found.append(corner)
        return tuple(found)


def _united(stretches: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return stretches of one straight line, those that touch made one."""
    united: list[tuple[float, float]] = []
    for low, high in sorted(stretches):
        if united and low <= united[-1][1] + _SAME:
            united[-1] = (united[-1][0], max(united[-1][1], high))
        else:
            united.append((low, high))
    return united


def _near(one: Point, other: Point) -> bool:
    """Tell whether two places are the same."""
    return abs(one.x - other.x) < _SAME and abs(one.y - other.y) < _SAME


def _is_between(first: Point, middle: Point, last: Point) -> bool:
    """Tell whether the middle one of three corners lies on the straight way."""
    upright = abs(first.x - middle.x) < _SAME and abs(middle.x - last.x) < _SAME
    level = abs(first.y - middle.y) < _SAME and abs(middle.y - last.y) < _SAME
    if upright:
        return (first.y - middle.y) * (middle.y - last.y) > 0.0
    return level and (first.x - middle.x) * (middle.x - last.x) > 0.0


def _inside(start: Point, end: Point, place: Point) -> bool:
    """Tell whether a place lies on a wire, its ends excepted."""
    if abs(start.x - end.x) < _SAME:
        low, high = sorted((start.y, end.y))
        return abs(place.x - start.x) < _SAME and low + _SAME < place.y < high - _SAME
    low, high = sorted((start.x, end.x))
    return abs(place.y - start.y) < _SAME and low + _SAME < place.x < high - _SAME
