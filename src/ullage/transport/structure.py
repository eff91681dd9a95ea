"""What nobody knows about how a machine mixes, and how ensembles draw it. The one place for these
priors.

A run of the best values takes the structure as stated in the circuit file. An ensemble draws, for
every member: whether its laminar lines wash out in lanes or, stirred by bends and swirl, like
plugs; how many more places re-mix the cross-section than the file names; the reservoir's dead
share and by-pass; and how much of the stroke an exercise really uses. The discrete part is a class
of machines that run side by side. The spreads are judgement: common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.uncertain import Uncertain, stream
from ullage.transport.lanes import LANES, Regime

#: Share of machines whose lines behave like plugs although their Reynolds number says laminar.
PLUG_LIKE_SHARE = 0.3
#: Chance of 0, 1, 2 re-mixing places more than the circuit file names, on every line of a machine.
MORE_FITTINGS_SHARES = (0.5, 0.3, 0.2)
#: Dead share and by-pass of a reservoir of which the file says nothing.
RESERVOIR_SHARE = Uncertain(best=0.0, low=0.0, high=0.15)
#: Share of the stated stroke in use that an exercise really covers.
STROKE_REALLY_USED = Uncertain(best=1.0, low=0.85, high=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixing:
    """One class of machines: what is the same for all members that run side by side.

    ``regime`` forces every line, ``leg_regime`` the lines of legs; None leaves it to the Reynolds
    number."""

    regime: Regime | None = None
    leg_regime: Regime | None = None
    more_fittings: int = 0
    lanes: int = LANES


AS_STATED = Mixing()

CLASSES: tuple[tuple[float, Mixing], ...] = (
    (PLUG_LIKE_SHARE, Mixing(regime=Regime.PLUG)),
    *(
        ((1.0 - PLUG_LIKE_SHARE) * share, Mixing(more_fittings=more))
        for more, share in enumerate(MORE_FITTINGS_SHARES)
    ),
)


def draw_classes(*, seed: int, count: int) -> NDArray[np.intp]:
    """Return the index in ``CLASSES`` that each of ``count`` members belongs to, (count,)."""
    return classes_at(stream(seed, "structure.class", count))


def classes_at(uniforms: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the index in ``CLASSES`` that stands behind uniform numbers in (0, 1)."""
    edges = np.cumsum([share for share, _ in CLASSES])[:-1]
    return np.searchsorted(edges, uniforms, side="right")
