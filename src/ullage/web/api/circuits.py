"""Circuits of machines, in all their versions. A table is that of a circuit file."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel

from ullage.jobs.machine import CircuitVersion
from ullage.jobs.save_circuit import keep_circuit, numbered, save_circuit
from ullage.web.api.given import Id, IdInPath, Sent, Table, Version
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here

router = APIRouter(tags=["circuits"])


class VersionHead(BaseModel):
    """A version without its table; ``id`` is its own, ``circuit`` that of all versions."""

    id: str
    circuit: str
    machine: str
    number: int
    name: str
    saved_at: datetime


class VersionTold(VersionHead):
    """A version with the table of its circuit file."""

    table: Table


class NewCircuit(Sent):
    """A circuit for a machine; with an ``id`` of the sender's it is kept once."""

    id: Id
    table: Table


class ChangedCircuit(Sent):
    """The next version; ``base`` is the number of the version that it was made from."""

    base: Version
    table: Table


def _head(version: CircuitVersion) -> VersionHead:
    return VersionHead(
        id=version.id,
        circuit=version.circuit_id,
        machine=version.machine_id,
        number=version.number,
        name=version.name,
        saved_at=version.saved_at,
    )


def _told(version: CircuitVersion) -> VersionTold:
    return VersionTold(**_head(version).model_dump(), table=dict(version.table))


@router.get("/machines/{machine_id}/circuits", responses=refusals(404))
def circuits_of(desk: Here, machine_id: IdInPath) -> list[VersionHead]:
    """Return the newest version of each circuit of a machine, by name."""
    desk.store.machine(machine_id)
    return [_head(version) for version in desk.store.circuits_of(machine_id)]


@router.post(
    "/machines/{machine_id}/circuits",
    status_code=201,
    responses={**TAKING_IN, **refusals(404, 409)},
)
def give_circuit(desk: Here, machine_id: IdInPath, sent: NewCircuit) -> VersionTold:
    """Give a machine a circuit. The same id with another table is its next version."""
    return _told(keep_circuit(desk, machine_id, sent.table, circuit_id=sent.id))


@router.get("/circuits/{circuit_id}", responses=refusals(404))
def newest_version(desk: Here, circuit_id: IdInPath) -> VersionTold:
    """Return the newest version of a circuit."""
    return _told(desk.store.newest_circuit(circuit_id))


@router.get("/circuits/{circuit_id}/versions", responses=refusals(404))
def all_versions(desk: Here, circuit_id: IdInPath) -> list[VersionHead]:
    """Return every version of a circuit, the newest first."""
    return [_head(version) for version in desk.store.circuit_versions(circuit_id)]


@router.post("/circuits/{circuit_id}/versions", responses={**TAKING_IN, **refusals(404, 409)})
def save_version(desk: Here, circuit_id: IdInPath, sent: ChangedCircuit) -> VersionTold:
    """Keep the next version, unless another was saved since ``base``."""
    return _told(save_circuit(desk, circuit_id, sent.table, base=sent.base))


@router.get("/circuits/{circuit_id}/versions/{number}", responses=refusals(404))
def one_version(
    desk: Here, circuit_id: IdInPath, number: Annotated[int, Path(ge=1, le=1_000_000)]
) -> VersionTold:
    """Return one version by its number."""
    return _told(numbered(desk, circuit_id, number))
