"""Go on with a newer version of the circuit: what was measured for a job must reach its plan.

A job keeps the version that it was opened with until a person says otherwise, and from the first
step of the exchange on for good: readings belong to the circuit that they were foretold for.
"""

from __future__ import annotations

from ullage.errors import Conflict
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk


def newer_version(desk: Desk, job: Job) -> CircuitVersion | None:
    """Return the newest version of a job's circuit where the job could go on with it, else None."""
    newest = desk.store.newest_circuit(job.head.circuit_id)
    if job.steps or job.is_closed or newest.id == job.head.circuit_version_id:
        return None
    return newest


def newer_text(number: int) -> str:
    """Say that the circuit was changed since the job was opened."""
    return (
        f"The circuit was changed since: version {number} is newer than the one that this job "
        "works on."
    )


def take_newest(desk: Desk, job_id: str, *, uid: str) -> Event:
    """Go on with the newest version of the circuit; what was planned before no longer holds.

    Raises
    ------
    Conflict
        If a step of the exchange was begun already.
    """
    job = load_job(desk, job_id)
    if job.steps:
        raise Conflict(
            "a step of the exchange was begun with the circuit as it is; its readings belong to "
            "that version, so finish with it"
        )
    newest = desk.store.newest_circuit(job.head.circuit_id)
    return log(desk, job_id, Kind.CIRCUIT, {"version": newest.id}, uid=uid)
