"""How does the level move while a pump draws and people pour container after container?

Exact, from event to event: the level rises or falls evenly while a container empties, falls while
the next one is fetched, and falls faster while the engine flares at its start. Nothing is stepped
in time. Leaves out how sure any of the numbers are; that is ``pace``'s business.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

from ullage.units.bounds import bounded, whole

_SAME_S = 1e-12
_SAME_M3 = 1e-15
#: Events that one saw-tooth may have; beyond, the container is a thimble or the job an ocean.
MOST_CONTAINERS = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What leaves the reservoir: a flare at the start, then steady."""

    steady_m3_s: float
    flare_m3_s: float
    flare_s: float

    def __post_init__(self) -> None:
        """Refuse flows that draw nothing."""
        bounded("steady_m3_s", self.steady_m3_s, above=0.0, unit="m3/s")
        bounded("flare_m3_s", self.flare_m3_s, low=0.0, unit="m3/s")
        bounded("flare_s", self.flare_s, low=0.0, unit="s")

    def drawn_m3(self, time_s: float) -> float:
        """Return what has been drawn after a time.

        Parameters
        ----------
        time_s : scalar
            Time since the start. [s]

        Returns
        -------
        volume_m3 : scalar
            Volume drawn. [m3]

        Validity
        --------
        The flow changes at once from flare to steady.

        Source
        ------
        Sum of two steady flows.

        Examples
        --------
        >>> Draw(steady_m3_s=1e-4, flare_m3_s=2e-4, flare_s=3.0).drawn_m3(5.0)
        0.0008
        """
        flared = min(max(time_s, 0.0), self.flare_s)
        return flared * self.flare_m3_s + max(time_s - self.flare_s, 0.0) * self.steady_m3_s

    def time_s(self, volume_m3: float) -> float:
        """Return when so much has been drawn.

        Parameters
        ----------
        volume_m3 : scalar
            Volume drawn. [m3]

        Returns
        -------
        time_s : scalar
            Time since the start; 0 for nothing or less. [s]

        Validity
        --------
        As ``drawn_m3``.

        Source
        ------
        Inverse of ``drawn_m3``.

        Examples
        --------
        >>> round(Draw(steady_m3_s=1e-4, flare_m3_s=2e-4, flare_s=3.0).time_s(0.0008), 9)
        5.0
        """
        in_flare = self.flare_s * self.flare_m3_s
        if volume_m3 <= 0.0:
            return 0.0
        if volume_m3 <= in_flare:
            return volume_m3 / self.flare_m3_s
        return self.flare_s + (volume_m3 - in_flare) / self.steady_m3_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """How containers follow each other.

    ``pourers`` take turns, one stream at a time: each needs ``change_s`` to lay down an empty
    container and take up a full one. The first container tips after ``first_s``.
    """

    container_m3: float
    pour_m3_s: float
    change_s: float
    pourers: int = 1
    first_s: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a pour that never pours."""
        bounded("container_m3", self.container_m3, above=0.0, unit="m3")
        bounded("pour_m3_s", self.pour_m3_s, above=0.0, unit="m3/s")
        bounded("change_s", self.change_s, low=0.0, unit="s")
        whole("pourers", self.pourers, low=1)
        bounded("first_s", self.first_s, low=0.0, unit="s")


@dataclass(frozen=True, slots=True, kw_only=True)
class SawTooth:
    """The level at every bend: between two of them it moves evenly.

    ``poured_m3`` is what had gone in by then. Times rise; ``containers`` were begun.
    """

    times_s: tuple[float, ...]
    levels_m3: tuple[float, ...]
    poured_m3: tuple[float, ...]
    containers: int

    @property
    def lowest_m3(self) -> float:
        """Lowest level; below nothing means that the pump drew air."""
        return min(self.levels_m3)

    @property
    def highest_m3(self) -> float:
        """Highest level."""
        return max(self.levels_m3)

    def poured_at_m3(self, time_s: float) -> float:
        """Return what had been poured at a time.

        Parameters
        ----------
        time_s : scalar
            Time since the start. [s]

        Returns
        -------
        volume_m3 : scalar
            Volume poured; that of the end for any later time. [m3]

        Validity
        --------
        Exact between bends.

        Source
        ------
        Straight line between two events.
        """
        after = bisect_right(self.times_s, time_s)
        if after == 0:
            return self.poured_m3[0]
        if after == len(self.times_s):
            return self.poured_m3[-1]
        before_s, after_s = self.times_s[after - 1], self.times_s[after]
        share = (time_s - before_s) / (after_s - before_s)
        low, high = self.poured_m3[after - 1], self.poured_m3[after]
        return low + share * (high - low)


def saw_tooth(
    *,
    start_m3: float,
    draw: Draw,
    pour: Pour,
    litres_m3: float,
    hold_m3: float = math.inf,
) -> SawTooth:
    """Return how the level moves until so much has been drawn.

    Parameters
    ----------
    start_m3 : scalar
        Volume in the reservoir when the pump starts. [m3]
    draw : Draw
        What the pump takes.
    pour : Pour
        What people pour.
    litres_m3 : scalar
        Volume drawn at which the run ends, above 0. [m3]
    hold_m3 : scalar
        Level at which pourers slow down to what the pump takes instead of pouring on; at least
        ``start_m3``. [m3]

    Returns
    -------
    found : SawTooth
        Level and volume poured at every bend, the start and the end included.

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above, or more containers would be needed than
        ``MOST_CONTAINERS``.

    Validity
    --------
    Steady rates within each stretch. A level below nothing is returned as it falls out: the pump
    would have drawn air by then.

    Source
    ------
    Mass balance between events; checked against a reference written apart in
    ``tests/unit/planning``.

    Examples
    --------
    >>> found = saw_tooth(
    ...     start_m3=0.002,
    ...     draw=Draw(steady_m3_s=1e-4, flare_m3_s=1e-4, flare_s=0.0),
    ...     pour=Pour(container_m3=1e-3, pour_m3_s=2e-4, change_s=3.0),
    ...     litres_m3=1e-3,
    ... )
    >>> [(t, round(v * 1e3, 3)) for t, v in zip(found.times_s, found.levels_m3)]
    [(0.0, 2.0), (5.0, 2.5), (8.0, 2.2), (10.0, 2.4)]
    """
    bounded("start_m3", start_m3, low=0.0, unit="m3")
    bounded("litres_m3", litres_m3, above=0.0, unit="m3")
    bounded(
        "litres_m3",
        litres_m3,
        high=MOST_CONTAINERS * pour.container_m3,
        unit="m3",
        advice="pour from larger containers",
    )
    if hold_m3 < start_m3:
        raise ValueError("pourers cannot hold a level below the one they start at")
    end_s = draw.time_s(litres_m3)
    time_s, level, poured = 0.0, start_m3, 0.0
    times, levels, pours = [time_s], [level], [poured]
    ready_s = [pour.first_s] * pour.pourers
    containers = 0
    left = 0.0  # in the container that is being poured; 0 while the next one is fetched
    begins_s = pour.first_s
    while time_s < end_s - _SAME_S:
        flaring = time_s < draw.flare_s - _SAME_S
        out = draw.flare_m3_s if flaring else draw.steady_m3_s
        if left <= 0.0 and time_s >= begins_s - _SAME_S:
            containers += 1
            left = pour.container_m3
        held = left > 0.0 and pour.pour_m3_s > out and level >= hold_m3 - _SAME_M3
        into = 0.0 if left <= 0.0 else out if held else pour.pour_m3_s
        until = [end_s]
        if flaring:
            until.append(draw.flare_s)
        if left <= 0.0:
            until.append(begins_s)
        elif into > 0.0:
            until.append(time_s + left / into)
            if not held and into > out:
                until.append(time_s + max(hold_m3 - level, 0.0) / (into - out))
        then_s = min(until)
        span_s = then_s - time_s
        level += (into - out) * span_s
        poured += into * span_s
        time_s = then_s
        if left > 0.0:
            left -= into * span_s
            if left <= _SAME_M3:
                left = 0.0
                turn = (containers - 1) % pour.pourers
                ready_s[turn] = time_s + pour.change_s
                begins_s = max(time_s, ready_s[containers % pour.pourers])
        times.append(time_s)
        levels.append(level)
        pours.append(poured)
    return SawTooth(
        times_s=tuple(times),
        levels_m3=tuple(levels),
        poured_m3=tuple(pours),
        containers=containers,
    )
