"""Jobs, machines, a job's page and settings, as a person with a browser finds them."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser.conftest import Served
from tests.journeys.browser.looked_at import (
    controls,
    faults_at_any_size,
    is_too_wide,
    small_targets,
    tab_order,
    violations,
)
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.event import Kind
from ullage.jobs.log import log
from ullage.jobs.open_job import open_job

pytestmark = pytest.mark.browser

_PAGES = (
    "/",
    "/?filed=yes",
    "/jobs/new",
    "/jobs/job00001",
    "/machines",
    "/machines/new",
    "/machines/van2",
    "/settings",
    "/pair",
    "/nowhere",
)


@pytest.fixture(scope="module", autouse=True)
def stocked(server: Served) -> None:
    """Put two machines on the desk, one with a job whose first stages are finished."""
    desk = server.desk
    van = add_machine(desk, Known(name="Library van 2", marks="Green stripe"), machine_id="van2")
    circuit = add_circuit(desk, van.id, template_table("levelling-van"))
    job = open_job(desk, circuit.circuit_id, job_id="job00001")
    payload = {"stage": "assess", "state": "finished", "result": "due: 61 000 km since the last"}
    log(desk, job.id, Kind.STAGE, payload)
    lift = add_machine(desk, Known(name="Yard lift 5", marks="Orange, mesh cage"))
    add_circuit(desk, lift.id, template_table("scissor-lift"))


@pytest.mark.parametrize("path", _PAGES)
def test_a_page_can_be_read_by_everybody(laptop: Page, path: str) -> None:
    """No rule of WCAG 2.2 AA is broken, nothing is too small or too wide, in all four views."""
    laptop.goto(path)

    assert faults_at_any_size(laptop) == []


@pytest.mark.parametrize("path", ["/", "/jobs/new", "/machines/van2", "/settings"])
def test_the_keyboard_reaches_everything_in_order(laptop: Page, path: str) -> None:
    """What stands first is reached first."""
    laptop.goto(path)

    assert tab_order(laptop) == controls(laptop)


def test_the_skip_link_leads_past_the_places(laptop: Page) -> None:
    """The first stop of the keyboard."""
    laptop.goto("/")
    laptop.keyboard.press("Tab")

    expect(laptop.get_by_text("To the sheet")).to_be_in_viewport()
    laptop.keyboard.press("Enter")
    laptop.keyboard.press("Tab")
    expect(laptop.locator("main a").first).to_be_focused()


def test_a_job_is_opened_on_a_new_machine_without_script(without_script: Page) -> None:
    """From the list to the page of the job, on a phone that runs no JavaScript."""
    page = without_script
    page.goto("/")
    page.get_by_role("link", name="New job").click()
    page.get_by_label("Name").fill("Loader 1")
    page.get_by_label("Running hours").check()
    page.get_by_label("Compact loader").check()
    page.get_by_role("button", name="Take it in and open the job").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Loader 1")
    expect(page.get_by_role("img", name="Stage 1 of 7: assess")).to_be_attached()


def test_a_fault_stands_beside_its_field(phone: Page) -> None:
    """What was typed is still there, and the list of faults leads to the field."""
    phone.goto("/machines/new")
    phone.get_by_label("Marks").fill("Grey, tow bar")
    phone.get_by_role("button", name="Take it in").click()

    expect(phone.get_by_label("Marks")).to_have_value("Grey, tow bar")
    expect(phone.get_by_label("Name")).to_have_accessible_description(
        "What you call it, such as Yard lift 5. Name: this is needed."
    )
    assert violations(phone) == []
    phone.get_by_role("alert").get_by_role("link", name="Name").click()
    expect(phone.get_by_label("Name")).to_be_in_viewport()


def test_a_page_moves_nothing_from_elsewhere(laptop: Page, server: Served) -> None:
    """Everything comes from the app itself: it works with no internet."""
    asked: list[str] = []
    laptop.on("request", lambda request: asked.append(request.url))

    for path in _PAGES:
        laptop.goto(path)

    assert [url for url in asked if not url.startswith(server.url)] == []


def test_a_planted_fault_would_be_found(laptop: Page) -> None:
    """The judges of this file see what they are asked to see."""
    laptop.goto("/pair")
    laptop.evaluate(
        """document.querySelector("main").innerHTML = `
        <img src="/static/icon.svg"><button class="low">Go</button>
        <p class="broad">broad</p><a href="#b" tabindex="2">b</a><a href="#a" tabindex="1">a</a>`;
        document.querySelector(".low").style.cssText = "min-height: 20px; padding: 0";
        document.querySelector(".broad").style.minWidth = "2000px";"""
    )

    assert any(line.startswith("image-alt: ") for line in violations(laptop))
    assert is_too_wide(laptop)
    assert len(small_targets(laptop)) == 1
    assert (controls(laptop)[-2:], tab_order(laptop)[:2]) == (["a b", "a a"], ["a a", "a b"])
