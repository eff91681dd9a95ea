"""What the store knows of the last service of each circuit, without reading any job whole."""

from __future__ import annotations

from dataclasses import dataclass

from ullage.jobs.event import Event
from ullage.jobs.machine import CounterReading, Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """A circuit of a machine, and the job that was filed last on it; ``job_id`` None: none was.

    ``events`` are that job's dates of the next exchange and all its takings back, in order.
    ``distances`` and ``hours`` are the first and the newest reading of the machine's counter that
    show the one or the other: none, one, or two. ``open_job_id`` is a job in hand on the circuit.
    """

    machine: Machine
    circuit_id: str
    circuit: str
    is_only_circuit: bool
    job_id: str | None = None
    open_job_id: str | None = None
    events: tuple[Event, ...] = ()
    distances: tuple[CounterReading, ...] = ()
    hours: tuple[CounterReading, ...] = ()
