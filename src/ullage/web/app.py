"""The app put together: screens, stages, files that pages use, and the door around it all."""

from __future__ import annotations

import asyncio
import mimetypes
import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import URLPath
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Match, NoMatchFound

from ullage.jobs.stage import Stage
from ullage.web.door import is_for_programs
from ullage.web.problems import explain_problems
from ullage.web.screens import ROUTERS
from ullage.web.stages import MODULES, module_of
from ullage.web.work import Work

if TYPE_CHECKING:
    from starlette.types import Receive, Scope, Send

    from ullage.web.door import Door
    from ullage.wiring import App


def create_app(app: App, door: Door) -> FastAPI:
    """Return the app that serves a desk through a door."""
    work = Work()

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        """Let go of the worker when the app ends."""
        yield
        await run_in_threadpool(work.close)

    web = FastAPI(title="Ullage", docs_url=None, redoc_url=None, openapi_url=None, lifespan=living)
    web.state.ullage = app
    web.state.work = work
    for router in ROUTERS:
        web.include_router(router)
    web.add_api_route("/static/{name}", static_file, methods=["GET"])
    for stage in MODULES:
        web.router.routes.append(SectionRoutes(web, stage))
    web.router.routes.append(ApiRoutes(web))
    explain_problems(web)
    door.guard(web)
    return web


def static_file(request: Request, name: str) -> Response:
    """Return a file that pages use. Its address bears its content, so it may be kept for good."""
    data = _static_bytes(name)
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    keep = "public, max-age=31536000, immutable" if request.query_params.get("v") else "no-cache"
    return Response(data, media_type=kind, headers={"cache-control": keep})


@cache
def _static_bytes(name: str) -> bytes:
    """Return the bytes of a file of the package; names with a path in them have none."""
    file = resources.files("ullage.web").joinpath("static", name)
    if "/" in name or "\\" in name or name.startswith(".") or not file.is_file():
        raise HTTPException(404)
    return file.read_bytes()


class SectionRoutes(BaseRoute):
    """Stands in for the routes of a stage until one of them is asked for, then makes way for them.

    A module of a stage loads the solver, and the first page must not wait for that.
    """

    def __init__(self, web: FastAPI, stage: Stage) -> None:
        self._web = web
        self._stage = stage
        self._path = re.compile(rf"/jobs/[^/]+/{stage.value}/")
        self._lock = asyncio.Lock()

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Tell whether a request is one for the stage."""
        is_for_stage = scope["type"] in ("http", "websocket") and self._path.match(scope["path"])
        return (Match.FULL, {}) if is_for_stage else (Match.NONE, {})

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Load the module, put its routes in the place of this one, and let them answer."""
        async with self._lock:
            if self in self._web.router.routes:
                module = await run_in_threadpool(module_of, self._stage)
                self._web.router.routes.remove(self)
                if module is not None:
                    self._web.include_router(module.router)
        await self._web.router(scope, receive, send)

    def url_path_for(self, name: str, /, **path_params: Any) -> URLPath:
        """Refuse: pages write their addresses out."""
        raise NoMatchFound(name, path_params)


class ApiRoutes(BaseRoute):
    """Hands what programs ask over to an app of its own, loaded when the first one asks.

    It has an app of its own because a program is told in JSON what is wrong, and not by a page.
    """

    def __init__(self, web: FastAPI) -> None:
        self._web = web
        self._api: FastAPI | None = None
        self._lock = asyncio.Lock()

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Tell whether a request is one of a program."""
        is_api = scope["type"] == "http" and is_for_programs(scope["path"])
        return (Match.FULL, {}) if is_api else (Match.NONE, {})

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the app for programs answer."""
        async with self._lock:
            if self._api is None:
                self._api = await run_in_threadpool(_create_api, self._web)
        await self._api(scope, receive, send)

    def url_path_for(self, name: str, /, **path_params: Any) -> URLPath:
        """Refuse: pages write their addresses out."""
        raise NoMatchFound(name, path_params)


def _create_api(web: FastAPI) -> FastAPI:
    from ullage.web.api.served import create_api

    return create_api(web)
