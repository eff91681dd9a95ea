"""The exchange as a checklist: one step in hand, what it should show, what was done and read.

A step is waiting, under way, carried out, or left out with a reason. Everything that is written
down at a step goes in with one stroke, all or nothing; what was written down can be taken back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ullage.circuit.names import one_of
from ullage.circuit.network import Circuit
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.evidence.observation import Place
from ullage.evidence.refusals import evidence_faults
from ullage.jobs.as_found import found_circuit
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.forecast import Check, Expected, Forecasts, Outlook
from ullage.jobs.job import Job, folded
from ullage.jobs.log import DESK_DEVICE, load_job, log_all
from ullage.jobs.payload import checked
from ullage.jobs.ports import Desk
from ullage.jobs.readings import (
    TABLES,
    gathered,
    recipe_of_steps,
    steps_not_left_out,
    with_litres_sent,
)
from ullage.jobs.stage import Stage, StageState, StepState

#: What can be read at a step, and what was done there.
AT_STEP = (
    Kind.POURED,
    Kind.VOLUME,
    Kind.LEVEL,
    Kind.TURN,
    Kind.CYCLES,
    Kind.TEMPERATURE,
    Kind.SAMPLE,
    Kind.PHOTO,
    Kind.NOTE,
)
#: What is measured of the machine, at whatever step.
OF_MACHINE = (Kind.FLOW, Kind.TRAVEL)
_DONE = (StepState.CARRIED_OUT, StepState.LEFT_OUT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Something that was written down, with its check where it is a reading."""

    event: Event
    check: Check | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepOnList:
    """One step of the checklist; ``state_uid`` is the entry that put it where it is."""

    number: int
    do: str
    table: Mapping[str, Any]
    state: StepState
    reason: str
    state_uid: str
    expected: Expected | None
    entries: tuple[Entry, ...]

    def total(self, kind: Kind, *whats: str) -> float | None:
        """Return the litres of some entries together; None where none has litres."""
        litres = [
            float(entry.event.payload["litres"])
            for entry in self.entries
            if entry.event.kind is kind
            and "litres" in entry.event.payload
            and (not whats or entry.event.payload.get("what") in whats)
        ]
        return sum(litres) if litres else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checklist:
    """All steps, the number of the one in hand (None: all are done), and what belongs to none."""

    circuit: Circuit
    steps: tuple[StepOnList, ...]
    in_hand: int | None
    of_machine: tuple[Entry, ...]
    outlook: Outlook


def checklist(desk: Desk, job: Job, forecasts: Forecasts) -> Checklist:
    """Return the recipe of a job as a checklist; without a recipe it has no steps."""
    machine = found_circuit(desk, job)
    outlook = forecasts.of(desk, job)
    table = job.recipe_table
    if table is None:
        return Checklist(
            circuit=machine.circuit, steps=(), in_hand=None, of_machine=(), outlook=outlook
        )
    expected = {} if outlook.forecast is None else outlook.forecast.steps
    state_uids = {event.payload["step"]: event.uid for event in job.of(Kind.STEP)}
    last = len(table["step"])
    steps = tuple(
        StepOnList(
            number=number,
            do=str(step["do"]),
            table=step,
            state=job.step_state(number),
            reason=job.steps[number].reason if number in job.steps else "",
            state_uid=state_uids.get(number, "") if number in job.steps else "",
            expected=expected.get(number),
            entries=tuple(
                Entry(event=event, check=outlook.check_of(event.uid))
                for event in job.of(*AT_STEP)
                if step_of(event, last) == number and event.payload.get("stage") != Stage.REFIT
            ),
        )
        for number, step in enumerate(table["step"], start=1)
    )
    return Checklist(
        circuit=machine.circuit,
        steps=steps,
        in_hand=job.step_in_hand,
        of_machine=tuple(
            Entry(event=event, check=outlook.check_of(event.uid)) for event in job.of(*OF_MACHINE)
        ),
        outlook=outlook,
    )


def step_of(event: Event, last: int) -> int | None:
    """Return the step that an entry stands beside; what was read before the first stands there."""
    payload = event.payload
    number = payload.get("step", payload.get("after_step"))
    return None if number is None else min(max(int(number), 1), last)


def begin(desk: Desk, job_id: str, step: int, *, uid: str) -> None:
    """Note that the step in hand is under way."""
    if not _is_stored(desk, job_id, uid):
        must_be_in_hand(load_job(desk, job_id), step)
    _add(desk, job_id, uid, [(Kind.STEP, {"step": step, "state": StepState.UNDER_WAY.value})])


def write_down(
    desk: Desk,
    job_id: str,
    facts: Sequence[tuple[Kind, Mapping[str, Any]]],
    *,
    uid: str,
) -> None:
    """Write down what was done and read, all or nothing; the same ``uid`` again adds nothing.

    Raises
    ------
    OutOfRange, NotFound, FileFaults
        If a reading cannot have been taken from this circuit with this recipe.
    Conflict
        If the job has no recipe, or is filed.
    """
    if not facts:
        raise OutOfRange(
            "entry", "nothing", "at least one reading", "fill in what was done or read"
        )
    _add(desk, job_id, uid, facts)


def carried_out(
    desk: Desk,
    job_id: str,
    step: int,
    facts: Sequence[tuple[Kind, Mapping[str, Any]]] = (),
    *,
    uid: str,
    by: str = "",
) -> None:
    """Note that a step was carried out, with what was read at it.

    Raises
    ------
    Conflict
        If it is not the step in hand.
    """
    job = load_job(desk, job_id)
    done: dict[str, Any] = {"step": step, "state": StepState.CARRIED_OUT.value}
    if by:
        done["by"] = by
    if not _is_stored(desk, job_id, uid):
        must_be_in_hand(job, step)
    _add(desk, job_id, uid, [*facts, (Kind.STEP, done)])


def leave_out(desk: Desk, job_id: str, step: int, reason: str, *, uid: str) -> None:
    """Note that a step is left out, and why.

    Raises
    ------
    OutOfRange
        If no reason is given.
    Conflict
        If it is not the step in hand.
    """
    if not reason.strip():
        raise OutOfRange(
            "reason", "nothing", "given", "say why the step is left out: the record shows it"
        )
    if not _is_stored(desk, job_id, uid):
        must_be_in_hand(load_job(desk, job_id), step)
    payload = {"step": step, "state": StepState.LEFT_OUT.value, "reason": reason.strip()}
    _add(desk, job_id, uid, [(Kind.STEP, payload)])


def exchange_result(job: Job) -> str:
    """Return the exchange in one line: litres that went through, samples, steps left out."""
    poured = sum(float(event.payload["litres"]) for event in job.of(Kind.POURED))
    samples = len(job.of(Kind.SAMPLE))
    left_out = [n for n, entry in sorted(job.steps.items()) if entry.state is StepState.LEFT_OUT]
    words = [f"{poured:.3g} L through" if poured else "no litres written down"]
    words.append("no sample" if not samples else f"{samples} sample{'s' if samples > 1 else ''}")
    if left_out:
        steps = ", ".join(str(number) for number in left_out)
        words.append(f"step{'s' if len(left_out) > 1 else ''} {steps} left out")
    return ", ".join(words)


def finish_exchange(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the exchange with its result in one line.

    Raises
    ------
    Conflict
        If a step is neither carried out nor left out, or another stage comes first.
    """
    job = load_job(desk, job_id)
    if job.recipe_table is None:
        raise Conflict("there is no recipe to carry out; choose one in the plan first")
    if job.step_in_hand is not None:
        raise Conflict(
            f"step {job.step_in_hand} is neither carried out nor left out; do one of the two first"
        )
    finish(desk, job, Stage.EXCHANGE, exchange_result(job), uid=uid)


def finish(desk: Desk, job: Job, stage: Stage, result: str, *, uid: str) -> None:
    """Finish the stage in hand.

    Raises
    ------
    Conflict
        If another stage comes first. A stage that is finished already stays as it is.
    """
    state = job.state_of(stage)
    if state is StageState.FINISHED:
        return
    if state is StageState.TO_COME:
        first = "" if job.stage is None else job.stage.value
        raise Conflict(f"{stage.value} waits for {first}; finish {first} first")
    payload = {"stage": stage.value, "state": StageState.FINISHED.value, "result": result}
    _add(desk, job.head.id, uid, [(Kind.STAGE, payload)])


def drafts_of(
    desk: Desk, uid: str, facts: Sequence[tuple[Kind, Mapping[str, Any]]]
) -> tuple[Draft, ...]:
    """Return facts as drafts, named after one form so that sending it twice adds them once."""
    at = desk.now()
    return tuple(
        Draft(
            uid=_named(uid, place),
            device=DESK_DEVICE,
            device_seq=0,
            kind=kind,
            device_at=at,
            payload=payload,
        )
        for place, (kind, payload) in enumerate(facts)
    )


def must_be_in_hand(job: Job, step: int) -> None:
    """Refuse a step that another one comes before, or that is done."""
    if job.recipe_table is None:
        raise Conflict("there is no recipe to carry out; choose one in the plan first")
    if job.step_in_hand != step:
        now = "all are done" if job.step_in_hand is None else f"step {job.step_in_hand} is"
        raise Conflict(f"step {step} is not the one in hand, {now}; load the page again")


def _is_stored(desk: Desk, job_id: str, uid: str) -> bool:
    """Tell whether a form was taken in already."""
    return any(event.uid == _named(uid, 0) for event in desk.store.events(job_id))


def _named(uid: str, place: int) -> str:
    """Return the id of a form's fact, counted from 0; every form that is taken in has a first."""
    return f"{uid}-{place}"


def _add(
    desk: Desk, job_id: str, uid: str, facts: Sequence[tuple[Kind, Mapping[str, Any]]]
) -> None:
    """Add facts once, after looking whether they can be."""
    if _is_stored(desk, job_id, uid):
        return
    drafts = drafts_of(desk, uid, [(kind, checked(kind, payload)) for kind, payload in facts])
    if any(kind in READINGS for kind, _ in facts):
        readings_must_fit(desk, job_id, drafts)
    log_all(desk, job_id, drafts)


#: Kinds that end up in an evidence file.
READINGS = frozenset(
    {
        Kind.POURED,
        Kind.VOLUME,
        Kind.LEVEL,
        Kind.FLOW,
        Kind.TURN,
        Kind.TRAVEL,
        Kind.CYCLES,
        Kind.SAMPLE,
        Kind.READING,
    }
)


def readings_must_fit(desk: Desk, job_id: str, drafts: Sequence[Draft]) -> None:
    """Refuse readings that this circuit and recipe cannot have given.

    They are folded into the job as if they were stored, and read as an evidence file would be."""
    events = desk.store.events(job_id)
    job = folded(desk.store.job_head(job_id), events)
    table = job.recipe_table
    if table is None:
        raise Conflict("there is no recipe yet that a reading could belong to; choose one first")
    circuit = found_circuit(desk, job).circuit
    for draft in drafts:
        if draft.kind is Kind.SAMPLE:
            _sample_must_fit(job, circuit, draft.payload)
        if draft.kind is Kind.VOLUME:
            _one_of_two(draft.payload, "litres", "grams", "volume")
        if draft.kind is Kind.LEVEL:
            _one_of_two(draft.payload, "mm", "litres", "level")
        number = draft.payload.get("step", draft.payload.get("after_step"))
        if number is not None and number > len(table["step"]):
            raise OutOfRange("step", number, f"at most {len(table['step'])}")
    new = [
        Event(
            job_id=job_id,
            seq=job.seq + place,
            uid=draft.uid,
            device=draft.device,
            device_seq=draft.device_seq,
            kind=draft.kind,
            device_at=draft.device_at,
            server_at=draft.device_at,
            payload=draft.payload,
        )
        for place, draft in enumerate(drafts, start=1)
    ]
    kept = steps_not_left_out(job)
    if not kept:
        return
    then = folded(job.head, [*events, *new])
    found = gathered(then, circuit, kept)
    mine = {draft.uid for draft in drafts}
    evidence = desk.forms.evidence(found.evidence, "readings")
    made = recipe_of_steps(table, kept)
    made["step"] = with_litres_sent(then, circuit, made, kept)
    recipe = desk.forms.recipe(made, "recipe")
    rows = {
        f"{name}[{place}]": row
        for name in TABLES
        for place, row in enumerate(found.of(name), start=1)
    }
    faults = [
        fault
        for fault in evidence_faults(evidence, circuit, recipe)
        if mine & set(rows[fault.key.split(".")[0]].uids)
    ]
    if faults:
        raise FileFaults("readings", faults)


def _sample_must_fit(job: Job, circuit: Circuit, payload: Mapping[str, Any]) -> None:
    """Refuse a sample of a taken name or from a place that is not there."""
    name, where = payload["name"], str(payload["where"])
    if any(event.payload["name"] == name for event in job.of(Kind.SAMPLE)):
        raise OutOfRange(
            "sample.name", repr(name), "a name that no sample of this job bears", "number them on"
        )
    place, _, leg = where.partition(":")
    if place not in {one.value for one in Place} or (place == Place.LEG) != bool(leg):
        raise OutOfRange(
            "sample.where", repr(where), one_of(["outflow", "reservoir", "bucket", "leg:<id>"])
        )
    if leg and leg not in circuit.leg_by_id:
        raise NotFound("leg", leg, circuit.leg_by_id)


def _one_of_two(payload: Mapping[str, Any], first: str, second: str, what: str) -> None:
    """Refuse a reading that has both of two keys, or neither."""
    there = [key for key in (first, second) if payload.get(key) is not None]
    if len(there) != 1:
        raise OutOfRange(
            what,
            " and ".join(there) or "nothing",
            f"either {first} or {second}",
            "give one of them",
        )
