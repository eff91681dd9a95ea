"""Jobs: the list, one as it stands, its stages, and what its circuit is."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field, JsonValue

from ullage.jobs.event import Event
from ullage.jobs.finish_stage import finish_stage, reopen_stage
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.next_thing import JobLine, NextThing, next_thing
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.renew_circuit import take_newest
from ullage.jobs.stage import STAGES, Stage, StageState, StepState
from ullage.web.api.given import Id, IdInPath, Sent, Uid
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here

router = APIRouter(prefix="/jobs", tags=["jobs"])


class NextTold(BaseModel):
    """The one next thing to do, and who does it; nobody where the record is filed."""

    sentence: str
    who: str


class JobLineTold(BaseModel):
    """A job as a line of the list; ``stage`` is null where its record is filed."""

    id: str
    machine: str
    title: str
    stage: Stage | None
    next: NextTold
    opened_at: datetime
    touched_at: datetime


class JobsTold(BaseModel):
    """A part of the list; ``count`` is how many there are in all."""

    count: int
    jobs: list[JobLineTold]


class NewJob(Sent):
    """A job to open on a circuit; with an ``id`` of the sender's it is opened once."""

    circuit: Id
    id: Id | None = None


class StageTold(BaseModel):
    """A stage, how far it is, and its result once it is finished."""

    stage: Stage
    state: StageState
    result: str | None


class StepTold(BaseModel):
    """A step of the chosen recipe that was begun, done or left out."""

    step: int
    state: StepState
    reason: str
    at: datetime


class JobTold(BaseModel):
    """A job as its entries add up. ``seq`` is the place of the last entry that counts here.

    ``use``, ``goal`` and the others are the payloads of the newest entries of those kinds;
    ``answers`` are the newest answers by question.
    """

    id: str
    machine: str
    circuit: str
    circuit_version: str
    title: str
    opened_at: datetime
    seq: int
    is_closed: bool
    stage: Stage | None
    stages: list[StageTold]
    next: NextTold
    step_in_hand: int | None
    steps: list[StepTold]
    answers: dict[str, str]
    as_found: dict[str, JsonValue] | None
    use: dict[str, JsonValue] | None
    condition: dict[str, JsonValue] | None
    goal: dict[str, JsonValue] | None
    recipe: dict[str, JsonValue] | None
    next_due: dict[str, JsonValue] | None
    signed: list[dict[str, JsonValue]]


class StageChange(Sent):
    """A stage to finish, or to take in hand again."""

    uid: Uid
    state: Literal["finished", "in hand"] = "finished"


class OnlyUid(Sent):
    """The sender's name for what is asked, so that it counts once."""

    uid: Uid


def _next(thing: NextThing) -> NextTold:
    return NextTold(sentence=thing.sentence, who=thing.who)


def _line(line: JobLine) -> JobLineTold:
    return JobLineTold(
        id=line.job_id,
        machine=line.machine_id,
        title=line.title,
        stage=line.stage,
        next=_next(line.next),
        opened_at=line.opened_at,
        touched_at=line.touched_at,
    )


def _payload(event: Event | None) -> dict[str, JsonValue] | None:
    return None if event is None else dict(event.payload)


def job_told(job: Job) -> JobTold:
    """Return a job as programs are told it."""
    return JobTold(
        id=job.head.id,
        machine=job.head.machine_id,
        circuit=job.head.circuit_id,
        circuit_version=job.head.circuit_version_id,
        title=job.head.title,
        opened_at=job.head.opened_at,
        seq=job.seq,
        is_closed=job.is_closed,
        stage=job.stage,
        stages=[
            StageTold(stage=stage, state=job.state_of(stage), result=job.finished.get(stage))
            for stage in STAGES
        ],
        next=_next(next_thing(job)),
        step_in_hand=job.step_in_hand,
        steps=[
            StepTold(step=number, state=entry.state, reason=entry.reason, at=entry.at)
            for number, entry in sorted(job.steps.items())
        ],
        answers=dict(job.answers),
        as_found=_payload(job.as_found),
        use=_payload(job.use),
        condition=_payload(job.condition),
        goal=_payload(job.goal),
        recipe=_payload(job.recipe),
        next_due=_payload(job.next_due),
        signed=[dict(event.payload) for event in job.signed],
    )


def _now(desk: Desk, job_id: str) -> JobTold:
    return job_told(load_job(desk, job_id))


@router.get("")
def list_jobs(
    desk: Here,
    q: Annotated[str, Query(max_length=80, description="Looked for in title and machine.")] = "",
    is_open: Annotated[
        bool | None, Query(alias="open", description="true: in hand; false: filed.")
    ] = None,
    machine: Annotated[str | None, Query(max_length=80)] = None,
    limit: Annotated[int, Query(ge=1, le=1000)] = 100,
    offset: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> JobsTold:
    """Return jobs, what has to happen first on top; filed ones the newest first."""
    search = q.strip()
    found = desk.store.job_lines(
        is_open=is_open, machine_id=machine, search=search, limit=limit, offset=offset
    )
    count = desk.store.count_jobs(is_open=is_open, machine_id=machine, search=search)
    return JobsTold(count=count, jobs=[_line(line) for line in found])


@router.post("", status_code=201, responses={**TAKING_IN, **refusals(404, 409)})
def begin_job(desk: Here, sent: NewJob) -> JobTold:
    """Open a job on the newest version of a circuit."""
    return _now(desk, open_job(desk, sent.circuit, job_id=sent.id).id)


@router.get("/{job_id}", responses=refusals(404))
def one_job(desk: Here, job_id: IdInPath) -> JobTold:
    """Return a job as it stands."""
    return _now(desk, job_id)


@router.post("/{job_id}/stages/{stage}", responses={**TAKING_IN, **refusals(404, 409)})
def change_stage(desk: Here, job_id: IdInPath, stage: Stage, sent: StageChange) -> JobTold:
    """Finish the stage in hand with its result in one line, or reopen a finished one."""
    change = finish_stage if sent.state == "finished" else reopen_stage
    change(desk, job_id, stage, uid=sent.uid)
    return _now(desk, job_id)


@router.post("/{job_id}/circuit", responses={**TAKING_IN, **refusals(404, 409)})
def go_on_with_newest(desk: Here, job_id: IdInPath, sent: OnlyUid) -> JobTold:
    """Go on with the newest version of the job's circuit."""
    take_newest(desk, job_id, uid=sent.uid)
    return _now(desk, job_id)


class LotUse(OnlyUid):
    """Litres of a lot that were poured."""

    lot: Id
    litres: float = Field(strict=True, gt=0.0, le=10_000.0, allow_inf_nan=False)


@router.post("/{job_id}/lots", responses={**TAKING_IN, **refusals(404, 409)})
def use_of_lot(desk: Here, job_id: IdInPath, sent: LotUse) -> JobTold:
    """Note that a lot was used, and take that off the shelf, once."""
    from ullage.jobs.close_job import use_lot

    use_lot(desk, job_id, sent.lot, sent.litres, uid=sent.uid)
    return _now(desk, job_id)
