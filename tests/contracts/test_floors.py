"""The import contracts hold, cover every package, and would notice a breach."""

from __future__ import annotations

import configparser
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CORE = ("errors", "units", "fluids", "circuit", "transport", "planning", "evidence", "jobs")


def _judge(package: Path) -> subprocess.CompletedProcess[str]:
    """Run the contracts over a package that may be a changed copy of ours."""
    return subprocess.run(
        [
            str(Path(sys.executable).parent / "lint-imports"),
            "--no-cache",
            "--no-logo",
            str(ROOT / ".importlinter"),
        ],
        cwd=package.parent,
        env={**os.environ, "PYTHONPATH": str(package.parent)},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """Return a copy of the package that a test may spoil."""
    package = tmp_path / "ullage"
    shutil.copytree(
        ROOT / "src" / "ullage", package, ignore=shutil.ignore_patterns("__pycache__", "data")
    )
    return package


@pytest.mark.parametrize(
    ("place", "line", "expected"),
    [
        ("units/convert.py", "from ullage.transport import recipe", "Imports go downward only"),
        (
            "fluids/tables.py",
            "def late():\n    import ullage.cli.entry",
            "Imports go downward only",
        ),
        ("circuit/parts.py", "import pydantic", "The core runs without"),
    ],
    ids=["upward", "upward inside a function", "foreign package in the core"],
)
def test_a_planted_import_is_refused(copied: Path, place: str, line: str, expected: str) -> None:
    """An import against the floors fails, also where it hides in a function."""
    with (copied / place).open("a") as file:
        file.write(f"\n{line}\n")

    ended = _judge(copied)

    assert ended.returncode == 1
    broken = [text for text in ended.stdout.splitlines() if " BROKEN" in text]
    assert any(text.startswith(expected) for text in broken)


def test_a_package_on_no_floor_is_refused(copied: Path) -> None:
    """A new package has to be given its floor first."""
    (copied / "helpers.py").write_text('"""Odds and ends."""\n')

    ended = _judge(copied)

    assert ended.returncode == 1
    assert "ullage.helpers" in ended.stdout


def test_every_package_of_the_core_is_kept_free_of_foreign_ones() -> None:
    """A floor of the core that exists stands in the contract of the core."""
    contracts = configparser.ConfigParser(inline_comment_prefixes=(";",))
    contracts.read(ROOT / ".importlinter")
    listed = contracts["importlinter:contract:core"]["source_modules"].split()
    source = ROOT / "src" / "ullage"
    existing = [
        f"ullage.{name}"
        for name in CORE
        if (source / f"{name}.py").is_file() or (source / name / "__init__.py").is_file()
    ]

    assert listed == existing
