"""A job travels as one file, and arrives once."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.event import Kind
from ullage.jobs.log import line_from_events, load_job, log
from ullage.jobs.ports import Desk
from ullage.records.job_file import job_to_table, merge_job
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
        (lambda t: t["events"][0].update(payload='{"height":1}'), NotFound, "key of as-found"),
        (lambda t: t["job"].update(opened_at="yesterday"), OutOfRange, "as it was exported"),
        (lambda t: t["photos"].update({"ab" * 32: "!!"}), OutOfRange, "as it was exported"),
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

    with pytest.raises(Conflict, match="Library van 2"):
        _merged(desk, sent)
