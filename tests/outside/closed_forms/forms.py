"""Closed forms of washout, a line or two each; all volumes in one unit, old shares from 0 to 1."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


def tanks_exit(tanks: int, turnovers: float) -> float:
    """Return the old share leaving equal tanks in series (``turnovers`` of all of them)."""
    x = tanks * turnovers
    return math.exp(-x) * math.fsum(x**i / math.factorial(i) for i in range(tanks))


def two_tanks_exit(first: float, second: float, through: float) -> float:
    """Return the old share leaving two unequal tanks in series."""
    a, b = first * math.exp(-through / first), second * math.exp(-through / second)
    return (a - b) / (first - second)


def laminar_inside(turnovers: float) -> float:
    """Return the old share left in a line in pure laminar convection."""
    return 1.0 - turnovers if turnovers < 0.5 else 1.0 / (4.0 * turnovers)


def laminar_exit(turnovers: float) -> float:
    """Return the old share leaving a line in pure laminar convection."""
    return 1.0 if turnovers < 0.5 else 1.0 / (4.0 * turnovers**2)


def lanes_inside(turnovers: float, lanes: int) -> float:
    """Return the old share left in a line of Gauss-Legendre lanes in area, each a plug."""
    z, w = np.polynomial.legendre.leggauss(lanes)
    s = (z + 1.0) / 2.0
    return float(np.sum(w / 2.0 * np.maximum(0.0, 1.0 - 2.0 * (1.0 - s) * turnovers)))


def widest_lane_flow(lanes: int) -> float:
    """Return the largest flow share of a lane: the widest step that lanes give at the exit."""
    z, w = np.polynomial.legendre.leggauss(lanes)
    return float(np.max((1.0 - z) * w / 2.0))


def two_laminar_sections_inside(turnovers: float, points: int = 200_001) -> float:
    """Return the old share left in two equal laminar sections, re-mixed between, by summation.

    ``turnovers`` of both together. What leaves the first feeds the second, which answers with the
    convolution with its own residence times.
    """
    t = np.linspace(0.0, 2.0 * turnovers, points)  # turnovers of one section
    old_in = np.where(t < 0.5, 1.0, 1.0 / (4.0 * np.maximum(t, 0.5) ** 2))
    inside_first = 1.0 - _integral(old_in, t)
    # Old fluid in the second: what it began with and has kept, and what came from the first and
    # stays; of what entered at time u, the share whose residence time is above t - u.
    stays = old_in[::-1]
    began = laminar_inside(2.0 * turnovers)
    second = began + _integral(old_in * stays, t)
    return 0.5 * (inside_first + second)


def _integral(y: NDArray[np.float64], x: NDArray[np.float64]) -> float:
    return float(np.sum((y[1:] + y[:-1]) / 2.0 * np.diff(x)))


def cholette_inside(turnovers: float, *, mixed_feed: float, active: float) -> float:
    """Return the old share left in a vessel with by-passed feed and a dead part."""
    return active * math.exp(-mixed_feed * turnovers / active) + 1.0 - active


def cholette_exit(turnovers: float, *, mixed_feed: float, active: float) -> float:
    """Return the old share leaving such a vessel."""
    return mixed_feed * math.exp(-mixed_feed * turnovers / active)


def chamber_after_strokes(*, dead: float, line: float, stroke: float, strokes: int) -> float:
    """Return the old share of a chamber behind a plug line of new fluid after whole strokes."""
    return 1.0 if line >= stroke else ((dead + line) / (dead + stroke)) ** strokes


@dataclass(frozen=True, slots=True)
class Leg:
    """Old shares of a leg."""

    chamber: float
    line: float


def lanes_after_a_stroke(*, dead: float, line: float, stroke: float, lanes: int) -> Leg:
    """Return a leg after its first whole stroke from the retracted end, up and down, lane by lane.

    Going up, each lane takes its share of new fluid; what is more than it holds reaches the chamber
    and mixes there. Going down, the same shares of the chamber's mixture push back from its end.
    """
    z, w = np.polynomial.legendre.leggauss(lanes)
    holds = w / 2.0 * line
    moves = (1.0 - z) * w / 2.0 * stroke
    chamber = 1.0 - float(np.sum(np.maximum(moves - holds, 0.0))) / (dead + stroke)
    came_back = np.minimum(moves, holds)
    return Leg(chamber, float(np.sum(holds - came_back + came_back * chamber)) / line)
