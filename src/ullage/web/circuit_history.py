"""Versions of a circuit with what each changed, and which unknown of the newest matters most."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from threading import Lock
from typing import Any

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from ullage.errors import NotFound
from ullage.jobs.answer import fingerprint_of
from ullage.jobs.circuit_changes import changes
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk
from ullage.web.addresses import work_url
from ullage.web.forms import as_sentence
from ullage.web.shown import Units, band, moment, money, pct, span
from ullage.web.work import State, Work

# Changes that a line of the list tells; the version's own page tells all.
_TOLD = 3
#: Rankings that are kept: one for each circuit that somebody looks at.
KEPT = 200
# So long the page itself waits before it shows how far the work is.
_QUICK_S = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionLine:
    """One version: where it can be read, when it was saved, and what it changed."""

    url: str
    words: str
    saved: str
    changed: tuple[str, ...]
    rest: str
    is_newest: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownLine:
    """One unknown: what it makes of the spread, how to know it better, and what that costs."""

    name: str
    explains: str
    then: str
    how: str
    takes: str
    cost: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownTable:
    """The ranked table, under the sentence that says of what."""

    sentence: str
    lines: tuple[UnknownLine, ...]


def versions_of(desk: Desk, circuit_id: str) -> tuple[VersionLine, ...]:
    """Return every version of a circuit, the newest first, each with what it changed."""
    found = desk.store.circuit_versions(circuit_id)
    return tuple(_version(found, place) for place in range(len(found)))


def _version(found: Sequence[CircuitVersion], place: int) -> VersionLine:
    """Return one version, compared with the one before it."""
    version = found[place]
    before = found[place + 1] if place + 1 < len(found) else None
    told = ("first version",) if before is None else changes(before.table, version.table)
    more = len(told) - _TOLD
    return VersionLine(
        url=f"/circuits/{version.circuit_id}/versions/{version.number}",
        words=f"Version {version.number}",
        saved=moment(version.saved_at),
        changed=told[:_TOLD],
        rest=f"and {more} more" if more > 0 else "",
        is_newest=place == 0,
    )


class Rankings:
    """What was worked out about unknowns since the app began, by the name of the piece of work."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Mapping[str, Any]] = OrderedDict()
        self._lock = Lock()

    def keep(self, name: str, table: Mapping[str, Any]) -> None:
        """Keep a ranking; the oldest makes room."""
        with self._lock:
            self._kept[name] = table
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)

    def get(self, name: str) -> Mapping[str, Any] | None:
        """Return a ranking, None where there is none."""
        with self._lock:
            return self._kept.get(name)


def rankings(request: Request) -> Rankings:
    """Return the rankings of the app that was asked."""
    state = request.app.state
    if not hasattr(state, "rankings"):
        state.rankings = Rankings()
    found: Rankings = state.rankings
    return found


def piece_of(version: CircuitVersion) -> str:
    """Return the name of the work on the unknowns of a version, at the newest recipe for it."""
    return f"unknown-{version.id}"


def unknown_table(found: Mapping[str, Any], units: Units) -> UnknownTable:
    """Return a ranking as the page shows it."""
    remaining = found["remaining_pct"]
    remains = band(remaining["p50"], remaining["p05"], remaining["p95"])
    job = found["job"]
    what = f"the recipe of the job {job}" if job else f"a usual exchange ({found['recipe']})"
    sentence = (
        f"After {what}, {remains} of the fluid is still old in nine of ten of "
        f"{found['members']} simulated machines. "
    )
    if found["unknowns"]:
        sentence += "What makes that band wide, the weightiest first:"
    else:
        sentence += "No single unknown makes that band noticeably wider."
    return UnknownTable(
        sentence=sentence,
        lines=tuple(
            UnknownLine(
                name=one["name"],
                explains=pct(one["explains_pct"]),
                then=_then(one["sure_now_pct"], one["sure_then_pct"]),
                how=as_sentence(one["how"]),
                takes=span(one["duration_s"]),
                cost=money(one["cost"], units),
            )
            for one in found["unknowns"]
        ),
    )


def _then(now_pct: float, then_pct: float) -> str:
    """Return the remainder that nineteen of twenty machines stay below, before and after."""
    now, then = pct(now_pct), pct(then_pct)
    return f"{now} either way" if now == then else f"{now} now, {then} once it is known"


def begin_ranking(request: Request, desk: Desk, circuit_id: str) -> Response:
    """Have the unknowns of a circuit ranked, and go to where that can be seen."""
    from ullage.jobs.which_unknown import unknown_inputs

    version = desk.store.newest_circuit(circuit_id)
    inputs = unknown_inputs(desk, version)
    work: Work = request.app.state.work
    # The same question again is the same piece, so it is worked out once; what failed is new.
    name = f"{piece_of(version)}-{fingerprint_of(inputs)[:12]}"
    with suppress(NotFound):
        if work.piece(name).state in (State.FAILED, State.CANCELLED):
            name = f"{name}-{desk.new_id()}"

    def then(body: Mapping[str, Any]) -> None:
        rankings(request).keep(piece_of(version), body)

    url = f"/circuits/{circuit_id}#unknown"
    work.begin(name, "unknown", inputs, title=f"Unknowns of {version.name}", url=url, then=then)
    piece = work.wait(name, timeout_s=_QUICK_S)
    if piece.state is State.DONE and rankings(request).get(piece_of(version)) is not None:
        return RedirectResponse(url, status_code=303)
    return RedirectResponse(work_url(piece), status_code=303)
