"""The bench sums: a list of them, and each as a small form that answers at an address."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from ullage.web.desk import render

router = APIRouter()


@router.get("/sums")
def show_sums(request: Request) -> Response:
    """Show all sums."""
    # Sums load numpy, and the first page must not wait for that.
    from ullage.web.sums_page import sums_page

    return render(request, "sums.html", sums_page())


@router.get("/sums/{name}")
def work_out(request: Request, name: str) -> Response:
    """Show a sum, worked out where the address brings values."""
    from ullage.web.sums_page import sum_page

    page = sum_page(name, request.query_params)
    return render(request, "sum.html", page, status=200 if page.typed.is_good else 422)
