"""What is looked after: machines, their circuits in every version, and how much they were used.

A circuit's description is kept as the table of a circuit file, in the units of that file: it is
what a person typed and what can be handed out again. ``ports.Forms`` makes a ``Circuit`` of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from ullage.errors import OutOfRange

LONGEST_NAME = 80


class Counter(StrEnum):
    """What the machine's own counter counts; ``NONE`` where it has none."""

    DISTANCE = "distance"
    HOURS = "hours"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine that is looked after.

    ``name`` is what the fleet calls it, ``marks`` how to recognise it in the yard. ``version``
    counts changes: who saves an older one is told so.
    """

    id: str
    name: str
    marks: str = ""
    counter: Counter = Counter.DISTANCE
    version: int = 1
    added_at: datetime

    def __post_init__(self) -> None:
        """Refuse a machine without a name that fits on a line."""
        named(self.name, "name")


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitVersion:
    """One version of the description of one circuit of a machine.

    Versions are never changed: an edit adds the next ``number``, a job keeps the one that it was
    planned with. ``circuit_id`` is the same for all versions, ``id`` is this one's own.
    """

    id: str
    circuit_id: str
    machine_id: str
    number: int
    name: str
    table: Mapping[str, Any]
    saved_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterReading:
    """The machine's counter on a day; either may be None. Kept with the job that read it."""

    machine_id: str
    job_id: str | None
    read_at: datetime
    distance_m: float | None = None
    running_s: float | None = None


def named(text: str, key: str) -> str:
    """Return a name that is neither empty nor longer than a line.

    Raises
    ------
    OutOfRange
        If it is empty, too long or broken over lines.
    """
    if not text.strip() or len(text) > LONGEST_NAME or not text.isprintable():
        raise OutOfRange(
            key, repr(text[:LONGEST_NAME]), f"1 to {LONGEST_NAME} printable characters on one line"
        )
    return text.strip()
