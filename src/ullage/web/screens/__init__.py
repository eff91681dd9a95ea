"""The screens of the app: one module each, and the list of their routes.

A new screen adds a line to ``ROUTERS``; one that stands at the head of every page also adds a line
to ``PLACES`` in ``web.desk``. Screens must not load the solver: the first page would wait for it.
"""

from __future__ import annotations

from fastapi import APIRouter

from ullage.web.screens import (
    circuit,
    due,
    job,
    jobs,
    machine,
    pair,
    photos,
    record_page,
    settings,
    sheet_page,
    shelf,
    sums,
    trends,
    work,
)

ROUTERS: tuple[APIRouter, ...] = (
    jobs.router,
    machine.router,
    job.router,
    circuit.router,
    due.router,
    pair.router,
    photos.router,
    record_page.router,
    settings.router,
    sheet_page.router,
    shelf.router,
    sums.router,
    trends.router,
    work.router,
)
