"""Choose a recipe that no search found: a usual method's, or one that a person wrote or changed.

It is judged first, with all that goes with a plan, so that whoever prepares and proves has the same
to go by. Judging takes a second and touches no store: it may run elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ullage.errors import Conflict, FileFaults, NotFound
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.job import Job
from ullage.jobs.ports import Desk, Forms
from ullage.jobs.propose_plan import (
    WRITTEN,
    goal_of_table,
    note_chosen,
    plan_answer,
    plan_inputs,
    plan_table,
)
from ullage.planning.given_recipe import plan_of_recipe
from ullage.transport.refusals import refusals

Progress = Callable[[str, int, int], None]


def recipe_of_method(desk: Desk, job: Job, method: str) -> dict[str, Any]:
    """Return the recipe of a method that stands beside the plan.

    Raises
    ------
    Conflict
        If there is no plan yet.
    NotFound
        If the plan has no such method, or this circuit cannot do it.
    """
    answer = plan_answer(desk, job)
    if answer is None:
        raise Conflict("there is no plan yet; make one first, or write a recipe of your own")
    recipes = {one["name"]: one["recipe"] for one in answer.body["methods"] if one["recipe"]}
    if method not in recipes:
        raise NotFound("method", method, recipes)
    return dict(recipes[method])


def recipe_inputs(
    desk: Desk, job: Job, recipe: Mapping[str, Any], method: str = WRITTEN
) -> dict[str, Any]:
    """Return what a recipe is judged by: what a plan would be, and the recipe.

    Raises
    ------
    FileFaults
        If it is no recipe, or the circuit cannot carry it out; with every fault.
    Conflict
        If nobody said yet what is wanted.
    """
    value = desk.forms.recipe(recipe, "recipe")
    faults = refusals(found_circuit(desk, job).circuit, value)
    if faults:
        raise FileFaults("recipe", faults)
    table = desk.forms.recipe_table(value)
    return {**plan_inputs(desk, job), "recipe": table, "method": method}


def worked_out_recipe(
    forms: Forms,
    inputs: Mapping[str, Any],
    *,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
) -> dict[str, Any]:
    """Return a recipe as a plan's table; needs no store, so it may run anywhere.

    ``stop`` is not asked: it is over in a second.

    Raises
    ------
    Incompatible
        If the fluids must not meet, or the family of one is unknown.
    """
    plan = plan_of_recipe(
        forms.circuit(inputs["circuit"], "circuit"),
        goal_of_table(inputs["goal"]),
        forms.recipe(inputs["recipe"], "recipe"),
        seed=int(inputs["seed"]),
        progress=progress,
    )
    return plan_table(forms, plan, inputs["prices"])


def keep_recipe(
    desk: Desk, job_id: str, inputs: Mapping[str, Any], body: Mapping[str, Any], *, uid: str
) -> Answer:
    """Keep what was found of a recipe, and choose it; the same ``uid`` again does nothing."""
    answer_id = f"{uid}-answer"
    try:
        return desk.store.answer(answer_id)
    except NotFound:
        pass
    answer = Answer(
        id=answer_id,
        job_id=job_id,
        of=Of.PLAN,
        made_at=desk.now(),
        code=desk.code,
        seed=int(body["seed"]),
        inputs=inputs,
        fingerprint=fingerprint_of(inputs),
        body=body,
    )
    desk.store.keep_answer(answer)
    note_chosen(desk, job_id, answer, inputs["recipe"], str(inputs["method"]), uid=uid)
    return answer
