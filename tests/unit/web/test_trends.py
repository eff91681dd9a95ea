"""The trends of a machine on their page, and their pictures."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from starlette.testclient import TestClient

from tests.unit.jobs.served_machine import REASON, served_machine
from ullage.jobs.add_machine import Known, add_circuit, add_machine, change_machine, template_table
from ullage.jobs.event import Kind
from ullage.jobs.log import log
from ullage.jobs.machine import Counter
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.trends import What

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def machine(desk: Desk) -> str:
    """Return a van that was served four times."""
    return served_machine(desk)


def _pictures(text: str) -> list[str]:
    return re.findall(r'(?:src|srcset)="(/machines/[^"]+\.svg)"', text)


def test_every_kind_of_reading_has_charts_and_a_table(client: TestClient, machine: str) -> None:
    """Over time and over distance, wide and upright; each figure stands in a table."""
    page = client.get(f"/machines/{machine}/trends").text

    pictures = _pictures(page)
    assert len(pictures) == len(What) * 2 * 2
    assert {re.findall(r"/([a-z]+)/(?:time|distance)/", url)[0] for url in pictures} == set(What)
    for figure in ("31 % (24\u201340)", "20/18/15", "310 mg/kg", "20.8", "0.55 mg KOH/g"):
        assert figure in page


def test_every_picture_answers(client: TestClient, machine: str) -> None:
    """As a picture that may hold no script."""
    for url in _pictures(client.get(f"/machines/{machine}/trends").text):
        answer = client.get(url)
        assert (answer.status_code, answer.headers["content-type"]) == (200, "image/svg+xml")
        assert answer.headers["content-security-policy"].startswith("default-src 'none'")
        assert ET.fromstring(answer.text).tag == f"{SVG}svg"


def test_limits_say_whose_they_are(client: TestClient, machine: str) -> None:
    """On the page and on the line in the picture."""
    page = client.get(f"/machines/{machine}/trends").text
    water = next(url for url in _pictures(page) if "/water/time/wide" in url)
    words = " ".join(ET.fromstring(client.get(water).text).itertext())

    assert "500 mg/kg: limit; common practice, no source" in page
    assert "500 mg/kg: limit; common practice, no source" in words


def test_next_due_stands_with_its_reason(client: TestClient, machine: str) -> None:
    """On top, and as a moment in the charts."""
    page = client.get(f"/machines/{machine}/trends").text.replace("\u00a0", " ")
    url = next(url for url in _pictures(page) if "/acid/distance/wide" in url)

    assert "Due again by 20 April 2029 or at 232\u202f500 km, whichever comes first." in page
    assert REASON[1:] in page
    assert "due at 232\u202f500 km" in client.get(url).text


def test_readings_that_contradict_a_verdict_are_said(client: TestClient, machine: str) -> None:
    """What was only expected is not shown as measured."""
    page = client.get(f"/machines/{machine}/trends").text

    assert page.count("Expected before measuring, the readings contradict it.") == 1


def test_a_machine_with_hours_is_followed_over_hours(
    client: TestClient, desk: Desk, machine: str
) -> None:
    """By its own counter, in tables too."""
    known = Known(name="Library van 2", counter=Counter.HOURS)
    change_machine(desk, machine, known, seen_version=1)
    page = client.get(f"/machines/{machine}/trends").text

    assert "/hours/wide.svg" in page
    assert "/distance/" not in page
    assert "4650\u00a0h" in page


def test_miles_are_miles_on_charts(client: TestClient, desk: Desk, machine: str) -> None:
    """Marks, moment and table."""
    desk.store.set_setting("units.distance", "mile")
    page = client.get(f"/machines/{machine}/trends").text
    url = next(url for url in _pictures(page) if "/acid/distance/wide" in url)

    assert "86\u202f681\u00a0miles" in page
    assert "distance, miles" in client.get(url).text


def test_a_name_is_escaped_everywhere(client: TestClient, desk: Desk) -> None:
    """On the page; pictures bear no name."""
    machine = served_machine(desk, name="<b>van</b>")

    assert "<b>van" not in client.get(f"/machines/{machine}/trends").text


def test_a_machine_without_readings_says_so(client: TestClient, desk: Desk) -> None:
    """And how its trends begin."""
    machine = add_machine(desk, Known(name="Fresh"))
    none = client.get(f"/machines/{machine.id}/trends").text
    add_circuit(desk, machine.id, template_table("scissor-lift"))
    fresh = client.get(f"/machines/{machine.id}/trends").text

    assert "This machine has no circuit yet." in none
    assert "Nothing was read of it yet" in fresh


def test_a_job_without_a_counter_is_told(client: TestClient, desk: Desk, machine: str) -> None:
    """Its reading stands over time alone."""
    (circuit,) = desk.store.circuits_of(machine)
    job = open_job(desk, circuit.circuit_id).id
    log(desk, job, Kind.CONDITION, {"water_mg_kg": 90.0})
    page = client.get(f"/machines/{machine}/trends").text

    assert "stand in the chart over time alone" in page
    assert "not read" in page


def test_the_page_of_a_machine_leads_to_its_trends(client: TestClient, machine: str) -> None:
    """Once a job was opened on it."""
    assert f'href="/machines/{machine}/trends"' in client.get(f"/machines/{machine}").text


@pytest.mark.parametrize(
    "tail", ["acid/hours/wide", "acid/time/tall", "dirt/time/wide", "acid/moon/wide"]
)
def test_a_chart_that_is_none_is_not_found(
    client: TestClient, desk: Desk, machine: str, tail: str
) -> None:
    """With a page that says so, or a refusal of the address."""
    (circuit,) = desk.store.circuits_of(machine)
    answer = client.get(f"/machines/{machine}/trends/{circuit.circuit_id}/{tail}.svg")

    assert answer.status_code in (404, 422)
