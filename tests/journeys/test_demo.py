"""Somebody types ``ullage demo`` first of all: it tells what it does and leaves a page to open."""

from __future__ import annotations

import json
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import run
from tests.contracts.test_without_app import WITHOUT
from ullage.cli.entry import main

PICTURES = re.compile(r"<svg.*?</svg>", re.DOTALL)


class _Page(HTMLParser):
    """Collects what a page is made of, and where its tags do not close."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.open: list[str] = []
        self.links: list[str] = []
        self.unclosed: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag and what it points to."""
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in ("href", "src") and value]
        if tag not in ("meta", "br", "hr", "img", "link", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Note a tag that closes another one than the last."""
        if not self.open or self.open.pop() != tag:
            self.unclosed.append(tag)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run the demo once, as a person would."""
    folder = tmp_path_factory.mktemp("demo") / "out"
    assert main(["demo", "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, made: Path) -> dict[str, Any]:
    """Run it once more for a script, into another folder, where the app is not installed."""
    folder = tmp_path_factory.mktemp("demo-json") / "out"
    ended = subprocess.run(
        [run.sys.executable, "-c", WITHOUT, "demo", "--json", "--out", str(folder)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ended.stderr == ""
    answer: dict[str, Any] = json.loads(ended.stdout)
    return answer


def test_the_same_command_makes_the_same_files(made: Path, told: dict[str, Any]) -> None:
    """The demo is reproducible to the byte, whoever runs it and how."""
    other = Path(told["out"])
    names = sorted(path.name for path in made.iterdir())

    assert names == sorted([*told["files"], "index.html"])
    assert [n for n in names if (made / n).read_bytes() != (other / n).read_bytes()] == []


def test_the_outflow_looks_fresh_while_the_legs_are_old(told: dict[str, Any]) -> None:
    """The insight that the demo is for: 95 % fresh outside, a fifth or more old inside."""
    moment = told["looks_fresh"]

    assert moment["outflow_old_pct"] <= 5.0
    assert moment["remaining_pct"] >= 20.0
    assert moment["of_that_in_legs_pct"] >= 90.0


def test_the_recipes_are_compared_at_the_same_litres(told: dict[str, Any]) -> None:
    """Each of the three pours what the others pour, within a container's rest."""
    poured = [
        sum(step["poured_l"] for step in recipe["result"]["steps"]) for recipe in told["recipes"]
    ]

    assert len(poured) == 3
    assert max(poured) - min(poured) <= 0.15


def test_exercising_leaves_less_than_idling(told: dict[str, Any]) -> None:
    """The whole bands lie apart in their middles, at equal litres."""
    middles = {
        recipe["name"]: recipe["result"]["quantiles"]["remaining_pct"]["p50"]
        for recipe in told["recipes"]
    }

    assert middles["Divert, axles exercised in turn"] < middles["Divert at idle, nothing exercised"]


def test_the_page_is_whole_and_fetches_nothing(made: Path) -> None:
    """It opens from disk: no script, every link is a file beside it, every tag closes."""
    text = (made / "index.html").read_text(encoding="utf-8")
    page = _Page()
    page.feed(text)

    assert page.unclosed == []
    assert page.open == []
    assert "script" not in page.tags
    assert [link for link in page.links if not (made / link).is_file()] == []
    assert page.tags.count("h1") == 1


def test_no_two_pictures_of_the_page_share_an_id(made: Path) -> None:
    """Each picture keeps its own gradient and its own description."""
    text = (made / "index.html").read_text(encoding="utf-8")
    ids = re.findall(r' id="([^"]+)"', text)

    assert len(ids) == len(set(ids))


def test_statistics_words_stay_out(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A person reads of machines and bands."""
    text = PICTURES.sub("", (made / "index.html").read_text(encoding="utf-8")).lower()
    words = ("median", "quantile", "percentile", "confidence", "ensemble", "sigma", "p95")

    assert [word for word in words if re.search(rf"\b{word}", text)] == []


def test_a_file_in_the_way_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the folder should be, a file is not overwritten."""
    there = tmp_path / "taken"
    there.write_text("mine", encoding="utf-8")
    code = main(["demo", "--out", str(there)])

    assert code == 2
    assert str(there) in capsys.readouterr().err
    assert there.read_text(encoding="utf-8") == "mine"


@pytest.mark.browser
@pytest.mark.parametrize("width", [360, 1280])
def test_the_page_fits_a_phone_and_a_laptop(made: Path, tmp_path: Path, width: int) -> None:
    """Nothing makes the page wider than the screen, and one shape of each picture is shown."""
    browser = run.browser()
    assert browser is not None
    measure = (
        "<script>onload=()=>{const w=[...document.querySelectorAll('figure>div')].map("
        "d=>getComputedStyle(d).display+':'+d.className);"
        "document.title='W'+document.documentElement.scrollWidth+'/'+innerWidth+' '+w.join(' ')}"
        "</script>"
    )
    text = (made / "index.html").read_text(encoding="utf-8")
    measured = tmp_path / "measured.html"
    measured.write_text(text.replace("</body>", f"{measure}</body>"), encoding="utf-8")
    ended = subprocess.run(
        [
            browser,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            f"--user-data-dir={tmp_path / 'profile'}",
            f"--window-size={width},800",
            "--dump-dom",
            measured.as_uri(),
        ],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    found = re.search(r"<title>W(\d+)/(\d+) ([^<]*)</title>", ended.stdout)

    assert found is not None
    assert int(found[2]) <= max(width, 500)
    assert int(found[1]) <= int(found[2])
    shown = {shape.split(":")[1] for shape in found[3].split() if not shape.startswith("none")}
    assert shown == ({"phone"} if width == 360 else {"laptop"})


def test_the_whole_job_is_shown_beside_the_truth(made: Path, told: dict[str, Any]) -> None:
    """Plan, readings and verdict go through files; the truth stands beside each band."""
    job = told["job"]
    band = job["verdict"]["remaining_pct"]
    inside = sum(
        job["verdict"]["parts"][name]["p05"] - 1.0
        <= truth
        <= job["verdict"]["parts"][name]["p95"] + 1.0
        for name, truth in job["truth_parts_pct"].items()
    )
    page = (made / "index.html").read_text("utf-8")

    assert job["held_pct"] >= 95.0
    assert band["p05"] - 1.0 <= job["truth_pct"] <= band["p95"] + 1.0
    assert inside >= len(job["truth_parts_pct"]) - 1
    assert "Verdict and truth, part by part" in page
    for name in ("plan.json", "recipe.json", "evidence.json", "verdict.json", "verdict.svg"):
        assert (made / f"the-job.{name}").is_file()


def test_the_files_of_the_whole_job_give_its_verdict_again(
    made: Path, told: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever goes on with them gets the same answer by the same path."""
    files = [
        str(made / name)
        for name in ("levelling-van.circuit.toml", "the-job.recipe.json", "the-job.evidence.json")
    ]
    capsys.readouterr()
    assert main(["prove", *files, "--target-pct", "20", "--json"]) == 0
    again = json.loads(capsys.readouterr().out)

    assert again["remaining_pct"] == told["job"]["verdict"]["remaining_pct"]
