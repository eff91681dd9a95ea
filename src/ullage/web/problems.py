"""What does a person see when something is wrong? A page with a sentence and a way on.

Errors of our own bear their sentence. Any other is a fault of the program: the page says so, and
what happened goes to the log, not to the page.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from http import HTTPStatus

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse
from starlette.exceptions import HTTPException

from ullage.errors import Conflict, FileFaults, NotFound, UllageError
from ullage.web.desk import render
from ullage.web.forms import as_sentence

_log = logging.getLogger(__name__)

_HEADINGS = {
    HTTPStatus.NOT_FOUND: "There is nothing here",
    HTTPStatus.CONFLICT: "Somebody was faster",
    HTTPStatus.INTERNAL_SERVER_ERROR: "The program itself failed",
}
_SENTENCES = {
    HTTPStatus.NOT_FOUND: "No page has this address. It may have been mistyped.",
    HTTPStatus.METHOD_NOT_ALLOWED: "This address can't be used in this way. Go back and use the "
    "buttons of the page.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemPage:
    """What is wrong, in a heading and sentences."""

    heading: str
    sentences: tuple[str, ...]


def problem(request: Request, status: int, *sentences: str) -> HTMLResponse:
    """Return a page that says what is wrong."""
    kind = HTTPStatus(status)
    page = ProblemPage(
        heading=_HEADINGS.get(kind, "That did not work"),
        sentences=sentences or (_SENTENCES.get(kind, as_sentence(kind.phrase)),),
    )
    return render(request, "problem.html", page, status=status)


def status_of(error: UllageError) -> int:
    """Return the status that an error of our own is answered with."""
    if isinstance(error, NotFound):
        return HTTPStatus.NOT_FOUND
    return HTTPStatus.CONFLICT if isinstance(error, Conflict) else HTTPStatus.UNPROCESSABLE_ENTITY


def _own(request: Request, error: Exception) -> HTMLResponse:
    if isinstance(error, FileFaults):
        return problem(request, status_of(error), *(fault.sentence() for fault in error.faults))
    if isinstance(error, NotFound):
        # The list of names that exist may be long; a page has links for that.
        return problem(request, 404, f"No {error.what} is called \u201c{error.name}\u201d here.")
    if isinstance(error, UllageError):
        return problem(request, status_of(error), as_sentence(str(error)))
    raise error


def _http(request: Request, error: Exception) -> HTMLResponse:
    if not isinstance(error, HTTPException):
        raise error
    kind = HTTPStatus(error.status_code)
    said = () if error.detail == kind.phrase else (as_sentence(error.detail),)
    page = problem(request, error.status_code, *said)
    page.headers.update(error.headers or {})
    return page


def _unreadable(request: Request, error: Exception) -> HTMLResponse:
    if not isinstance(error, RequestValidationError):
        raise error
    names = sorted({str(fault["loc"][-1]) for fault in error.errors()})
    return problem(
        request,
        422,
        f"The address or the form is incomplete or mistyped, at: {', '.join(names)}. Go back and "
        "use the buttons of the page.",
    )


def _failed(request: Request, error: Exception) -> HTMLResponse:
    _log.error("a page failed", exc_info=error, extra={"path": request.url.path})
    return problem(
        request,
        500,
        "What was entered before is kept. Load the page again; if it fails again, report the "
        "sentence that the window with the program shows.",
    )


def explain_problems(app: FastAPI) -> None:
    """Answer errors with pages."""
    app.add_exception_handler(UllageError, _own)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(Exception, _failed)
