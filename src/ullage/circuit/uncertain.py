"""A number that nobody knows exactly: its best value, its sure ends, and how it is drawn.

Draws are triangular between the sure ends with the mode at the best value. Each number is drawn
from a stream of its own, seeded by the run's seed and by the number's name, so that adding a
number to a circuit never changes the draws of the others, and the first hundred members of a
thousand are the hundred. Leaves out: correlation other than "one guess, one error" (``shared``).
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.errors import OutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """A number surely between ``low`` and ``high``, most likely ``best``; in the unit of the field
    that holds it.

    Numbers that bear the same ``shared`` name are one guess with one error: they are drawn
    together."""

    best: float
    low: float
    high: float
    shared: str | None = None

    def __post_init__(self) -> None:
        if not self.low <= self.best <= self.high:
            raise OutOfRange(
                "low <= best <= high",
                f"{self.low} <= {self.best} <= {self.high}",
                "in order",
                "check which of the three is wrong",
            )

    @property
    def is_exact(self) -> bool:
        """Tell whether nothing is left to draw."""
        return self.low == self.high

    @property
    def standard_uncertainty(self) -> float:
        """Return the standard deviation of the triangular draw, in the number's own unit."""
        a, b, c = self.low, self.high, self.best
        return math.sqrt(max(a * a + b * b + c * c - a * b - a * c - b * c, 0.0) / 18.0)

    def scaled(self, factor: float) -> Uncertain:
        """Return the same number in a unit that is ``factor`` times smaller (``factor`` > 0)."""
        return Uncertain(
            best=self.best * factor,
            low=self.low * factor,
            high=self.high * factor,
            shared=self.shared,
        )

    def at_quantile(self, u: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the value below which a share ``u`` of the draws lies."""
        if self.is_exact:
            return np.full(u.shape, self.best)
        span = self.high - self.low
        mode = (self.best - self.low) / span
        rising = self.low + span * np.sqrt(u * mode)
        falling = self.high - span * np.sqrt((1.0 - u) * (1.0 - mode))
        return np.where(u < mode, rising, falling)


def exact(value: float) -> Uncertain:
    """Return a number without a spread."""
    return Uncertain(best=value, low=value, high=value)


def stream(seed: int, name: str, count: int) -> NDArray[np.float64]:
    """Return ``count`` uniform numbers in (0, 1) that belong to ``name`` under this seed.

    The first n of a longer stream are the stream of length n.
    """
    generator = np.random.Generator(np.random.Philox(key=[seed, zlib.crc32(name.encode())]))
    return generator.random(count)


def draw(number: Uncertain, *, name: str, seed: int, count: int) -> NDArray[np.float64]:
    """Return ``count`` draws of a number; numbers with the same ``shared`` name are drawn as
    one.
    """
    if number.is_exact:
        return np.full(count, number.best)
    key = f"shared:{number.shared}" if number.shared else name
    return number.at_quantile(stream(seed, key, count))
