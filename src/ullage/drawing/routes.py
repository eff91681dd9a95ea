"""Which way does a connection take where two parts do not stand side by side?

A connection leaves the ways already drawn at a junction, follows a track of its own beside the
columns, and comes in from the gap beside a storey. Tracks are counted first, so that the layout can
leave room, and get their places later. Connections of one junction share a track. Leaves out all
coordinates (``layout``).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

from ullage.drawing.storeys import TANK_IN, TANK_OUT, Edge, Storeys

Key = tuple[str, ...]


class Side(StrEnum):
    """On which side of the storeys a track runs; level ones stay within their row's gap."""

    LEFT = "left"
    RIGHT = "right"
    LEVEL = "level"


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A connection and its tracks: beside the columns, and in the gaps of the rows at its ends.

    ``leaves_by`` and ``enters_by`` are None where the end lies on a column or at the end of a row.
    """

    edge: Edge
    side: Side
    track: Key
    leaves_by: Key | None
    enters_by: Key | None
    gives_back: bool = False


@dataclass(kw_only=True)
class Tracks:
    """All routes, and the tracks that they need in order of first use."""

    routes: list[Route] = field(default_factory=list)
    beside: dict[Side, list[Key]] = field(default_factory=lambda: {s: [] for s in Side})
    gaps: dict[int, list[Key]] = field(default_factory=dict)

    def use(self, route: Route, start_row: int | None, end_row: int | None) -> None:
        """Add a route and note the tracks that it needs."""
        self.routes.append(route)
        if route.side is not Side.LEVEL and route.track not in self.beside[route.side]:
            self.beside[route.side].append(route.track)
        for row, key in ((start_row, route.leaves_by), (end_row, route.enters_by)):
            if row is not None and key is not None:
                gap = self.gaps.setdefault(row, [])
                if key not in gap:
                    gap.append(key)


def route_all(storeys: Storeys, rows: tuple[tuple[str, ...], ...]) -> Tracks:
    """Return the routes of all connections that are not drawn straight."""
    row_of = {item: i for i, row in enumerate(rows) for item in row}
    straight = _straight(storeys, rows)
    tracks = Tracks()
    for edge in storeys.edges:
        if edge not in straight:
            route = _route(edge, storeys, rows, row_of)
            tracks.use(route, row_of.get(edge.start), row_of.get(edge.end))
    for back in storeys.gives_back:
        edge = Edge(start=back.node, end=back.to)
        same = row_of[back.node] == row_of.get(back.to)
        key = ("give back", back.node, back.to)
        route = Route(
            edge=edge,
            side=Side.LEVEL if same else Side.RIGHT,
            track=key,
            leaves_by=key,
            enters_by=key if back.to in row_of else None,
            gives_back=True,
        )
        tracks.use(route, row_of[back.node], row_of.get(back.to))
    return tracks


def _straight(storeys: Storeys, rows: tuple[tuple[str, ...], ...]) -> set[Edge]:
    """Return the edges between neighbours on a column or in a row, and those of empty storeys."""
    chains = [(TANK_OUT, *storeys.rise), *rows, (*storeys.fall, TANK_IN)]
    return {Edge(start=start, end=end) for chain in chains for start, end in pairwise(chain)}


def _route(
    edge: Edge, storeys: Storeys, rows: tuple[tuple[str, ...], ...], row_of: dict[str, int]
) -> Route:
    """Return the way of one edge."""
    falling = {TANK_IN, *storeys.fall}
    start_row, end_row = row_of.get(edge.start), row_of.get(edge.end)
    leaving, entering = ("out", edge.start), ("in", edge.end)
    if start_row is not None and start_row == end_row:
        side, track = Side.LEVEL, leaving
    elif edge.end in falling or edge.start in falling:
        side, track = Side.RIGHT, entering if edge.end in falling else leaving
    else:
        side, track = Side.LEFT, leaving
    leaves_by: Key | None = None
    if start_row is not None and not (side is Side.RIGHT and rows[start_row][-1] == edge.start):
        leaves_by = leaving
    enters_by: Key | None = None
    if end_row is not None and not (side is Side.LEFT and rows[end_row][0] == edge.end):
        enters_by = leaving if side is Side.LEVEL else entering
    return Route(edge=edge, side=side, track=track, leaves_by=leaves_by, enters_by=enters_by)
