"""Planning on the page of a job: what is wanted, the plan, the methods beside it, the choice.

The plan is worked out by the worker; this page shows the answer that is kept. Pictures have
addresses of their own: the circuit after each step, and the methods against each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from ullage.errors import FileFaults, NotFound, OutOfRange
from ullage.jobs.answer import Answer, Of
from ullage.jobs.choose_recipe import keep_recipe, recipe_inputs, recipe_of_method
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.propose_plan import (
    OWN,
    finish_plan,
    is_plan_current,
    keep_plan,
    plan_answer,
    plan_inputs,
    set_goal,
    take_plan,
)
from ullage.jobs.stage import Stage, StageState
from ullage.planning.goal import RULED_OUT
from ullage.web.desk import Filled, Here, InUnits
from ullage.web.forms import Field, Typed, as_sentence, filled, read
from ullage.web.plan_pictures import (
    circuit_after,
    left_after_steps,
    methods_chart,
    shown_side_by_side,
)
from ullage.web.screens.work import LongWork
from ullage.web.sections.answering import answered
from ullage.web.shown import (
    EN_DASH,
    Units,
    amount,
    band,
    figure,
    moment,
    money,
    pct,
    span,
    units_of,
)

router = APIRouter()

_MINUTE_S = 60.0
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
    Field("most", "Containers at most", "whole", low=1.0, high=10_000.0),
)
_WITHOUT_WORDS = {
    "exchange": "no return through a diverter",
    "exercise": "no moving of actuators",
    "bleed": "no bleeding",
    "circulate": "no closed circulation",
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
    "A recipe of your own, as a recipe file",
    "lines",
    required=True,
    longest=60_000,
    hint="TOML or JSON, as ullage template prints one.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodShown:
    """A method in the table: what it needs and leaves, and the form that chooses it."""

    name: str
    label: str
    containers: str
    left: str
    took: str
    cost: str
    note: str
    can_choose: bool
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StepShown:
    """A step of the plan's recipe: its sentence, what is right, and what is left after it."""

    number: int
    sentence: str
    accept: str
    left: str
    wide_url: str
    upright_url: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A matter that was judged: its verdict and the sentences that matter."""

    heading: str
    verdict: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanShown:
    """A plan ready to be shown."""

    lead: str
    sure: str
    shopping: tuple[str, ...]
    methods: tuple[MethodShown, ...]
    chart_wide_url: str
    chart_upright_url: str
    steps: tuple[StepShown, ...]
    pace: tuple[str, ...]
    judged: tuple[Judged, ...]
    floor: str
    floor_parts: tuple[str, ...]
    moved_by: tuple[str, ...]
    measures: tuple[str, ...]
    advice: tuple[str, ...]
    made: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSection:
    """The stage: the goal, the newest plan, and the choice."""

    job_id: str
    goal_fields: tuple[Field, ...]
    goal_form: Typed
    goal_fault: Typed | None
    without: tuple[tuple[str, str, bool], ...]
    is_goal_open: bool
    goal_line: str
    stale: str
    plan: PlanShown | None
    chosen: str
    ask_form: Typed | None
    recipe_fields: tuple[Field, ...]
    recipe_form: Typed | None
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> PlanSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    which = "" if typed is None else str(typed.values.get("form", ""))
    answer = plan_answer(desk, job)
    goal: dict[str, Any] = dict(_USUAL) if job.goal is None else dict(job.goal.payload)
    of_goal = typed if which == "goal" else None
    ruled_out = set(goal.get("without", ())) if of_goal is None else set(of_goal.values["without"])
    chosen = "" if job.recipe is None else str(job.recipe.payload.get("method", "own recipe"))
    is_from = (
        job.recipe is not None
        and answer is not None
        and job.recipe.payload.get("from") == answer.id
    )
    return PlanSection(
        job_id=job.head.id,
        goal_fields=_GOAL,
        goal_form=of_goal or filled(_GOAL, goal, units),
        goal_fault=of_goal,
        without=tuple(
            (word, _WITHOUT_WORDS.get(word, f"no {word}"), word in ruled_out) for word in RULED_OUT
        ),
        is_goal_open=job.goal is None or of_goal is not None,
        goal_line="" if job.goal is None else _goal_line(goal, units),
        stale=""
        if answer is None or is_plan_current(desk, job, answer)
        else "Something that this plan rests on was changed: plan again.",
        plan=None if answer is None else plan_shown(answer, units, chosen if is_from else ""),
        chosen=_chosen_line(job, chosen),
        ask_form=typed if which == "ask" else None,
        recipe_fields=(_RECIPE,),
        recipe_form=typed if which == "recipe" else None,
        is_finished=job.state_of(Stage.PLAN) is StageState.FINISHED,
        finish_form=typed if which == "finish" else None,
    )


def _chosen_line(job: Job, chosen: str) -> str:
    """Say which recipe will be carried out."""
    if job.recipe is None or job.recipe_table is None:
        return ""
    count = len(job.recipe_table["step"])
    name = "the plan's own recipe" if chosen == OWN else chosen
    return f"Chosen: {name}, {count} steps."


def _goal_line(goal: Mapping[str, Any], units: Units) -> str:
    """Return what is wanted in one line."""
    sure = float(goal.get("sure_pct", 95.0))
    people = int(goal.get("people", 2))
    return (
        f"At most {figure(goal['target_pct'])} % old fluid in {sure:g} of 100 machines; containers "
        f"of {amount(goal.get('container_l', 1.0), 'l', units)}, "
        f"{amount(goal.get('reserve_l', 1.0), 'l', units)} kept for topping up; "
        f"{people} {'person' if people == 1 else 'people'}."
    )


def plan_shown(answer: Answer, units: Units, chosen: str) -> PlanShown:
    """Return a plan ready to be shown; ``chosen`` is the method that was chosen from it."""
    body = answer.body
    size = amount(body["container_l"], "l", units)
    buy = [item for item in body["shopping"] if item["kind"] == "buy"]
    return PlanShown(
        lead=_lead(body, size, units),
        sure=_sure(body),
        shopping=tuple(
            f"{item['count']} \N{MULTIPLICATION SIGN} {item['what']}"
            + (f" ({item['why']})" if item["why"] else "")
            for item in buy
        ),
        methods=_methods(body, units, chosen),
        chart_wide_url=f"/jobs/{answer.job_id}/plan/{answer.id}/methods/wide.svg",
        chart_upright_url=f"/jobs/{answer.job_id}/plan/{answer.id}/methods/upright.svg",
        steps=_steps(answer),
        pace=() if body["pace"] is None else tuple(map(_text, body["pace"]["advice"][:5])),
        judged=_judged(body, units),
        floor=_floor(body),
        floor_parts=tuple(
            f"{part}: {share:.1f} points" for part, share in body["floor"].get("held", {}).items()
        ),
        moved_by=tuple(body["floor"]["moved_by"][:4]),
        measures=tuple(
            f"{one['name'][:1].upper()}{one['name'][1:]} ({one['explains_pct']:.0f} % of the "
            f"doubt): {one['how']}. {span(one['minutes'] * _MINUTE_S)}."
            for one in body["measure_first"]
        ),
        advice=tuple(map(_text, body["advice"])),
        made=f"Worked out {moment(answer.made_at)} by version {answer.code}, seed {answer.seed}, "
        f"inputs {answer.fingerprint[:12]}.",
    )


def _text(line: Any) -> str:
    """Return a line of advice, which may be a sentence or a caveat."""
    return str(line["text"] if isinstance(line, Mapping) else line)


def _lead(body: Mapping[str, Any], size: str, units: Units) -> str:
    """Say whether the target can be had, and for what."""
    count = body["containers"]
    containers = f"{count} {'container' if count == 1 else 'containers'} of {size}"
    cost = money(float(body["cost"]), units)
    took = span(float(body["minutes"]) * _MINUTE_S)
    if body["reached"]:
        return (
            f"Buy {containers}: at most {body['target_pct']:.3g} % old fluid will be left in "
            f"{body['held_pct']:.0f} of 100 simulated machines. About {took} of work, about {cost}."
        )
    return (
        f"{body['target_pct']:.3g} % cannot be reached in {body['sure_pct']:g} of 100 machines "
        f"with what is allowed here. With {containers} it comes down to "
        f"{_band(body['expected'])}. About {took} of work, about {cost}."
    )


def _band(found: Mapping[str, float]) -> str:
    return band(found["p50"], found["p05"], found["p95"])


def _sure(body: Mapping[str, Any]) -> str:
    """Say how that was found out."""
    count = len(body["tries"])
    tries = "one try" if count == 1 else f"{count} tries"
    return (
        f"Expected: {_band(body['expected'])} left. Judged on {body['members']} simulated machines "
        f"that the search never saw, {tries}."
    )


def _methods(body: Mapping[str, Any], units: Units, chosen: str) -> tuple[MethodShown, ...]:
    """Return the plan and the usual methods side by side."""
    own = {
        "name": OWN,
        "containers": body["containers"],
        "p95_pct": body["expected"]["p95"],
        "minutes": body["minutes"],
        "cost": body["cost"],
        "reached": body["reached"],
        "recipe": body["recipe"],
    }
    rows = []
    for one in (own, *body["methods"]):
        has_figures = one["containers"] is not None
        note = "" if one["reached"] else _text(one.get("why_not", "")) or "does not reach it"
        rows.append(
            MethodShown(
                name=one["name"],
                label="This plan" if one["name"] == OWN else one["name"],
                containers=str(one["containers"]) if has_figures else EN_DASH,
                left=f"{pct(one['p95_pct'])} or less" if has_figures else EN_DASH,
                took=span(one["minutes"] * _MINUTE_S) if has_figures else EN_DASH,
                cost=money(one["cost"], units) if has_figures else EN_DASH,
                note=note,
                can_choose=bool(one["recipe"]) and has_figures,
                is_chosen=one["name"] == chosen,
            )
        )
    return tuple(rows)


def _steps(answer: Answer) -> tuple[StepShown, ...]:
    """Return the steps of the plan's recipe, each with the picture of the circuit after it."""
    address = f"/jobs/{answer.job_id}/plan/{answer.id}"
    lines = [line for line in answer.body["sheet"] if line["stage"] == "exchange"]
    left = left_after_steps(answer.inputs["circuit"], answer.body["recipe"])
    return tuple(
        StepShown(
            number=line["step"],
            sentence=line["sentence"],
            accept=line["accept"],
            left=f"{pct(after)} left",
            wide_url=f"{address}/{line['step']}/wide.svg",
            upright_url=f"{address}/{line['step']}/upright.svg",
            told=f"The circuit after step {line['step']}, every part with its share of old fluid.",
        )
        for line, after in zip(lines, left, strict=True)
    )


def _judged(body: Mapping[str, Any], units: Units) -> tuple[Judged, ...]:
    """Return fluid, filter, warm-up and level as they were judged."""
    found = [
        Judged(
            heading=heading,
            verdict=str(body[key]["verdict"]),
            lines=tuple(f["text"] for f in body[key]["findings"] if f["weight"] != "fine"),
        )
        for heading, key in (("New fluid", "fluid"), ("Filter", "filter"))
    ]
    heat = body.get("heat") or {}
    if heat.get("minutes") is not None or heat.get("buys"):
        minutes = heat.get("minutes")
        word = (
            f"about {span(minutes * _MINUTE_S)} at idle"
            if minutes is not None
            else "never gets there at idle"
        )
        degc = amount(body["recipe"]["temperature_degc"], "degc", units)
        found.append(
            Judged(
                heading=f"Warm-up to {degc}",
                verdict=word,
                lines=tuple(f["text"] for f in heat.get("buys", ())[:3]),
            )
        )
    level = body["level"]
    if level.get("mm") is not None:
        side = "above" if level["mm"] >= 0.0 else "below"
        found.append(
            Judged(
                heading="Level, read hot",
                verdict=f"{amount(abs(level['mm']), 'mm', units, digits=0)} {side} the mark",
                lines=(),
            )
        )
    return tuple(found)


def _floor(body: Mapping[str, Any]) -> str:
    """Say what more fluid cannot move."""
    floor = body["floor"]
    if not floor["parts"]:
        return "Nothing that matters: more fluid goes on helping."
    return f"However much is poured, about {pct(floor['remaining_pct'])} stay. " + as_sentence(
        floor["why"]
    )


# --- pictures -------------------------------------------------------------------------------------


@router.get("/jobs/{job_id}/plan/{answer_id}/methods/{shape}.svg")
def chart(desk: Here, job_id: str, answer_id: str, shape: str) -> Response:
    """Return the plan beside usual methods, wide or upright."""
    answer = _plan_of(desk, job_id, answer_id, shape)
    recipes = shown_side_by_side(answer.body)
    return _svg(methods_chart(answer.inputs["circuit"], recipes, is_upright=shape == "upright"))


@router.get("/jobs/{job_id}/plan/{answer_id}/{step}/{shape}.svg")
def picture(desk: Here, job_id: str, answer_id: str, step: int, shape: str) -> Response:
    """Return the circuit after a step of a plan, wide or upright; step 0 is as found."""
    answer = _plan_of(desk, job_id, answer_id, shape)
    recipe = answer.body["recipe"]
    if not 0 <= step <= len(recipe["step"]):
        raise NotFound("picture", f"{answer_id}/{step}")
    return _svg(
        circuit_after(answer.inputs["circuit"], recipe, step, is_upright=shape == "upright")
    )


def _plan_of(desk: Desk, job_id: str, answer_id: str, shape: str) -> Answer:
    """Return a plan of a job, or say that there is no such picture."""
    answer = desk.store.answer(answer_id)
    if answer.job_id != job_id or answer.of is not Of.PLAN or shape not in ("wide", "upright"):
        raise NotFound("picture", f"{answer_id}/{shape}.svg")
    return answer


def _svg(text: str) -> Response:
    """Return a picture that never changes, since an answer never does."""
    return Response(
        text,
        media_type="image/svg+xml",
        headers={
            "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'",
            "cache-control": "private, max-age=31536000, immutable",
        },
    )


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
    return _begun(desk, work, job_id, typed.uid) if answer.status_code == 303 else answer


@router.post("/jobs/{job_id}/plan/ask")
def ask(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Have a plan made for the goal that stands."""
    typed = replace(read((), form, units), values={"form": "ask"})

    def act(_: Typed) -> None:
        plan_inputs(desk, load_job(desk, job_id))

    answer = answered(request, desk, job_id, Stage.PLAN, typed, act)
    return _begun(desk, work, job_id, typed.uid) if answer.status_code == 303 else answer


def _begun(desk: Desk, work: LongWork, job_id: str, uid: str) -> Response:
    """Begin to plan and go to the page that shows how far it is."""
    job = load_job(desk, job_id)
    inputs = plan_inputs(desk, job)
    piece = work.begin(
        uid,
        "plan",
        inputs,
        title=f"Planning: {job.head.title}",
        url=f"/jobs/{job_id}#plan",
        then=partial(_keep, desk, job_id, inputs),
    )
    return RedirectResponse(f"/work/{piece.id}", status_code=303)


def _keep(desk: Desk, job_id: str, inputs: Mapping[str, Any], body: Mapping[str, Any]) -> None:
    """Keep a plan that the worker has made."""
    keep_plan(desk, job_id, inputs, body)


@router.post("/jobs/{job_id}/plan/choose")
def choose(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Choose the plan's recipe at once, or that of another method once it is judged."""
    typed = replace(read((), form, units), values={"form": "finish"})
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


@router.post("/jobs/{job_id}/plan/own")
def own(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Judge and choose a recipe that a person wrote or changed."""
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
    return RedirectResponse(f"/work/{piece.id}", status_code=303)


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
