"""Planning on the page of a job: what is wanted, the plan, the methods beside it, the choice.

Plans and recipes are worked out by the worker; this page shows what is kept. How a plan is told
stands in ``plan_shown``, its pictures in ``plan_pictures``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import RedirectResponse

from ullage.errors import FileFaults, NotFound, OutOfRange
from ullage.jobs.answer import Answer, fingerprint_of
from ullage.jobs.choose_recipe import keep_recipe, recipe_inputs, recipe_of_method
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.propose_plan import (
    OWN,
    WRITTEN,
    chosen_answer,
    finish_plan,
    is_plan_current,
    keep_plan,
    plan_answer,
    plan_inputs,
    set_goal,
    take_plan,
)
from ullage.jobs.renew_circuit import newer_text, newer_version, take_newest
from ullage.jobs.stage import Stage, StageState
from ullage.planning.goal import RULED_OUT
from ullage.web import plan_pictures
from ullage.web.addresses import work_url
from ullage.web.desk import Filled, Here, InUnits, LongWork, render
from ullage.web.forms import Field, Typed, as_sentence, filled, read
from ullage.web.plan_pictures import plan_of
from ullage.web.plan_shown import PlanShown, RecipeShown, Scrub, plan_shown, recipe_shown
from ullage.web.sections.answering import answered
from ullage.web.sections.recipe_change import change_fields, change_values, changed_recipe
from ullage.web.shown import Units, amount, figure, units_of

router = APIRouter()
router.include_router(plan_pictures.router)

_GOAL = (
    Field(
        "target_pct",
        "Old fluid that may stay",
        "number",
        unit="pct",
        required=True,
        low=0.5,
        high=95.0,
        hint="2 after a change to an environmentally acceptable fluid (ISO 15380).",
    ),
    Field(
        "sure_pct",
        "In how many of 100 machines",
        "number",
        low=50.0,
        high=99.9,
        hint="95 is usual.",
    ),
    Field("container_l", "A container holds", "number", unit="l", low=0.01, high=1000.0),
    Field("reserve_l", "Keep for topping up", "number", unit="l", low=0.0, high=1000.0),
    Field("people", "People at work", "whole", low=1.0, high=6.0),
    Field("most", "Containers at most", "whole", low=1.0, high=10_000.0, hint="Empty: no limit."),
)
_WITHOUT_WORDS = {
    "exchange": "no return through a diverter",
    "exercise": "no moving of actuators",
    "bleed": "no bleeding",
    "circulate": "no circulating",
    "swap-filter": "no change of the filter",
    "release": "no letting the pressure go",
    "retract": "no lowering",
}
_USUAL = {
    "target_pct": 10.0,
    "sure_pct": 95.0,
    "container_l": 1.0,
    "reserve_l": 1.0,
    "people": 2,
}
_RECIPE = Field(
    "recipe",
    "A recipe file",
    "lines",
    required=True,
    longest=60_000,
    hint="TOML or JSON.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSection:
    """The stage: the goal, the newest plan, the recipe that it or a person proposes."""

    job_id: str
    goal_fields: tuple[Field, ...]
    goal_form: Typed
    goal_fault: Typed | None
    without: tuple[tuple[str, str, bool], ...]
    is_goal_open: bool
    goal_line: str
    newer: str
    newest_form: Typed | None
    stale: str
    plan: PlanShown | None
    recipe: RecipeShown | None
    chosen: str
    change_fields: tuple[Field, ...]
    change_form: Typed
    change_fault: Typed | None
    recipe_fields: tuple[Field, ...]
    recipe_form: Typed | None
    choose_form: Typed | None
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> PlanSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    which = "" if typed is None else str(typed.values.get("form", ""))

    def mine(form: str) -> Typed | None:
        return typed if which == form else None

    found, chosen = plan_answer(desk, job), chosen_answer(desk, job)
    goal: dict[str, Any] = dict(_USUAL) if job.goal is None else dict(job.goal.payload)
    of_goal = mine("goal")
    ruled_out = set(goal.get("without", ())) if of_goal is None else set(of_goal.values["without"])
    method = "" if job.recipe is None else str(job.recipe.payload.get("method", WRITTEN))
    newer = newer_version(desk, job)
    told = chosen or found
    fields = () if told is None else change_fields(told.body["recipe"])
    return PlanSection(
        job_id=job.head.id,
        goal_fields=_GOAL,
        goal_form=of_goal or filled(_GOAL, goal, units),
        goal_fault=of_goal,
        without=tuple((word, _WITHOUT_WORDS[word], word in ruled_out) for word in RULED_OUT),
        is_goal_open=job.goal is None or of_goal is not None,
        goal_line="" if job.goal is None else _goal_line(goal, units),
        newer="" if newer is None else newer_text(newer.number),
        newest_form=mine("newest"),
        stale=_stale(desk, job, found, chosen),
        plan=None if found is None else plan_shown(found, units, method),
        recipe=None
        if told is None
        else recipe_shown(told, method if chosen is not None else OWN, units),
        chosen=_chosen_line(job, method),
        change_fields=fields,
        change_form=mine("change")
        or (filled(fields, {} if told is None else change_values(told.body["recipe"]), units)),
        change_fault=mine("change"),
        recipe_fields=(_RECIPE,),
        recipe_form=mine("recipe"),
        choose_form=mine("choose"),
        is_finished=job.state_of(Stage.PLAN) is StageState.FINISHED,
        finish_form=mine("finish"),
    )


def _stale(desk: Desk, job: Job, found: Answer | None, chosen: Answer | None) -> str:
    """Say that what is shown no longer holds."""
    if found is not None and not is_plan_current(desk, job, found):
        return "Something that this plan rests on was changed: plan again."
    if chosen is not None and job.answers.get(chosen.of.value) != chosen.id:
        return "The recipe was chosen from an earlier plan: choose again."
    return ""


def _chosen_line(job: Job, method: str) -> str:
    """Say which recipe will be carried out."""
    if job.recipe_table is None:
        return ""
    count = len(job.recipe_table["step"])
    name = "the plan's own recipe" if method == OWN else method
    return f"Chosen: {name}, {count} steps."


def _goal_line(goal: Mapping[str, Any], units: Units) -> str:
    """Return what is wanted in one line."""
    sure = float(goal.get("sure_pct", 95.0))
    people = int(goal.get("people", 2))
    without = [_WITHOUT_WORDS[word] for word in goal.get("without", ())]
    tail = f"; {', '.join(without)}" if without else ""
    return (
        f"At most {figure(goal['target_pct'])} % old fluid in {sure:g} of 100 machines; containers "
        f"of {amount(goal.get('container_l', 1.0), 'l', units)}, "
        f"{amount(goal.get('reserve_l', 1.0), 'l', units)} kept for topping up; "
        f"{people} {'person' if people == 1 else 'people'}{tail}."
    )


# --- the circuit, moment by moment, without a script ----------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCircuitPage:
    """The circuit at one moment of a plan, and the ways to the others."""

    title: str
    words: str
    wide_url: str
    upright_url: str
    told: str
    earlier_url: str
    later_url: str
    all: tuple[tuple[str, str, bool], ...]
    back_url: str


@router.get("/jobs/{job_id}/plan/circuit")
def show_circuit(
    request: Request, desk: Here, units: InUnits, job_id: str, of: str, moment: int = Query(ge=0)
) -> Response:
    """Show the circuit at a moment of a plan."""
    answer = plan_of(desk, job_id, of)
    job = load_job(desk, job_id)
    scrub: Scrub = recipe_shown(answer, OWN, units).scrub
    if moment > scrub.last:
        raise NotFound("moment", str(moment))
    words = scrub.words[moment]
    page = PlanCircuitPage(
        title=f"{job.head.title}, moment by moment",
        words=words,
        wide_url=f"{scrub.wide_url}{moment}",
        upright_url=f"{scrub.upright_url}{moment}",
        told=f"The circuit, {words[:1].lower()}{words[1:]}: every part in the colour of the old "
        "fluid in it, with its share and litres.",
        earlier_url=f"{scrub.page_url}{moment - 1}" if moment else "",
        later_url=f"{scrub.page_url}{moment + 1}" if moment < scrub.last else "",
        all=tuple(
            (f"{scrub.page_url}{number}", word, number == moment)
            for number, word in enumerate(scrub.words)
        ),
        back_url=f"/jobs/{job_id}#plan",
    )
    return render(request, "plan_circuit.html", page)


# --- forms ----------------------------------------------------------------------------------------


@router.post("/jobs/{job_id}/plan/goal")
def goal(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Write down what is wanted, and have a plan made for it."""
    typed = read(_GOAL, form, units)
    without = [word for word in RULED_OUT if form.get(f"without-{word}")]
    payload = {**typed.values, "without": without}
    typed = replace(typed, values={**typed.values, "without": without, "form": "goal"})

    def act(typed: Typed) -> None:
        set_goal(desk, job_id, payload, uid=typed.uid)

    answer = answered(request, desk, job_id, Stage.PLAN, typed, act)
    return _planning(desk, work, job_id) if answer.status_code == 303 else answer


@router.post("/jobs/{job_id}/plan/ask")
def ask(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Have a plan made for the goal that stands."""
    typed = replace(read((), form, units), values={"form": "finish"})

    def act(_: Typed) -> None:
        plan_inputs(desk, load_job(desk, job_id))

    answer = answered(request, desk, job_id, Stage.PLAN, typed, act)
    return _planning(desk, work, job_id) if answer.status_code == 303 else answer


def _planning(desk: Desk, work: LongWork, job_id: str) -> Response:
    """Have a plan made and go to the page that shows how far it is.

    The same question while it is worked out is the same piece; a plan that holds is not made anew.
    """
    job = load_job(desk, job_id)
    there = plan_answer(desk, job)
    if there is not None and is_plan_current(desk, job, there):
        return RedirectResponse(f"/jobs/{job_id}#plan", status_code=303)
    inputs = plan_inputs(desk, job)
    piece = work.begin(
        f"plan-{job_id}-{fingerprint_of(inputs)[:16]}",
        "plan",
        inputs,
        title=f"Planning: {job.head.title}",
        url=f"/jobs/{job_id}#plan",
        then=partial(_keep_plan, desk, job_id, inputs),
    )
    return RedirectResponse(work_url(piece), status_code=303)


def _keep_plan(desk: Desk, job_id: str, inputs: Mapping[str, Any], body: Mapping[str, Any]) -> None:
    """Keep a plan that the worker has made."""
    keep_plan(desk, job_id, inputs, body)


@router.post("/jobs/{job_id}/plan/newest")
def newest(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Go on with the newest version of the circuit."""
    typed = replace(read((), form, units), values={"form": "newest"})

    def act(typed: Typed) -> None:
        take_newest(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.PLAN, typed, act)


@router.post("/jobs/{job_id}/plan/choose")
def choose(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Choose the plan's recipe at once, or that of another method once it is judged."""
    typed = replace(read((), form, units), values={"form": "choose"})
    method = str(form.get("method") or "")
    asked: dict[str, Any] = {}

    def act(typed: Typed) -> None:
        if method == OWN:
            take_plan(desk, job_id, uid=typed.uid)
            return
        job = load_job(desk, job_id)
        asked.update(recipe_inputs(desk, job, recipe_of_method(desk, job, method), method))

    answer = answered(request, desk, job_id, Stage.PLAN, typed, act)
    return _judging(desk, work, job_id, asked, typed.uid) if asked else answer


@router.post("/jobs/{job_id}/plan/change")
def change(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Judge and choose the recipe that is shown, with figures changed or steps left out."""
    job = load_job(desk, job_id)
    told = chosen_answer(desk, job) or plan_answer(desk, job)
    if told is None:
        raise NotFound("recipe", "to change")
    recipe = told.body["recipe"]
    typed = read(change_fields(recipe), form, units)
    typed = replace(typed, values={**typed.values, "form": "change"})
    asked: dict[str, Any] = {}

    def act(typed: Typed) -> None:
        asked.update(recipe_inputs(desk, job, changed_recipe(recipe, typed)))

    answer = answered(request, desk, job_id, Stage.PLAN, typed, act)
    return _judging(desk, work, job_id, asked, typed.uid) if asked else answer


@router.post("/jobs/{job_id}/plan/own")
def own(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Judge and choose a recipe that a person wrote."""
    from ullage.formats.document import raw_table

    typed = read((_RECIPE,), form, units)
    typed = replace(typed, values={**typed.values, "form": "recipe"})
    asked: dict[str, Any] = {}

    def act(typed: Typed) -> None:
        try:
            table = raw_table(typed.values["recipe"], "recipe")
            asked.update(recipe_inputs(desk, load_job(desk, job_id), table))
        except FileFaults as error:
            words = " ".join(as_sentence(fault.sentence()) for fault in error.faults)
            raise OutOfRange(
                "recipe", "", "a recipe that this circuit can carry out", words
            ) from None

    answer = answered(request, desk, job_id, Stage.PLAN, typed, act)
    return _judging(desk, work, job_id, asked, typed.uid) if asked else answer


def _judging(
    desk: Desk, work: LongWork, job_id: str, inputs: Mapping[str, Any], uid: str
) -> Response:
    """Have a recipe judged, and go to the page that shows how far that is."""
    piece = work.begin(
        uid,
        "recipe",
        inputs,
        title=f"Judging a recipe: {load_job(desk, job_id).head.title}",
        url=f"/jobs/{job_id}#plan",
        then=partial(_keep_recipe, desk, job_id, inputs, uid),
    )
    return RedirectResponse(work_url(piece), status_code=303)


def _keep_recipe(
    desk: Desk, job_id: str, inputs: Mapping[str, Any], uid: str, body: Mapping[str, Any]
) -> None:
    """Keep a recipe that the worker has judged."""
    keep_recipe(desk, job_id, inputs, body, uid=uid)


@router.post("/jobs/{job_id}/plan/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Finish the stage."""
    typed = replace(read((), form, units), values={"form": "finish"})

    def act(typed: Typed) -> None:
        finish_plan(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.PLAN, typed, act)
