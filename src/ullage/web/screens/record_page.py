"""The record of a job on one page, and the label for its reservoir: both made to be printed."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from ullage.web.desk import Here, render

router = APIRouter()


@router.get("/jobs/{job_id}/record")
def show_record(request: Request, desk: Here, job_id: str) -> Response:
    """Show the record of a job."""
    # It loads the solver, and the first page must not wait for that.
    from ullage.web.record_sheet import record_sheet

    return render(request, "record.html", record_sheet(desk, job_id))


@router.get("/jobs/{job_id}/label")
def show_label(request: Request, desk: Here, job_id: str) -> Response:
    """Show the label of a job."""
    from ullage.web.record_sheet import label_sheet

    return render(request, "label.html", label_sheet(desk, job_id))
