"""Which unknown of a circuit matters most: what it makes of the spread, and what knowing it costs.

Asked about a recipe of a job where there is one, else about an exchange that anybody would try.
The ranking is ``planning.measure_first``'s; here it gets a recipe, a price and a frame. It takes
long enough to be done beside the pages: ``unknown_inputs`` says what goes in, ``ranked_table`` what
comes out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3
from ullage.errors import NotFound, OutOfRange
from ullage.jobs.log import load_job
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk, Forms
from ullage.jobs.prices import kept_prices
from ullage.planning.candidates import (
    Mode,
    leg_content_m3,
    possible,
    working_temperature_k,
)
from ullage.planning.costs import read_prices
from ullage.planning.goal import Goal
from ullage.planning.measure_first import Measure, measure_first
from ullage.transport.recipe import (
    Bleed,
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Fill,
    Recipe,
    Step,
    TopUp,
)
from ullage.transport.refusals import refusals
from ullage.transport.solve import simulate
from ullage.units.convert import HOUR_S

#: Draws that the ranking is made of: the order no longer changes with more of them.
MEMBERS = 400
#: Confidence at which the gain of a measurement is told.
SURE_SHARE = 0.95
_MOST = 12
_JOBS_LOOKED_AT = 20
_WHILE_S = 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One unknown with what it explains, how to know it better, and what that costs in wages."""

    measure: Measure
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Unknowns by what they explain of the spread, the weightiest first.

    ``low_share`` and ``high_share`` enclose the remainder of nine of ten simulated machines;
    ``explained_share`` is how much of the spread the listed unknowns make together, at most all.
    """

    recipe: str
    is_standard: bool
    remaining_share: float
    low_share: float
    high_share: float
    unknowns: tuple[Unknown, ...]
    members: int
    seed: int

    @property
    def explained_share(self) -> float:
        """Return the share of the variance that the listed unknowns explain together."""
        return min(sum(one.measure.explains for one in self.unknowns), 1.0)


def which_unknown(
    circuit: Circuit,
    recipe: Recipe | None = None,
    *,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
    labour_per_s: float | None = None,
) -> Ranking:
    """Return what to know better about a circuit, the weightiest unknown first.

    Parameters
    ----------
    circuit : Circuit
        What is asked about.
    recipe : Recipe
        What is to be done; None takes a usual exchange.
    seed : scalar
        Of the draws. [-]
    progress : callable
        Told how many of the simulated machines are done.
    labour_per_s : scalar
        Wage, in the currency of the prices; None takes the table of costs. [1/s]

    Returns
    -------
    ranking : Ranking
        Unknowns that explain at least a hundredth of the variance.

    Raises
    ------
    OutOfRange
        If the recipe can't be carried out on the circuit.

    Validity
    --------
    That of ``measure_first``: a straight line through the draws.

    Source
    ------
    As ``planning.measure_first``.
    """
    asked = recipe or standard_recipe(circuit)
    faults = refusals(circuit, asked)
    if faults:
        raise OutOfRange(
            "recipe", asked.name, "one that this circuit can carry out", faults[0].sentence()
        )
    run = simulate(circuit, asked, members=MEMBERS, seed=seed, bracket=False, progress=progress)
    wage = read_prices().labour_per_s if labour_per_s is None else labour_per_s
    found = measure_first(circuit, asked, run, sure_share=SURE_SHARE, most=_MOST)
    low, middle, high = np.quantile(run.remaining_share, [0.05, 0.5, 0.95])
    return Ranking(
        recipe=asked.name,
        is_standard=recipe is None,
        remaining_share=float(middle),
        low_share=float(low),
        high_share=float(high),
        unknowns=tuple(
            Unknown(measure=one, cost=one.duration_s * wage)
            for one in sorted(found, key=lambda one: (-one.explains, one.duration_s))
        ),
        members=run.members,
        seed=run.seed,
    )


def standard_recipe(circuit: Circuit) -> Recipe:
    """Return what anybody would try first: as many litres as it holds, everything exercised.

    Through the diverter where there is one, else out at the bleed points, else by drawing off and
    filling.
    """
    can = possible(circuit, Goal(target_share=0.1))
    holds = float(sum(float(value[0]) for value in content_m3(circuit, Numbers()).values()))
    litres = max(round(holds / 1e-4) * 1e-4, 1e-4)
    opening: tuple[Step, ...] = (DrawOff(), Fill())
    tries: list[tuple[str, tuple[Step, ...]]] = []
    ways = sorted(can.ways, key=lambda way: way.mode is not Mode.IN_TURN)
    for way in ways:
        does = "actuators exercised" if way.exercise.groups else "pump at idle"
        step = Exchange(litres_m3=litres, exercise=way.exercise)
        tries.append(
            (f"as much as it holds through the diverter, {does}", (*opening, step, TopUp()))
        )
    if can.bleeds:
        bled = tuple(
            Bleed(leg=leg, litres_m3=max(round(1.4 * leg_content_m3(circuit, leg), 5), 1e-5))
            for leg in can.bleeds
        )
        tries.append(("each end bled of 1.4 times what it holds", (*opening, *bled, TopUp())))
    for mix in (*can.closed, Circulate(duration_s=_WHILE_S, exercise=Exercise())):
        tries.append(
            (
                "drained, refilled and run, twice",
                (*opening, mix, *opening, mix),
            )
        )
    tries.append(("drained and refilled", opening))
    for name, steps in tries:
        recipe = Recipe(name=name, steps=steps, temperature_k=working_temperature_k(circuit))
        if not refusals(circuit, recipe):
            return recipe
    raise OutOfRange(
        "circuit",
        circuit.name,
        "one that can at least be drained and refilled",
        "check the marks of the reservoir",
    )


def unknown_inputs(desk: Desk, version: CircuitVersion) -> dict[str, Any]:
    """Return what goes in: the circuit, the newest recipe of a job on it if any, and the wage."""
    recipe, title = None, ""
    for line in desk.store.job_lines(machine_id=version.machine_id, limit=_JOBS_LOOKED_AT):
        job = load_job(desk, line.job_id)
        if job.head.circuit_id == version.circuit_id and job.recipe_table is not None:
            recipe, title = dict(job.recipe_table), job.head.title
            break
    wage = kept_prices(desk.store.settings())["labour_per_hour"]
    return {
        "circuit": dict(version.table),
        "recipe": recipe,
        "job": title,
        "labour_per_hour": wage,
    }


def ranked_table(
    forms: Forms,
    inputs: Mapping[str, Any],
    *,
    progress: Callable[[str, int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> dict[str, Any]:
    """Return the ranking for some inputs as a table; needs no store, so it may run anywhere.

    Raises
    ------
    OutOfRange, NotFound
        If the recipe no longer fits the circuit, or nobody waits any more.
    """
    circuit = forms.circuit(inputs["circuit"], "circuit")
    recipe = None if inputs["recipe"] is None else forms.recipe(inputs["recipe"], "recipe")

    def tell(done: int, of: int) -> None:
        if stop is not None and stop():
            raise NotFound("answer", "called off")
        if progress is not None:
            progress("simulating machines", done, of)

    found = which_unknown(
        circuit, recipe, progress=tell, labour_per_s=float(inputs["labour_per_hour"]) / HOUR_S
    )
    return {
        "recipe": found.recipe,
        "job": inputs["job"],
        "members": found.members,
        "seed": found.seed,
        "remaining_pct": {
            "p05": 100.0 * found.low_share,
            "p50": 100.0 * found.remaining_share,
            "p95": 100.0 * found.high_share,
        },
        "unknowns": [
            {
                "unknown": one.measure.unknown,
                "name": one.measure.name,
                "explains_pct": 100.0 * one.measure.explains,
                "sure_now_pct": 100.0 * one.measure.sure_now,
                "sure_then_pct": 100.0 * one.measure.sure_then,
                "how": one.measure.how,
                "duration_s": one.measure.duration_s,
                "cost": one.cost,
            }
            for one in found.unknowns
        ],
    }
