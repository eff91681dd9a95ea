"""What was worked out for jobs, kept with all that went in."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter
from pydantic import BaseModel

from ullage.jobs.answer import Answer, Of
from ullage.web.api.given import IdInPath, Table
from ullage.web.api.problems import refusals
from ullage.web.desk import Here

router = APIRouter(tags=["answers"])


class AnswerHead(BaseModel):
    """An answer without its tables; equal ``fingerprint`` means equal inputs."""

    id: str
    job: str
    of: Of
    made_at: datetime
    code: str
    seed: int
    fingerprint: str


class AnswerTold(AnswerHead):
    """An answer with what went in and what came out, as the commands print it."""

    inputs: Table
    body: Table


def answer_head(answer: Answer) -> AnswerHead:
    """Return an answer without its tables."""
    return AnswerHead(
        id=answer.id,
        job=answer.job_id,
        of=answer.of,
        made_at=answer.made_at,
        code=answer.code,
        seed=answer.seed,
        fingerprint=answer.fingerprint,
    )


@router.get("/jobs/{job_id}/answers", responses=refusals(404))
def answers_of(desk: Here, job_id: IdInPath, of: Of | None = None) -> list[AnswerHead]:
    """Return the answers of a job, the newest first."""
    desk.store.job_head(job_id)
    return [answer_head(answer) for answer in desk.store.answers(job_id, of)]


@router.get("/answers/{answer_id}", responses=refusals(404))
def one_answer(desk: Here, answer_id: IdInPath) -> AnswerTold:
    """Return an answer with its tables."""
    answer = desk.store.answer(answer_id)
    head = answer_head(answer).model_dump()
    return AnswerTold(**head, inputs=dict(answer.inputs), body=dict(answer.body))
