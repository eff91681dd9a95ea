"""How much old fluid do drains and refills leave, and how many does a target take?

For a circuit that is run until it mixes between one refill and the next drain. New fluid that goes
through while old leaves is in ``washout``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ullage.errors import OutOfRange
from ullage.units.bounds import bounded


def drains(*, total_m3: float, drained_m3: Sequence[float]) -> tuple[float, ...]:
    """Return the old fluid left after each of several drains, equal or not.

    Parameters
    ----------
    total_m3 : scalar
        Fluid of the whole circuit when full, above 0. [m3]
    drained_m3 : (n,)
        Volume taken out and replaced each time, 0 to ``total_m3``. [m3]

    Returns
    -------
    remaining : (n,)
        Old fluid over total after each refill. [m3/m3]

    Raises
    ------
    OutOfRange
        If a volume is outside the ranges above or the list is empty.

    Validity
    --------
    Everything mixes between one refill and the next drain. Without running and exercising in
    between, hardly anything does, and the figure is far too hopeful.

    Source
    ------
    Closed form, a product of what each drain leaves (derived).

    Examples
    --------
    >>> drains(total_m3=0.010, drained_m3=[0.004, 0.004])
    (0.6, 0.36)
    """
    bounded("total_m3", total_m3, above=0.0, unit="m3")
    if not drained_m3:
        raise OutOfRange("drained_m3", "an empty list", "at least one volume")
    remaining: list[float] = []
    left = 1.0
    for drained in drained_m3:
        bounded(
            "drained_m3",
            drained,
            low=0.0,
            high=total_m3,
            unit="m3",
            advice="a drain cannot take more than the circuit holds",
        )
        left *= 1.0 - drained / total_m3
        remaining.append(left)
    return tuple(remaining)


def drains_to_target(*, total_m3: float, drained_m3: float, target_vfrac: float) -> int:
    """Return how many equal drains bring the old fluid down to a target.

    Parameters
    ----------
    total_m3 : scalar
        Fluid of the whole circuit when full, above 0. [m3]
    drained_m3 : scalar
        Volume taken out and replaced each time, above 0 to ``total_m3``. [m3]
    target_vfrac : scalar
        Old fluid that may stay, above 0 to 1. [m3/m3]

    Returns
    -------
    count : scalar
        Smallest number of drains that reaches the target. [-]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    As for ``drains``.

    Source
    ------
    Closed form (derived).

    Examples
    --------
    >>> drains_to_target(total_m3=0.012, drained_m3=0.004, target_vfrac=0.05)
    8
    """
    bounded("total_m3", total_m3, above=0.0, unit="m3")
    bounded("drained_m3", drained_m3, above=0.0, high=total_m3, unit="m3")
    bounded("target_vfrac", target_vfrac, above=0.0, high=1.0)
    if target_vfrac == 1.0:
        return 0
    kept = 1.0 - drained_m3 / total_m3
    if kept <= 0.0:
        return 1
    exact = math.log(target_vfrac) / math.log(kept)
    # A target that a whole number of drains just meets must not cost one more through rounding.
    return max(math.ceil(exact - 1e-9), 1)
