"""Settings: units, prices, and photos that are kept with a job."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from PIL import Image
from starlette.testclient import TestClient

from tests.unit.web.conftest import LAN, PORT, browser
from ullage.jobs.add_machine import Known, add_machine
from ullage.jobs.event import Kind
from ullage.jobs.job import JobHead
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.prices import PRICES, kept_prices, prices_of
from ullage.web.app import create_app
from ullage.web.door import Door
from ullage.web.shown import Units, units_of
from ullage.wiring import open_app

_UNITS = {"volume": "us_qt", "temperature": "degf", "pressure": "psi", "distance": "mile"}
_PRICES = {**dict.fromkeys(PRICES, "2.5"), "currency": "GBP"}


def _photo() -> bytes:
    """Return a small picture."""
    file = io.BytesIO()
    Image.new("RGB", (40, 20), (200, 150, 90)).save(file, "JPEG")
    return file.getvalue()


def test_units_are_chosen(client: TestClient, desk: Desk) -> None:
    """And stay chosen."""
    page = client.post("/settings/units", data=_UNITS).text

    assert units_of(desk.store.settings()) == Units(**_UNITS)
    assert page.count('" checked>') == 4


def test_a_unit_that_is_no_choice_is_refused(client: TestClient, desk: Desk) -> None:
    """Nothing of the form is kept."""
    answer = client.post("/settings/units", data={**_UNITS, "volume": "bucket"})

    assert (answer.status_code, desk.store.settings()) == (422, {})


def test_prices_are_kept_and_reckoned_with(client: TestClient, desk: Desk) -> None:
    """Per litre on the page, per cubic metre inside."""
    client.post("/settings/prices", data=_PRICES)

    prices = prices_of(desk.store.settings())
    assert prices.fluid_per_m3 == pytest.approx(2500.0)
    assert prices.labour_per_s * 3600.0 == pytest.approx(2.5)
    assert prices.currency == "GBP"


@pytest.mark.parametrize("wrong", [{"filter_each": "-1"}, {"currency": "pounds"}])
def test_a_price_that_is_none_is_refused(
    client: TestClient, desk: Desk, wrong: dict[str, str]
) -> None:
    """All or none are kept."""
    answer = client.post("/settings/prices", data={**_PRICES, **wrong})

    assert (answer.status_code, desk.store.settings()) == (422, {})


def test_prices_begin_with_invented_ones(client: TestClient) -> None:
    """The page says so."""
    assert kept_prices({})["fluid_per_litre"] == 9.0
    assert "invented" in client.get("/settings").text


def test_a_photo_is_kept_with_a_job_and_shown(client: TestClient, desk: Desk, job: JobHead) -> None:
    """Sent twice it is told once; the original comes back byte by byte, as a file."""
    data = _photo()
    sent = {"uid": "00000000000a", "stage": "assess", "note": "left rear"}
    for _ in range(2):
        client.post(
            f"/jobs/{job.id}/photos", data=sent, files={"photo": ("a.jpg", data, "image/jpeg")}
        )

    (event,) = load_job(desk, job.id).of(Kind.PHOTO)
    sha256 = event.payload["sha256"]
    shown = client.get(f"/photos/{sha256}")
    original = client.get(f"/photos/{sha256}/original")

    assert event.payload["stage"] == "assess"
    assert shown.headers["content-type"] == "image/jpeg"
    assert original.content == data
    assert original.headers["content-disposition"].startswith("attachment")
    assert "sandbox" in original.headers["content-security-policy"]


def test_what_is_no_picture_is_refused(client: TestClient, desk: Desk, job: JobHead) -> None:
    """By its content, whatever it is called."""
    files = {"photo": ("a.jpg", b"<svg onload='alert(1)'/>", "image/jpeg")}

    answer = client.post(f"/jobs/{job.id}/photos", data={"uid": "00000000000a"}, files=files)

    assert answer.status_code == 422
    assert load_job(desk, job.id).of(Kind.PHOTO) == ()


def test_a_form_without_a_file_says_so(client: TestClient, job: JobHead) -> None:
    """Browsers send an empty one."""
    files = {"photo": ("", b"", "application/octet-stream")}

    answer = client.post(f"/jobs/{job.id}/photos", data={"uid": "00000000000a"}, files=files)

    assert answer.status_code == 422


@pytest.fixture
def kept_web(tmp_path: Path) -> Iterator[FastAPI]:
    """Return the app with a real folder of data."""
    with open_app(tmp_path) as app:
        yield create_app(app, Door(port=PORT, lan=LAN))


def test_a_backup_brings_everything_back(kept_web: FastAPI) -> None:
    """What came after it is gone from the store and kept beside it."""
    desk = kept_web.state.ullage.desk
    add_machine(desk, Known(name="Library van 2"))
    with browser(kept_web) as client:
        backup = client.post("/settings/backup")
        add_machine(desk, Known(name="Loader 1"))
        page = client.post(
            "/settings/restore",
            data={"sure": "yes"},
            files={"backup": ("a.ullage-backup", backup.content)},
        )

    assert "attachment" in backup.headers["content-disposition"]
    assert "Restored: 0 jobs and 0 photos." in page.text
    assert [machine.name for machine in desk.store.machines()] == ["Library van 2"]
    data: Path = kept_web.state.ullage.data
    assert len(list(data.glob("before-restore-*"))) == 1
    assert list(data.glob(".*")) == []


@pytest.mark.parametrize(
    ("form", "files", "part"),
    [
        ({"sure": "yes"}, {"backup": ("a", b"PK not really")}, "The file is no backup"),
        ({"sure": "yes"}, {}, "Choose the file"),
        ({}, {"backup": ("a", b"x")}, "this is needed"),
    ],
)
def test_what_is_no_backup_changes_nothing(
    kept_web: FastAPI, form: dict[str, str], files: dict[str, tuple[str, bytes]], part: str
) -> None:
    """Said beside the form."""
    desk = kept_web.state.ullage.desk
    add_machine(desk, Known(name="Library van 2"))
    with browser(kept_web) as client:
        answer = client.post("/settings/restore", data=form, files=files)

    assert (answer.status_code, part in answer.text) == (422, True)
    assert len(desk.store.machines()) == 1


def test_a_device_hands_out_no_backup(kept_web: FastAPI) -> None:
    """A lost phone must not carry everything away."""
    pairing = kept_web.state.pairing
    given = pairing.let_in(pairing.new_code().digits, "Bay phone")
    with browser(kept_web, at="192.168.1.77", host=f"http://{LAN}:{PORT}") as phone:
        phone.cookies.set("ullage_device", given)

        assert phone.get("/settings").url.path == "/settings"
        assert phone.post("/settings/backup").status_code == 403
        assert phone.post("/settings/restore", data={"sure": "yes"}).status_code == 403
