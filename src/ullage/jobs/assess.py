"""The first stage: how was it found, what was it through, and is the exchange due?

The verdict is ``planning.due``'s. Of the old fluid only what was measured in this job counts: what
stands in the circuit's file may be a template's guess. Leaves out what to do about it.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from ullage.errors import Conflict, OutOfRange
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.carry_out import finish
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log
from ullage.jobs.machine import CounterReading
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage
from ullage.planning.due import Answer as Word
from ullage.planning.due import Interval, Use, due
from ullage.planning.plan_words import behind_colon
from ullage.units.convert import HOUR_S

_KM_M, _DAY_S = 1e3, 24.0 * HOUR_S
#: What a sample says about the old fluid, under the keys of a circuit file's [fluid].
MEASURED = ("nu40_mm2_s", "nu100_mm2_s", "water_mg_kg", "acid_mgkoh_g", "particles_per_ml")
# What a sheet says of a fluid; without a table of its own the new fluid has these of the old one.
_OF_SHEET = ("nu40_mm2_s", "nu100_mm2_s", "rho15_kg_m3", "class")
UNKNOWN_FAMILY = "unknown"
#: How the family of the old fluid may be known, as it is written down; the last one stops a job.
NOT_KNOWN = "not known"
FAMILY_PROOFS = (
    "papers of the machine",
    "label on the reservoir",
    "record of the last exchange",
    "analysis of a sample",
    NOT_KNOWN,
)


def note_as_found(desk: Desk, job_id: str, payload: Mapping[str, Any], *, uid: str) -> None:
    """Write down how the machine was found, before anything moved.

    Raises
    ------
    OutOfRange
        If nothing at all was written down.
    """
    if not payload:
        raise OutOfRange("as-found", "nothing", "at least one line", "write down what you see")
    log(desk, job_id, Kind.AS_FOUND, payload, uid=uid)


def note_use(desk: Desk, job_id: str, payload: Mapping[str, Any], *, uid: str) -> None:
    """Write down the counter and what the fluid has been through; the counter is the machine's too.

    Raises
    ------
    OutOfRange
        If nothing was written down, or more was run since the last exchange than in all.
    """
    use_must_fit(payload)
    job = load_job(desk, job_id)
    before = {event.uid for event in job.entries}
    event = log(desk, job_id, Kind.USE, payload, uid=uid)
    if event.uid not in before:
        count_use(desk, job, event)


def use_must_fit(payload: Mapping[str, Any]) -> None:
    """Refuse a use of which nothing is written down, or whose parts are more than the whole."""
    if not payload:
        raise OutOfRange("use", "nothing", "at least one figure", "read the counter")
    for whole, part in (("distance_km", "since_km"), ("hours", "since_hours")):
        if part in payload and whole in payload and payload[part] > payload[whole]:
            raise OutOfRange(
                part, payload[part], f"at most the counter's {payload[whole]:g}", "look at both"
            )


def count_use(desk: Desk, job: Job, event: Event) -> None:
    """Keep the counter that a use tells with the machine, where it tells one."""
    payload = event.payload
    if "distance_km" in payload or "hours" in payload:
        desk.store.add_counter_reading(
            CounterReading(
                machine_id=job.head.machine_id,
                job_id=job.head.id,
                read_at=event.device_at,
                distance_m=payload["distance_km"] * _KM_M if "distance_km" in payload else None,
                running_s=payload["hours"] * HOUR_S if "hours" in payload else None,
            )
        )


def note_condition(desk: Desk, job_id: str, payload: Mapping[str, Any], *, uid: str) -> None:
    """Write down what a sample of the old fluid says.

    Raises
    ------
    OutOfRange
        If nothing was written down, or particles are not three counts that fall with size.
    """
    condition_must_fit(payload)
    log(desk, job_id, Kind.CONDITION, payload, uid=uid)


def condition_must_fit(payload: Mapping[str, Any]) -> None:
    """Refuse a sample of which nothing was read, or whose counts are not those of one sample."""
    if not payload:
        raise OutOfRange("condition", "nothing", "at least one reading", "fill in what is known")
    counts = payload.get("particles_per_ml")
    if counts is not None and (len(counts) != 3 or sorted(counts, reverse=True) != list(counts)):
        raise OutOfRange(
            "particles_per_ml",
            counts,
            "three counts that fall: 4, 6 and 14 \N{GREEK SMALL LETTER MU}m and larger",
            "a count of larger particles is part of the count of smaller ones",
        )


def judged_table(desk: Desk, job: Job) -> dict[str, Any]:
    """Return the circuit's table with the sample of this job, and no other, in its old fluid."""
    version = desk.store.circuit_version(job.head.circuit_version_id)
    table = copy.deepcopy(dict(version.table))
    sample = {} if job.condition is None else job.condition.payload
    sheet = {key: value for key, value in table.get("fluid", {}).items() if key in _OF_SHEET}
    table.setdefault("new_fluid", dict(sheet))
    measured = {key: sample[key] for key in MEASURED if key in sample}
    table["fluid"] = {**sheet, **measured}
    return table


def family_stop(desk: Desk, job: Job) -> str:
    """Return why the job stops before anything is poured: the old fluid's family; empty where not.

    Families are never mixed, and colour and smell prove nothing.
    """
    table = judged_table(desk, job)
    proof = "" if job.as_found is None else job.as_found.payload.get("family_proof", "")
    if str(table["fluid"].get("class", UNKNOWN_FAMILY)) == UNKNOWN_FAMILY:
        return (
            "The circuit does not say what the old fluid is. Families are never mixed: find a "
            "document or a label that names it, write its class into the circuit, and go on then."
        )
    if proof == NOT_KNOWN:
        return (
            "Nobody knows of which family the old fluid is. Families are never mixed: find a "
            "document or a label that names it, or have a sample analysed. Until then the job "
            "stops here."
        )
    if not proof:
        return (
            "Nobody wrote down yet how the family of the old fluid is known; what the circuit says "
            "may be a template's guess."
        )
    return ""


def judge_inputs(desk: Desk, job: Job) -> dict[str, Any]:
    """Return what the verdict rests on: circuit with the sample, use, intervals, colour."""
    used = {} if job.use is None else job.use.payload
    sample = {} if job.condition is None else job.condition.payload
    return {
        "circuit": judged_table(desk, job),
        "use": {key: value for key, value in used.items() if key.startswith(_OF_USE)},
        "is_viscosity_measured": "nu40_mm2_s" in sample,
        "colour_rise": sample.get("colour_rise"),
    }


_OF_USE = ("distance_km", "hours", "since_", "interval_")


def judge(desk: Desk, job_id: str) -> Answer:
    """Judge whether the exchange is due, and keep the verdict with what it rests on.

    The verdict that is kept already is returned where nothing that it rests on was changed.
    """
    job = load_job(desk, job_id)
    inputs = judge_inputs(desk, job)
    kept = due_answer(desk, job)
    if kept is not None and kept.fingerprint == fingerprint_of(inputs):
        return kept
    used = inputs["use"]
    found = due(
        desk.forms.circuit(inputs["circuit"], "circuit"),
        use=Use(
            distance_m=_scaled(used.get("since_km"), _KM_M),
            running_s=_scaled(used.get("since_hours"), HOUR_S),
            age_s=_scaled(used.get("since_days"), _DAY_S),
        ),
        interval=Interval(
            distance_m=_scaled(used.get("interval_km"), _KM_M),
            running_s=_scaled(used.get("interval_hours"), HOUR_S),
            age_s=_scaled(used.get("interval_days"), _DAY_S),
        ),
        colour_rise=inputs["colour_rise"],
        is_viscosity_measured=inputs["is_viscosity_measured"],
    )
    answer = Answer(
        id=desk.new_id(),
        job_id=job_id,
        of=Of.DUE,
        made_at=desk.now(),
        code=desk.code,
        seed=0,
        inputs=inputs,
        fingerprint=fingerprint_of(inputs),
        body=desk.forms.due_table(found),
    )
    desk.store.keep_answer(answer)
    log(desk, job_id, Kind.ANSWERED, {"answer": answer.id, "of": Of.DUE.value})
    return answer


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def due_answer(desk: Desk, job: Job) -> Answer | None:
    """Return the newest verdict of the stage."""
    name = job.answers.get(Of.DUE.value)
    return None if name is None else desk.store.answer(name)


def is_due_current(desk: Desk, job: Job, answer: Answer) -> bool:
    """Tell whether nothing that a verdict rests on was changed since."""
    return answer.fingerprint == fingerprint_of(judge_inputs(desk, job))


def finish_assess(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the stage with the verdict in one line.

    Raises
    ------
    Conflict
        If it was not judged yet, something was written down since, or nobody says how the family
        of the old fluid is known.
    """
    job = load_job(desk, job_id)
    answer = due_answer(desk, job)
    if answer is None:
        raise Conflict("it was not judged yet whether the exchange is due; judge it, then finish")
    if not is_due_current(desk, job, answer):
        raise Conflict("something was written down after this verdict; judge again, then finish")
    stops = family_stop(desk, job)
    if stops:
        raise Conflict(stops)
    reasons = answer.body["reasons"]
    why = f": {behind_colon(reasons[0])}" if reasons else ""
    word = str(answer.body["verdict"])
    text = f"{word}{why}" if word != Word.CANNOT_TELL.value else "cannot tell from what is known"
    finish(desk, job, Stage.ASSESS, text.rstrip("."), uid=uid)
