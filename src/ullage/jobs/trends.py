"""How did a circuit do over the years: what every job left inside, and what every sample said?

One reading a job and kind, with its interval where one is known, and the limits that the newest of
them is held to, each with its source. The fluid was changed between most of them, so nothing is
drawn through them: a line through readings of several fillings would mean nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from ullage.fluids.cleanliness import code_from_counter
from ullage.jobs.answer import Of
from ullage.jobs.assess import judged_table
from ullage.jobs.event import Event
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.machine import Machine
from ullage.jobs.ports import Desk
from ullage.planning.due import due
from ullage.planning.filtering import target_of
from ullage.units.convert import HOUR_S

_KM_M, _MM2_S = 1e3, 1e-6
MOST_JOBS = 200
#: The sizes of a particle code, finest first.
SIZES = tuple(f"{size} \N{GREEK SMALL LETTER MU}m(c)" for size in (4, 6, 14))
_METHOD = "one number up or down is within the spread of the method (ISO 4406)"


class What(StrEnum):
    """What is followed."""

    REMAINDER = "remainder"
    PARTICLES = "particles"
    WATER = "water"
    VISCOSITY = "viscosity"
    ACID = "acid"


#: The unit of each, as a suffix of ``units.suffixes``; a code has none.
UNITS = {
    What.REMAINDER: "pct",
    What.PARTICLES: "",
    What.WATER: "mg_kg",
    What.VISCOSITY: "mm2_s",
    What.ACID: "mgkoh_g",
}
_KEYS = {
    What.WATER: "water_mg_kg",
    What.VISCOSITY: "nu40_mm2_s",
    What.ACID: "acid_mgkoh_g",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One reading in the unit of its kind, with the ends of its interval where one is known.

    ``size`` names the particles that a number of a code counts. Of a remainder that readings
    contradict, ``is_firm`` is false: it is what was expected.
    """

    job_id: str
    at: datetime
    distance_m: float | None
    running_s: float | None
    value: float
    low: float | None = None
    high: float | None = None
    size: str = ""
    is_firm: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What a reading is held to, in its unit: in words, and whose word it is."""

    value: float
    words: str
    source: str
    size: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """Everything that is known of one kind of reading; ``interval`` says what intervals mean."""

    what: What
    points: tuple[Point, ...]
    limits: tuple[Limit, ...]
    interval: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDue:
    """When the exchange is due next by each count, and why."""

    on: date | None
    distance_m: float | None
    running_s: float | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trends:
    """What is followed of one circuit."""

    circuit_id: str
    circuit: str
    followed: tuple[Followed, ...]
    next_due: NextDue | None


def trends_of(desk: Desk, machine_id: str) -> tuple[Machine, tuple[Trends, ...]]:
    """Return a machine and what is followed of each of its circuits; or raise ``NotFound``."""
    machine = desk.store.machine(machine_id)
    lines = desk.store.job_lines(machine_id=machine_id, limit=MOST_JOBS)
    jobs = sorted(
        (load_job(desk, line.job_id) for line in lines), key=lambda job: job.head.opened_at
    )
    return machine, tuple(
        _trends(
            desk,
            circuit.circuit_id,
            circuit.name,
            [job for job in jobs if job.head.circuit_id == circuit.circuit_id],
        )
        for circuit in desk.store.circuits_of(machine_id)
    )


def _trends(desk: Desk, circuit_id: str, name: str, jobs: Sequence[Job]) -> Trends:
    """Return what is followed of one circuit; kinds that nobody ever read are left out."""
    found = (
        _remainder(desk, jobs),
        _particles(desk, jobs),
        *(_plain(desk, jobs, what) for what in (What.WATER, What.VISCOSITY, What.ACID)),
    )
    filed = [job for job in jobs if job.is_closed]
    return Trends(
        circuit_id=circuit_id,
        circuit=name,
        followed=tuple(one for one in found if one.points),
        next_due=_next_due(filed[-1].next_due) if filed else None,
    )


def _remainder(desk: Desk, jobs: Sequence[Job]) -> Followed:
    """Return what each job left, by its newest verdict."""
    points = []
    for job in jobs:
        name = job.answers.get(Of.VERDICT.value)
        if name is None:
            continue
        answer = desk.store.answer(name)
        band = answer.body["remaining_pct"]
        points.append(
            _point(
                job,
                answer.made_at,
                float(band["p50"]),
                low=float(band["p05"]),
                high=float(band["p95"]),
                is_firm=bool(answer.body["fits"]),
            )
        )
    goals = [job for job in jobs if job.goal is not None]
    limits: tuple[Limit, ...] = ()
    if goals and goals[-1].goal is not None:
        target = float(goals[-1].goal.payload["target_pct"])
        limits = (Limit(value=target, words="target", source="goal of the newest job"),)
    return Followed(
        what=What.REMAINDER,
        points=tuple(points),
        limits=limits,
        interval="nine times in ten it lies within the interval",
    )


def _particles(desk: Desk, jobs: Sequence[Job]) -> Followed:
    """Return the three numbers of each code."""
    points = []
    read = _read(jobs, "particles_per_ml")
    for job, event in read:
        four, six, fourteen = (float(one) for one in event.payload["particles_per_ml"])
        for size, part in zip(SIZES, code_from_counter(four, six, fourteen).parts, strict=True):
            number = float(part.number)
            points.append(
                _point(
                    job,
                    event.device_at,
                    number,
                    low=max(number - 1.0, 0.0),
                    high=number + 1.0,
                    size=size,
                )
            )
    limits: tuple[Limit, ...] = ()
    if read:
        circuit = desk.forms.circuit(judged_table(desk, read[-1][0]), "circuit")
        code, whose = target_of(circuit)
        limits = tuple(
            Limit(value=float(part.number), words="target", source=whose, size=size)
            for size, part in zip(SIZES, code.parts, strict=True)
            if part.is_number
        )
    return Followed(what=What.PARTICLES, points=tuple(points), limits=limits, interval=_METHOD)


def _plain(desk: Desk, jobs: Sequence[Job], what: What) -> Followed:
    """Return readings that are one number each; nobody said how sure those are."""
    key = _KEYS[what]
    read = _read(jobs, key)
    return Followed(
        what=what,
        points=tuple(
            _point(job, event.device_at, float(event.payload[key])) for job, event in read
        ),
        limits=tuple(_limits(desk, read[-1][0], what)) if read else (),
        interval="how sure they are was not written down, so they have no interval",
    )


def _limits(desk: Desk, job: Job, what: What) -> Iterator[Limit]:
    """Yield what the sample of a job is held to, as when it was judged."""
    circuit = desk.forms.circuit(judged_table(desk, job), "circuit")
    line = next((one for one in due(circuit).lines if one.what == what.value), None)
    if line is None or line.limit is None:
        return
    if what is What.WATER:
        yield Limit(value=line.limit, words="limit", source=line.source)
    elif what is What.ACID:
        new = _new_fluid(desk, job).get("acid_mgkoh_g")
        if new is None:
            words = "limit of the rise; the new fluid's own is not known"
        else:
            words = f"limit, {line.limit:g} above the new fluid"
        yield Limit(value=line.limit + float(new or 0.0), words=words, source=line.source)
    else:
        new_mm2_s = circuit.new_fluid.nu40_m2_s / _MM2_S
        for sign, word in ((1.0, "thicker"), (-1.0, "thinner")):
            yield Limit(
                value=new_mm2_s * (1.0 + sign * line.limit / 100.0),
                words=f"limit, {line.limit:g} % {word} than new",
                source=line.source,
            )


def _new_fluid(desk: Desk, job: Job) -> dict[str, Any]:
    """Return what the circuit's table says of the new fluid."""
    return dict(judged_table(desk, job)["new_fluid"])


def _read(jobs: Sequence[Job], key: str) -> list[tuple[Job, Event]]:
    """Return the jobs whose sample has a reading, with the event that brought it."""
    return [
        (job, job.condition)
        for job in jobs
        if job.condition is not None and job.condition.payload.get(key) is not None
    ]


def _point(job: Job, at: datetime, value: float, **more: Any) -> Point:
    """Return a reading with what the counter showed in its job."""
    use = {} if job.use is None else job.use.payload
    distance, hours = use.get("distance_km"), use.get("hours")
    return Point(
        job_id=job.head.id,
        at=at,
        distance_m=None if distance is None else float(distance) * _KM_M,
        running_s=None if hours is None else float(hours) * HOUR_S,
        value=value,
        **more,
    )


def _next_due(event: Event | None) -> NextDue | None:
    """Return when the exchange is due next, as the last record says."""
    if event is None:
        return None
    payload = event.payload
    distance, hours = payload.get("distance_km"), payload.get("hours")
    try:
        on = date.fromisoformat(str(payload["on"])) if payload.get("on") else None
    except ValueError:
        on = None
    return NextDue(
        on=on,
        distance_m=None if distance is None else float(distance) * _KM_M,
        running_s=None if hours is None else float(hours) * HOUR_S,
        reason=str(payload["reason"]),
    )
