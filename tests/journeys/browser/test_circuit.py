"""The circuit page in a browser: a bore is changed on a phone, the drawing follows, a fault is told
in place, a version is saved; the same by keyboard and without a script."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser.conftest import Served
from tests.journeys.browser.looked_at import faults, faults_at_any_size
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table

pytestmark = pytest.mark.browser

_BORE = "leg.1.line.bore_mm.best"
_FIELD = f'[name="{_BORE}"]'
# The first part of each kind, what else may be said of it, and everything that the answer folds.
_UNFOLD = """document.querySelectorAll(
  '.part-row:first-of-type, .part-row:first-of-type .more, #answer details, #all-line > .fold'
).forEach(one => { one.open = true })"""
# The machine that runs the tests may be busy with others.
_LONG_MS = 120_000


@pytest.fixture
def circuit(server: Served, request: pytest.FixtureRequest) -> str:
    """Return the address of a leveller of this test's own."""
    machine = add_machine(server.desk, Known(name="Library van 2"), machine_id="van2")
    name = f"c{abs(hash(request.node.name)):x}"
    add_circuit(server.desk, machine.id, template_table("levelling-van"), circuit_id=name)
    return f"/circuits/{name}"


@pytest.fixture
def on_phone(phone: Page, circuit: str) -> Page:
    """Return the circuit's page on a phone."""
    phone.goto(circuit)
    return phone


def _drawing(page: Page) -> str:
    """Return the address of the picture that the browser shows."""
    return str(page.locator("#answer img").evaluate("img => img.currentSrc"))


def test_the_drawing_follows_each_edit_on_a_phone(on_phone: Page) -> None:
    """Another bore brings another upright picture, another line and other figures, unsaved."""
    before = _drawing(on_phone)
    on_phone.locator("#leg-1 > summary").click()
    on_phone.locator(_FIELD).fill("12")
    expect(on_phone.locator("#state")).to_contain_text("Not saved yet. The drawing shows")
    after = _drawing(on_phone)

    assert before.endswith("/upright.svg")
    assert after.endswith("/upright.svg")
    assert after != before
    expect(on_phone.locator("#leg-1 > summary")).to_contain_text("line bore 12 mm")
    assert on_phone.locator("#answer img").evaluate("img => img.naturalWidth") > 0


def test_a_fault_is_told_in_place_and_the_old_drawing_stays(on_phone: Page) -> None:
    """The field is marked, the list leads to it through folded parts, mending clears both."""
    before = _drawing(on_phone)
    on_phone.locator("#leg-1 > summary").click()
    field = on_phone.locator(_FIELD)
    field.fill("-8")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(on_phone.locator(f'[id="fault-{_BORE}"]')).to_contain_text("above 0")
    expect(on_phone.locator("#state")).to_contain_text("still shows how it was before")

    assert _drawing(on_phone) == before

    on_phone.locator("#leg-1 > summary").click()
    on_phone.locator("#faults a").click()
    expect(field).to_be_focused()
    field.fill("9")
    expect(on_phone.locator("#faults")).to_be_empty()
    expect(field).not_to_have_attribute("aria-invalid", "true")


def test_saving_adds_a_version_and_tells_the_change(on_phone: Page) -> None:
    """What was typed is version 2, and the list of versions says what it changed."""
    on_phone.locator("#leg-1 > summary").click()
    on_phone.locator(_FIELD).fill("10")
    on_phone.get_by_role("button", name="Save as version 2").first.click()
    expect(on_phone.locator("#state")).to_contain_text("Version 2")

    expect(on_phone.locator("#versions")).to_contain_text("front-left line bore 8 → 10 mm")


def test_the_whole_edit_works_without_a_script(without_script: Page, circuit: str) -> None:
    """Buttons alone check, keep the place, add a part, and save."""
    without_script.goto(circuit)
    before = without_script.locator("#answer img").get_attribute("src")
    without_script.locator("#leg-1 > summary").click()
    without_script.locator(_FIELD).fill("12")
    without_script.locator("#leg-1").get_by_role("button", name="Check and draw").click()
    expect(without_script.locator("#leg-1")).to_have_attribute("open", "")
    after = without_script.locator("#answer img").get_attribute("src")

    assert after != before
    assert without_script.url.endswith("#leg-1")

    without_script.get_by_role("button", name="Add a leg").click()
    expect(without_script.locator("#leg-5")).to_have_attribute("open", "")
    without_script.locator("#leg-5").get_by_role("button", name="Remove").click()
    expect(without_script.locator("#leg-5")).to_have_count(0)
    without_script.get_by_role("button", name="Save as version 2").first.click()
    expect(without_script.locator("#versions")).to_contain_text("front-left line bore 8 → 12 mm")


def test_everything_can_be_done_by_keyboard(on_phone: Page) -> None:
    """A part is unfolded, a bore is typed and the form is sent with keys alone."""
    on_phone.locator("#leg-1 > summary").focus()
    on_phone.keyboard.press("Enter")
    expect(on_phone.locator("#leg-1")).to_have_attribute("open", "")
    for _ in range(40):
        on_phone.keyboard.press("Tab")
        if on_phone.evaluate("document.activeElement.name") == _BORE:
            break
    on_phone.keyboard.press("Control+A")
    on_phone.keyboard.type("11")
    expect(on_phone.locator("#state")).to_contain_text("Not saved yet")
    on_phone.keyboard.press("Enter")
    expect(on_phone.locator(_FIELD)).to_have_value("11")
    expect(on_phone.locator("#leg-1")).to_have_attribute("open", "")


def test_the_page_is_clean_for_everybody(laptop: Page, circuit: str) -> None:
    """No violation is found with parts unfolded and a fault shown; nothing is cut off or small."""
    laptop.goto(circuit)
    laptop.evaluate(_UNFOLD)
    laptop.locator(_FIELD).fill("-8")
    expect(laptop.locator("#faults")).to_contain_text("leg 1, line bore")

    assert faults_at_any_size(laptop) == []


@pytest.mark.parametrize("path", ["/machines/van2/circuits/new", "{circuit}/versions/1"])
def test_the_pages_beside_it_are_clean(phone: Page, circuit: str, path: str) -> None:
    """What to start from, and a version as it was, have no violation on a phone."""
    phone.goto(path.format(circuit=circuit))

    assert faults(phone) == []


def test_the_weightiest_unknown_is_ranked_when_somebody_asks(phone: Page, circuit: str) -> None:
    """However long it takes, the way ends at the ranked list, which has no violation."""
    phone.goto(circuit)
    phone.get_by_role("button", name="Work it out").click()
    expect(phone.locator("#unknown")).to_contain_text(
        "what the lines of the legs hold", timeout=_LONG_MS
    )

    assert faults(phone) == []
