"""Pictures of a plan: the circuit at each moment, and methods beside each other.

All follow from an answer that is kept and so never change. They are made when a browser asks for
them, and remembered by what they were made of.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from fastapi import APIRouter, Query, Request, Response

from ullage.drawing.circuit_svg import draw
from ullage.drawing.figures import Spread
from ullage.drawing.measures import LAPTOP_PX, PHONE_PX
from ullage.drawing.methods_svg import MethodBar, methods_picture
from ullage.drawing.placed import Shape
from ullage.errors import NotFound
from ullage.jobs.answer import Answer, Of
from ullage.jobs.plan_moments import PlanMoment, moments_of, recipe_at
from ullage.jobs.ports import Desk
from ullage.transport.result import Run
from ullage.transport.solve import simulate
from ullage.web.desk import Here, InUnits
from ullage.web.shown import Units, amount_si, span
from ullage.wiring import FileForms

router = APIRouter()

#: Machines that a picture's bands are drawn from.
MACHINES = 200
OWN_LABEL = "This plan"
_MINUTE_S = 60.0


def plan_of(desk: Desk, job_id: str, answer_id: str) -> Answer:
    """Return a plan of a job, or say that there is none of that name."""
    answer = desk.store.answer(answer_id)
    if answer.job_id != job_id or answer.of is not Of.PLAN:
        raise NotFound("plan", answer_id)
    return answer


def moments_shown(answer: Answer, units: Units) -> tuple[str, ...]:
    """Return the moments of a plan in words, the first as found."""
    recipe = FileForms().recipe(answer.body["recipe"], "recipe")
    return tuple(
        _moment_text(moment, str(answer.body["recipe"]["step"][moment.after_step - 1]["do"]), units)
        for moment in moments_of(recipe)
    )


_DONE = {
    "draw-off": "drawn off",
    "fill": "filled",
    "top-up": "filled up to the mark",
    "exchange": "exchanged",
    "circulate": "circulated",
    "retract": "everything lowered",
    "extend": "everything raised",
    "release": "pressure let go",
    "charge": "pressure up",
    "bleed": "bled",
    "swap-filter": "filter changed",
    "stand": "waited",
}


def _moment_text(moment: PlanMoment, do: str, units: Units) -> str:
    if not moment.is_between_steps:
        litres = amount_si(moment.into_m3, "l", units)
        return f"in step {moment.after_step + 1}, {litres} to waste"
    if moment.after_step == 0:
        return "as found"
    return f"after step {moment.after_step}: {_DONE.get(do, do)}"


@lru_cache(maxsize=64)
def _run(circuit: str, recipe: str, number: int, seed: int) -> Run:
    """Return a recipe as far as a moment; what goes in is JSON, to be remembered by."""
    forms = FileForms()
    whole = forms.recipe(json.loads(recipe), "recipe")
    part = recipe_at(whole, moments_of(whole)[number])
    value = forms.circuit(json.loads(circuit), "circuit")
    return simulate(value, part, members=MACHINES, seed=seed, bracket=False)


@lru_cache(maxsize=256)
def _drawn(circuit: str, recipe: str, number: int, seed: int, title: str, upright: bool) -> str:
    return draw(
        FileForms().circuit(json.loads(circuit), "circuit"),
        _run(circuit, recipe, number, seed),
        width=PHONE_PX if upright else LAPTOP_PX,
        shape=Shape.UPRIGHT if upright else Shape.WIDE,
        title=title,
    )


def circuit_at(answer: Answer, number: int, units: Units, *, upright: bool) -> str:
    """Return the circuit at a moment of a plan, every part in the colour of what is old in it."""
    words = moments_shown(answer, units)
    if not 0 <= number < len(words):
        raise NotFound("moment", str(number))
    circuit = json.dumps(answer.inputs["circuit"], sort_keys=True)
    recipe = json.dumps(answer.body["recipe"], sort_keys=True)
    title = f"{words[number][:1].upper()}{words[number][1:]}"
    return _drawn(circuit, recipe, number, answer.seed, title, upright)


def methods_chart(body: Mapping[str, Any], units: Units, *, upright: bool) -> str:
    """Return the plan and the usual methods that this circuit can do, beside each other."""
    own = {**body, "name": OWN_LABEL}
    bars = [_bar(one, units) for one in (own, *body["methods"]) if one["expected"] is not None]
    return methods_picture(bars, target_share=body["target_pct"] / 100.0, upright=upright)


def _bar(one: Mapping[str, Any], units: Units) -> MethodBar:
    """Return one method of a plan's table."""
    low, middle, high = (one["expected"][key] / 100.0 for key in ("p05", "p50", "p95"))
    count = one["containers"]
    return MethodBar(
        name=one["name"],
        left=Spread(low=low, middle=middle, high=high, is_one=False),
        needs=f"{count} {'container' if count == 1 else 'containers'}, "
        f"{span(one['minutes'] * _MINUTE_S)}",
    )


@router.get("/jobs/{job_id}/plan/circuit.svg")
def circuit_picture(
    request: Request,
    desk: Here,
    units: InUnits,
    job_id: str,
    of: str,
    moment: int = Query(ge=0),
    shape: Shape = Shape.WIDE,
) -> Response:
    """Return the circuit at a moment of the plan ``of``."""
    answer = plan_of(desk, job_id, of)
    return _svg(circuit_at(answer, moment, units, upright=shape is Shape.UPRIGHT))


@router.get("/jobs/{job_id}/plan/methods.svg")
def methods_picture_of(
    desk: Here, units: InUnits, job_id: str, of: str, shape: Shape = Shape.WIDE
) -> Response:
    """Return the methods of the plan ``of`` beside each other."""
    answer = plan_of(desk, job_id, of)
    return _svg(methods_chart(answer.body, units, upright=shape is Shape.UPRIGHT))


def _svg(text: str) -> Response:
    """Return a picture that changes with nothing but the units of the reader."""
    return Response(
        text,
        media_type="image/svg+xml",
        headers={
            "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'",
            "cache-control": "private, max-age=3600",
        },
    )
