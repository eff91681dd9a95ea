"""Somebody looks after what is kept: lists it, hands a job on, backs everything up."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.fakes.garage import fill
from ullage.cli.entry import main
from ullage.wiring import open_app


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Return a folder of data with one job in hand."""
    with open_app(tmp_path / "data") as app:
        fill(app.desk)
    return tmp_path / "data"


def _told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(list(words))
    told = capsys.readouterr()
    return code, told.out, told.err


def test_jobs_are_listed_and_shown(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A line a job with its next thing to do; one job stage by stage."""
    code, listed, _ = _told(capsys, "jobs", "list", "--data", str(data))
    _, shown, _ = _told(capsys, "jobs", "show", "jo", "--data", str(data))

    assert code == 0
    assert "Library van 2  assess  Judge whether the exchange is due." in listed
    assert "Leveller exchange (job1)" in shown
    assert "assess    in hand" in shown


def test_a_script_gets_one_object(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each act answers in JSON, with a format."""
    file = str(data.parent / "job.json")
    acts = (
        ("list", "--all"),
        ("show", "job1"),
        ("export", "job1", file),
        ("import", file),
        ("backup", str(data.parent / "all")),
        ("restore", str(data.parent / "all")),
    )
    formats = []
    for act in acts:
        code, out, err = _told(capsys, "jobs", *act, "--data", str(data), "--json")
        assert (code, err) == (0, "")
        formats.append(json.loads(out)["format"])

    assert all(name.startswith("ullage-") and name.endswith("/1") for name in formats)
    assert len(set(formats)) == len(acts)


def test_a_job_goes_to_another_garage(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exported here, imported there, twice."""
    file, there = str(tmp_path / "job.json"), str(tmp_path / "there")
    _told(capsys, "jobs", "export", "job1", file, "--data", str(data))
    first = _told(capsys, "jobs", "import", file, "--data", there)
    second = _told(capsys, "jobs", "import", file, "--data", there)

    assert first == second
    assert first[1] == "Job job1 is here, with 3 entries.\n"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("show", "nosuch"), "no job is called 'nosuch'; there are: job1"),
        (("import", "{dir}/nothing.json"), "can't be used: no such file"),
        (("import", "{dir}/text.json"), "no JSON"),
        (("import", "{dir}/list.json"), "an exported job"),
        (("restore", "{dir}/text.json"), "no backup or is damaged"),
        (("export", "job1", "{dir}/text.json"), "can't be used: file exists"),
        (("backup", "{dir}/text.json"), "is there already"),
        (("forget",), "invalid choice"),
    ],
)
def test_what_cannot_be_done_gets_a_sentence(
    data: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    says: str,
) -> None:
    """Exit code 2, a sentence on standard error, nothing on standard output."""
    (tmp_path / "text.json").write_text("dear diary")
    (tmp_path / "list.json").write_text("[]")
    given = [word.format(dir=tmp_path) for word in words]
    code, out, err = _told(capsys, "jobs", *given, "--data", str(data))

    assert (code, out) == (2, "")
    assert says in err
