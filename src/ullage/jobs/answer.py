"""What was worked out for a job, kept with all that is needed to work it out again.

An answer is never changed. ``code`` is the version of the program, ``inputs`` what went in (tables
in the units of the files), ``fingerprint`` a hash of them, ``seed`` the draws. Years later the same
inputs either give the same body, or the difference can be explained.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any


class Of(StrEnum):
    """Which question an answer belongs to."""

    DUE = "due"
    PLAN = "plan"
    VERDICT = "verdict"
    NEXT_DUE = "next-due"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer: the question, what went in, what came out, and by which code."""

    id: str
    job_id: str
    of: Of
    made_at: datetime
    code: str
    seed: int
    inputs: Mapping[str, Any]
    fingerprint: str
    body: Mapping[str, Any]


def fingerprint_of(inputs: Mapping[str, Any]) -> str:
    """Return a hash that is equal for equal inputs, in whatever order their keys stand."""
    text = json.dumps(inputs, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()
