"""What would a recipe need and leave that somebody else wrote: a usual method's, or a person's own?

Judged by the same yardstick as a plan and put together with all that goes with one, so that
whoever reads plans reads this too. Nothing is searched: the recipe stays as it was given.
"""

from __future__ import annotations

from collections.abc import Callable

from ullage.circuit.network import Circuit
from ullage.errors import FileFaults, Incompatible
from ullage.planning.alongside import cooling_of, heat_of, pace_of, warmth_of
from ullage.planning.due import due
from ullage.planning.filter_fit import filter_fit
from ullage.planning.finding import Weight
from ullage.planning.floor import Floor, floor_of
from ullage.planning.fluid_fit import fluid_fit
from ullage.planning.goal import Goal
from ullage.planning.level_target import level_target
from ullage.planning.measure_first import measure_first
from ullage.planning.pace import Pace
from ullage.planning.plan import Plan
from ullage.planning.reasons import of_100, percent, reasons
from ullage.planning.score import Score, score
from ullage.planning.sheet import sheet_of
from ullage.planning.shopping import shopping, waste_of
from ullage.transport.recipe import Recipe
from ullage.transport.refusals import refusals
from ullage.transport.solve import Solver
from ullage.units.caveat import Caveat, only_where_true

#: Draws that a given recipe is judged on: as many as a usual method.
MEMBERS = 400


def plan_of_recipe(
    circuit: Circuit,
    goal: Goal,
    recipe: Recipe,
    *,
    seed: int = 0,
    members: int = MEMBERS,
    progress: Callable[[str, int, int], None] | None = None,
) -> Plan:
    """Return a given recipe as a plan: what it needs, what it leaves, and what goes with it.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.
    goal : Goal
        What is wanted, and with what.
    recipe : Recipe
        What is to be done.
    seed : scalar
        Names the draws. [-]
    members : scalar
        Draws. [-]
    progress : callable
        Told what is under way, and how far it is.

    Returns
    -------
    plan : Plan
        Without tries and without methods beside it.

    Raises
    ------
    Incompatible
        If the fluids must not meet, or the family of one is unknown.
    FileFaults
        If the circuit cannot carry the recipe out.

    Validity
    --------
    As the solver's.

    Source
    ------
    Derived; the same figures as ``simulate`` gives.
    """
    fluid = fluid_fit(circuit, remainder_vfrac=goal.target_share)
    grave = [finding.text for finding in fluid.findings if finding.weight is Weight.STOP]
    if grave:
        raise Incompatible(" ".join(grave))
    faults = refusals(circuit, recipe)
    if faults:
        raise FileFaults("recipe", faults)
    solver = Solver(circuit)

    def told(done: int, of: int) -> None:
        if progress is not None:
            progress("running it on simulated machines", done, of)

    told(0, members)
    run = solver.run(recipe, members=members, seed=seed, bracket=False, progress=told)
    made = score(circuit, goal, recipe, run)
    if progress is not None:
        progress("measuring up", 0, 1)
    floor = floor_of(circuit, goal, recipe, run, solver=solver, seed=seed)
    reached = made.held_share >= goal.sure_share and made.allowed
    poured = pace_of(circuit, goal, recipe)
    return Plan(
        name=circuit.name,
        goal=goal,
        seed=run.seed,
        members=run.members,
        reached=reached,
        recipe=recipe,
        score=made,
        run=run,
        tries=(),
        methods=(),
        floor=floor,
        measures=measure_first(circuit, recipe, run, sure_share=goal.sure_share),
        sheet=sheet_of(circuit, goal, recipe, run),
        shopping=shopping(circuit, goal, recipe, made),
        waste=waste_of(circuit, made),
        fluid=fluid,
        filter=filter_fit(circuit),
        heat=heat_of(circuit, recipe),
        warmth=warmth_of(circuit, recipe),
        cooling=cooling_of(circuit, recipe),
        level=level_target(circuit, temperature_k=recipe.temperature_k),
        pace=poured,
        due=due(circuit),
        reasons=_reasons(goal, made, floor, reached),
        caveats=_caveats(goal, made, poured, reached),
    )


def _reasons(goal: Goal, made: Score, floor: Floor, reached: bool) -> tuple[str, ...]:
    """Return how many machines it holds in, and what keeps the rest.

    Nothing was compared, so what a plan says of the usual methods is left out.
    """
    held, *_ = reasons(goal, made, (), floor, reached)
    _, *kept = reasons(goal, made, (), floor, False)
    return (held, *kept)


def _caveats(goal: Goal, made: Score, poured: Pace | None, reached: bool) -> tuple[Caveat, ...]:
    """Return what must be said beside it, what can harm the pump first."""
    return only_where_true(
        (
            poured is not None and poured.run_s <= 0.0,
            Caveat(
                code="cannot-start",
                text="As far as the figures are known, no hand at the switch is quick enough to "
                "stop this pump above its minimum: time the first litre at the diverter before "
                "anything else, and go on only if the pace then allows it.",
            ),
        ),
        (
            not reached and made.allowed,
            Caveat(
                code="not-reached",
                text=f"With this recipe {of_100(goal.sure_share)} end at {percent(made.at_sure)} "
                f"or less; wanted is {percent(goal.target_share)}.",
            ),
        ),
        (
            not made.allowed,
            Caveat(
                code="out-of-bounds",
                text="On the way the level leaves its bounds: the pump would draw air, or the "
                "reservoir run over.",
            ),
        ),
        (
            made.allowed and made.unsafe_share > 0.0,
            Caveat(
                code="level-tight",
                text=f"In {made.unsafe_share * 100:.1f} of 100 simulated machines the level leaves "
                "its bounds on the way: watch it.",
            ),
        ),
    )
