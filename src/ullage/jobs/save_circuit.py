"""Keep what somebody wrote about a circuit: the next version, or the first of a new circuit.

A version is kept only if the whole table can be right, and no version is ever changed. Sending the
same table twice keeps it once. Leaves out reading files and forms: a table comes in.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ullage.errors import Conflict, NotFound
from ullage.jobs.machine import CircuitVersion, named
from ullage.jobs.ports import Desk


def save_circuit(
    desk: Desk, circuit_id: str, table: Mapping[str, Any], *, base: int
) -> CircuitVersion:
    """Keep a table as the next version of a circuit, and return the version that holds it.

    ``base`` is the number of the version that the person started from. Where the newest version
    holds the same table already, it is returned and nothing is added.

    Raises
    ------
    FileFaults
        With every fault of the table.
    OutOfRange, NotFound
        If the name does not fit on a line, or there is no such circuit.
    Conflict
        If another version was saved since; it stays, and this table is not kept.
    """
    name = _checked_name(desk, table)
    newest = desk.store.newest_circuit(circuit_id)
    if newest.table == table:
        return newest
    if newest.number != base:
        raise Conflict(
            f"version {newest.number} was saved while you worked on version {base}: look at what "
            "it changes, then save again to put yours after it"
        )
    version = CircuitVersion(
        id=desk.new_id(),
        circuit_id=circuit_id,
        machine_id=newest.machine_id,
        number=newest.number + 1,
        name=name,
        table=dict(table),
        saved_at=desk.now(),
    )
    desk.store.add_circuit_version(version)
    return version


def add_circuit(
    desk: Desk, machine_id: str, table: Mapping[str, Any], *, circuit_id: str | None = None
) -> CircuitVersion:
    """Keep a table as the first version of another circuit of a machine.

    ``circuit_id`` given: the circuit is added once, however often the same form is sent.

    Raises
    ------
    FileFaults, OutOfRange, NotFound
        As ``save_circuit``; ``NotFound`` for the machine.
    Conflict
        If a circuit of that id holds something else.
    """
    name = _checked_name(desk, table)
    desk.store.machine(machine_id)
    if circuit_id is not None:
        try:
            there = desk.store.newest_circuit(circuit_id)
        except NotFound:
            pass
        else:
            if there.machine_id == machine_id and there.table == table:
                return there
            raise Conflict("this circuit was saved already; open it and change it there")
    version = CircuitVersion(
        id=desk.new_id(),
        circuit_id=circuit_id or desk.new_id(),
        machine_id=machine_id,
        number=1,
        name=name,
        table=dict(table),
        saved_at=desk.now(),
    )
    desk.store.add_circuit_version(version)
    return version


def numbered(desk: Desk, circuit_id: str, number: int) -> CircuitVersion:
    """Return one version of a circuit by its number, or raise ``NotFound``."""
    for version in desk.store.circuit_versions(circuit_id):
        if version.number == number:
            return version
    raise NotFound("version", str(number))


def _checked_name(desk: Desk, table: Mapping[str, Any]) -> str:
    """Return the name of a table that can be right, short enough for a line."""
    given = table.get("name")
    desk.forms.circuit(table, given if isinstance(given, str) else "circuit")
    return named(str(given), "name")
