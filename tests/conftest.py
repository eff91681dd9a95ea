"""How every test runs here: seeded, and honest about what could not be run."""

from __future__ import annotations

import os
from typing import Any

import hypothesis
import pytest
from xdist.scheduler import LoadScopeScheduling

import run

# The same examples on each run; no deadline, because a shared machine is slow at times.
hypothesis.settings.register_profile("seeded", derandomize=True, deadline=None)
hypothesis.settings.load_profile("seeded")

LACKING = "no browser: chromium is not installed"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put long tests first, so that none is left at the end for one core alone."""
    items.sort(key=lambda item: item.get_closest_marker("slow") is None)


class _Journeys(LoadScopeScheduling):  # type: ignore[misc]
    """Keeps a journey's tests on one worker: each of its files starts servers, browsers or a whole
    demo once. All other tests go wherever there is room.
    """

    def _split_scope(self, nodeid: str) -> str:
        """Return what stays together with a test."""
        return nodeid.split("::")[0] if nodeid.startswith("tests/journeys/") else nodeid


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> _Journeys:
    """Say which tests go to which worker."""
    return _Journeys(config, log)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a browser test where there is no browser, or fail it where one is required."""
    if item.get_closest_marker("browser") is None or run.browser() is not None:
        return
    if os.environ.get("ULLAGE_REQUIRE_BROWSER") == "1":
        pytest.fail(f"{LACKING}, and --require-browser was given", pytrace=False)
    pytest.skip(LACKING)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Repeat above the closing line what nobody should overlook."""
    skipped = [r for r in terminalreporter.stats.get("skipped", []) if LACKING in str(r.longrepr)]
    if skipped:
        terminalreporter.section("browser tests were NOT run", sep="!", red=True, bold=True)
        terminalreporter.line(
            f"{len(skipped)} skipped, {LACKING}; as root: apt-get install chromium"
        )
    failed = os.environ.get("ULLAGE_FAILED_GATES")
    if failed:
        terminalreporter.section("failed before pytest began", sep="!", red=True, bold=True)
        terminalreporter.line(f"{failed}: see above")
