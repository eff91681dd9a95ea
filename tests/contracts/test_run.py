"""The starter prepares once, says what it needs, and never hides what was not run."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest

import run

DEBIAN_ROOT = Path("/etc/debian_version").is_file() and os.geteuid() == 0

BROWSER_TEST = "import pytest\n\n@pytest.mark.browser\ndef test_page():\n    assert True\n"


def test_an_old_python_is_named_with_the_one_that_is_needed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Who starts it with an old Python reads which one to take."""
    monkeypatch.setattr(run, "OLDEST", (99, 0))

    with pytest.raises(run.Stop, match=r"Python 99\.0 or newer is needed, this is 3\.\d+\.\d+"):
        run.need_python()


def test_a_missing_ensurepip_is_named_with_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    """Debian's Python without its venv package gets the name of that package."""
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == "ensurepip" else object()
    )

    with pytest.raises(run.Stop, match="apt-get install python3-venv"):
        run.need_python()


def test_work_is_done_once_for_one_mark(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A second start does nothing; a changed mark does the work again."""
    done: list[str] = []
    mark = ["first"]
    monkeypatch.setattr(run, "VENV", tmp_path)
    for _ in range(2):
        run.once("prepared", lambda: mark[0], lambda: done.append(mark[0]))
    mark[0] = "second"
    run.once("prepared", lambda: mark[0], lambda: done.append(mark[0]))

    assert done == ["first", "second"]


def test_failed_work_leaves_no_stamp(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What stopped half-way is tried again the next time."""
    monkeypatch.setattr(run, "VENV", tmp_path)

    def stop() -> None:
        raise run.Stop("no network")

    with pytest.raises(run.Stop):
        run.once("prepared", lambda: "mark", stop)

    assert list(tmp_path.iterdir()) == []


def test_a_mark_tells_texts_apart_however_they_are_cut() -> None:
    """Moving a character from one text to the next is a change."""
    assert run.fingerprint(["ab", "c"], []) != run.fingerprint(["a", "bc"], [])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (BROWSER_TEST, True),
        ("import pytest\npytestmark = [pytest.mark.slow, pytest.mark.browser]\n", True),
        ('"""Mentions @pytest.mark.browser in passing."""\n', False),
    ],
)
def test_browser_tests_are_found_by_their_mark(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str, expected: bool
) -> None:
    """Nothing is installed for a browser before a test asks for one."""
    (tmp_path / "tests" / "journeys").mkdir(parents=True)
    (tmp_path / "tests" / "journeys" / "test_page.py").write_text(text)
    monkeypatch.setattr(run, "ROOT", tmp_path)

    assert run.has_browser_tests() is expected


@pytest.mark.skipif(not DEBIAN_ROOT, reason="only root on Debian installs packages")
def test_a_missing_browser_is_asked_of_apt(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Root on Debian gets the browser installed, by a list brought up to date first."""
    log = tmp_path / "log"
    apt = tmp_path / "apt-get"
    apt.write_text(f'#!/bin/sh\necho "$DEBIAN_FRONTEND $*" >> {log}\n')
    apt.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    monkeypatch.setenv("ULLAGE_BROWSER", "no-such-browser")

    run.prepare_browser()

    update, install = log.read_text().splitlines()
    assert update.endswith(" update")
    assert install.startswith("noninteractive ")
    assert "chromium" in install.split(" install ")[1].split()


def _pytest(folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a browser test in a folder of its own, on a machine without the browser."""
    (folder / "test_page.py").write_text(BROWSER_TEST)
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = browser\n")
    root = Path(run.__file__).parent
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "tests.conftest", "-p", "no:cacheprovider"],
        cwd=folder,
        env={
            **os.environ,
            "PYTHONPATH": str(root),
            "ULLAGE_BROWSER": "no-such-browser",
            "ULLAGE_REQUIRE_BROWSER": "",
            **environment,
        },
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_browser_test_without_a_browser_is_skipped_loudly(tmp_path: Path) -> None:
    """A laptop without a browser passes, and says what it did not run."""
    ended = _pytest(tmp_path)

    assert ended.returncode == 0
    assert "browser tests were NOT run" in ended.stdout
    assert "1 skipped" in ended.stdout.splitlines()[-1]


def test_a_required_browser_that_is_missing_fails(tmp_path: Path) -> None:
    """Where browsers are required, a missing one is no excuse."""
    ended = _pytest(tmp_path, ULLAGE_REQUIRE_BROWSER="1")

    assert ended.returncode == 1
    assert "--require-browser was given" in ended.stdout


def test_a_failed_gate_is_repeated_above_the_closing_line(tmp_path: Path) -> None:
    """A linter that failed minutes ago is still in sight at the end."""
    ended = _pytest(tmp_path, ULLAGE_FAILED_GATES="mypy")

    assert "mypy: see above" in ended.stdout.splitlines()[-2]


@pytest.mark.parametrize(
    "name", [file.stem for file in (run.ROOT / "bench").glob("*.py") if run.is_bench(file)]
)
def test_a_benchmark_starts_as_the_starter_starts_it(name: str) -> None:
    """Each finds what it stands on; none is run to its end here."""
    words = run.bench_words(run.ROOT / "bench" / f"{name}.py")

    ended = subprocess.run(
        [sys.executable, "-c", f"import {words[-1]}"],
        cwd=run.ROOT,
        env={key: value for key, value in os.environ.items() if key != "PYTHONPATH"},
        capture_output=True,
        text=True,
        check=False,
    )

    assert words[1] == "-m"
    assert ended.returncode == 0, ended.stderr


def test_byte_code_that_is_not_wanted_beside_the_sources_stands_in_the_environment(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Otherwise every process would translate every library anew."""
    monkeypatch.delenv("PYTHONPYCACHEPREFIX", raising=False)
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    whole = run.surroundings({"ULLAGE_X": "1"})

    assert "PYTHONDONTWRITEBYTECODE" not in whole
    assert Path(whole["PYTHONPYCACHEPREFIX"]).parent == run.VENV
    assert whole["ULLAGE_X"] == "1"
