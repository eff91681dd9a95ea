"""A device is let in by a code that counts once, for five minutes and five tries."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from itsdangerous import Signer
from starlette.testclient import TestClient

from tests.fakes.desk import TickingClock
from tests.unit.web.conftest import LAN, PORT, browser
from ullage.errors import OutOfRange
from ullage.jobs.ports import Desk
from ullage.web.pairing import COOKIE, Pairing, kept_secret

_AT_LAN = f"http://{LAN}:{PORT}"


def _phone(web: FastAPI) -> TestClient:
    return browser(web, at="192.168.1.77", host=_AT_LAN)


@pytest.fixture
def phone(open_web: FastAPI) -> Iterator[TestClient]:
    """Return a phone in the network that was not let in."""
    with _phone(open_web) as found:
        yield found


def _code(web: FastAPI) -> str:
    """Ask at the computer for a code, and read it off the page."""
    with browser(web) as computer:
        page = computer.post("/settings/code").text
    return page.split('aria-label="Code ')[1].split('"')[0]


def _pair(phone: TestClient, code: str, name: str = "Bay phone") -> int:
    answer = phone.post("/pair", data={"code": code, "name": name}, follow_redirects=False)
    return answer.status_code


def test_a_device_with_the_code_is_let_in(open_web: FastAPI, phone: TestClient) -> None:
    """From then on it sees the jobs."""
    assert _pair(phone, _code(open_web)) == 303

    assert phone.get("/").url.path == "/"


def test_a_pass_is_out_of_reach_of_scripts_and_other_sites(
    open_web: FastAPI, phone: TestClient
) -> None:
    """The cookie says so itself."""
    code = _code(open_web)

    answer = phone.post("/pair", data={"code": code, "name": "x"}, follow_redirects=False)

    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "path=/;" in cookie


@pytest.mark.parametrize("path", ["/", "/jobs/new", "/machines", "/settings", "/nowhere"])
def test_a_device_without_a_pass_is_led_to_the_code(phone: TestClient, path: str) -> None:
    """Every page but that one and the files it uses."""
    answer = phone.get(path, follow_redirects=False)

    assert (answer.status_code, answer.headers["location"]) == (303, "/pair")


def test_a_device_without_a_pass_changes_nothing(
    open_web: FastAPI, phone: TestClient, desk: Desk
) -> None:
    """A form is refused with a sentence, not led elsewhere with its content lost silently."""
    answer = phone.post("/settings/units", data={"volume": "us_qt"})

    assert (answer.status_code, "not kept" in answer.text) == (401, True)
    assert desk.store.settings() == {}


def test_the_files_of_the_pairing_page_need_no_pass(phone: TestClient) -> None:
    """Else it could not be read."""
    page = phone.get("/pair").text
    address = page.split('rel="stylesheet" href="')[1].split('"')[0]

    assert phone.get(address).status_code == 200


def test_the_computer_itself_needs_no_pass(open_web: FastAPI) -> None:
    """Who sits at it could read the data folder anyway."""
    with browser(open_web) as computer:
        assert computer.get("/").url.path == "/"


def test_a_code_counts_once(open_web: FastAPI, phone: TestClient) -> None:
    """A second device needs a code of its own."""
    code = _code(open_web)
    _pair(phone, code)

    with _phone(open_web) as other:
        assert _pair(other, code) == 422


def test_five_wrong_codes_use_it_up(open_web: FastAPI, phone: TestClient) -> None:
    """Then the right one no longer counts, and the page says how many tries were left before."""
    code = _code(open_web)
    wrong = f"{(int(code.replace(' ', '')) + 1) % 10**8:08d}"

    pages = [phone.post("/pair", data={"code": wrong, "name": "x"}).text for _ in range(5)]

    assert "4 tries are left" in pages[0]
    assert "1 try is left" in pages[3]
    assert "no longer counts" in pages[4]
    assert _pair(phone, code) == 422


def test_a_code_is_void_after_five_minutes(
    open_web: FastAPI, phone: TestClient, desk: Desk
) -> None:
    """To the second."""
    code = _code(open_web)
    assert isinstance(desk.now, TickingClock)
    desk.now.at += timedelta(minutes=5)

    assert _pair(phone, code) == 422


def test_a_new_code_replaces_the_one_before(open_web: FastAPI, phone: TestClient) -> None:
    """Only one counts at a time."""
    first = _code(open_web)
    second = _code(open_web)

    assert (_pair(phone, first), _pair(phone, second)) == (422, 303)


def test_without_a_code_nobody_is_let_in(phone: TestClient) -> None:
    """Not with any digits, nor with none."""
    assert [_pair(phone, code) for code in ("00000000", "", "١٢٣٤٥٦٧٨")] == [422, 422, 422]


def test_a_link_alone_lets_nobody_in(open_web: FastAPI, phone: TestClient, desk: Desk) -> None:
    """A picture code only fills in the form: what fetches links ahead must not use it up."""
    digits = _code(open_web).replace(" ", "")

    page = phone.get(f"/pair?code={digits}")

    assert f'value="{digits}"' in page.text
    assert desk.store.devices() == ()


def test_a_device_that_was_struck_out_is_out(
    open_web: FastAPI, phone: TestClient, desk: Desk
) -> None:
    """From the next request on; it stays in the list, struck out."""
    _pair(phone, _code(open_web))
    (device,) = desk.store.devices()

    with browser(open_web) as computer:
        page = computer.post(f"/settings/devices/{device.id}/strike-out").text

    assert "struck out" in page
    assert phone.get("/").url.path == "/pair"


def test_a_device_neither_makes_codes_nor_strikes_out(
    open_web: FastAPI, phone: TestClient, desk: Desk
) -> None:
    """A lost phone must not let in another one, nor lock the others out."""
    _pair(phone, _code(open_web))
    (device,) = desk.store.devices()

    statuses = [
        phone.post("/settings/code").status_code,
        phone.post(f"/settings/devices/{device.id}/strike-out").status_code,
    ]

    assert statuses == [403, 403]
    assert desk.store.devices()[0].revoked_at is None


def test_a_code_is_shown_at_the_computer_alone(open_web: FastAPI, phone: TestClient) -> None:
    """A device that is in does not see it."""
    _pair(phone, _code(open_web))
    code = _code(open_web)

    assert code not in phone.get("/settings").text


@pytest.mark.parametrize("forged", ["", "id0001", "id0001.AAAA", "id0001.\xff", "a=b; c"])
def test_a_forged_pass_is_none(open_web: FastAPI, phone: TestClient, forged: str) -> None:
    """Only what we signed counts."""
    _pair(phone, _code(open_web))
    phone.cookies.clear()

    answer = phone.get("/", headers={"cookie": f"{COOKIE}={forged}".encode("latin-1")})

    assert answer.url.path == "/pair"


def test_a_pass_signed_with_another_secret_is_none(desk: Desk, open_web: FastAPI) -> None:
    """A pass of another data folder, or of one whose secret was deleted."""
    given = Signer(b"another secret", salt="ullage.device").sign("id0001").decode()

    assert open_web.state.pairing.device_of(f"{COOKIE}={given}") is None


def test_a_pass_ends_after_a_year(desk: Desk) -> None:
    """Also if the device keeps the cookie for longer."""
    pairing = Pairing(desk, b"secret")
    given = pairing.let_in(pairing.new_code().digits, "Bay phone")
    assert isinstance(desk.now, TickingClock)
    desk.now.at += timedelta(days=366)

    assert pairing.device_of(f"{COOKIE}={given}") is None


def test_when_a_device_was_seen_is_kept_to_the_minute(desk: Desk) -> None:
    """Not written at every request."""
    pairing = Pairing(desk, b"secret")
    cookie = f"{COOKIE}={pairing.let_in(pairing.new_code().digits, 'Bay phone')}"
    paired_at = desk.store.devices()[0].paired_at

    pairing.device_of(cookie)
    soon = desk.store.devices()[0].seen_at
    assert isinstance(desk.now, TickingClock)
    desk.now.at += timedelta(minutes=2)
    pairing.device_of(cookie)

    assert soon == paired_at
    assert desk.store.devices()[0].seen_at > paired_at + timedelta(minutes=2)


def test_the_secret_is_made_once_and_kept_from_others(tmp_path: Path) -> None:
    """Mode 600, and the same after a restart."""
    first = kept_secret(tmp_path)
    (tmp_path / "secret").chmod(0o644)

    assert kept_secret(tmp_path) == first
    assert stat.S_IMODE((tmp_path / "secret").stat().st_mode) == 0o600


def test_a_secret_that_was_cut_short_is_refused(tmp_path: Path) -> None:
    """An empty file would sign for everybody."""
    (tmp_path / "secret").write_bytes(b"")

    with pytest.raises(OutOfRange, match="delete it"):
        kept_secret(tmp_path)


def test_the_page_says_that_http_can_be_listened_to(open_web: FastAPI) -> None:
    """Where the network is opened, and where it may be opened."""
    with browser(open_web) as computer:
        assert "can be listened to" in computer.get("/settings").text
