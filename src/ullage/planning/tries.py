"""Which proposal holds on fresh draws? At most five are tried, few containers first, all told.

A proposal picked on the search's draws flatters itself, and one picked from many tries flatters
itself as well: so there are few, each on draws of its own. A proposal that is bold is given up
after a few hundred draws where they leave it no chance; one that is accepted has met them all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ullage.circuit.network import Circuit
from ullage.errors import NotConverged
from ullage.planning.goal import Goal
from ullage.planning.methods import Method
from ullage.planning.reasons import name_of
from ullage.planning.refine import Refining
from ullage.planning.rehearsal import Proposal, Rehearsal
from ullage.planning.score import Score, score
from ullage.planning.search import Search
from ullage.transport.recipe import Exchange, Recipe
from ullage.transport.result import Run
from ullage.transport.solve import Solver

#: Fresh draws of a try, and how many tries there are at most.
TRY_MEMBERS = 4000
MOST_TRIES = 5
#: Draws after which a bold try is given up, if it then is this many standard deviations short.
FIRST_LOOK, HOPELESS = 512, 3.0
#: Standard deviations by which a recipe that was dared must hold: it was picked for being plain.
CLEARLY = 2.0
# How much longer a cycle takes where the solver gave no answer.
_SLOWER = 1.25
# A proposal that misses by no more than this on the search's few draws is worth a fresh try.
_NEARLY = 0.03
# By how much a squeezed recipe may miss the target and still be worth polishing.
_POLISHED = 1.08
# How far short of the deepest remainder a plan may stop where the target cannot be reached.
_AS_GOOD = 0.01
_AS_GOOD_OF_IT = 0.2
#: Continuations after which no further container is squeezed out.
MOST_SQUEEZED = 330


@dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """A proposal on fresh draws: which, on how many containers, and how many machines it held."""

    seed: int
    members: int
    containers: int
    held_share: float
    allowed: bool
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A recipe that was judged, with the run that it was judged by."""

    recipe: Recipe
    run: Run
    score: Score


class Tries:
    """Judges what a search found, until something holds or five were tried."""

    def __init__(
        self,
        circuit: Circuit,
        goal: Goal,
        *,
        search: Search,
        solver: Solver,
        seed: int,
        members: int,
    ) -> None:
        self.circuit = circuit
        self.goal = goal
        self.search = search
        self.rehearsal: Rehearsal = search.rehearsal
        self.refining = Refining(search=search)
        self.solver = solver
        self.seed = seed
        self.members = members
        self.told: list[Try] = []
        self.made: Made | None = None
        #: Recipes whose run gave no answer, because its books stayed open.
        self.without_answer = 0
        self._nearly: Proposal | None = None

    def _answered(self, recipe: Recipe, members: int, seed: int) -> tuple[Recipe, Run, Score]:
        """Run a recipe on fresh draws; where its books stay open, with actuators moved slower.

        What the solver may fail on are strokes that take all of a weak pump's flow."""
        try:
            return recipe, *self._run(recipe, members, seed)
        except NotConverged:
            slow = slower(recipe, _SLOWER)
            if slow == recipe:
                raise
            return slow, *self._run(slow, members, seed)

    def _run(self, recipe: Recipe, members: int, seed: int) -> tuple[Run, Score]:
        """Run a recipe on fresh draws, and judge it."""
        waiting = self.rehearsal.waiting
        run = self.solver.run(
            recipe,
            members=members,
            seed=seed,
            bracket=False,
            progress=lambda done, of: waiting.ask(),
        )
        return run, score(self.circuit, self.goal, recipe, run)

    def judge(
        self, steps_of: Proposal | Recipe, *, is_bold: bool = False, clearly: bool = False
    ) -> bool:
        """Judge a proposal on fresh draws; tell whether it holds, or holds clearly."""
        recipe = (
            self.rehearsal.recipe(steps_of, name_of(steps_of))
            if isinstance(steps_of, Proposal)
            else steps_of
        )
        seed = self.seed + len(self.told) + self.without_answer
        self.rehearsal.waiting.tell("trying on fresh draws", len(self.told) + 1, MOST_TRIES)
        try:
            if is_bold and self.members > FIRST_LOOK:
                sure = self.goal.sure_share
                spread = math.sqrt(sure * (1.0 - sure) / FIRST_LOOK)
                _, _, first = self._answered(recipe, FIRST_LOOK, seed)
                if first.held_share < sure - HOPELESS * spread or not first.allowed:
                    self._tell(seed, FIRST_LOOK, first, held=False)
                    return False
            recipe, run, made = self._answered(recipe, self.members, seed)
        except NotConverged:
            # No figure of such a run may be shown; the plan says that one was given up.
            self.without_answer += 1
            return False
        sure = self.goal.sure_share
        if clearly:
            sure += CLEARLY * math.sqrt(sure * (1.0 - sure) / self.members)
        held = made.allowed and made.held_share >= sure and made.containers <= self.rehearsal.most
        self._tell(seed, self.members, made, held=held)
        if self.made is None or held or made.at_sure < self.made.score.at_sure:
            self.made = Made(recipe=recipe, run=run, score=made)
        return held

    def _tell(self, seed: int, members: int, made: Score, *, held: bool) -> None:
        """Keep how a try went."""
        self.told.append(
            Try(
                seed=seed,
                members=members,
                containers=made.containers,
                held_share=made.held_share,
                allowed=made.allowed,
                held=held,
            )
        )

    def reach(self, methods: tuple[Method, ...]) -> bool:
        """Try proposals until one holds on fresh draws, few containers first.

        The best usual method joins in where it needs no more than what has held so far."""
        usual = min(
            (m for m in methods if m.reached and m.score is not None and m.recipe is not None),
            key=lambda m: m.score.order if m.score is not None else (),
            default=None,
        )
        limit = (
            self.rehearsal.most if usual is None or usual.score is None else usual.score.containers
        )
        proposal = self._proposal()
        bold = None if proposal is None else self._bold(proposal)
        if bold is not None and bold.containers <= limit:
            plain = self.refining.simpler(bold)
            if self._dared(bold, plain) or self.judge(plain, is_bold=True):
                return True
        if proposal is not None and proposal.containers <= limit:
            plain = self.refining.simpler(proposal)
            if self._dared(proposal, plain):
                return True
            proposal = plain
        while proposal is not None and proposal.containers <= limit:
            if len(self.told) + self.without_answer >= MOST_TRIES - 1:
                break
            if self.judge(proposal):
                self._make_surer(proposal)
                break
            proposal = self._safer(proposal)
        held = any(one.held for one in self.told)
        needs_more = not held or (self.made is not None and self.made.score.containers > limit)
        has_tries = len(self.told) < MOST_TRIES
        if usual is not None and usual.recipe is not None and needs_more and has_tries:
            kept = self.made if held else None
            if self.judge(replace(usual.recipe, name=f"{usual.recipe.name}, as usual")):
                return True
            if kept is not None:
                self.made = kept
                return True
        if not held and proposal is not None and len(self.told) < MOST_TRIES:
            held = self.judge(proposal)
        if not held and self.without_answer:
            held = self._otherwise()
        # Where nothing else holds, what was dared and holds, if not clearly, is the answer.
        return held or (
            self.made is not None
            and self.made.score.allowed
            and self.made.score.held_share >= self.goal.sure_share
            and self.made.score.containers <= self.rehearsal.most
        )

    def _otherwise(self) -> bool:
        """Judge what else was found, where the best gave no answer; tell whether any holds."""
        others = sorted(self.search.found, key=lambda one: one.order)
        return any(
            self.judge(one)
            for one in others[: MOST_TRIES - len(self.told)]
            if one.containers <= self.rehearsal.most
        )

    def _dared(self, proposal: Proposal, plain: Proposal) -> bool:
        """Judge what is simpler still and missed by a draw or two; tell whether it holds."""
        daring = self.refining.simpler(proposal, daring=True)
        return daring.steps != plain.steps and self.judge(daring, is_bold=True, clearly=True)

    def _make_surer(self, proposal: Proposal) -> None:
        """Where a try held by a hair, pour what the containers still hold, if that holds too."""
        kept = self.made
        if kept is None or len(self.told) >= MOST_TRIES:
            return
        sure, held = self.goal.sure_share, kept.score.held_share
        longer = self.refining.lengthened(proposal, proposal.containers)
        if longer is None or held - sure > 2.0 * (sure * (1.0 - sure) / self.members) ** 0.5:
            return
        fits = self.judge(replace(proposal, steps=longer))
        if not fits or self.made is None or self.made.score.containers > kept.score.containers:
            self.made = kept

    def _proposal(self) -> Proposal | None:
        """Return the search's best, squeezed into the fewest containers."""
        search = self.search
        if not search.found:
            return None
        best = min(search.found, key=lambda one: one.order)
        step = max(1, best.containers // 16)
        while step >= 1 and self.rehearsal.runs < MOST_SQUEEZED:
            fewer = best.containers - step
            tried = self.refining.squeezed(fewer) if fewer >= 1 else None
            is_near = tried is not None and tried.at_sure <= _POLISHED * self.goal.target_share
            if tried is not None and is_near and tried.held_share < self.rehearsal.wanted_share:
                tried = self.refining.polished(tried)
            if tried is not None and tried.held_share >= self.rehearsal.wanted_share:
                best = tried
            else:
                self._nearly = tried if step == 1 else None
                step //= 2
        return best

    def _bold(self, proposal: Proposal) -> Proposal | None:
        """Return a proposal with a container less that missed by little on the search's draws."""
        nearly = self._nearly
        if nearly is None or nearly.containers >= proposal.containers:
            return None
        return nearly if nearly.held_share >= self.goal.sure_share - _NEARLY else None

    def _safer(self, proposal: Proposal) -> Proposal | None:
        """Return a proposal that pours more: what its containers still hold, else one more."""
        supply = proposal.containers
        for containers in (supply, supply + 1):
            if containers > self.rehearsal.most:
                return None
            longer = self.refining.lengthened(proposal, containers)
            if longer is None:
                continue
            shelf = self.goal.supply_m3(containers)
            if containers > supply or longer != proposal.steps:
                return replace(proposal, steps=longer, containers=containers, shelf_m3=shelf)
        return None

    def come_near(self, methods: tuple[Method, ...]) -> None:
        """Where nothing reaches the target: keep what comes nearest at sensible cost.

        Of all that end about as low as the lowest, the one with the fewest containers."""
        if len(self.told) >= MOST_TRIES:
            return
        usual = [
            (m.score, m.recipe)
            for m in methods
            if m.score is not None
            and m.recipe is not None
            and m.score.allowed
            and m.score.containers <= self.rehearsal.most
        ]
        lowest = min([self.refining.lowest(), *(made.at_sure for made, _ in usual)])
        enough = lowest + max(_AS_GOOD, _AS_GOOD_OF_IT * lowest)
        cheapest = self.refining.cheapest_below(enough)
        good = [
            (made.containers, number)
            for number, (made, _) in enumerate(usual)
            if made.at_sure <= enough
            and (cheapest is None or made.containers < cheapest.containers)
        ]
        if good:
            recipe = usual[min(good)[1]][1]
            self.judge(replace(recipe, name=f"{recipe.name}, as usual"))
        elif cheapest is not None:
            # What the containers hold anyway is poured as well.
            longer = self.refining.lengthened(cheapest, cheapest.containers)
            self.judge(cheapest if longer is None else replace(cheapest, steps=longer))


def slower(recipe: Recipe, factor: float) -> Recipe:
    """Return a recipe whose cycles take longer, to whole seconds.

    Parameters
    ----------
    recipe : Recipe
        What is done.
    factor : scalar
        How much longer a cycle takes. [-]

    Returns
    -------
    slower : Recipe
        The same where nothing is exercised.

    Source
    ------
    Arithmetic.
    """
    steps = tuple(
        replace(
            step,
            exercise=replace(
                step.exercise, period_s=float(math.ceil(factor * step.exercise.period_s))
            ),
        )
        if isinstance(step, Exchange) and step.exercise.groups
        else step
        for step in recipe.steps
    )
    return replace(recipe, steps=steps)
