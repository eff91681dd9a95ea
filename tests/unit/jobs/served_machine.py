"""A machine that was served over the years, for tests: four filed jobs, each with a sample.

All figures are invented. Jobs are written down by the use cases, at a clock that is set back.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.event import Kind
from ullage.jobs.log import log
from ullage.jobs.machine import CounterReading
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES

#: Year of the job, distance, old fluid left (low, middle, high), counts, water, viscosity, acid.
SERVICES: tuple[
    tuple[int, float, tuple[float, float, float], list[float], float, float, float], ...
]
SERVICES = (
    (2019, 31_000.0, (24.0, 31.0, 40.0), [9000.0, 2400.0, 180.0], 310.0, 20.1, 0.9),
    (2021, 68_000.0, (14.0, 19.0, 26.0), [5200.0, 1300.0, 90.0], 240.0, 20.8, 0.7),
    (2023, 104_000.0, (7.0, 9.0, 13.0), [2600.0, 640.0, 42.0], 180.0, 21.3, 0.55),
    (2025, 139_500.0, (5.0, 7.0, 10.0), [1900.0, 410.0, 33.0], 205.0, 21.0, 0.6),
)
REASON = "the interval in time, shortened because 7 % of old fluid stayed"


def served_machine(desk: Desk, *, name: str = "Library van 2", due: str = "2029-04-20") -> str:
    """Put the machine on a desk and return its name."""
    machine = add_machine(desk, Known(name=name, marks="green stripe"))
    circuit = add_circuit(desk, machine.id, template_table("levelling-van"))
    for service in SERVICES:
        _serve(desk, machine.id, circuit.circuit_id, service, due)
    return machine.id


def _serve(
    desk: Desk, machine_id: str, circuit_id: str, service: tuple[Any, ...], due: str
) -> None:
    year, km, (low, middle, high), counts, water, nu40, acid = service
    at = datetime(year, 5, 4, 9, 0, tzinfo=UTC)
    desk = replace(desk, now=lambda: at)
    job = open_job(desk, circuit_id).id
    log(desk, job, Kind.USE, {"distance_km": km, "hours": km / 30.0})
    desk.store.add_counter_reading(
        CounterReading(
            machine_id=machine_id,
            job_id=job,
            read_at=at,
            distance_m=km * 1e3,
            running_s=km / 30.0 * 3600.0,
        )
    )
    sample = {
        "particles_per_ml": counts,
        "water_mg_kg": water,
        "nu40_mm2_s": nu40,
        "acid_mgkoh_g": acid,
    }
    log(desk, job, Kind.CONDITION, sample)
    log(desk, job, Kind.GOAL, {"target_pct": 10.0})
    band = {"p05": low, "p50": middle, "p95": high}
    answer = Answer(
        id=desk.new_id(),
        job_id=job,
        of=Of.VERDICT,
        made_at=at,
        code=desk.code,
        seed=0,
        inputs={},
        fingerprint=fingerprint_of({}),
        body={"remaining_pct": band, "fits": year != 2021},
    )
    desk.store.keep_answer(answer)
    log(desk, job, Kind.ANSWERED, {"answer": answer.id, "of": Of.VERDICT.value})
    date = {"on": due, "distance_km": km + 93_000.0, "reason": REASON}
    log(desk, job, Kind.NEXT_DUE, date)
    for stage in STAGES:
        log(desk, job, Kind.STAGE, {"stage": stage.value, "state": "finished"})
