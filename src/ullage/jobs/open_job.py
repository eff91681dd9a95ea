"""Open a job on a circuit: with its newest version, which the job keeps from then on."""

from __future__ import annotations

from ullage.errors import Conflict, NotFound
from ullage.jobs.job import Job, JobHead
from ullage.jobs.next_thing import line_of
from ullage.jobs.ports import Desk


def jobs_in_hand(desk: Desk, machine_id: str) -> dict[str, str]:
    """Return the open jobs of a machine by circuit."""
    lines = desk.store.job_lines(is_open=True, machine_id=machine_id)
    return {desk.store.job_head(line.job_id).circuit_id: line.job_id for line in lines}


def open_job(desk: Desk, circuit_id: str, *, job_id: str | None = None) -> JobHead:
    """Open a job on a circuit. ``job_id`` given: once, however often it is sent.

    Raises
    ------
    NotFound
        If there is no such circuit.
    Conflict
        If a job on this circuit is open: two would each count the other's litres as unexplained.
    """
    if job_id is not None:
        try:
            return desk.store.job_head(job_id)
        except NotFound:
            pass
    version = desk.store.newest_circuit(circuit_id)
    machine = desk.store.machine(version.machine_id)
    if circuit_id in jobs_in_hand(desk, machine.id):
        raise Conflict(
            f"a job on this circuit of {machine.name} is open already; carry on with that one"
        )
    has_others = len(desk.store.circuits_of(machine.id)) > 1
    head = JobHead(
        id=job_id or desk.new_id(),
        machine_id=machine.id,
        circuit_id=circuit_id,
        circuit_version_id=version.id,
        title=f"{machine.name}: {version.name}" if has_others else machine.name,
        opened_at=desk.now(),
    )
    desk.store.open_job(head, line_of(Job(head=head)))
    return head
