"""A job travels as one file, and arrives once."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.jobs.event import Kind
from ullage.jobs.log import line_from_events, load_job, log
from ullage.jobs.ports import Desk
from ullage.records.job_file import job_to_table, merge_job, read_job
from ullage.wiring import open_app


@pytest.fixture
def sent() -> dict[str, Any]:
    """Return an exported job as another laptop reads it."""
    desk = memory_desk()
    fill(desk)
    text = json.dumps(job_to_table(desk, "job1"), allow_nan=False)
    table: dict[str, Any] = json.loads(text)
    return table


def _merged(desk: Desk, table: dict[str, Any]) -> str:
    return merge_job(desk, table, line_from_events, file="job.json")


def test_a_job_arrives_whole_in_another_store(sent: dict[str, Any], tmp_path: Path) -> None:
    """Exported there again, it is the same but for the server's time of its entries."""
    with open_app(tmp_path / "data") as app:
        _merged(app.desk, sent)
        again = json.loads(json.dumps(job_to_table(app.desk, "job1")))
    for table in (again, sent):
        table.pop("code")
        for event in table["events"]:
            event.pop("server_at")

    assert again == sent


def test_importing_twice_changes_nothing(sent: dict[str, Any]) -> None:
    """Also when more was written here in between."""
    desk = memory_desk()
    _merged(desk, sent)
    log(desk, "job1", Kind.NOTE, {"note": "written here"}, uid="here1")
    before = (load_job(desk, "job1"), desk.store.answers("job1"))
    _merged(desk, sent)

    assert (load_job(desk, "job1"), desk.store.answers("job1")) == before
    assert len(desk.store.counter_readings("van2")) == 1


def _without_zone(table: dict[str, Any]) -> None:
    table["events"][0]["device_at"] = "2026-05-04T08:00:00"


@pytest.mark.parametrize(
    ("change", "error", "says"),
    [
        (lambda t: t.update(format="ullage-job/2"), OutOfRange, "of a newer program"),
        (lambda t: t.pop("events"), OutOfRange, "as it was exported"),
        (lambda t: t["events"][0].update(kind="spell"), OutOfRange, "as it was exported"),
        (lambda t: t["events"][0].update(payload={"height": 1}), NotFound, "key of as-found"),
        (lambda t: t["job"].update(opened_at="yesterday"), OutOfRange, "as it was exported"),
        (lambda t: t["photos"].update({"ab" * 32: "!!"}), OutOfRange, "as it was exported"),
        (lambda t: t["machine"].update(id="../van"), OutOfRange, "letters, digits and hyphens"),
        (lambda t: t["job"].update(title=5), OutOfRange, "job.title is 5"),
        (lambda t: t["events"][0].update(device_seq=True), OutOfRange, "event.device_seq is True"),
        (lambda t: t["job"].update(machine_id="other"), OutOfRange, "parts of different jobs"),
        (lambda t: t["events"].append(t["events"][0]), OutOfRange, "parts of different jobs"),
        (lambda t: t["circuit_versions"][0]["body"].pop("fluid"), FileFaults, "fluid"),
        (_without_zone, OutOfRange, "a time with its zone"),
    ],
)
def test_a_wrong_file_is_refused_and_leaves_no_job(
    sent: dict[str, Any], change: Any, error: type[Exception], says: str
) -> None:
    """What can be seen to be wrong is seen before anything is kept."""
    change(sent)
    desk = memory_desk()

    with pytest.raises(error, match=says):
        _merged(desk, sent)
    assert desk.store.job_lines() == ()
    assert desk.store.machines() == ()


def test_a_machine_of_the_same_name_is_not_mixed_up(sent: dict[str, Any]) -> None:
    """Another garage's van 2 is not ours; the sentence names it."""
    desk = memory_desk()
    _merged(desk, sent)
    sent["machine"]["id"] = "another"

    with pytest.raises(OutOfRange, match="parts of different jobs"):
        _merged(desk, sent)
    for row in (sent["job"], *sent["circuit_versions"], *sent["counter_readings"]):
        row["machine_id"] = "another"
    with pytest.raises(Conflict, match="Library van 2"):
        _merged(desk, sent)


def test_what_contradicts_what_is_here_changes_nothing(sent: dict[str, Any]) -> None:
    """One id stands for one thing: an entry, a circuit, a job."""
    desk = memory_desk()
    _merged(desk, sent)
    before = job_to_table(desk, "job1")
    for change in (
        lambda t: t["events"][0]["payload"].update(level_mm=3.0),
        lambda t: t["circuit_versions"][0].update(name="Another"),
        lambda t: t["job"].update(title="Another"),
    ):
        wrong = copy.deepcopy(sent)
        change(wrong)
        with pytest.raises(Conflict, match="nothing was merged"):
            _merged(desk, wrong)

    assert job_to_table(desk, "job1") == before


@pytest.mark.parametrize("days", [-1, 1])
def test_a_circuit_that_was_changed_on_both_sides_keeps_both(
    sent: dict[str, Any], days: int
) -> None:
    """The job keeps the version it was planned with; what was saved last is the newest."""
    desk = memory_desk()
    _merged(desk, sent)
    first = desk.store.newest_circuit("leveller")
    ours = replace(first, id="ours-2", number=2, name="Changed here")
    desk.store.add_circuit_version(ours)
    theirs = copy.deepcopy(sent["circuit_versions"][0])
    at = ours.saved_at + timedelta(days=days)
    theirs |= {"id": "theirs-2", "number": 2, "name": "Changed there", "saved_at": at.isoformat()}
    sent["circuit_versions"].append(theirs)
    _merged(desk, sent)
    versions = desk.store.circuit_versions("leveller")
    _merged(desk, sent)

    assert desk.store.circuit_versions("leveller") == versions
    assert {"leveller-1", "ours-2", "theirs-2"} <= {version.id for version in versions}
    assert versions[0].name == ("Changed there" if days > 0 else "Changed here")
    assert [version.number for version in versions] == list(range(len(versions), 0, -1))


@pytest.mark.parametrize(
    "text",
    ['{"a": NaN}', '{"a": Infinity}', '"text"', "[]", '{"a": "\\ud800"}', "{", "[" * 100_000],
)
def test_what_is_no_json_of_ours_gets_a_sentence(tmp_path: Path, text: str) -> None:
    """Not a number, half a character, a hundred thousand brackets."""
    file = tmp_path / "job.json"
    file.write_text(text)

    with pytest.raises(OutOfRange, match="an exported job"):
        read_job(file)


def test_a_job_that_went_on_with_a_newer_circuit_takes_it_along(tmp_path: Path) -> None:
    """Else nobody could show it in the other store."""
    desk = memory_desk()
    fill(desk)
    first = desk.store.circuit_version("leveller-1")
    desk.store.add_circuit_version(replace(first, id="leveller-2", number=2))
    log(desk, "job1", Kind.CIRCUIT, {"version": "leveller-2"})
    table = json.loads(json.dumps(job_to_table(desk, "job1")))
    with open_app(tmp_path / "data") as app:
        _merged(app.desk, table)
        found = load_job(app.desk, "job1").head.circuit_version_id

        assert app.desk.store.circuit_version(found).number == 2


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("circuit", {"version": "elsewhere"}),
        ("answered", {"answer": "elsewhere", "of": "plan"}),
        ("recipe", {"recipe": {"step": []}, "from": "elsewhere"}),
        ("photo", {"sha256": "0" * 64}),
        ("recipe", {"recipe": {}}),
    ],
)
def test_an_entry_that_could_not_be_shown_is_refused(
    sent: dict[str, Any], kind: str, payload: dict[str, Any]
) -> None:
    """It names what did not come along, or a recipe that is none; nothing is kept."""
    sent["events"][0].update(kind=kind, payload=payload)
    desk = memory_desk()

    with pytest.raises((OutOfRange, FileFaults)):
        _merged(desk, sent)
    assert desk.store.machines() == ()


def test_an_entry_of_another_job_stops_an_import_before_anything_is_kept(
    sent: dict[str, Any],
) -> None:
    """Not even an empty job is opened."""
    desk = memory_desk()
    _merged(desk, sent)
    other = copy.deepcopy(sent)
    other["job"]["id"] = "job9"
    for table in ("events", "answers", "counter_readings"):
        for row in other[table]:
            row["job_id"] = "job9"
    other["answers"] = []
    other["events"] = [e for e in other["events"] if e["kind"] not in ("answered", "recipe")]

    with pytest.raises(Conflict, match="entry of another job"):
        _merged(desk, other)
    with pytest.raises(NotFound):
        desk.store.job_head("job9")
