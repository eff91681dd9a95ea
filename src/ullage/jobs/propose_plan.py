"""The second stage: from what is wanted to the recipe that will be carried out.

The search is ``planning.plan``'s. Here it gets the circuit as the job found it, and its answer is
kept with all that went in; a person then chooses the plan's recipe, one of the usual methods, or a
recipe of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ullage.errors import Conflict, FileFaults, NotFound
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import finish
from ullage.jobs.event import Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk, Forms
from ullage.jobs.stage import Stage
from ullage.planning.goal import Goal
from ullage.planning.plan import make_plan
from ullage.transport.refusals import refusals

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
    return {"circuit": dict(found_circuit(desk, job).table), "goal": goal, "seed": _SEED}


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
    return forms.plan_table(plan)


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
    """Return the newest plan of a job."""
    name = job.answers.get(Of.PLAN.value)
    return None if name is None else desk.store.answer(name)


def is_plan_current(desk: Desk, job: Job, answer: Answer) -> bool:
    """Tell whether nothing that the plan rests on was changed since."""
    return job.goal is not None and answer.fingerprint == fingerprint_of(plan_inputs(desk, job))


def recipes_of(answer: Answer) -> dict[str, Mapping[str, Any]]:
    """Return the recipes that can be chosen, by the name of their method; the plan's own first."""
    found = {OWN: answer.body["recipe"]}
    found.update(
        {
            method["name"]: method["recipe"]
            for method in answer.body["methods"]
            if method.get("recipe")
        }
    )
    return found


def choose_recipe(desk: Desk, job_id: str, method: str, *, uid: str) -> None:
    """Choose the plan's recipe, or that of a method beside it.

    Raises
    ------
    Conflict
        If there is no plan yet.
    NotFound
        If the plan has no such method.
    """
    job = load_job(desk, job_id)
    answer = plan_answer(desk, job)
    if answer is None:
        raise Conflict("there is no plan yet; make one first, or write a recipe of your own")
    recipes = recipes_of(answer)
    if method not in recipes:
        raise NotFound("method", method, recipes)
    payload = {"recipe": dict(recipes[method]), "method": method, "from": answer.id}
    log(desk, job_id, Kind.RECIPE, payload, uid=uid)


def choose_own_recipe(desk: Desk, job_id: str, table: Mapping[str, Any], *, uid: str) -> None:
    """Choose a recipe that a person wrote.

    Raises
    ------
    FileFaults
        If it is no recipe, or the circuit cannot carry it out; with every fault.
    """
    job = load_job(desk, job_id)
    recipe = desk.forms.recipe(table, "recipe")
    faults = refusals(found_circuit(desk, job).circuit, recipe)
    if faults:
        raise FileFaults("recipe", faults)
    payload = {"recipe": desk.forms.recipe_table(recipe), "method": WRITTEN}
    log(desk, job_id, Kind.RECIPE, payload, uid=uid)


def finish_plan(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the stage with the chosen recipe in one line.

    Raises
    ------
    Conflict
        If no recipe was chosen.
    """
    job = load_job(desk, job_id)
    if job.recipe is None or job.recipe_table is None:
        raise Conflict("no recipe was chosen yet; choose one, then finish")
    method = str(job.recipe.payload.get("method", WRITTEN))
    count = len(job.recipe_table["step"])
    answer = plan_answer(desk, job)
    text = f"{method}, {count} steps"
    if answer is not None and job.recipe.payload.get("from") == answer.id:
        text = f"{_bought(answer, method)}, {count} steps"
    finish(desk, job, Stage.PLAN, text, uid=uid)


def _bought(answer: Answer, method: str) -> str:
    """Return what a method needs and reaches, in a few words."""
    body = answer.body
    if method == OWN:
        reach = (
            f"{body['target_pct']:.3g} % reached" if body["reached"] else "nearest to the target"
        )
        return f"{body['containers']} containers, {reach} in {body['held_pct']:.0f} of 100"
    found = next(one for one in body["methods"] if one["name"] == method)
    return f"{method}: {found['containers']} containers, {found['p95_pct']:.0f} % or less"
