"""What a program is told when something is wrong: one shape, whatever went wrong and wherever."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from ullage.errors import FileFaults, NotFound, OutOfRange, UllageError
from ullage.web.problems import status_of

_log = logging.getLogger(__name__)
_LONGEST_VALUE = 200


class FaultTold(BaseModel):
    """One thing that is wrong with what was sent, and where."""

    key: str = Field(description="The place, such as leg[2].line.bore_mm.")
    problem: str
    value: str | None = Field(default=None, description="What stands there.")
    allowed: str | None = Field(default=None, description="What may stand there.")
    advice: str | None = None


class Problem(BaseModel):
    """Why a request was refused. Keys that say nothing are left out."""

    error: str = Field(description="A sentence for a person.")
    field: str | None = Field(default=None, description="What is wrong, by its name.")
    allowed: str | None = Field(default=None, description="What may stand there, in words.")
    value: str | None = Field(default=None, description="What was found, as text.")
    faults: list[FaultTold] | None = Field(
        default=None, description="Every fault, where a table or a request holds more than one."
    )


_SAID = {
    404: "nothing has this address; /api lists those that there are",
    405: "this address is not used in this way; /api says how it is",
}
_TOLD = {
    401: "The device is not let in, or no longer.",
    403: "Sent from somewhere else, or only allowed at the computer itself.",
    404: "Nothing bears that name.",
    405: "The address is not used in this way.",
    409: "Somebody else changed it first, or the job has not come that far.",
    413: "Larger than what may be sent here.",
    415: "Sent as something that is not taken here.",
    421: "Addressed to a host that this app does not answer to.",
    422: "Something in it can't be right.",
    500: "The program itself failed.",
}


def refusals(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return statuses with what they mean, as a description wants them."""
    return {status: {"model": Problem, "description": _TOLD[status]} for status in statuses}


#: What the door may answer to anything, and what any address may.
ANYWHERE = refusals(401, 403, 421, 422)
#: What any address may answer that takes something in.
TAKING_IN = refusals(413, 415)


def problem_of(error: UllageError) -> Problem:
    """Return an error of our own as a program is told it."""
    if isinstance(error, FileFaults):
        return Problem(
            error=str(error).partition("\n")[0],
            faults=[
                FaultTold(
                    key=fault.key,
                    problem=fault.problem,
                    value=None if fault.value is None else _short(fault.value),
                    allowed=fault.allowed or None,
                    advice=fault.advice or None,
                )
                for fault in error.faults
            ],
        )
    if isinstance(error, OutOfRange):
        return Problem(
            error=str(error), field=error.name, allowed=error.allowed, value=_short(error.value)
        )
    if isinstance(error, NotFound):
        known = f"one of {', '.join(error.known)}" if error.known else None
        return Problem(error=str(error), field=error.what, allowed=known, value=error.name)
    return Problem(error=str(error))


def _short(value: object) -> str:
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= _LONGEST_VALUE else f"{text[:_LONGEST_VALUE]}..."


def answer(status: int, problem: Problem) -> JSONResponse:
    """Return a refusal."""
    table = problem.model_dump(exclude_none=True)
    # Half of a character may stand in what is told back; it is no text.
    clean = {
        key: value.encode(errors="replace").decode() if isinstance(value, str) else value
        for key, value in table.items()
    }
    return JSONResponse(clean, status_code=status)


def _own(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, UllageError):
        raise error
    return answer(status_of(error), problem_of(error))


def _http(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, HTTPException):
        raise error
    # FastAPI says 400 where JSON can't be read at all; to us that is one thing that can't be right.
    status = 422 if error.status_code == HTTPStatus.BAD_REQUEST else error.status_code
    said = _SAID.get(status) if error.detail == HTTPStatus(error.status_code).phrase else None
    found = answer(status, Problem(error=said or str(error.detail)))
    found.headers.update(error.headers or {})
    return found


def _unreadable(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, RequestValidationError):
        raise error
    faults = [_fault(one) for one in error.errors()]
    first = faults[0]
    return answer(
        422,
        Problem(
            error=f"{first.key}: {first.problem}",
            field=first.key,
            value=first.value,
            faults=faults,
        ),
    )


def _fault(one: dict[str, Any]) -> FaultTold:
    """Return one fault that was found while reading a request, told in our shape."""
    if one["type"] == "json_invalid":
        return FaultTold(key="body", problem="it is no JSON that can be read")
    where, *places = one["loc"]
    key = "".join(f"[{place}]" if isinstance(place, int) else f".{place}" for place in places)
    given = one.get("input")
    shown = None if one["type"] == "missing" else _short(given)
    text = str(one["msg"]).removeprefix("Value error, ")
    return FaultTold(
        key=key.lstrip(".") or str(where),
        problem=(text[:1].lower() + text[1:]).encode(errors="replace").decode(),
        value=None if shown is None else shown.encode(errors="replace").decode(),
    )


def _failed(request: Request, error: Exception) -> JSONResponse:
    _log.error("a request failed", exc_info=error, extra={"path": request.url.path})
    return answer(500, Problem(error="the program itself failed; what was kept before is kept"))


def tell_problems(api: FastAPI) -> None:
    """Answer errors in our shape."""
    api.add_exception_handler(UllageError, _own)
    api.add_exception_handler(HTTPException, _http)
    api.add_exception_handler(RequestValidationError, _unreadable)
    api.add_exception_handler(Exception, _failed)
