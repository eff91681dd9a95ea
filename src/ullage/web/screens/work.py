"""A piece of long work on a page of its own: how far it is, and a way to cancel it.

A script asks how far it is; without one the page loads itself each second. Either way it goes on to
where the answer stands once it is there. Leaving it stops nothing: the answer is kept all the same.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse

from ullage.web.addresses import work_url
from ullage.web.desk import LongWork, render
from ullage.web.forms import as_sentence
from ullage.web.work import ENDED, State

router = APIRouter()


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPage:
    """A piece of work as the page shows it; ``of`` is 0 while nobody knows how much there is."""

    title: str
    url: str
    back: str
    back_url: str
    what: str
    done: int
    of: int
    why: str
    cancel_url: str


@router.get("/waiting/{work_id}")
def show_work(request: Request, work: LongWork, work_id: str) -> Response:
    """Show how far a piece is; as JSON where that is asked for."""
    piece = work.piece(work_id)
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse(asdict(piece))
    if piece.state is State.DONE:
        return RedirectResponse(piece.then_url, status_code=303)
    page = WorkPage(
        title=piece.title,
        url=work_url(piece),
        back="Back to the job" if piece.then_url.startswith("/jobs/") else "Back",
        back_url=piece.then_url,
        what=as_sentence(piece.what),
        done=piece.done,
        of=piece.of,
        why=as_sentence(piece.why) if piece.why else "",
        cancel_url="" if piece.state in ENDED else f"{work_url(piece)}/cancel",
    )
    return render(request, "work.html", page)


@router.post("/waiting/{work_id}/cancel")
def cancel(work: LongWork, work_id: str) -> Response:
    """Give a piece of work up and go back to where it was asked for."""
    piece = work.cancel(work_id)
    return RedirectResponse(piece.then_url, status_code=303)
