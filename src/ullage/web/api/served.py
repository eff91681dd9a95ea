"""The app for programs, put together: its routes, its refusals and the description of both."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Depends, FastAPI, Request
from starlette.exceptions import HTTPException

from ullage import __version__
from ullage.web.api import (
    answers,
    circuits,
    entries,
    garage,
    job_files,
    jobs,
    machines,
    over_time,
    page,
    photos,
    shelf,
    sums,
    work,
)
from ullage.web.api.problems import ANYWHERE, tell_problems

if TYPE_CHECKING:
    from fastapi.routing import APIRoute

_ROUTERS: tuple[APIRouter, ...] = (
    machines.router,
    circuits.router,
    jobs.router,
    entries.router,
    answers.router,
    work.router,
    over_time.router,
    shelf.router,
    garage.router,
    sums.router,
)
#: Those that take something else than JSON, or read it themselves, say so themselves.
_OTHER_KINDS: tuple[APIRouter, ...] = (photos.router, job_files.router)

_ABOUT = """\
Everything that the pages of Ullage show and take, for programs. Figures are in the units that their
keys name. Whatever changes something bears the header `Origin` with the address that was asked, as
a page of the app would send it. Every refusal has one shape: `Problem`.
"""


def json_only(request: Request) -> None:
    """Refuse what is sent as something else than JSON."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if request.method in ("POST", "PUT") and kind not in ("", "application/json"):
        raise HTTPException(415, "this is sent as application/json")


def create_api(web: FastAPI) -> FastAPI:
    """Return the app for programs; it works at the desk of the app that serves pages."""
    api = FastAPI(
        title="Ullage",
        version=__version__,
        description=_ABOUT,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        generate_unique_id_function=_named,
        separate_input_output_schemas=False,
    )
    api.state = web.state
    for router in _ROUTERS:
        api.include_router(
            router, prefix="/api/v1", responses=ANYWHERE, dependencies=[Depends(json_only)]
        )
    for router in _OTHER_KINDS:
        api.include_router(router, prefix="/api/v1", responses=ANYWHERE)
    api.include_router(page.router, include_in_schema=False)
    tell_problems(api)
    described = api.openapi

    def openapi() -> dict[str, Any]:
        """Return the description, without FastAPI's own shape of a refusal, which is never sent."""
        table = described()
        for name in ("HTTPValidationError", "ValidationError"):
            table["components"]["schemas"].pop(name, None)
        return table

    api.openapi = openapi  # type: ignore[method-assign] # FastAPI's own way to change it
    return api


def _named(route: APIRoute) -> str:
    """Return the name of an operation: that of its function."""
    return route.name
