"""Everything that the example tells can be looked at: no page of it is behind the program."""

from __future__ import annotations

from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.unit.web.conftest import browser
from ullage.jobs.log import line_from_events
from ullage.jobs.ports import Desk
from ullage.records.example import fill_example


def test_every_job_and_machine_of_the_example_opens(desk: Desk, web: FastAPI) -> None:
    """What was kept when the example was told is still understood."""
    fill_example(desk, line_from_events)
    lines = desk.store.job_lines(limit=100)
    paths = {f"/jobs/{line.job_id}" for line in lines}
    paths |= {f"/machines/{line.machine_id}" for line in lines}

    with browser(web) as client:
        answered = {path: _opened(client, path) for path in sorted(paths)}

    assert answered == dict.fromkeys(sorted(paths), 200)


def _opened(client: TestClient, path: str) -> int:
    return client.get(path).status_code
