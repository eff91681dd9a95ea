"""What goes with a recipe, whoever wrote it: warming up, what that buys, how cold it gets while
cold fluid comes in, and how to pour.
"""

from __future__ import annotations

from ullage.circuit.network import Circuit
from ullage.circuit.uncertain import exact
from ullage.planning.crew import Crew
from ullage.planning.finding import Finding
from ullage.planning.goal import Goal
from ullage.planning.pace import Pace, pace
from ullage.planning.score import exchanged_m3
from ullage.planning.warmth import (
    Cooling,
    WarmUp,
    exchange_temperature,
    lump_of,
    warm_up,
    what_warmth_buys,
)
from ullage.transport.recipe import Bleed, Exchange, Fill, Recipe


def heat_of(circuit: Circuit, recipe: Recipe) -> WarmUp | None:
    """Return the warm-up, where a pump can warm the circuit and it is not warm already."""
    if not _is_warmed(circuit, recipe):
        return None
    return warm_up(circuit, target_k=recipe.temperature_k)


def warmth_of(circuit: Circuit, recipe: Recipe) -> tuple[Finding, ...]:
    """Return what warmth buys here."""
    if not _is_warmed(circuit, recipe):
        return ()
    return what_warmth_buys(circuit, cold_k=lump_of(circuit).ambient_k, warm_k=recipe.temperature_k)


def _is_warmed(circuit: Circuit, recipe: Recipe) -> bool:
    """Tell whether the pump warms the circuit for this recipe."""
    by_hand = circuit.pump.hand_flow_m3_s is not None
    return not by_hand and recipe.temperature_k > lump_of(circuit).ambient_k


def cooling_of(circuit: Circuit, recipe: Recipe) -> Cooling | None:
    """Return how cold the exchange makes the circuit; None where nothing is exchanged."""
    litres_m3 = exchanged_m3(recipe)
    if litres_m3 <= 0.0:
        return None
    return exchange_temperature(
        circuit,
        litres_m3=litres_m3,
        start_k=recipe.temperature_k,
        new_fluid_k=recipe.new_fluid_k,
    )


def pace_of(circuit: Circuit, goal: Goal, recipe: Recipe) -> Pace | None:
    """Return how to pour in the longest exchange or bleed; None where nothing is poured so."""
    pours = [n for n, step in enumerate(recipe.steps) if isinstance(step, Exchange | Bleed)]
    litres_m3 = max(
        (step.litres_m3 for step in recipe.steps if isinstance(step, Exchange | Bleed)), default=0.0
    )
    if litres_m3 <= 0.0:
        return None
    fills = [step for step in recipe.steps[: pours[0]] if isinstance(step, Fill)]
    level_m3 = fills[-1].to_m3 if fills else None
    return pace(
        circuit,
        crew=Crew(people=goal.people, container_m3=goal.container_m3),
        litres_m3=litres_m3,
        start_m3=None if level_m3 is None else exact(level_m3),
        temperature_k=recipe.temperature_k,
    )
