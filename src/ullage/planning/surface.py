"""How high does a volume stand in the reservoir, and how much is a height?

At best values: upright walls by their area, others by the table of heights and volumes, drawn on in
a straight line beyond its ends. Heights count from the floor or from the table's own zero.
"""

from __future__ import annotations

from itertools import pairwise

from ullage.circuit.parts import Reservoir
from ullage.errors import OutOfRange


def has_heights(reservoir: Reservoir) -> bool:
    """Tell whether volumes can be turned into heights at all."""
    return bool(reservoir.table) or reservoir.area_m2 is not None


def height_m(reservoir: Reservoir, volume_m3: float) -> float:
    """Return how high a volume stands.

    Parameters
    ----------
    reservoir : Reservoir
        With an area, or a table of heights.
    volume_m3 : scalar
        Volume in the reservoir. [m3]

    Returns
    -------
    height_m : scalar
        Height of the surface. [m]

    Raises
    ------
    OutOfRange
        If the reservoir has neither area nor table.

    Validity
    --------
    Level ground; straight lines between the points of the table.

    Source
    ------
    Definition of volume.
    """
    if reservoir.table:
        (low_m, low_m3), (high_m, high_m3) = _piece(reservoir, volume_m3, of_volume=True)
        return low_m + (volume_m3 - low_m3) * (high_m - low_m) / (high_m3 - low_m3)
    return volume_m3 / _area_m2(reservoir)


def volume_m3(reservoir: Reservoir, height_m: float) -> float:
    """Return the volume that stands at a height.

    Parameters
    ----------
    reservoir : Reservoir
        With an area, or a table of heights.
    height_m : scalar
        Height of the surface. [m]

    Returns
    -------
    volume_m3 : scalar
        Volume in the reservoir. [m3]

    Raises
    ------
    OutOfRange
        If the reservoir has neither area nor table.

    Validity
    --------
    As ``height_m``.

    Source
    ------
    Definition of volume.
    """
    if reservoir.table:
        (low_m, low_m3), (high_m, high_m3) = _piece(reservoir, height_m, of_volume=False)
        return low_m3 + (height_m - low_m) * (high_m3 - low_m3) / (high_m - low_m)
    return height_m * _area_m2(reservoir)


def _area_m2(reservoir: Reservoir) -> float:
    """Return the area of the surface."""
    if reservoir.area_m2 is None or reservoir.area_m2.best <= 0.0:
        raise OutOfRange(
            "area_cm2",
            "nothing",
            "known, or table_mm_l in its place",
            "pour a quarter of a litre and read by how many millimetres it rises",
        )
    return reservoir.area_m2.best


def _piece(
    reservoir: Reservoir, value: float, *, of_volume: bool
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the two points of the table around a value, or the two nearest to it."""
    column = 1 if of_volume else 0
    if len(reservoir.table) < 2:
        raise OutOfRange("table_mm_l", reservoir.table, "made of two points or more")
    for low, high in pairwise(reservoir.table):
        if value <= high[column]:
            return low, high
    return reservoir.table[-2], reservoir.table[-1]
