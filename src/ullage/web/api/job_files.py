"""A whole job as one file of JSON, handed out and merged in, as ``ullage jobs`` does it."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal, NoReturn

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, JsonValue
from starlette.exceptions import HTTPException

from ullage.errors import OutOfRange
from ullage.jobs.log import line_from_events
from ullage.records.job_file import job_to_table, merge_job
from ullage.web.api.given import IdInPath
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here

router = APIRouter(tags=["job files"])

_REF = {"$ref": "#/components/schemas/JobFile"}
_TAKEN = {"requestBody": {"required": True, "content": {"application/json": {"schema": _REF}}}}


class JobFile(BaseModel):
    """An exported job: machine, versions of its circuit, entries, answers and photos."""

    model_config = ConfigDict(extra="allow")

    format: Literal["ullage-job/1"]
    machine: dict[str, JsonValue]
    circuit_versions: list[dict[str, JsonValue]]
    job: dict[str, JsonValue]
    events: list[dict[str, JsonValue]]
    answers: list[dict[str, JsonValue]]
    counter_readings: list[dict[str, JsonValue]] = []
    photos: dict[str, str] = {}


class Merged(BaseModel):
    """The job that is here now, with how many entries."""

    job: str
    entries: int


async def file_of(request: Request) -> bytes:
    """Return the file that was sent. It may be large, so it is read by the route in its thread."""
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise HTTPException(415, "a job is sent as application/json")
    return await request.body()


def _table_of(data: bytes) -> dict[str, Any]:
    """Return the table that some bytes hold."""
    try:
        table = json.loads(data, parse_constant=_no_number)
        json.dumps(table, ensure_ascii=False).encode()  # half of a character is no text
    except (ValueError, RecursionError) as error:
        raise OutOfRange("file", f"no JSON ({error})", "an exported job") from None
    if not isinstance(table, dict):
        raise OutOfRange("file", type(table).__name__, "an exported job")
    return table


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


@router.get(
    "/jobs/{job_id}/file",
    response_class=JSONResponse,
    responses={200: {"model": JobFile}, **refusals(404)},
)
def hand_out(desk: Here, job_id: IdInPath) -> Response:
    """Hand out a job with all that belongs to it."""
    return JSONResponse(
        job_to_table(desk, job_id),
        headers={"content-disposition": f'attachment; filename="{job_id}.json"'},
    )


@router.post("/job-files", responses={**TAKING_IN, **refusals(409)}, openapi_extra=_TAKEN)
def merge(desk: Here, data: Annotated[bytes, Depends(file_of)]) -> Merged:
    """Merge a job in; the same file twice changes nothing."""
    job_id = merge_job(desk, _table_of(data), line_from_events, file="the file")
    return Merged(job=job_id, entries=len(desk.store.events(job_id)))
