"""The plan: what to buy, what to do in which order, how sure that is, and what stays undone.

The search proposes; fresh draws that it never saw decide. At most five proposals are tried, and all
of them are told, because a proposal picked from many tries flatters itself as well. The usual
methods stand beside the plan, judged by the same yardstick. Nothing here reads or writes files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.errors import Incompatible, OutOfRange
from ullage.planning.alongside import cooling_of, heat_of, pace_of, warmth_of
from ullage.planning.due import Due, due
from ullage.planning.filter_fit import FilterFit, filter_fit
from ullage.planning.finding import Finding, Weight
from ullage.planning.floor import Floor, floor_of
from ullage.planning.fluid_fit import FluidFit, fluid_fit
from ullage.planning.goal import READY_TARGETS, Goal
from ullage.planning.level_target import LevelTarget, level_target
from ullage.planning.measure_first import Measure, measure_first
from ullage.planning.methods import USUAL, Method, usual_methods
from ullage.planning.pace import Pace
from ullage.planning.reasons import of_100, percent, reasons
from ullage.planning.rehearsal import Rehearsal
from ullage.planning.score import Score
from ullage.planning.search import Search
from ullage.planning.sheet import Line, sheet_of
from ullage.planning.shopping import Item, Waste, shopping, waste_of
from ullage.planning.tries import TRY_MEMBERS, Tries, Try
from ullage.planning.waiting import Progress, Stop, Waiting
from ullage.planning.warmth import Cooling, WarmUp
from ullage.transport.recipe import Bleed, Exchange, Recipe
from ullage.transport.result import Run
from ullage.transport.solve import Solver
from ullage.units.caveat import Caveat


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
        Called as ``progress(what, done, of)`` where a stage begins and while it goes on, in the
        thread that asked for the plan. What it raises ends the plan.
    stop : callable
        Asked several times a second, in the same thread; once it says yes the plan is given up
        within half a second.

    Returns
    -------
    plan : Plan
        With a caveat where the search ended before it had tried everything.

    Raises
    ------
    Incompatible
        If the fluids must not meet, or the family of one is unknown.
    OutOfRange
        If nothing at all can be done with what was not ruled out.
    Stopped
        If ``stop`` said yes. No thread of the plan is left running.

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
    waiting = Waiting(progress=progress, stop=stop)
    waiting.ask()
    planner = _Planner(circuit, goal, seed=seed, members=members, waiting=waiting)
    try:
        return planner.plan(fluid)
    finally:
        planner.rehearsal.close()


class _Planner:
    """Puts one plan together: search, tries, methods, and what goes with them."""

    def __init__(
        self, circuit: Circuit, goal: Goal, *, seed: int, members: int, waiting: Waiting
    ) -> None:
        self.circuit = circuit
        self.goal = goal
        self.seed = seed
        self.waiting = waiting
        self.rehearsal = Rehearsal(circuit, goal, seed=seed, waiting=waiting)
        self.search = Search(rehearsal=self.rehearsal)
        self.solver = Solver(circuit)
        self.tries = Tries(
            circuit, goal, search=self.search, solver=self.solver, seed=seed, members=members
        )

    def plan(self, fluid: FluidFit) -> Plan:
        """Search, try, compare, and put everything together."""
        self.search.run()
        methods = tuple(self._methods())
        reached = self.tries.reach(methods)
        if not reached:
            self.tries.come_near(methods)
        judged = self.tries.made
        if judged is None:
            raise OutOfRange(
                "without",
                ", ".join(sorted(self.goal.without)) or "nothing",
                "less than everything that renews fluid here",
                "no recipe is possible: allow draw-off and fill, exchange or bleed",
            )
        recipe, run, made = judged.recipe, judged.run, judged.score
        self.waiting.tell("measuring up", 0, 1)
        floor = floor_of(self.circuit, self.goal, recipe, run, solver=self.solver, seed=self.seed)
        self.waiting.ask()
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
            tries=tuple(self.tries.told),
            methods=methods,
            floor=floor,
            measures=measures,
            sheet=sheet_of(self.circuit, self.goal, recipe, run),
            shopping=shopping(self.circuit, self.goal, recipe, made),
            waste=waste_of(self.circuit, made),
            fluid=fluid,
            filter=filter_fit(self.circuit),
            heat=heat_of(self.circuit, recipe),
            warmth=warmth_of(self.circuit, recipe),
            cooling=cooling_of(self.circuit, recipe),
            level=level_target(self.circuit, temperature_k=recipe.temperature_k),
            pace=pace_of(self.circuit, self.goal, recipe),
            due=due(self.circuit),
            reasons=tuple(reasons(self.goal, made, methods, floor, reached)),
            caveats=tuple(self._caveats(recipe, made, reached, fluid, methods)),
        )

    def _methods(self) -> Iterator[Method]:
        """Judge the usual methods."""
        found = usual_methods(
            self.circuit, self.goal, rehearsal=self.rehearsal, solver=self.solver, seed=self.seed
        )
        for number, method in enumerate(found):
            self.waiting.tell("comparing the usual methods", number + 1, USUAL)
            yield method

    # What goes with it.

    def _cannot_start(self, recipe: Recipe, methods: Iterable[Method]) -> Iterator[Caveat]:
        """Say so where no hand is quick enough for the pump, and what to do instead."""
        pace = pace_of(self.circuit, self.goal, recipe)
        if pace is None or pace.run_s > 0.0:
            return
        text = (
            "As far as the figures are known, the pump may be at its minimum before a hand at the "
            "switch can stop it: time the first litre at the diverter before anything else, "
            "and exchange only if the pace then allows it."
        )
        other = min(
            (
                (m.score.order, m.score.containers, m.name)
                for m in methods
                if m.reached and m.score is not None and m.recipe is not None
                if not any(isinstance(step, Exchange | Bleed) for step in m.recipe.steps)
            ),
            default=None,
        )
        if other is not None:
            text += f" Without pouring against the pump: {other[2].lower()}, {other[1]} containers."
        yield Caveat(code="cannot-start", text=text)

    def _caveats(
        self, recipe: Recipe, made: Score, reached: bool, fluid: FluidFit, methods: Iterable[Method]
    ) -> Iterator[Caveat]:
        """Yield what must be said beside the plan."""
        for finding in fluid.findings:
            if finding.code in ("too-thin-hot", "too-thick-cold") and finding.weight is not (
                Weight.FINE
            ):
                yield Caveat(code=f"fluid-{finding.code}", text=finding.text)
        yield from self._cannot_start(recipe, methods)
        if self.search.ended_early:
            yield Caveat(
                code="search-ended",
                text="The search ended before it had tried everything: a better order may exist.",
            )
        if self.tries.without_answer:
            yield Caveat(
                code="no-answer",
                text="The program could not close the books of a better recipe and gave it up: a "
                "defect. Please report it with the circuit file.",
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
                text="Lowering everything before drawing off is not proposed: the mark is read "
                "with the actuators standing as found, and no step brings them back there exactly.",
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
