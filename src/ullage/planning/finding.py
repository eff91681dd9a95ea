"""One thing that was found while judging something: what, how grave, and whose word it is.

Several findings make a verdict: the gravest one decides. Screens and papers show all of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

PRACTICE = "common practice, no source"
OURS = "ours, no source"


class Weight(StrEnum):
    """How a finding bears on the verdict, lightest first."""

    FINE = "fine"
    NOTE = "note"
    UNKNOWN = "unknown"
    CARE = "care"
    AGAINST = "against"
    STOP = "stop"


class Verdict(StrEnum):
    """Whether something fits."""

    YES = "yes"
    WITH_CARE = "with care"
    CANNOT_TELL = "cannot tell"
    NO = "no"
    STOP = "stop"


_GRAVEST_FIRST = (
    (Weight.STOP, Verdict.STOP),
    (Weight.AGAINST, Verdict.NO),
    (Weight.UNKNOWN, Verdict.CANNOT_TELL),
    (Weight.CARE, Verdict.WITH_CARE),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A finding: ``code`` for programs, ``text`` one sentence for people, ``source`` whose word."""

    code: str
    text: str
    weight: Weight
    source: str


def verdict_of(findings: Iterable[Finding]) -> Verdict:
    """Return what findings come to: the gravest decides.

    >>> verdict_of([])
    <Verdict.YES: 'yes'>
    """
    weights = {finding.weight for finding in findings}
    return next((said for weight, said in _GRAVEST_FIRST if weight in weights), Verdict.YES)
