"""Assessing on the page of a job: as found, use, a sample, and whether the exchange is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request, Response

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.errors import UllageError
from ullage.jobs.as_found import found_circuit
from ullage.jobs.assess import (
    due_answer,
    finish_assess,
    is_family_unknown,
    judge,
    judged_table,
    note_as_found,
    note_condition,
    note_use,
)
from ullage.jobs.event import Event
from ullage.jobs.job import Job
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage, StageState
from ullage.jobs.which_unknown import which_unknown
from ullage.web.desk import Filled, Here, InUnits
from ullage.web.entry_lines import STATES
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.sections.answering import answered
from ullage.web.shown import MINUS, Units, amount, figure, moment, pct, span, units_of

router = APIRouter()

_MOST_UNKNOWN = 4
_FOUND = (
    Field(
        "level_mm",
        "Level from the full mark",
        "number",
        unit="mm",
        low=-2000.0,
        high=2000.0,
        hint=f"Below the mark with a minus: {MINUS}6.",
    ),
    Field(
        "state",
        "The machine stood",
        "choice",
        choices=tuple((s.value, STATES[s.value]) for s in State),
    ),
    Field("at_degc", "Fluid at", "number", unit="degc", low=-60.0, high=200.0),
    Field("heights", "Ride heights", "text"),
    Field("leaks", "Leaks", "text", hint="Where, or: none seen."),
    Field("noises", "Noises", "text"),
    Field("lamps", "Warning lamps", "text"),
    Field(
        "family_proof",
        "How the old fluid is known",
        "text",
        hint="Label, invoice, service book. Colour and smell prove nothing.",
    ),
)
_USE = (
    Field("distance_km", "Counter now", "number", unit="km", low=0.0),
    Field("hours", "Hours now", "number", unit="hours", low=0.0),
    Field("since_km", "Since the last exchange", "number", unit="km", low=0.0),
    Field("since_hours", "Hours since the last exchange", "number", unit="hours", low=0.0),
    Field(
        "since_days",
        "Days since the last exchange",
        "number",
        low=0.0,
        high=40_000.0,
        hint="Two years are 730.",
    ),
)
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
    Field("water_mg_kg", "Water", "number", low=0.0, hint="In mg/kg."),
    Field("acid_mgkoh_g", "Acid number", "number", low=0.0, hint="In mg KOH/g."),
    Field("colour_rise", "Darker than new", "number", low=0.0, high=8.0, hint="In colour numbers."),
    Field("debris", "What is in it", "text", hint="Metal, rubber, fibres, or: nothing seen."),
)
_SIZES = ("n4", "n6", "n14")
_FORMS: Mapping[str, tuple[Field, ...]] = {"found": _FOUND, "use": _USE, "sample": _SAMPLE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """One of the three things to write down: its form, and what stands in the job."""

    key: str
    heading: str
    why: str
    lines: tuple[str, ...]
    uid: str
    fields: tuple[Field, ...]
    form: Typed
    fault: Typed | None
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedShown:
    """One reading against its limit, and whose limit that is."""

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
    cautions: tuple[str, ...]
    noted: tuple[Noted, ...]
    measures: tuple[MeasureShown, ...]
    measures_about: str
    circuit_url: str
    unknown_family: bool
    verdict: str
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
    measures, about = _measures(found_circuit(desk, job).circuit)
    body = {} if answer is None else answer.body
    return AssessSection(
        job_id=job.head.id,
        cautions=(
            "Look before anything moves. Keep hands, feet and head from under the machine and from "
            "beside its wheels: doors, keys and batteries can wake a machine that levels itself.",
        ),
        noted=tuple(
            _noted(key, event, units, typed if which == key else None)
            for key, event in (
                ("found", job.as_found),
                ("use", job.use),
                ("sample", job.condition),
            )
        ),
        measures=measures,
        measures_about=about,
        circuit_url=f"/circuits/{job.head.circuit_id}",
        unknown_family=is_family_unknown(judged_table(desk, job)),
        verdict=str(body.get("verdict", "")),
        reasons=tuple(body.get("reasons", ())),
        judged=tuple(
            JudgedShown(text=one["text"], standing=one["standing"], source=one["source"])
            for one in body.get("readings", ())
        ),
        caveats=tuple(one["text"] for one in body.get("caveats", ())),
        made="" if answer is None else f"Judged {moment(answer.made_at)}.",
        judge_form=typed if which == "judge" else None,
        is_finished=job.state_of(Stage.ASSESS) is StageState.FINISHED,
        finish_form=typed if which == "finish" else None,
    )


_HEADINGS = {
    "found": ("As found", "Before anything moves: photo, level, heights, leaks, noises."),
    "use": ("Use", "What the fluid has been through."),
    "sample": ("A sample of the old fluid", "Only what was really measured; all of it may wait."),
}


def _noted(key: str, event: Event | None, units: Units, typed: Typed | None) -> Noted:
    """Return one form with what stands in the job already."""
    heading, why = _HEADINGS[key]
    payload: dict[str, Any] = {} if event is None else dict(event.payload)
    payload.update(zip(_SIZES, payload.get("particles_per_ml", ()), strict=False))
    fields = _FORMS[key]
    return Noted(
        key=key,
        heading=heading,
        why=why,
        lines=tuple(
            f"{one.label}: {_told(one, payload[one.name], units)}"
            for one in fields
            if payload.get(one.name) not in (None, "")
        ),
        uid="" if event is None else event.uid,
        fields=fields,
        form=typed or filled(fields, payload, units),
        fault=typed,
        is_open=event is None or typed is not None,
    )


def _told(field: Field, value: Any, units: Units) -> str:
    """Return a value as a line of the page has it."""
    if field.kind == "choice":
        return dict(field.options).get(str(value), str(value))
    if field.unit:
        return amount(float(value), field.unit, units)
    return figure(float(value)) if field.kind == "number" else str(value)


def _measures(circuit: Circuit) -> tuple[tuple[MeasureShown, ...], str]:
    """Return what to measure before guessing, the weightiest first."""
    try:
        ranking = which_unknown(circuit)
    except UllageError as error:
        return (), str(error)
    found = tuple(
        MeasureShown(
            name=one.measure.name,
            how=one.measure.how,
            gain=f"{pct(one.measure.explains * 100.0)} of the doubt; "
            f"takes {span(one.measure.duration_s)}",
        )
        for one in ranking.unknowns[:_MOST_UNKNOWN]
    )
    about = (
        f"Guessed as it is, an exchange ({ranking.recipe}) leaves between "
        f"{pct(ranking.low_share * 100.0)} and {pct(ranking.high_share * 100.0)} old fluid."
    )
    return found, about


@router.post("/jobs/{job_id}/assess/note/{what}")
def note(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str, what: str
) -> Response:
    """Write down one of the three things."""
    key = what if what in _FORMS else "found"
    typed = read(_FORMS[key], form, units)
    payload = dict(typed.values)
    counts = [payload.pop(size) for size in _SIZES if size in payload]
    if counts:
        payload["particles_per_ml"] = counts
        if len(counts) < len(_SIZES):
            typed = typed.with_fault(_SIZES[-1], "All three counts are needed, or none.")
    typed = replace(typed, values={**typed.values, "form": key})
    keep = {"found": note_as_found, "use": note_use, "sample": note_condition}[key]

    def act(typed: Typed) -> None:
        keep(desk, job_id, payload, uid=typed.uid)

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
