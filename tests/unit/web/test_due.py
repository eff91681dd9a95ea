"""What is due on its page: order, words, counters in the person's units, pages of the list."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.fakes.desk import START
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.event import Kind
from ullage.jobs.log import log
from ullage.jobs.machine import CounterReading
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES
from ullage.web.screens import due as due_screen


def _served(desk: Desk, name: str, *readings: tuple[float, float], **due: Any) -> str:
    """Put a machine on the desk whose last job says when it is due again."""
    machine = add_machine(desk, Known(name=name))
    circuit = add_circuit(desk, machine.id, template_table("levelling-van"))
    job = open_job(desk, circuit.circuit_id).id
    log(desk, job, Kind.NEXT_DUE, {"reason": "the interval in time", **due})
    for stage in STAGES:
        log(desk, job, Kind.STAGE, {"stage": stage.value, "state": "finished"})
    for days_ago, km in readings:
        desk.store.add_counter_reading(
            CounterReading(
                machine_id=machine.id,
                job_id=job,
                read_at=START - timedelta(days=days_ago),
                distance_m=km * 1e3,
            )
        )
    return machine.id


def _plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_overdue_comes_first_and_never_served_last(client: TestClient, desk: Desk) -> None:
    """Under headings, each with its reason."""
    add_machine(desk, Known(name="No circuit"))
    add_circuit(desk, add_machine(desk, Known(name="Fresh")).id, template_table("levelling-van"))
    _served(desk, "Later", on="2027-01-01")
    _served(desk, "Over", on="2026-03-01")
    page = client.get("/due").text

    names = ("Overdue", ">Over<", "To come", ">Later<", "Never served", ">Fresh<", ">No circuit<")
    places = [page.index(name) for name in names]
    assert places == sorted(places)
    assert "Was due by 1 March 2026." in page
    assert "Due by 1 January 2027." in page
    assert "One exchange is overdue." in page
    assert page.count("The interval in time.") == 2
    assert "It has no circuit yet." in page


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        ((), "Due at 51 000 km; nobody read its counter yet."),
        (
            ((2.0, 50_000.0),),
            "Due at 51 000 km; it showed 50 000 km on 2 May 2026, and one reading makes no pace.",
        ),
        (
            ((100.0, 40_000.0), (0.0, 50_000.0)),
            "Due at 51 000 km, about 14 May 2026 at 100 km a day; it showed 50 000 km on "
            "4 May 2026.",
        ),
        (
            ((120.0, 40_000.0), (20.0, 50_000.0)),
            "Due at 51 000 km, which it reached about 24 April 2026 if it went on at 100 km a "
            "day: read its counter; it showed 50 000 km on 14 April 2026.",
        ),
        (
            ((100.0, 40_000.0), (0.0, 51_500.0)),
            "Was due at 51 000 km: it showed 51 500 km on 4 May 2026.",
        ),
    ],
)
def test_a_distance_is_told_with_what_is_known_of_it(
    client: TestClient, desk: Desk, readings: tuple[tuple[float, float], ...], expected: str
) -> None:
    """Mark, day, pace and the last reading: no more than can be known."""
    _served(desk, "Van", *readings, distance_km=51_000.0)

    assert expected in _plain(client.get("/due").text)


def test_distances_are_told_in_miles_where_chosen(client: TestClient, desk: Desk) -> None:
    """Marks and paces alike."""
    desk.store.set_setting("units.distance", "mile")
    _served(desk, "Van", (100.0, 40_000.0), (0.0, 50_000.0), distance_km=51_000.0)
    page = _plain(client.get("/due").text)

    assert "Due at 31 690 miles" in page
    assert "62.1 miles a day" in page


def test_a_job_in_hand_is_said_and_led_to(client: TestClient, desk: Desk) -> None:
    """Instead of the machine."""
    machine = _served(desk, "Van", on="2026-03-01")
    (circuit,) = desk.store.circuits_of(machine)
    job = open_job(desk, circuit.circuit_id).id
    page = client.get("/due").text

    assert f'href="/jobs/{job}"' in page
    assert "A job is in hand." in page


def test_a_long_list_has_pages(
    client: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each with the ways to its neighbours; a search keeps to its finds."""
    monkeypatch.setattr(due_screen, "ON_A_PAGE", 2)
    for number in range(5):
        add_machine(desk, Known(name=f"Lift {number}"))
    middle = client.get("/due?q=lift&page=2").text

    assert [f"Lift {n}<" in middle for n in range(5)] == [False, False, True, True, False]
    assert 'href="/due?q=lift"' in middle
    assert 'href="/due?q=lift&amp;page=3"' in middle
    assert "Page 2 of 3." in middle


def test_a_name_is_escaped(client: TestClient, desk: Desk) -> None:
    """As is a search that finds nothing."""
    add_machine(desk, Known(name="<b>van</b>"))

    assert "<b>van" not in client.get("/due").text
    assert "<i>" not in client.get("/due?q=%3Ci%3E").text


def test_the_list_of_jobs_leads_to_what_is_due(client: TestClient) -> None:
    """Since the place is there."""
    assert 'href="/due">What is due</a>' in client.get("/").text
