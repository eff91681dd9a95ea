"""Versions of a circuit with what each changed, and which unknown of the newest matters most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.errors import UllageError
from ullage.jobs.circuit_changes import changes
from ullage.jobs.log import load_job
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk
from ullage.web.forms import as_sentence
from ullage.web.shown import Units, band, moment, money, pct, span

# Changes that a line of the list tells; the version's own page tells all.
_TOLD = 3
_JOBS_LOOKED_AT = 20


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
    """The ranked table, or the sentence that says why there is none."""

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


def unknowns_of(
    desk: Desk, version: CircuitVersion, circuit: Circuit, units: Units
) -> UnknownTable:
    """Return which unknown of a circuit matters most, for the newest recipe of a job on it."""
    # The solver is loaded for those who ask, not for every page.
    from ullage.jobs.which_unknown import which_unknown

    recipe, title = None, ""
    for line in desk.store.job_lines(machine_id=version.machine_id, limit=_JOBS_LOOKED_AT):
        job = load_job(desk, line.job_id)
        if job.head.circuit_id == version.circuit_id and job.recipe_table is not None:
            recipe = desk.forms.recipe(job.recipe_table, "recipe")
            title = f"the recipe of the job {job.head.title}"
            break
    try:
        found = which_unknown(circuit, recipe)
    except UllageError as error:
        return UnknownTable(sentence=as_sentence(str(error)), lines=())
    remains = band(100.0 * found.remaining_share, 100.0 * found.low_share, 100.0 * found.high_share)
    what = title or f"a usual exchange ({found.recipe})"
    sentence = (
        f"After {what}, {remains} of the fluid is still old in nine of ten of "
        f"{found.members} simulated machines. "
    )
    if found.unknowns:
        sentence += "What makes that band wide, the weightiest first:"
    else:
        sentence += "No single unknown makes that band noticeably wider."
    return UnknownTable(
        sentence=sentence,
        lines=tuple(
            UnknownLine(
                name=one.measure.name,
                explains=pct(100.0 * one.measure.explains),
                then=f"{100.0 * one.measure.sure_now:.1f} \N{RIGHTWARDS ARROW} "
                f"{100.0 * one.measure.sure_then:.1f}",
                how=as_sentence(one.measure.how),
                takes=span(one.measure.duration_s),
                cost=money(one.cost, units),
            )
            for one in found.unknowns
        ),
    )
