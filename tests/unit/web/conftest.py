"""A desk in memory, the app around it, and a browser at the computer that it runs on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.fakes.desk import memory_desk
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.job import JobHead
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.web.app import create_app
from ullage.web.door import Door
from ullage.wiring import App

PORT = 8765
LAN = "192.168.1.20"
HERE = f"http://127.0.0.1:{PORT}"


def browser(web: FastAPI, *, at: str = "127.0.0.1", host: str = HERE) -> TestClient:
    """Return a browser on a computer with an address, which sends what real ones send."""
    return TestClient(
        web,
        base_url=host,
        client=(at, 50_000),
        headers={"origin": host},
        raise_server_exceptions=False,
    )


@pytest.fixture
def desk() -> Desk:
    """Return a desk with nothing on it."""
    return memory_desk()


@pytest.fixture
def app(desk: Desk, tmp_path: Path) -> App:
    """Return what the app is given."""
    return App(desk=desk, data=tmp_path)


@pytest.fixture
def web(app: App) -> FastAPI:
    """Return the app, open to this computer alone."""
    return create_app(app, Door(port=PORT))


@pytest.fixture
def open_web(app: App) -> FastAPI:
    """Return the app, open to the local network."""
    return create_app(app, Door(port=PORT, lan=LAN))


@pytest.fixture
def client(web: FastAPI) -> Iterator[TestClient]:
    """Return a browser at the computer itself."""
    with browser(web) as found:
        yield found


@pytest.fixture
def job(desk: Desk) -> JobHead:
    """Return an open job on the van with the leveller."""
    machine = add_machine(
        desk, Known(name="Library van 2", marks="green stripe"), machine_id="van2"
    )
    circuit = add_circuit(desk, machine.id, template_table("levelling-van"))
    return open_job(desk, circuit.circuit_id, job_id="job00001")
