"""Settings: units, prices, and photos that are kept with a job."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from starlette.testclient import TestClient

from ullage.jobs.event import Kind
from ullage.jobs.job import JobHead
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.prices import PRICES, kept_prices, prices_of
from ullage.web.shown import Units, units_of

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
    assert page.count(" checked") == 4


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
