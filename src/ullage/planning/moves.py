"""Which moves may follow, once a job is under way, and in which litres?

``candidates`` says what a circuit allows; here it becomes steps with amounts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.planning.candidates import BLEED_MULTIPLES, Mode, Possible, leg_content_m3
from ullage.transport.recipe import (
    Bleed,
    Charge,
    DrawOff,
    Exchange,
    Fill,
    Release,
    Step,
    SwapFilter,
)

#: The smallest part of a litre that a recipe asks for.
SMALLEST_M3 = 1e-5
# Circuits that hold more than this are measured in 0.05 L, smaller ones in 0.01 L.
_LARGE_M3 = 4e-3

#: Steps, their name, and what they change about the branch.
Move = tuple[tuple[Step, ...], str, dict[str, bool]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """The moves of one circuit and goal."""

    circuit: Circuit
    can: Possible
    content_m3: float

    def on_grid(self, volume_m3: float, *, down: bool = False) -> float:
        """Return a volume that a person can measure.

        Parameters
        ----------
        volume_m3 : scalar
            Wanted. [m3]
        down : value
            Rounds down, where no more is there; else up.

        Returns
        -------
        measured_m3 : scalar
            A multiple of 0.05 L, in small circuits of 0.01 L. [m3]

        Source
        ------
        Judgement: what a jug is read to.
        """
        grid = 5e-5 if self.content_m3 > _LARGE_M3 else SMALLEST_M3
        turns = volume_m3 / grid
        return round((math.floor(turns + 1e-6) if down else math.ceil(turns - 1e-6)) * grid, 9)

    def after(
        self, done: tuple[str, ...], amount_m3: float, *, released: bool, swapped: bool
    ) -> Iterator[Move]:
        """Go through the moves that may follow others: steps, their name, and what they change.

        Parameters
        ----------
        done : names
            Moves made so far, the opening first.
        amount_m3 : scalar
            What an exchange shall send to waste. [m3]
        released : value
            Whether gas volumes stand without pressure.
        swapped : value
            Whether the element has been changed.

        Returns
        -------
        moves : values
            Exchanges of every kind, circulations, bleeds, a second pass, a release, the filter.

        Source
        ------
        Derived.
        """
        can = self.can
        up: tuple[Step, ...] = (Fill(), Charge(), self._refill()) if released else ()
        for way in can.ways:
            # Before the first litres have turned the loop over it matters little how legs move.
            if len(done) == 1 and way.mode in (Mode.TOGETHER, Mode.ONE_GROUP):
                continue
            litres = max(amount_m3, self.on_grid(way.round_m3))
            run = Exchange(litres_m3=litres, exercise=way.exercise)
            name = f"{way.mode} {' '.join(way.exercise.groups)}".strip()
            if way.exercise.groups:
                yield (*up, run), name, {"released": False}
            else:
                yield (run,), name, {}
        for closed in can.closed:
            if "closed" in done[-1:]:
                continue
            if can.ways:
                run = Exchange(litres_m3=amount_m3)
                yield (*up, closed, run), "closed", {"released": False}
            redraw = (*up, closed, DrawOff(), self._refill())
            yield redraw, "redraw", {"released": False}
        if not can.closed and not can.ways and not can.bleeds:
            yield (DrawOff(), self._refill()), "redraw", {}
        if len(done) > 1 or not can.ways:
            for names, multiple in self.bleed_sets():
                name = f"bleed {' '.join(names)} x{multiple}"
                yield self.bleeds(names, multiple), name, {}
        if can.can_charge and not released and len(done) > 1:
            steps = (DrawOff(), Release(supported=True), DrawOff(), self._refill())
            yield steps, "release", {"released": True}
        if can.has_element and not swapped and len(done) == 3 and can.ways:
            run = Exchange(litres_m3=amount_m3)
            yield (SwapFilter(), run), "swap", {"swapped": True}

    def bleeds(self, legs: tuple[str, ...], multiple: float) -> tuple[Bleed, ...]:
        """Return a bleed of each leg, of so many times what it holds."""
        return tuple(
            Bleed(leg=leg, litres_m3=self.on_grid(multiple * leg_content_m3(self.circuit, leg)))
            for leg in legs
        )

    def _refill(self) -> Fill:
        full = self.circuit.reservoir.full_m3.best
        if self.can.work_m3 >= full - 1e-9:
            return Fill()
        return Fill(to_m3=round(self.can.work_m3 / 5e-5) * 5e-5)

    def bleed_sets(self) -> Iterator[tuple[tuple[str, ...], float]]:
        """Go through sets of legs to bleed, and how much of their content each."""
        legs = self.can.bleeds
        if not legs:
            return
        sets: dict[tuple[str, ...], None] = {legs: None}
        sets |= dict.fromkeys(self.bled_alike())
        for names in sets:
            for multiple in BLEED_MULTIPLES if names == legs else BLEED_MULTIPLES[:1]:
                yield names, multiple

    def bled_alike(self) -> tuple[tuple[str, ...], ...]:
        """Return the legs that are bled in one go: those of a group; all, where nothing else
        moves them, for nobody leaves one wheel out.
        """
        if not self.can.ways and not self.can.closed:
            return (self.can.bleeds,) if self.can.bleeds else ()
        groups: dict[str, list[str]] = {}
        for leg in self.can.bleeds:
            groups.setdefault(self.circuit.leg_by_id[leg].group or leg, []).append(leg)
        return tuple(tuple(names) for names in groups.values())
