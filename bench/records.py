"""How long does the store take, for a tap and for a list of many jobs? ``python -m bench.records``

Fills a store with 100 000 jobs on 500 machines, every second one filed, and prints the median and
the 95th of 100 calls: wall time for what waits for the disk, CPU time of the calling thread for
what only reads. Goals: 25 ms for a tap that is stored durably, 50 ms for a list.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import insert

from ullage.jobs.event import Draft, Kind
from ullage.jobs.job import JobHead
from ullage.jobs.log import line_from_events
from ullage.jobs.machine import CircuitVersion, Machine
from ullage.jobs.next_thing import AT_DESK, JobLine, NextThing
from ullage.jobs.stage import STAGES
from ullage.records import rows
from ullage.records.backup import restore_backup, write_backup
from ullage.records.database import open_database
from ullage.records.schema import CIRCUIT_VERSION, JOB, JOB_LINE, MACHINE
from ullage.records.store import SqlStore
from ullage.wiring import DATABASE

MACHINES, JOBS, CALLS = 500, 100_000, 100
TAP_MS, LIST_MS = 25.0, 50.0
_START = datetime(2020, 1, 1, tzinfo=UTC)


def _job(number: int) -> tuple[JobHead, JobLine]:
    """Return a job and its line: every second one filed, the others in any stage."""
    machine = number % MACHINES
    stage = None if number % 2 else STAGES[number // 2 % len(STAGES)]
    head = JobHead(
        id=f"j{number:06d}",
        machine_id=f"m{machine}",
        circuit_id=f"c{machine}",
        circuit_version_id=f"v{machine}",
        title=f"Exchange {number}",
        opened_at=_START + timedelta(minutes=number),
    )
    line = JobLine(
        job_id=head.id,
        machine_id=head.machine_id,
        title=head.title,
        stage=stage,
        next=NextThing(sentence="Say how much old fluid may stay.", who=AT_DESK),
        rank=7 if stage is None else STAGES.index(stage),
        opened_at=head.opened_at,
        touched_at=head.opened_at + timedelta(minutes=number * 7919 % 10_000),
    )
    return head, line


def fill(path: Path) -> None:
    """Write machines, circuits and jobs without events, in one go."""
    machines = [
        Machine(id=f"m{n}", name=f"Library van {n}", added_at=_START) for n in range(MACHINES)
    ]
    versions = [
        CircuitVersion(
            id=f"v{n}",
            circuit_id=f"c{n}",
            machine_id=f"m{n}",
            number=1,
            name="Leveller",
            table={},
            saved_at=_START,
        )
        for n in range(MACHINES)
    ]
    jobs = [_job(number) for number in range(JOBS)]
    names = {machine.id: machine.name for machine in machines}
    with open_database(path) as engine, engine.begin() as base:
        base.execute(insert(MACHINE), [rows.machine_row(one) for one in machines])
        base.execute(insert(CIRCUIT_VERSION), [rows.version_row(one) for one in versions])
        base.execute(insert(JOB), [rows.head_row(head) for head, _ in jobs])
        base.execute(
            insert(JOB_LINE), [rows.line_row(line, names[line.machine_id]) for _, line in jobs]
        )


def shown(what: str, times_s: list[float], goal_ms: float) -> None:
    """Print a line: median, 95th and whether the goal was met."""
    times = sorted(1e3 * one for one in times_s)
    p95 = times[int(0.95 * len(times))]
    met = "met" if p95 <= goal_ms else "MISSED"
    print(f"{what:<44}{times[len(times) // 2]:>8.1f}{p95:>8.1f}   goal {goal_ms:.0f} ms: {met}")


def timed(clock: Callable[[], float], call: Callable[[], object]) -> list[float]:
    """Return how long each of some calls took, after one that is not counted."""
    call()
    found = []
    for _ in range(CALLS):
        before = clock()
        call()
        found.append(clock() - before)
    return found


def taps(store: SqlStore, job: str, device: str) -> Callable[[], object]:
    """Return a call that stores the next tap of a device."""
    number = 0

    def tap() -> object:
        nonlocal number
        number += 1
        draft = Draft(
            uid=f"{device}-{number}",
            device=device,
            device_seq=number,
            kind=Kind.POURED,
            device_at=_START,
            payload={"litres": 1.0},
        )
        return store.append(job, [draft], line_from_events, at=_START)

    return tap


def lists(store: SqlStore) -> dict[str, Callable[[], object]]:
    """Return what the pages ask of a store with many jobs."""
    return {
        "open jobs, first page": lambda: store.job_lines(is_open=True),
        "filed jobs, first page": lambda: store.job_lines(is_open=False),
        "filed jobs, page 400": lambda: store.job_lines(is_open=False, offset=40_000),
        "all jobs, page 900": lambda: store.job_lines(offset=90_000),
        "how many are open": lambda: store.count_jobs(is_open=True),
        "search, a handful found": lambda: store.job_lines(search="exchange 4242"),
        "search, nothing found": lambda: store.job_lines(search="no such machine"),
        "search, how many": lambda: store.count_jobs(search="van 4"),
        "jobs of one machine": lambda: store.job_lines(machine_id="m7"),
        "machines, searched": lambda: store.machines(search="van 49"),
    }


def main() -> None:
    """Print a line for each call."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    with tempfile.TemporaryDirectory() as name:
        data = Path(name)
        fill(data / DATABASE)
        load = os.getloadavg()[0]
        print(f"{JOBS} jobs on {MACHINES} machines; {CALLS} calls each; load {load:.1f}")
        print(f"{'':<44}{'median':>8}{'p95':>8}   ms")
        with open_database(data / DATABASE) as engine:
            store = SqlStore(engine)
            for what, call in lists(store).items():
                shown(f"{what} (CPU)", timed(time.thread_time, call), LIST_MS)
            tap = taps(store, "j000010", "one")
            shown("tap, the first 100 of a job (wall)", timed(time.perf_counter, tap), TAP_MS)
            for _ in range(800):
                tap()
            shown("tap, after 900 others (wall)", timed(time.perf_counter, tap), TAP_MS)
            shown("tap, after 1000 others (CPU)", timed(time.thread_time, tap), TAP_MS)
            other = threading.Thread(
                target=timed, args=(time.perf_counter, taps(store, "j000020", "two"))
            )
            other.start()
            third = taps(store, "j000020", "three")
            shown("tap, beside another device's (wall)", timed(time.perf_counter, third), TAP_MS)
            other.join()
        start = time.perf_counter()
        file = write_backup(data, data / "all.ullage-backup")
        made = time.perf_counter()
        restore_backup(file, data / "restored")
        size = file.stat().st_size / 1e6
        print(f"backup of all: {made - start:.1f} s, {size:.1f} MB")
        print(f"restore, checked whole: {time.perf_counter() - made:.1f} s")


if __name__ == "__main__":
    main()
