"""The second stage: from what is wanted to the recipe that will be carried out.

The search is ``planning.plan``'s. Here it gets the circuit as the job found it, and its answer is
kept with all that went in. A person then takes the plan's own recipe; any other is judged first
(``choose_recipe``). Either way the newest plan of the job is that of the recipe that was chosen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from ullage.errors import Conflict
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import drafts_of, finish
from ullage.jobs.event import Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log, log_all
from ullage.jobs.ports import Desk, Forms
from ullage.jobs.prices import PRICES, kept_currency, kept_prices, prices_of
from ullage.jobs.stage import Stage
from ullage.planning.costs import cost_of
from ullage.planning.goal import Goal
from ullage.planning.plan import Plan, make_plan
from ullage.planning.score import Score
from ullage.transport.recipe import Recipe

Progress = Callable[[str, int, int], None]
Stop = Callable[[], bool]
#: The name under which the plan's own recipe stands among the methods.
OWN = "plan"
#: The name under which a recipe that a person wrote is chosen.
WRITTEN = "own recipe"
_SEED = 0


def goal_of_table(table: Mapping[str, Any]) -> Goal:
    """Return what is wanted, from the payload of a goal; what is left out is as usual.

    Raises
    ------
    OutOfRange
        If a figure is outside what a plan can be made for.
    """
    most = table.get("most")
    return Goal(
        target_share=float(table["target_pct"]) / 100.0,
        sure_share=float(table.get("sure_pct", 95.0)) / 100.0,
        container_m3=float(table.get("container_l", 1.0)) * 1e-3,
        reserve_m3=float(table.get("reserve_l", 1.0)) * 1e-3,
        most=None if most is None else int(most),
        without=frozenset(table.get("without", ())),
        people=int(table.get("people", 2)),
    )


def set_goal(desk: Desk, job_id: str, table: Mapping[str, Any], *, uid: str) -> None:
    """Write down what is wanted.

    Raises
    ------
    OutOfRange
        If no plan can be made for it.
    """
    goal_of_table(table)
    log(desk, job_id, Kind.GOAL, table, uid=uid)


def plan_inputs(desk: Desk, job: Job) -> dict[str, Any]:
    """Return what a plan is worked out from.

    Raises
    ------
    Conflict
        If nobody said yet what is wanted.
    """
    if job.goal is None:
        raise Conflict("nobody said yet how much old fluid may stay; say it, then plan")
    keys = ("target_pct", "sure_pct", "container_l", "reserve_l", "most", "people", "without")
    goal = {key: job.goal.payload[key] for key in keys if key in job.goal.payload}
    return {
        "circuit": dict(found_circuit(desk, job).table),
        "goal": goal,
        "prices": prices_table(desk),
        "seed": _SEED,
    }


def prices_table(desk: Desk) -> dict[str, Any]:
    """Return the prices of this garage as a plan keeps them."""
    settings = desk.store.settings()
    return {"currency": kept_currency(settings), **kept_prices(settings)}


def worked_out_plan(
    forms: Forms,
    inputs: Mapping[str, Any],
    *,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> dict[str, Any]:
    """Return the plan for some inputs as its table; needs no store, so it may run anywhere.

    Raises
    ------
    Incompatible
        If the fluids must not meet, or the family of one is unknown.
    OutOfRange
        If nothing can be done with what was not ruled out.
    """
    plan = make_plan(
        forms.circuit(inputs["circuit"], "circuit"),
        goal_of_table(inputs["goal"]),
        seed=int(inputs["seed"]),
        progress=progress,
        stop=stop,
    )
    return plan_table(forms, plan, inputs["prices"])


def plan_table(forms: Forms, plan: Plan, prices: Mapping[str, Any]) -> dict[str, Any]:
    """Return a plan as its table, with costs by the prices of this garage."""
    settings = {f"costs.{key}": repr(float(prices[key])) for key in PRICES}
    own = prices_of({**settings, "costs.currency": str(prices["currency"])})

    def priced(made: Score, recipe: Recipe) -> Score:
        cost = cost_of(
            made.effort,
            recipe.steps,
            bought_m3=made.containers * plan.goal.container_m3,
            waste_m3=made.waste_m3,
            prices=own,
        )
        return replace(made, cost=cost)

    methods = tuple(
        one
        if one.score is None or one.recipe is None
        else replace(one, score=priced(one.score, one.recipe))
        for one in plan.methods
    )
    body = forms.plan_table(replace(plan, score=priced(plan.score, plan.recipe), methods=methods))
    return {**body, "currency": own.currency}


def keep_plan(
    desk: Desk, job_id: str, inputs: Mapping[str, Any], body: Mapping[str, Any]
) -> Answer:
    """Keep a plan with what it was worked out from, and note it in the job."""
    answer = Answer(
        id=desk.new_id(),
        job_id=job_id,
        of=Of.PLAN,
        made_at=desk.now(),
        code=desk.code,
        seed=int(body.get("seed", inputs["seed"])),
        inputs=inputs,
        fingerprint=fingerprint_of(inputs),
        body=body,
    )
    desk.store.keep_answer(answer)
    log(desk, job_id, Kind.ANSWERED, {"answer": answer.id, "of": Of.PLAN.value})
    return answer


def plan_answer(desk: Desk, job: Job) -> Answer | None:
    """Return the newest plan that was searched for; recipes that were judged beside it are none."""
    for event in reversed(job.of(Kind.ANSWERED)):
        if event.payload["of"] == Of.PLAN.value:
            answer = desk.store.answer(event.payload["answer"])
            if "recipe" not in answer.inputs:
                return answer
    return None


def chosen_answer(desk: Desk, job: Job) -> Answer | None:
    """Return what is known of the recipe that was chosen, as a plan; None where nothing is."""
    name = None if job.recipe is None else job.recipe.payload.get("from")
    return None if name is None else desk.store.answer(str(name))


def is_plan_current(desk: Desk, job: Job, answer: Answer) -> bool:
    """Tell whether nothing that decides a plan was changed since; prices decide nothing."""
    if job.goal is None:
        return False
    decides = ("circuit", "goal", "seed")
    now = plan_inputs(desk, job)
    return fingerprint_of({key: now[key] for key in decides}) == fingerprint_of(
        {key: answer.inputs[key] for key in decides}
    )


def take_plan(desk: Desk, job_id: str, *, uid: str) -> None:
    """Choose the plan's own recipe; the same ``uid`` again chooses nothing anew.

    Raises
    ------
    Conflict
        If there is no plan yet.
    """
    job = load_job(desk, job_id)
    answer = plan_answer(desk, job)
    if answer is None:
        raise Conflict("there is no plan yet; make one first")
    note_chosen(desk, job_id, answer, answer.body["recipe"], OWN, uid=uid)


def note_chosen(
    desk: Desk, job_id: str, answer: Answer, recipe: Mapping[str, Any], method: str, *, uid: str
) -> None:
    """Note which recipe was chosen, and that its plan is the job's from now on."""
    chosen = {"recipe": dict(recipe), "method": method, "from": answer.id}
    answered = {"answer": answer.id, "of": Of.PLAN.value}
    log_all(desk, job_id, drafts_of(desk, uid, [(Kind.RECIPE, chosen), (Kind.ANSWERED, answered)]))


def finish_plan(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the stage with the chosen recipe in one line.

    Raises
    ------
    Conflict
        If no recipe was chosen, or something that its plan rests on was changed since.
    """
    job = load_job(desk, job_id)
    if job.recipe is None or job.recipe_table is None:
        raise Conflict("no recipe was chosen yet; choose one, then finish")
    answer = chosen_answer(desk, job)
    count = len(job.recipe_table["step"])
    method = str(job.recipe.payload.get("method", WRITTEN))
    if answer is None:
        finish(desk, job, Stage.PLAN, f"{method}, {count} steps", uid=uid)
        return
    if answer.id != job.answers.get(Of.PLAN.value) or not is_plan_current(desk, job, answer):
        raise Conflict(
            "the recipe was chosen from a plan that no longer holds; plan again or choose again, "
            "then finish"
        )
    finish(desk, job, Stage.PLAN, f"{_needs(method, answer.body)}, {count} steps", uid=uid)


def _needs(method: str, body: Mapping[str, Any]) -> str:
    """Return what a recipe needs and reaches, in a few words."""
    held = int(body["held_pct"])
    reach = (
        f"at most {body['target_pct']:.3g} % in {held} of 100 simulated machines"
        if body["reached"]
        else f"{body['expected']['p95']:.0f} % or less where {body['target_pct']:.3g} % was wanted"
    )
    name = "" if method == OWN else f"{method}: "
    count = body["containers"]
    return f"{name}{count} {'container' if count == 1 else 'containers'}, {reach}"
