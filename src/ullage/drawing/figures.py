"""How do numbers read to a person?

Shares become whole percents, volumes litres, spans minutes and seconds. A share that is not quite
nothing never reads as nothing, and one that is not quite everything never as everything. Leaves out
how numbers stand in files (``formats``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.units.convert import LITRE_M3, MINUTE_S

# Below this a share is a rounding of zero (or of one), not a trace of old fluid.
_NOTHING = 1e-9

Floats = NDArray[np.float64]

#: The ends of a band, as shares of the members: nine in ten lie between.
BAND = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A number over all members: the middle one and the ends that nine in ten lie between.

    ``is_one`` tells that there was a single member, so that the three are the same.
    """

    low: float
    middle: float
    high: float
    is_one: bool


def spread(values: Floats) -> Spread:
    """Return the middle and the band of an array over members; those that are NaN do not count.

    >>> spread(np.array([0.25, np.nan])).middle
    0.25
    """
    counted = values[np.isfinite(values)]
    if not counted.size:
        raise ValueError("a spread needs one member at least that arrived")
    low, middle, high = (float(v) for v in np.quantile(counted, BAND))
    return Spread(low=low, middle=middle, high=high, is_one=values.size == 1)


def middle(values: Floats) -> float:
    """Return the middle value over members, 0 where none arrived.

    >>> middle(np.array([1.0, 2.0, 4.0, np.nan]))
    2.0
    """
    counted = values[np.isfinite(values)]
    return float(np.median(counted)) if counted.size else 0.0


def whole_percent(share: float) -> str:
    """Return a share as a whole percent without the sign, halves rounded up.

    >>> [whole_percent(share) for share in (0.0, 0.002, 0.005, 0.374, 0.998, 1.0)]
    ['0', '<1', '1', '37', '>99', '100']
    """
    if _NOTHING < share < 0.005:
        return "<1"
    if 0.995 <= share < 1.0 - _NOTHING:
        return ">99"
    return str(math.floor(100.0 * share + 0.5))


def percent(share: float) -> str:
    """Return a share as people read it.

    >>> percent(0.374)
    '37 %'
    """
    return f"{whole_percent(share)} %"


def percent_band(values: Spread) -> str:
    """Return the ends of a band of shares, or one figure where both ends read the same.

    Ends that are next to nothing or everything are rounded outwards.

    >>> percent_band(Spread(low=0.31, middle=0.37, high=0.44, is_one=False))
    '31–44 %'
    >>> percent_band(Spread(low=0.001, middle=0.01, high=0.02, is_one=False))
    '0–2 %'
    """
    low, high = whole_percent(values.low), whole_percent(values.high)
    if low == high:
        return f"{low} %"
    low = {"<1": "0", ">99": "99"}.get(low, low)
    high = {"<1": "1", ">99": "100"}.get(high, high)
    return f"{low}–{high} %"


def litres(volume_m3: float) -> str:
    """Return a volume in litres: hundredths below ten litres, tenths above; small ones in mL.

    >>> litres(0.00028), litres(0.0119), litres(1.24e-5), litres(0.0)
    ('0.28 L', '11.9 L', '12 mL', '0 mL')
    """
    volume_l = volume_m3 / LITRE_M3
    if volume_l < 0.0995:
        return f"{1000.0 * volume_l:.0f} mL"
    return f"{volume_l:.2f} L" if volume_l < 9.995 else f"{volume_l:.1f} L"


def poured(volume_m3: float) -> str:
    """Return a volume as it is poured and caught: tenths of a litre, whole ones without a point.

    >>> poured(0.01), poured(0.0072)
    ('10 L', '7.2 L')
    """
    volume_l = volume_m3 / LITRE_M3
    text = f"{volume_l:.1f}"
    return f"{text.removesuffix('.0')} L"


def duration(span_s: float) -> str:
    """Return a span in seconds below two minutes, in minutes and seconds above.

    >>> duration(8.0), duration(95.0), duration(300.0), duration(312.4)
    ('8 s', '95 s', '5 min', '5 min 12 s')
    """
    seconds = math.floor(span_s + 0.5)
    if seconds < 2 * MINUTE_S:
        return f"{seconds} s"
    minutes, rest = divmod(seconds, int(MINUTE_S))
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"


def listed(words: Sequence[str]) -> str:
    """Return names in a row as a sentence has them.

    >>> listed(["front-left"]), listed(["a", "b", "c"])
    ('front-left', 'a, b and c')
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
