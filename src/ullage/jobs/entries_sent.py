"""Entries that another device or program made: all are taken in or none, and each of them once.

What a page refuses is refused here too, since an entry is never changed once it is stored. A kind
that is the result of something else (a plan, a photo, a finished stage) can't be sent as an entry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.assess import condition_must_fit, count_use, use_must_fit
from ullage.jobs.carry_out import READINGS, must_be_in_hand, readings_must_fit
from ullage.jobs.event import Draft, Event, Kind
from ullage.jobs.job import Job, folded
from ullage.jobs.log import log_all
from ullage.jobs.payload import checked
from ullage.jobs.ports import Desk
from ullage.jobs.propose_plan import goal_of_table
from ullage.jobs.stage import StepState

#: Kinds that follow from something else, and what to ask for instead.
FOLLOWING: Mapping[Kind, str] = {
    Kind.ANSWERED: "have the question worked out; its answer is noted with it",
    Kind.CIRCUIT: "have the job go on with the newest version of its circuit",
    Kind.LOT_USED: "use a lot; that takes it off the shelf too",
    Kind.PHOTO: "send the photo itself",
    Kind.RECIPE: "choose a recipe; it is judged first",
    Kind.STAGE: "finish or reopen the stage",
    Kind.UNDONE: "take the entry back",
}
#: Kinds that may be sent.
SENT: tuple[Kind, ...] = tuple(kind for kind in Kind if kind not in FOLLOWING)
#: Keys that say nothing by themselves.
_ASIDE = frozenset({"by", "stage", "typed", "note"})


def take_in(desk: Desk, job_id: str, drafts: Sequence[Draft]) -> tuple[Event, ...]:
    """Take in entries behind all others of a job, and return them as they are stored.

    One whose ``uid`` is stored in this job already is not added again, so a device that heard no
    answer sends everything once more.

    Raises
    ------
    OutOfRange, NotFound, FileFaults
        If there is no such job, a kind can't be sent, a payload is not one of its kind, or a
        reading can't have been taken from this circuit with this recipe.
    Conflict
        If a step is not the one in hand, an id stands for another entry, or the job is filed.
    """
    head = desk.store.job_head(job_id)
    events = desk.store.events(job_id)
    stored = {event.uid: event for event in events}
    new: dict[str, Draft] = {}
    for draft in drafts:
        good = replace(draft, payload=_checked(draft))
        other = stored.get(draft.uid) or new.get(draft.uid)
        if other is None:
            new[draft.uid] = good
        elif (other.kind, other.payload) != (good.kind, good.payload):
            raise Conflict(f"another entry bears the id {draft.uid!r}; an entry is never changed")
    then = list(events)
    for draft in new.values():
        _must_follow(folded(head, then), draft)
        then.append(_as_event(job_id, len(then) + 1, draft))
    readings = [draft for draft in new.values() if draft.kind in READINGS]
    if readings:
        readings_must_fit(desk, job_id, readings)
    if new:
        for event in log_all(desk, job_id, tuple(new.values())):
            stored[event.uid] = event
            if event.kind is Kind.USE:
                count_use(desk, folded(head, events), event)
    return tuple(stored[draft.uid] for draft in drafts)


def _checked(draft: Draft) -> dict[str, Any]:
    """Return the payload of a kind that can be sent, or say what is wrong with it."""
    kind = draft.kind
    if kind in FOLLOWING:
        raise OutOfRange("kind", kind.value, f"one of {', '.join(SENT)}", FOLLOWING[kind])
    try:
        payload = checked(kind, draft.payload)
    except NotFound as error:
        # The entry is wrong, and not the place that it was sent to.
        known = ", ".join(error.known)
        raise OutOfRange(kind.value, f"the key {error.name!r}", f"made of {known}") from None
    said = {key: value for key, value in payload.items() if key not in _ASIDE}
    match kind:
        case Kind.USE:
            use_must_fit(said)
        case Kind.CONDITION:
            condition_must_fit(said)
        case Kind.GOAL:
            goal_of_table(payload)
        case Kind.WASTE_HANDED_OVER if not payload["litres"] > 0.0:
            raise OutOfRange("waste-handed-over.litres", payload["litres"], "above 0")
        case Kind.READING if not payload["u_pct"] > 0.0:
            raise OutOfRange("reading.u_pct", payload["u_pct"], "above 0")
        case Kind.NEXT_DUE if payload.get("on"):
            _must_be_day(str(payload["on"]))
    return payload


def _must_be_day(text: str) -> None:
    try:
        is_day = date.fromisoformat(text).isoformat() == text
    except ValueError:
        is_day = False
    if not is_day:
        raise OutOfRange("next-due.on", repr(text), "a day such as 2027-03-31")


def _must_follow(job: Job, draft: Draft) -> None:
    """Refuse an entry that those before it leave no room for."""
    payload = draft.payload
    names = [event.payload["name"] for event in job.of(Kind.SAMPLE)]
    if draft.kind is Kind.SAMPLE and payload["name"] in names:
        allowed = "a name that no sample of this job bears"
        raise OutOfRange("sample.name", repr(payload["name"]), allowed, "number them on")
    if draft.kind is Kind.READING and payload["sample"] not in names:
        known = f"one of {', '.join(names)}" if names else "a sample that was drawn before"
        raise OutOfRange("reading.sample", repr(payload["sample"]), known)
    if draft.kind is Kind.STEP:
        must_be_in_hand(job, payload["step"])
        if payload["state"] == StepState.WAITING:
            raise OutOfRange(
                "step.state", "waiting", "under way, carried out or left out", "take the entry back"
            )
        if payload["state"] == StepState.LEFT_OUT and not payload.get("reason", "").strip():
            raise OutOfRange("step.reason", "nothing", "given", "say why the step is left out")


def _as_event(job_id: str, seq: int, draft: Draft) -> Event:
    """Return a draft as if it were stored."""
    return Event(
        job_id=job_id,
        seq=seq,
        uid=draft.uid,
        device=draft.device,
        device_seq=draft.device_seq,
        kind=draft.kind,
        device_at=draft.device_at,
        server_at=draft.device_at,
        payload=draft.payload,
    )
