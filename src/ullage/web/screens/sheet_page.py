"""The job sheet on one page that prints: each line with room for a value and initials."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response

from ullage.jobs.log import load_job
from ullage.web.desk import Here, render
from ullage.web.forms import as_sentence
from ullage.web.shown import day, span

router = APIRouter()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One line of the sheet: what to do, what is right, how long it takes, and its cautions."""

    number: str
    sentence: str
    accept: str
    took: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPage:
    """The whole sheet, before, during and after."""

    title: str
    machine: str
    marks: str
    circuit: str
    printed: str
    back_url: str
    parts: tuple[tuple[str, tuple[SheetLine, ...]], ...]
    waste: str


@router.get("/jobs/{job_id}/sheet")
def show_sheet(request: Request, desk: Here, job_id: str) -> Response:
    """Show the sheet of the recipe that was chosen."""
    from ullage.jobs.prepare import preparation

    job = load_job(desk, job_id)
    ready = preparation(desk, job)
    machine = desk.store.machine(job.head.machine_id)
    seen: set[str] = set()
    page = SheetPage(
        title=job.head.title,
        machine=machine.name,
        marks=machine.marks,
        circuit=desk.store.circuit_version(job.head.circuit_version_id).name,
        printed=day(desk.now()),
        back_url=f"/jobs/{job_id}#prepare",
        parts=tuple(
            (
                heading,
                tuple(_line(line, seen) for line in ready.sheet if line["stage"] == stage),
            )
            for stage, heading in (
                ("before", "Before"),
                ("exchange", "Exchange"),
                ("after", "After"),
            )
        ),
        waste=as_sentence(str(ready.waste["label"])),
    )
    return render(request, "sheet.html", page)


def _line(line: Mapping[str, Any], seen: set[str]) -> SheetLine:
    """Return a line; a caution stands where it is first needed."""
    new = tuple(text for text in line["cautions"] if text not in seen)
    seen.update(new)
    return SheetLine(
        number="" if line["step"] is None else str(line["step"]),
        sentence=line["sentence"],
        accept=line["accept"],
        took="" if line["seconds"] is None else span(line["seconds"]),
        cautions=new,
    )
