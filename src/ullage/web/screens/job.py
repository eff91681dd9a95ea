"""The page of a job as a screen: shown, a stage reopened, an entry taken back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from ullage.errors import Conflict
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log, take_back
from ullage.jobs.stage import Stage, StageState
from ullage.web.desk import Here, Uid
from ullage.web.job_page import back_to, job_page

router = APIRouter()


@router.get("/jobs/{job_id}")
def show_job(request: Request, desk: Here, job_id: str) -> Response:
    """Show a job."""
    return job_page(request, desk, job_id)


@router.post("/jobs/{job_id}/reopen/{stage}")
def reopen(desk: Here, job_id: str, stage: Stage, uid: Uid) -> Response:
    """Take a finished stage in hand again."""
    if load_job(desk, job_id).state_of(stage) is not StageState.FINISHED:
        raise Conflict(f"{stage.value} is not finished, so it need not be reopened")
    log(desk, job_id, Kind.STAGE, {"stage": stage.value, "state": "in hand"}, uid=uid)
    return back_to(job_id, stage)


@router.post("/jobs/{job_id}/take-back")
def take_back_entry(
    desk: Here, job_id: str, event: Annotated[str, Form()], stage: Annotated[str, Form()] = ""
) -> Response:
    """Take back one entry of a job; it stays in the log, struck out."""
    take_back(desk, job_id, event)
    return back_to(job_id, Stage(stage) if stage in set(Stage) else None)
