"""How the cross-section of a line is cut into lanes that move side by side.

Plug flow is one lane. Laminar flow in a round bore is K lanes at Gauss-Legendre nodes in area (s =
r^2): a lane holds the share w of the line's volume and carries the share 2 (1 - s) w of its flow,
so fluid in it needs 1 / (2 (1 - s)) line volumes to pass. Equal-flow lanes would lose the slow
tail at the wall, which is where old fluid stays longest.

On a path fluid goes one way only, so a line with fittings needs no pieces one behind the other: the
delays of its pieces add up to a spread of delays of the whole line, and a few lanes with the right
delays and shares stand for that spread. See docs/adr/0011."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

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


@lru_cache(maxsize=256)
def lanes_of(regime: Regime, count: int = LANES, pieces: int = 1) -> Lanes:
    """Return the lanes of a regime, ``count`` of them where it is laminar.

    Parameters
    ----------
    regime : value
        How fluid moves.
    count : scalar
        Lanes of a laminar line. [-]
    pieces : scalar
        Into how many equal pieces re-mixing places cut the line; fluid runs one way. [-]

    Returns
    -------
    lanes : Lanes
        Those of the whole line.

    Validity
    --------
    With more than one piece, for lines that never run back.

    Source
    ------
    Parabolic profile of laminar pipe flow [levenspiel-1999, ch. 15]; Gauss-Legendre quadrature in
    s. Pieces in a row: the Gauss quadrature of the sum of their delays, docs/adr/0011.
    """
    if regime is Regime.PLUG:
        return Lanes(flow=np.ones(1), delay=np.ones(1))
    nodes, weights = np.polynomial.legendre.leggauss(count)
    area = 0.5 * (nodes + 1.0)
    speed = 2.0 * (1.0 - area)
    flow = 0.5 * weights * speed
    one = Lanes(flow=flow / flow.sum(), delay=1.0 / speed)
    whole = Lanes(flow=one.flow, delay=one.delay / pieces)
    for _ in range(pieces - 1):
        whole = _condensed(
            np.multiply.outer(whole.flow, one.flow).ravel(),
            np.add.outer(whole.delay, one.delay / pieces).ravel(),
            count,
        )
    return whole


def _condensed(flow: NDArray[np.float64], delay: NDArray[np.float64], count: int) -> Lanes:
    """Return ``count`` lanes whose delays have the first 2 ``count`` - 1 moments of many lanes.

    The shares are the weights of a Gauss quadrature, so none is negative, and all delays lie
    between the least and the greatest. Flow and volume are moments 0 and 1: both are kept.
    """
    basis = [np.sqrt(flow / flow.sum())]
    jacobi = np.zeros((count, count))
    for i in range(count):
        new = delay * basis[-1]
        jacobi[i, i] = new @ basis[-1]
        for _ in range(2):  # Rounding leaves the second pass something to do.
            for old in basis:
                new = new - (old @ new) * old
        size = float(np.linalg.norm(new))
        if i + 1 < count:
            jacobi[i, i + 1] = jacobi[i + 1, i] = size
            basis.append(new / size)
    delays, vectors = np.linalg.eigh(jacobi)
    shares = vectors[0] ** 2
    shares /= shares.sum()
    return Lanes(flow=shares, delay=delays * (float(flow @ delay) / float(shares @ delays)))


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
