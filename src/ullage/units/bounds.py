"""Is a number inside what is allowed? One check with one way of saying no.

Every public function of the core asks here before it calculates, so that a NaN, an infinity,
a negative volume or a share of 40 gives the same kind of sentence everywhere.
"""

from __future__ import annotations

import math

from ullage.errors import OutOfRange


def bounded(
    name: str,
    value: float,
    *,
    unit: str = "",
    low: float | None = None,
    above: float | None = None,
    high: float | None = None,
    below: float | None = None,
    advice: str = "",
) -> float:
    """Return ``value`` if it is finite and inside the limits, else raise ``OutOfRange``.

    ``low`` and ``high`` belong to the allowed range, ``above`` and ``below`` do not.
    ``unit`` is for the sentence alone.

    Examples
    --------
    >>> bounded("share", 0.25, low=0.0, high=1.0)
    0.25
    >>> bounded("total_m3", -1.0, above=0.0, unit="m3")
    Traceback (most recent call last):
    ...
    ullage.errors.OutOfRange: total_m3 must be above 0 m3, got -1 m3
    """
    inside = math.isfinite(value) and not (
        (low is not None and value < low)
        or (above is not None and value <= above)
        or (high is not None and value > high)
        or (below is not None and value >= below)
    )
    if inside:
        return value
    allowed = _range_in_words(low=low, above=above, high=high, below=below, unit=unit)
    raise OutOfRange(name, with_unit(value, unit), allowed, advice)


def whole(name: str, value: float, *, low: int = 0, high: int | None = None) -> int:
    """Return ``value`` as a whole number within the limits, else raise ``OutOfRange``."""
    bounded(name, value, low=low, high=high)
    if value != int(value):
        raise OutOfRange(name, with_unit(value, ""), "a whole number")
    return int(value)


def with_unit(value: float, unit: str) -> str:
    """Return a number as a person reads it, with its unit where it has one."""
    return f"{value:.12g} {unit}".rstrip()


def _range_in_words(
    *,
    low: float | None,
    above: float | None,
    high: float | None,
    below: float | None,
    unit: str,
) -> str:
    """Say the allowed range as a person would."""
    if low is not None and high is not None:
        return f"from {low:.12g} to {with_unit(high, unit)}"
    lower = upper = ""
    if low is not None:
        lower = f"at least {with_unit(low, unit)}"
    elif above is not None:
        lower = f"above {with_unit(above, unit)}"
    if high is not None:
        upper = f"at most {with_unit(high, unit)}"
    elif below is not None:
        upper = f"below {with_unit(below, unit)}"
    return " and ".join(part for part in (lower, upper) if part) or "a finite number"
