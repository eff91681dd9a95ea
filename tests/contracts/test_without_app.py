"""Whoever plans on a command line alone need not install the app."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from ullage.cli.entry import _OF_THE_APP

ROOT = Path(__file__).parents[2]
WITHOUT = f"""
import sys
for name in {sorted(_OF_THE_APP)!r}:
    sys.modules[name] = None
from ullage.cli.entry import main
sys.exit(main(sys.argv[1:]))
"""


def _run(*words: str) -> subprocess.CompletedProcess[str]:
    """Run the program as if the packages of the app were not installed."""
    return subprocess.run(
        [sys.executable, "-c", WITHOUT, *words], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("words", [("jobs", "list"), ("serve",)])
def test_a_command_of_the_app_says_what_to_install(words: tuple[str, ...], tmp_path: Path) -> None:
    """A sentence with the command to type, not a trace."""
    ended = _run(*words, "--data", str(tmp_path))

    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr.startswith(f"ullage: {words[0]} needs the packages of the app")
    assert "pip install 'ullage[app]'" in ended.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("template", "levelling-van"),
        ("calc", "viscosity-grade", "nu40_mm2_s=22"),
        ("pace", "{van}"),
        ("check", "{van}"),
        ("simulate", "{van}", "{divert}"),
    ],
    ids=lambda words: words[0],
)
def test_everything_else_runs_without_them(words: tuple[str, ...], tmp_path: Path) -> None:
    """From the core to the pictures; the journey of the demo does the same with ``demo``."""
    files = {}
    for name, template in (("van", "levelling-van"), ("divert", "levelling-van-divert-idle")):
        file = tmp_path / f"{name}.toml"
        file.write_text(_run("template", template).stdout)
        files[name] = str(file)
    ended = _run(*(word.format(**files) for word in words))

    assert (ended.returncode, ended.stderr) == (0, "")
    assert ended.stdout


def test_the_list_of_such_packages_is_that_of_the_extra() -> None:
    """Under the names by which they are imported."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extra = {word.split(">")[0] for word in project["optional-dependencies"]["app"]}
    imported = {"PIL" if name == "pillow" else name.replace("-", "_") for name in extra}

    assert imported == _OF_THE_APP - {"starlette", "pydantic", "markupsafe"}
