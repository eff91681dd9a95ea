"""What every answer tells the browser: whom to trust, and what to keep."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from starlette.datastructures import MutableHeaders

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: A picture or a download may bring headers of its own; these are for all that does not.
HEADERS: Mapping[str, str] = {
    "content-security-policy": "default-src 'self'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'; object-src 'none'",
    # Our own pages must know where a form came from, so the referrer stays within them; with
    # "no-referrer" a browser would send "Origin: null" along with every form.
    "referrer-policy": "same-origin",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), payment=()",
    "cache-control": "no-store",
}


class WithHeaders:
    """Adds the headers to every answer that does not bear them yet."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand over, and complete what comes back."""

        async def completed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, completed)
