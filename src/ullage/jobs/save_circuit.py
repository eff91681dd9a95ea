"""Keep what somebody wrote about a circuit: the next version, or the first of a new circuit.

A version is kept only if the whole table can be right, and no version is ever changed. Sending the
same table twice keeps it once. Leaves out reading files and forms: a table comes in.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ullage.errors import Conflict, NotFound
from ullage.jobs.add_machine import add_circuit
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


def keep_circuit(
    desk: Desk, machine_id: str, table: Mapping[str, Any], *, circuit_id: str
) -> CircuitVersion:
    """Keep a table as another circuit of a machine, once, however often the form is sent.

    A form that went back, was changed and is sent again adds the next version of that circuit:
    nothing that somebody saved is lost, and no second circuit appears.

    Raises
    ------
    FileFaults, OutOfRange, NotFound
        As ``save_circuit``; ``NotFound`` for the machine.
    """
    _checked_name(desk, table)
    version = add_circuit(desk, machine_id, table, circuit_id=circuit_id)
    if version.machine_id != machine_id:
        raise Conflict("this form was sent for another machine already; open a new one")
    return save_circuit(desk, circuit_id, table, base=version.number)


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
