"""What went in, what came out, and what is unaccounted for, all at one temperature.

Measured volumes count where there are any, the recipe elsewhere; levels that were read say how much
more or less the circuit holds. Errors of one jug add up in a straight line, as the GUM has it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.evidence.reading import Reading, covariance
from ullage.evidence.update import Ensemble

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MassBalance:
    """The books of a job; ``unaccounted_m3`` above 0 went in and never showed again.

    ``unaccounted_m3`` and ``u_m3`` are None where no volume was measured: books of the recipe alone
    close by themselves."""

    in_m3: float
    out_m3: float
    unaccounted_m3: float | None
    u_m3: float | None

    @property
    def closes(self) -> bool | None:
        """Tell whether what is unaccounted for is within twice its uncertainty."""
        if self.unaccounted_m3 is None or self.u_m3 is None:
            return None
        return abs(self.unaccounted_m3) <= 2.0 * self.u_m3


def mass_balance(readings: Sequence[Reading], prior: Ensemble) -> MassBalance:
    """Return the books of a job.

    Parameters
    ----------
    readings : values
        All readings of the job.
    prior : value
        Machines before any reading: they say what was not measured.

    Returns
    -------
    balance : MassBalance
        At the temperature of the recipe. [m3]

    Source
    ------
    JCGM 100:2008, equation 16 (``jcgm-100-2008``); levels by the linear Gaussian rule.
    """
    shown = prior.shown
    volumes = _without_doubles(readings)
    poured, out = np.zeros(shown.count), np.zeros(shown.count)
    steps = range(1, shown.job_steps + 1)
    for is_poured, total in ((True, poured), (False, out)):
        measured = {n for _, r in volumes if r.is_poured is is_poured for n in r.steps}
        for step in (n for n in steps if n not in measured):
            for piece in shown.pieces(step):
                stage = shown.stages[piece]
                total += stage.poured_m3 if is_poured else stage.waste_m3
    spilled = sum((shown.stages[p].spilled_m3 for n in steps for p in shown.pieces(n)), 0.0)
    held = shown.after(shown.job_steps).parts_m3.sum(axis=0) - shown.before.parts_m3.sum(axis=0)
    in_m3 = sum(r.value for _, r in volumes if r.is_poured)
    out_m3 = sum(r.value for _, r in volumes if not r.is_poured)
    rest = poured - out - spilled - held
    if not volumes:
        return MassBalance(
            in_m3=float(poured.mean()),
            out_m3=float(out.mean()),
            unaccounted_m3=None,
            u_m3=None,
        )
    levels = [i for i, r in enumerate(readings) if r.kind == "level"]
    mean, variance = _given(rest, levels, readings, prior)
    sign = np.array([1.0 if r.is_poured else -1.0 for _, r in volumes])
    own = covariance([r for _, r in volumes])
    return MassBalance(
        in_m3=in_m3 + float(poured.mean()),
        out_m3=out_m3 + float(out.mean()),
        unaccounted_m3=in_m3 - out_m3 + mean,
        u_m3=math.sqrt(float(sign @ own @ sign) + variance),
    )


def _without_doubles(readings: Sequence[Reading]) -> list[tuple[int, Reading]]:
    """Return the volumes that count: of two that cover the same step, the one that covers more."""
    volumes = [(i, r) for i, r in enumerate(readings) if r.kind == "volume" and r.steps]
    volumes.sort(key=lambda pair: -len(pair[1].steps))
    taken: dict[bool, set[int]] = {True: set(), False: set()}
    kept: list[tuple[int, Reading]] = []
    for i, reading in volumes:
        if taken[reading.is_poured].isdisjoint(reading.steps):
            taken[reading.is_poured].update(reading.steps)
            kept.append((i, reading))
    return sorted(kept, key=lambda pair: pair[0])


def _given(
    rest: Floats, levels: list[int], readings: Sequence[Reading], prior: Ensemble
) -> tuple[float, float]:
    """Return mean and variance of what was not measured, once levels are known."""
    mean, variance = float(rest.mean()), float(rest.var())
    if not levels:
        return mean, variance
    shown = prior.predicted[levels]
    value = np.array([readings[i].value for i in levels])
    off = shown - shown.mean(axis=1, keepdims=True)
    cov = off @ off.T / rest.size + covariance([readings[i] for i in levels])
    cross = off @ (rest - mean) / rest.size
    gain = np.linalg.solve(cov, cross)
    return mean + float(gain @ (value - shown.mean(axis=1))), max(
        variance - float(gain @ cross), 0.0
    )
