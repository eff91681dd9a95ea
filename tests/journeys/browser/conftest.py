"""A served app on a free port, and a browser that looks at it as a phone and as a laptop.

``server`` has a store in a folder of its own for each test module; tests put things on its desk by
the use cases. ``phone`` and ``laptop`` are pages of the browser; when one is closed, whatever it
complained about fails the test.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    expect,
    sync_playwright,
)

import run
from tests.journeys.browser.looked_at import LAPTOP, PHONE
from ullage.cli.serve import listening
from ullage.jobs.ports import Desk
from ullage.web.app import create_app
from ullage.web.door import Door
from ullage.wiring import open_app

#: A page may take its time on a machine that is busy with other things.
_PATIENCE_MS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """An app that answers: where, with which desk, and out of which folder."""

    url: str
    desk: Desk
    data: Path


@contextmanager
def serving(data: Path) -> Iterator[Served]:
    """Serve a folder of data from a thread until the test is done with it."""
    with ExitStack() as stack:
        door = stack.enter_context(listening("127.0.0.1", 0))
        port = int(door.getsockname()[1])
        app = stack.enter_context(open_app(data))
        config = uvicorn.Config(
            create_app(app, Door(port=port)), log_level="warning", proxy_headers=False
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        try:
            until = time.monotonic() + 20.0
            while not server.started:
                assert thread.is_alive(), "the server ended before it began"
                assert time.monotonic() < until, "the server did not begin within 20 s"
                time.sleep(0.02)
            yield Served(url=f"http://127.0.0.1:{port}", desk=app.desk, data=data)
        finally:
            server.should_exit = True
            thread.join(timeout=20.0)
            assert not thread.is_alive()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Return a served app with nothing in it, the same for all tests of a module."""
    with serving(tmp_path_factory.mktemp("served")) as found:
        yield found


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Return the browser; each test opens contexts of its own in it."""
    # As root the browser's own sandbox can't be set up.
    flags = ["--no-sandbox"] if os.name == "posix" and os.geteuid() == 0 else []
    expect.set_options(timeout=_PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=run.browser(), args=flags)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def looking(context: BrowserContext) -> Iterator[Page]:
    """Open a page, and fail if anything was refused, missing or thrown while it was open."""
    complaints: list[str] = []

    def heard(message: ConsoleMessage) -> None:
        # A form that comes back with 422 is no complaint of the page.
        if message.type == "error" and "status of 4" not in message.text:
            complaints.append(message.text)

    page = context.new_page()
    page.set_default_timeout(_PATIENCE_MS)
    page.on("console", heard)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    try:
        yield page
    finally:
        context.close()
    assert complaints == []


@pytest.fixture
def phone(chromium: Browser, server: Served) -> Iterator[Page]:
    """Return a page as wide as a small phone, which is touched."""
    context = chromium.new_context(base_url=server.url, viewport=PHONE, has_touch=True)
    with looking(context) as page:
        yield page


@pytest.fixture
def laptop(chromium: Browser, server: Served) -> Iterator[Page]:
    """Return a page as wide as an old laptop."""
    context = chromium.new_context(base_url=server.url, viewport=LAPTOP)
    with looking(context) as page:
        yield page


@pytest.fixture
def without_script(chromium: Browser, server: Served) -> Iterator[Page]:
    """Return a page of a phone that runs no JavaScript."""
    context = chromium.new_context(base_url=server.url, viewport=PHONE, java_script_enabled=False)
    with looking(context) as page:
        yield page


@pytest.fixture
def new_page(chromium: Browser, server: Served) -> Iterator[Callable[[], Page]]:
    """Return a way to open further pages, each a device of its own."""
    with ExitStack() as stack:

        def opened() -> Page:
            context = chromium.new_context(base_url=server.url, viewport=PHONE)
            return stack.enter_context(looking(context))

        yield opened
