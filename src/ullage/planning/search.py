"""Which order of moves reaches the target with the fewest containers? A tree search.

Every branch starts from the saved state of its parent, on the same few hundred draws for all, so
that two recipes differ by what they do and not by luck. Branches are compared where they have
poured the same: only the best few of each amount grow on. What is found here is a proposal: draws
that a choice was made on flatter it, so ``plan`` judges it on fresh ones.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3
from ullage.planning.candidates import (
    Possible,
    finish,
    merged,
    possible,
)
from ullage.planning.costs import Effort, effort_of
from ullage.planning.goal import MOST_CONTENTS, Goal, shelf_share
from ullage.planning.moves import Move, Moves
from ullage.planning.score import MOST_UNSAFE, Floats, mark_content_m3, pour_quantile
from ullage.transport.layout import Resolution
from ullage.transport.recipe import (
    Bleed,
    Exchange,
    Recipe,
    Release,
    Step,
)
from ullage.transport.saved import Saved, SavedSolver

#: Draws that the search compares recipes on.
SEARCH_MEMBERS = 128
#: Seed of the search's draws is the plan's plus this, so that a try never meets them.
SEARCH_SEED_SHIFT = 1_000_003
#: Branches that grow on from each amount poured.
WIDTH = 4
#: Moves tried from each branch, out of all that there are.
TRIED = 6
#: Expansions after which a search ends with what it has.
MOST_EXPANSIONS = 230
# Amounts are alike within this share of the circuit's content, or of what has been poured.
_BUCKET_CONTENT = 1.0 / 8.0
_BUCKET_GROWTH = 0.15
# By how much the standing of a move grows each time that it was passed over.
_RESTING_GROWTH = 1.06
_LANES = 4
#: Notes of a run that rule a recipe out: it spills, sucks air, or names actuators that never move.
NEVER = {"below-minimum", "spilled", "no-cycle-fits", "group-left-out"}
# Standard deviations by which a quantile of the search's draws may fall short of the true one.
_FEW_DRAWS = 0.3

Stop = Callable[[], bool]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A whole recipe as the search saw it: what it pours, and how many of its draws it holds."""

    steps: tuple[Step, ...]
    moves: tuple[str, ...]
    shelf_m3: float
    containers: int
    held_share: float
    at_sure: float
    effort: Effort

    @property
    def order(self) -> tuple[float, ...]:
        """Return what decides between proposals that hold."""
        one = self.effort
        return (self.containers, one.duration_s, one.steps, one.kinds, one.bleed_points)


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A branch: the state it stands in, what was done, and how it would end if it ended here."""

    state: Saved
    steps: tuple[Step, ...]
    moves: tuple[str, ...]
    released: bool
    swapped: bool
    held_share: float
    at_sure: float
    shelf_m3: float


@dataclass(kw_only=True)
class Search:
    """A search under way: saved states, what is best so far, and what it has cost."""

    circuit: Circuit
    goal: Goal
    seed: int = 0
    members: int = SEARCH_MEMBERS
    progress: Progress | None = None
    stop: Stop | None = None
    expansions: int = 0
    found: list[Proposal] = field(default_factory=list)
    ended_early: bool = False

    def __post_init__(self) -> None:
        content = sum(float(v[0]) for v in content_m3(self.circuit, Numbers()).values())
        self.content_m3 = content
        self.can: Possible = possible(self.circuit, self.goal)
        self.moves = Moves(circuit=self.circuit, can=self.can, content_m3=content)
        self.solver = SavedSolver(
            self.circuit,
            members=self.members,
            seed=self.seed + SEARCH_SEED_SHIFT,
            temperature_k=self.can.temperature_k,
            lanes=_LANES,
            resolution=coarse(content),
        )
        self.mark_m3 = mark_content_m3(self.circuit, self.solver.values)[1:]
        self.to_shelf = shelf_share(self.circuit.new_fluid, temperature_k=self.can.temperature_k)
        self.elements = tuple(node.id for node in self.circuit.nodes if node.element)
        most = MOST_CONTENTS * content * self.to_shelf + self.goal.reserve_m3
        self.most = self.goal.most or max(1, math.ceil(most / self.goal.container_m3))
        self.archive: list[Node] = []
        self.paid: dict[str, float] = {}

    # How a branch would end.

    def _node(
        self,
        state: Saved,
        steps: tuple[Step, ...],
        moves: tuple[str, ...],
        *,
        released: bool,
        swapped: bool,
    ) -> Node | None:
        """Return a branch, or None where something spills or the level falls too low."""
        unsafe = (state.spilled_m3 > 1e-9) | (state.spare_m3 < -1e-9)
        told = {note.code for note in state.notes}
        if state.stopped or told & NEVER or unsafe.mean() > MOST_UNSAFE:
            return None
        old, more = state.old_m3, self.mark_m3 - state.fluid_m3
        if self.can.has_element and not swapped:
            fluid_out, old_out = self.solver.held_by_nodes(state, self.elements)
            old, more = old - old_out, more + fluid_out
        share = old / self.mark_m3
        return Node(
            state=state,
            steps=steps,
            moves=moves,
            released=released,
            swapped=swapped,
            held_share=float(np.mean(share <= self.goal.target_share)),
            at_sure=float(np.quantile(share, self.goal.sure_share)),
            shelf_m3=self.shelf(state.poured_m3 + more),
        )

    def shelf(self, poured_m3: Floats) -> float:
        """Return what must be bought to pour this, with room for the search's few draws.

        Parameters
        ----------
        poured_m3 : (members,)
            Warm, by the draws of the search. [m3]

        Returns
        -------
        shelf_m3 : scalar
            At shelf temperature. [m3]

        Source
        ------
        Standard error of a quantile, about a third of a deviation on so few draws.
        """
        needed = float(np.quantile(poured_m3, pour_quantile(self.goal)))
        return (needed + _FEW_DRAWS * float(poured_m3.std())) * self.to_shelf

    def grow(
        self,
        node: Node,
        steps: tuple[Step, ...],
        move: str,
        *,
        released: bool | None = None,
        swapped: bool | None = None,
    ) -> Node | None:
        """Carry a branch on."""
        self.expansions += 1
        return self._node(
            self.solver.carry_on(node.state, steps),
            (*node.steps, *steps),
            (*node.moves, move),
            released=node.released if released is None else released,
            swapped=node.swapped if swapped is None else swapped,
        )

    # The tree.

    def openings(self) -> Iterator[Node]:
        """Go through the ways to begin."""
        start = self.solver.start()
        for opening in self.can.openings:
            self.expansions += 1
            node = self._node(
                self.solver.carry_on(start, opening.steps),
                opening.steps,
                ("open",),
                released=opening.released,
                swapped=opening.swapped,
            )
            if node is not None:
                yield node

    def run(self) -> None:
        """Search until the amounts are exhausted, or nothing can get better."""
        waiting: list[tuple[int, int]] = []
        buckets: dict[int, list[Node]] = {}
        for node in self.openings():
            self._put(node, buckets, waiting)
        done: set[int] = set()
        while waiting:
            _, bucket = heapq.heappop(waiting)
            if bucket in done:
                continue
            done.add(bucket)
            if self.stop is not None and self.stop():
                self.ended_early = True
                return
            if self.expansions > MOST_EXPANSIONS:
                self.ended_early = True
                return
            if self.progress is not None:
                self.progress(min(self.expansions, MOST_EXPANSIONS), MOST_EXPANSIONS)
            for node in self._best_of(buckets.pop(bucket)):
                self.archive.append(node)
                if node.shelf_m3 > self._limit():
                    continue
                width = self.width(node.shelf_m3)
                for child in self._children(node, width):
                    self._put(child, buckets, waiting, parent=node)

    def _limit(self) -> float:
        """Return what may be poured at most and still be an answer, at shelf temperature [m3]."""
        best = min((one.containers for one in self.found), default=self.most)
        return self.goal.supply_m3(best)

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
        return max(_BUCKET_CONTENT * self.content_m3, _BUCKET_GROWTH * shelf_m3)

    def _bucket(self, shelf_m3: float) -> int:
        step, growth = _BUCKET_CONTENT * self.content_m3, _BUCKET_GROWTH
        turn = step / growth
        if shelf_m3 <= turn:
            return int(shelf_m3 / step)
        return int(turn / step + math.log(shelf_m3 / turn) / math.log1p(growth))

    def _put(
        self,
        node: Node,
        buckets: dict[int, list[Node]],
        waiting: list[tuple[int, int]],
        parent: Node | None = None,
    ) -> None:
        """Take a branch in: note it as found where it holds, else let it wait to grow."""
        if node.held_share >= self.wanted_share:
            self._note_found(node, parent)
            return
        bucket = self._bucket(node.shelf_m3)
        if parent is not None and bucket <= self._bucket(parent.shelf_m3):
            bucket = self._bucket(parent.shelf_m3) + 1
        buckets.setdefault(bucket, []).append(node)
        heapq.heappush(waiting, (bucket, bucket))

    @property
    def wanted_share(self) -> float:
        """Return the share of search draws that makes a proposal: a little above what is wanted."""
        spread = math.sqrt(self.goal.sure_share * (1.0 - self.goal.sure_share) / self.members)
        return min(self.goal.sure_share + 0.6 * spread, 1.0)

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
        worth = self.to_shelf * self.content_m3
        return round(math.log(max(node.at_sure, 1e-6)) + node.shelf_m3 / worth, 4), len(node.steps)

    def _children(self, node: Node, width_m3: float) -> Iterator[Node]:
        """Grow a branch by about one amount, in the ways that have paid best of late."""
        moves = list(self.next_moves(node, self.moves.on_grid(width_m3 / self.to_shelf)))
        unknown = math.inf
        moves.sort(key=lambda one: -self.paid.get(one[1], unknown))
        for steps, move, change in moves[:TRIED]:
            child = self.grow(node, steps, move, **change)
            if child is None:
                self.paid[move] = 0.5 * self.paid.get(move, 0.0)
                continue
            more = max(child.shelf_m3 - node.shelf_m3, 0.25 * width_m3)
            gain = math.log(max(node.at_sure, 1e-6) / max(child.at_sure, 1e-6)) / more
            self.paid[move] = 0.5 * (gain + self.paid.get(move, gain))
            if child.shelf_m3 <= self.goal.supply_m3(self.most) * 1.5:
                yield child
        # What rested becomes worth another look by and by.
        for _, move, _ in moves[TRIED:]:
            if move in self.paid:
                self.paid[move] *= _RESTING_GROWTH

    def next_moves(self, node: Node, amount_m3: float) -> Iterator[Move]:
        """Go through the moves from a branch.

        Parameters
        ----------
        node : Node
            The branch.
        amount_m3 : scalar
            What an exchange shall send to waste. [m3]

        Returns
        -------
        moves : values
            As ``Moves.after``.

        Source
        ------
        Derived.
        """
        return self.moves.after(node.moves, amount_m3, released=node.released, swapped=node.swapped)

    # Whole recipes.

    def _note_found(self, node: Node, parent: Node | None) -> None:
        """Note a branch that holds, with no more litres in its last exchange than it needs."""
        if self.goal.containers_for(node.shelf_m3) > self.most:
            node_ok = self._trimmed(node, parent)
            if node_ok is None or self.goal.containers_for(node_ok.shelf_m3) > self.most:
                return
            self.found.append(self.proposal(node_ok))
            return
        best = min((one.containers for one in self.found), default=self.most)
        trimmed = self._trimmed(node, parent) or node
        if self.goal.containers_for(trimmed.shelf_m3) <= best:
            self.found.append(self.proposal(trimmed))

    def _trimmed(self, node: Node, parent: Node | None) -> Node | None:
        """Return the branch with the last exchange cut to what is needed, by bisection."""
        if parent is None or not isinstance(node.steps[-1], Exchange):
            return node
        own = node.steps[len(parent.steps) :]
        last = node.steps[-1]
        low, high, best = 0.0, last.litres_m3, node
        for _ in range(4):
            middle = 0.5 * (low + high)
            middle = self.moves.on_grid(middle)
            if middle in (low, high):
                break
            steps = (*own[:-1], Exchange(litres_m3=middle, exercise=last.exercise))
            tried = self.grow(
                parent, steps, node.moves[-1], released=node.released, swapped=node.swapped
            )
            if tried is not None and tried.held_share >= self.wanted_share:
                high, best = middle, tried
            else:
                low = middle
        return best

    def proposal(self, node: Node) -> Proposal:
        """Return a branch as a whole recipe."""
        tail = finish(self.can, released=node.released, swapped=node.swapped)
        steps = tidy((*node.steps, *tail))
        return Proposal(
            steps=steps,
            moves=node.moves,
            shelf_m3=node.shelf_m3,
            containers=self.goal.containers_for(node.shelf_m3),
            held_share=node.held_share,
            at_sure=node.at_sure,
            effort=self.effort(steps, node.state.duration_s),
        )

    def effort(self, steps: tuple[Step, ...], pumped_s: float) -> Effort:
        """Return about what a recipe asks of people, before it has been run as a whole.

        Parameters
        ----------
        steps : (steps,)
            What is done.
        pumped_s : scalar
            Time with the pump running, and waiting. [s]

        Returns
        -------
        effort : Effort
            By usual volumes.

        Source
        ------
        As ``costs.effort_of``.
        """
        tank = self.circuit.reservoir
        usual = tank.full_m3.best - tank.heel_m3.best
        volumes = [
            step.litres_m3 if isinstance(step, Exchange | Bleed) else usual for step in steps
        ]
        return effort_of(
            self.circuit, steps, volumes_m3=volumes, pumped_s=pumped_s, people=self.goal.people
        )

    def whole(self, steps: tuple[Step, ...]) -> tuple[Saved, float, float]:
        """Run a whole recipe on the search's draws: its end, share held, and shelf volume."""
        self.expansions += 1
        state = self.solver.carry_on(self.solver.start(), steps)
        share = state.old_m3 / state.fluid_m3
        held = float(np.mean(share <= self.goal.target_share))
        return state, held, self.shelf(state.poured_m3)

    def recipe(self, proposal: Proposal, name: str) -> Recipe:
        """Return a proposal as a recipe."""
        return Recipe(name=name, steps=proposal.steps, temperature_k=self.can.temperature_k)


def _kind(node: Node) -> tuple[bool, ...]:
    """Return what makes branches of one amount different in kind."""
    words = {move.split()[0] for move in node.moves}
    lets_go = any(isinstance(step, Release) for step in node.steps)
    return lets_go, "bleed" in words, "closed" in words or "redraw" in words


def tidy(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return steps with like neighbours joined and litres without the dust of sums."""
    return tuple(
        replace(step, litres_m3=round(step.litres_m3, 9))
        if isinstance(step, Exchange | Bleed)
        else step
        for step in merged(steps)
    )


def coarse(content_m3: float) -> Resolution:
    """Return how finely the search cuts its runs: small circuits more finely.

    Parameters
    ----------
    content_m3 : scalar
        What the circuit holds. [m3]

    Returns
    -------
    resolution : Resolution
        Never coarser than what errs by 0.3 points on the built-in circuits.

    Source
    ------
    Derived: compared with the full resolution in ``tests/unit/planning``.
    """
    # Small circuits are run in an instant, and their legs hold little beside the whole.
    parts = 45.0 if content_m3 > 2e-3 else 150.0
    step = content_m3 / parts
    return Resolution(
        path_cell_m3=0.4 * step,
        leg_cell_m3=0.08 * step,
        path_step_m3=step,
        leg_step_m3=0.5 * step,
        closed_factor=2.0,
        sized_for_m3=content_m3,
    )
