"""The refit on the page of a job: the checklist, and the level beside where it belongs now."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request, Response

from ullage.circuit.parts import State
from ullage.jobs.carry_out import AT_STEP
from ullage.jobs.event import Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.refit import (
    LevelRead,
    Refit,
    finish_refit,
    pour,
    read_level,
    read_temperature,
    refit,
    tick,
)
from ullage.jobs.stage import Stage, StageState
from ullage.planning.level_target import LevelTarget
from ullage.units.convert import ZERO_CELSIUS_K
from ullage.web.desk import Filled, Here, InUnits
from ullage.web.entry_lines import STATES, EntryLine, entry_line, level_text, levels_text
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.sections.answering import answered
from ullage.web.sections.step_forms import LEVEL, SIDE, signed_mm
from ullage.web.shown import Units, amount, amount_si, units_of

router = APIRouter()

_DEGC = Field(
    "now_degc",
    "Temperature of the fluid now",
    "number",
    unit="degc",
    low=-60.0,
    high=200.0,
    required=True,
)
_READ_DEGC = Field("degc", "Temperature of the fluid", "number", unit="degc", low=-60.0, high=200.0)
_NOTE = Field("note", "Note", "text")
_POURED = Field("poured", "Poured to set the level", "number", unit="l", low=0.0, required=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetShown:
    """Where the level belongs in one state of the machine."""

    state: str
    height: str
    band: str
    litres: str
    is_of_mark: bool
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelShown:
    """A level that was read, where it belongs, and whether that agrees."""

    entry: EntryLine
    belongs: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemShown:
    """A line of the checklist."""

    id: str
    sentence: str
    accept: str
    cautions: tuple[str, ...]
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RefitSection:
    """The stage: temperature, targets, what was read, and the checklist."""

    job_id: str
    temperature: str
    targets: tuple[TargetShown, ...]
    levels: tuple[LevelShown, ...]
    items: tuple[ItemShown, ...]
    others: tuple[EntryLine, ...]
    temperature_fields: tuple[Field, ...]
    temperature_form: Typed | None
    level_fields: tuple[Field, ...]
    level_form: Typed
    poured_fields: tuple[Field, ...]
    poured_form: Typed | None
    is_finished: bool
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> RefitSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    now = refit(desk, job)
    at = amount(now.at_k - ZERO_CELSIUS_K, "degc", units, digits=0)
    fields = _level_fields(now)
    others = [
        event
        for event in job.of(*AT_STEP)
        if event.payload.get("stage") == Stage.REFIT and event.kind is not Kind.LEVEL
    ]
    return RefitSection(
        job_id=job.head.id,
        temperature=f"{at}, as last read"
        if now.is_typed
        else f"{at}, as in the recipe: nobody read it yet",
        targets=tuple(
            _target(state, target, units, is_of_mark=state is now.mark)
            for state, target in now.targets
        ),
        levels=tuple(_level(level, units) for level in now.levels),
        items=tuple(
            ItemShown(
                id=item.id,
                sentence=item.sentence,
                accept=item.accept,
                cautions=item.cautions,
                is_done=item.is_done,
            )
            for item in now.items
        ),
        others=tuple(entry_line(event, None, units) for event in others),
        temperature_fields=(_DEGC,),
        temperature_form=_mine(_DEGC, typed),
        level_fields=fields,
        level_form=_mine(LEVEL, typed)
        or filled(fields, {"state": now.mark.value, "side": "above"}, units),
        poured_fields=(_POURED,),
        poured_form=_mine(_POURED, typed),
        is_finished=job.state_of(Stage.REFIT) is StageState.FINISHED,
        finish_form=typed if typed is not None and not typed.texts else None,
    )


def _level_fields(now: Refit) -> tuple[Field, ...]:
    """Return the fields of a level; its states are those that this machine has."""
    states = tuple((state.value, STATES[state.value]) for state, _ in now.targets)
    return (
        LEVEL,
        SIDE,
        Field("state", "Machine", "choice", choices=states, required=True),
        _READ_DEGC,
        _NOTE,
    )


def _mine(field: Field, typed: Typed | None) -> Typed | None:
    """Return what was typed if it was typed into the form of a field."""
    return typed if typed is not None and field.name in typed.texts else None


def _target(state: State, target: LevelTarget, units: Units, *, is_of_mark: bool) -> TargetShown:
    """Return where the level belongs in one state."""
    band = ""
    if target.low_m is not None and target.high_m is not None:
        band = levels_text(1e3 * target.low_m, 1e3 * target.high_m)
    return TargetShown(
        state=STATES[state.value],
        height=belongs_text(target, units),
        band=band,
        litres=amount_si(target.volume_m3, "l", units, digits=2),
        is_of_mark=is_of_mark,
        warnings=tuple(
            caveat.text for caveat in target.caveats if caveat.code != "not-the-state-of-the-mark"
        ),
    )


def belongs_text(target: LevelTarget, units: Units) -> str:
    """Return where a level belongs: a height, or a content where no heights are known."""
    if target.height_m is None:
        return amount_si(target.volume_m3, "l", units, digits=2)
    return level_text(1e3 * target.height_m)


def _level(level: LevelRead, units: Units) -> LevelShown:
    """Return a level that was read."""
    word = {True: "agrees", False: "does not agree", None: ""}[level.is_near]
    return LevelShown(
        entry=entry_line(level.event, None, units),
        belongs=belongs_text(level.target, units),
        word=word,
    )


@router.post("/jobs/{job_id}/refit/temperature")
def temperature(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str
) -> Response:
    """Write down how warm the fluid is now."""
    typed = read((_DEGC,), form, units)

    def act(typed: Typed) -> None:
        read_temperature(desk, job_id, typed.values["now_degc"], uid=typed.uid)

    return answered(request, desk, job_id, Stage.REFIT, typed, act)


@router.post("/jobs/{job_id}/refit/level")
def level(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Write down the level as it stands now."""
    typed = read(_level_fields(refit(desk, load_job(desk, job_id))), form, units)
    if typed.is_good and "level" not in typed.values:
        typed = typed.with_fault("level", "Say by how many millimetres; 0 is at the mark.")

    def act(typed: Typed) -> None:
        read_level(
            desk,
            job_id,
            mm=signed_mm(typed.values),
            litres=None,
            state=State(typed.values["state"]),
            at_degc=typed.values.get("degc"),
            note=typed.values.get("note", ""),
            uid=typed.uid,
        )

    return answered(request, desk, job_id, Stage.REFIT, typed, act)


@router.post("/jobs/{job_id}/refit/poured")
def poured(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Write down what was poured to set the level."""
    typed = read((_POURED,), form, units)

    def act(typed: Typed) -> None:
        pour(desk, job_id, typed.values["poured"], uid=typed.uid)

    return answered(request, desk, job_id, Stage.REFIT, typed, act)


@router.post("/jobs/{job_id}/refit/tick/{item}")
def tick_item(
    request: Request, desk: Here, units: InUnits, form: Filled, job_id: str, item: str
) -> Response:
    """Tick a line off, or take its tick away."""
    typed = read((), form, units)

    def act(typed: Typed) -> None:
        tick(desk, job_id, item, done=form.get("done") == "yes", uid=typed.uid)

    return answered(request, desk, job_id, Stage.REFIT, typed, act)


@router.post("/jobs/{job_id}/refit/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Finish the refit."""
    typed = read((), form, units)

    def act(typed: Typed) -> None:
        finish_refit(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.REFIT, typed, act)
