"""The page of a circuit: the table is the editor, the drawing and the figures answer.

Everything works by sending the form: to check and draw, to add, move or take away a part, to save.
With a script the browser sends the same form to ``/circuits/preview`` while somebody types. The
routes only know where to send whom: circuits load numpy, and the first page must not wait for it.
"""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response

from ullage.web.circuit_sent import Form
from ullage.web.desk import Here, InUnits

router = APIRouter()


@router.get("/circuits/{circuit_id}")
def show_circuit(
    request: Request,
    desk: Here,
    units: InUnits,
    circuit_id: str,
    start: Annotated[int | None, Query(alias="from", ge=1)] = None,
) -> Response:
    """Show a circuit; ``from`` fills the form with an earlier version."""
    from ullage.web.circuit_editor import circuit_page

    return circuit_page(request, desk, units, circuit_id, start)


@router.post("/circuits/preview")
def preview(request: Request, desk: Here, units: InUnits, form: Form) -> Response:
    """Answer what is typed at this moment: faults, or drawing and figures. Nothing is kept."""
    from ullage.web.circuit_editor import previewed

    return previewed(request, desk, units, form)


@router.post("/circuits/{circuit_id}")
def edit_circuit(
    request: Request, desk: Here, units: InUnits, circuit_id: str, form: Form
) -> Response:
    """Check, change or save a circuit by the button that was pressed."""
    from ullage.web.circuit_editor import edit

    return edit(request, desk, units, circuit_id, form)


@router.post("/circuits/{circuit_id}/unknown")
def rank_unknowns(request: Request, desk: Here, circuit_id: str) -> Response:
    """Have it worked out which unknown of a circuit matters most."""
    from ullage.web.circuit_history import begin_ranking

    return begin_ranking(request, desk, circuit_id)


@router.get("/circuits/drawn/{name}/{shape}.svg")
def picture(request: Request, name: str, shape: Literal["wide", "upright"]) -> Response:
    """Return the drawing of a circuit that a page has just shown."""
    from ullage.web.circuit_version import drawing

    return drawing(request, name, shape)


@router.get("/circuits/{circuit_id}/file")
def hand_out(
    desk: Here,
    circuit_id: str,
    version: Annotated[int | None, Query(ge=1)] = None,
    kind: Annotated[Literal["toml", "json"], Query(alias="as")] = "toml",
) -> Response:
    """Hand out a version as a circuit file, in TOML with comments or as JSON."""
    from ullage.web.circuit_version import file_of

    return file_of(desk, circuit_id, version, kind)


@router.get("/circuits/{circuit_id}/versions/{number}")
def show_version(
    request: Request, desk: Here, units: InUnits, circuit_id: str, number: int
) -> Response:
    """Show a version as it was saved."""
    from ullage.web.circuit_version import version_page

    return version_page(request, desk, units, circuit_id, number)


@router.get("/machines/{machine_id}/circuits/new")
def start_circuit(
    request: Request,
    desk: Here,
    units: InUnits,
    machine_id: str,
    start: Annotated[str, Query(max_length=120)] = "",
) -> Response:
    """Ask what to start from, or show the editor with it."""
    from ullage.web.circuit_start import start_page

    return start_page(request, desk, units, machine_id, start)


@router.post("/machines/{machine_id}/circuits/new")
def edit_new_circuit(
    request: Request, desk: Here, units: InUnits, machine_id: str, form: Form
) -> Response:
    """Take a file in, or do with the form what the pressed button says."""
    from ullage.web.circuit_start import edit_new

    return edit_new(request, desk, units, machine_id, form)
