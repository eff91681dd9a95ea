"""The record of a whole job as one page that prints well, and the label for the reservoir.

Everything on it comes from the job's own entries and from answers that are kept; each answer stands
there with its code, seed and fingerprint, so that it can be worked out again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from ullage.jobs.answer import Of
from ullage.jobs.carry_out import Checklist, checklist
from ullage.jobs.close_job import Closing, closing
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.prove_job import proof
from ullage.jobs.refit import refit
from ullage.jobs.stage import STAGES, Stage, StageState, StepState
from ullage.web.addresses import photo_url
from ullage.web.entry_lines import STATES, entry_line, level_text
from ullage.web.forecasts import FORECASTS
from ullage.web.sections.exchange import distrust, foretold
from ullage.web.sections.prove import VerdictShown, verdict_shown
from ullage.web.sections.record import (
    due_text,
    lot_line,
    lots_text,
    signature_line,
    waste_line,
    waste_text,
)
from ullage.web.sections.refit import belongs_text
from ullage.web.shown import Units, amount, band, day, figure, moment, units_of

_QUESTIONS = {
    Of.DUE: "Is it due?",
    Of.PLAN: "The plan",
    Of.VERDICT: "What is left",
    Of.NEXT_DUE: "Due again",
}
_DASH = "\N{EN DASH}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPart:
    """One of the seven stages on paper: how far, its result, and facts in two columns."""

    number: int
    heading: str
    state: str
    result: str
    facts: tuple[tuple[str, str], ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """A step on paper: what was to be done, what was expected, what was done and read."""

    number: int
    sentence: str
    state: str
    expected: tuple[str, ...]
    read: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerRow:
    """An answer that the record rests on, with what is needed to work it out again."""

    question: str
    made: str
    code: str
    seed: int
    fingerprint: str
    is_newest: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoShown:
    """A photo with its words."""

    url: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPage:
    """The record of a job."""

    job_url: str
    label_url: str
    title: str
    about: str
    status: str
    summary: tuple[str, ...]
    before: tuple[RecordPart, ...]
    exchange: RecordPart
    steps: tuple[StepRow, ...]
    after: tuple[RecordPart, ...]
    verdict: VerdictShown | None
    photos: tuple[PhotoShown, ...]
    answers: tuple[AnswerRow, ...]
    taken_back: str
    signatures: tuple[str, ...]
    made_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPage:
    """The label: a machine and a table of five lines."""

    job_url: str
    title: str
    rows: tuple[tuple[str, str], ...]


def record_sheet(desk: Desk, job_id: str) -> RecordPage:
    """Return the record of a job as it stands now."""
    job = load_job(desk, job_id)
    units = units_of(desk.store.settings())
    machine = desk.store.machine(job.head.machine_id)
    circuit = desk.store.circuit_version(job.head.circuit_version_id)
    steps = checklist(desk, job, FORECASTS)
    now, ends = proof(desk, job), closing(desk, job)
    verdict = (
        None
        if now.answer is None or now.books is None
        else verdict_shown(now.answer, now.books, units)
    )
    facts = _Facts(desk, job, units, ends)
    parts = {stage: facts.part(stage) for stage in STAGES}
    gone = len(desk.store.events(job_id)) - len(job.entries)
    return RecordPage(
        job_url=f"/jobs/{job_id}",
        label_url=f"/jobs/{job_id}/label",
        title=job.head.title,
        about=", ".join(
            word
            for word in (
                machine.marks,
                f"{circuit.name}, version {circuit.number}",
                f"opened {day(job.head.opened_at)}",
            )
            if word
        ),
        status="Filed." if job.is_closed else "Not filed yet: some of it may still change.",
        summary=(*(verdict.sentences[:2] if verdict else ()), due_text(ends.next_due, units)),
        before=tuple(parts[stage] for stage in (Stage.ASSESS, Stage.PLAN, Stage.PREPARE)),
        exchange=parts[Stage.EXCHANGE],
        steps=tuple(_steps(steps, units)),
        after=tuple(parts[stage] for stage in (Stage.REFIT, Stage.PROVE, Stage.RECORD)),
        verdict=verdict,
        photos=tuple(_photos(job)),
        answers=tuple(_answers(desk, job)),
        taken_back=""
        if not gone
        else f"{gone} entries of the log were taken back or take one back; they are kept in it.",
        signatures=tuple(signature_line(event) for event in job.signed),
        made_by=f"Made by Ullage {desk.code}, {moment(desk.now())}.",
    )


class _Facts:
    """What each stage has to say on paper."""

    def __init__(self, desk: Desk, job: Job, units: Units, ends: Closing) -> None:
        self.desk = desk
        self.job = job
        self.units = units
        self.ends = ends

    def part(self, stage: Stage) -> RecordPart:
        """Return one stage."""
        told = {
            Stage.ASSESS: self.assess,
            Stage.PLAN: self.plan,
            Stage.PREPARE: self.ticks,
            Stage.EXCHANGE: self.exchange,
            Stage.REFIT: self.refit,
            Stage.PROVE: self.prove,
            Stage.RECORD: self.record,
        }[stage]
        facts, lines = told()
        state = self.job.state_of(stage)
        return RecordPart(
            number=stage.number,
            heading=stage.value.capitalize(),
            state=state.value,
            result=self.job.finished[stage] if state is StageState.FINISHED else "",
            facts=tuple((label, text) for label, text in facts if text),
            lines=tuple(lines),
        )

    def notes(self, stage: Stage) -> list[str]:
        """Return the notes of a stage."""
        return [
            str(event.payload["note"])
            for event in self.job.of(Kind.NOTE)
            if event.payload.get("stage") == stage
        ]

    def assess(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return how it was found, its use, its condition, and whether it was due."""
        found = _payload(self.job.as_found)
        use, condition = _payload(self.job.use), _payload(self.job.condition)
        units = self.units
        level = "" if found.get("level_mm") is None else level_text(found["level_mm"])
        at = (
            ""
            if found.get("at_degc") is None
            else amount(found["at_degc"], "degc", units, digits=0)
        )
        state = STATES.get(found.get("state", ""), "")
        facts = [("level as found", ", ".join(word for word in (level, state, at) if word))]
        facts += [(key, str(found.get(key, ""))) for key in ("heights", "leaks", "noises", "lamps")]
        facts.append(("proof of the fluid's family", str(found.get("family_proof", ""))))
        if use.get("distance_km") is not None:
            facts.append(("counter", amount(use["distance_km"], "km", units, digits=0)))
        if use.get("hours") is not None:
            facts.append(("running hours", figure(use["hours"], 0)))
        if use.get("since_days") is not None:
            facts.append(("last exchange", f"{figure(use['since_days'], 0)} days ago"))
        for key, (label, unit) in _CONDITION.items():
            if condition.get(key) is not None:
                facts.append((label, f"{figure(condition[key])} {unit}".strip()))
        counts = condition.get("particles_per_ml")
        if counts:
            facts.append(("particles per mL", ", ".join(figure(one, 0) for one in counts)))
        facts.append(("debris", str(condition.get("debris", ""))))
        due = self.body(Of.DUE)
        lines = [f"Verdict: {due['verdict']}. {' '.join(due['reasons'])}"] if due else []
        return facts, [*lines, *self.notes(Stage.ASSESS)]

    def plan(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return the goal, the recipe and what the plan promised."""
        goal, recipe = _payload(self.job.goal), self.job.recipe_table
        facts = []
        if goal:
            sure = (
                "" if goal.get("sure_pct") is None else f", sure to {goal['sure_pct']:.0f} of 100"
            )
            facts.append(("target", f"{goal['target_pct']:.3g} % old fluid{sure}"))
        if recipe is not None:
            facts.append(("recipe", f"{recipe['name']}, {len(recipe['step'])} steps"))
        plan = self.body(Of.PLAN)
        if plan:
            expected = plan["expected"]
            facts += [
                ("containers", str(plan["containers"])),
                ("promised", band(expected["p50"], expected["p05"], expected["p95"])),
                ("target kept by", f"{plan['held_pct']:.0f} of 100 simulated machines"),
            ]
        return facts, self.notes(Stage.PLAN)

    def ticks(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return how much was ticked off before the exchange."""
        ticks = [
            event
            for (name, _), event in self.job.ticks.items()
            if name != "refit" and event.payload["done"]
        ]
        facts = [("ticked off", f"{len(ticks)} things")] if ticks else []
        return facts, self.notes(Stage.PREPARE)

    def exchange(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return what was measured of the machine, and whether the plan was to be trusted."""
        outlook = FORECASTS.of(self.desk, self.job)
        facts = [
            (
                "of the machine",
                entry_line(event, outlook.check_of(event.uid), self.units).text,
            )
            for event in self.job.of(Kind.FLOW, Kind.TRAVEL)
        ]
        return facts, [*distrust(outlook, self.units), *self.notes(Stage.EXCHANGE)]

    def refit(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return the levels beside their targets, and what was ticked."""
        now = refit(self.desk, self.job)
        facts = []
        for level in now.levels:
            text = entry_line(level.event, None, self.units).text
            belongs = belongs_text(level.target, self.units)
            facts.append(("read", f"{text}; belongs {belongs}"))
        facts.append(("done", ", ".join(item.id for item in now.items if item.is_done)))
        left = ", ".join(item.id for item in now.open_items)
        if self.job.state_of(Stage.REFIT) is not StageState.TO_COME:
            facts.append(("not ticked", left))
        return facts, self.notes(Stage.REFIT)

    def prove(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return the samples; the verdict stands beside them."""
        outlook = FORECASTS.of(self.desk, self.job)
        facts = []
        for event in self.job.of(Kind.READING):
            line = entry_line(event, outlook.check_of(event.uid), self.units)
            facts.append(("read", f"{line.text}; {line.check}" if line.check else line.text))
        return facts, self.notes(Stage.PROVE)

    def record(self) -> tuple[list[tuple[str, str]], list[str]]:
        """Return waste, lots and the next date."""
        ends, units = self.ends, self.units
        facts = [("waste", waste_text(ends, units))]
        facts += [("handed over", waste_line(event, units)) for event in ends.handed]
        facts.append(("new fluid", lots_text(ends, units)))
        facts += [("off the shelf", lot_line(self.desk, event, units)) for event in ends.lots]
        facts.append(("next", due_text(ends.next_due, units)))
        return facts, self.notes(Stage.RECORD)

    def body(self, of: Of) -> Mapping[str, Any] | None:
        """Return the newest answer to a question."""
        name = self.job.answers.get(of.value)
        return None if name is None else self.desk.store.answer(name).body


_CONDITION = {
    "nu40_mm2_s": ("viscosity at 40 °C", "mm²/s"),
    "nu100_mm2_s": ("viscosity at 100 °C", "mm²/s"),
    "water_mg_kg": ("water", "mg/kg"),
    "acid_mgkoh_g": ("acid number", "mg KOH/g"),
    "colour_rise": ("colour above new", ""),
}


def _payload(event: Event | None) -> Mapping[str, Any]:
    return {} if event is None else event.payload


def _steps(steps: Checklist, units: Units) -> Iterator[StepRow]:
    """Yield the steps as rows."""
    for step in steps.steps:
        expected = step.expected
        lines = [entry_line(entry.event, entry.check, units) for entry in step.entries]
        yield StepRow(
            number=step.number,
            sentence=step.do if expected is None else expected.line.sentence,
            state=f"{step.state.value}: {step.reason}"
            if step.state is StepState.LEFT_OUT
            else step.state.value,
            expected=()
            if expected is None
            else tuple(f"{one.label} {one.text}" for one in foretold(expected, units)),
            read=tuple(
                f"{line.text} {_DASH} not as expected" if line.is_outside else line.text
                for line in lines
            ),
        )


def _photos(job: Job) -> Iterator[PhotoShown]:
    """Yield the photos of a job."""
    for event in job.of(Kind.PHOTO):
        p = event.payload
        step = f"step {p['step']}" if p.get("step") else p.get("stage", "")
        words = ", ".join(word for word in (step, p.get("note", ""), p.get("name", "")) if word)
        yield PhotoShown(url=photo_url(p["sha256"]), words=words or "photo")


def _answers(desk: Desk, job: Job) -> Iterator[AnswerRow]:
    """Yield the answers of a job, the newest first."""
    newest = set(job.answers.values())
    for answer in desk.store.answers(job.head.id):
        yield AnswerRow(
            question=_QUESTIONS.get(answer.of, answer.of.value),
            made=moment(answer.made_at),
            code=answer.code,
            seed=answer.seed,
            fingerprint=answer.fingerprint,
            is_newest=answer.id in newest,
        )


def label_sheet(desk: Desk, job_id: str) -> LabelPage:
    """Return the label of a job: fluid, date and counter, what is left, filter, next."""
    job = load_job(desk, job_id)
    units = units_of(desk.store.settings())
    now, ends = proof(desk, job), closing(desk, job)
    use = _payload(job.use)
    counter = (
        "" if use.get("distance_km") is None else amount(use["distance_km"], "km", units, digits=0)
    )
    done = next((e.device_at for e in reversed(job.of(Kind.STEP))), job.head.opened_at)
    left = "not proved"
    if now.answer is not None and now.answer.body["fits"]:
        found = now.answer.body["remaining_pct"]
        left = band(found["p50"], found["p05"], found["p95"])
    table = job.recipe_table or {"step": ()}
    swapped = any(
        step["do"] == "swap-filter" and job.step_state(number) is StepState.CARRIED_OUT
        for number, step in enumerate(table["step"], start=1)
    ) or any(item.id == "filter" and item.is_done for item in refit(desk, job).items)
    return LabelPage(
        job_url=f"/jobs/{job_id}",
        title=job.head.title,
        rows=(
            ("Fluid", _fluid(desk, ends)),
            ("Exchanged", ", ".join(word for word in (day(done), counter) if word)),
            ("Old fluid left", left),
            ("Filter", "changed" if swapped else "not changed"),
            ("Next", _next_short(ends.next_due, units)),
        ),
    )


def _fluid(desk: Desk, ends: Closing) -> str:
    """Return the new fluid: its name on the shelf where a lot was used, and its family."""
    stock = {one.lot.id: one for one in desk.store.stock(empty_too=True)}
    names = [
        stock[event.payload["lot"]].sheet.name
        for event in ends.lots
        if event.payload["lot"] in stock
    ]
    if ends.new_family and any(name.split()[-1] == ends.new_family for name in names):
        return ", ".join(dict.fromkeys(names))
    return ", ".join(dict.fromkeys((*names, ends.new_family)))


def _next_short(event: Event | None, units: Units) -> str:
    """Return the next date in few words."""
    if event is None:
        return _DASH
    p = event.payload
    words = []
    if p.get("on"):
        words.append(day(date.fromisoformat(p["on"])))
    if p.get("distance_km") is not None:
        words.append(amount(p["distance_km"], "km", units, digits=0))
    if p.get("hours") is not None:
        words.append(f"{figure(p['hours'], 0)} h")
    return " or ".join(words) or _DASH
