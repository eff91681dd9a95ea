"""What every page has to stand up to, whoever built it."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, ViewportSize

PHONE: ViewportSize = {"width": 360, "height": 800}
LAPTOP: ViewportSize = {"width": 1280, "height": 800}

#: What a glove can hit, in CSS pixels.
TARGET_PX = 56
_RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
#: All that the dark scheme changes is colours.
_IN_THE_DARK = {"runOnly": ["color-contrast"], "resultTypes": ["violations"]}
_CONTROLS = "a[href], button, input:not([type=hidden]), select, textarea, summary"
#: Links within a sentence are as high as their line; the skip link waits outside the page.
_TARGETS = (
    "button, input:not([type=hidden]), select, textarea, summary, .button, .lines > li > a, "
    "nav a, .faults a"
)
# Where focus is: radio buttons of one name are one stop, the one that is chosen or else the first.
_STOPS = """(selector) => {
  const open = (it) => it.checkVisibility() && !it.disabled && it.tabIndex >= 0;
  const seen = new Set();
  return [...document.querySelectorAll(selector)].filter((it) => {
    if (!open(it)) return false;
    if (it.type !== "radio") return true;
    const group = [...document.getElementsByName(it.name)].filter((one) => one.form === it.form);
    const stop = group.find((one) => one.checked) ?? group[0];
    return it === stop;
  });
}"""
_NAMED = """(it) => {
  const name = it.ariaLabel || it.innerText || it.name || it.id;
  return `${it.tagName.toLowerCase()} ${(name || "").trim().split("\\n")[0]}`;
}"""
_SMALL = """([selector, size]) => [...document.querySelectorAll(selector)].flatMap((it) => {
  const within = it.closest("label.choice") ?? it;
  const box = within.getBoundingClientRect();
  const isShown = it.checkVisibility() && box.width > 0;
  return isShown && box.height < size - 0.5 ? [`${it.outerHTML.slice(0, 80)}: ${box.height}`] : [];
})"""


def violations(page: Page, rules: dict[str, Any] = _RULES) -> list[str]:
    """Return what axe finds on a page, a line for each place."""
    result: dict[str, Any] = Axe().run(page, options=rules).response
    return [
        f"{rule['id']}: {rule['help']} at {' '.join(node['target'])}"
        for rule in result["violations"]
        for node in rule["nodes"]
    ]


def is_too_wide(page: Page) -> bool:
    """Tell whether a page has to be moved sideways to be read."""
    wide: bool = page.evaluate(
        "document.documentElement.scrollWidth > document.documentElement.clientWidth"
    )
    return wide


def small_targets(page: Page) -> list[str]:
    """Return what is too low for a glove."""
    found: list[str] = page.evaluate(_SMALL, [_TARGETS, TARGET_PX])
    return found


def faults(page: Page) -> list[str]:
    """Return what is wrong with a page as wide as it is, by daylight and in the dark."""
    page.emulate_media(color_scheme="light")
    found = [*violations(page), *small_targets(page)]
    if is_too_wide(page):
        found.append("too wide: it has to be moved sideways")
    page.emulate_media(color_scheme="dark")
    found += [f"in the dark, {one}" for one in violations(page, _IN_THE_DARK)]
    page.emulate_media(color_scheme="light")
    return found


def faults_at_any_size(page: Page) -> list[str]:
    """Return what is wrong with a page on a phone and on a laptop, by daylight and in the dark."""
    found: list[str] = []
    for name, size in (("phone", PHONE), ("laptop", LAPTOP)):
        page.set_viewport_size(size)
        found += [f"{name}: {one}" for one in faults(page)]
    return found


def unfold(page: Page, within: str = "main") -> None:
    """Open everything that is folded, so that it is looked at as well."""
    page.locator(f"{within} details").evaluate_all("(all) => all.forEach((it) => it.open = true)")


def controls(page: Page) -> list[str]:
    """Return all that can be worked on a page, in the order in which it stands there."""
    found: list[str] = page.evaluate(f"(all) => ({_STOPS})(all).map({_NAMED})", _CONTROLS)
    return found


def tab_order(page: Page) -> list[str]:
    """Return what the Tab key reaches, from the top of a page on."""
    page.evaluate("document.activeElement.blur(); window.scrollTo(0, 0)")
    found: list[str] = []
    for _ in range(300):
        page.keyboard.press("Tab")
        at: str | None = page.evaluate(
            "(named) => document.activeElement === document.body ? null"
            f" : ({_NAMED})(document.activeElement)",
            None,
        )
        if at is None:
            break
        found.append(at)
    return found
