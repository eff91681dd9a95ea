"""A reading as a number, and what the errors of several readings have in common.

Every kind of reading becomes a value, a standard uncertainty and a prediction for each machine.
Readings that bear the same ``shares`` have part of their error in common. Leaves out what each kind
of reading says of a machine (``samples``, ``amounts``, ``motion``)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.evidence.forward import Shown

Floats = NDArray[np.float64]

# How much of the variance of readings with the same `shares` they have in common: one photo (its
# lamp, its references), one jug (its marks). Judgement; common practice, no source.
SAMPLE_IN_COMMON, VOLUME_IN_COMMON = 0.5, 0.8

#: What each of many machines would show, (members,).
Predict = Callable[[Shown], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading as a number: what it was, what it showed, and what a machine would show.

    ``kind`` and ``index`` lead back to the evidence file (counted from 1). ``u`` is its own
    standard uncertainty, ``u_model`` what the model adds, ``u_shade`` that of the legs' shade,
    common to all readings that have one (negative: a darker leg makes the reading smaller).
    ``steps`` are those that a volume counts, ``is_poured`` whether it went in."""

    kind: str
    index: int
    words: str
    value: float
    u: float
    predict: Predict
    shares: str | None = None
    u_model: float = 0.0
    u_shade: float = 0.0
    steps: tuple[int, ...] = ()
    is_poured: bool = False


def covariance(readings: Sequence[Reading]) -> Floats:
    """Return the covariance of the errors of all readings, (readings, readings).

    Errors in common add up in a straight line (JCGM 100:2008, 5.2.4 and F.1.2.3).
    """
    u = np.array([r.u for r in readings])
    total = np.diag(u**2 + np.array([r.u_model for r in readings]) ** 2)
    for i, one in enumerate(readings):
        for j, other in enumerate(readings):
            if i != j and one.shares is not None and one.shares == other.shares:
                both = min(_in_common(one), _in_common(other))
                total[i, j] += both * u[i] * u[j]
    shade = np.array([r.u_shade for r in readings])
    return np.asarray(total + np.outer(shade, shade))


def _in_common(reading: Reading) -> float:
    """Return how much of a reading's variance it has in common with its like."""
    return VOLUME_IN_COMMON if reading.kind == "volume" else SAMPLE_IN_COMMON
