"""Can a recipe that was found pour less, share its litres out better, or do without a step?

The tree finds orders of moves in coarse amounts. Here whole recipes are worked over on the same
draws: all that so many containers hold is poured, litres go from one step to another, and what
does not earn its place is left out. Where the target is out of reach, the cheapest recipe that
comes near is picked here as well.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ullage.circuit.network import Circuit
from ullage.planning.candidates import leg_content_m3
from ullage.planning.moves import SMALLEST_M3
from ullage.planning.score import MOST_UNSAFE
from ullage.planning.search import NEVER, Node, Proposal, Search, tidy
from ullage.transport.recipe import Bleed, Charge, Exchange, Fill, Release, Step, SwapFilter

# Branches that are carried on to what so many containers hold.
_SQUEEZED = 8
# How many of them are bled after a shorter exchange, and by how many times what legs hold.
_BLED_FROM, _MULTIPLES = 3, (0.4, 0.6, 0.8, 1.0, 1.4)
# By how much a share of the litres is tried larger or smaller.
_FACTORS = (1.35, 0.7, 1.15)
# Variants of a recipe that are tried in a round, and rounds.
_VARIANTS, _ROUNDS = 12, 2


@dataclass(kw_only=True)
class Refining:
    """Works over what a search has found."""

    search: Search

    def lowest(self) -> float:
        """Return the lowest remainder at the wanted confidence that any branch came to. [-]"""
        return min((node.at_sure for node in self._within()), default=1.0)

    def _measured(self, volume_m3: float) -> float:
        """Return a volume rounded down to what a person can measure."""
        return self.search.moves.on_grid(volume_m3, down=True)

    def _within(self) -> list[Node]:
        """Return the branches that need no more containers than there may be."""
        return [
            n
            for n in self.search.archive
            if n.shelf_m3 <= self.search.goal.supply_m3(self.search.most)
        ]

    def cheapest_below(self, share: float) -> Proposal | None:
        """Return the recipe that pours least of all that end at or below a remainder.

        Parameters
        ----------
        share : scalar
            Remainder at the wanted confidence. [-]

        Returns
        -------
        cheapest : Proposal
            None where nothing comes so low.

        Source
        ------
        Derived.
        """
        good = [node for node in self._within() if node.at_sure <= share]
        if not good:
            return None
        return self.search.proposal(min(good, key=lambda node: node.shelf_m3))

    def squeezed(self, containers: int) -> Proposal | None:
        """Return the best recipe that pours everything from so many containers.

        Branches that had poured less are carried on by what is left, in every way."""
        supply = self.search.goal.supply_m3(containers)
        near = [node for node in self.search.archive if node.shelf_m3 < supply - 1e-6]
        near = [n for n in near if supply - n.shelf_m3 < 3.0 * self.search.width(n.shelf_m3)]
        rate = max((gain for gain in self.search.paid.values()), default=0.0)
        near.sort(key=lambda node: math.log(node.at_sure) - rate * (supply - node.shelf_m3) * 0.6)
        best: Node | None = None
        for number, node in enumerate(near[:_SQUEEZED]):
            left = self._measured((supply - node.shelf_m3) / self.search.to_shelf)
            if left <= 0.0:
                continue
            children = [
                self.search.grow(node, steps, move, **change)
                for steps, move, change in self.search.next_moves(node, left)
                if isinstance(steps[-1], Exchange)
            ]
            if number < _BLED_FROM:
                children += self._exchanged_then_bled(node, left)
            rest = self._all_bled(left)
            if rest:
                children.append(self.search.grow(node, rest, "bleed"))
            for child in [node, *children]:
                if child is None or child.shelf_m3 > supply + 1e-7:
                    continue
                if best is None or child.at_sure < best.at_sure:
                    best = child
        return None if best is None else self.search.proposal(best)

    def _all_bled(self, left_m3: float) -> tuple[Bleed, ...]:
        """Return bleeds of all legs that share some litres by what they hold."""
        legs = self.search.can.bleeds
        holds = {leg: leg_content_m3(self.search.circuit, leg) for leg in legs}
        rest = tuple(
            Bleed(leg=leg, litres_m3=self._measured(left_m3 * own / sum(holds.values())))
            for leg, own in holds.items()
        )
        return rest if all(step.litres_m3 > 0.0 for step in rest) else ()

    def _exchanged_then_bled(self, node: Node, left_m3: float) -> Iterator[Node | None]:
        """Carry a branch on by bleeds, after an exchange of what they leave of the litres."""
        if not self.search.can.ways or not self.search.can.bleeds:
            return
        for multiple in _MULTIPLES:
            bleeds = self.search.moves.bleeds(self.search.can.bleeds, multiple)
            rest = self._measured(left_m3 - sum(step.litres_m3 for step in bleeds))
            if rest > 0.0:
                yield self.search.grow(node, (Exchange(litres_m3=rest), *bleeds), "bleed")

    def polished(self, proposal: Proposal) -> Proposal:
        """Return a recipe of the same steps whose litres are shared out better.

        Litres go from one step to the last exchange and back, all that the containers hold being
        poured; legs of a group keep alike."""
        current = proposal
        for factor in _FACTORS:
            for key in _shares(self.search.circuit, current.steps):
                if current.held_share >= self.search.wanted_share:
                    return current
                tried = self._shifted(current, key, factor)
                if tried is not None and tried.at_sure < current.at_sure:
                    current = tried
        return current

    def _shifted(self, like: Proposal, key: str, factor: float) -> Proposal | None:
        """Return a recipe with more or less of one share, the last exchange making up for it."""
        shares = _shares(self.search.circuit, like.steps)
        last = max((i for i, s in enumerate(like.steps) if isinstance(s, Exchange)), default=-1)
        steps = list(like.steps)
        moved = 0.0
        for i in shares[key]:
            step = steps[i]
            if i == last or not isinstance(step, Exchange | Bleed):
                return None
            litres = self.search.moves.on_grid(step.litres_m3 * factor)
            moved += litres - step.litres_m3
            steps[i] = replace(step, litres_m3=litres)
        balance = steps[last] if last >= 0 else None
        if isinstance(balance, Exchange):
            left = self._measured(balance.litres_m3 - moved)
            if left < SMALLEST_M3:
                return None
            steps[last] = replace(balance, litres_m3=left)
        elif moved:
            others = [i for name, own in shares.items() if name != key for i in own]
            for i in others:
                step = steps[i]
                if isinstance(step, Bleed):
                    left = self.search.moves.on_grid(
                        step.litres_m3 - moved / len(others), down=True
                    )
                    if left < SMALLEST_M3:
                        return None
                    steps[i] = replace(step, litres_m3=left)
        return self._judged(tuple(steps), like)

    def simpler(self, proposal: Proposal) -> Proposal:
        """Return a recipe with moves left out that holds with no more containers."""
        current = proposal
        for _ in range(_ROUNDS):
            better: Proposal | None = None
            for steps in itertools.islice(
                _variants(current.steps, self.search.moves.bled_alike()), _VARIANTS
            ):
                tried = self._stretched(steps, current)
                if (
                    tried is not None
                    and tried.order < (better or current).order
                    and tried.held_share >= self.search.wanted_share
                ):
                    better = tried
            if better is None:
                return current
            current = better
        return current

    def _stretched(self, steps: tuple[Step, ...], like: Proposal) -> Proposal | None:
        """Return a variant whose last exchange uses up what the same containers still hold."""
        found = self._judged(steps, like)
        if found is None or found.held_share >= self.search.wanted_share:
            return found
        longer = self.lengthened(found, like.containers)
        return None if longer is None else self._judged(longer, like)

    def lengthened(self, proposal: Proposal, containers: int) -> tuple[Step, ...] | None:
        """Return the steps with all that the containers still hold poured in the last exchange.

        Without an exchange the bleeds share it; None where nothing is left."""
        room = (self.search.goal.supply_m3(containers) - proposal.shelf_m3) / self.search.to_shelf
        room = self._measured(room)
        if room < SMALLEST_M3:
            return None
        steps = list(proposal.steps)
        takers = [i for i, s in enumerate(steps) if isinstance(s, Exchange)][-1:]
        takers = takers or [i for i, s in enumerate(steps) if isinstance(s, Bleed)]
        for i in takers:
            step = steps[i]
            if isinstance(step, Exchange | Bleed):
                more = self._measured(room / len(takers))
                steps[i] = replace(step, litres_m3=round(step.litres_m3 + more, 9))
        return tuple(steps) if takers else None

    def _judged(self, steps: tuple[Step, ...], like: Proposal) -> Proposal | None:
        """Run a variant; None where it needs more containers or is not allowed."""
        state, held, shelf = self.search.whole(steps)
        if shelf > self.search.goal.supply_m3(like.containers) + 1e-7:
            return None
        unsafe = (state.spilled_m3 > 1e-9) | (state.spare_m3 < -1e-9)
        told = {note.code for note in state.notes}
        if state.stopped or told & NEVER or unsafe.mean() > MOST_UNSAFE:
            return None
        return Proposal(
            steps=steps,
            moves=like.moves,
            shelf_m3=shelf,
            containers=self.search.goal.containers_for(shelf),
            held_share=held,
            at_sure=float(np.quantile(state.old_m3 / state.fluid_m3, self.search.goal.sure_share)),
            effort=self.search.effort(steps, state.duration_s),
        )


def _shares(circuit: Circuit, steps: tuple[Step, ...]) -> dict[str, list[int]]:
    """Return the steps that share out litres, by name: each exchange, and bleeds by group."""
    found: dict[str, list[int]] = {}
    for i, step in enumerate(steps):
        if isinstance(step, Exchange):
            found[f"exchange {i}"] = [i]
        elif isinstance(step, Bleed):
            group = circuit.leg_by_id[step.leg].group or step.leg
            found.setdefault(f"bleed {group}", []).append(i)
    return found


def _variants(
    steps: tuple[Step, ...], bled_alike: tuple[tuple[str, ...], ...]
) -> Iterator[tuple[Step, ...]]:
    """Go through a recipe with one step left out, or one exercise, or bleeds done in one go."""
    if len([s for s in steps if isinstance(s, Bleed)]) > sum(len(legs) for legs in bled_alike):
        for late in (True, False):
            yield tidy(_bled_once(steps, late=late))
    for i, step in enumerate(steps[:-1]):
        if isinstance(step, Release):
            charge = next((n for n in range(i, len(steps)) if isinstance(steps[n], Charge)), None)
            gone = {i, i + 1, charge} if charge is not None else {i, i + 1}
            yield tidy(tuple(s for n, s in enumerate(steps) if n not in gone))
        elif isinstance(step, Exchange) and step.exercise.groups:
            idle = Exchange(litres_m3=step.litres_m3)
            yield tidy((*steps[:i], idle, *steps[i + 1 :]))
        elif isinstance(step, Bleed):
            # Legs of a group are treated alike: all are left out together, or none.
            together = next(legs for legs in bled_alike if step.leg in legs)
            own = tuple(s for s in steps if not (isinstance(s, Bleed) and s.leg in together))
            if len(own) < len(steps) and step.leg == together[0] and len(bled_alike) > 1:
                yield tidy(own)
        elif not isinstance(step, SwapFilter | Charge | Fill):
            yield tidy((*steps[:i], *steps[i + 1 :]))


def _bled_once(steps: tuple[Step, ...], *, late: bool) -> tuple[Step, ...]:
    """Return steps with all bleeds of a leg in one, where the last or the first of them stands."""
    totals: dict[str, float] = {}
    for step in steps:
        if isinstance(step, Bleed):
            totals[step.leg] = totals.get(step.leg, 0.0) + step.litres_m3
    found: list[Step] = []
    for step in reversed(steps) if late else steps:
        if not isinstance(step, Bleed):
            found.append(step)
        elif step.leg in totals:
            found.append(replace(step, litres_m3=totals.pop(step.leg)))
    return tuple(reversed(found)) if late else tuple(found)
