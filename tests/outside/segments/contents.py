"""What holds fluid: queues of segments for lines, well-mixed vessels for everything else.

Volumes in m3, shares of old fluid from 0 to 1. A *portion* is a list of (volume, old share) pairs
in the order in which they arrive.
"""

from __future__ import annotations

import itertools
import math
from collections import deque
from dataclasses import dataclass

import numpy as np

Portion = list[tuple[float, float]]


def volume_of(portion: Portion) -> float:
    """Return the volume of a portion."""
    return math.fsum(volume for volume, _ in portion)


def mean_of(portion: Portion) -> float:
    """Return the mean old share of a portion (0 for an empty one)."""
    volume = volume_of(portion)
    return math.fsum(v * x for v, x in portion) / volume if volume > 0.0 else 0.0


class Queue:
    """Fluid that moves as a plug: pushed in at one end, pulled out at the other, either way."""

    def __init__(self, volume_m3: float, old_share: float) -> None:
        self.segments: deque[tuple[float, float]] = deque([(volume_m3, old_share)])

    def push(self, portion: Portion, *, forward: bool) -> None:
        """Push a portion in behind what is there."""
        for volume, share in portion:
            if volume <= 0.0:
                continue
            end = (self.segments[0] if forward else self.segments[-1]) if self.segments else None
            if end is not None and end[1] == share:
                volume += end[0]
                self.segments.popleft() if forward else self.segments.pop()
            if forward:
                self.segments.appendleft((volume, share))
            else:
                self.segments.append((volume, share))

    def pull(self, volume_m3: float, *, forward: bool) -> Portion:
        """Pull a volume out at the far end; it must be there."""
        portion: Portion = []
        while volume_m3 > 0.0:
            if not self.segments:
                if volume_m3 < 1e-15:
                    break
                raise ValueError("more was pulled out of a line than it holds: take smaller steps")
            volume, share = self.segments.pop() if forward else self.segments.popleft()
            if volume > volume_m3:
                rest = (volume - volume_m3, share)
                self.segments.append(rest) if forward else self.segments.appendleft(rest)
                volume = volume_m3
            portion.append((volume, share))
            volume_m3 -= volume
        return portion

    @property
    def old_m3(self) -> float:
        """Old fluid inside."""
        return math.fsum(volume * share for volume, share in self.segments)


def lane_shares(lanes: int) -> list[tuple[float, float]]:
    """Return (share of the volume, share of the flow) of each lane of a laminar pipe.

    The lanes sit at Gauss-Legendre nodes of s = (r/R)^2; the parabola is 2 (1 - s) times the mean.
    """
    nodes, weights = np.polynomial.legendre.leggauss(lanes)
    return [
        (float(w) / 2.0, 2.0 * (1.0 - (float(z) + 1.0) / 2.0) * float(w) / 2.0)
        for z, w in zip(nodes, weights, strict=True)
    ]


class Pipe:
    """A line: one plug, or laminar sections in series, re-mixed where they meet."""

    def __init__(self, volume_m3: float, *, fittings: int, lanes: int, is_laminar: bool) -> None:
        self.volume_m3 = volume_m3
        self.pieces = fittings + 1
        self.shares = lane_shares(lanes)
        self.is_laminar = False
        self.sections: list[list[Queue]] = [[Queue(volume_m3, 1.0)]]
        self.set_regime(is_laminar=is_laminar)

    def set_regime(self, *, is_laminar: bool) -> None:
        """Lay the content out for the regime of the coming flow; nothing is lost or moved along.

        Turbulence levels what the lanes of a cross-section hold; laminar flow starts from that.
        """
        if is_laminar == self.is_laminar:
            return
        self.is_laminar = is_laminar
        if is_laminar:
            self.sections = [
                [_scaled(piece, part) for part, _ in self.shares]
                for piece in _cut(self.sections[0][0], self.pieces, self.volume_m3)
            ]
        else:
            plug = Queue(0.0, 0.0)
            plug.segments.clear()
            for section in self.sections:
                plug.segments.extend(_levelled(section, [part for part, _ in self.shares]))
            self.sections = [[plug]]

    def pull(self, volume_m3: float, *, forward: bool) -> Portion:
        """Let a volume leave at the far end, re-mixing at each fitting on the way."""
        if not self.is_laminar:
            return self.sections[0][0].pull(volume_m3, forward=forward)
        order = self.sections if forward else self.sections[::-1]
        leaving = []
        for section in order:
            out: Portion = []
            for lane, (_, flow) in zip(section, self.shares, strict=True):
                out += lane.pull(volume_m3 * flow, forward=forward)
            leaving.append(mean_of(out))
        for section, share in zip(order[1:], leaving[:-1], strict=True):
            self._push(section, [(volume_m3, share)], forward=forward)
        return [(volume_m3, leaving[-1])]

    def push(self, portion: Portion, *, forward: bool) -> None:
        """Let a portion enter at the near end."""
        if not self.is_laminar:
            self.sections[0][0].push(portion, forward=forward)
        else:
            self._push(self.sections[0 if forward else -1], portion, forward=forward)

    def _push(self, section: list[Queue], portion: Portion, *, forward: bool) -> None:
        for lane, (_, flow) in zip(section, self.shares, strict=True):
            lane.push([(v * flow, x) for v, x in portion], forward=forward)

    @property
    def largest_pull_m3(self) -> float:
        """The volume that may leave in one step: no lane gives up more than it holds."""
        if not self.is_laminar:
            return self.volume_m3
        return self.volume_m3 / self.pieces * min(part / flow for part, flow in self.shares)

    @property
    def old_m3(self) -> float:
        """Old fluid inside."""
        return math.fsum(lane.old_m3 for section in self.sections for lane in section)


def _scaled(queue: Queue, factor: float) -> Queue:
    new = Queue(0.0, 0.0)
    new.segments = deque((volume * factor, share) for volume, share in queue.segments)
    return new


def _cut(queue: Queue, pieces: int, volume_m3: float) -> list[Queue]:
    """Return a plug cut into equal pieces, inlet first."""
    rest = _scaled(queue, 1.0)
    cut = []
    for left in range(pieces, 0, -1):
        piece = Queue(0.0, 0.0)
        # The last piece takes whatever rounding has left.
        portion = list(rest.segments) if left == 1 else rest.pull(volume_m3 / pieces, forward=False)
        piece.segments = deque(portion)
        cut.append(piece)
    return cut


def _levelled(section: list[Queue], parts: list[float]) -> Portion:
    """Return the mean over the cross-section, inlet first, of lanes of these volume shares."""
    total = math.fsum(volume for lane in section for volume, _ in lane.segments)
    marks = {0.0, 1.0}
    tables = []
    for lane in section:
        at, table = 0.0, []
        length = math.fsum(volume for volume, _ in lane.segments)
        for volume, share in lane.segments:
            table.append((at, share))
            at += volume / length
            marks.add(min(at, 1.0))
        tables.append(table)
    edges = sorted(marks)
    places = [0] * len(tables)
    portion = []
    for low, high in itertools.pairwise(edges):
        mean = 0.0
        for k, table in enumerate(tables):
            while places[k] + 1 < len(table) and table[places[k] + 1][0] <= low:
                places[k] += 1
            mean += parts[k] * table[places[k]][1]
        portion.append(((high - low) * total, mean))
    return portion


@dataclass(slots=True)
class Vessel:
    """Well-mixed fluid of any volume."""

    volume_m3: float
    share: float = 1.0

    def pour(self, volume_m3: float, share: float) -> None:
        """Add fluid at once."""
        total = self.volume_m3 + volume_m3
        if total > 0.0:
            self.share = (self.volume_m3 * self.share + volume_m3 * share) / total
        self.volume_m3 = total

    @property
    def old_m3(self) -> float:
        """Old fluid inside."""
        return self.volume_m3 * self.share


@dataclass(frozen=True, slots=True)
class Mixed:
    """A vessel after a step, and the mean old share of what left it meanwhile."""

    volume_m3: float
    share: float
    leaving: float


def mix(vessel: Vessel, *, in_m3: float, in_share: float, out_m3: float) -> Mixed:
    """Return a mixed vessel after ``in_m3`` came and ``out_m3`` went at constant rates, exactly.

    dx/dt = q_in (x_in - x) / V with V rising or falling in proportion to time.
    """
    before, share = vessel.volume_m3, vessel.share
    after = max(before + in_m3 - out_m3, 0.0)
    if in_m3 == 0.0:
        return Mixed(after, share, share)
    change = in_m3 - out_m3
    if out_m3 == 0.0:
        mixed = (before * share + in_m3 * in_share) / after
        return Mixed(after, mixed, mixed)
    if before <= 0.0 or after <= 0.0:
        decay = 0.0
    elif change == 0.0:
        decay = math.exp(-in_m3 / before)
    else:
        decay = math.exp(-in_m3 / change * math.log1p(change / before))
    end = in_share + (share - in_share) * decay
    leaving = (before * share + in_m3 * in_share - after * end) / out_m3
    return Mixed(after, end, leaving)
