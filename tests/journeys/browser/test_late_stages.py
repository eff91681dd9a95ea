"""A job on the van from its exchange to its record, on a phone, in gloves, without a mouse."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser.conftest import Served
from tests.journeys.browser.looked_at import (
    controls,
    is_too_wide,
    small_targets,
    tab_order,
    violations,
)
from tests.unit.jobs.van_job import closed, exchanged, prepared, proved, refitted, with_shelf
from ullage.jobs.log import load_job
from ullage.jobs.stage import Stage

pytestmark = pytest.mark.browser

#: A verdict takes seconds, more on a machine that is busy with other things.
_VERDICT_MS = 90_000
_STAGES = {
    "exchange": prepared,
    "refit": exchanged,
    "prove": refitted,
    "record": proved,
    "filed": closed,
}


@pytest.fixture(scope="module")
def jobs(server: Served) -> dict[str, str]:
    """Put a job at each late stage on the desk, each on a van of its own."""
    return {name: bring(server.desk, van=f"Van at {name}") for name, bring in _STAGES.items()}


def _unfold(page: Page, stage: str) -> None:
    """Open everything that is folded in a stage, so that it is looked at as well."""
    page.locator(f"#{stage} details").evaluate_all("(all) => all.forEach((it) => it.open = true)")


@pytest.mark.parametrize("name", ["exchange", "refit", "prove", "record"])
def test_a_late_stage_can_be_read_by_everybody(view: Page, jobs: dict[str, str], name: str) -> None:
    """No rule of WCAG 2.2 AA is broken, everything unfolded, in all four views."""
    view.goto(f"/jobs/{jobs[name]}")
    _unfold(view, name)

    assert violations(view) == []
    assert (is_too_wide(view), small_targets(view)) == (False, [])


@pytest.mark.parametrize("tail", ["record", "label"])
def test_paper_can_be_read_by_everybody(view: Page, jobs: dict[str, str], tail: str) -> None:
    """On a screen as well."""
    view.goto(f"/jobs/{jobs['filed']}/{tail}")

    assert violations(view) == []
    assert (is_too_wide(view), small_targets(view)) == (False, [])


@pytest.mark.parametrize("name", ["exchange", "refit", "prove", "record"])
def test_the_keyboard_reaches_every_field_of_a_stage(
    laptop: Page, jobs: dict[str, str], name: str
) -> None:
    """In the order in which they stand."""
    laptop.goto(f"/jobs/{jobs[name]}")

    assert tab_order(laptop) == controls(laptop)


def test_the_record_prints_without_what_only_a_screen_needs(
    laptop: Page, jobs: dict[str, str]
) -> None:
    """No buttons, no places; the picture and the fingerprints stay."""
    laptop.goto(f"/jobs/{jobs['filed']}/record")
    laptop.emulate_media(media="print")

    expect(laptop.get_by_role("navigation", name="Places")).to_be_hidden()
    expect(laptop.get_by_role("link", name="Back to the job")).to_be_hidden()
    expect(laptop.get_by_role("img", name=re.compile("A bar for each part"))).to_be_visible()
    expect(laptop.get_by_text(re.compile("seed 0, inputs [0-9a-f]{64}")).first).to_be_visible()


def test_a_step_that_is_refused_says_so_beside_its_field(phone: Page, jobs: dict[str, str]) -> None:
    """What was typed is still there."""
    phone.goto(f"/jobs/{jobs['exchange']}")
    phone.get_by_label("Came out, by jug").fill("two and a half")
    phone.get_by_role("button", name="Carried out").click()

    field = phone.get_by_label("Came out, by jug")
    expect(field).to_have_value("two and a half")
    expect(field).to_have_attribute("aria-invalid", "true")
    assert violations(phone) == []


def test_a_job_goes_from_the_exchange_to_its_record_without_script(
    without_script: Page, server: Served
) -> None:
    """Four steps, the refit, two vials, a verdict, waste, a lot, a date, a name: filed."""
    job = prepared(server.desk, van="Library van 2")
    with_shelf(server.desk)
    page = without_script
    page.goto(f"/jobs/{job}")
    _exchange(page)
    _refit(page)
    _prove(page)
    _record(page)
    done = load_job(server.desk, job)

    assert done.is_closed
    assert done.finished[Stage.EXCHANGE] == "12.6 L through, 2 samples"
    assert re.search(r"\d+ % \(\d+–\d+\) old fluid left", done.finished[Stage.PROVE])


def _exchange(page: Page) -> None:
    """Carry the four steps out as they were foretold."""
    expect(page.get_by_role("heading", name="Step 1 of 4: Draw off")).to_be_visible()
    expect(page.get_by_text("comes out", exact=True)).to_be_visible()
    page.get_by_role("button", name="Begin").click()
    page.locator("#step-1").get_by_label("or by scale, in grams").fill("2110")
    page.locator("#step-1").get_by_role("button", name="Carried out").click()
    page.locator("#step-2").get_by_label("Poured from containers").fill("2.6")
    page.locator("#step-2").get_by_role("button", name="Carried out").click()
    third = page.locator("#step-3")
    third.get_by_label("Poured from containers").fill("10")
    third.get_by_label("Came out, by jug").fill("10.05")
    third.get_by_label("Outflow turned at").fill("4.4")
    third.get_by_label("Cycles made, front").fill("2")
    third.get_by_text("More to write down").click()
    third.get_by_label("Sample drawn from").select_option("outflow")
    third.get_by_role("button", name="Carried out").click()
    fourth = page.locator("#step-4")
    fourth.get_by_label("Level, from the full mark").fill("1")
    fourth.get_by_label("above the mark").check()
    fourth.get_by_text("More to write down").click()
    fourth.get_by_label("Temperature of the fluid").fill("60")
    fourth.get_by_label("Sample drawn from").select_option("leg:rear-left")
    fourth.get_by_role("button", name="Carried out").click()
    page.get_by_role("button", name="Finish the exchange").click()


def _refit(page: Page) -> None:
    """Read the level where it belongs, tick every line."""
    section = page.locator("#refit")
    section.get_by_label("Temperature of the fluid now").fill("45")
    section.get_by_role("button", name="Set").click()
    expect(section.get_by_text("Fluid at 45 °C, as last read.")).to_be_visible()
    section.get_by_label("Level, from the full mark").fill("8")
    section.get_by_label("below the mark").check()
    section.get_by_role("button", name="Write the level down").click()
    expect(section.get_by_text("belongs 12 mm above the mark: does not agree")).to_be_visible()
    for _ in range(7):
        section.get_by_role("button", name="Done", exact=True).first.click()
    section.get_by_role("button", name="Finish the refit").click()


def _prove(page: Page) -> None:
    """Read both vials, ask, and finish with the answer."""
    section = page.locator("#prove")
    for _, old in (("A", "22"), ("B", "86")):
        vial = section.locator("details[open]", has_text="not read yet").first
        vial.get_by_label("Old fluid in it").fill(old)
        vial.get_by_role("button", name="Write down").click()
    section.get_by_role("button", name="See what the readings tell").click()
    picture = section.get_by_role("img", name=re.compile("A bar for each part"))
    expect(picture).to_be_visible(timeout=_VERDICT_MS)
    expect(section.get_by_text("old fluid is left")).to_be_visible()
    section.get_by_role("button", name="Finish proving").click()


def _record(page: Page) -> None:
    """Hand the waste over, take the lot off the shelf, say when next, sign, file."""
    section = page.locator("#record")
    section.get_by_label("To whom").fill("county yard")
    section.get_by_role("button", name="Write down", exact=True).click()
    section.get_by_label("HV 22, lot K7").check()
    section.get_by_label("Poured from it").fill("12.6")
    section.get_by_role("button", name="Take off the shelf").click()
    section.get_by_role("button", name="Work out and write down").click()
    expect(section.get_by_text("Due again on")).to_be_visible()
    section.get_by_label("Name").fill("M. Moss")
    section.get_by_label("did the work").check()
    section.get_by_role("button", name="Sign").click()
    section.get_by_role("button", name="File the record").click()
    expect(page.get_by_text("Nothing: the record is filed.")).to_be_visible()
    page.goto(f"{page.url.split('#')[0]}/record")
    expect(page.get_by_role("heading", level=1)).to_have_text("Record: Library van 2")
    expect(page.get_by_text("M. Moss, did the work")).to_be_visible()
