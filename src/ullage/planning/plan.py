"""The plan: what to buy, what to do in which order, how sure that is, and what stays undone.

The search proposes; fresh draws that it never saw decide. At most five proposals are tried, and all
of them are told, because a proposal picked from many tries flatters itself as well. The usual
methods stand beside the plan, judged by the same yardstick. Nothing here reads or writes files.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.circuit.uncertain import exact
from ullage.errors import Incompatible, OutOfRange
from ullage.planning.crew import Crew
from ullage.planning.due import Due, due
from ullage.planning.filter_fit import FilterFit, filter_fit
from ullage.planning.finding import Finding, Weight
from ullage.planning.floor import Floor, floor_of
from ullage.planning.fluid_fit import FluidFit, fluid_fit
from ullage.planning.goal import READY_TARGETS, Goal
from ullage.planning.level_target import LevelTarget, level_target
from ullage.planning.measure_first import Measure, measure_first
from ullage.planning.methods import Method, usual_methods
from ullage.planning.pace import Pace, pace
from ullage.planning.reasons import name_of, of_100, percent, reasons
from ullage.planning.refine import Refining
from ullage.planning.score import Score, exchanged_m3, score
from ullage.planning.search import Proposal, Search
from ullage.planning.sheet import Line, sheet_of
from ullage.planning.shopping import Item, Waste, shopping, waste_of
from ullage.planning.warmth import (
    Cooling,
    WarmUp,
    exchange_temperature,
    lump_of,
    warm_up,
    what_warmth_buys,
)
from ullage.transport.recipe import Bleed, Exchange, Fill, Recipe
from ullage.transport.result import Run
from ullage.transport.solve import Solver
from ullage.units.caveat import Caveat

#: Fresh draws of a try, and how many tries there are at most.
TRY_MEMBERS = 4000
MOST_TRIES = 5
# A proposal that misses by no more than this on the search's few draws is worth a fresh try.
_NEARLY = 0.03
# How far short of the deepest remainder a plan may stop where the target cannot be reached.
_AS_GOOD = 0.01
_AS_GOOD_OF_IT = 0.2

Progress = Callable[[str, int, int], None]
Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """A proposal on fresh draws: which, on how many containers, and how many machines it held."""

    seed: int
    containers: int
    held_share: float
    allowed: bool
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The answer, its reasons and its caveats.

    ``run`` and ``score`` belong to the last try: `simulate` with its seed and members gives the
    same figures. ``reached`` is False where the target cannot be had; the recipe then is the one
    that comes nearest at sensible cost, and ``floor`` says what holds the rest."""

    name: str
    goal: Goal
    seed: int
    members: int
    reached: bool
    recipe: Recipe
    score: Score
    run: Run
    tries: tuple[Try, ...]
    methods: tuple[Method, ...]
    floor: Floor
    measures: tuple[Measure, ...]
    sheet: tuple[Line, ...]
    shopping: tuple[Item, ...]
    waste: Waste
    fluid: FluidFit
    filter: FilterFit
    heat: WarmUp | None
    warmth: tuple[Finding, ...]
    cooling: Cooling | None
    level: LevelTarget
    pace: Pace | None
    due: Due
    reasons: tuple[str, ...]
    caveats: tuple[Caveat, ...]

    @property
    def left_over_m3(self) -> float:
        """Return what is left in the containers beside the reserve, at shelf temperature [m3]."""
        return self.goal.supply_m3(self.score.containers) - self.score.shelf_m3

    @property
    def bought_m3(self) -> float:
        """Return what is poured and what is kept back, at shelf temperature [m3]."""
        return self.score.shelf_m3 + self.goal.reserve_m3


def make_plan(
    circuit: Circuit,
    goal: Goal,
    *,
    seed: int = 0,
    members: int = TRY_MEMBERS,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Plan:
    """Return the plan for a circuit and a goal.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.
    goal : Goal
        What is wanted, and with what.
    seed : scalar
        Names the draws; the same seed gives the same plan. [-]
    members : scalar
        Fresh draws of each try. [-]
    progress : callable
        Told what is under way, and how far it is.
    stop : callable
        Asked now and then; once it says yes, the best found so far is judged and returned.

    Returns
    -------
    plan : Plan
        With a caveat where it was stopped early.

    Raises
    ------
    Incompatible
        If the fluids must not meet, or the family of one is unknown.
    OutOfRange
        If nothing at all can be done with what was not ruled out.

    Validity
    --------
    As the solver's. The fewest containers that this search finds; a cleverer order may exist.

    Source
    ------
    Derived; compared with an exhaustive search in ``tests/laws``.
    """
    fluid = fluid_fit(circuit, remainder_vfrac=goal.target_share)
    grave = [finding.text for finding in fluid.findings if finding.weight is Weight.STOP]
    if grave:
        raise Incompatible(" ".join(grave))
    planner = _Planner(circuit, goal, seed=seed, members=members, progress=progress, stop=stop)
    try:
        return planner.plan(fluid)
    finally:
        planner.search.solver.close()


class _Planner:
    """Puts one plan together: search, tries, methods, and what goes with them."""

    def __init__(
        self,
        circuit: Circuit,
        goal: Goal,
        *,
        seed: int,
        members: int,
        progress: Progress | None,
        stop: Stop | None,
    ) -> None:
        self.circuit = circuit
        self.goal = goal
        self.seed = seed
        self.members = members
        self.tell = progress
        self.search = Search(
            circuit=circuit,
            goal=goal,
            seed=seed,
            stop=stop,
            progress=None if progress is None else lambda n, of: progress("searching", n, of),
        )
        self.refining = Refining(search=self.search)
        self.solver = Solver(circuit)
        self.tries: list[Try] = []
        self.made: tuple[Recipe, Run, Score] | None = None

    def plan(self, fluid: FluidFit) -> Plan:
        """Search, try, compare, and put everything together."""
        self.search.run()
        methods = tuple(self._methods())
        reached = self._reach(methods)
        if not reached:
            self._come_near(methods)
        if self.made is None:
            raise OutOfRange(
                "without",
                ", ".join(sorted(self.goal.without)) or "nothing",
                "less than everything that renews fluid here",
                "no recipe is possible: allow draw-off and fill, exchange or bleed",
            )
        recipe, run, made = self.made
        self._say("measuring up", 0, 1)
        floor = floor_of(self.circuit, self.goal, recipe, run, solver=self.solver, seed=self.seed)
        measures = measure_first(self.circuit, recipe, run, sure_share=self.goal.sure_share)
        return Plan(
            name=self.circuit.name,
            goal=self.goal,
            seed=run.seed,
            members=run.members,
            reached=reached,
            recipe=recipe,
            score=made,
            run=run,
            tries=tuple(self.tries),
            methods=methods,
            floor=floor,
            measures=measures,
            sheet=sheet_of(self.circuit, self.goal, recipe, run),
            shopping=shopping(self.circuit, self.goal, recipe, made),
            waste=waste_of(self.circuit, made),
            fluid=fluid,
            filter=filter_fit(self.circuit),
            heat=self._heat(recipe),
            warmth=self._warmth(recipe),
            cooling=self._cooling(recipe),
            level=level_target(self.circuit, temperature_k=recipe.temperature_k),
            pace=self._pace(recipe),
            due=due(self.circuit),
            reasons=tuple(reasons(self.goal, made, methods, floor, reached)),
            caveats=tuple(self._caveats(recipe, made, reached)),
        )

    def _say(self, what: str, done: int, of: int) -> None:
        if self.tell is not None:
            self.tell(what, done, of)

    def _methods(self) -> Iterator[Method]:
        """Judge the usual methods."""
        found = usual_methods(
            self.circuit, self.goal, search=self.search, solver=self.solver, seed=self.seed
        )
        for number, method in enumerate(found):
            self._say("comparing the usual methods", number + 1, 7)
            yield method

    # Tries.

    def _try(self, steps_of: Proposal | Recipe) -> bool:
        """Judge a proposal on fresh draws; tell whether it holds."""
        recipe = (
            self.search.recipe(steps_of, name_of(steps_of))
            if isinstance(steps_of, Proposal)
            else steps_of
        )
        seed = self.seed + len(self.tries)
        self._say("trying on fresh draws", len(self.tries) + 1, MOST_TRIES)
        run = self.solver.run(recipe, members=self.members, seed=seed, bracket=False)
        made = score(self.circuit, self.goal, recipe, run)
        held = (
            made.allowed
            and made.held_share >= self.goal.sure_share
            and made.containers <= self.search.most
        )
        self.tries.append(
            Try(
                seed=seed,
                containers=made.containers,
                held_share=made.held_share,
                allowed=made.allowed,
                held=held,
            )
        )
        better = self.made is None or held or made.at_sure < self.made[2].at_sure
        if better:
            self.made = (recipe, run, made)
        return held

    def _reach(self, methods: tuple[Method, ...]) -> bool:
        """Try proposals until one holds on fresh draws, few containers first.

        The best usual method joins in where it needs no more than what has held so far."""
        usual = min(
            (m for m in methods if m.reached and m.score is not None and m.recipe is not None),
            key=lambda m: m.score.order if m.score is not None else (),
            default=None,
        )
        limit = self.search.most if usual is None or usual.score is None else usual.score.containers
        proposal = self._proposal()
        if proposal is not None:
            bold = self._bold(proposal)
            if bold is not None and bold.containers <= limit and self._try(bold):
                return True
        while proposal is not None and proposal.containers <= limit:
            if len(self.tries) >= MOST_TRIES - 1:
                break
            if self._try(proposal):
                self._make_surer(proposal)
                break
            proposal = self._safer(proposal)
        held = any(one.held for one in self.tries)
        needs_more = not held or (self.made is not None and self.made[2].containers > limit)
        has_tries = len(self.tries) < MOST_TRIES
        if usual is not None and usual.recipe is not None and needs_more and has_tries:
            kept = self.made if held else None
            if self._try(replace(usual.recipe, name=f"{usual.recipe.name}, as usual")):
                return True
            if kept is not None:
                self.made = kept
                return True
        if not held and proposal is not None and len(self.tries) < MOST_TRIES:
            return self._try(proposal)
        return bool(held)

    def _make_surer(self, proposal: Proposal) -> None:
        """Where a try held by a hair, pour what the containers still hold, if that holds too."""
        kept = self.made
        if kept is None or len(self.tries) >= MOST_TRIES:
            return
        sure, held = self.goal.sure_share, kept[2].held_share
        longer = self.refining.lengthened(proposal, proposal.containers)
        if longer is None or held - sure > 2.0 * (sure * (1.0 - sure) / self.members) ** 0.5:
            return
        fits = self._try(replace(proposal, steps=longer))
        if not fits or self.made is None or self.made[2].containers > kept[2].containers:
            self.made = kept

    def _proposal(self) -> Proposal | None:
        """Return the search's best: with the fewest containers, then made simpler."""
        search = self.search
        if not search.found:
            return None
        best = min(search.found, key=lambda one: one.order)
        step = max(1, best.containers // 16)
        while step >= 1 and search.expansions < MOST_SQUEEZED:
            fewer = best.containers - step
            tried = self.refining.squeezed(fewer) if fewer >= 1 else None
            if tried is not None and tried.held_share < search.wanted_share:
                tried = self.refining.polished(tried)
            if tried is not None and tried.held_share >= search.wanted_share:
                best = tried
            else:
                self._nearly = tried if step == 1 else None
                step //= 2
        return self.refining.simpler(best)

    _nearly: Proposal | None = None

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
            if containers > self.search.most:
                return None
            longer = self.refining.lengthened(proposal, containers)
            if longer is None:
                continue
            shelf = self.goal.supply_m3(containers)
            if containers > supply or longer != proposal.steps:
                return replace(proposal, steps=longer, containers=containers, shelf_m3=shelf)
        return None

    def _come_near(self, methods: tuple[Method, ...]) -> None:
        """Where nothing reaches the target: keep what comes nearest at sensible cost.

        Of all that end about as low as the lowest, the one with the fewest containers."""
        if len(self.tries) >= MOST_TRIES:
            return
        usual = [
            (m.score, m.recipe)
            for m in methods
            if m.score is not None
            and m.recipe is not None
            and m.score.allowed
            and m.score.containers <= self.search.most
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
            self._try(replace(recipe, name=f"{recipe.name}, as usual"))
        elif cheapest is not None:
            # What the containers hold anyway is poured as well.
            longer = self.refining.lengthened(cheapest, cheapest.containers)
            self._try(cheapest if longer is None else replace(cheapest, steps=longer))

    # What goes with it.

    def _heat(self, recipe: Recipe) -> WarmUp | None:
        """Return the warm-up, where a pump can warm the circuit and it is not warm already."""
        lump = lump_of(self.circuit)
        if self.circuit.pump.hand_flow_m3_s is not None or recipe.temperature_k <= lump.ambient_k:
            return None
        return warm_up(self.circuit, target_k=recipe.temperature_k)

    def _warmth(self, recipe: Recipe) -> tuple[Finding, ...]:
        """Return what warmth buys here."""
        cold = lump_of(self.circuit).ambient_k
        if self.circuit.pump.hand_flow_m3_s is not None or recipe.temperature_k <= cold:
            return ()
        return what_warmth_buys(self.circuit, cold_k=cold, warm_k=recipe.temperature_k)

    def _cooling(self, recipe: Recipe) -> Cooling | None:
        """Return how cold the exchange makes the circuit."""
        litres = exchanged_m3(recipe)
        if litres <= 0.0:
            return None
        return exchange_temperature(
            self.circuit,
            litres_m3=litres,
            start_k=recipe.temperature_k,
            new_fluid_k=recipe.new_fluid_k,
        )

    def _pace(self, recipe: Recipe) -> Pace | None:
        """Return how to pour in the longest exchange or bleed."""
        litres = max(
            (s.litres_m3 for s in recipe.steps if isinstance(s, Exchange | Bleed)), default=0.0
        )
        if litres <= 0.0:
            return None
        first = next(i for i, s in enumerate(recipe.steps) if isinstance(s, Exchange | Bleed))
        level = next((s.to_m3 for s in reversed(recipe.steps[:first]) if isinstance(s, Fill)), None)
        return pace(
            self.circuit,
            crew=Crew(people=self.goal.people, container_m3=self.goal.container_m3),
            litres_m3=litres,
            start_m3=None if level is None else exact(level),
            temperature_k=recipe.temperature_k,
        )

    def _caveats(self, recipe: Recipe, made: Score, reached: bool) -> Iterator[Caveat]:
        """Yield what must be said beside the plan."""
        if self.search.ended_early:
            yield Caveat(
                code="search-ended",
                text="The search ended before it had tried everything: a better order may exist.",
            )
        if not reached:
            yield Caveat(
                code="not-reached",
                text=f"{percent(self.goal.target_share)} cannot be reached "
                f"{of_100(self.goal.sure_share)} with what was allowed here.",
            )
        if self.circuit.reservoir.mark is not State.RETRACTED and any(
            leg.stroke_m3.best > 0.0 for leg in self.circuit.legs
        ):
            yield Caveat(
                code="not-lowered",
                text="Lowering everything before drawing off is not proposed: the mark is not read "
                "that way, and nothing in a recipe brings the actuators back to it exactly.",
            )
        if made.unsafe_share > 0.0:
            yield Caveat(
                code="level-tight",
                text=f"In {made.unsafe_share * 100:.1f} of 100 simulated machines the level leaves "
                "its bounds on the way: watch it.",
            )
        if self.circuit.new_fluid.family != self.circuit.fluid.family or (
            self.circuit.new_fluid.class_ in ("HETG", "HEPG", "HEES", "HEPR")
        ):
            limit = READY_TARGETS["iso-15380"]
            yield Caveat(
                code="published-limit",
                text=f"After a change to an environmentally acceptable fluid at most "
                f"{percent(limit)} of the former mineral fluid may stay (ISO 15380).",
            )


#: Expansions after which no further container is squeezed out.
MOST_SQUEEZED = 330
