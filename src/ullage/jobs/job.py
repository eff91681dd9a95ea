"""A job as it stands now: nothing but what its events add up to.

``folded`` goes through the events in order; an event taken back by a later ``undone`` counts as if
it had never been. The same rules hold on a device without a server, so nothing here reads a clock,
a file or a number that is not in an event.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from ullage.jobs.event import Event, Kind
from ullage.jobs.stage import STAGES, Stage, StageState, StepState

#: How warm a recipe is carried out that does not say it: as in recipe files.
RECIPE_DEGC = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class JobHead:
    """What is fixed when a job is opened: which machine, and which circuit.

    The version of the circuit is the one that the job was opened with, until a ``circuit`` entry
    says that it goes on with another.
    """

    id: str
    machine_id: str
    circuit_id: str
    circuit_version_id: str
    title: str
    opened_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StepEntry:
    """How far a step of the exchange has come, and why it was left out."""

    state: StepState
    reason: str = ""
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job as its events tell it.

    Single facts hold the newest event of their kind, lists hold all that were not taken back.
    ``ticks`` are keyed by list and item, ``steps`` by number, ``answers`` by question and hold the
    id of the newest answer.
    """

    head: JobHead
    seq: int = 0
    finished: Mapping[Stage, str] = field(default_factory=dict)
    as_found: Event | None = None
    use: Event | None = None
    condition: Event | None = None
    goal: Event | None = None
    recipe: Event | None = None
    next_due: Event | None = None
    signed: tuple[Event, ...] = ()
    ticks: Mapping[tuple[str, str], Event] = field(default_factory=dict)
    steps: Mapping[int, StepEntry] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    entries: tuple[Event, ...] = ()

    def of(self, *kinds: Kind) -> tuple[Event, ...]:
        """Return the entries of some kinds, in the order in which they were stored."""
        return tuple(event for event in self.entries if event.kind in kinds)

    @property
    def stage(self) -> Stage | None:
        """Return the stage in hand: the first that is not finished; None when all are."""
        return next((stage for stage in STAGES if stage not in self.finished), None)

    @property
    def is_closed(self) -> bool:
        """Tell whether all seven stages are finished."""
        return self.stage is None

    def state_of(self, stage: Stage) -> StageState:
        """Return how far a stage has come."""
        if stage in self.finished:
            return StageState.FINISHED
        return StageState.IN_HAND if stage is self.stage else StageState.TO_COME

    @property
    def recipe_table(self) -> Mapping[str, Any] | None:
        """Return the recipe that is to be carried out, as the table of a recipe file."""
        return None if self.recipe is None else self.recipe.payload["recipe"]

    @property
    def recipe_degc(self) -> float:
        """Return the temperature at which the recipe is carried out [degC]."""
        return float((self.recipe_table or {}).get("temperature_degc", RECIPE_DEGC))

    def step_state(self, step: int) -> StepState:
        """Return how far a step of the recipe has come."""
        entry = self.steps.get(step)
        return StepState.WAITING if entry is None else entry.state

    @property
    def step_in_hand(self) -> int | None:
        """Return the first step that is neither carried out nor left out; None when none is."""
        table = self.recipe_table
        count = 0 if table is None else len(table["step"])
        done = {StepState.CARRIED_OUT, StepState.LEFT_OUT}
        return next((n for n in range(1, count + 1) if self.step_state(n) not in done), None)


def standing(events: Sequence[Event]) -> tuple[Event, ...]:
    """Return the events that were not taken back, without the takings back themselves.

    An ``undone`` that is itself undone no longer counts: the event is back.
    """
    gone: set[str] = set()
    for event in reversed(events):
        if event.kind is Kind.UNDONE and event.uid not in gone:
            gone.add(event.payload["uid"])
    return tuple(e for e in events if e.uid not in gone and e.kind is not Kind.UNDONE)


_SINGLE = {
    Kind.AS_FOUND: "as_found",
    Kind.USE: "use",
    Kind.CONDITION: "condition",
    Kind.GOAL: "goal",
    Kind.NEXT_DUE: "next_due",
}


def folded(head: JobHead, events: Iterable[Event]) -> Job:
    """Return the job that some events add up to."""
    given = tuple(events)
    single: dict[str, Event] = {}
    finished: dict[Stage, str] = {}
    ticks: dict[tuple[str, str], Event] = {}
    steps: dict[int, StepEntry] = {}
    answers: dict[str, str] = {}
    recipe: Event | None = None
    entries = standing(given)
    for event in entries:
        payload = event.payload
        if event.kind in _SINGLE:
            single[_SINGLE[event.kind]] = event
        elif event.kind is Kind.CIRCUIT:
            head = replace(head, circuit_version_id=payload["version"])
        elif event.kind is Kind.RECIPE:
            recipe, steps = event, {}  # another recipe starts from its first step
        elif event.kind is Kind.STAGE:
            stage = Stage(payload["stage"])
            if payload["state"] == StageState.FINISHED:
                finished[stage] = payload.get("result", "")
            else:
                finished.pop(stage, None)
        elif event.kind is Kind.TICKED:
            ticks[payload["list"], payload["item"]] = event
        elif event.kind is Kind.STEP:
            steps[payload["step"]] = StepEntry(
                state=StepState(payload["state"]),
                reason=payload.get("reason", ""),
                at=event.device_at,
            )
        elif event.kind is Kind.ANSWERED:
            answers[payload["of"]] = payload["answer"]
    return Job(
        head=head,
        seq=given[-1].seq if given else 0,
        finished=finished,
        recipe=recipe,
        ticks=ticks,
        steps=steps,
        answers=answers,
        signed=tuple(event for event in entries if event.kind is Kind.SIGNED),
        entries=entries,
        **single,
    )
