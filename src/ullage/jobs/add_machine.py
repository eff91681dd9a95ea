"""Take in a machine, change what is known of it, and give it circuits to start from."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ullage.circuit.catalogue import circuit_template
from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.machine import CircuitVersion, Counter, Machine, named
from ullage.jobs.ports import Desk

LONGEST_MARKS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What people say of a machine: its name, marks to recognise it by, what its counter counts."""

    name: str
    marks: str = ""
    counter: Counter = Counter.DISTANCE

    def __post_init__(self) -> None:
        """Refuse a name or marks that no page could show."""
        named(self.name, "name")
        if len(self.marks) > LONGEST_MARKS:
            raise OutOfRange(
                "marks", f"{len(self.marks)} characters", f"at most {LONGEST_MARKS} characters long"
            )


def add_machine(desk: Desk, known: Known, *, machine_id: str | None = None) -> Machine:
    """Take in a machine. ``machine_id`` given: once, however often it is sent.

    Raises
    ------
    Conflict
        If another machine bears the name.
    """
    if machine_id is not None:
        try:
            return desk.store.machine(machine_id)
        except NotFound:
            pass
    machine = Machine(
        id=machine_id or desk.new_id(),
        name=named(known.name, "name"),
        marks=known.marks.strip(),
        counter=known.counter,
        added_at=desk.now(),
    )
    desk.store.add_machine(machine)
    return machine


def change_machine(desk: Desk, machine_id: str, known: Known, *, seen_version: int) -> Machine:
    """Change what is known of a machine, as a person saw it at ``seen_version``.

    Raises
    ------
    Conflict
        If it was changed since, or another machine bears the name.
    """
    machine = desk.store.machine(machine_id)
    if machine.version != seen_version:
        raise Conflict(
            f"somebody else changed this machine meanwhile; it is now called {machine.name!r}: "
            "compare, and save again if yours should stand"
        )
    changed = replace(
        machine,
        name=named(known.name, "name"),
        marks=known.marks.strip(),
        counter=known.counter,
        version=machine.version + 1,
    )
    if changed == replace(machine, version=changed.version):
        return machine
    desk.store.change_machine(changed)
    return changed


def template_table(name: str) -> dict[str, Any]:
    """Return a built-in circuit as the table of its file, or raise ``NotFound``."""
    return tomllib.loads(circuit_template(name).text)


def add_circuit(
    desk: Desk, machine_id: str, table: Mapping[str, Any], *, circuit_id: str | None = None
) -> CircuitVersion:
    """Give a machine a circuit. ``circuit_id`` given: once, however often it is sent.

    Raises
    ------
    NotFound
        If there is no such machine.
    FileFaults
        If the table is no circuit.
    """
    machine = desk.store.machine(machine_id)
    if circuit_id is not None:
        try:
            return desk.store.newest_circuit(circuit_id)
        except NotFound:
            pass
    desk.forms.circuit(table, "circuit")
    new_id = circuit_id or desk.new_id()
    version = CircuitVersion(
        id=desk.new_id(),
        circuit_id=new_id,
        machine_id=machine.id,
        number=1,
        name=str(table["name"]),
        table=table,
        saved_at=desk.now(),
    )
    desk.store.add_circuit_version(version)
    return version
