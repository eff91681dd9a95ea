"""Work that takes seconds: asked for, looked at, called off. Its answer is kept with the job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from ullage.errors import Conflict, OutOfRange
from ullage.jobs.answer import Answer, fingerprint_of
from ullage.jobs.assess import judge
from ullage.jobs.choose_recipe import keep_recipe, recipe_inputs, recipe_of_method
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.propose_plan import (
    OWN,
    WRITTEN,
    chosen_answer,
    is_plan_current,
    keep_plan,
    plan_answer,
    plan_inputs,
    take_plan,
)
from ullage.jobs.prove_job import keep_verdict, proof
from ullage.web.api.answers import AnswerHead, answer_head
from ullage.web.api.given import IdInPath, Sent, Table, Uid
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here, LongWork
from ullage.web.work import Piece, State, Then, Work

router = APIRouter(tags=["work"])

WorkId = Annotated[str, Path(pattern=r"^[0-9A-Za-z_-]{1,160}$")]


class WorkTold(BaseModel):
    """A piece of work: ``done`` of ``of`` parts of ``what``; ``of`` 0: nobody knows how many."""

    id: str
    title: str
    state: State
    what: str
    done: int
    of: int
    why: str = Field(description="Why it failed.")


class Asked(Sent):
    """A question: is it due, how to do it, what the readings tell."""

    of: Literal["due", "plan", "verdict"]


class RecipeAsked(Sent):
    """A recipe to choose: the plan's own, that of a method beside it, or one that is sent."""

    uid: Uid
    method: str | None = Field(
        default=None, max_length=80, description="'plan', or the name of a method of the plan."
    )
    recipe: Table | None = Field(default=None, description="The table of a recipe file.")


class Begun(BaseModel):
    """Either the answer, where it is there, or the work that makes it."""

    answer: AnswerHead | None = None
    work: WorkTold | None = None


def _told(piece: Piece) -> WorkTold:
    return WorkTold(
        id=piece.id,
        title=piece.title,
        state=piece.state,
        what=piece.what,
        done=piece.done,
        of=piece.of,
        why=piece.why,
    )


def _then(keep: Callable[[Mapping[str, Any]], Answer]) -> Then:
    """Return what is done with a result: it is kept, and nobody waits for what that returns."""

    def then(body: Mapping[str, Any]) -> None:
        keep(body)

    return then


def _there(answer: Answer | None) -> Begun:
    return Begun(answer=None if answer is None else answer_head(answer))


@router.post("/jobs/{job_id}/work", responses={**TAKING_IN, **refusals(404, 409)})
def begin(desk: Here, work: LongWork, job_id: IdInPath, sent: Asked) -> Begun:
    """Have a question worked out; the same question while it lasts is the same piece of work."""
    if sent.of == "due":
        return _there(judge(desk, job_id))
    return _plan(desk, work, job_id) if sent.of == "plan" else _verdict(desk, work, job_id)


def _plan(desk: Desk, work: Work, job_id: str) -> Begun:
    """Return the plan that holds, or have one made."""
    job = load_job(desk, job_id)
    kept = plan_answer(desk, job)
    if kept is not None and is_plan_current(desk, job, kept):
        return _there(kept)
    inputs = plan_inputs(desk, job)
    piece = work.begin(
        f"plan-{job_id}-{fingerprint_of(inputs)[:16]}",
        "plan",
        inputs,
        title=f"Planning: {job.head.title}",
        url=f"/jobs/{job_id}#plan",
        then=_then(partial(keep_plan, desk, job_id, inputs)),
    )
    return Begun(work=_told(piece))


def _verdict(desk: Desk, work: Work, job_id: str) -> Begun:
    """Return the verdict that holds, or have one worked out."""
    job = load_job(desk, job_id)
    now = proof(desk, job)
    if now.is_current:
        return _there(now.answer)
    inputs = now.inputs
    if inputs is None:
        raise Conflict(now.why_not)
    piece = work.begin(
        f"verdict-{job_id}-{fingerprint_of(inputs)[:16]}",
        "verdict",
        inputs,
        title=f"{job.head.title}: what the readings tell",
        url=f"/jobs/{job_id}#prove",
        then=_then(partial(keep_verdict, desk, job_id, inputs)),
    )
    return Begun(work=_told(piece))


@router.post("/jobs/{job_id}/recipe", responses={**TAKING_IN, **refusals(404, 409)})
def choose(desk: Here, work: LongWork, job_id: IdInPath, sent: RecipeAsked) -> Begun:
    """Choose a recipe: the plan's own at once, any other as soon as it is judged."""
    if (sent.method is None) == (sent.recipe is None):
        raise OutOfRange("recipe", "both or none", "either method or recipe")
    job = load_job(desk, job_id)
    if sent.method == OWN:
        take_plan(desk, job_id, uid=sent.uid)
        return _there(chosen_answer(desk, load_job(desk, job_id)))
    recipe = recipe_of_method(desk, job, sent.method) if sent.method else sent.recipe or {}
    inputs = recipe_inputs(desk, job, recipe, sent.method or WRITTEN)
    piece = work.begin(
        sent.uid,
        "recipe",
        inputs,
        title=f"Judging a recipe: {job.head.title}",
        url=f"/jobs/{job_id}#plan",
        then=_then(partial(keep_recipe, desk, job_id, inputs, uid=sent.uid)),
    )
    return Begun(work=_told(piece))


@router.get("/waiting/{work_id}", responses=refusals(404))
def how_far(work: LongWork, work_id: WorkId) -> WorkTold:
    """Return how far a piece of work is."""
    return _told(work.piece(work_id))


@router.post("/waiting/{work_id}/call-off", responses={**TAKING_IN, **refusals(404)})
def call_off(work: LongWork, work_id: WorkId) -> WorkTold:
    """Give a piece of work up; one that has ended stays as it is."""
    return _told(work.cancel(work_id))
