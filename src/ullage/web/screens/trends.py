"""The trends of a machine: what each job left and each sample said, over time and over counters."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, HTTPException, Request, Response

from ullage.web.desk import Here, InUnits, render

router = APIRouter()


@router.get("/machines/{machine_id}/trends")
def show_trends(request: Request, desk: Here, units: InUnits, machine_id: str) -> Response:
    """Show the trends of a machine."""
    # Limits load the solver, and the first page must not wait for that.
    from ullage.web.trends_page import trends_page

    return render(request, "trends.html", trends_page(desk, units, machine_id))


@router.get("/machines/{machine_id}/trends/{circuit_id}/{what}/{over}/{shape}.svg")
def picture(
    desk: Here,
    units: InUnits,
    machine_id: str,
    circuit_id: str,
    what: str,
    over: str,
    shape: Literal["wide", "upright"],
) -> Response:
    """Return one chart."""
    from ullage.jobs.trends import What
    from ullage.web.trend_charts import Over
    from ullage.web.trends_page import trend_image

    if what not in list(What) or over not in list(Over):
        raise HTTPException(404)
    text = trend_image(
        desk,
        units,
        machine_id,
        circuit_id,
        What(what),
        Over(over),
        is_upright=shape == "upright",
    )
    return Response(
        text,
        media_type="image/svg+xml",
        headers={"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"},
    )
