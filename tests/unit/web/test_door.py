"""The door: hosts, origins, sizes and headers, each rule with who is kept out."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi import FastAPI, WebSocket
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from tests.unit.web.conftest import HERE, LAN, PORT, browser
from ullage.errors import OutOfRange
from ullage.web.door import LIMIT, Door, checked_address

_FORM = {"content-type": "application/x-www-form-urlencoded"}


@pytest.mark.parametrize(
    "host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}", f"[::1]:{PORT}"]
)
def test_the_app_answers_to_its_own_names(client: TestClient, host: str) -> None:
    """Loopback by each of its names, with the port."""
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["rebound.example", f"rebound.example:{PORT}", "127.0.0.1", f"127.0.0.1:{PORT + 1}", "", LAN],
)
def test_another_host_is_misdirected(client: TestClient, host: str) -> None:
    """A name that somebody points at this computer does not open it, nor does another port."""
    answer = client.get("/", headers={"host": host})

    assert (answer.status_code, "Library" in answer.text) == (421, False)


def test_two_hosts_are_none(client: TestClient) -> None:
    """A request that names two hosts is not guessed at."""
    hosts = [("host", f"127.0.0.1:{PORT}"), ("host", "rebound.example")]

    assert client.get("/", headers=hosts).status_code == 421


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://elsewhere.example", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:1"],
)
def test_a_form_from_elsewhere_changes_nothing(web: FastAPI, origin: str | None) -> None:
    """Without the origin of our own page a form is refused, also where it says nothing of it."""
    given = {} if origin is None else {"origin": origin}
    with TestClient(web, base_url=HERE, client=("127.0.0.1", 1)) as client:
        answer = client.post("/settings/units", data={"volume": "us_qt"}, headers=given)

        assert answer.status_code == 403
    assert web.state.ullage.desk.store.settings() == {}


def test_an_origin_of_ours_must_be_the_one_that_was_asked(client: TestClient) -> None:
    """A page under one of our names does not speak for another."""
    answer = client.post("/settings/units", data={}, headers={"origin": f"http://localhost:{PORT}"})

    assert answer.status_code == 403


def test_reading_needs_no_origin(web: FastAPI) -> None:
    """A page that is typed into the address line comes from nowhere."""
    with TestClient(web, base_url=HERE, client=("127.0.0.1", 1)) as client:
        assert client.get("/").status_code == 200


@pytest.mark.parametrize(
    ("host", "origin", "is_opened"),
    [
        (f"127.0.0.1:{PORT}", HERE, True),
        (f"127.0.0.1:{PORT}", "http://elsewhere.example", False),
        ("rebound.example", "http://rebound.example", False),
    ],
)
def test_a_socket_is_checked_like_a_form(
    web: FastAPI, host: str, origin: str, is_opened: bool
) -> None:
    """A socket passes no other guard, so host and origin are looked at before it is opened."""

    @web.websocket("/ws")
    async def echo(socket: WebSocket) -> None:
        await socket.accept()
        await socket.close()

    headers = {"host": host, "origin": origin}
    with browser(web) as client:
        if is_opened:
            with client.websocket_connect("/ws", headers=headers):
                pass
        else:
            with (
                pytest.raises(WebSocketDisconnect) as refused,
                client.websocket_connect("/ws", headers=headers),
            ):
                pass
            assert refused.value.code == 1008


def _chunks(size: int) -> Iterator[bytes]:
    """Go through a body in pieces, so that its size is not announced."""
    yield b"name="
    for _ in range(size // 4096):
        yield b"x" * 4096


def test_a_body_whose_size_is_announced_is_refused_at_once(client: TestClient) -> None:
    """Nothing of it is read."""
    answer = client.post("/machines/new", content=b"x" * (LIMIT + 1), headers=_FORM)

    assert (answer.status_code, "256 kB" in answer.text) == (413, True)


def test_a_body_in_chunks_is_counted(client: TestClient) -> None:
    """Who announces no size is stopped at the same one."""
    answer = client.post("/machines/new", content=_chunks(2 * LIMIT), headers=_FORM)

    assert (answer.status_code, "256 kB" in answer.text) == (413, True)


def test_a_body_in_chunks_below_the_limit_is_read(client: TestClient) -> None:
    """Counting does not lose a byte: the form is read and its faults are told."""
    answer = client.post("/machines/new", content=_chunks(LIMIT // 2), headers=_FORM)

    assert (answer.status_code, "at most 80 characters" in answer.text) == (422, True)


def test_a_size_that_is_no_number_is_refused(client: TestClient) -> None:
    """A header that can't be read is not passed on."""
    answer = client.post("/machines/new", headers={**_FORM, "content-length": "-5"})

    assert answer.status_code == 413


@pytest.mark.parametrize("path", ["/", "/nowhere", "/static/ullage.css", "/broken"])
def test_every_answer_bears_the_headers(web: FastAPI, path: str) -> None:
    """Pages, files, refusals and failures alike."""

    @web.get("/broken")
    def broken() -> None:
        raise RuntimeError("on purpose")

    with browser(web) as client:
        headers = client.get(path).headers

    assert headers["content-security-policy"].startswith("default-src 'self'; ")
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "same-origin"


def test_pages_are_not_kept_and_files_are(client: TestClient) -> None:
    """A job changes on another device; a style sheet changes its address when it changes."""
    page = client.get("/")
    address = page.text.split('rel="stylesheet" href="')[1].split('"')[0]

    assert page.headers["cache-control"] == "no-store"
    assert "immutable" in client.get(address).headers["cache-control"]


def test_a_failure_tells_nothing_of_the_inside(web: FastAPI) -> None:
    """The page says that the program failed; what failed is for the log."""

    @web.get("/broken")
    def broken() -> None:
        raise RuntimeError("secret of the inside")

    with browser(web) as client:
        answer = client.get("/broken")

    assert (answer.status_code, "secret" in answer.text) == (500, False)
    assert "The program itself failed" in answer.text


@pytest.mark.parametrize(
    "name", ["..%2fapp.py", "%2e%2e/app.py", ".hidden", "nothing.css", "ullage.css%00"]
)
def test_only_files_of_the_pages_are_handed_out(client: TestClient, name: str) -> None:
    """No path leads out of the folder."""
    assert client.get(f"/static/{name}").status_code == 404


@pytest.mark.parametrize("address", ["192.168.1.20", "10.0.0.7", "fd00::7", "169.254.3.4"])
def test_an_address_of_the_local_network_may_be_opened(address: str) -> None:
    """Private and link-local ones."""
    assert checked_address(address) == address


@pytest.mark.parametrize(
    "address", ["0.0.0.0", "::", "8.8.8.8", "127.0.0.1", "224.0.0.1", "bay.local", ""]
)
def test_other_addresses_are_refused(address: str) -> None:
    """All interfaces at once, the internet, and what is no address."""
    with pytest.raises(OutOfRange, match=r"192\.168\.1\.20|internet"):
        Door(port=PORT, lan=address)


def test_the_address_of_the_network_is_a_host_where_it_is_open() -> None:
    """With brackets where it has colons."""
    assert f"[fd00::7]:{PORT}" in Door(port=PORT, lan="fd00::7").hosts
    assert f"{LAN}:{PORT}" not in Door(port=PORT).hosts
