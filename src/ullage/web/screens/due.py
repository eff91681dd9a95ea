"""What is due: overdue exchanges first, then by day; each with what it counts and its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from ullage.jobs.due_list import Count, Due, Mark, Pace, When, due_list
from ullage.units.convert import HOUR_S
from ullage.web.desk import Here, InUnits, render
from ullage.web.forms import as_sentence
from ullage.web.shown import NBSP, Units, amount_si, day, figure

router = APIRouter()

ON_A_PAGE = 100
_HEADINGS = {
    When.OVERDUE: "Overdue",
    When.TO_COME: "To come",
    When.UNKNOWN: "Nobody can tell when",
    When.NEVER: "Never served",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """A circuit on one line: when its exchange is due, why, and what else it is due by."""

    url: str
    name: str
    when: str
    others: tuple[str, ...]
    reason: str
    in_hand: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DueGroup:
    """Lines that stand alike in time."""

    heading: str
    lines: tuple[DueLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DuePage:
    """Some of what is due, where it stands in the whole, and the ways to the rest."""

    groups: tuple[DueGroup, ...]
    search: str
    told: str
    earlier_url: str
    later_url: str


@router.get("/due")
def show_due(
    request: Request,
    desk: Here,
    units: InUnits,
    q: Annotated[str, Query(max_length=80)] = "",
    page: Annotated[int, Query(ge=1, le=1_000_000)] = 1,
) -> Response:
    """Show what is due."""
    search = q.strip()
    found = due_list(desk, search=search)
    pages = max(1, -(-len(found) // ON_A_PAGE))
    page = min(page, pages)
    shown = found[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
    return render(
        request,
        "due.html",
        DuePage(
            groups=tuple(
                DueGroup(heading=heading, lines=lines)
                for when, heading in _HEADINGS.items()
                if (lines := tuple(_line(due, units) for due in shown if due.when is when))
            ),
            search=search,
            told=_told(found, page, pages, search),
            earlier_url=_url(search, page - 1) if page > 1 else "",
            later_url=_url(search, page + 1) if page < pages else "",
        ),
    )


def _line(due: Due, units: Units) -> DueLine:
    served = due.served
    alone = served.is_only_circuit
    return DueLine(
        url=f"/jobs/{served.open_job_id}"
        if served.open_job_id
        else f"/machines/{served.machine.id}",
        name=served.machine.name if alone else f"{served.machine.name}: {served.circuit}",
        when=_when(due, units),
        others=tuple(f"Also {mark_told(mark, units)}." for mark in due.others),
        reason=as_sentence(due.reason) if due.reason else "",
        in_hand=served.open_job_id is not None,
    )


def _when(due: Due, units: Units) -> str:
    """Say when an exchange is due."""
    if due.when is When.NEVER:
        if not due.served.circuit_id:
            return "It has no circuit yet."
        return "No job on it was filed yet: what is in it, and since when, nobody wrote down."
    if due.first is None:
        return "No date is kept."
    return as_sentence(mark_told(due.first, units, is_over=due.when is When.OVERDUE))


def mark_told(mark: Mark, units: Units, *, is_over: bool = False) -> str:
    """Say what an exchange is due by, and how that is known."""
    if mark.on is not None and mark.count is Count.DAY:
        return f"{'was ' if is_over or mark.is_passed else ''}due by {day(mark.on)}"
    at = f"due at {counter_told(mark.at, mark.count, units)}"
    if mark.read_at is None:
        return f"{at}; nobody read its counter yet"
    seen = f"it showed {counter_told(mark.shown, mark.count, units)} on {day(mark.read_at)}"
    if mark.is_passed:
        return f"was {at}: {seen}"
    if mark.pace is None:
        return f"{at}; {seen}, and one reading makes no pace"
    if mark.on is None:
        return f"{at}; {seen}, and it hardly moves"
    pace = _pace(mark.pace, mark.count, units)
    if is_over:
        return (
            f"{at}, which it reached about {day(mark.on)} if it went on at {pace}: read its "
            f"counter; {seen}"
        )
    return f"{at}, about {day(mark.on)} at {pace}; {seen}"


def _pace(pace: Pace, count: Count, units: Units) -> str:
    if count is Count.DISTANCE:
        return f"{amount_si(pace.per_day, 'km', units)} a day"
    return f"{figure(pace.per_day / HOUR_S)}{NBSP}h a day"


def counter_told(value: float | None, count: Count, units: Units) -> str:
    """Return what a counter shows, in the person's units."""
    if value is None:
        return "an unknown count"
    if count is Count.DISTANCE:
        return amount_si(value, "km", units, digits=0)
    return f"{figure(value / HOUR_S, 0)}{NBSP}h"


def _told(found: Sequence[Due], page: int, pages: int, search: str) -> str:
    """Say what is overdue, and which part of the list stands here."""
    if not found:
        return (
            f"No machine has \u201c{search}\u201d in its name or marks."
            if search
            else "No machine is here yet."
        )
    over = sum(due.when is When.OVERDUE for due in found)
    many = (
        "No exchange is overdue"
        if over == 0
        else "One exchange is overdue"
        if over == 1
        else f"{over} exchanges are overdue"
    )
    within = f" among machines with \u201c{search}\u201d" if search else ""
    return f"{many}{within}." + ("" if pages == 1 else f" Page {page} of {pages}.")


def _url(search: str, page: int) -> str:
    """Return the address of a page of the list."""
    asked = {**({"q": search} if search else {}), **({"page": str(page)} if page > 1 else {})}
    return f"/due?{urlencode(asked)}" if asked else "/due"
