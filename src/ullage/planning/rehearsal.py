"""What would a recipe come to? Tried on the few draws that a search compares recipes on.

Runs are kept where a branch may grow on, so that a recipe whose beginning is known costs its end
alone. An exchange keeps how it went litre by litre: how short it could have been is read off, not
tried. Everything here flatters what is chosen by it, so ``plan`` judges on fresh draws.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3
from ullage.planning.candidates import Possible, finish, merged, possible, poured
from ullage.planning.costs import Effort, effort_of
from ullage.planning.goal import MOST_CONTENTS, Goal, shelf_share
from ullage.planning.moves import Moves
from ullage.planning.score import MOST_UNSAFE, Floats, mark_content_m3, pour_quantile
from ullage.planning.waiting import Waiting
from ullage.transport.layout import Resolution
from ullage.transport.recipe import Bleed, Exchange, Recipe, Step
from ullage.transport.saved import Saved, SavedSolver

#: Draws that recipes are compared on.
FEW = 128
#: Seed of these draws is the plan's plus this, so that a try never meets them.
SEED_SHIFT = 1_000_003
_LANES = 4
#: Notes of a run that rule a recipe out: it spills, sucks air, or names actuators that never move.
NEVER = {"below-minimum", "spilled", "no-cycle-fits", "group-left-out"}
# Standard deviations by which a quantile of few draws may fall short of the true one.
_FEW_DRAWS = 0.3
# Runs that go on side by side: the books of one are written while another is carried out.
_SIDE_BY_SIDE = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A whole recipe as rehearsed: what it pours, and how many of the draws it holds."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a whole recipe came to."""

    state: Saved
    held_share: float
    at_sure: float
    shelf_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How a branch may grow: by which steps, which move they are, and what they change."""

    steps: tuple[Step, ...]
    move: str
    released: bool
    swapped: bool


class Rehearsal:
    """Recipes of one circuit for one goal, run on few draws."""

    def __init__(
        self,
        circuit: Circuit,
        goal: Goal,
        *,
        seed: int = 0,
        members: int = FEW,
        waiting: Waiting | None = None,
    ) -> None:
        self.circuit = circuit
        self.goal = goal
        self.members = members
        self.waiting = Waiting() if waiting is None else waiting
        self.content_m3 = sum(float(v[0]) for v in content_m3(circuit, Numbers()).values())
        self.can: Possible = possible(circuit, goal)
        self.moves = Moves(circuit=circuit, can=self.can, content_m3=self.content_m3)
        self.solver = SavedSolver(
            circuit,
            members=members,
            seed=seed + SEED_SHIFT,
            temperature_k=self.can.temperature_k,
            lanes=_LANES,
            resolution=coarse(self.content_m3),
        )
        self.mark_m3 = mark_content_m3(circuit, self.solver.values)[1:]
        self.to_shelf = shelf_share(circuit.new_fluid, temperature_k=self.can.temperature_k)
        self._elements = tuple(node.id for node in circuit.nodes if node.element)
        most = MOST_CONTENTS * self.content_m3 * self.to_shelf + goal.reserve_m3
        self.most = goal.most or max(1, math.ceil(most / goal.container_m3))
        #: How often steps were carried out.
        self.runs = 0
        self._kept: dict[tuple[Step, ...], Saved] = {(): self.solver.start()}
        self._pool = ThreadPoolExecutor(_SIDE_BY_SIDE)

    def close(self) -> None:
        """Let the threads go."""
        self._pool.shutdown()
        self.solver.close()

    @property
    def wanted_share(self) -> float:
        """Return the share of few draws that makes a proposal: a little above what is wanted."""
        spread = math.sqrt(self.goal.sure_share * (1.0 - self.goal.sure_share) / self.members)
        return min(self.goal.sure_share + 0.6 * spread, 1.0)

    # Branches.

    def opened(self) -> list[Node]:
        """Return the branches that every search begins with."""
        start = self._kept[()]
        ways = self.can.openings
        states = self._carried([(start, opening.steps) for opening in ways])
        nodes = [
            self._node(
                state,
                opening.steps,
                ("open",),
                released=opening.released,
                swapped=opening.swapped,
            )
            for opening, state in zip(ways, states, strict=True)
        ]
        found = [node for node in nodes if node is not None]
        for node in found:
            self.keep(node)
        return found

    def keep(self, node: Node) -> None:
        """Remember a branch: recipes that begin like it start from there."""
        self._kept[node.steps] = node.state

    def grown(self, node: Node, ways: Sequence[Growth]) -> list[Node | None]:
        """Carry a branch on in several ways; None where something spills or the level falls."""
        states = self._carried([(node.state, way.steps) for way in ways])
        return [
            self._node(
                state,
                (*node.steps, *way.steps),
                (*node.moves, way.move),
                released=way.released,
                swapped=way.swapped,
            )
            for way, state in zip(ways, states, strict=True)
        ]

    def _carried(self, jobs: Sequence[tuple[Saved, tuple[Step, ...]]]) -> list[Saved]:
        """Carry states on; the order of the answers is that of the jobs."""
        found: list[Saved] = []
        under_way = [self._pool.submit(self.solver.carry_on, *job) for job in jobs]
        try:
            for one in under_way:
                self.waiting.ask()
                found.append(one.result())
        finally:
            for one in under_way:
                one.cancel()
        self.runs += len(jobs)
        return found

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
        if not self.is_allowed(state):
            return None
        old, more = state.old_m3, self.mark_m3 - state.fluid_m3
        if self.can.has_element and not swapped:
            fluid_out, old_out = self.solver.held_by_nodes(state, self._elements)
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

    def is_allowed(self, state: Saved) -> bool:
        """Tell whether all but a few draws neither spill nor fall below the minimum."""
        unsafe = (state.spilled_m3 > 1e-9) | (state.spare_m3 < -1e-9)
        told = {note.code for note in state.notes}
        return not (state.stopped or told & NEVER or unsafe.mean() > MOST_UNSAFE)

    def shelf(self, poured_m3: Floats) -> float:
        """Return what must be bought to pour this, with room for how few the draws are.

        Parameters
        ----------
        poured_m3 : (members,)
            Warm. [m3]

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

    # Whole recipes.

    def whole(self, steps: tuple[Step, ...]) -> Outcome:
        """Run a whole recipe."""
        return self.wholes([steps])[0]

    def wholes(self, recipes: Sequence[tuple[Step, ...]]) -> list[Outcome]:
        """Run whole recipes, each from the longest beginning that is known."""
        jobs: list[tuple[Saved, tuple[Step, ...]]] = []
        for steps in recipes:
            known = self._known(steps)
            jobs.append((self._kept[steps[:known]], steps[known:]))
        return [self._outcome(state) for state in self._carried(jobs)]

    def pause(self, steps: tuple[Step, ...], at: Sequence[int] | None = None) -> None:
        """Remember where a recipe stands after some of its steps, by default after every one.

        Recipes that differ later only cost what is different."""
        for stop in range(1, len(steps)) if at is None else at:
            known = self._known(steps[:stop])
            if known < stop:
                (state,) = self._carried([(self._kept[steps[:known]], steps[known:stop])])
                self._kept[steps[:stop]] = state

    def _known(self, steps: tuple[Step, ...]) -> int:
        """Return how many first steps of a recipe have been run before."""
        return next(n for n in range(len(steps), -1, -1) if steps[:n] in self._kept)

    def _outcome(self, state: Saved) -> Outcome:
        """Return what a whole recipe came to."""
        share = state.old_m3 / state.fluid_m3
        return Outcome(
            state=state,
            held_share=float(np.mean(share <= self.goal.target_share)),
            at_sure=float(np.quantile(share, self.goal.sure_share)),
            shelf_m3=self.shelf(state.poured_m3),
        )

    def proposal(self, node: Node) -> Proposal:
        """Return a branch as a whole recipe."""
        tail = finish(self.can, released=node.released, swapped=node.swapped)
        steps = tidy(self.circuit, (*node.steps, *tail))
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

    def recipe(self, proposal: Proposal, name: str) -> Recipe:
        """Return a proposal as a recipe."""
        return Recipe(name=name, steps=proposal.steps, temperature_k=self.can.temperature_k)

    # What an exchange needed.

    def enough_m3(self, end: Saved, after_m3: Floats) -> float | None:
        """Return how much of an exchange would have been enough, by how it went.

        Parameters
        ----------
        end : Saved
            The state after a continuation with one exchange in it.
        after_m3 : (members,)
            Old fluid in the circuit at the end of the job, had it all been poured. [m3]

        Returns
        -------
        enough_m3 : scalar
            The least that holds in the wanted share of the draws; None where nothing does, or
            where the draws were not cut alike. [m3]

        Validity
        --------
        What other steps take out is taken as if they followed the whole exchange: about right, so
        the answer is tried before it counts.

        Source
        ------
        Balance of the old fluid.
        """
        pieces = [piece for piece in end.pieces if piece is not None and len(piece.waste_m3)]
        if len(pieces) != 1:
            return None
        went = pieces[0]
        still = after_m3 + went.old_m3[-1] - went.old_m3
        good = np.mean(still / self.mark_m3 <= self.goal.target_share, axis=1)
        holds = np.flatnonzero(good >= self.wanted_share)
        if not len(holds) or good[-1] < self.wanted_share:
            return None
        return float(went.waste_m3[holds[0]].max())

    def enough_of(self, node: Node) -> float | None:
        """Return how much of a branch's last exchange would have been enough [m3], or None."""
        if not isinstance(node.steps[-1], Exchange):
            return None
        old = node.state.old_m3
        if self.can.has_element and not node.swapped:
            old = old - self.solver.held_by_nodes(node.state, self._elements)[1]
        return self.enough_m3(node.state, old)


def tidy(circuit: Circuit, steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return steps with like neighbours joined, without fills that pour nothing, and with litres
    without the dust of sums.
    """
    return tuple(
        replace(step, litres_m3=round(step.litres_m3, 9))
        if isinstance(step, Exchange | Bleed)
        else step
        for step in poured(circuit, merged(steps))
    )


def coarse(content_m3: float) -> Resolution:
    """Return how finely rehearsals cut their runs: small circuits more finely.

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
        pieces_apart=False,
    )
