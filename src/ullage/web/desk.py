"""What every page needs: the desk that it works at, and the way from a page to HTML.

A page is a frozen dataclass of texts that are ready to be shown. Its template is given ``page``
and ``frame`` and nothing else. The class of ``job.html`` is ``JobPage``, and so on: a contract
test reads both and refuses a field that no template shows, or a name that no class has.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Any

from fastapi import Depends, Form, Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from ullage.jobs.ports import Desk
from ullage.web.forms import new_uid
from ullage.web.headers import HEADERS
from ullage.web.shown import Units, fine, source, units_of, word_of
from ullage.web.work import Work

#: The places that stand at the head of every page: address, word. Each must answer.
PLACES: tuple[tuple[str, str], ...] = (
    ("/", "Jobs"),
    ("/machines", "Machines"),
    ("/due", "Due"),
    ("/shelf", "Shelf"),
    ("/sums", "Sums"),
    ("/settings", "Settings"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What stands around every page: the person's units, where they are, and the other places."""

    units: Units
    here: str
    places: tuple[tuple[str, str], ...]

    def is_here(self, path: str) -> bool:
        """Tell whether the page belongs to a place; jobs belong to the list of jobs."""
        if path == "/":
            return self.here == "/" or self.here.startswith("/jobs")
        return self.here == path or self.here.startswith(f"{path}/")


def desk_of(request: Request) -> Desk:
    """Return the desk of the app that was asked."""
    desk: Desk = request.app.state.ullage.desk
    return desk


#: The desk, as a parameter of a route.
Here = Annotated[Desk, Depends(desk_of)]


def work_of(request: Request) -> Work:
    """Return the long work of the app that was asked."""
    work: Work = request.app.state.work
    return work


#: The long work, as a parameter of a route.
LongWork = Annotated[Work, Depends(work_of)]


def units_here(desk: Here) -> Units:
    """Return the units that were chosen in Settings."""
    return units_of(desk.store.settings())


#: The person's units, as a parameter of a route.
InUnits = Annotated[Units, Depends(units_here)]


async def form_of(request: Request) -> Mapping[str, Any]:
    """Return the form that was sent."""
    return await request.form()


#: The form that was sent, as a parameter of a route; ``forms.read`` makes values of it.
Filled = Annotated[Mapping[str, Any], Depends(form_of)]

#: The name of a form that asks for nothing else: sent twice, it counts once.
Uid = Annotated[str, Form(pattern=r"^[a-z0-9-]{8,64}$")]


def render(request: Request, template: str, page: Any, *, status: int = 200) -> HTMLResponse:
    """Return a page as HTML.

    Pages are never kept by the browser: a job changes on another device.
    """
    frame = Frame(
        units=units_of(desk_of(request).store.settings()),
        here=request.url.path,
        places=() if request.url.path == "/pair" else PLACES,
    )
    text = templates().get_template(template).render(page=page, frame=frame)
    # The page of a failure is made outside the door, so it bears the headers by itself.
    return HTMLResponse(text, status_code=status, headers=dict(HEADERS))


@cache
def templates() -> Environment:
    """Return the templates: everything is escaped, and a misspelt name is an error."""
    found = Environment(
        loader=PackageLoader("ullage.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    found.globals.update(static=static, new_uid=new_uid, word_of=word_of, fine=fine, source=source)
    return found


@cache
def static(name: str) -> str:
    """Return the address of a file that pages use; it changes when the file does."""
    data = resources.files("ullage.web").joinpath("static", name).read_bytes()
    return f"/static/{name}?v={hashlib.sha256(data).hexdigest()[:10]}"
