"""A van goes from a new machine to its filed record, by what stands on the pages alone.

On a phone at the machine with all that the plan proposes, and on a laptop by a person who does
without bleeding and without letting the pressure go. Each stage is looked at on its way: what is
wrong with a page is gathered, and told once the job is at its end.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.journeys.browser.conftest import Served, looking
from tests.journeys.browser.looked_at import (
    LAPTOP,
    PHONE,
    controls,
    faults,
    tab_order,
    unfold,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

#: Planning and proving take seconds, many more on a machine that is busy with other things.
_LONG_MS = 300_000
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
#: Scripts make a page livelier; nothing of a job needs one.
_LIVELIER = {"scrub.js", "work.js"}


@dataclass(slots=True, kw_only=True)
class Walk:
    """A person at a page, and what was found wrong with the pages on the way."""

    page: Page
    found: list[str] = field(default_factory=list)

    def at(self, stage: str) -> Locator:
        """Look at a page whose stage in hand is this one; return the stage."""
        page = self.page
        section = page.locator(f"section#{stage}")
        expect(section.locator(".headline .state")).to_have_text("in hand")
        expect(page.locator(".next")).to_contain_text(re.compile(r"Next, at the \w+"))
        self._look(stage)
        return section

    def _look(self, place: str) -> None:
        """Look at a page as it came, by keyboard, and with its stage unfolded."""
        page = self.page
        there = page.url.partition("#")[0]
        page.goto(there)
        scripts = page.locator("script").evaluate_all("(all) => all.map((one) => one.src)")
        self.found += [
            f"{place}: {src} is needed for something"
            for src in scripts
            if src.rpartition("/")[2].partition("?")[0] not in _LIVELIER
        ]
        if (reached := tab_order(page)) != (all_ := controls(page)):
            self.found.append(f"{place}: Tab reaches {reached}, of {all_}")
        unfold(page, f"section#{place}")
        self.found += [f"{place}: {fault}" for fault in faults(page)]
        page.goto(there)

    def ended(self, stage: str, line: str) -> None:
        """See that a stage has folded to one line with its result."""
        told = self.page.locator(f"section#{stage} > details > summary .line")
        # A figure and its unit are held together by a space of their own.
        expect(told).to_have_text(re.compile(line.replace(" ", r"\s")))

    def read(self, link: str, tail: str) -> None:
        """Look at a page beside the job, and come back."""
        back = self.page.url
        self.page.get_by_role("link", name=link).click()
        expect(self.page).to_have_url(re.compile(f"/{tail}$"))
        self._look(tail)
        self.page.goto(back)


@contextmanager
def _walking(browser: Browser, server: Served, size: str) -> Iterator[Walk]:
    viewport = PHONE if size == "phone" else LAPTOP
    context = browser.new_context(base_url=server.url, viewport=viewport, has_touch=size == "phone")
    with looking(context) as page:
        yield Walk(page=page)


@pytest.mark.parametrize("size", ["phone", "laptop"])
def test_a_new_van_comes_to_its_filed_record(chromium: Browser, server: Served, size: str) -> None:
    """Every stage ends with its result, the record has the remainder and its band."""
    with _walking(chromium, server, size) as walk:
        _take_in(walk.page, f"Library van, {size}")
        _assess(walk, is_asking=size == "phone")
        _plan(walk, is_plain=size == "laptop")
        _prepare(walk)
        _exchange(walk)
        _refit(walk)
        _prove(walk)
        _record(walk)

        assert walk.found == []


def _take_in(page: Page, name: str) -> None:
    """Open a job on a machine that nobody has seen before."""
    page.goto("/")
    page.get_by_role("link", name="New job").click()
    page.get_by_label("Name").fill(name)
    page.get_by_label("Distance").check()
    page.get_by_role("radio", name="leveller", exact=False).first.check()
    page.get_by_role("button", name="Take it in and open the job").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def _assess(walk: Walk, *, is_asking: bool) -> None:
    """Write down how it was found and what it has run, and ask whether it is due."""
    page, section = walk.page, walk.at("assess")
    expect(page.locator(".next")).to_contain_text("how the machine was found")
    section.get_by_label("Level, from the full mark").fill("6")
    section.get_by_label("below the mark").check()
    section.get_by_label("pressure up, standing as found").check()
    section.get_by_label("Temperature of the fluid").fill("18")
    section.get_by_label("Leaks", exact=True).fill("none seen")
    section.get_by_label("label on the reservoir").check()
    section.get_by_role("button", name="Write down: as found").click()
    expect(page.locator(".next")).to_contain_text("counter")
    section.get_by_label("Counter now").fill("84000")
    section.get_by_label("Days since the last exchange").fill("1500")
    section.get_by_role("button", name="Write down: use").click()
    if is_asking:
        section.get_by_role("button", name="See what is worth measuring first").click()
        expect(page.get_by_text("What would narrow that most")).to_be_visible(timeout=_LONG_MS)
    section.get_by_role("button", name="Judge whether it is due").click()
    expect(section.get_by_text("Due.", exact=True)).to_be_visible()
    section.get_by_role("button", name="Finish assessing").click()
    walk.ended("assess", "^due: ")


def _plan(walk: Walk, *, is_plain: bool) -> None:
    """Say what is wanted, wait for the plan, take it."""
    page, section = walk.page, walk.page.locator("#plan")
    section.get_by_label("Old fluid that may stay").fill("35" if is_plain else "15")
    if is_plain:
        for without in ("bleed", "pressure"):
            section.get_by_role("checkbox", name=without).check()
    section.get_by_role("button", name="Make a plan").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.get_by_role("heading", name="The plan", exact=True)).to_be_visible(timeout=_LONG_MS)
    expect(page.get_by_text("of 100 simulated machines").first).to_be_visible()
    walk.at("plan")
    section.get_by_role("button", name="Take this plan").click()
    section.get_by_role("button", name="Finish planning").click()
    walk.ended("plan", r"^\d+ containers, at most \d+ %")


def _prepare(walk: Walk) -> None:
    """Tick everything, look at the sheet that goes to the machine."""
    section = walk.at("prepare")
    walk.read("Job sheet, to print", "sheet")
    for group in range(section.get_by_role("button", name="Keep these ticks").count()):
        form = section.locator("form", has=walk.page.get_by_role("button", name="ticks")).nth(group)
        for box in form.get_by_role("checkbox").all():
            box.check()
        form.get_by_role("button", name="Keep these ticks").click()
        expect(section.get_by_text("all ticked", exact=True)).to_have_count(group + 1)
    section.get_by_role("button", name="Finish preparing").click()
    walk.ended("prepare", "^all at hand$")


def _exchange(walk: Walk) -> None:
    """Carry out each step as it was foretold, with a sample before the last."""
    page = walk.page
    walk.at("exchange")
    step = page.locator(".step.in-hand")
    count = int(_NUMBER.findall(step.get_by_role("heading", level=3).inner_text())[1])
    for number in range(1, count + 1):
        expect(step.get_by_role("heading", level=3)).to_contain_text(f"Step {number} of {count}")
        _write_down(step)
        if number == count:
            step.get_by_text("More to write down").click()
            step.get_by_label("Sample drawn from").select_option("reservoir")
        step.get_by_role("button", name="Carried out").click()
    page.get_by_role("button", name="Finish the exchange").click()
    walk.ended("exchange", r"^\d+(\.\d)? L through, 1 sample$")


def _write_down(step: Locator) -> None:
    """Fill in what the step says that it takes, in the middle of what it says."""
    labels = step.locator("dt").all_inner_texts()
    expected = dict(zip(labels, step.locator("dd").all_inner_texts(), strict=True))
    for label, of in (("Came out, by jug", "comes out"), ("Poured from containers", "to pour")):
        field = step.get_by_label(label)
        if of in expected and field.count():
            ends = [float(text) for text in _NUMBER.findall(expected[of])]
            field.fill(f"{sum(ends) / len(ends):.2f}")


def _refit(walk: Walk) -> None:
    """Pour what the level lacks at this temperature, read it, tick every line."""
    section = walk.at("refit")
    section.get_by_label("Temperature of the fluid now").fill("45")
    section.get_by_role("button", name="Set").click()
    expect(section.get_by_text("Fluid at 45 °C, as last read.")).to_be_visible()
    belongs = section.locator(".targets > li", has_text="the mark holds here").locator(".figure")
    [mm] = _NUMBER.findall(belongs.first.inner_text())
    section.get_by_text("Poured to set the level").first.click()
    section.get_by_role("textbox", name="Poured to set the level").fill("0.3")
    poured = section.locator("details", has_text="Poured to set the level")
    poured.get_by_role("button", name="Write down", exact=True).click()
    section.get_by_label("Level, from the full mark").fill(mm)
    section.get_by_label("above the mark").check()
    section.get_by_role("button", name="Write the level down").click()
    expect(section.get_by_text(f"belongs {mm} mm above the mark: agrees")).to_be_visible()
    done = section.get_by_role("button", name="Done", exact=True)
    for left in range(done.count(), 0, -1):
        expect(done).to_have_count(left)
        done.first.click()
    section.get_by_role("button", name="Finish the refit").click()
    walk.ended("refit", f"^level {mm} mm above the mark")


def _prove(walk: Walk) -> None:
    """Read the vial, ask what the readings tell, finish with the answer."""
    page, section = walk.page, walk.page.locator("#prove")
    vial = section.locator("details[open]", has_text="not read yet").first
    vial.get_by_label("Old fluid in it").fill("4")
    vial.get_by_role("button", name="Write down").click()
    section.get_by_role("button", name="See what the readings tell").click()
    picture = section.get_by_role("img", name=re.compile("A bar for each part"))
    expect(picture).to_be_visible(timeout=_LONG_MS)
    walk.at("prove")
    section.get_by_role("button", name="Finish proving").click()
    walk.ended("prove", r"^\d+ % \(\d+–\d+\) old fluid left, target of \d+ %")
    expect(page.locator(".next")).to_contain_text("record")


def _record(walk: Walk) -> None:
    """Hand the waste over, say when next, sign, file; then read the record."""
    page, section = walk.page, walk.at("record")
    section.get_by_label("Handed over").fill("12")
    section.get_by_label("To whom").fill("county yard")
    section.get_by_role("button", name="Write down", exact=True).click()
    section.get_by_role("button", name="Work out and write down").click()
    expect(section.get_by_text("Due again on")).to_be_visible()
    section.get_by_label("Name").fill("M. Moss")
    section.get_by_label("did the work").check()
    section.get_by_role("button", name="Sign").click()
    section.get_by_role("button", name="File the record").click()
    expect(page.get_by_role("img", name="All 7 stages are finished")).to_be_attached()
    page.locator("section#record > details > summary").click()
    walk.read("The label", "label")
    section.locator("summary").first.click()
    page.get_by_role("link", name="The record on one page").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Record: Library van")
    expect(page.get_by_text(re.compile(r"\d+\s%\s\(\d+–\d+\)")).first).to_be_visible()
    expect(page.get_by_text("M. Moss, did the work")).to_be_visible()
    walk.found += [f"record: {fault}" for fault in faults(page)]
