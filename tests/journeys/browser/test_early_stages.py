"""A job on the van from its first line to everything at hand, on a phone, without a manual."""

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
from tests.unit.jobs.early_job import chosen, opened, planned, wanting
from ullage.jobs.log import load_job
from ullage.jobs.stage import Stage

pytestmark = pytest.mark.browser

#: A plan takes seconds, many more on a machine that is busy with other things.
_PLAN_MS = 300_000


@pytest.fixture(scope="module")
def jobs(server: Served) -> dict[str, str]:
    """Put a job at each early stage on the desk, each on a lift of its own."""
    desk = server.desk
    return {
        "assess": opened(desk, "Lift to assess"),
        "plan": planned(desk, "Lift to plan")[0],
        "prepare": chosen(desk, "Lift to prepare"),
        "wanting": wanting(desk, "Lift that waits"),
    }


def _unfold(page: Page, stage: str) -> None:
    """Open everything that is folded in a stage, so that it is looked at as well."""
    page.locator(f"#{stage} details").evaluate_all("(all) => all.forEach((it) => it.open = true)")


@pytest.mark.slow
def test_a_van_goes_from_a_new_job_to_everything_at_hand(phone: Page, server: Served) -> None:
    """By what stands on the page alone: each next thing leads to its form."""
    phone.goto("/")
    phone.get_by_role("link", name="New job").click()
    phone.get_by_label("Name").fill("Library van 2")
    phone.get_by_label("Distance").check()
    phone.get_by_label("leveller", exact=False).first.check()
    phone.get_by_role("button", name="Take it in and open the job").click()

    expect(phone.locator(".next")).to_contain_text("how the machine was found")
    phone.get_by_label("Level, from the full mark").fill("6")
    phone.get_by_label("below the mark").check()
    phone.get_by_label("pressure up, standing as found").check()
    phone.get_by_label("Temperature of the fluid").fill("18")
    phone.get_by_label("Leaks", exact=True).fill("none seen")
    phone.get_by_label("label on the reservoir").check()
    phone.get_by_role("button", name="Write down: as found").click()

    expect(phone.locator(".next")).to_contain_text("Read the counter")
    phone.get_by_label("Counter now").fill("84000")
    phone.get_by_label("Days since the last exchange").fill("1500")
    phone.get_by_role("button", name="Write down: use").click()

    expect(phone.locator(".next")).to_contain_text("Judge whether")
    phone.get_by_role("button", name="See what is worth measuring first").click()
    expect(phone.get_by_text("What would narrow that most")).to_be_visible(timeout=_PLAN_MS)
    phone.get_by_role("button", name="Judge whether it is due").click()
    expect(phone.get_by_text("Due.", exact=True)).to_be_visible()
    phone.get_by_role("button", name="Finish assessing").click()

    expect(phone.locator(".next")).to_contain_text("how much old fluid may stay")
    phone.get_by_label("Old fluid that may stay").fill("15")
    phone.get_by_role("button", name="Make a plan").click()
    expect(phone.get_by_role("progressbar")).to_be_visible()
    expect(phone.get_by_role("heading", name="The plan", exact=True)).to_be_visible(
        timeout=_PLAN_MS
    )
    expect(phone.get_by_text("of 100 simulated machines").first).to_be_visible()
    phone.get_by_role("button", name="Take this plan").click()
    phone.get_by_role("button", name="Finish planning").click()

    expect(phone.locator(".next")).to_contain_text("Get everything ready")
    buy = phone.locator("form", has=phone.get_by_text("container of new fluid", exact=False))
    buy.get_by_role("checkbox").first.check()
    buy.get_by_role("button", name="Keep these ticks").click()
    expect(phone.get_by_role("checkbox").first).to_be_checked()
    phone.get_by_role("button", name="Finish preparing").click()
    expect(phone.locator(".next")).to_contain_text("Carry out step 1")

    job = phone.url.rpartition("/")[2].partition("#")[0]
    assert load_job(server.desk, job).stage is Stage.EXCHANGE


@pytest.mark.parametrize("name", ["assess", "plan", "prepare"])
def test_an_early_stage_can_be_read_by_everybody(
    view: Page, jobs: dict[str, str], name: str
) -> None:
    """No rule of WCAG 2.2 AA is broken, everything unfolded, in all four views."""
    view.goto(f"/jobs/{jobs[name]}")
    _unfold(view, name)

    assert violations(view) == []
    assert (is_too_wide(view), small_targets(view)) == (False, [])


def test_the_sheet_and_the_moments_can_be_read_by_everybody(
    view: Page, jobs: dict[str, str]
) -> None:
    """On a screen as on paper."""
    view.goto(f"/jobs/{jobs['prepare']}/sheet")
    sheet = (violations(view), is_too_wide(view), small_targets(view))
    view.goto(f"/jobs/{jobs['plan']}")
    view.get_by_role("link", name="From the beginning, moment by moment").click()
    moments = (violations(view), is_too_wide(view), small_targets(view))

    assert sheet == ([], False, [])
    assert moments == ([], False, [])


@pytest.mark.parametrize("name", ["assess", "plan", "prepare"])
def test_the_keyboard_reaches_every_field_of_an_early_stage(
    laptop: Page, jobs: dict[str, str], name: str
) -> None:
    """In the order in which they stand."""
    laptop.goto(f"/jobs/{jobs[name]}")

    assert tab_order(laptop) == controls(laptop)


def test_the_range_goes_through_the_moments_by_keys(laptop: Page, jobs: dict[str, str]) -> None:
    """The picture and its words follow; the last moment is shown first."""
    laptop.goto(f"/jobs/{jobs['plan']}")
    moment = laptop.get_by_label("Moment")
    picture = laptop.locator(".scrub img")
    picture.scroll_into_view_if_needed()
    at_the_end = picture.get_attribute("src")
    moment.focus()
    laptop.keyboard.press("Home")

    expect(laptop.locator(".scrub figcaption")).to_have_text("As found")
    expect(picture).to_have_attribute("src", re.compile(r"moment=0$"), timeout=60_000)
    assert at_the_end is not None
    assert not at_the_end.endswith("moment=0")


def test_work_is_watched_and_cancelled_without_a_script(
    without_script: Page, jobs: dict[str, str]
) -> None:
    """The page loads itself again, and goes back to the job."""
    page = without_script
    page.goto(f"/jobs/{jobs['wanting']}")
    page.get_by_role("button", name="Make a plan").last.click()
    expect(page).to_have_url(re.compile("/waiting/"))
    page.get_by_role("button", name="Cancel").click()

    expect(page).to_have_url(re.compile(f"/jobs/{jobs['wanting']}#plan"))
    expect(page.get_by_role("heading", name="The plan", exact=True)).to_have_count(0)


def test_moments_follow_each_other_without_a_script(
    without_script: Page, jobs: dict[str, str]
) -> None:
    """By links alone."""
    page = without_script
    page.goto(f"/jobs/{jobs['plan']}")
    page.get_by_role("link", name="From the beginning, moment by moment").click()
    expect(page.locator(".told")).to_have_text("As found")
    page.get_by_role("link", name="Later").click()

    expect(page.locator(".told")).to_contain_text("After step 1")


def test_the_sheet_prints_without_what_only_a_screen_needs(
    laptop: Page, jobs: dict[str, str]
) -> None:
    """No places, no buttons; lines for values and initials stay."""
    laptop.goto(f"/jobs/{jobs['prepare']}/sheet")
    laptop.emulate_media(media="print")

    expect(laptop.get_by_role("navigation")).to_be_hidden()
    expect(laptop.locator(".not-on-paper")).to_be_hidden()
    expect(laptop.locator(".ruled-line").first).to_be_visible()
