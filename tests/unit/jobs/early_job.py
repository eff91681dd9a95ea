"""A job on the yard lift for tests, brought to the end of any early stage by the use cases."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.answer import Answer
from ullage.jobs.assess import finish_assess, judge, note_as_found, note_use
from ullage.jobs.log import load_job
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.propose_plan import (
    finish_plan,
    keep_plan,
    plan_inputs,
    set_goal,
    take_plan,
    worked_out_plan,
)
from ullage.wiring import FileForms

GOAL: Mapping[str, Any] = {
    "target_pct": 10.0,
    "container_l": 1.0,
    "people": 2,
    "without": ["exercise", "bleed", "release", "circulate", "retract"],
}


def opened(desk: Desk, name: str = "Yard lift 5") -> str:
    """Open a job on a lift."""
    machine = add_machine(desk, Known(name=name))
    circuit = add_circuit(desk, machine.id, template_table("scissor-lift"))
    return open_job(desk, circuit.circuit_id).id


def assessed(desk: Desk, name: str = "Yard lift 5") -> str:
    """Bring a job to the plan: as found, its use, and a verdict."""
    job = opened(desk, name)
    found = {"level_mm": -5.0, "state": "charged", "at_degc": 18.0, "family_proof": "label"}
    note_as_found(desk, job, found, uid=f"{job}-found")
    note_use(desk, job, {"hours": 2100.0, "since_days": 1500.0}, uid=f"{job}-use")
    judge(desk, job)
    finish_assess(desk, job, uid=f"{job}-assess")
    return job


def wanting(desk: Desk, name: str = "Yard lift 5") -> str:
    """Bring a job to the plan, and say what is wanted."""
    job = assessed(desk, name)
    set_goal(desk, job, GOAL, uid=f"{job}-goal")
    return job


@cache
def _body(fingerprint: str) -> dict[str, Any]:
    return worked_out_plan(FileForms(), _INPUTS[fingerprint])


_INPUTS: dict[str, Mapping[str, Any]] = {}


def planned(desk: Desk, name: str = "Yard lift 5") -> tuple[str, Answer]:
    """Bring a job to a plan that is kept; the same inputs are worked out once in a test run."""
    job = wanting(desk, name)
    inputs = plan_inputs(desk, load_job(desk, job))
    _INPUTS["once"] = inputs
    return job, keep_plan(desk, job, inputs, _body("once"))


def chosen(desk: Desk, name: str = "Yard lift 5") -> str:
    """Bring a job to the end of the plan."""
    job, _ = planned(desk, name)
    take_plan(desk, job, uid=f"{job}-choose")
    finish_plan(desk, job, uid=f"{job}-plan")
    return job
