"""The list of jobs, the way to a new one, and the pages of machines."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.event import Kind
from ullage.jobs.job import JobHead
from ullage.jobs.log import log
from ullage.jobs.machine import CounterReading
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES, Stage

_NEW = {"name": "Yard lift 5", "counter": "hours", "template": "scissor-lift"}


def _open(desk: Desk, name: str, *finished: Stage) -> str:
    """Open a job on a machine of its own and finish some of its stages."""
    machine = add_machine(desk, Known(name=name))
    circuit = add_circuit(desk, machine.id, template_table("levelling-van"))
    job_id = open_job(desk, circuit.circuit_id).id
    for stage in finished:
        log(desk, job_id, Kind.STAGE, {"stage": stage.value, "state": "finished", "result": "done"})
    return job_id


def _titles(page: str) -> list[str]:
    return re.findall(r'<span class="name">([^<]*)</span>', page)


def test_what_has_to_happen_first_stands_on_top(client: TestClient, desk: Desk) -> None:
    """A machine with its diverter in goes before one that is looked at."""
    _open(desk, "Loader 1")
    _open(desk, "Library van 2", *STAGES[:3])

    assert _titles(client.get("/").text) == ["Library van 2", "Loader 1"]


def test_a_line_has_stage_next_step_and_who(client: TestClient, job: JobHead) -> None:
    """In words."""
    page = client.get("/").text

    assert "Assess" in page
    assert "Write down how the machine was found" in page
    assert "at the reservoir" in page


def test_a_filed_job_stands_in_the_other_list(client: TestClient, desk: Desk) -> None:
    """Out of the way, and findable."""
    _open(desk, "Library van 1", *STAGES)

    assert _titles(client.get("/").text) == []
    assert _titles(client.get("/?filed=yes").text) == ["Library van 1"]


def test_a_job_is_found_by_a_part_of_its_machine(client: TestClient, desk: Desk) -> None:
    """In any case of letters; a search without a find says so."""
    _open(desk, "Loader 1")
    _open(desk, "Library van 2")

    assert _titles(client.get("/?q=LOAD").text) == ["Loader 1"]
    assert "No job with \u201ccrane\u201d is in hand." in client.get("/?q=crane").text


def test_a_long_list_has_pages(client: TestClient, desk: Desk) -> None:
    """Fifty lines a page; a page behind the last one is the last one."""
    for number in range(51):
        _open(desk, f"Van {number:02d}")

    first, last = client.get("/").text, client.get("/?page=9").text

    assert len(_titles(first)) == 50
    assert 'href="/?page=2"' in first
    assert (len(_titles(last)), "Page 2 of 2" in last) == (1, True)


def test_names_are_escaped(client: TestClient, desk: Desk) -> None:
    """What somebody typed is text, wherever it is shown."""
    _open(desk, "<script>alert(1)</script>")

    for path in ("/", "/machines", "/jobs/new"):
        page = client.get(path).text
        assert ("<script>" in page, "&lt;script&gt;" in page) == (False, True)


def test_a_job_is_opened_on_a_machine_that_is_here(client: TestClient, desk: Desk) -> None:
    """By its button, and sent twice it is the same job."""
    machine = add_machine(desk, Known(name="Loader 1"))
    add_circuit(desk, machine.id, template_table("compact-loader"))
    form = client.get("/jobs/new").text
    sent = dict(re.findall(r'name="(uid|circuit)" value="([^"]+)"', form))

    addresses = [client.post("/jobs", data=sent).url.path for _ in range(2)]

    assert addresses == [f"/jobs/{sent['uid']}"] * 2
    assert desk.store.count_jobs() == 1


def test_a_circuit_with_an_open_job_leads_to_it(client: TestClient, job: JobHead) -> None:
    """Instead of opening a second one."""
    page = client.get("/jobs/new").text

    assert (f'href="/jobs/{job.id}"' in page, "Open job</button>" in page) == (True, False)


def test_a_second_job_on_a_circuit_is_refused(client: TestClient, job: JobHead) -> None:
    """Also where an old page still has the button."""
    sent = {"uid": "00000000000a", "circuit": job.circuit_id}

    answer = client.post("/jobs", data=sent)

    assert (answer.status_code, "is open already" in answer.text) == (409, True)


def test_a_new_machine_comes_with_a_circuit_and_a_job(client: TestClient, desk: Desk) -> None:
    """One form, sent twice, is one machine and one job."""
    form = {**_NEW, "uid": "00000000000b"}

    answers = [client.post("/jobs/new", data=form) for _ in range(2)]

    assert [answer.url.path for answer in answers] == ["/jobs/00000000000b"] * 2
    assert [machine.name for machine in desk.store.machines()] == ["Yard lift 5"]


@pytest.mark.parametrize("path", ["/jobs/new", "/machines/new"])
def test_a_form_with_a_fault_comes_back_as_it_was(client: TestClient, path: str) -> None:
    """With 422, a sentence beside the field, and all that was typed."""
    answer = client.post(path, data={"marks": "orange", "counter": "hours"})

    assert answer.status_code == 422
    assert 'value="orange"' in answer.text
    assert 'value="hours" checked' in answer.text
    assert answer.text.count("this is needed") == 2
    assert 'aria-describedby="name-hint name-fault" aria-invalid="true"' in answer.text


def test_a_name_that_is_taken_is_told_in_the_form(client: TestClient, job: JobHead) -> None:
    """The form is kept; nothing is taken in twice."""
    answer = client.post("/machines/new", data={**_NEW, "name": "library VAN 2"})

    assert (answer.status_code, "kept already" in answer.text) == (422, True)


def test_a_machine_shows_what_is_known_of_it(client: TestClient, desk: Desk, job: JobHead) -> None:
    """Marks, counter, circuits and jobs, in the units of Settings."""
    reading = CounterReading(
        machine_id="van2", job_id=job.id, read_at=desk.now(), distance_m=184_212e3
    )
    desk.store.add_counter_reading(reading)
    client.post(
        "/settings/units",
        data={"volume": "l", "temperature": "degc", "pressure": "bar", "distance": "mile"},
    )

    page = client.get("/machines/van2").text

    assert "green stripe" in page
    assert "114\u202f464\u00a0miles" in page
    assert "Mobile library van, four-corner parking leveller" in page
    assert f'href="/jobs/{job.id}"' in page


def test_a_machine_is_changed(client: TestClient, desk: Desk, job: JobHead) -> None:
    """And its version goes up."""
    form = {"name": "Library van 3", "marks": "", "counter": "none", "version": "1"}

    client.post("/machines/van2", data=form)

    machine = desk.store.machine("van2")
    assert (machine.name, machine.marks, machine.version) == ("Library van 3", "", 2)


def test_who_saves_an_older_version_is_told(client: TestClient, desk: Desk, job: JobHead) -> None:
    """What they typed is kept, and a second save goes by what they then saw."""
    client.post("/machines/van2", data={"name": "Van two", "counter": "none", "version": "1"})

    late = {"name": "Coach 2", "counter": "hours", "version": "1"}
    answer = client.post("/machines/van2", data=late)

    assert answer.status_code == 409
    assert "Somebody else changed this machine meanwhile; it is now called" in answer.text
    assert 'value="Coach 2"' in answer.text
    assert 'name="version" value="2"' in answer.text
    assert desk.store.machine("van2").name == "Van two"


def test_a_machine_is_given_another_circuit(client: TestClient, desk: Desk, job: JobHead) -> None:
    """Sent twice it is one, and jobs are then named by both."""
    form = {"template": "wheel-brakes", "uid": "00000000000c"}
    for _ in range(2):
        client.post("/machines/van2/circuits", data=form)

    circuits = desk.store.circuits_of("van2")
    assert [circuit.name for circuit in circuits] == [
        "County van, hydraulic wheel brakes",
        "Mobile library van, four-corner parking leveller",
    ]
    assert open_job(desk, circuits[0].circuit_id).title.startswith("Library van 2: County van")


@pytest.mark.parametrize("path", ["/jobs/none", "/machines/none", "/photos/0", "/nowhere"])
def test_what_is_not_there_is_told_on_a_page(client: TestClient, path: str) -> None:
    """With a way on."""
    answer = client.get(path)

    assert answer.status_code in (404, 422)
    assert 'href="/"' in answer.text
