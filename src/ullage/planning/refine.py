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

from ullage.circuit.network import Circuit
from ullage.planning.candidates import leg_content_m3
from ullage.planning.moves import SMALLEST_M3
from ullage.planning.rehearsal import Growth, Node, Outcome, Proposal, tidy
from ullage.planning.search import Search
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Exchange,
    Exercise,
    Fill,
    Release,
    Step,
    SwapFilter,
)

# Branches that are carried on to what so many containers hold; after the first few of them, how
# far the best may miss the target and still be worth the others.
_SQUEEZED, _FIRST, _MISS = 8, 3, 1.05
# Ways in which each is carried on, those that have paid best first.
_WAYS = 4
# How many of them are bled after a shorter exchange, and by how many times what legs hold.
_BLED_FROM, _MULTIPLES = 3, (0.4, 0.6, 0.8, 1.0, 1.4)
# By how much a share of the litres is tried larger or smaller.
_FACTORS = (1.35, 0.7, 1.15)
# Variants of a recipe that are tried, and by how much one may miss the target and still be worth
# stretching.
_VARIANTS, _STRETCHED = 14, 1.25
# By how much a simpler recipe may hold fewer of the few draws where that is dared.
_DARING = 0.02
# Rounds in which further moves are left out.
_ROUNDS = 3
# From so many variants on it pays to remember where a recipe stands after each step.
_MANY = 4


@dataclass(kw_only=True)
class Refining:
    """Works over what a search has found."""

    search: Search

    def __post_init__(self) -> None:
        self.rehearsal = self.search.rehearsal
        self._seen: dict[tuple[Step, ...], Proposal | None] = {}

    def lowest(self) -> float:
        """Return the lowest remainder at the wanted confidence that any branch came to. [-]"""
        return min((node.at_sure for node in self._within()), default=1.0)

    def _measured(self, volume_m3: float) -> float:
        """Return a volume rounded down to what a person can measure."""
        return self.rehearsal.moves.on_grid(volume_m3, down=True)

    def _within(self) -> list[Node]:
        """Return the branches that need no more containers than there may be."""
        return [
            n
            for n in self.search.archive
            if n.shelf_m3 <= self.rehearsal.goal.supply_m3(self.rehearsal.most)
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
        return self.rehearsal.proposal(min(good, key=lambda node: node.shelf_m3))

    def squeezed(self, containers: int) -> Proposal | None:
        """Return the best recipe that pours everything from so many containers.

        Branches that had poured less are carried on by what is left, in every way."""
        supply = self.rehearsal.goal.supply_m3(containers)
        near = [node for node in self.search.archive if node.shelf_m3 < supply - 1e-6]
        near = [n for n in near if supply - n.shelf_m3 < 3.0 * self.search.width(n.shelf_m3)]
        near = [node for node in near if self.search.may_reach(node, supply)]
        rate = max((gain for gain in self.search.paid.values()), default=0.0)
        near.sort(key=lambda node: math.log(node.at_sure) - rate * (supply - node.shelf_m3) * 0.6)
        best: Node | None = None
        target = self.rehearsal.goal.target_share
        for number, node in enumerate(near[:_SQUEEZED]):
            if number >= _FIRST and best is not None and best.at_sure > _MISS * target:
                break
            left = self._measured((supply - node.shelf_m3) / self.rehearsal.to_shelf)
            if left <= 0.0:
                continue
            ways = [w for w in self.search.ways_on(node, left) if isinstance(w.steps[-1], Exchange)]
            ways.sort(key=lambda way: -self.search.paid.get(way.move, 0.0))
            ways = ways[:_WAYS]
            bled = self._exchanged_then_bled(left) if number < _BLED_FROM else ()
            ways += [
                Growth(steps=steps, move="bleed", released=node.released, swapped=node.swapped)
                for steps in (*bled, self._all_bled(left))
                if steps
            ]
            for child in (node, *self.rehearsal.grown(node, ways)):
                if child is None or child.shelf_m3 > supply + 1e-7:
                    continue
                if best is None or child.at_sure < best.at_sure:
                    best = child
            if best is not None and best.held_share >= self.rehearsal.wanted_share:
                break
        return None if best is None else self.rehearsal.proposal(best)

    def _all_bled(self, left_m3: float) -> tuple[Step, ...]:
        """Return bleeds of all legs that share some litres by what they hold."""
        legs = self.rehearsal.can.bleeds
        holds = {leg: leg_content_m3(self.rehearsal.circuit, leg) for leg in legs}
        rest = tuple(
            Bleed(leg=leg, litres_m3=self._measured(left_m3 * own / sum(holds.values())))
            for leg, own in holds.items()
        )
        return rest if all(step.litres_m3 > 0.0 for step in rest) else ()

    def _exchanged_then_bled(self, left_m3: float) -> Iterator[tuple[Step, ...]]:
        """Go through bleeds of all legs, each after an exchange of what they leave of the
        litres.
        """
        can = self.rehearsal.can
        if not can.ways or not can.bleeds:
            return
        for multiple in _MULTIPLES:
            bleeds = self.rehearsal.moves.bleeds(can.bleeds, multiple)
            rest = self._measured(left_m3 - sum(step.litres_m3 for step in bleeds))
            if rest > 0.0:
                yield (Exchange(litres_m3=rest), *bleeds)

    def polished(self, proposal: Proposal) -> Proposal:
        """Return a recipe of the same steps whose litres are shared out better.

        Litres go from one step to the last exchange and back, all that the containers hold being
        poured; legs of a group keep alike."""
        current = proposal
        self.rehearsal.pause(proposal.steps)
        for factor in _FACTORS:
            for key in _shares(self.rehearsal.circuit, current.steps):
                if current.held_share >= self.rehearsal.wanted_share:
                    return current
                tried = self._shifted(current, key, factor)
                if tried is not None and tried.at_sure < current.at_sure:
                    current = tried
        return current

    def _shifted(self, like: Proposal, key: str, factor: float) -> Proposal | None:
        """Return a recipe with more or less of one share, the last exchange making up for it."""
        shares = _shares(self.rehearsal.circuit, like.steps)
        last = max((i for i, s in enumerate(like.steps) if isinstance(s, Exchange)), default=-1)
        steps = list(like.steps)
        moved = 0.0
        for i in shares[key]:
            step = steps[i]
            if i == last or not isinstance(step, Exchange | Bleed):
                return None
            litres = self.rehearsal.moves.on_grid(step.litres_m3 * factor)
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
                    left = self.rehearsal.moves.on_grid(
                        step.litres_m3 - moved / len(others), down=True
                    )
                    if left < SMALLEST_M3:
                        return None
                    steps[i] = replace(step, litres_m3=left)
        return self._judged([tuple(steps)], like)[0]

    def simpler(self, proposal: Proposal, *, daring: bool = False) -> Proposal:
        """Return a recipe with moves left out that holds with no more containers.

        ``daring`` takes what misses by a draw or two as well, for fresh draws to decide. Every
        move is left out by itself first; those that were not missed then one after the other, as
        long as the recipe holds."""
        tried = self._without(proposal, None, daring=daring)
        spared = {what for what, better in tried if better is not None}
        better = [one for _, one in tried if one is not None]
        current = proposal
        for _ in range(_ROUNDS):
            if not better:
                break
            current = min(better, key=lambda one: one.order)
            if len(spared) < 2:
                break
            tried = self._without(current, spared, daring=daring)
            spared = {what for what, one in tried if one is not None}
            better = [one for _, one in tried if one is not None]
        return current

    def _without(
        self, proposal: Proposal, only: set[str] | None, *, daring: bool
    ) -> list[tuple[str, Proposal | None]]:
        """Leave moves out, each by itself; tell which recipes hold and ask less of people."""
        variants = [
            (what, tidy(self.rehearsal.circuit, steps))
            for what, steps in _variants(proposal.steps, self.rehearsal.moves.bled_alike())
            if only is None or what in only
        ][:_VARIANTS]
        if len(variants) > _MANY:
            self.rehearsal.pause(proposal.steps)
        tried = self._judged([steps for _, steps in variants], proposal)
        wanted = self._wanted(proposal) - (_DARING if daring else 0.0)
        longer = [
            None
            if one is None
            or one.held_share >= wanted
            or one.at_sure > _STRETCHED * self.rehearsal.goal.target_share
            else self.lengthened(one, proposal.containers)
            for one in tried
        ]
        stretched = iter(self._judged([steps for steps in longer if steps], proposal))
        found: list[tuple[str, Proposal | None]] = []
        for (what, _), one, more in zip(variants, tried, longer, strict=True):
            best = next(stretched) if more else one
            is_better = (
                best is not None and best.order < proposal.order and best.held_share >= wanted
            )
            found.append((what, best if is_better else None))
        return found

    def _wanted(self, proposal: Proposal) -> float:
        """Return the share of draws that a simpler recipe has to hold: as many as usual, or as
        many as the one that it replaces.
        """
        return min(self.rehearsal.wanted_share, proposal.held_share)

    def lengthened(self, proposal: Proposal, containers: int) -> tuple[Step, ...] | None:
        """Return the steps with all that the containers still hold poured in the last exchange.

        Without an exchange the bleeds share it; None where nothing is left."""
        room = (
            self.rehearsal.goal.supply_m3(containers) - proposal.shelf_m3
        ) / self.rehearsal.to_shelf
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

    def _judged(self, variants: list[tuple[Step, ...]], like: Proposal) -> list[Proposal | None]:
        """Run variants; None where one needs more containers or is not allowed."""
        new = [steps for steps in variants if steps not in self._seen]
        for steps, end in zip(new, self.rehearsal.wholes(new), strict=True):
            self._seen[steps] = self._proposed(steps, end, like)
        supply = self.rehearsal.goal.supply_m3(like.containers) + 1e-7
        found = [self._seen[steps] for steps in variants]
        return [None if one is None or one.shelf_m3 > supply else one for one in found]

    def _proposed(self, steps: tuple[Step, ...], end: Outcome, like: Proposal) -> Proposal | None:
        """Return what a recipe came to as a proposal; None where it is not allowed."""
        if not self.rehearsal.is_allowed(end.state):
            return None
        return Proposal(
            steps=steps,
            moves=like.moves,
            shelf_m3=end.shelf_m3,
            containers=self.rehearsal.goal.containers_for(end.shelf_m3),
            held_share=end.held_share,
            at_sure=end.at_sure,
            effort=self.rehearsal.effort(steps, end.state.duration_s),
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
) -> Iterator[tuple[str, tuple[Step, ...]]]:
    """Go through a recipe with one step left out, or one exercise, or bleeds done in one go.

    Each comes with what it does without, in words that stay the same when litres change."""
    bled = [step.leg for step in steps if isinstance(step, Bleed)]
    often = [legs for legs in bled_alike if any(bled.count(leg) > 1 for leg in legs)]
    if often:
        every = tuple(leg for legs in often for leg in legs)
        for legs in (every, *(often if len(often) > 1 else ())):
            for late in (True, False):
                yield f"bleeding {legs} twice, {late}", _bled_once(steps, legs, late=late)
    yield from _in_one(steps)
    for i, step in enumerate(steps[:-1]):
        if isinstance(step, Release):
            charge = next((n for n in range(i, len(steps)) if isinstance(steps[n], Charge)), None)
            gone = {i, i + 1, charge} if charge is not None else {i, i + 1}
            yield "release", tuple(s for n, s in enumerate(steps) if n not in gone)
        elif isinstance(step, Exchange) and step.exercise.groups:
            idle = Exchange(litres_m3=step.litres_m3)
            yield f"moving {step.exercise}", (*steps[:i], idle, *steps[i + 1 :])
        elif isinstance(step, Bleed):
            # Legs of a group are treated alike: all are left out together, or none.
            together = next(legs for legs in bled_alike if step.leg in legs)
            own = tuple(s for s in steps if not (isinstance(s, Bleed) and s.leg in together))
            if len(own) < len(steps) and step.leg == together[0] and len(bled_alike) > 1:
                yield f"bleeding {together}", own
        elif not isinstance(step, SwapFilter | Charge | Fill):
            yield f"{step.do}", (*steps[:i], *steps[i + 1 :])


def _bled_once(steps: tuple[Step, ...], legs: tuple[str, ...], *, late: bool) -> tuple[Step, ...]:
    """Return steps with all bleeds of a leg in one, where the last or the first of them stands."""
    totals: dict[str, float] = {}
    for step in steps:
        if isinstance(step, Bleed) and step.leg in legs:
            totals[step.leg] = totals.get(step.leg, 0.0) + step.litres_m3
    found: list[Step] = []
    for step in reversed(steps) if late else steps:
        if not isinstance(step, Bleed) or step.leg not in legs:
            found.append(step)
        elif step.leg in totals:
            found.append(replace(step, litres_m3=totals.pop(step.leg)))
    return tuple(reversed(found)) if late else tuple(found)


def _in_one(steps: tuple[Step, ...]) -> Iterator[tuple[str, tuple[Step, ...]]]:
    """Go through a recipe with exchanges that follow each other made one, all that moves in any
    of them moving in turn.
    """
    for first, step in enumerate(steps):
        if not isinstance(step, Exchange) or (first and isinstance(steps[first - 1], Exchange)):
            continue
        row = list(itertools.takewhile(lambda s: isinstance(s, Exchange), steps[first:]))
        parts = [one for one in row if isinstance(one, Exchange)]
        moving = [one.exercise for one in parts if one.exercise.groups]
        if len(parts) < 2 or not moving or any(one.cycles is not None for one in moving):
            continue
        names = tuple(dict.fromkeys(name for one in moving for name in one.groups))
        whole = Exchange(
            litres_m3=sum(one.litres_m3 for one in parts),
            exercise=Exercise(groups=names, period_s=max(one.period_s for one in moving)),
        )
        yield "changing what moves", (*steps[:first], whole, *steps[first + len(parts) :])
