"""Which curves does a run draw: what is left inside, and what flows out, against litres poured?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ullage.drawing.figures import BAND, Floats, middle
from ullage.transport.result import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A share against litres poured, with its band; all (points,)."""

    poured_m3: Floats
    low: Floats
    middle: Floats
    high: Floats

    @property
    def is_banded(self) -> bool:
        """Tell whether the band is wide enough anywhere to be seen."""
        return bool(np.any(self.high - self.low > 1e-6))


def remainder_curve(run: Run) -> Curve:
    """Return the old share of everything inside."""
    trace = run.trace
    return _curve(trace.poured_m3, trace.remaining_share)


def outflow_curves(run: Run) -> tuple[Curve, ...]:
    """Return the old share of the outflow, one curve for each step that had one."""
    curves: list[Curve] = []
    for outflow in run.outflow:
        before = sum(middle(step.poured_m3) for step in run.steps[: outflow.step - 1])
        widths = np.diff(outflow.waste_m3, prepend=0.0)
        # A bin's mean belongs to its middle.
        centres = before + outflow.waste_m3 - widths / 2.0
        curve = _curve(centres, outflow.old_share)
        if curve.poured_m3.size:
            curves.append(curve)
    return tuple(curves)


def _curve(poured_m3: Floats, shares: Floats) -> Curve:
    """Return the band over members, as far as any member came."""
    arrived = np.any(np.isfinite(shares), axis=1)
    low, centre, high = np.nanquantile(shares[arrived], BAND, axis=1)
    return Curve(poured_m3=poured_m3[arrived], low=low, middle=centre, high=high)
