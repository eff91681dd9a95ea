"""How a section answers a form: do it and go back, or show the form again with what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from fastapi import Request, Response

from ullage.errors import OutOfRange, UllageError
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage
from ullage.web.forms import Typed
from ullage.web.job_page import back_to, job_page

#: Fields of pages that bear another name than the key that a use case finds fault with.
FIELD_OF: Mapping[str, str] = {
    "sample.name": "sample",
    "sample.where": "where",
    "volume.litres": "out",
    "volume.grams": "out_g",
    "poured.litres": "poured",
    "level.mm": "level",
    "flow.litres": "flow",
    "temperature.degc": "degc",
}


def answered(
    request: Request,
    desk: Desk,
    job_id: str,
    stage: Stage,
    typed: Typed,
    act: Callable[[Typed], None],
) -> Response:
    """Do what a form asks and go back to its section; on a fault show the form again."""
    if typed.is_good:
        try:
            act(typed)
        except UllageError as error:
            typed = _with_error(typed, error)
        else:
            return back_to(job_id, stage)
    return job_page(request, desk, job_id, typed={stage: typed}, status=422)


def _with_error(typed: Typed, error: UllageError) -> Typed:
    """Return a form with an error beside the field that it is about."""
    if isinstance(error, OutOfRange) and FIELD_OF.get(error.name) in typed.texts:
        name = FIELD_OF[error.name]
        error = OutOfRange(name, error.value, error.allowed, error.advice)
    # A form that was refused kept nothing, so it may keep its name.
    return replace(typed.with_error(error), uid=typed.uid)
