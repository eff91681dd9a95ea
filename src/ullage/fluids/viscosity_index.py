"""How little does viscosity change with temperature, on the scale of ASTM D2270?

The table of the standard is kept by the library `chemicals`; it is loaded when an index is asked
for, because importing it takes a quarter of a second.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true
from ullage.units.convert import MM2_S_M2_S

POLYMER_INDEX = 140.0  # common practice, no source: above it an oil usually holds a polymer


@dataclass(frozen=True, slots=True, kw_only=True)
class ViscosityIndex:
    """How little a viscosity changes with temperature, on the scale of ASTM D2270.

    ``reference_low_m2_s`` and ``reference_high_m2_s`` are L and H: the viscosities at 40 degC of
    oils of index 0 and 100 that are as thick as this one at 100 degC. ``procedure`` is "A" or "B".
    """

    index: float
    rounded: int
    procedure: str
    reference_low_m2_s: float
    reference_high_m2_s: float
    caveats: tuple[Caveat, ...]


def index_references(nu100_m2_s: float) -> tuple[float, float]:
    """Return L and H of ASTM D2270 for a viscosity at 100 degC.

    Parameters
    ----------
    nu100_m2_s : scalar
        Kinematic viscosity at 100 degC, at least 2 mm2/s. [m2/s]

    Returns
    -------
    low_high : (2,)
        Viscosity at 40 degC of the reference oils of index 0 and 100. [m2/s]

    Raises
    ------
    OutOfRange
        If the viscosity is below 2 mm2/s.

    Validity
    --------
    2 to 70 mm2/s from the standard's table, above by its two polynomials.

    Source
    ------
    ``astm-d2270``, table 1 as kept in the library chemicals (VI_Ls, VI_Hs), and the equations for
    more than 70 mm2/s.

    Examples
    --------
    >>> low, high = index_references(10.0e-6)
    >>> round(low * 1e6, 2), round(high * 1e6, 2)
    (147.7, 82.87)
    """
    bounded(
        "nu100_m2_s",
        nu100_m2_s,
        low=2.0e-6 * (1.0 - 1e-12),
        unit="m2/s",
        advice="the index is not defined for thinner liquids",
    )
    y = nu100_m2_s / MM2_S_M2_S
    if y > 70.0:
        low = 0.8353 * y * y + 14.67 * y - 216.0
        high = 0.1684 * y * y + 11.85 * y - 97.0
        return low * MM2_S_M2_S, high * MM2_S_M2_S
    from chemicals.viscosity import VI_Hs, VI_Ls, VI_nus

    return (
        _interpolated(y, VI_nus, VI_Ls) * MM2_S_M2_S,
        _interpolated(y, VI_nus, VI_Hs) * MM2_S_M2_S,
    )


def _interpolated(x: float, xs: list[float], ys: list[float]) -> float:
    """Interpolate linearly in a table with rising x, as the standard asks."""
    right = min(max(bisect_right(xs, x), 1), len(xs) - 1)
    x0, x1, y0, y1 = xs[right - 1], xs[right], ys[right - 1], ys[right]
    return float(y0 + (y1 - y0) * (x - x0) / (x1 - x0))


def viscosity_index(*, nu40_m2_s: float, nu100_m2_s: float) -> ViscosityIndex:
    """Return the viscosity index.

    Parameters
    ----------
    nu40_m2_s : scalar
        Kinematic viscosity at 40 degC. [m2/s]
    nu100_m2_s : scalar
        Kinematic viscosity at 100 degC, from 2 mm2/s, less than ``nu40_m2_s``. [m2/s]

    Returns
    -------
    result : ViscosityIndex
        Index unrounded and rounded, the procedure used, L and H.

    Raises
    ------
    OutOfRange
        If ``nu100_m2_s`` is below 2 mm2/s or not below ``nu40_m2_s``.

    Validity
    --------
    Procedure A up to 100, procedure B from 100. The index says nothing about cold behaviour of
    polymer-thickened fluids.

    Source
    ------
    ``astm-d2270``, sections 5 and 6; evaluated by the library chemicals.

    Examples
    --------
    >>> found = viscosity_index(nu40_m2_s=73.3e-6, nu100_m2_s=8.86e-6)
    >>> round(found.index, 2), found.rounded, found.procedure
    (92.43, 92, 'A')
    """
    low, high = index_references(nu100_m2_s)
    bounded(
        "nu40_m2_s",
        nu40_m2_s,
        above=nu100_m2_s,
        unit="m2/s",
        advice="a liquid is thicker at 40 degC than at 100 degC; check whether they are swapped",
    )
    from chemicals.viscosity import viscosity_index as library_index

    answer = library_index(nu40_m2_s, nu100_m2_s, rounding=False)
    # The library answers None below 2 mm2/s, which is refused above.
    assert answer is not None
    index = float(answer)
    return ViscosityIndex(
        index=index,
        # Half away from zero, as people round; Python's round() would make 92.5 to 92.
        rounded=math.floor(index + 0.5),
        procedure="A" if nu40_m2_s >= high else "B",
        reference_low_m2_s=low,
        reference_high_m2_s=high,
        caveats=only_where_true(
            (
                index > POLYMER_INDEX,
                Caveat(
                    code="polymer-thickened",
                    text="An index this high usually comes from a polymer: in the cold and after "
                    "shearing the fluid departs from the line through its two points.",
                ),
            ),
            (
                nu100_m2_s > 70.0e-6,
                Caveat(
                    code="above-index-table",
                    text="Thicker at 100 degC than the table goes; its equations were used.",
                ),
            ),
        ),
    )
