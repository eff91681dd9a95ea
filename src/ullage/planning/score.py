"""How good is a recipe for a goal? The same yardstick for the search, the tries and the methods.

A recipe counts as holding when enough simulated machines end at or below the target; it is allowed
when nothing spills and the pump stays above the minimum. Containers follow from what all but the
thirstiest machines need.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.circuit.volumes import Numbers
from ullage.planning.costs import Effort, cost_of, effort_of
from ullage.planning.goal import Goal, shelf_share
from ullage.transport.recipe import Exchange, Recipe
from ullage.transport.result import Run
from ullage.transport.saved import PUMPED
from ullage.transport.values import Values

Floats = NDArray[np.float64]

#: Share of simulated machines that may spill or fall below the minimum; at the best values none.
MOST_UNSAFE = 0.01
_SLACK_M3 = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What a run of a recipe says about a goal. Shares are 0 to 1.

    ``p05`` to ``p95`` are quantiles of the remainder, ``at_sure`` the one at the wanted
    confidence; ``shelf_m3`` is what is poured, as bought; ``unsafe_share`` counts machines that
    spill or fall below the minimum."""

    held_share: float
    p05: float
    p50: float
    p95: float
    at_sure: float
    poured_m3: float
    shelf_m3: float
    waste_m3: float
    containers: int
    unsafe_share: float
    allowed: bool
    effort: Effort
    cost: float

    @property
    def order(self) -> tuple[float, ...]:
        """Return what decides between recipes that hold: containers, time, steps, kinds, bleeds."""
        one = self.effort
        return (self.containers, one.duration_s, one.steps, one.kinds, one.bleed_points)


def mark_content_m3(circuit: Circuit, values: Values) -> Floats:
    """Return what a circuit holds in the state of its mark, filled to it.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.
    values : Values
        Its numbers, best values in column 0.

    Returns
    -------
    content_m3 : (columns,)
        All fluid. [m3]

    Source
    ------
    Sum of the parts; each part at its place in the state of the mark.
    """
    mark = circuit.reservoir.mark
    place = values.leg_start_share.copy()
    if mark is State.RETRACTED:
        place = np.zeros_like(place)
    elif mark is State.EXTENDED:
        place = np.ones_like(place)
    for row, leg in enumerate(circuit.legs):
        other = circuit.partner.get(leg.id)
        if other is not None:
            first = [one.id for one in circuit.legs].index(other)
            if first < row:
                place[row] = 1.0 - place[first]
    gas = 0.0 if mark is State.RELEASED else values.leg_gas_m3.sum(axis=0)
    legs = values.leg_line_m3 + values.leg_dead_m3 + values.leg_stroke_m3 * place
    content: Floats = values.parts_m3.sum(axis=0) + values.full_m3 + legs.sum(axis=0) + gas
    return content


def pour_quantile(goal: Goal) -> float:
    """Return for which share of machines the containers must suffice."""
    return goal.sure_share


def score(circuit: Circuit, goal: Goal, recipe: Recipe, run: Run) -> Score:
    """Return how a run meets a goal; its arrays are those of ``simulate`` untouched."""
    share = run.remaining_share
    poured = np.sum([step.poured_m3 for step in run.steps], axis=0)
    waste = np.sum([step.waste_m3 for step in run.steps], axis=0)
    to_shelf = shelf_share(circuit.new_fluid, temperature_k=recipe.temperature_k)
    shelf = float(np.quantile(poured, pour_quantile(goal))) * to_shelf
    drawn = Numbers(count=run.members, seed=run.seed, is_best=run.members == 1)
    minimum = drawn.of(circuit.reservoir.minimum_m3, "reservoir.minimum")
    unsafe = np.zeros(run.members, dtype=np.bool_)
    for step, made in zip(recipe.steps, run.steps, strict=False):
        unsafe |= made.spilled_m3 > _SLACK_M3
        if isinstance(step, PUMPED):
            unsafe |= made.lowest_m3 < minimum - _SLACK_M3
    best = run.best or run
    told = {note.code for step in best.steps for note in step.notes}
    is_sound = best.stop is None and run.stopped_members == 0
    allowed = is_sound and not told & {"below-minimum", "spilled"}
    allowed = allowed and float(unsafe.mean()) <= MOST_UNSAFE
    effort = effort_of(
        circuit,
        recipe.steps,
        volumes_m3=[
            float(max(step.poured_m3[0], step.waste_m3[0]))
            for step in (*best.steps, *run.steps[len(best.steps) :])
        ],
        pumped_s=float(sum(step.duration_s[0] for step in best.steps)),
        people=goal.people,
    )
    containers = goal.containers_for(shelf)
    waste_m3 = float(np.quantile(waste, 0.95))
    p05, p50, p95, at_sure = np.quantile(share, [0.05, 0.5, 0.95, goal.sure_share])
    return Score(
        held_share=float(np.mean(share <= goal.target_share)),
        p05=float(p05),
        p50=float(p50),
        p95=float(p95),
        at_sure=float(at_sure),
        poured_m3=float(np.quantile(poured, pour_quantile(goal))),
        shelf_m3=shelf,
        waste_m3=waste_m3,
        containers=containers,
        unsafe_share=float(unsafe.mean()),
        allowed=allowed,
        effort=effort,
        cost=cost_of(
            effort,
            recipe.steps,
            bought_m3=containers * goal.container_m3,
            waste_m3=waste_m3,
        ),
    )


def exchanged_m3(recipe: Recipe) -> float:
    """Return what a recipe sends through the diverter in all.

    Parameters
    ----------
    recipe : Recipe
        What is done.

    Returns
    -------
    exchanged_m3 : scalar
        Sum over its exchanges. [m3]

    Source
    ------
    Arithmetic.
    """
    return sum(step.litres_m3 for step in recipe.steps if isinstance(step, Exchange))
