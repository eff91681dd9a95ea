"""What is the one next thing to do in a job, and who does it? Decided by its events alone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ullage.jobs.event import Kind
from ullage.jobs.job import Job
from ullage.jobs.stage import Stage

AT_RESERVOIR = "at the reservoir"
AT_SWITCH = "at the switch"
AT_DESK = "at the desk"
NOBODY = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextThing:
    """One sentence, and who does it."""

    sentence: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """A job as one line of a list; ``rank`` orders the list, small first.

    Kept beside the events so that a list of many jobs needs no events; it can always be made anew
    from them.
    """

    job_id: str
    machine_id: str
    title: str
    stage: Stage | None
    next: NextThing
    rank: int
    opened_at: datetime
    touched_at: datetime


def next_thing(job: Job) -> NextThing:
    """Return what has to happen next."""
    match job.stage:
        case None:
            return NextThing(sentence="Nothing: the record is filed.", who=NOBODY)
        case Stage.ASSESS:
            if job.as_found is None:
                return _at_reservoir("Write down how the machine was found, before anything moves.")
            if job.use is None:
                return _at_desk("Read the counter, and say when the fluid was last exchanged.")
            return _at_desk("Judge whether the exchange is due.")
        case Stage.PLAN:
            if job.goal is None:
                return _at_desk("Say how much old fluid may stay, and how sure that has to be.")
            if job.recipe is None:
                return _at_desk("Choose the recipe to carry out.")
            return _at_desk("Look through the plan and finish it.")
        case Stage.PREPARE:
            return _at_reservoir("Get everything ready and tick it off.")
        case Stage.EXCHANGE:
            step = job.step_in_hand
            if job.recipe is None:
                return _at_desk("Reopen the plan and choose a recipe: there is none yet.")
            if step is None:
                return _at_reservoir("All steps are done: finish the exchange.")
            return _at_reservoir(f"Carry out step {step}.")
        case Stage.REFIT:
            return _at_reservoir("Put the machine back and check it.")
        case Stage.PROVE:
            if not job.of(Kind.READING):
                return _at_desk("Read the samples against the reference vials.")
            return _at_desk("See what the readings tell, and finish.")
        case Stage.RECORD:
            if not job.signed:
                return _at_desk("Hand over the waste, look through the record and sign it.")
            return _at_desk("File the record.")


def _at_reservoir(sentence: str) -> NextThing:
    return NextThing(sentence=sentence, who=AT_RESERVOIR)


def _at_desk(sentence: str) -> NextThing:
    return NextThing(sentence=sentence, who=AT_DESK)


def line_of(job: Job) -> JobLine:
    """Return a job as one line; what is nearest to a running machine comes first.

    A machine whose exchange is under way stands in the bay with its diverter in: it goes before
    one to be refitted, then proved, recorded, prepared, planned, assessed.
    """
    order = (
        Stage.EXCHANGE,
        Stage.REFIT,
        Stage.PROVE,
        Stage.RECORD,
        Stage.PREPARE,
        Stage.PLAN,
        Stage.ASSESS,
    )
    # A device's clock may run ahead, but what was noted long ago may come in with a file today.
    noted = [min(entry.device_at, entry.server_at) for entry in job.entries]
    return JobLine(
        job_id=job.head.id,
        machine_id=job.head.machine_id,
        title=job.head.title,
        stage=job.stage,
        next=next_thing(job),
        rank=len(order) if job.stage is None else order.index(job.stage),
        opened_at=job.head.opened_at,
        touched_at=max(noted, default=job.head.opened_at),
    )
