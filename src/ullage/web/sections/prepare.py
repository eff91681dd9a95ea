"""Preparing on the page of a job: what to buy, have and do, ticked before anything is opened."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fastapi import APIRouter, Request, Response

from ullage.errors import Conflict
from ullage.jobs.job import Job
from ullage.jobs.ports import Desk
from ullage.jobs.prepare import Line, Preparation, finish_prepare, preparation, tick_all
from ullage.jobs.stage import Stage, StageState
from ullage.planning.plan_words import warms_up
from ullage.web.desk import Filled, Here, InUnits
from ullage.web.forms import Typed, as_sentence, read
from ullage.web.sections.answering import answered
from ullage.web.shown import Units, amount, span, units_of

router = APIRouter()

_GROUPS = (
    ("buy", "To buy"),
    ("have", "To have at hand"),
    ("safe", "Made safe"),
    ("do", "Before anything is opened"),
)
_MINUTE_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Lines of one kind, ticked with one form."""

    key: str
    heading: str
    lines: tuple[Line, ...]
    open_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PrepareSection:
    """The stage: cautions, lists with ticks, and the sheet to print."""

    job_id: str
    no_recipe: str
    cautions: tuple[str, ...]
    warm: tuple[str, ...]
    groups: tuple[Group, ...]
    tick_form: Typed | None
    sheet_url: str
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> PrepareSection:
    """Return what the template shows."""
    which = "" if typed is None else str(typed.values.get("form", ""))
    lines: tuple[Line, ...] = ()
    cautions: tuple[str, ...] = ()
    warm: tuple[str, ...] = ()
    no_recipe = ""
    try:
        ready = preparation(desk, job)
        lines, cautions = ready.lines, ready.cautions
        warm = tuple(_warm(ready, units_of(desk.store.settings())))
    except Conflict as error:
        no_recipe = as_sentence(str(error))
    return PrepareSection(
        job_id=job.head.id,
        no_recipe=no_recipe,
        cautions=cautions,
        warm=warm,
        groups=tuple(
            Group(
                key=key,
                heading=heading,
                lines=mine,
                open_count=sum(not line.is_done for line in mine),
            )
            for key, heading in _GROUPS
            if (mine := tuple(line for line in lines if line.group == key))
        ),
        tick_form=typed if which == "tick" else None,
        sheet_url=f"/jobs/{job.head.id}/sheet",
        is_finished=job.state_of(Stage.PREPARE) is StageState.FINISHED,
        finish_form=typed if which == "finish" else None,
    )


def _warm(ready: Preparation, units: Units) -> Iterator[str]:
    """Yield how long the warm-up takes, and what it buys."""
    heat = ready.heat
    if heat is None:
        return
    to = amount(ready.temperature_degc, "degc", units, digits=0)
    minutes = heat["minutes"]
    yield as_sentence(warms_up(to, None if minutes is None else span(minutes * _MINUTE_S)))
    yield from (one["text"] for one in (*heat["buys"], *heat["exchange"]))
    yield from (one["text"] for one in heat["caveats"])


@router.post("/jobs/{job_id}/prepare/tick/{group}")
def tick(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str, group: str
) -> Response:
    """Keep the ticks of one list as they stand on the page."""
    typed = replace(read((), form, units), values={"form": "tick"})
    ticked = [key.removeprefix("item-") for key in form if key.startswith("item-")]

    def act(typed: Typed) -> None:
        tick_all(desk, job_id, ticked, group=group, uid=typed.uid)

    return answered(request, desk, job_id, Stage.PREPARE, typed, act)


@router.post("/jobs/{job_id}/prepare/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Finish the stage."""
    typed = replace(read((), form, units), values={"form": "finish"})

    def act(typed: Typed) -> None:
        finish_prepare(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.PREPARE, typed, act)
