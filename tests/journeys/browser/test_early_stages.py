"""Planning and preparing, where the way of a whole job does not lead past."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser.conftest import Served
from tests.journeys.browser.looked_at import faults_at_any_size
from tests.unit.jobs.early_job import chosen, planned, wanting

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def jobs(server: Served) -> dict[str, str]:
    """Put a job at each early stage on the desk, each on a lift of its own."""
    desk = server.desk
    return {
        "plan": planned(desk, "Lift to plan")[0],
        "prepare": chosen(desk, "Lift to prepare"),
        "wanting": wanting(desk, "Lift that waits"),
    }


def test_the_moments_can_be_read_by_everybody(laptop: Page, jobs: dict[str, str]) -> None:
    """At both sizes and in both schemes."""
    laptop.goto(f"/jobs/{jobs['plan']}")
    laptop.get_by_role("link", name="From the beginning, moment by moment").click()
    expect(laptop.locator(".told")).to_have_text("As found")

    assert faults_at_any_size(laptop) == []


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
    expect(laptop.locator(".not-on-paper:visible")).to_have_count(0)
    expect(laptop.locator(".ruled-line").first).to_be_visible()
