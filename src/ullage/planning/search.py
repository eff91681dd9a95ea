"""Which order of moves reaches the target with the fewest containers? A tree search.

Every branch starts from the saved state of its parent, on the same few draws for all, so that two
recipes differ by what they do and not by luck. Branches are compared where they have poured the
same: only the best few of each amount grow on. What is found here is a proposal: draws that a
choice was made on flatter it, so ``plan`` judges it on fresh ones.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from ullage.planning.rehearsal import Growth, Node, Proposal, Rehearsal
from ullage.transport.recipe import Exchange, Release

#: Branches that grow on from each amount poured.
WIDTH = 4
#: Moves tried from each branch, out of all that there are.
TRIED = 6
#: Continuations after which a search ends with what it has.
MOST_RUNS = 230
# Amounts are alike within this share of the circuit's content, or of what has been poured.
_BUCKET_CONTENT = 1.0 / 8.0
_BUCKET_GROWTH = 0.15
# A branch grows on while this many times what has paid best so far would carry it to the target
# with a container less than the best that was found.
_HOPE = 1.6
# By how much the standing of a move grows each time that it was passed over.
_RESTING_GROWTH = 1.06


@dataclass(kw_only=True)
class Search:
    """A search under way: branches by the amount they poured, what is best so far, what pays."""

    rehearsal: Rehearsal
    found: list[Proposal] = field(default_factory=list)
    archive: list[Node] = field(default_factory=list)
    paid: dict[str, float] = field(default_factory=dict)
    best_gain: float = 0.0
    ended_early: bool = False
    _buckets: dict[int, list[Node]] = field(default_factory=dict)
    _waiting: list[int] = field(default_factory=list)

    def run(self) -> None:
        """Search until the amounts are exhausted, or nothing can get better."""
        rehearsal = self.rehearsal
        for node in rehearsal.opened():
            self._put(node)
        here = -1
        while self._waiting:
            bucket = heapq.heappop(self._waiting)
            if bucket <= here:
                # Small steps one after the other would only crowd out what gets on.
                continue
            here = bucket
            if rehearsal.runs > MOST_RUNS:
                self.ended_early = True
                return
            rehearsal.waiting.tell("searching", rehearsal.runs, MOST_RUNS)
            for node in self._best_of(self._buckets.pop(bucket)):
                self.archive.append(node)
                rehearsal.keep(node)
                if self.may_reach(node, self._limit()):
                    for child in self._children(node, self.width(node.shelf_m3)):
                        self._put(child, parent=node)

    def _limit(self) -> float:
        """Return what may be poured at most to be a better answer, at shelf temperature [m3]."""
        best = min((one.containers - 1 for one in self.found), default=self.rehearsal.most)
        return self.rehearsal.goal.supply_m3(best)

    def may_reach(self, node: Node, supply_m3: float) -> bool:
        """Tell whether a branch may come to the target with so much to pour.

        Parameters
        ----------
        node : Node
            The branch.
        supply_m3 : scalar
            All that may be poured, at shelf temperature. [m3]

        Returns
        -------
        may_reach : value
            False where even moves that pay far better than the best so far would not do.

        Source
        ------
        Judgement: remainders fall by a share of themselves with every litre, and later litres
        seldom pay more than earlier ones.
        """
        left = supply_m3 - node.shelf_m3
        if left <= 0.0:
            return False
        if not self.found:
            return True
        fall = _HOPE * self.best_gain * left
        return math.log(max(node.at_sure, 1e-6) / self.rehearsal.goal.target_share) <= fall

    def width(self, shelf_m3: float) -> float:
        """Return within which amount branches count as having poured the same.

        Parameters
        ----------
        shelf_m3 : scalar
            What has been poured. [m3]

        Returns
        -------
        width_m3 : scalar
            Wider where more has been poured. [m3]

        Source
        ------
        Judgement: about twenty amounts up to four fillings.
        """
        return max(_BUCKET_CONTENT * self.rehearsal.content_m3, _BUCKET_GROWTH * shelf_m3)

    def _bucket(self, shelf_m3: float) -> int:
        step, growth = _BUCKET_CONTENT * self.rehearsal.content_m3, _BUCKET_GROWTH
        turn = step / growth
        if shelf_m3 <= turn:
            return int(shelf_m3 / step)
        return int(turn / step + math.log(shelf_m3 / turn) / math.log1p(growth))

    def _put(self, node: Node, parent: Node | None = None) -> None:
        """Take a branch in: note it as found where it holds, else let it wait to grow."""
        if node.held_share >= self.rehearsal.wanted_share:
            self._note_found(node, parent)
            return
        bucket = self._bucket(node.shelf_m3)
        if parent is not None and bucket <= self._bucket(parent.shelf_m3):
            bucket = self._bucket(parent.shelf_m3) + 1
        self._buckets.setdefault(bucket, []).append(node)
        heapq.heappush(self._waiting, bucket)

    def _best_of(self, nodes: list[Node]) -> list[Node]:
        """Return the branches that grow on: the best, and the best of another kind."""
        ranked = sorted(nodes, key=self._rank)
        chosen = ranked[: WIDTH // 2]
        kinds = {_kind(node) for node in chosen}
        for node in ranked[WIDTH // 2 :]:
            if len(chosen) >= WIDTH:
                break
            if _kind(node) not in kinds:
                chosen.append(node)
                kinds.add(_kind(node))
        return chosen

    def _rank(self, node: Node) -> tuple[float, int]:
        """Return how a branch stands among others that poured about the same: what it would be at
        were its litres worth those of a mixed vessel.
        """
        worth = self.rehearsal.to_shelf * self.rehearsal.content_m3
        return round(math.log(max(node.at_sure, 1e-6)) + node.shelf_m3 / worth, 4), len(node.steps)

    def _children(self, node: Node, width_m3: float) -> Iterator[Node]:
        """Grow a branch by about one amount, in the ways that have paid best of late."""
        ways = self.ways_on(node, self.rehearsal.moves.on_grid(width_m3 / self.rehearsal.to_shelf))
        ways.sort(key=lambda way: -self.paid.get(way.move, math.inf))
        grown = self.rehearsal.grown(node, ways[:TRIED])
        most = self.rehearsal.goal.supply_m3(self.rehearsal.most) * 1.5
        for way, child in zip(ways[:TRIED], grown, strict=True):
            if child is None:
                self.paid[way.move] = 0.5 * self.paid.get(way.move, 0.0)
                continue
            more = max(child.shelf_m3 - node.shelf_m3, 0.25 * width_m3)
            gain = math.log(max(node.at_sure, 1e-6) / max(child.at_sure, 1e-6)) / more
            self.best_gain = max(self.best_gain, gain)
            self.paid[way.move] = 0.5 * (gain + self.paid.get(way.move, gain))
            if child.shelf_m3 <= most:
                yield child
        # What rested becomes worth another look by and by.
        for way in ways[TRIED:]:
            if way.move in self.paid:
                self.paid[way.move] *= _RESTING_GROWTH

    def ways_on(self, node: Node, amount_m3: float) -> list[Growth]:
        """Return the ways in which a branch may grow.

        Parameters
        ----------
        node : Node
            The branch.
        amount_m3 : scalar
            What an exchange shall send to waste. [m3]

        Returns
        -------
        ways : list
            As ``Moves.after``.

        Source
        ------
        Derived.
        """
        return [
            Growth(
                steps=steps,
                move=move,
                released=change.get("released", node.released),
                swapped=change.get("swapped", node.swapped),
            )
            for steps, move, change in self.rehearsal.moves.after(
                node.moves, amount_m3, released=node.released, swapped=node.swapped
            )
        ]

    def _note_found(self, node: Node, parent: Node | None) -> None:
        """Note a branch that holds, poured from as few containers as its last exchange allows."""
        goal = self.rehearsal.goal
        best = min((one.containers for one in self.found), default=self.rehearsal.most)
        fewest = node if parent is None else self._trimmed(node, parent, best - bool(self.found))
        if goal.containers_for(fewest.shelf_m3) <= best:
            self.found.append(self.rehearsal.proposal(fewest))

    def _trimmed(self, node: Node, parent: Node, best: int) -> Node:
        """Return the branch with its last exchange cut to what fewer containers hold, if that
        does and is no more than the best so far.
        """
        rehearsal, goal = self.rehearsal, self.rehearsal.goal
        last = node.steps[-1]
        enough = rehearsal.enough_of(node)
        if enough is None or not isinstance(last, Exchange):
            return node
        # All that the fewest containers hold is poured: surer, at the same price.
        least = node.shelf_m3 - (last.litres_m3 - enough) * rehearsal.to_shelf
        for containers in (goal.containers_for(least), goal.containers_for(least) + 1):
            if containers >= goal.containers_for(node.shelf_m3) or containers > best:
                return node
            less = (node.shelf_m3 - goal.supply_m3(containers)) / rehearsal.to_shelf
            litres = rehearsal.moves.on_grid(last.litres_m3 - less, down=True)
            if litres <= 0.0:
                continue
            own = node.steps[len(parent.steps) : -1]
            way = Growth(
                steps=(*own, replace(last, litres_m3=litres)),
                move=node.moves[-1],
                released=node.released,
                swapped=node.swapped,
            )
            (tried,) = rehearsal.grown(parent, [way])
            if tried is not None and tried.held_share >= rehearsal.wanted_share:
                return tried
        return node


def _kind(node: Node) -> tuple[bool, ...]:
    """Return what makes branches of one amount different in kind."""
    words = {move.split()[0] for move in node.moves}
    lets_go = any(isinstance(step, Release) for step in node.steps)
    return lets_go, "bleed" in words, "closed" in words or "redraw" in words
