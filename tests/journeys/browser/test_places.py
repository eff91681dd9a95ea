"""Due, shelf, sums and trends: read by everybody, worked by keyboard and without JavaScript."""

from __future__ import annotations

import re
from datetime import date

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.browser.conftest import Served
from tests.journeys.browser.looked_at import (
    controls,
    faults_at_any_size,
    tab_order,
    unfold,
)
from tests.unit.jobs.served_machine import served_machine
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.keep_shelf import Delivery, add_sheet, deliver
from ullage.jobs.shelf import SheetOf

pytestmark = pytest.mark.browser

_HV = {"class": "HV", "nu40_mm2_s": 22.0, "nu100_mm2_s": 5.0, "rho15_kg_m3": 868.0}
_SUM = "/sums/pressure-loss?flow_l_min=10&bore_mm=10&length_m=5&nu_mm2_s=46&rho_kg_m3=870"
_PLACES = (
    "due",
    "shelf",
    "new fluid",
    "new filter",
    "sheet",
    "lot",
    "sums",
    "sum",
    "sum with faults",
    "trends",
)


@pytest.fixture(scope="module")
def places(server: Served) -> dict[str, str]:
    """Put machines and a shelf on the desk; return where each page is."""
    desk = server.desk
    van = served_machine(desk)
    served_machine(desk, name="Yard lift 5", due="2025-02-01")
    loader = add_machine(desk, Known(name="Compact loader 1"))
    add_circuit(desk, loader.id, template_table("compact-loader"))
    sheet = add_sheet(desk, SheetOf.FLUID, "HV 22", _HV)
    came = Delivery(
        mark="K2",
        count=3.0,
        container_m3=1e-3,
        received_on=date(2024, 1, 5),
        expires_on=date(2025, 1, 5),
    )
    lot = deliver(desk, sheet.id, came, uid="u-expired-lot")
    pages = (
        "/due",
        "/shelf",
        "/shelf/new/fluid",
        "/shelf/new/filter",
        f"/shelf/sheets/{sheet.id}",
        f"/shelf/lots/{lot}",
        "/sums",
        _SUM,
        "/sums/blend?nu_mm2_s=32,x&fractions=0.5",
        f"/machines/{van}/trends",
    )
    return dict(zip(_PLACES, pages, strict=True))


@pytest.mark.parametrize("name", _PLACES)
def test_a_place_can_be_read_by_everybody(laptop: Page, places: dict[str, str], name: str) -> None:
    """No rule of WCAG 2.2 AA is broken, everything unfolded, at both sizes and in both schemes."""
    laptop.goto(places[name])
    unfold(laptop)

    assert faults_at_any_size(laptop) == []


@pytest.mark.parametrize("name", ["due", "sheet", "lot", "sum"])
def test_the_keyboard_reaches_everything(laptop: Page, places: dict[str, str], name: str) -> None:
    """In the order in which it stands; tables that scroll are reached too."""
    laptop.goto(places[name])
    reached = [one for one in tab_order(laptop) if not one.startswith("div ")]

    assert reached == controls(laptop)


def test_a_fluid_is_described_delivered_and_taken_off_without_script(
    without_script: Page, places: dict[str, str]
) -> None:
    """From an empty form to half a container less."""
    page = without_script
    page.goto(places["new fluid"])
    page.get_by_label("Name").fill("HV 32")
    page.get_by_label("Viscosity at 40").fill("32")
    page.get_by_label("Viscosity at 100").fill("6,2")
    page.get_by_role("button", name="Keep the sheet").click()

    expect(page.get_by_label("Name")).to_have_value("HV 32")
    expect(page.get_by_label("Density at 15")).to_have_attribute("aria-invalid", "true")
    page.get_by_label("Density at 15").fill("872")
    page.get_by_label("Class").select_option("HV")
    page.get_by_role("button", name="Keep the sheet").click()

    expect(page.get_by_role("heading", name="HV 32")).to_be_visible()
    page.get_by_label("Mark of the lot").fill("M4")
    page.get_by_label("How many came").fill("6")
    page.get_by_label("Each container holds").fill("1")
    page.get_by_role("button", name="Put it on the shelf").click()

    expect(page.get_by_text("6 containers of 1\u00a0L left")).to_be_visible()
    page.get_by_label("How many").fill("0.5")
    page.get_by_label("Why").fill("leaked")
    page.get_by_role("button", name="Write it down").click()

    expect(page.get_by_text("5.5 containers of 1\u00a0L left")).to_be_visible()
    expect(page.get_by_role("cell", name="leaked")).to_be_visible()


def test_a_sum_is_worked_out_and_stays_a_link(without_script: Page, places: dict[str, str]) -> None:
    """What the form answers can be opened again by its address."""
    page = without_script
    page.goto(places["sums"])
    page.get_by_role("link", name=re.compile("Reynolds")).click()
    page.get_by_label("Flow, L/min").fill("9")
    page.get_by_label("Inner diameter").fill("8")
    page.get_by_label("Viscosity").fill("15")
    page.get_by_role("button", name="Work it out").click()

    answer = page.get_by_text("Reynolds number 1592: laminar")
    expect(answer).to_be_visible()
    page.goto(page.url)
    expect(answer).to_be_visible()


def test_what_is_due_leads_to_the_trends(without_script: Page, places: dict[str, str]) -> None:
    """Overdue first; from its line to the machine and on to the charts."""
    page = without_script
    page.goto(places["due"])
    expect(page.locator(".lines .name").first).to_have_text("Yard lift 5")
    page.get_by_role("link", name=re.compile("Library van 2")).click()
    page.get_by_role("link", name="Trends").click()

    chart = page.get_by_role("img", name=re.compile("^Old fluid left by each job, over time: 4"))
    expect(chart).to_be_visible()
    assert chart.evaluate("(it) => it.complete && it.naturalWidth > 0")
    assert chart.evaluate("(it) => it.currentSrc").endswith("/upright.svg")
