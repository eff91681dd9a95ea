"""Machines and their counters."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from ullage.jobs.add_machine import LONGEST_MARKS, Known, add_machine, change_machine
from ullage.jobs.machine import LONGEST_NAME, Counter, CounterReading, Machine
from ullage.web.api.given import Id, IdInPath, Sent, Version
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here

router = APIRouter(prefix="/machines", tags=["machines"])


class MachineTold(BaseModel):
    """A machine that is looked after; ``version`` counts changes."""

    id: str
    name: str
    marks: str
    counter: Counter
    version: int
    added_at: datetime


class MachineKnown(Sent):
    """What is known of a machine."""

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    marks: str = Field(default="", max_length=LONGEST_MARKS)
    counter: Counter = Counter.DISTANCE

    def known(self) -> Known:
        """Return it as the use cases take it."""
        return Known(name=self.name, marks=self.marks, counter=self.counter)


class NewMachine(MachineKnown):
    """A machine to take in; with an ``id`` of the sender's it is taken in once."""

    id: Id | None = None


class ChangedMachine(MachineKnown):
    """What is known now; ``version`` is the one that the change was made from."""

    version: Version


class ReadingTold(BaseModel):
    """What a machine's counter showed."""

    job: str | None
    read_at: datetime
    distance_m: float | None
    running_s: float | None


def machine_told(machine: Machine) -> MachineTold:
    """Return a machine as programs are told it."""
    return MachineTold(
        id=machine.id,
        name=machine.name,
        marks=machine.marks,
        counter=machine.counter,
        version=machine.version,
        added_at=machine.added_at,
    )


@router.get("")
def list_machines(
    desk: Here,
    q: Annotated[str, Query(max_length=80, description="Looked for in name and marks.")] = "",
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
) -> list[MachineTold]:
    """Return machines by name."""
    return [machine_told(one) for one in desk.store.machines(search=q.strip(), limit=limit)]


@router.post("", status_code=201, responses={**TAKING_IN, **refusals(409)})
def take_in_machine(desk: Here, sent: NewMachine) -> MachineTold:
    """Take in a machine."""
    return machine_told(add_machine(desk, sent.known(), machine_id=sent.id))


@router.get("/{machine_id}", responses=refusals(404))
def one_machine(desk: Here, machine_id: IdInPath) -> MachineTold:
    """Return a machine."""
    return machine_told(desk.store.machine(machine_id))


@router.put("/{machine_id}", responses={**TAKING_IN, **refusals(404, 409)})
def save_machine(desk: Here, machine_id: IdInPath, sent: ChangedMachine) -> MachineTold:
    """Keep a change, unless somebody else was faster."""
    changed = change_machine(desk, machine_id, sent.known(), seen_version=sent.version)
    return machine_told(changed)


@router.get("/{machine_id}/counter", responses=refusals(404))
def counter_readings(desk: Here, machine_id: IdInPath) -> list[ReadingTold]:
    """Return what the counter showed, in the order of time."""
    desk.store.machine(machine_id)
    return [_reading(one) for one in desk.store.counter_readings(machine_id)]


def _reading(one: CounterReading) -> ReadingTold:
    return ReadingTold(
        job=one.job_id, read_at=one.read_at, distance_m=one.distance_m, running_s=one.running_s
    )
