"""One formula for a number and for a whole array of them.

The arithmetic signs of Python take numbers and numpy arrays alike. Functions of ``math``, limits
and choices do not: each has a twin here that keeps a number a plain ``float`` and works element by
element on arrays, which broadcast against each other. numpy is loaded by whoever has an array,
never by this module, so that a sum with plain numbers starts without it.

Arrays hold 64-bit floats or whole numbers. A mypy overload that takes a number first and either
second counts as unsafe (a number declared as ``Numbers`` would be promised an array); the modules
that offer such pairs say so in their first lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NoReturn, TypeAlias, TypeVar

from ullage.errors import OutOfRange
from ullage.units import bounds
from ullage.units.caveat import Caveat

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from typing_extensions import TypeVar as TypeVarWithDefault

    Array: TypeAlias = NDArray[np.float64]
    Counts: TypeAlias = NDArray[np.int64]
    Mask: TypeAlias = NDArray[np.bool_]
    Objects: TypeAlias = NDArray[np.object_]
    Numbers: TypeAlias = float | Array
    Truth: TypeAlias = bool | Mask
    # The fields of a result hold numbers unless it is said to hold arrays.
    Number_co = TypeVarWithDefault("Number_co", bound=Numbers, covariant=True, default=float)
else:
    Number_co = TypeVar("Number_co", covariant=True)

_PLAIN = (float, int)


def bounded(
    name: str,
    value: Numbers,
    *,
    unit: str = "",
    low: Numbers | None = None,
    above: Numbers | None = None,
    high: Numbers | None = None,
    below: Numbers | None = None,
    advice: str = "",
) -> Numbers:
    """Return ``value`` if all of it is finite and inside the limits, else raise ``OutOfRange``.

    The sentence names the first element outside, by its place in the broadcast of value and limits.

    Examples
    --------
    >>> import numpy as np
    >>> bounded("flow_m3_s", np.array([1e-4, 2e-4, -1e-4]), low=0.0, unit="m3/s")
    Traceback (most recent call last):
    ...
    ullage.errors.OutOfRange: flow_m3_s[2] must be at least 0 m3/s, got -0.0001 m3/s
    """
    if isinstance(value, _PLAIN):
        try:
            # The check of `bounds.bounded` once more, for a call less where the solver asks.
            if math.isfinite(value) and not (
                (low is not None and value < low)
                or (above is not None and value <= above)
                or (high is not None and value > high)
                or (below is not None and value >= below)
            ):
                return value
        except ValueError:
            # A limit is an array: whether it holds depends on the element.
            pass
    limits: dict[str, Any] = {"low": low, "above": above, "high": high, "below": below}
    given = {key: limit for key, limit in limits.items() if limit is not None}
    if isinstance(value, _PLAIN) and all(isinstance(one, _PLAIN) for one in given.values()):
        bounds.bounded(name, value, unit=unit, advice=advice, **given)
    import numpy as np

    checked, *ends = np.broadcast_arrays(
        _array(name, value), *(_array(key, limit) for key, limit in given.items())
    )
    inside = np.isfinite(checked)
    for key, end in zip(given, ends, strict=True):
        inside &= _INSIDE[key](checked, end)
    if not inside.all():
        place = tuple(int(one) for one in np.argwhere(~inside)[0])
        at = {key: float(end[place]) for key, end in zip(given, ends, strict=True)}
        bounds.bounded(placed(name, place), float(checked[place]), unit=unit, advice=advice, **at)
    return value


_INSIDE: dict[str, Callable[[Any, Any], Any]] = {
    "low": lambda value, end: value >= end,
    "above": lambda value, end: value > end,
    "high": lambda value, end: value <= end,
    "below": lambda value, end: value < end,
}


def _array(name: str, value: Any) -> Any:
    """Return a value as an array; refuse what is neither a number nor an array of them."""
    import numpy as np

    if not isinstance(value, (*_PLAIN, np.ndarray, np.generic)):
        raise TypeError(
            f"{name} must be a number or a numpy array, got {type(value).__name__}; "
            "numpy.asarray(..., dtype=float) makes an array of a list"
        )
    array = np.asarray(value)
    if array.dtype != np.float64 and array.dtype.kind not in "iu":
        raise TypeError(
            f"{name} must hold 64-bit floats or whole numbers, got {array.dtype}; "
            ".astype(float) converts an array"
        )
    return array


def whole(name: str, value: Numbers, *, low: int = 0, high: int | None = None) -> Numbers:
    """Return ``value`` if all of it is a whole number within the limits, else ``OutOfRange``."""
    if isinstance(value, _PLAIN):
        return bounds.whole(name, value, low=low, high=high)
    bounded(name, value, low=low, high=high)
    refuse_where(value != floor(value), name, value, "a whole number")
    return value


def placed(name: str, place: tuple[int, ...]) -> str:
    """Return the name of one element of an array, ``flow_m3_s[1, 0]``."""
    return f"{name}[{', '.join(str(index) for index in place)}]" if place else name


def refuse_where(
    wrong: Truth,
    name: str,
    value: Numbers,
    allowed: str | Callable[..., str],
    advice: str = "",
    *,
    unit: str = "",
    told_by: tuple[Numbers, ...] = (),
) -> None:
    """Raise ``OutOfRange`` for the first element at which something is wrong.

    ``allowed`` is the range in words, or a function that makes the words of ``told_by`` there.
    """
    if wrong is False or not anywhere(wrong):
        return
    place, (found, *told) = first_place(wrong, value, *told_by)
    words = allowed(*told) if callable(allowed) else allowed
    raise OutOfRange(placed(name, place), f"{found:.6g} {unit}".rstrip(), words, advice)


def first_place(wrong: Truth, *values: Numbers) -> tuple[tuple[int, ...], list[float]]:
    """Return where something is wrong for the first time, and what the values are there."""
    if isinstance(wrong, bool):
        return (), [float(value) for value in values]
    import numpy as np

    mask, *spread = np.broadcast_arrays(wrong, *values)
    place = tuple(int(one) for one in np.argwhere(mask)[0])
    return place, [float(value[place]) for value in spread]


def anywhere(truth: Truth) -> bool:
    """Tell whether something holds at all, for a number or for any element."""
    return truth if isinstance(truth, bool) else bool(truth.any())


def caveats_where(*pairs: tuple[Truth, Caveat]) -> tuple[Caveat, ...]:
    """Return the caveats whose condition holds anywhere; of arrays they say how often and where.

    Examples
    --------
    >>> import numpy as np
    >>> cold = Caveat(code="cold", text="It is cold.")
    >>> caveats_where((np.array([False, True, True]), cold))[0].text
    'It is cold. (2 of 3 values, the first at [1])'
    """
    return tuple(_of_places(truth, caveat) for truth, caveat in pairs if anywhere(truth))


def _of_places(truth: Truth, caveat: Caveat) -> Caveat:
    """Return a caveat that says for which elements it holds."""
    if isinstance(truth, bool) or truth.ndim == 0:
        return caveat
    place, _ = first_place(truth)
    where_first = f"({int(truth.sum())} of {truth.size} values, the first at {placed('', place)})"
    return Caveat(code=caveat.code, text=f"{caveat.text} {where_first}")


def where(condition: Truth, if_true: Any, if_false: Any) -> Any:
    """Return one or the other, element by element; both were worked out before."""
    if isinstance(condition, bool):
        return if_true if condition else if_false
    import numpy as np

    return np.where(condition, if_true, if_false)[()]


def least(first: Numbers, second: Numbers) -> Numbers:
    """Return the smaller of two."""
    if isinstance(first, _PLAIN) and isinstance(second, _PLAIN):
        return first if first <= second else second
    return where(first <= second, first, second)  # type: ignore[no-any-return]


def greatest(first: Numbers, second: Numbers) -> Numbers:
    """Return the larger of two."""
    if isinstance(first, _PLAIN) and isinstance(second, _PLAIN):
        return first if first >= second else second
    return where(first >= second, first, second)  # type: ignore[no-any-return]


def kept(*fields: Numbers) -> tuple[Any, ...]:
    """Return what a result holds: numbers as they are, else read-only arrays of one shape."""
    for field in fields:
        if not isinstance(field, _PLAIN):
            break
    else:
        return fields
    import numpy as np

    copies = tuple(np.array(field) for field in np.broadcast_arrays(*fields))
    for copy in copies:
        copy.flags.writeable = False
    return copies


def each(work: Callable[..., float], **given: Numbers) -> Numbers:
    """Return what a function of numbers gives, element by element, for methods that iterate.

    An element that it refuses is named like one that a check refuses.
    """
    for value in given.values():
        if not isinstance(value, _PLAIN):
            break
    else:
        return work(**given)
    import numpy as np

    spread = np.broadcast_arrays(*given.values())
    found = np.empty(spread[0].shape)
    for place in np.ndindex(found.shape):
        one = {key: float(array[place]) for key, array in zip(given, spread, strict=True)}
        try:
            found[place] = work(**one)
        except OutOfRange as refused:
            _again(refused, place)
    return found[()]


def _again(refused: OutOfRange, place: tuple[int, ...]) -> NoReturn:
    """Raise a refusal once more, with the place of its element."""
    name = placed(refused.name, place)
    raise OutOfRange(name, refused.value, refused.allowed, refused.advice) from None


def magnitude(x: Numbers) -> Numbers:
    """Return how far x is from nothing."""
    if isinstance(x, _PLAIN):
        return abs(x)
    import numpy as np

    return np.abs(x)


def total(*parts: Numbers) -> Numbers:
    """Return a sum; of plain numbers without the rounding of its steps."""
    if all(isinstance(part, _PLAIN) for part in parts):
        return math.fsum(parts)
    return sum(parts)


def floor(x: Numbers) -> Numbers:
    """Return the largest whole number that is not above x."""
    if isinstance(x, _PLAIN):
        return math.floor(x)
    import numpy as np

    return np.floor(x)


def exp(x: Numbers) -> Numbers:
    """Return e to the power of x."""
    if isinstance(x, _PLAIN):
        return math.exp(x)
    import numpy as np

    return np.exp(x)


def expm1(x: Numbers) -> Numbers:
    """Return e to the power of x, less one, exact for small x."""
    if isinstance(x, _PLAIN):
        return math.expm1(x)
    import numpy as np

    return np.expm1(x)


def log(x: Numbers) -> Numbers:
    """Return the natural logarithm."""
    if isinstance(x, _PLAIN):
        return math.log(x)
    import numpy as np

    return np.log(x)


def log10(x: Numbers) -> Numbers:
    """Return the decadic logarithm."""
    if isinstance(x, _PLAIN):
        return math.log10(x)
    import numpy as np

    return np.log10(x)


def log1p(x: Numbers) -> Numbers:
    """Return the natural logarithm of one plus x, exact for small x."""
    if isinstance(x, _PLAIN):
        return math.log1p(x)
    import numpy as np

    return np.log1p(x)


def sqrt(x: Numbers) -> Numbers:
    """Return the square root."""
    if isinstance(x, _PLAIN):
        return math.sqrt(x)
    import numpy as np

    return np.sqrt(x)


def cbrt(x: Numbers) -> Numbers:
    """Return the cube root."""
    if isinstance(x, _PLAIN):
        return math.cbrt(x)
    import numpy as np

    return np.cbrt(x)


def power(base: Numbers, exponent: Numbers) -> Numbers:
    """Return a base to the power of an exponent."""
    if isinstance(base, _PLAIN) and isinstance(exponent, _PLAIN):
        return math.pow(base, exponent)
    import numpy as np

    return np.float_power(base, exponent)


def hypot(first: Numbers, second: Numbers, third: Numbers = 0.0) -> Numbers:
    """Return the root of the sum of two or three squares."""
    if isinstance(first, _PLAIN) and isinstance(second, _PLAIN) and isinstance(third, _PLAIN):
        return math.hypot(first, second, third)
    import numpy as np

    return np.hypot(np.hypot(first, second), third)
