"""A version of a circuit as it was: its page, its picture, and its file to be handed out."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fastapi import Request, Response
from fastapi.responses import JSONResponse

from ullage.drawing.circuit_svg import draw
from ullage.drawing.placed import Shape
from ullage.formats.circuit_toml import circuit_to_toml
from ullage.jobs.circuit_changes import changes
from ullage.jobs.ports import Desk
from ullage.jobs.save_circuit import numbered
from ullage.web.circuit_answer import Answer, answer_of
from ullage.web.desk import render
from ullage.web.drawn import drawings
from ullage.web.shown import Units, moment

_WIDE_PX, _UPRIGHT_PX = 960, 360
_PICTURE = {
    "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'",
    "cache-control": "private, max-age=86400, immutable",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitVersionPage:
    """An earlier version as it was: drawing, figures, and what differs from its neighbours."""

    title: str
    words: str
    saved: str
    circuit_url: str
    circuit: str
    from_url: str
    toml_url: str
    json_url: str
    since_before: tuple[str, ...]
    until_newest: tuple[str, ...]
    is_newest: bool
    answer: Answer


def drawing(request: Request, name: str, shape: str) -> Response:
    """Return the drawing of a circuit that a page has just shown."""
    circuit = drawings(request).circuit(name)
    width = _UPRIGHT_PX if shape == Shape.UPRIGHT else _WIDE_PX
    svg = draw(circuit, None, width=width, shape=Shape(shape))
    return Response(svg, media_type="image/svg+xml", headers=_PICTURE)


def file_of(desk: Desk, circuit_id: str, version: int | None, kind: str) -> Response:
    """Return a version as a circuit file, in TOML with comments or as JSON."""
    found = (
        desk.store.newest_circuit(circuit_id)
        if version is None
        else numbered(desk, circuit_id, version)
    )
    stem = re.sub(r"[^a-z0-9]+", "-", found.name.lower()).strip("-")[:40] or "circuit"
    headers = {
        "content-disposition": f'attachment; filename="{stem}-{found.number}.circuit.{kind}"',
        "x-content-type-options": "nosniff",
    }
    if kind == "json":
        return JSONResponse(dict(found.table), headers=headers)
    text = circuit_to_toml(found.table)
    return Response(text, media_type="application/toml; charset=utf-8", headers=headers)


def version_page(
    request: Request, desk: Desk, units: Units, circuit_id: str, number: int
) -> Response:
    """Return the page of a version."""
    found = numbered(desk, circuit_id, number)
    newest = desk.store.newest_circuit(circuit_id)
    before = numbered(desk, circuit_id, number - 1) if number > 1 else None
    circuit = desk.forms.circuit(found.table, found.name)
    file_url = f"/circuits/{circuit_id}/file?version={number}"
    page = CircuitVersionPage(
        title=found.name,
        words=f"Version {number}",
        saved=moment(found.saved_at),
        circuit_url=f"/circuits/{circuit_id}",
        circuit=newest.name,
        from_url=f"/circuits/{circuit_id}?from={number}",
        toml_url=file_url,
        json_url=f"{file_url}&as=json",
        since_before=() if before is None else changes(before.table, found.table),
        until_newest=changes(found.table, newest.table),
        is_newest=newest.number == number,
        answer=answer_of(request, circuit, found.table, units),
    )
    return render(request, "circuit_version.html", page)
