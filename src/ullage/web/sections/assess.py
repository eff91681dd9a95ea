"""Assessing on the page of a job: as found, use, a sample, and whether the exchange is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from ullage.circuit.parts import State
from ullage.jobs.answer import fingerprint_of
from ullage.jobs.assess import (
    FAMILY_PROOFS,
    due_answer,
    family_stop,
    finish_assess,
    is_due_current,
    judge,
    judged_table,
    note_as_found,
    note_condition,
    note_use,
)
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.machine import Counter
from ullage.jobs.ports import Desk
from ullage.jobs.prices import kept_prices
from ullage.jobs.renew_circuit import newer_text, newer_version, take_newest
from ullage.jobs.stage import Stage, StageState
from ullage.web.addresses import work_url
from ullage.web.circuit_history import Rankings
from ullage.web.desk import Filled, Here, InUnits, LongWork
from ullage.web.entry_lines import STATES, EntryLine, entry_line, level_text
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.job_page import back_to
from ullage.web.sections.answering import answered
from ullage.web.sections.step_forms import LEVEL, SIDE, signed_mm
from ullage.web.shown import Units, amount, figure, moment, pct, span, units_of
from ullage.web.work import State as WorkState

router = APIRouter()

_MOST_UNKNOWN = 4
#: What is worth measuring, by the circuit that was asked about; it follows from that alone.
_RANKED = Rankings()
#: So long the ranking may take before its own page is shown.
_QUICK_S = 1.5
_DEGC = Field("at_degc", "Temperature of the fluid", "number", unit="degc", low=-60.0, high=200.0)
_FOUND = (
    LEVEL,
    SIDE,
    Field(
        "state",
        "Machine",
        "choice",
        choices=tuple((state.value, STATES[state.value]) for state in State),
    ),
    _DEGC,
    Field("heights", "Ride heights", "text", hint="Each corner, in the words of your garage."),
    Field("leaks", "Leaks", "text", hint="Where, or: none seen."),
    Field("noises", "Noises", "text"),
    Field("lamps", "Warning lamps", "text"),
    Field(
        "family_proof",
        "How the family of the old fluid is known",
        "choice",
        choices=FAMILY_PROOFS,
        hint="Colour and smell prove nothing.",
    ),
)
_DISTANCE = (
    Field("distance_km", "Counter now", "number", unit="km", low=0.0),
    Field("since_km", "Run since the last exchange", "number", unit="km", low=0.0),
    Field("interval_km", "Its papers allow", "number", unit="km", low=1.0),
)
_HOURS = (
    Field("hours", "Hour meter now", "number", unit="hours", low=0.0),
    Field("since_hours", "Hours since the last exchange", "number", unit="hours", low=0.0),
    Field("interval_hours", "Hours that its papers allow", "number", unit="hours", low=1.0),
)
_AGE = (
    Field(
        "since_days",
        "Days since the last exchange",
        "number",
        low=0.0,
        high=40_000.0,
        hint="Two years are 730.",
    ),
    Field("interval_days", "Days that its papers allow", "number", low=1.0, high=40_000.0),
)
_SIZES = ("n4", "n6", "n14")
_SAMPLE = (
    Field("nu40_mm2_s", "Viscosity at 40 \N{DEGREE SIGN}C", "number", unit="mm2_s", low=0.5),
    Field("nu100_mm2_s", "Viscosity at 100 \N{DEGREE SIGN}C", "number", unit="mm2_s", low=0.5),
    *(
        Field(
            f"n{size}",
            f"Particles of {size} \N{GREEK SMALL LETTER MU}m and larger, per mL",
            "number",
            low=0.0,
        )
        for size in (4, 6, 14)
    ),
    Field("water_mg_kg", "Water, mg/kg", "number", low=0.0),
    Field("acid_mgkoh_g", "Acid number, mg KOH/g", "number", low=0.0),
    Field(
        "colour_rise",
        "Darker than new, in colour numbers",
        "number",
        low=0.0,
        high=8.0,
        hint="Beside a vial of new fluid. A deep bucket looks darker than a vial.",
    ),
    Field("debris", "Seen in it", "text", hint="Metal, rubber, fibres, or: nothing."),
)
_HEADINGS = {
    "found": "As found",
    "use": "Use",
    "sample": "A sample of the old fluid",
}
_WHY = {
    "found": "Before anything moves. Above all the level, and how the machine stands.",
    "use": "What the fluid has been through since it was new.",
    "sample": "Only what was measured or seen; all of it may wait. Draw it from moving fluid, or "
    "from the reservoir before anything new goes in.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """One of the three things to write down: its form, and what stands in the job.

    The fields ``more`` are folded.
    """

    key: str
    heading: str
    why: str
    lines: tuple[str, ...]
    uid: str
    fields: tuple[Field, ...]
    more: tuple[Field, ...]
    form: Typed
    fault: Typed | None
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedShown:
    """One reading beside its limit, where it stands, and whose limit that is."""

    text: str
    standing: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureShown:
    """Something that is better measured than guessed, and what that takes."""

    name: str
    how: str
    gain: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessSection:
    """The stage: what to write down, what to measure, and the verdict."""

    job_id: str
    noted: tuple[Noted, ...]
    photos: tuple[EntryLine, ...]
    family: str
    family_stop: str
    measures: tuple[MeasureShown, ...]
    measures_about: str
    measure_form: Typed | None
    circuit_url: str
    newer: str
    verdict: str
    stale: str
    reasons: tuple[str, ...]
    judged: tuple[JudgedShown, ...]
    caveats: tuple[str, ...]
    made: str
    judge_form: Typed | None
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> AssessSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    answer = due_answer(desk, job)
    which = "" if typed is None else str(typed.values.get("form", ""))
    counter = desk.store.machine(job.head.machine_id).counter
    found = _RANKED.get(fingerprint_of(_measure_inputs(desk, job)))
    newer = newer_version(desk, job)
    body: Mapping[str, Any] = {} if answer is None else answer.body
    return AssessSection(
        job_id=job.head.id,
        noted=tuple(
            _noted(key, event, counter, units, typed if which == key else None)
            for key, event in (("found", job.as_found), ("use", job.use), ("sample", job.condition))
        ),
        photos=tuple(
            entry_line(event, None, units)
            for event in job.of(Kind.PHOTO)
            if event.payload.get("stage") == Stage.ASSESS
        ),
        family=_family(desk, job),
        family_stop=family_stop(desk, job),
        measures=() if found is None else _measures(found),
        measures_about="" if found is None else _about(found),
        measure_form=typed if which == "measure" else None,
        circuit_url=f"/circuits/{job.head.circuit_id}",
        newer="" if newer is None else newer_text(newer.number),
        verdict=str(body.get("verdict", "")),
        stale=""
        if answer is None or is_due_current(desk, job, answer)
        else "Something was written down after this verdict: judge again.",
        reasons=tuple(body.get("reasons", ())),
        judged=tuple(
            JudgedShown(text=one["text"], standing=one["standing"], source=one["source"])
            for one in body.get("readings", ())
        ),
        caveats=tuple(one["text"] for one in body.get("caveats", ())),
        made=""
        if answer is None
        else f"Judged {moment(answer.made_at)} by version {answer.code}, inputs "
        f"{answer.fingerprint[:12]}.",
        judge_form=typed if which == "judge" else None,
        is_finished=job.state_of(Stage.ASSESS) is StageState.FINISHED,
        finish_form=typed if which == "finish" else None,
    )


def _family(desk: Desk, job: Job) -> str:
    """Say what the circuit holds, as far as its file knows."""
    return f"The circuit says: class {judged_table(desk, job)['fluid'].get('class', 'unknown')}."


def _forms(key: str, counter: Counter) -> tuple[tuple[Field, ...], tuple[Field, ...]]:
    """Return the fields of a form: those in front, and those that are folded."""
    if key == "found":
        return _FOUND, ()
    if key == "sample":
        return _SAMPLE, ()
    match counter:
        case Counter.DISTANCE:
            return (*_DISTANCE, *_AGE), _HOURS
        case Counter.HOURS:
            return (*_HOURS, *_AGE), _DISTANCE
    return _AGE, (*_DISTANCE, *_HOURS)


def _noted(
    key: str, event: Event | None, counter: Counter, units: Units, typed: Typed | None
) -> Noted:
    """Return one form with what stands in the job already."""
    front, more = _forms(key, counter)
    payload: dict[str, Any] = {} if event is None else dict(event.payload)
    payload.update(zip(_SIZES, payload.get("particles_per_ml", ()), strict=False))
    shown = dict(payload)
    if "level_mm" in payload:
        level_mm = float(payload["level_mm"])
        shown.update(level=abs(level_mm), side="above" if level_mm > 0.0 else "below")
    elif key == "found":
        shown["side"] = "below"
    texts = set() if typed is None else {name for name, text in typed.texts.items() if text}
    return Noted(
        key=key,
        heading=_HEADINGS[key],
        why=_WHY[key],
        lines=tuple(_lines((*front, *more), payload, units)),
        uid="" if event is None else event.uid,
        fields=front,
        more=more,
        form=typed or filled((*front, *more), shown, units),
        fault=typed,
        is_open=(event is None and key != "sample") or bool(texts),
    )


def _lines(fields: tuple[Field, ...], payload: Mapping[str, Any], units: Units) -> list[str]:
    """Return what stands in the job, one line a figure."""
    found = []
    if "level_mm" in payload:
        found.append(f"Level: {level_text(payload['level_mm'])}")
    for one in fields:
        value = payload.get(one.name)
        if value in (None, "") or one in (LEVEL, SIDE):
            continue
        found.append(f"{one.label}: {_told(one, value, units)}")
    return found


def _told(field: Field, value: Any, units: Units) -> str:
    """Return a value as a line of the page has it."""
    if field.kind == "choice":
        return dict(field.options).get(str(value), str(value))
    if field.unit:
        return amount(float(value), field.unit, units)
    return figure(float(value)) if field.kind == "number" else str(value)


def _measure_inputs(desk: Desk, job: Job) -> dict[str, Any]:
    """Return what is asked about: the circuit of the job, and an exchange that anybody would try.

    These are the inputs of the worker's task for the unknowns of a circuit.
    """
    version = desk.store.circuit_version(job.head.circuit_version_id)
    wage = kept_prices(desk.store.settings())["labour_per_hour"]
    return {
        "circuit": dict(version.table),
        "recipe": None,
        "job": "",
        "labour_per_hour": wage,
    }


def _measures(found: Mapping[str, Any]) -> tuple[MeasureShown, ...]:
    """Return what to measure before guessing, the weightiest first."""
    return tuple(
        MeasureShown(
            name=f"{one['name'][:1].upper()}{one['name'][1:]}",
            how=f"{one['how'][:1].upper()}{one['how'][1:]}.",
            gain=f"makes {pct(one['explains_pct'])} of the doubt; takes {span(one['duration_s'])}",
        )
        for one in found["unknowns"][:_MOST_UNKNOWN]
    )


def _about(found: Mapping[str, Any]) -> str:
    """Say how much is guessed without measuring."""
    left = found["remaining_pct"]
    return (
        f"With the circuit as it is guessed, a usual exchange ({found['recipe']}) leaves between "
        f"{pct(left['p05'])} and {pct(left['p95'])} old fluid in nine of ten of "
        f"{found['members']} simulated machines."
    )


@router.post("/jobs/{job_id}/assess/note/{what}")
def note(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str, what: str
) -> Response:
    """Write down one of the three things."""
    key = what if what in _HEADINGS else "found"
    job = load_job(desk, job_id)
    front, more = _forms(key, desk.store.machine(job.head.machine_id).counter)
    typed = read((*front, *more), form, units)
    payload = dict(typed.values)
    counts = [payload.pop(size) for size in _SIZES if size in payload]
    if counts:
        payload["particles_per_ml"] = counts
        if len(counts) < len(_SIZES):
            typed = typed.with_fault(_SIZES[-1], "All three counts are needed, or none.")
    side, level = payload.pop("side", ""), payload.pop("level", None)
    if level is not None:
        payload["level_mm"] = signed_mm({"level": level, "side": side})
    typed = replace(typed, values={**typed.values, "form": key})
    keep = {"found": note_as_found, "use": note_use, "sample": note_condition}[key]

    def act(typed: Typed) -> None:
        keep(desk, job_id, payload, uid=typed.uid)

    return answered(request, desk, job_id, Stage.ASSESS, typed, act)


@router.post("/jobs/{job_id}/assess/measure")
def measure(
    request: Request, desk: Here, work: LongWork, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Have the worker find out what is worth measuring."""
    job = load_job(desk, job_id)
    inputs = _measure_inputs(desk, job)
    name = fingerprint_of(inputs)
    piece = work.begin(
        f"measure-{name[:24]}",
        "unknown",
        inputs,
        title=f"What is worth measuring: {job.head.title}",
        url=f"/jobs/{job_id}#assess",
        then=partial(_RANKED.keep, name),
    )
    if work.wait(piece.id, timeout_s=_QUICK_S).state is WorkState.DONE:
        return back_to(job_id, Stage.ASSESS)
    return RedirectResponse(work_url(piece), status_code=303)


@router.post("/jobs/{job_id}/assess/newest")
def newest(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Go on with the newest version of the circuit."""
    typed = replace(read((), form, units), values={"form": "measure"})

    def act(typed: Typed) -> None:
        take_newest(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.ASSESS, typed, act)


@router.post("/jobs/{job_id}/assess/judge")
def judge_it(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Judge whether the exchange is due."""
    typed = replace(read((), form, units), values={"form": "judge"})

    def act(_: Typed) -> None:
        judge(desk, job_id)

    return answered(request, desk, job_id, Stage.ASSESS, typed, act)


@router.post("/jobs/{job_id}/assess/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Finish the stage."""
    typed = replace(read((), form, units), values={"form": "finish"})

    def act(typed: Typed) -> None:
        finish_assess(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.ASSESS, typed, act)
