"""How much old fluid do drains and refills leave, and how many does a target take?

For a circuit that is run until it mixes between one refill and the next drain. New fluid that goes
through while old leaves is in ``washout``.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, overload

from ullage.errors import OutOfRange
from ullage.units.elementwise import bounded, floor, greatest, log, where

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Counts, Numbers


def drains(*, total_m3: float, drained_m3: Sequence[float] | Array) -> tuple[float, ...]:
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
    if len(drained_m3) == 0:
        raise OutOfRange("drained_m3", "an empty list", "at least one volume")
    remaining: list[float] = []
    left = 1.0
    for drained in (float(one) for one in drained_m3):
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


@overload
def drains_to_target(*, total_m3: float, drained_m3: float, target_vfrac: float) -> int: ...
@overload
def drains_to_target(
    *, total_m3: Numbers, drained_m3: Numbers, target_vfrac: Numbers
) -> Counts: ...
def drains_to_target(
    *, total_m3: Numbers, drained_m3: Numbers, target_vfrac: Numbers
) -> int | Counts:
    """Return how many equal drains bring the old fluid down to a target.

    Parameters
    ----------
    total_m3 : scalar or (...)
        Fluid of the whole circuit when full, above 0. [m3]
    drained_m3 : scalar or (...)
        Volume taken out and replaced each time, above 0 to ``total_m3``. [m3]
    target_vfrac : scalar or (...)
        Old fluid that may stay, above 0 to 1. [m3/m3]

    Returns
    -------
    count : scalar or (...)
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
    left = 1.0 - drained_m3 / total_m3
    is_emptied = left <= 0.0
    exact = log(target_vfrac) / log(where(is_emptied, 0.5, left))
    # A target that a whole number of drains just meets must not cost one more through rounding.
    count = greatest(-floor(1e-9 - exact), 1.0)
    count = where(target_vfrac == 1.0, 0.0, where(is_emptied, 1.0, count))
    return int(count) if isinstance(count, float | int) else count.astype(int)
