"""The exchange on the page of a job: one step in hand, open and large; the others one line each.

Each step shows what it should show before anybody does it, then takes what was done and read.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fastapi import APIRouter, Request, Response

from ullage.errors import NotFound
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import (
    Checklist,
    Entry,
    StepOnList,
    begin,
    carried_out,
    checklist,
    finish_exchange,
    leave_out,
    write_down,
)
from ullage.jobs.event import Kind
from ullage.jobs.forecast import Expected, Outlook
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage, StageState, StepState
from ullage.web.desk import Filled, Here, InUnits
from ullage.web.entry_lines import EntryLine, band_text, check_text, entry_line, levels_text
from ullage.web.forecasts import FORECASTS
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.sections.answering import answered
from ullage.web.sections.step_forms import (
    Facts,
    facts_of,
    front_fields,
    more_fields,
    step_heading,
    usual_state,
)
from ullage.web.shown import Units, span, units_of

router = APIRouter()

_REASON = Field("reason", "Why is it left out?", "text", required=True, longest=200)
_FLOW = (
    Field("flow", "Ran into a container at the diverter", "number", unit="l", low=0.0),
    Field("seconds", "in", "number", unit="s", low=0.0),
)
_TRAVEL_PCT = Field("pct", "of its stroke", "number", unit="pct", low=0.0, high=100.0)
_STEP = "step_number"


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """A figure of a step before it is done: what it is of, and its band."""

    label: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepShown:
    """A step as the page shows it.

    ``line`` is all of it in one line. The fields of its form stand in front or folded; ``form`` has
    what was typed."""

    number: int
    heading: str
    sentence: str
    state: str
    line: str
    is_done: bool
    is_in_hand: bool
    is_under_way: bool
    is_left_out: bool
    state_uid: str
    accept: str
    cautions: tuple[str, ...]
    foretold: tuple[Foretold, ...]
    entries: tuple[EntryLine, ...]
    front: tuple[Field, ...]
    more: tuple[Field, ...]
    form: Typed
    is_more_open: bool
    leave_form: Typed | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangeSection:
    """The stage: its steps, what is wrong with the plan, and what is measured of the machine.

    ``live_url`` is the address of the live page, empty where there is none."""

    job_id: str
    live_url: str
    no_recipe: str
    no_forecast: str
    doubt: str
    distrust: tuple[str, ...]
    steps: tuple[StepShown, ...]
    leave_fields: tuple[Field, ...]
    machine_entries: tuple[EntryLine, ...]
    machine_fields: tuple[Field, ...]
    machine_form: Typed | None
    is_machine_open: bool
    can_finish: bool
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> ExchangeSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    now = checklist(desk, job, FORECASTS)
    machine_fields = _machine_fields(now)
    of_machine = _mine(machine_fields, typed)
    number = None if typed is None else typed.values.get(_STEP)
    outlook = now.outlook
    return ExchangeSection(
        job_id=job.head.id,
        live_url="",
        no_recipe="" if now.steps else "No recipe was chosen yet: choose one in the plan.",
        no_forecast=outlook.why_not if now.steps else "",
        doubt=found_circuit(desk, job).doubt,
        distrust=distrust(outlook, units),
        steps=tuple(
            _step_shown(step, now, units, typed if number == step.number else None)
            for step in now.steps
        ),
        leave_fields=(_REASON,),
        machine_entries=tuple(entry_line(e.event, e.check, units) for e in now.of_machine),
        machine_fields=machine_fields,
        machine_form=of_machine,
        is_machine_open=of_machine is not None,
        can_finish=bool(now.steps) and now.in_hand is None,
        is_finished=job.state_of(Stage.EXCHANGE) is StageState.FINISHED,
        finish_form=typed if typed is not None and not typed.texts else None,
    )


def distrust(outlook: Outlook, units: Units) -> tuple[str, ...]:
    """Return why the plan is no longer to be trusted; nothing while it is."""
    if outlook.is_to_be_trusted:
        return ()
    misses = outlook.misses
    worst = misses[0]
    return (
        f"{_NUMBERS.get(len(misses), str(len(misses)))} readings lie outside what was expected: "
        "stop trusting the plan.",
        f"Furthest out is {worst.words}: {check_text(worst, units)}. Read it once more before "
        "anything else; if it stands, look for what is different about this machine.",
    )


_NUMBERS = {3: "Three", 4: "Four", 5: "Five", 6: "Six"}


def _mine(fields: tuple[Field, ...], typed: Typed | None) -> Typed | None:
    """Return what was typed if it was typed into these fields."""
    if typed is None:
        return None
    return typed if any(field.name in typed.texts for field in fields) else None


def _step_shown(step: StepOnList, now: Checklist, units: Units, typed: Typed | None) -> StepShown:
    """Return one step."""
    is_leaving = typed is not None and _REASON.name in typed.texts
    front, more = front_fields(step), more_fields(step, now.circuit)
    blank = filled((*front, *more), {"state": usual_state(step), "side": "below"}, units)
    form = typed if typed is not None and not is_leaving else blank
    usual = {"state", "side"}
    texts = {name: text for name, text in form.texts.items() if text and name not in usual}
    folded = {field.name for field in more}
    is_done = step.state in (StepState.CARRIED_OUT, StepState.LEFT_OUT)
    expected = step.expected
    return StepShown(
        number=step.number,
        heading=step_heading(step.table),
        sentence=_planned(step) if expected is None else expected.line.sentence,
        state=step.state.value,
        line=step_line(step, units),
        is_done=is_done,
        is_in_hand=now.in_hand == step.number,
        is_under_way=step.state is StepState.UNDER_WAY,
        is_left_out=step.state is StepState.LEFT_OUT,
        state_uid=step.state_uid,
        accept="" if expected is None else expected.line.accept,
        cautions=() if expected is None else tuple(text for _, text in expected.line.cautions),
        foretold=() if expected is None else tuple(foretold(expected, units)),
        entries=tuple(_line_of(entry, units) for entry in step.entries),
        front=front,
        more=more,
        form=form,
        is_more_open=bool(folded & (set(texts) | set(form.faults))),
        leave_form=typed if is_leaving else None,
    )


def _line_of(entry: Entry, units: Units) -> EntryLine:
    return entry_line(entry.event, entry.check, units)


def _planned(step: StepOnList) -> str:
    """Return a step in words where no forecast says them."""
    words = [step_heading(step.table)]
    for key, unit in (("litres", "L"), ("to_l", "L in the reservoir"), ("minutes", "min")):
        if key in step.table:
            words.append(f"{step.table[key]} {unit}")
    return f"{', '.join(words)}."


def foretold(expected: Expected, units: Units) -> list[Foretold]:
    """Return the figures of a step before it is done."""
    found = []
    if expected.turn_m3 is not None:
        found.append(
            Foretold(label="outflow turns at", text=band_text(expected.turn_m3, "l", units))
        )
    if expected.waste_m3.high > 1e-5:
        found.append(Foretold(label="comes out", text=band_text(expected.waste_m3, "l", units)))
    if expected.poured_m3.high > 1e-5:
        found.append(Foretold(label="to pour", text=band_text(expected.poured_m3, "l", units)))
    if expected.level_m is not None:
        low, high = expected.level_m.low, expected.level_m.high
        found.append(Foretold(label="level after", text=levels_text(1e3 * low, 1e3 * high)))
    else:
        found.append(
            Foretold(label="in the reservoir after", text=band_text(expected.level_m3, "l", units))
        )
    if expected.line.duration_s:
        found.append(Foretold(label="pump runs", text=span(expected.line.duration_s)))
    return found


def step_line(step: StepOnList, units: Units) -> str:
    """Return a step in one line: what it gave once it is done, else what it is about."""
    if step.state is StepState.LEFT_OUT:
        return f"left out: {step.reason}"
    if step.state is not StepState.CARRIED_OUT:
        expected = step.expected
        if expected is None or expected.waste_m3.high + expected.poured_m3.high < 1e-5:
            return ""
        if expected.waste_m3.high > 1e-5:
            return f"{band_text(expected.waste_m3, 'l', units)} to come out"
        return f"{band_text(expected.poured_m3, 'l', units)} to pour"
    told = [
        entry_line(entry.event, entry.check, units)
        for entry in step.entries
        if entry.event.kind
        in (Kind.VOLUME, Kind.POURED, Kind.LEVEL, Kind.TURN, Kind.SAMPLE, Kind.CYCLES)
    ]
    words = [
        f"{line.text} ({line.check.split(' (')[0]})" if line.is_outside else line.text
        for line in told
    ]
    return "; ".join(words) if words else "nothing written down"


def _machine_fields(now: Checklist) -> tuple[Field, ...]:
    """Return the fields of what is measured of the machine."""
    legs = tuple((leg.id, leg.id) for leg in now.circuit.legs if leg.stroke_m3.best > 0.0)
    flow = _FLOW if any(path.divert_after for path in now.circuit.paths) else ()
    if not legs:
        return flow
    return (*flow, Field("leg", "A leg that was watched", "choice", choices=legs), _TRAVEL_PCT)


@router.post("/jobs/{job_id}/exchange/step/{number}")
def at_step(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str, number: int
) -> Response:
    """Begin a step, write something down at it, or carry it out, as the button says."""
    job = load_job(desk, job_id)
    step = _step(desk, job, number)
    circuit = checklist(desk, job, FORECASTS).circuit
    typed = _at(read((*front_fields(step), *more_fields(step, circuit)), form, units), number)
    if "out" in typed.values and "out_g" in typed.values:
        typed = typed.with_fault("out_g", "Give litres or grams of what came out, not both.")
    what = form.get("do")

    def act(typed: Typed) -> None:
        facts = facts_of(step, job, typed)
        if what == "begin":
            begin(desk, job_id, number, uid=typed.uid)
        elif what == "carried-out":
            who = str(typed.values.get("by", ""))
            carried_out(desk, job_id, number, facts, uid=typed.uid, by=who)
        else:
            write_down(desk, job_id, facts, uid=typed.uid)

    return answered(request, desk, job_id, Stage.EXCHANGE, typed, act)


@router.post("/jobs/{job_id}/exchange/step/{number}/leave-out")
def leave_step_out(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str, number: int
) -> Response:
    """Leave a step out, with the reason."""
    typed = _at(read((_REASON,), form, units), number)

    def act(typed: Typed) -> None:
        leave_out(desk, job_id, number, typed.values["reason"], uid=typed.uid)

    return answered(request, desk, job_id, Stage.EXCHANGE, typed, act)


@router.post("/jobs/{job_id}/exchange/machine")
def of_machine(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Write down a timed flow, or how far a leg moved."""
    now = checklist(desk, load_job(desk, job_id), FORECASTS)
    typed = read(_machine_fields(now), form, units)
    for one, other in (("flow", "seconds"), ("seconds", "flow"), ("leg", "pct"), ("pct", "leg")):
        if one in typed.values and other not in typed.values:
            typed = typed.with_fault(other, "This is needed with the other one.")

    def act(typed: Typed) -> None:
        values = typed.values
        facts: Facts = []
        if "flow" in values:
            flow = {"litres": values["flow"], "seconds": values["seconds"]}
            facts.append((Kind.FLOW, flow))
        if "leg" in values:
            facts.append((Kind.TRAVEL, {"leg": values["leg"], "pct": values["pct"]}))
        write_down(desk, job_id, facts, uid=typed.uid)

    return answered(request, desk, job_id, Stage.EXCHANGE, typed, act)


@router.post("/jobs/{job_id}/exchange/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Finish the exchange."""
    typed = read((), form, units)

    def act(typed: Typed) -> None:
        finish_exchange(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.EXCHANGE, typed, act)


def _step(desk: Desk, job: Job, number: int) -> StepOnList:
    """Return a step of the checklist, or say that there is none of that number."""
    steps = checklist(desk, job, FORECASTS).steps
    if not 1 <= number <= len(steps):
        raise NotFound("step", str(number))
    return steps[number - 1]


def _at(typed: Typed, number: int) -> Typed:
    """Return what was typed with the number of the step that it was typed at."""
    return replace(typed, values={**typed.values, _STEP: number})
