"""What may be written down at a step of the exchange: the fields of its form, and what they mean.

Which fields stand in front follows from what the step does; the rest is folded behind them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ullage.circuit.network import Circuit
from ullage.jobs.carry_out import StepOnList
from ullage.jobs.event import Kind
from ullage.jobs.job import Job
from ullage.web.entry_lines import PLACES, STATES
from ullage.web.forms import Field, Typed

Facts = list[tuple[Kind, Mapping[str, Any]]]

#: What a step does, as its heading.
_DO: Mapping[str, str] = {
    "draw-off": "Draw off",
    "fill": "Fill",
    "top-up": "Fill up to the mark",
    "exchange": "Exchange",
    "circulate": "Circulate",
    "retract": "Lower",
    "extend": "Raise",
    "release": "Let the pressure go",
    "charge": "Pressure up",
    "bleed": "Bleed",
    "swap-filter": "Change the filter",
    "stand": "Wait",
}

SIDES = (("below", "below the mark"), ("above", "above the mark"))
_GRAMS = "On the kitchen scale, the can's weight taken off."

_POURED = Field("poured", "Poured from containers", "number", unit="l", low=0.0)
_OUT = Field("out", "Came out, by jug", "number", unit="l", low=0.0)
_OUT_GRAMS = Field("out_g", "or by scale, in grams", "number", low=0.0, hint=_GRAMS)
_TURN = Field(
    "turn",
    "Outflow turned at",
    "number",
    unit="l",
    low=0.0,
    hint="Litres of this step when it visibly changed over a white tray.",
)
LEVEL = Field("level", "Level, from the full mark", "number", unit="mm", low=-5000.0, high=5000.0)
SIDE = Field("side", "It stands", "choice", choices=SIDES)
STATE = Field("state", "Machine", "choice", choices=tuple(STATES.items()))
DEGC = Field("degc", "Temperature of the fluid", "number", unit="degc", low=-60.0, high=200.0)
_SAMPLE = Field("sample", "Name on the vial", "text", longest=40, hint="Empty: the next letter.")
_SAMPLE_AT = Field(
    "sample_at",
    "Drawn when so much of this step had run out",
    "number",
    unit="l",
    low=0.0,
    hint="Empty: at the end of the step.",
)
_NOTE = Field("note", "Note", "lines")
_BY = Field("by", "Who", "text", longest=40)

_FRONT: Mapping[str, tuple[Field, ...]] = {
    "draw-off": (_OUT, _OUT_GRAMS),
    "fill": (_POURED,),
    "top-up": (_POURED,),
    "exchange": (_POURED, _OUT, _OUT_GRAMS, _TURN),
    "bleed": (_OUT, _OUT_GRAMS, _POURED),
    "swap-filter": (_POURED, _OUT, _OUT_GRAMS),
}
_LEVEL_FIRST = ("fill", "top-up", "retract", "extend", "release", "charge")


def step_heading(table: Mapping[str, Any]) -> str:
    """Return what a step of a recipe does, in two or three words."""
    do = str(table["do"])
    leg = f" {table['leg']}" if table.get("leg") else ""
    return f"{_DO.get(do, do)}{leg}"


def front_fields(step: StepOnList) -> tuple[Field, ...]:
    """Return the fields that stand in front."""
    level = (LEVEL, SIDE) if step.do in _LEVEL_FIRST else ()
    return (*_FRONT.get(step.do, ()), *cycle_fields(step), *level)


def cycle_fields(step: StepOnList) -> tuple[Field, ...]:
    """Return a field for each group that the step moves."""
    return tuple(
        Field(
            f"cycles_{place}",
            f"Cycles made, {group}",
            "whole",
            low=0.0,
            high=1e4,
            hint=_foretold(step, group),
        )
        for place, group in enumerate(step.table.get("exercise", ()))
    )


def _foretold(step: StepOnList, group: str) -> str:
    """Return how many cycles the plan makes."""
    if step.expected is None:
        return ""
    cycles = step.expected.line.cycles
    count = next((n for name, n in cycles.items() if group in name.split(" + ")), None)
    return "" if count is None else f"{count} in the plan."


def more_fields(step: StepOnList, circuit: Circuit) -> tuple[Field, ...]:
    """Return the fields that are folded."""
    places = tuple(PLACES.items())
    bleeds = tuple(
        (f"leg:{leg.id}", f"bleed point of {leg.id}") for leg in circuit.legs if leg.bleed
    )
    where = Field("where", "Sample drawn from", "choice", choices=(*places, *bleeds))
    level = () if step.do in _LEVEL_FIRST else (LEVEL, SIDE)
    within = (_SAMPLE_AT,) if step.do in ("exchange", "bleed") else ()
    return (*level, STATE, DEGC, where, _SAMPLE, *within, _BY, _NOTE)


def facts_of(step: StepOnList, job: Job, typed: Typed) -> Facts:
    """Return what was typed at a step as facts of the job."""
    values = typed.values
    number = step.number
    facts: Facts = []
    degc = values.get("degc")
    if "poured" in values:
        facts.append((Kind.POURED, {"litres": values["poured"], "step": number}))
    what = "drawn-off" if step.do == "draw-off" else "waste"
    for key, field in (("litres", "out"), ("grams", "out_g")):
        if field in values:
            volume = {"what": what, "step": number, key: values[field], "at_degc": degc}
            facts.append((Kind.VOLUME, _there(volume)))
    if "turn" in values:
        facts.append((Kind.TURN, {"step": number, "at_l": values["turn"]}))
    for place, group in enumerate(step.table.get("exercise", ())):
        if f"cycles_{place}" in values:
            made = {"step": number, "group": group, "count": values[f"cycles_{place}"]}
            facts.append((Kind.CYCLES, made))
    if "level" in values:
        level = {
            "after_step": number,
            "mm": signed_mm(values),
            "state": values.get("state", usual_state(step)),
            "at_degc": degc,
        }
        facts.append((Kind.LEVEL, _there(level)))
    if degc is not None:
        facts.append((Kind.TEMPERATURE, {"degc": degc, "step": number}))
    if "where" in values:
        sample = {
            "name": values.get("sample") or next_name(job),
            "where": values["where"],
            "after_step": number,
            "at_step_l": values.get("sample_at"),
        }
        facts.append((Kind.SAMPLE, _there(sample)))
    if "note" in values:
        facts.append((Kind.NOTE, {"note": values["note"], "step": number}))
    who = values.get("by")
    return [(kind, {**payload, "by": who} if who else payload) for kind, payload in facts]


def signed_mm(values: Mapping[str, Any]) -> float:
    """Return a level with its sign: the side that was chosen, else as it was typed."""
    mm = float(values["level"])
    side = values.get("side")
    if side is None or mm < 0.0:
        return mm
    return mm if side == "above" else -mm


def usual_state(step: StepOnList) -> str:
    """Return what the machine stands in after a step."""
    return "charged" if step.expected is None else step.expected.state.value


def next_name(job: Job) -> str:
    """Return the next free letter for a vial; after Z the numbers follow."""
    taken = {str(event.payload["name"]) for event in job.of(Kind.SAMPLE)}
    letters = [chr(code) for code in range(ord("A"), ord("Z") + 1)]
    names: Sequence[str] = [*letters, *(str(n) for n in range(1, len(taken) + 2))]
    return next(name for name in names if name not in taken)


def _there(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keys that have a value."""
    return {key: value for key, value in values.items() if value is not None}
