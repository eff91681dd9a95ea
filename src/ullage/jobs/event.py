"""What happened in a job, one small fact at a time; facts are added, never changed.

A device makes an event (``Draft``) with an id of its own, so that sending it twice adds it once;
the store gives it its place in the job's order and the time of the server (``Event``). Taking
something back is an event as well. What a kind may carry stands in ``payload``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any


class Kind(StrEnum):
    """What an event tells."""

    # any stage
    NOTE = "note"
    PHOTO = "photo"
    TICKED = "ticked"
    STAGE = "stage"
    ANSWERED = "answered"
    UNDONE = "undone"
    # assess
    AS_FOUND = "as-found"
    USE = "use"
    CONDITION = "condition"
    # plan
    CIRCUIT = "circuit"
    GOAL = "goal"
    RECIPE = "recipe"
    # exchange
    STEP = "step"
    ENGINE = "engine"
    CONTAINER = "container"
    POURED = "poured"
    VOLUME = "volume"
    LEVEL = "level"
    FLOW = "flow"
    TURN = "turn"
    TRAVEL = "travel"
    CYCLES = "cycles"
    TEMPERATURE = "temperature"
    SAMPLE = "sample"
    # prove
    READING = "reading"
    # record
    LOT_USED = "lot-used"
    WASTE_HANDED_OVER = "waste-handed-over"
    NEXT_DUE = "next-due"
    SIGNED = "signed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An event as a device made it: not stored yet, so without a place in the order.

    ``uid`` is unique over all devices, ``device_seq`` counts the events of one device.
    """

    uid: str
    device: str
    device_seq: int
    kind: Kind
    device_at: datetime
    payload: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """An event as it is stored: the ``seq``-th of its job, from 1, without gaps."""

    job_id: str
    seq: int
    uid: str
    device: str
    device_seq: int
    kind: Kind
    device_at: datetime
    server_at: datetime
    payload: Mapping[str, Any]
