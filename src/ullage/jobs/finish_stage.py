"""Finish a stage of a job or take it in hand again, whichever stage it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ullage.errors import Conflict
from ullage.jobs.assess import finish_assess
from ullage.jobs.carry_out import finish_exchange
from ullage.jobs.close_job import finish_job
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk
from ullage.jobs.prepare import finish_prepare
from ullage.jobs.propose_plan import finish_plan
from ullage.jobs.prove_job import finish_proof
from ullage.jobs.refit import finish_refit
from ullage.jobs.stage import Stage, StageState

_FINISH: Mapping[Stage, Callable[..., None]] = {
    Stage.ASSESS: finish_assess,
    Stage.PLAN: finish_plan,
    Stage.PREPARE: finish_prepare,
    Stage.EXCHANGE: finish_exchange,
    Stage.REFIT: finish_refit,
    Stage.PROVE: finish_proof,
    Stage.RECORD: finish_job,
}


def finish_stage(desk: Desk, job_id: str, stage: Stage, *, uid: str) -> None:
    """Finish a stage with its result in one line; one that is finished already stays so.

    Raises
    ------
    NotFound
        If there is no such job.
    Conflict
        If another stage comes first, or something that the stage needs is missing.
    """
    if load_job(desk, job_id).state_of(stage) is not StageState.FINISHED:
        _FINISH[stage](desk, job_id, uid=uid)


def reopen_stage(desk: Desk, job_id: str, stage: Stage, *, uid: str) -> None:
    """Take a finished stage in hand again, once for a ``uid``.

    Raises
    ------
    NotFound
        If there is no such job.
    Conflict
        If the stage is not finished.
    """
    if any(event.uid == uid for event in desk.store.events(job_id)):
        return
    if load_job(desk, job_id).state_of(stage) is not StageState.FINISHED:
        raise Conflict(f"{stage.value} is not finished, so it need not be reopened")
    log(desk, job_id, Kind.STAGE, {"stage": stage.value, "state": "in hand"}, uid=uid)
