"""Who may ask, from where, and how much at once?

Each rule is a layer around the app: the host by which it was addressed, the page from which a form
or a socket came, the device that sends it, and the size of what is sent. The app listens at this
computer alone unless it was opened to an address of the local network.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import TYPE_CHECKING

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, PlainTextResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException

from ullage.errors import OutOfRange
from ullage.web.headers import WithHeaders
from ullage.web.pairing import Pairing, new_secret
from ullage.web.problems import problem

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})

_KB, _MB = 1 << 10, 1 << 20
#: How much may be sent to an address, the first that fits; forms are small.
LIMITS: tuple[tuple[re.Pattern[str], int], ...] = (
    (re.compile(r"(/api/v1)?/jobs/[^/]+/photos"), 40 * _MB),
    (re.compile(r"/api/v1/job-files"), 256 * _MB),
    (re.compile(r"/settings/restore"), 4096 * _MB),
)
LIMIT = 256 * _KB

#: What a device that was not let in may see.
_WITHOUT_PAIRING = re.compile(r"/pair|/static/[^/]+")

#: To be said wherever the app is opened to the local network.
OPEN_TO_THE_NETWORK = (
    "Plain http can be listened to: anybody in this network may read along, and a device's pass "
    "can be copied. Open it only in a network of your own, and close it after work."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """Where the app listens: at ``port`` of this computer, and at ``lan`` where that is open.

    ``secret`` signs the passes of devices.
    """

    port: int
    lan: str | None = None
    secret: bytes = field(default_factory=new_secret, repr=False)

    def __post_init__(self) -> None:
        """Refuse an address that names no single place of the local network."""
        if self.lan is not None:
            checked_address(self.lan)

    @property
    def hosts(self) -> frozenset[str]:
        """Return the hosts by which the app may be addressed, each with its port."""
        names = {"127.0.0.1", "localhost", "[::1]"} | (
            {_bracketed(self.lan)} if self.lan else set()
        )
        tails = {f":{self.port}"} | ({""} if self.port == 80 else set())
        return frozenset(name + tail for name in names for tail in tails)

    @property
    def url(self) -> str:
        """Return the address on this computer."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def lan_url(self) -> str:
        """Return the address for other devices, nothing where it is not open."""
        return f"http://{_bracketed(self.lan)}:{self.port}" if self.lan else ""

    def guard(self, web: FastAPI) -> None:
        """Put the door around an app; what is added last is met first."""
        web.state.door = self
        web.state.pairing = Pairing(web.state.ullage.desk, self.secret)
        web.add_middleware(LimitedBody)
        web.add_middleware(KnownDevice, pairing=web.state.pairing)
        web.add_middleware(OwnOrigin)
        web.add_middleware(KnownHost, hosts=self.hosts)
        web.add_middleware(WithHeaders)


def checked_address(text: str) -> str:
    """Return an address of this computer in the local network.

    Raises
    ------
    OutOfRange
        If it is no address, or one that stands for all or none.
    """
    advice = "take the address that this computer has in your network, such as 192.168.1.20"
    try:
        address = ipaddress.ip_address(text)
    except ValueError:
        raise OutOfRange("--lan", repr(text), "an IP address", advice) from None
    if address.is_unspecified or address.is_multicast or address.is_loopback:
        raise OutOfRange("--lan", text, "one address of this computer", advice)
    if not (address.is_private or address.is_link_local):
        raise OutOfRange(
            "--lan", text, "an address of the local network", "never open this to the internet"
        )
    return text


def is_at_the_machine(scope: Scope) -> bool:
    """Tell whether a request comes from the computer that the app runs on."""
    client = scope.get("client")
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def only_at_the_machine(request: Request) -> None:
    """Refuse what a device in the network must not do; for ``Depends``."""
    if not is_at_the_machine(request.scope):
        raise HTTPException(
            HTTPStatus.FORBIDDEN, "This can be done only at the computer that Ullage runs on."
        )


class KnownHost:
    """Refuses requests that were addressed to another host: a name that somebody points at us."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str]) -> None:
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand over, or refuse."""
        if scope["type"] not in ("http", "websocket"):
            return await self._app(scope, receive, send)
        named = Headers(scope=scope).getlist("host")
        if len(named) == 1 and named[0].lower() in self._hosts:
            return await self._app(scope, receive, send)
        if scope["type"] == "websocket":
            return await _close(send)
        told = (
            "This app does not answer to that address. Use the one that it printed when it was "
            "started."
        )
        status = HTTPStatus.MISDIRECTED_REQUEST
        if is_for_programs(scope["path"]):
            return await JSONResponse({"error": told}, status)(scope, receive, send)
        answer = PlainTextResponse(f"{told}\n", status)
        return await answer(scope, receive, send)


class OwnOrigin:
    """Refuses forms and sockets that do not come from a page of this app."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand over, or refuse."""
        is_socket = scope["type"] == "websocket"
        if (scope["type"] == "http" and scope["method"] in SAFE) or scope["type"] == "lifespan":
            return await self._app(scope, receive, send)
        headers = Headers(scope=scope)
        if headers.getlist("origin") == [f"http://{headers.get('host', '')}"]:
            return await self._app(scope, receive, send)
        if is_socket:
            return await _close(send)
        answer = await _refusal(
            scope,
            HTTPStatus.FORBIDDEN,
            "This was not sent by a page of this app, so nothing was changed. Open the page again "
            "and use its buttons.",
        )
        return await answer(scope, receive, send)


class KnownDevice:
    """Lets in the computer that the app runs on, and devices that were paired with it."""

    def __init__(self, app: ASGIApp, pairing: Pairing) -> None:
        self._app = app
        self._pairing = pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand over, or lead to the page where a device is let in."""
        if (
            scope["type"] == "lifespan"
            or is_at_the_machine(scope)
            or _WITHOUT_PAIRING.fullmatch(scope["path"])
        ):
            return await self._app(scope, receive, send)
        cookies = Headers(scope=scope).get("cookie", "")
        device = await run_in_threadpool(self._pairing.device_of, cookies)
        if device is not None:
            scope.setdefault("state", {})["device"] = device
            return await self._app(scope, receive, send)
        if scope["type"] == "websocket":
            return await _close(send)
        if scope["method"] in SAFE and not is_for_programs(scope["path"]):
            return await RedirectResponse("/pair", status_code=303)(scope, receive, send)
        answer = await _refusal(
            scope,
            HTTPStatus.UNAUTHORIZED,
            "This device is not let in, or no longer. What you typed was not kept: pair the device "
            "again at /pair.",
        )
        return await answer(scope, receive, send)


class LimitedBody:
    """Counts what is sent, whether its size was announced or not, and stops reading at a limit."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand over, counting."""
        if scope["type"] != "http":
            return await self._app(scope, receive, send)
        limit = limit_of(scope["path"])
        announced = Headers(scope=scope).get("content-length", "0")
        if not announced.isdecimal() or int(announced) > limit:
            answer = await _refusal(scope, HTTPStatus.REQUEST_ENTITY_TOO_LARGE, too_large(limit))
            return await answer(scope, receive, send)
        count = 0

        async def counted() -> Message:
            nonlocal count
            message = await receive()
            count += len(message.get("body", b""))
            if count > limit:
                raise HTTPException(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, too_large(limit))
            return message

        return await self._app(scope, counted, send)


def limit_of(path: str) -> int:
    """Return how many bytes may be sent to an address."""
    return next((limit for pattern, limit in LIMITS if pattern.fullmatch(path)), LIMIT)


def too_large(limit: int) -> str:
    """Say that something is too large, and what would be allowed."""
    allowed = f"{limit // _MB} MB" if limit >= _MB else f"{limit // _KB} kB"
    return f"That is larger than the {allowed} that may be sent here, so nothing was kept."


def _bracketed(address: str | None) -> str:
    """Return an address as it stands in front of a port."""
    return f"[{address}]" if address and ":" in address else address or ""


def is_for_programs(path: str) -> bool:
    """Tell whether an address is one of the JSON API, where refusals are JSON as well."""
    return path == "/api" or path.startswith("/api/")


async def _refusal(scope: Scope, status: int, sentence: str) -> ASGIApp:
    """Return a page that says why a request was refused, or a program's answer that does."""
    if is_for_programs(scope["path"]):
        return JSONResponse({"error": sentence}, status)
    return await run_in_threadpool(problem, Request(scope), status, sentence)


async def _close(send: Send) -> None:
    """Refuse a socket before it is opened."""
    await send({"type": "websocket.close", "code": 1008})
