"""The page of a job: next thing on top, seven sections, the one in hand open."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType

import pytest
from fastapi import APIRouter, FastAPI, Request, Response
from jinja2 import ChoiceLoader, DictLoader
from starlette.testclient import TestClient

from tests.unit.web.conftest import PORT, browser
from ullage.jobs.event import Kind
from ullage.jobs.job import Job, JobHead
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES, Stage
from ullage.web import stages
from ullage.web.app import create_app
from ullage.web.desk import Here, templates
from ullage.web.door import Door
from ullage.web.forms import Typed
from ullage.web.job_page import job_page
from ullage.wiring import App


@pytest.fixture
def bare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the modules of the stages: this file is about the page around them."""
    monkeypatch.setattr(stages, "MODULES", {})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Section:
    text: str


def _finish(desk: Desk, job_id: str, *stages: Stage) -> None:
    for stage in stages:
        payload = {"stage": stage.value, "state": "finished", "result": f"{stage.value} result"}
        log(desk, job_id, Kind.STAGE, payload)


def _parts(page: str) -> dict[str, str]:
    return dict(re.findall(r'<section class="part ([a-z-]+)" id="(\w+)"', page))


@pytest.mark.usefixtures("bare")
def test_the_next_thing_and_who_does_it_stand_on_top(client: TestClient, job: JobHead) -> None:
    """Before any section."""
    page = client.get(f"/jobs/{job.id}").text
    head = page.split("<section")[0]

    assert "Next, at the reservoir" in head
    assert "Write down how the machine was found, before anything moves." in head


@pytest.mark.usefixtures("bare")
def test_each_stage_says_how_far_it_has_come(client: TestClient, desk: Desk, job: JobHead) -> None:
    """A finished one shows its result, one to come what it waits for; the tube tells it too."""
    _finish(desk, job.id, *STAGES[:3])

    page = client.get(f"/jobs/{job.id}").text
    found = re.findall(r'<section class="part ([a-z-]+)"', page)

    assert found == ["finished"] * 3 + ["in-hand"] + ["to-come"] * 3
    assert "plan result" in page
    assert "waits for refit" in page
    assert 'aria-label="Stage 4 of 7: exchange"' in page


@pytest.mark.usefixtures("bare")
def test_a_closed_job_has_nothing_next(client: TestClient, desk: Desk, job: JobHead) -> None:
    """All folded, each with its result."""
    _finish(desk, job.id, *STAGES)

    page = client.get(f"/jobs/{job.id}").text

    assert "Nothing: the record is filed." in page
    assert page.count("<details>") == 7


@pytest.mark.usefixtures("bare")
def test_a_finished_stage_is_reopened(client: TestClient, desk: Desk, job: JobHead) -> None:
    """Sent twice it is reopened once; what is not finished can't be."""
    _finish(desk, job.id, Stage.ASSESS)
    address = f"/jobs/{job.id}/reopen/assess"

    first = client.post(address, data={"uid": "00000000000a"})
    second = client.post(address, data={"uid": "00000000000a"})

    assert first.url.path == f"/jobs/{job.id}"
    assert second.status_code == 409
    assert load_job(desk, job.id).stage is Stage.ASSESS


@pytest.mark.usefixtures("bare")
def test_an_entry_is_taken_back(client: TestClient, desk: Desk, job: JobHead) -> None:
    """It no longer counts, and is still in the log."""
    event = log(desk, job.id, Kind.NOTE, {"note": "wrong"})

    client.post(f"/jobs/{job.id}/take-back", data={"event": event.uid, "stage": "assess"})

    assert load_job(desk, job.id).of(Kind.NOTE) == ()
    assert [event.kind for event in desk.store.events(job.id)] == [Kind.NOTE, Kind.UNDONE]


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Plug in a module for one stage, as anybody would: a module, a template, a line."""
    module = ModuleType("stage_for_this_test")
    router = APIRouter()

    def section_of(desk: Desk, job: Job, typed: Typed | None) -> _Section:
        return _Section(text=typed.text("goal") if typed else f"seq {job.seq}")

    @router.post("/jobs/{job_id}/plan/goal")
    def goal(request: Request, desk: Here, job_id: str) -> Response:
        typed = Typed(texts={"goal": "typed <b>"})
        return job_page(request, desk, job_id, typed={Stage.PLAN: typed}, status=422)

    module.section_of = section_of  # type: ignore[attr-defined]
    module.router = router  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setattr(stages, "MODULES", {Stage.PLAN: module.__name__})
    monkeypatch.setattr("ullage.web.app.MODULES", {Stage.PLAN: module.__name__})
    loader = templates().loader
    assert loader is not None
    own = DictLoader({"sections/plan.html": "<p>Shown: {{ section.text }}</p>"})
    monkeypatch.setattr(templates(), "loader", ChoiceLoader([own, loader]))
    yield
    assert templates().cache is not None
    templates().cache.clear()


@pytest.fixture
def planned_web(planned: None, app: App) -> FastAPI:
    """Return the app with that module."""
    return create_app(app, Door(port=PORT))


def test_a_stage_shows_what_its_module_gives(
    planned_web: FastAPI, desk: Desk, job: JobHead
) -> None:
    """Once it is in hand; while it is to come it is a line."""
    with browser(planned_web) as client:
        before = client.get(f"/jobs/{job.id}").text
        _finish(desk, job.id, Stage.ASSESS)
        after = client.get(f"/jobs/{job.id}").text

    assert ("Shown:" in before, "Shown: seq 1" in after) == (False, True)


def test_routes_of_a_stage_answer_from_the_first_request_on(
    planned_web: FastAPI, job: JobHead
) -> None:
    """They are loaded when one of them is asked for; what was typed comes back, escaped."""
    with browser(planned_web) as client:
        answers = [client.post(f"/jobs/{job.id}/plan/goal") for _ in range(2)]
        nothing = client.post(f"/jobs/{job.id}/plan/nothing")

    assert [answer.status_code for answer in answers] == [422, 422]
    assert "Shown: typed &lt;b&gt;" in answers[0].text
    assert nothing.status_code == 404
