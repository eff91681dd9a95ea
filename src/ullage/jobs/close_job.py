"""Closing a job: waste handed over, what was taken off the shelf, when it is due again, signatures.

Stock moves once however often a form is sent. The next date follows from how much old fluid stayed,
by an assumption that is shown and may be changed. Leaves out how the record looks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import drafts_of, finish
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log_all, take_back
from ullage.jobs.machine import Counter
from ullage.jobs.ports import Desk
from ullage.jobs.readings import litres_at
from ullage.jobs.shelf import Movement, SheetOf, Stock
from ullage.jobs.stage import Stage
from ullage.planning.due import DAY_S, KM_M, Interval, Use, life_after, usual_interval
from ullage.planning.trend import Next, next_due
from ullage.units.convert import HOUR_S, LITRE_M3

_WASTE = ("drawn-off", "waste")
_LEAST_DAYS = 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """What the last stage shows: litres that came out and were handed over, lots, dates, names.

    ``out_l`` counts what was measured; ``expected_l`` what the verdict's books say came out.
    ``old_share`` is the remainder that the next date is worked out with, None without a verdict."""

    out_l: float
    expected_l: float | None
    handed_l: float
    handed: tuple[Event, ...]
    family: str
    new_family: str
    lots: tuple[Event, ...]
    stock: tuple[Stock, ...]
    poured_l: float
    lots_l: float
    old_share: float | None
    interval: Interval
    counter: Counter
    next_due: Event | None
    signed: tuple[Event, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDates:
    """When the next exchange is due by each count; ``first`` says which comes first, and why."""

    on: date | None
    distance_m: float | None
    running_s: float | None
    first: Next

    @property
    def payload(self) -> dict[str, Any]:
        """Return what is written down."""
        found: dict[str, Any] = {"reason": self.first.reason}
        if self.on is not None:
            found["on"] = self.on.isoformat()
        if self.distance_m is not None:
            found["distance_km"] = self.distance_m / KM_M
        if self.running_s is not None:
            found["hours"] = self.running_s / HOUR_S
        return found


def closing(desk: Desk, job: Job) -> Closing:
    """Return what the stage shows now."""
    circuit = found_circuit(desk, job).circuit
    verdict = _verdict(desk, job)
    at_degc = job.recipe_degc
    out = 0.0
    for event in job.of(Kind.VOLUME):
        if event.payload["what"] in _WASTE:
            read_degc = event.payload.get("at_degc")
            out += litres_at(
                event.payload, circuit.fluid, at_degc if read_degc is None else read_degc, at_degc
            )
    handed = job.of(Kind.WASTE_HANDED_OVER)
    lots = job.of(Kind.LOT_USED)
    return Closing(
        out_l=out,
        expected_l=None if verdict is None else float(verdict.body["balance"]["out_l"]),
        handed_l=sum(float(event.payload["litres"]) for event in handed),
        handed=handed,
        family=circuit.fluid.class_,
        new_family=circuit.new_fluid.class_,
        lots=lots,
        stock=tuple(one for one in desk.store.stock() if one.sheet.of is SheetOf.FLUID),
        poured_l=sum(float(event.payload["litres"]) for event in job.of(Kind.POURED)),
        lots_l=sum(float(event.payload["litres"]) for event in lots),
        old_share=_old_share(verdict),
        interval=usual_interval(circuit.new_fluid.family),
        counter=desk.store.machine(job.head.machine_id).counter,
        next_due=job.next_due,
        signed=job.signed,
    )


def _verdict(desk: Desk, job: Job) -> Answer | None:
    """Return the newest verdict."""
    name = job.answers.get(Of.VERDICT.value)
    return None if name is None else desk.store.answer(name)


def _old_share(verdict: Answer | None) -> float | None:
    """Return the middle of what a verdict leaves."""
    return None if verdict is None else float(verdict.body["remaining_pct"]["p50"]) / 100.0


def hand_over_waste(
    desk: Desk, job_id: str, *, litres: float, family: str, to: str, paper: str = "", uid: str
) -> None:
    """Write down that waste was handed over: how much, of which family, to whom, on which paper."""
    if not litres > 0.0:
        raise OutOfRange("litres", litres, "above 0", "weigh the cans or read their marks")
    payload: dict[str, Any] = {"litres": litres, "family": family, "to": to}
    if paper:
        payload["paper"] = paper
    log_all(desk, job_id, drafts_of(desk, uid, [(Kind.WASTE_HANDED_OVER, payload)]))


def use_lot(desk: Desk, job_id: str, lot_id: str, litres: float, *, uid: str) -> None:
    """Take fluid of a lot off the shelf for this job; the same ``uid`` again moves nothing.

    Raises
    ------
    NotFound
        If no such lot stands on the shelf.
    OutOfRange
        If more would be taken than is left, or nothing.
    """
    if not litres > 0.0:
        raise OutOfRange("litres", litres, "above 0", "say how much of this lot was poured")
    job = load_job(desk, job_id)
    if job.is_closed:
        raise Conflict("the record of this job is filed; reopen its last stage before adding to it")
    stock = desk.store.stock(empty_too=True)
    found = next((one for one in stock if one.lot.id == lot_id), None)
    if found is None:
        raise NotFound("lot", lot_id, [one.lot.id for one in stock])
    container_m3 = found.lot.container_m3
    if not container_m3:
        raise OutOfRange("lot", found.lot.mark, "a lot of containers that hold litres")
    # The shelf first: should anything fail between the two, the same form sent again goes on.
    desk.store.move_stock(
        Movement(
            uid=f"{uid}-0",
            lot_id=lot_id,
            count=-litres * LITRE_M3 / container_m3,
            why="poured",
            moved_at=desk.now(),
            job_id=job_id,
        )
    )
    payload = {"lot": lot_id, "litres": litres}
    log_all(desk, job_id, drafts_of(desk, uid, [(Kind.LOT_USED, payload)]))


def give_back(desk: Desk, job_id: str, uid: str) -> None:
    """Take back that a lot was used, and put what was taken back on the shelf, once."""
    job = load_job(desk, job_id)
    event = next((one for one in job.of(Kind.LOT_USED) if one.uid == uid), None)
    if event is None:
        raise NotFound("entry", uid, [one.uid for one in job.of(Kind.LOT_USED)])
    moved = next(
        (one for one in desk.store.movements(event.payload["lot"]) if one.uid == uid), None
    )
    if moved is not None:
        desk.store.move_stock(
            Movement(
                uid=f"{uid}-back",
                lot_id=moved.lot_id,
                count=-moved.count,
                why="taken back",
                moved_at=desk.now(),
                job_id=job_id,
            )
        )
    take_back(desk, job_id, uid)


def dates_after(
    desk: Desk, job: Job, interval: Interval, *, old_share: float, shortening: float = 1.0
) -> NextDates:
    """Return when the next exchange is due by each count that the interval names.

    Raises
    ------
    OutOfRange
        If the interval names nothing, or a figure is negative.
    """
    first = next_due(
        interval=interval,
        old_vfrac=old_share,
        shortening=shortening,
        per_day=_usual_day(desk, job),
    )

    def left(life: float | None) -> float | None:
        if life is None:
            return None
        return life_after(life=life, old_vfrac=old_share, shortening=shortening)

    age_s, distance_m, running_s = (
        left(interval.age_s),
        left(interval.distance_m),
        left(interval.running_s),
    )
    use = {} if job.use is None else job.use.payload
    counted_m, counted_s = use.get("distance_km"), use.get("hours")
    return NextDates(
        on=None if age_s is None else desk.now().date() + timedelta(days=round(age_s / DAY_S)),
        distance_m=None
        if distance_m is None or counted_m is None
        else float(counted_m) * KM_M + distance_m,
        running_s=None
        if running_s is None or counted_s is None
        else float(counted_s) * HOUR_S + running_s,
        first=first,
    )


def _usual_day(desk: Desk, job: Job) -> Use | None:
    """Return distance and hours of a usual day, from the machine's first and last counter."""
    readings = desk.store.counter_readings(job.head.machine_id)
    if len(readings) < 2:
        return None
    first, last = readings[0], readings[-1]
    days = (last.read_at - first.read_at).total_seconds() / DAY_S
    if days < _LEAST_DAYS:
        return None

    def per_day(start: float | None, end: float | None) -> float | None:
        return None if start is None or end is None else max(end - start, 0.0) / days

    return Use(
        distance_m=per_day(first.distance_m, last.distance_m),
        running_s=per_day(first.running_s, last.running_s),
    )


def set_next_due(
    desk: Desk,
    job_id: str,
    interval: Interval,
    *,
    shortening: float = 1.0,
    uid: str,
) -> NextDates:
    """Work out when the next exchange is due, keep it as an answer and write it down.

    Without a verdict the whole interval counts, and the reason says so.

    Raises
    ------
    OutOfRange
        As ``dates_after``.
    """
    job = load_job(desk, job_id)
    verdict = _verdict(desk, job)
    share = _old_share(verdict)
    dates = dates_after(
        desk, job, interval, old_share=0.0 if share is None else share, shortening=shortening
    )
    payload = dates.payload
    if share is None:
        payload["reason"] = "whole interval: nobody proved how much old fluid stayed"
    else:
        payload["reason"] += (
            f", each percent of old fluid taking {shortening:g} % of the interval: an assumption"
        )
    if any(event.uid == f"{uid}-0" for event in desk.store.events(job_id)):
        return dates
    inputs: dict[str, Any] = {
        "old_pct": None if share is None else 100.0 * share,
        "verdict": None if verdict is None else verdict.id,
        "shortening": shortening,
        "interval_km": None if interval.distance_m is None else interval.distance_m / KM_M,
        "interval_days": None if interval.age_s is None else interval.age_s / DAY_S,
        "interval_hours": None if interval.running_s is None else interval.running_s / HOUR_S,
        "from": None if job.use is None else dict(job.use.payload),
        "today": desk.now().date().isoformat(),
    }
    answer = Answer(
        id=desk.new_id(),
        job_id=job_id,
        of=Of.NEXT_DUE,
        made_at=desk.now(),
        code=desk.code,
        seed=0,
        inputs=inputs,
        fingerprint=fingerprint_of(inputs),
        body=payload,
    )
    desk.store.keep_answer(answer)
    answered: Mapping[str, Any] = {"answer": answer.id, "of": Of.NEXT_DUE.value}
    log_all(
        desk, job_id, drafts_of(desk, uid, [(Kind.NEXT_DUE, payload), (Kind.ANSWERED, answered)])
    )
    return dates


def sign(desk: Desk, job_id: str, *, by: str, role: str, uid: str) -> None:
    """Write down who answers for the job, and as what."""
    log_all(desk, job_id, drafts_of(desk, uid, [(Kind.SIGNED, {"by": by, "as": role})]))


def closing_result(job: Job) -> str:
    """Return the record in one line: who signed, and when it is due again."""
    words = [f"signed by {', '.join(str(event.payload['by']) for event in job.signed)}"]
    if job.next_due is not None:
        payload = job.next_due.payload
        if payload.get("on"):
            words.append(f"due again by {payload['on']}")
        elif payload.get("distance_km") is not None:
            words.append(f"due again at {payload['distance_km']:.0f} km")
        elif payload.get("hours") is not None:
            words.append(f"due again at {payload['hours']:.0f} h")
    return ", ".join(words)


def finish_job(desk: Desk, job_id: str, *, uid: str) -> None:
    """File the record: the last stage, and with it the job, is finished.

    Raises
    ------
    Conflict
        If nobody signed, nobody said when it is due again, or another stage comes first.
    """
    job = load_job(desk, job_id)
    if not job.signed:
        raise Conflict("nobody signed the record yet; sign it, then file it")
    if job.next_due is None:
        raise Conflict("nobody said when it is due again; say so, then file it")
    finish(desk, job, Stage.RECORD, closing_result(job), uid=uid)
