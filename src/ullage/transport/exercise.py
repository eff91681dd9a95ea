"""How actuators move in one whole cycle: windows, and the stretches in which nothing changes
direction.

A cycle goes from where the actuator stands to the upper end of its window, down to the lower end,
and back, at constant speed. Times are shares of the cycle, taken from the best values for all
members, so that every member changes direction at the same litre."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """How far one actuator goes from where it stands, as shares of its stroke, (columns,)."""

    up: Floats
    down: Floats

    @property
    def turns_at(self) -> float:
        """Return the share of the cycle after which the actuator turns at its upper end."""
        length = float(self.up[0] + self.down[0])
        return float(self.up[0]) / (2.0 * length)

    def scaled(self, factor: Floats) -> Window:
        """Return both excursions scaled."""
        return Window(up=self.up * factor, down=self.down * factor)


def window_of(place: Floats, length: Floats) -> Window:
    """Return the window of a length (share of the stroke) centred on a place and shifted to lie
    inside it.

    Where the best values reach no end on one side, no member does.
    """
    low = np.clip(place - 0.5 * length, 0.0, 1.0 - length)
    up, down = low + length - place, place - low
    if up[0] < _SAME:
        up = np.zeros_like(up)
    if down[0] < _SAME:
        down = np.zeros_like(down)
    return Window(up=np.maximum(up, 0.0), down=np.maximum(down, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of the cycle in which every actuator keeps its direction.

    ``share`` is its share of the cycle's litres; ``travel`` the signed share of its stroke that
    each actuator covers, (actuators, columns), with ``signs`` (actuators,) saying which way (0:
    stands)."""

    share: float
    signs: tuple[int, ...]
    travel: Floats


def stretches_of(windows: list[Window]) -> tuple[Stretch, ...]:
    """Cut one cycle of several actuators that move together into stretches."""
    marks = {0.0, 1.0}
    for window in windows:
        marks |= {window.turns_at, window.turns_at + 0.5}
    times = [t for t in sorted(marks) if 0.0 <= t <= 1.0]
    times = [t for i, t in enumerate(times) if i == 0 or t - times[i - 1] > _SAME]
    found: list[Stretch] = []
    for start, end in itertools.pairwise(times):
        middle = 0.5 * (start + end)
        signs: list[int] = []
        travel: list[Floats] = []
        for window in windows:
            turn = window.turns_at
            if middle < turn:
                signs.append(1)
                travel.append(window.up * ((end - start) / turn))
            elif middle < turn + 0.5:
                signs.append(-1)
                travel.append((window.up + window.down) * ((end - start) / 0.5))
            else:
                signs.append(1)
                travel.append(window.down * ((end - start) / (0.5 - turn)))
        found.append(Stretch(share=end - start, signs=tuple(signs), travel=np.array(travel)))
    return tuple(found)
