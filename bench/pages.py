"""How long does a page take where many jobs are kept, and what does the first one bring along?

Fills a store with 100 000 jobs on 1000 machines (two on each in hand, the others filed), serves it
from this process and asks over http, one request after the other. The goal for the list of jobs is
50 ms for 95 of 100 requests. Processor time, of asking and answering together, stands beside it: it
hardly changes where the machine is busy with other things. Then it starts ``ullage serve`` anew and
measures until the first page is there.
"""

from __future__ import annotations

import json
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import uvicorn
from sqlalchemy import insert

from ullage.cli.serve import listening
from ullage.jobs.add_machine import template_table
from ullage.jobs.job import JobHead
from ullage.jobs.machine import CircuitVersion, Machine
from ullage.jobs.next_thing import AT_DESK, JobLine, NextThing
from ullage.jobs.stage import STAGES
from ullage.records import rows
from ullage.records.database import open_database
from ullage.records.schema import CIRCUIT_VERSION, JOB, JOB_LINE, MACHINE
from ullage.web.app import create_app
from ullage.web.door import Door
from ullage.wiring import DATABASE, open_app

MACHINES, JOBS, IN_HAND = 1000, 100_000, 2
# So many requests a page, or as many as fit into the time, but never fewer than the last.
ASKED, LONGEST_S, FEWEST = 200, 8.0, 20
GOAL_MS = 50.0
_START = datetime(2020, 1, 1, tzinfo=UTC)
_PAGES = (
    "/",
    "/?page=40",
    "/?filed=yes",
    "/?filed=yes&page=1900",
    "/?q=van+0777",
    "/?q=no+such+machine",
    "/machines",
    "/machines/m0500",
    "/jobs/new",
    "/jobs/j000123",
)


def _line(number: int) -> JobLine:
    """Return a job as the list shows it: the first two of a machine in any stage, others filed."""
    stage = STAGES[number % len(STAGES)] if number < IN_HAND * MACHINES else None
    return JobLine(
        job_id=f"j{number:06d}",
        machine_id=f"m{number % MACHINES:04d}",
        title=f"Van {number % MACHINES:04d}",
        stage=stage,
        next=NextThing(sentence="Say how much old fluid may stay.", who=AT_DESK),
        rank=7 if stage is None else STAGES.index(stage),
        opened_at=_START + timedelta(hours=number),
        touched_at=_START + timedelta(hours=number + 5),
    )


def fill(data: Path) -> None:
    """Write machines, circuits and jobs without events, in one go."""
    machines = [
        Machine(id=f"m{n:04d}", name=f"Van {n:04d}", marks="white", added_at=_START)
        for n in range(MACHINES)
    ]
    table = template_table("levelling-van")
    versions = [
        CircuitVersion(
            id=f"v{n:04d}",
            circuit_id=f"c{n:04d}",
            machine_id=f"m{n:04d}",
            number=1,
            name="Leveller",
            table=table,
            saved_at=_START,
        )
        for n in range(MACHINES)
    ]
    lines = [_line(number) for number in range(JOBS)]
    heads = [
        JobHead(
            id=line.job_id,
            machine_id=line.machine_id,
            circuit_id=f"c{line.machine_id[1:]}",
            circuit_version_id=f"v{line.machine_id[1:]}",
            title=line.title,
            opened_at=line.opened_at,
        )
        for line in lines
    ]
    with open_database(data / DATABASE) as engine, engine.begin() as base:
        base.execute(insert(MACHINE), [dict(rows.machine_row(one)) for one in machines])
        base.execute(insert(CIRCUIT_VERSION), [dict(rows.version_row(one)) for one in versions])
        base.execute(insert(JOB), [dict(rows.head_row(one)) for one in heads])
        base.execute(insert(JOB_LINE), [dict(rows.line_row(one, one.title)) for one in lines])


@contextmanager
def serving(data: Path) -> Iterator[str]:
    """Serve a folder of data from a thread."""
    door = listening("127.0.0.1", 0)
    port = int(door.getsockname()[1])
    with door, open_app(data) as app:
        config = uvicorn.Config(create_app(app, Door(port=port)), log_level="warning")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        while not server.started:
            time.sleep(0.02)
        try:
            yield f"http://127.0.0.1:{port}"
        finally:
            server.should_exit = True
            thread.join()


def asked(url: str) -> bytes:
    """Return what an address answers."""
    with urllib.request.urlopen(url) as answer:
        body: bytes = answer.read()
    return body


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """How long some requests took, by the clock and by the processor."""

    median_ms: float
    p95_ms: float
    processor_ms: float


def timed(url: str) -> Times:
    """Return how long some requests took, after one that is not counted."""
    asked(url)
    found: list[float] = []
    until = time.perf_counter() + LONGEST_S
    worked = time.process_time()
    while len(found) < ASKED and (len(found) < FEWEST or time.perf_counter() < until):
        start = time.perf_counter()
        asked(url)
        found.append(1e3 * (time.perf_counter() - start))
    found.sort()
    return Times(
        median_ms=statistics.median(found),
        p95_ms=found[int(0.95 * len(found))],
        processor_ms=1e3 * (time.process_time() - worked) / len(found),
    )


def first_visit(url: str) -> tuple[int, int]:
    """Return the requests and bytes of a first visit: the page and the files that it names."""
    page = asked(f"{url}/")
    files = sorted(set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page.decode())))
    return 1 + len(files), len(page) + sum(len(asked(url + file)) for file in files)


def started_s(data: Path) -> float:
    """Return how long it takes from the command to the first page."""
    start = time.perf_counter()
    words = [sys.executable, "-m", "ullage", "serve", "--port", "0", "--json", "--data", str(data)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as process:
        assert process.stdout is not None
        url = json.loads(process.stdout.readline())["url"]
        asked(f"{url}/")
        took = time.perf_counter() - start
        process.send_signal(signal.SIGINT)
    return took


def main() -> None:
    """Print a line for each page."""
    with tempfile.TemporaryDirectory() as name:
        data = Path(name)
        fill(data)
        print(f"{JOBS} jobs on {MACHINES} machines, up to {ASKED} requests each")
        print(f"{'page':<26}{'median':>10}{'p95':>10}{'processor':>12}")
        worst = 0.0
        with serving(data) as url:
            for page in _PAGES:
                took = timed(url + page)
                if page.startswith("/?") or page == "/":
                    worst = max(worst, took.p95_ms)
                print(
                    f"{page:<26}{took.median_ms:>7.1f} ms{took.p95_ms:>7.1f} ms"
                    f"{took.processor_ms:>9.1f} ms"
                )
            requests, size = first_visit(url)
        met = "met" if worst <= GOAL_MS else "MISSED"
        print(f"the list of jobs, slowest p95: {worst:.1f} ms; goal {GOAL_MS:.0f} ms: {met}")
        print(f"first visit: {requests} requests, {size / 1e3:.1f} kB")
        starts = sorted(started_s(data) for _ in range(3))
        print(f"from `ullage serve` to the first page: {starts[0]:.2f} s (best of 3)")


if __name__ == "__main__":
    main()
