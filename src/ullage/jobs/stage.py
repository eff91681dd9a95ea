"""The seven stages of a job, in order, and the words for how far one has come."""

from __future__ import annotations

from enum import StrEnum


class Stage(StrEnum):
    """One of the seven parts of a job."""

    ASSESS = "assess"
    PLAN = "plan"
    PREPARE = "prepare"
    EXCHANGE = "exchange"
    REFIT = "refit"
    PROVE = "prove"
    RECORD = "record"

    @property
    def number(self) -> int:
        """Return the place in the order, from 1."""
        return STAGES.index(self) + 1


STAGES: tuple[Stage, ...] = tuple(Stage)


class StageState(StrEnum):
    """How far a stage has come."""

    FINISHED = "finished"
    IN_HAND = "in hand"
    TO_COME = "to come"


class StepState(StrEnum):
    """How far a step of the exchange has come."""

    WAITING = "waiting"
    UNDER_WAY = "under way"
    CARRIED_OUT = "carried out"
    LEFT_OUT = "left out"
