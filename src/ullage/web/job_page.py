"""The page of a job: what is next and who does it, then the seven stages, read downward.

What a stage holds is the business of its module in ``web.sections``; this page knows how far each
has come, and shows the one in hand open.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.next_thing import next_thing
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES, Stage, StageState
from ullage.web.desk import render
from ullage.web.forms import Typed
from ullage.web.shown import day
from ullage.web.stages import module_of, template_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One of the seven sections: how far it has come, and what it shows.

    ``line`` is its result where it is finished, and what it waits for where it is to come.
    ``section`` and ``template`` are what its module shows.
    """

    stage: str
    number: int
    heading: str
    state: str
    line: str
    is_finished: bool
    is_open: bool
    section: Any
    template: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPage:
    """A job on one page. ``reached`` counts the stages up to the one in hand."""

    job_id: str
    title: str
    machine: str
    machine_url: str
    circuit: str
    opened: str
    next: str
    who: str
    in_hand: str
    reached: int
    told: str
    parts: tuple[Part, ...]


def job_page(
    request: Request,
    desk: Desk,
    job_id: str,
    typed: Mapping[Stage, Typed] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Return the page of a job; ``typed`` has the forms that have to be shown again."""
    job = load_job(desk, job_id)
    page = _page(desk, job, typed or {})
    return render(request, "job.html", page, status=status)


def back_to(job_id: str, stage: Stage | None = None) -> RedirectResponse:
    """Send the browser to a job after a form was taken, to the section of a stage."""
    anchor = "" if stage is None else f"#{stage.value}"
    return RedirectResponse(f"/jobs/{job_id}{anchor}", status_code=303)


def _page(desk: Desk, job: Job, typed: Mapping[Stage, Typed]) -> JobPage:
    """Return what the page of a job shows."""
    store = desk.store
    next_ = next_thing(job)
    machine = store.machine(job.head.machine_id)
    reached = len(STAGES) if job.stage is None else job.stage.number
    word = "filed" if job.stage is None else job.stage.value
    return JobPage(
        job_id=job.head.id,
        title=job.head.title,
        machine=machine.name,
        machine_url=f"/machines/{machine.id}",
        circuit=store.circuit_version(job.head.circuit_version_id).name,
        opened=day(job.head.opened_at),
        next=next_.sentence,
        who=next_.who,
        in_hand="" if job.stage is None else job.stage.value,
        reached=reached,
        told=f"All {len(STAGES)} stages are finished"
        if job.stage is None
        else f"Stage {reached} of {len(STAGES)}: {word}",
        parts=tuple(_part(desk, job, stage, typed.get(stage)) for stage in STAGES),
    )


def _part(desk: Desk, job: Job, stage: Stage, typed: Typed | None) -> Part:
    """Return one section; one to come shows nothing but what it waits for."""
    state = job.state_of(stage)
    module = None if state is StageState.TO_COME and typed is None else module_of(stage)
    return Part(
        stage=stage.value,
        number=stage.number,
        heading=stage.value.capitalize(),
        state=state.value,
        line=_line(job, stage, state),
        is_finished=state is StageState.FINISHED,
        is_open=state is StageState.IN_HAND or typed is not None,
        section=None if module is None else module.section_of(desk, job, typed),
        template="" if module is None else template_of(stage),
    )


def _line(job: Job, stage: Stage, state: StageState) -> str:
    """Return the result of a finished stage, or what one to come waits for."""
    if state is StageState.FINISHED:
        return job.finished[stage]
    if state is StageState.TO_COME:
        before = STAGES[stage.number - 2]
        waits = before if before not in job.finished else job.stage
        return f"waits for {waits}"
    return ""
