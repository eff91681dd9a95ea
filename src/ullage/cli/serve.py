"""``ullage serve``: open the app in this computer, and to the local network where that is asked.

Prints where the app is and waits for Ctrl-C. It opens no browser. With ``--json`` one object says
the same as the sentences.
"""

from __future__ import annotations

import errno
import json
import socket
import sys
import threading
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import uvicorn

from ullage.errors import OutOfRange
from ullage.jobs.log import line_from_events
from ullage.records.example import fill_example
from ullage.web.app import create_app
from ullage.web.door import OPEN_TO_THE_NETWORK, Door, checked_address
from ullage.web.pairing import kept_secret
from ullage.wiring import default_data, open_app

if TYPE_CHECKING:
    from fastapi import FastAPI

SUCCESS = 0
_LOOPBACK = "127.0.0.1"
#: How long requests that are under way may still take after Ctrl-C.
_LAST_ANSWERS_S = 3
#: The first page is served before what later pages need is loaded.
_LOAD_AFTER_S = 1.5


def run(
    *, port: int, data: Path | None, lan: str | None, as_json: bool, is_demo: bool = False
) -> int:
    """Serve until somebody stops it, and return the exit code.

    The example has a folder of its own, so that nothing of it ever stands among a garage's jobs.
    """
    if lan is not None:
        checked_address(lan)
    home_of_data = default_data()
    own = home_of_data.with_name(f"{home_of_data.name}-demo") if is_demo else home_of_data
    folder = (own if data is None else data).resolve()
    with ExitStack() as stack:
        home = stack.enter_context(listening(_LOOPBACK, port))
        chosen = int(home.getsockname()[1])
        doors = [home]
        if lan is not None:
            doors.append(stack.enter_context(listening(lan, chosen)))
        app = stack.enter_context(open_app(folder))
        if is_demo:
            fill_example(app.desk, line_from_events)
        door = Door(port=chosen, lan=lan, secret=kept_secret(app.data))
        server = _Server(create_app(app, door), said(door, app.data, as_json=as_json))
        later = threading.Timer(_LOAD_AFTER_S, _load)
        later.daemon = True
        later.start()
        try:
            server.run(sockets=doors)
        except KeyboardInterrupt:
            # Open requests were answered; this is how a person ends it, so it is no fault.
            sys.stderr.write("\nullage: stopped\n")
        finally:
            later.cancel()
    return SUCCESS


def listening(address: str, port: int) -> socket.socket:
    """Return a socket at an address and a port of this computer; port 0 takes any that is free.

    Raises
    ------
    OutOfRange
        If the port is taken, or the address is not one of this computer.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    try:
        # Else a restart would have to wait for connections that ended a moment ago.
        if sys.platform != "win32":
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((address, port))
    except OSError as error:
        found.close()
        raise _refused(address, port, error) from None
    return found


def said(door: Door, data: Path, *, as_json: bool) -> str:
    """Return what is printed once the app answers."""
    if as_json:
        return json.dumps({"url": door.url, "lan_url": door.lan_url or None, "data": str(data)})
    lines = [f"Ullage is at {door.url}", f"Its data is in {data}"]
    if door.lan:
        lines += [
            f"Other devices find it at {door.lan_url}, once they were let in under Settings.",
            OPEN_TO_THE_NETWORK,
        ]
    return "\n".join([*lines, "Ctrl-C stops it."])


class _Server(uvicorn.Server):
    """A server that says where it is as soon as it answers, and not before."""

    def __init__(self, web: FastAPI, said: str) -> None:
        super().__init__(
            uvicorn.Config(
                web,
                log_level="warning",
                access_log=False,
                proxy_headers=False,
                server_header=False,
                timeout_graceful_shutdown=_LAST_ANSWERS_S,
            )
        )
        self._said = said

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to answer, and say so."""
        await super().startup(sockets)
        print(self._said, flush=True)


def _load() -> None:
    """Load what the stages work with, so that the first job need not wait for it."""
    from ullage.jobs.stage import STAGES
    from ullage.web.stages import module_of

    for stage in STAGES:
        module_of(stage)


def _refused(address: str, port: int, error: OSError) -> OutOfRange:
    """Return why an address and a port can't be had, and what to do."""
    if error.errno == errno.EADDRINUSE:
        return OutOfRange(
            "--port",
            port,
            "a free port",
            "it is in use, perhaps by another Ullage; stop that, or take --port 0 for any other",
        )
    if error.errno == errno.EACCES:
        return OutOfRange("--port", port, "a port that you may open", "take one above 1023")
    if error.errno in (errno.EADDRNOTAVAIL, errno.EINVAL):
        return OutOfRange(
            "--lan",
            address,
            "an address that this computer has",
            "look it up in the settings of its network",
        )
    return OutOfRange("--port", port, "a port that can be opened", str(error).lower())
