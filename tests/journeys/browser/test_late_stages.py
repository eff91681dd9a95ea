"""Exchange, proof and record, where the way of a whole job does not lead past."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser.conftest import Served
from tests.journeys.browser.looked_at import violations
from tests.unit.jobs.van_job import closed, prepared, refitted

pytestmark = pytest.mark.browser

#: A verdict takes seconds, more on a machine that is busy with other things.
_VERDICT_MS = 90_000
_STAGES = {"exchange": prepared, "prove": refitted, "filed": closed}


@pytest.fixture(scope="module")
def jobs(server: Served) -> dict[str, str]:
    """Put jobs at late stages on the desk, each on a van of its own."""
    return {name: bring(server.desk, van=f"Van at {name}") for name, bring in _STAGES.items()}


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


def test_a_verdict_is_waited_for_without_a_script(
    without_script: Page, jobs: dict[str, str]
) -> None:
    """The page that waits loads itself again until it leads back to the answer."""
    page = without_script
    page.goto(f"/jobs/{jobs['prove']}")
    page.get_by_role("button", name="See what the readings tell").click()
    expect(page).to_have_url(re.compile("/waiting/"))

    expect(page.locator("#prove .verdict .told")).to_contain_text(
        "old fluid is left", timeout=_VERDICT_MS
    )
