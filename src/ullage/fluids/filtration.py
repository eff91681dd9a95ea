"""What does a filter take out, and how long does it need?

Ratio and efficiency of an element, and particles in a mixed loop with ingress and a fresh feed.
Pressure drop and bypass are in ``filter_drop``; which codes the counts make is ``cleanliness``'s
business.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.errors import OutOfRange
from ullage.units.caveat import Caveat
from ullage.units.elementwise import Number_co, bounded, caveats_where, exp, kept, log, where

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

LARGEST_TESTED_RATIO = 1000.0  # the highest ratio at which ISO 16889 reports a size
_FEW = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Retention(Generic[Number_co]):
    """What an element holds back at one size: ratio, share held back, what to beware of."""

    ratio: Number_co
    efficiency_share: Number_co
    caveats: tuple[Caveat, ...] = ()


@overload
def retention(*, upstream: float, downstream: float) -> Retention: ...
@overload
def retention(*, upstream: Numbers, downstream: Numbers) -> Retention[Array]: ...
def retention(*, upstream: Numbers, downstream: Numbers) -> Retention[Numbers]:
    """Return ratio and efficiency of a filter from counts on both sides.

    Parameters
    ----------
    upstream : scalar or (...)
        Particles before the filter, above 0, in any unit of count or concentration. [any]
    downstream : scalar or (...)
        Particles behind it, above 0 and at most ``upstream``, in the same unit. [any]

    Returns
    -------
    retention : Retention
        Ratio upstream over downstream, and one less its inverse. [-]

    Raises
    ------
    OutOfRange
        If a count is outside the ranges above.

    Validity
    --------
    One size and one moment. A field reading of two bottles is far less sure than a test stand.

    Source
    ------
    ISO 16889:2022, definitions (``iso-16889-2022``).

    Examples
    --------
    >>> retention(upstream=1000, downstream=50)
    Retention(ratio=20.0, efficiency_share=0.95, caveats=())
    """
    bounded("upstream", upstream, above=0.0)
    bounded(
        "downstream",
        downstream,
        above=0.0,
        high=upstream,
        advice="none seen: count longer; more behind than before: the filter sheds or the "
        "samples are swapped",
    )
    ratio = upstream / downstream
    ratio, held_share = kept(ratio, 1.0 - 1.0 / ratio)
    return Retention(
        ratio=ratio,
        efficiency_share=held_share,
        caveats=caveats_where(
            (
                downstream < _FEW,
                Caveat(
                    code="few-counts",
                    text="Fewer than 20 behind the filter: if these are raw counts, the ratio is "
                    "a rough figure.",
                ),
            ),
            (
                ratio > LARGEST_TESTED_RATIO,
                Caveat(
                    code="above-1000",
                    text="Ratios above 1000 are not told apart by the standard test.",
                ),
            ),
        ),
    )


@overload
def efficiency_share(*, ratio: float) -> float: ...
@overload
def efficiency_share(*, ratio: Array) -> Array: ...
def efficiency_share(*, ratio: Numbers) -> Numbers:
    """Return the share of particles that a filter of a given ratio holds back.

    Parameters
    ----------
    ratio : scalar or (...)
        Filtration ratio beta, 1 or more. [-]

    Returns
    -------
    share : scalar or (...)
        Particles held back over particles arriving, 0 to 1. [-]

    Raises
    ------
    OutOfRange
        If the ratio is below 1.

    Validity
    --------
    At the size for which the ratio holds.

    Source
    ------
    ISO 16889:2022, definitions (``iso-16889-2022``).

    Examples
    --------
    >>> efficiency_share(ratio=75.0)
    0.986667
    """
    return 1.0 - 1.0 / bounded("ratio", ratio, low=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterLoop:
    """A mixed volume with a filter in its loop, ingress, and a feed of fresh fluid to waste.

    ``efficiency_share`` is what the filter holds back of what goes through it once,
    ``ingress_per_s`` particles that get in per second, ``feed_m3_s`` fresh fluid poured while the
    same flow runs to waste, with ``feed_per_m3`` particles of its own. Concentrations are particles
    of the size considered per volume.
    """

    volume_m3: float
    flow_m3_s: float
    efficiency_share: float
    ingress_per_s: float = 0.0
    feed_m3_s: float = 0.0
    feed_per_m3: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a loop that cannot be, or that never cleans anything."""
        bounded("volume_m3", self.volume_m3, above=0.0, unit="m3")
        bounded("flow_m3_s", self.flow_m3_s, low=0.0, unit="m3/s")
        bounded("efficiency_share", self.efficiency_share, low=0.0, high=1.0)
        bounded("ingress_per_s", self.ingress_per_s, low=0.0, unit="1/s")
        bounded("feed_m3_s", self.feed_m3_s, low=0.0, unit="m3/s")
        bounded("feed_per_m3", self.feed_per_m3, low=0.0, unit="1/m3")
        if self.cleaned_m3_s <= 0.0:
            raise OutOfRange(
                "flow_m3_s",
                f"{self.flow_m3_s:.6g} m3/s with efficiency_share {self.efficiency_share:.6g}",
                "such that something is cleaned or fed",
                "nothing ever leaves this loop, so there is no steady state",
            )

    @property
    def cleaned_m3_s(self) -> float:
        """Volume cleared of all its particles per second."""
        return self.flow_m3_s * self.efficiency_share + self.feed_m3_s

    @property
    def time_constant_s(self) -> float:
        """Time in which the distance from the steady state falls to 37 %."""
        return self.volume_m3 / self.cleaned_m3_s

    @property
    def steady_per_m3(self) -> float:
        """Concentration that the loop settles at, before the filter."""
        return (self.ingress_per_s + self.feed_m3_s * self.feed_per_m3) / self.cleaned_m3_s

    @property
    def steady_behind_per_m3(self) -> float:
        """Concentration behind the filter when the loop has settled."""
        return self.steady_per_m3 * (1.0 - self.efficiency_share)


@overload
def loop_concentration(*, loop: FilterLoop, start_per_m3: float, time_s: float) -> float: ...
@overload
def loop_concentration(*, loop: FilterLoop, start_per_m3: Numbers, time_s: Numbers) -> Array: ...
def loop_concentration(*, loop: FilterLoop, start_per_m3: Numbers, time_s: Numbers) -> Numbers:
    """Return the particles in a filtered loop after a time.

    Parameters
    ----------
    loop : FilterLoop
        The loop.
    start_per_m3 : scalar or (...)
        Particles at the start, 0 or more. [1/m3]
    time_s : scalar or (...)
        How long it has run, 0 or more. [s]

    Returns
    -------
    concentration_per_m3 : scalar or (...)
        Particles before the filter. [1/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    The volume mixes much faster than it is filtered, ingress and efficiency are steady, and the
    filter does not bypass. Particles above about 20 um settle instead of mixing.

    Source
    ------
    Balance of a mixed loop after Fitch (``fitch-1988``); fresh feed derived; checked against an
    integrator in ``tests/outside/scipy_filter_loop``.

    Examples
    --------
    >>> loop = FilterLoop(volume_m3=0.01, flow_m3_s=1e-4, efficiency_share=1.0)
    >>> loop_concentration(loop=loop, start_per_m3=1e9, time_s=700.0) / 1e9
    0.000912
    """
    bounded("start_per_m3", start_per_m3, low=0.0, unit="1/m3")
    bounded("time_s", time_s, low=0.0, unit="s")
    steady = loop.steady_per_m3
    return steady + (start_per_m3 - steady) * exp(-time_s / loop.time_constant_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterTime(Generic[Number_co]):
    """How long a loop runs until a target, and what to beware of."""

    time_s: Number_co
    caveats: tuple[Caveat, ...] = ()


@overload
def time_to_concentration(
    *, loop: FilterLoop, start_per_m3: float, target_per_m3: float
) -> FilterTime: ...
@overload
def time_to_concentration(
    *, loop: FilterLoop, start_per_m3: Numbers, target_per_m3: Numbers
) -> FilterTime[Array]: ...
def time_to_concentration(
    *, loop: FilterLoop, start_per_m3: Numbers, target_per_m3: Numbers
) -> FilterTime[Numbers]:
    """Return how long a filtered loop runs until it is as clean as a target.

    Parameters
    ----------
    loop : FilterLoop
        The loop.
    start_per_m3 : scalar or (...)
        Particles at the start, 0 or more. [1/m3]
    target_per_m3 : scalar or (...)
        Particles that may stay, above the steady state if the start is. [1/m3]

    Returns
    -------
    time : FilterTime
        Time, 0 where the start meets the target already. [s]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above; a target at or below the steady state is never met.

    Validity
    --------
    As for ``loop_concentration``.

    Source
    ------
    Inverse of ``loop_concentration``.

    Examples
    --------
    >>> loop = FilterLoop(volume_m3=0.01, flow_m3_s=1e-4, efficiency_share=1.0)
    >>> time_to_concentration(loop=loop, start_per_m3=1e9, target_per_m3=5e8).time_s
    69.3147
    """
    bounded("start_per_m3", start_per_m3, low=0.0, unit="1/m3")
    bounded("target_per_m3", target_per_m3, above=0.0, unit="1/m3")
    steady = loop.steady_per_m3
    is_clean = start_per_m3 <= target_per_m3
    bounded(
        "target_per_m3",
        target_per_m3,
        above=where(is_clean, 0.0, steady),
        unit="1/m3",
        advice="ingress and filter settle there; a finer filter, more flow or less ingress helps",
    )
    ratio = (start_per_m3 - steady) / where(is_clean, 1.0, target_per_m3 - steady)
    (time_s,) = kept(loop.time_constant_s * log(where(is_clean, 1.0, ratio)))
    return FilterTime(
        time_s=time_s,
        caveats=caveats_where(
            (
                is_clean & (target_per_m3 < steady),
                Caveat(
                    code="rises-again",
                    text="It is clean enough now, but ingress makes it dirtier than the target in "
                    "the long run.",
                ),
            ),
            (
                is_clean & (target_per_m3 >= steady),
                Caveat(code="clean-already", text="It is clean enough already."),
            ),
        ),
    )


@overload
def unseen_share(*, turnovers: float) -> float: ...
@overload
def unseen_share(*, turnovers: Array) -> Array: ...
def unseen_share(*, turnovers: Numbers) -> Numbers:
    """Return the part of a mixed volume that never went through the filter.

    Parameters
    ----------
    turnovers : scalar or (...)
        Volumes through the filter per volume of the loop, 0 or more. [-]

    Returns
    -------
    share : scalar or (...)
        Part that was never in the filter, 0 to 1. [m3/m3]

    Raises
    ------
    OutOfRange
        If ``turnovers`` is negative or not finite.

    Validity
    --------
    A mixed volume; seven turnovers leave less than a thousandth unseen.

    Source
    ------
    As ``washout.mixed``.

    Examples
    --------
    >>> unseen_share(turnovers=7.0)
    0.000912
    """
    return exp(-bounded("turnovers", turnovers, low=0.0))
