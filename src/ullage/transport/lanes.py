"""How the cross-section of a line is cut into lanes that move side by side.

Plug flow is one lane. Laminar flow in a round bore is K lanes at Gauss-Legendre nodes in area (s =
r^2): a lane holds the share w of the line's volume and carries the share 2 (1 - s) w of its flow,
so fluid in it needs 1 / (2 (1 - s)) line volumes to pass. Equal-flow lanes would lose the slow
tail at the wall, which is where old fluid stays longest."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

LANES = 8
TURBULENT_ABOVE = 4000.0


class Regime(StrEnum):
    """How fluid moves along a line."""

    PLUG = "plug"
    LAMINAR = "laminar"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lanes:
    """Lanes from the fastest to the slowest.

    ``flow`` is each lane's share of the flow, ``delay`` the line volumes that pass before fluid
    which entered it comes out; ``flow * delay`` is its share of the volume. All (lanes,)."""

    flow: NDArray[np.float64]
    delay: NDArray[np.float64]


def lanes_of(regime: Regime, count: int = LANES) -> Lanes:
    """Return the lanes of a regime, ``count`` of them where it is laminar.

    Source
    ------
    Parabolic profile of laminar pipe flow [levenspiel-1999, ch. 15]; Gauss-Legendre quadrature in
    s."""
    if regime is Regime.PLUG:
        return Lanes(flow=np.ones(1), delay=np.ones(1))
    nodes, weights = np.polynomial.legendre.leggauss(count)
    area = 0.5 * (nodes + 1.0)
    speed = 2.0 * (1.0 - area)
    flow = 0.5 * weights * speed
    return Lanes(flow=flow / flow.sum(), delay=1.0 / speed)


def regime_at(reynolds: float | None) -> Regime:
    """Return the regime at a Reynolds number; None (no bore known) is plug flow.

    Validity
    --------
    Plug flow above 4000, pure laminar convection below. Between 2300 and 4000 either may hold;
    laminar is taken, which leaves more old fluid behind.

    Source
    ------
    Turbulence criterion of line flushing [iso-23309-2016].
    """
    if reynolds is None or reynolds > TURBULENT_ABOVE:
        return Regime.PLUG
    return Regime.LAMINAR
