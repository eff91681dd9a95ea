"""The part of the store that knows what was served last: a few reads, however many machines."""

from __future__ import annotations

from collections import defaultdict
from contextlib import AbstractContextManager

from sqlalchemy import Select, and_, func, or_, select
from sqlalchemy.engine import Connection

from ullage.jobs.event import Event, Kind
from ullage.jobs.machine import CounterReading, Machine
from ullage.jobs.served import Served
from ullage.records import rows
from ullage.records.schema import (
    CIRCUIT_VERSION,
    COUNTER_READING,
    EVENT,
    JOB,
    JOB_LINE,
    MACHINE,
)

_KINDS = (Kind.NEXT_DUE.value, Kind.UNDONE.value)


class SqlServed:
    """What a store knows of the last service of each circuit; transactions come from the store."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def served(self, *, search: str = "") -> tuple[Served, ...]:
        """Return every circuit with what was filed last on it, by machine and circuit."""
        with self._reading() as base:
            machines = _machines(base, search)
            circuits = base.execute(_newest_names()).all()
            closed = {row.circuit_id: row.job_id for row in base.execute(_last_closed())}
            in_hand = {row.circuit_id: row.job_id for row in base.execute(_open())}
            events = _events(base)
            distances = _ends(base, "distance_m")
            hours = _ends(base, "running_s")
        mine: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for row in circuits:
            mine[row.machine_id].append((row.name, row.circuit_id))
        return tuple(
            Served(
                machine=machine,
                circuit_id=circuit_id,
                circuit=name,
                is_only_circuit=len(mine[machine.id]) < 2,
                job_id=closed.get(circuit_id),
                open_job_id=in_hand.get(circuit_id),
                events=tuple(events.get(closed.get(circuit_id, ""), ())),
                distances=distances.get(machine.id, ()),
                hours=hours.get(machine.id, ()),
            )
            for machine in machines
            for name, circuit_id in sorted(
                mine[machine.id] or [("", "")], key=lambda one: (one[0].casefold(), one[1])
            )
        )


def _machines(base: Connection, search: str) -> list[Machine]:
    query = select(MACHINE).order_by(MACHINE.c.name_folded)
    if search:
        query = query.where(MACHINE.c.folded.contains(search.casefold(), autoescape=True))
    return [rows.machine_of(row) for row in base.execute(query).mappings()]


def _newest_names() -> Select[tuple[str, str, str]]:
    """Select the newest name of each circuit, without its table."""
    newest = (
        select(CIRCUIT_VERSION.c.circuit_id, func.max(CIRCUIT_VERSION.c.number).label("number"))
        .group_by(CIRCUIT_VERSION.c.circuit_id)
        .subquery()
    )
    same = and_(
        CIRCUIT_VERSION.c.circuit_id == newest.c.circuit_id,
        CIRCUIT_VERSION.c.number == newest.c.number,
    )
    return select(
        CIRCUIT_VERSION.c.machine_id, CIRCUIT_VERSION.c.circuit_id, CIRCUIT_VERSION.c.name
    ).join(newest, same)


def _last_closed() -> Select[tuple[str, str]]:
    """Select the job of each circuit that was filed last."""
    place = func.row_number().over(
        partition_by=JOB.c.circuit_id, order_by=(JOB_LINE.c.touched_at.desc(), JOB.c.id)
    )
    ranked = (
        select(JOB.c.circuit_id, JOB.c.id.label("job_id"), place.label("place"))
        .join(JOB_LINE, JOB_LINE.c.job_id == JOB.c.id)
        .where(JOB_LINE.c.is_open == 0)
        .subquery()
    )
    return select(ranked.c.circuit_id, ranked.c.job_id).where(ranked.c.place == 1)


def _open() -> Select[tuple[str, str]]:
    """Select the job in hand of each circuit."""
    return (
        select(JOB.c.circuit_id, JOB.c.id.label("job_id"))
        .join(JOB_LINE, JOB_LINE.c.job_id == JOB.c.id)
        .where(JOB_LINE.c.is_open == 1)
    )


def _events(base: Connection) -> dict[str, list[Event]]:
    """Return the dates and the takings back of the jobs that were filed last."""
    last = _last_closed().subquery()
    query = (
        select(EVENT)
        .join(last, last.c.job_id == EVENT.c.job_id)
        .where(EVENT.c.kind.in_(_KINDS))
        .order_by(EVENT.c.job_id, EVENT.c.seq)
    )
    found: dict[str, list[Event]] = defaultdict(list)
    for row in base.execute(query).mappings():
        found[row["job_id"]].append(rows.event_of(row))
    return found


def _ends(base: Connection, name: str) -> dict[str, tuple[CounterReading, ...]]:
    """Return the first and the newest reading of each machine that show a count."""
    table = COUNTER_READING
    ends = (
        select(
            table.c.machine_id,
            func.min(table.c.read_at).label("first_at"),
            func.max(table.c.read_at).label("last_at"),
        )
        .where(table.c[name].is_not(None))
        .group_by(table.c.machine_id)
        .subquery()
    )
    query = (
        select(table)
        .join(ends, ends.c.machine_id == table.c.machine_id)
        .where(
            table.c[name].is_not(None),
            or_(table.c.read_at == ends.c.first_at, table.c.read_at == ends.c.last_at),
        )
        .order_by(table.c.machine_id, table.c.read_at, table.c.id)
    )
    found: dict[str, list[CounterReading]] = defaultdict(list)
    for row in base.execute(query).mappings():
        found[row["machine_id"]].append(rows.counter_of(row))
    return {
        machine: (mine[0],) if len(mine) == 1 else (mine[0], mine[-1])
        for machine, mine in found.items()
    }
