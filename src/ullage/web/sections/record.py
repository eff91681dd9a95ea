"""The record on the page of a job: waste, lots, the next date, signatures, and filing it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request, Response

from ullage.errors import OutOfRange
from ullage.jobs.close_job import (
    Closing,
    closing,
    finish_job,
    give_back,
    hand_over_waste,
    set_next_due,
    sign,
    use_lot,
)
from ullage.jobs.event import Event
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.machine import Counter
from ullage.jobs.ports import Desk
from ullage.jobs.shelf import Stock
from ullage.jobs.stage import Stage, StageState
from ullage.planning.due import DAY_S, KM_M, Interval
from ullage.units.convert import HOUR_S
from ullage.web.desk import Filled, Here, InUnits
from ullage.web.entry_lines import EntryLine
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.sections.answering import answered
from ullage.web.shown import Units, amount, day, figure, pct, units_of

router = APIRouter()

_MONTH_S = 365.25 / 12.0 * DAY_S
_WASTE = (
    Field("waste", "Handed over", "number", unit="l", low=0.0, required=True),
    Field("family", "Family of the fluid", "text", required=True, longest=60),
    Field("to", "To whom", "text", required=True),
    Field("paper", "Number of the receipt", "text"),
)
_INTERVAL = (
    Field("interval_km", "A new filling lasts", "number", unit="km", low=0.0),
    Field("interval_hours", "or, running", "number", unit="hours", low=0.0),
    Field("interval_months", "or, in months", "number", low=0.0, high=600.0),
    Field(
        "shortening",
        "Each percent of old fluid shortens that by, in percent",
        "number",
        low=0.0,
        high=20.0,
        hint="An assumption of ours, no source: 1. More where a little old fluid does much harm.",
    ),
)
_SIGN = (
    Field("name", "Name", "text", required=True, longest=80),
    Field(
        "role",
        "Signs as",
        "choice",
        choices=("did the work", "checked the work", "takes the machine back"),
        required=True,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSection:
    """The stage: what is written down, the forms for the rest, and the ways to paper."""

    job_id: str
    record_url: str
    label_url: str
    waste: str
    waste_entries: tuple[EntryLine, ...]
    waste_fields: tuple[Field, ...]
    waste_form: Typed
    lots: str
    lot_entries: tuple[EntryLine, ...]
    lot_fields: tuple[Field, ...]
    lot_form: Typed | None
    due: str
    due_basis: str
    due_fields: tuple[Field, ...]
    due_form: Typed
    is_due_open: bool
    signatures: tuple[EntryLine, ...]
    sign_fields: tuple[Field, ...]
    sign_form: Typed | None
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> RecordSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    now = closing(desk, job)
    lot_fields = _lot_fields(now.stock, units)
    due_form = _mine("shortening", typed)
    return RecordSection(
        job_id=job.head.id,
        record_url=f"/jobs/{job.head.id}/record",
        label_url=f"/jobs/{job.head.id}/label",
        waste=waste_text(now, units),
        waste_entries=tuple(
            EntryLine(
                uid=event.uid,
                text=waste_line(event, units),
                note=event.payload.get("note", ""),
            )
            for event in now.handed
        ),
        waste_fields=_WASTE,
        waste_form=_mine("waste", typed) or filled(_WASTE, _waste_values(now), units),
        lots=lots_text(now, units),
        lot_entries=tuple(
            EntryLine(
                uid=event.uid,
                text=lot_line(desk, event, units),
            )
            for event in now.lots
        ),
        lot_fields=lot_fields,
        lot_form=_mine("lot", typed),
        due=due_text(now.next_due, units),
        due_basis=_basis(now),
        due_fields=_due_fields(now.counter),
        due_form=due_form or filled(_INTERVAL, _interval_values(now.interval), units),
        is_due_open=due_form is not None or now.next_due is None,
        signatures=tuple(
            EntryLine(
                uid=event.uid,
                text=signature_line(event),
            )
            for event in now.signed
        ),
        sign_fields=_SIGN,
        sign_form=_mine("role", typed),
        is_finished=job.state_of(Stage.RECORD) is StageState.FINISHED,
        finish_form=typed if typed is not None and not typed.texts else None,
    )


def _mine(field: str, typed: Typed | None) -> Typed | None:
    """Return what was typed if it was typed into the form of a field."""
    return typed if typed is not None and field in typed.texts else None


def waste_text(now: Closing, units: Units) -> str:
    """Say how much came out, and how much of it was handed over."""
    out = now.out_l or now.expected_l
    came = "Nothing that came out was measured" if out is None else _came(now, out, units)
    handed = amount(now.handed_l, "l", units, digits=1)
    return f"{came}; {handed if now.handed_l else 'nothing'} handed over so far."


def _came(now: Closing, out: float, units: Units) -> str:
    measured = "measured" if now.out_l else "by the books"
    return f"{amount(out, 'l', units, digits=1)} came out, {measured}"


def _waste_values(now: Closing) -> dict[str, object]:
    """Return what a form for waste begins with."""
    left = max((now.out_l or now.expected_l or 0.0) - now.handed_l, 0.0)
    values: dict[str, object] = {"family": now.family}
    if left > 0.05:
        values["waste"] = round(left, 1)
    return values


def waste_line(event: Event, units: Units) -> str:
    """Return what was handed over in one line."""
    p = event.payload
    paper = f", receipt {p['paper']}" if p.get("paper") else ""
    return f"{amount(p['litres'], 'l', units, digits=1)} of {p['family']} to {p['to']}{paper}"


def lots_text(now: Closing, units: Units) -> str:
    """Say how much was poured, and how much of it came off the shelf."""
    poured = amount(now.poured_l, "l", units, digits=1)
    from_shelf = amount(now.lots_l, "l", units, digits=1) if now.lots_l else "nothing"
    return f"{poured} poured; {from_shelf} taken off the shelf so far."


def lot_line(desk: Desk, event: Event, units: Units) -> str:
    """Return a lot that was used in one line, by its mark where it still stands on the shelf."""
    p = event.payload
    stock = {one.lot.id: one for one in desk.store.stock(empty_too=True)}
    found = stock.get(p["lot"])
    name = p["lot"] if found is None else f"{found.sheet.name}, lot {found.lot.mark}"
    return f"{amount(p['litres'], 'l', units, digits=2)} of {name}"


def _lot_fields(stock: tuple[Stock, ...], units: Units) -> tuple[Field, ...]:
    """Return the fields of a lot, none where the shelf holds no fluid."""
    lots = tuple(
        (
            one.lot.id,
            f"{one.sheet.name}, lot {one.lot.mark}, "
            f"{amount(one.left * one.lot.container_m3 * 1e3, 'l', units, digits=1)} left",
        )
        for one in stock
        if one.lot.container_m3
    )
    if not lots:
        return ()
    return (
        Field("lot", "Lot", "choice", choices=lots, required=True),
        Field("lot_l", "Poured from it", "number", unit="l", low=0.0, required=True),
    )


def due_text(event: Event | None, units: Units) -> str:
    """Say when it is due again, and why."""
    if event is None:
        return "Nobody said yet when it is due again."
    p = event.payload
    words = []
    if p.get("on"):
        words.append(f"on {day(date.fromisoformat(p['on']))}")
    if p.get("distance_km") is not None:
        words.append(f"at {amount(p['distance_km'], 'km', units, digits=0)}")
    if p.get("hours") is not None:
        words.append(f"at {figure(p['hours'], 0)} running hours")
    when = " or ".join(words) if words else "by the interval alone"
    first = ", whichever comes first" if len(words) > 1 else ""
    return f"Due again {when}{first}: {p['reason']}."


def _basis(now: Closing) -> str:
    """Say which remainder the next date is worked out with."""
    if now.old_share is None:
        return "There is no verdict, so the whole interval counts."
    return f"Worked out with {pct(100.0 * now.old_share)} of old fluid left, as proved."


def _due_fields(counter: Counter) -> tuple[Field, ...]:
    """Return the fields of an interval, those that the machine counts."""
    left_out = {
        Counter.DISTANCE: {"interval_hours"},
        Counter.HOURS: {"interval_km"},
        Counter.NONE: {"interval_hours", "interval_km"},
    }[counter]
    return tuple(field for field in _INTERVAL if field.name not in left_out)


def _interval_values(interval: Interval) -> dict[str, object]:
    """Return what a form for an interval begins with: what is usual for the family."""
    values: dict[str, object] = {"shortening": 1.0}
    if interval.distance_m is not None:
        values["interval_km"] = interval.distance_m / KM_M
    if interval.running_s is not None:
        values["interval_hours"] = interval.running_s / HOUR_S
    if interval.age_s is not None:
        values["interval_months"] = round(interval.age_s / _MONTH_S)
    return values


def signature_line(event: Event) -> str:
    """Return a signature in one line."""
    return f"{event.payload['by']}, {event.payload['as']}, {day(event.device_at)}"


@router.post("/jobs/{job_id}/record/waste")
def waste(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Write down that waste was handed over."""
    typed = read(_WASTE, form, units)

    def act(typed: Typed) -> None:
        values = typed.values
        try:
            hand_over_waste(
                desk,
                job_id,
                litres=values["waste"],
                family=values["family"],
                to=values["to"],
                paper=values.get("paper", ""),
                uid=typed.uid,
            )
        except OutOfRange as error:
            raise OutOfRange("waste", error.value, error.allowed, error.advice) from None

    return answered(request, desk, job_id, Stage.RECORD, typed, act)


@router.post("/jobs/{job_id}/record/lot")
def lot(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Take fluid of a lot off the shelf."""
    typed = read(_lot_fields(closing(desk, load_job(desk, job_id)).stock, units), form, units)

    def act(typed: Typed) -> None:
        try:
            use_lot(desk, job_id, typed.values["lot"], typed.values["lot_l"], uid=typed.uid)
        except OutOfRange as error:
            raise OutOfRange("lot_l", error.value, error.allowed, error.advice) from None

    return answered(request, desk, job_id, Stage.RECORD, typed, act)


@router.post("/jobs/{job_id}/record/lot/give-back")
def lot_back(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Put fluid of a lot back on the shelf: it was not used after all."""
    typed = read((), form, units)

    def act(_: Typed) -> None:
        give_back(desk, job_id, str(form.get("event", "")))

    return answered(request, desk, job_id, Stage.RECORD, typed, act)


@router.post("/jobs/{job_id}/record/next-due")
def next_date(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Work out when it is due again."""
    fields = _due_fields(closing(desk, load_job(desk, job_id)).counter)
    typed = read(fields, form, units)

    def act(typed: Typed) -> None:
        values = typed.values
        km, hours, months = (
            values.get(key) for key in ("interval_km", "interval_hours", "interval_months")
        )
        interval = Interval(
            distance_m=None if km is None else km * KM_M,
            running_s=None if hours is None else hours * HOUR_S,
            age_s=None if months is None else months * _MONTH_S,
        )
        shortening = values.get("shortening", 1.0)
        set_next_due(desk, job_id, interval, shortening=shortening, uid=typed.uid)

    return answered(request, desk, job_id, Stage.RECORD, typed, act)


@router.post("/jobs/{job_id}/record/sign")
def sign_off(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Sign the record."""
    typed = read(_SIGN, form, units)

    def act(typed: Typed) -> None:
        sign(desk, job_id, by=typed.values["name"], role=typed.values["role"], uid=typed.uid)

    return answered(request, desk, job_id, Stage.RECORD, typed, act)


@router.post("/jobs/{job_id}/record/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """File the record."""
    typed = read((), form, units)

    def act(typed: Typed) -> None:
        finish_job(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.RECORD, typed, act)
