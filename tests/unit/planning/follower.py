"""People who follow a pace, simulated apart from the program: a ledger of containers.

Every container has a rate, a size and a change time of its own. The level is written as what was
there, less what the pump took, plus what came out of each container by then. Nothing here is shared
with the program that is tested.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass
class Day:
    """One pour as it happens: numbers of this day, and rates and changes container by container."""

    start: float
    steady: float
    flare: float
    flare_s: float
    margin_s: float
    container: float
    rate: Callable[[int], float]
    change: Callable[[int], float]
    pourers: int = 1
    first_s: float = 0.0
    bends: list[tuple[float, float]] = field(default_factory=list)

    def drawn(self, t: float) -> float:
        """Return what the pump took."""
        return self.flare * min(t, self.flare_s) + self.steady * max(0.0, t - self.flare_s)

    def when_drawn(self, volume: float) -> float:
        """Return when it has taken so much."""
        early = self.flare * self.flare_s
        return (
            volume / self.flare
            if volume <= early
            else self.flare_s + (volume - early) / self.steady
        )

    def unheld(self, until: float) -> list[tuple[float, float]]:
        """Return begin and end of each container begun before a time, poured without a pause."""
        spans: list[tuple[float, float]] = []
        k = 0
        begin = self.first_s
        while begin < until:
            spans.append((begin, begin + self.container / self.rate(k)))
            k += 1
            begin = spans[-1][1]
            if k >= self.pourers:
                begin = max(begin, spans[k - self.pourers][1] + self.change(k - self.pourers))
        return spans

    def poured(self, spans: list[tuple[float, float]], t: float) -> float:
        """Return what has come out of the containers."""
        total = 0.0
        for begin, end in spans:
            if t > begin:
                total += self.container * min((t - begin) / (end - begin), 1.0)
        return total

    def levels(self, litres: float) -> tuple[list[float], list[float]]:
        """Return bends of time and level, nobody pausing, until so much is drawn."""
        last = self.when_drawn(litres)
        spans = self.unheld(last)
        times = {0.0, last, min(self.flare_s, last)}
        times |= {min(t, last) for span in spans for t in span}
        ordered = sorted(times)
        return ordered, [self.start - self.drawn(t) + self.poured(spans, t) for t in ordered]

    def lowest_when_stopped(
        self,
        litres: float,
        *,
        stop_level: float = -1.0,
        stop_s: float = float("inf"),
        hold: float | None = None,
    ) -> float:
        """Return the lowest level of a run that ends by level, clock or litres, and its aftermath.

        After "stop" nobody pours and the pump goes on for the margin. With ``hold`` pourers keep
        the level there rather than pour on.
        """
        last = min(self.when_drawn(litres), stop_s)
        t, level, lowest = 0.0, self.start, self.start
        k, left = -1, 0.0
        idle_until = self.first_s
        free = [self.first_s] * self.pourers
        while t < last:
            if level <= stop_level:
                break
            out = self.flare if t < self.flare_s else self.steady
            if left == 0.0 and t >= idle_until:
                k += 1
                left = self.container
            into = 0.0
            if left > 0.0:
                into = self.rate(k)
                if hold is not None and into > out and level >= hold:
                    into = out
            ends = [last - t]
            if t < self.flare_s:
                ends.append(self.flare_s - t)
            if left == 0.0:
                ends.append(idle_until - t)
            elif into > 0.0:
                ends.append(left / into)
            gain = into - out
            if hold is not None and gain > 0.0:
                ends.append((hold - level) / gain)
            if gain < 0.0 and level > stop_level:
                ends.append((stop_level - level) / gain)
            span = min(ends)
            stopped = gain < 0.0 and level + gain * span <= stop_level + 1e-15
            reached = hold is not None and gain > 0.0 and span == ends[-1]
            level = hold if reached and hold is not None else level + gain * span
            t += span
            if left > 0.0:
                left = max(left - into * span, 0.0)
                if left < 1e-15:
                    left = 0.0
                    free[k % self.pourers] = t + self.change(k)
                    idle_until = max(t, free[(k + 1) % self.pourers])
            if t < self.flare_s and self.flare_s - t < 1e-12:
                t = self.flare_s
            if left == 0.0 and idle_until > t and idle_until - t < 1e-12:
                t = idle_until
            lowest = min(lowest, level)
            if stopped:
                break
        return min(lowest, level - (self.drawn(t + self.margin_s) - self.drawn(t)))
