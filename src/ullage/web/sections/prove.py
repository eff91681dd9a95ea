"""Proving on the page of a job: vials with what was read off them, the verdict, what comes next.

The picture of a verdict has an address of its own and never changes, since an answer never does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from ullage.drawing.verdict_svg import WHOLE, Bar, bars_picture
from ullage.errors import NotFound
from ullage.evidence.answer import Band
from ullage.jobs.answer import Answer, Of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.forecast import Outlook
from ullage.jobs.job import Job
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.prove_job import (
    Books,
    Vial,
    finish_proof,
    keep_verdict,
    proof,
    read_sample,
)
from ullage.jobs.stage import Stage, StageState
from ullage.sums.registry import bench_sum
from ullage.web.addresses import work_url
from ullage.web.desk import Filled, Here, InUnits, LongWork
from ullage.web.entry_lines import check_text, place_text
from ullage.web.forecasts import FORECASTS
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.job_page import back_to, job_page
from ullage.web.sections.answering import answered
from ullage.web.shown import EN_DASH, NBSP, Units, amount, band, moment, pct, span, units_of

router = APIRouter()

_MOST_NEXT = 5
_MINUTE_S = 60.0
_EYE_U_PCT = 5.0
_SAMPLE = Field("sample", "Sample", "text", required=True, longest=40)
_READ = (
    Field("old", "Old fluid in it", "number", unit="pct", low=0.0, high=100.0),
    Field(
        "u",
        "Good to",
        "number",
        unit="pct",
        low=0.1,
        high=100.0,
        hint="Points either way, two times in three. An eye with references beside it: 5.",
    ),
)
_LIGHT = tuple(
    Field(name, label, "number", low=0.0001, high=1.0)
    for name, label in (
        ("light_old", "Light through the old reference"),
        ("light_new", "Light through the new reference"),
        ("light_mix", "Light through the sample"),
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class VialShown:
    """A sample: where it comes from, what was read, and the form for that."""

    name: str
    place: str
    reading: str
    reading_uid: str
    check: str
    is_outside: bool
    form: Typed
    is_light_open: bool
    fault: Typed | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartShown:
    """A part of the circuit in the table that stands beside the picture."""

    name: str
    after: str
    before: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextShown:
    """What could be done next, with what it costs and what it lowers."""

    do: str
    costs: str
    lowers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BooksShown:
    """What went in and came out, line by line, and whether that adds up."""

    rows: tuple[tuple[str, str], ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictShown:
    """A verdict: picture, sentences, parts, next steps, books, and how it was worked out."""

    wide_url: str
    upright_url: str
    told: str
    sentences: tuple[str, ...]
    parts: tuple[PartShown, ...]
    next: tuple[NextShown, ...]
    books: BooksShown
    more: tuple[str, ...]
    made: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProveSection:
    """The stage: vials, what is not used, and the newest verdict."""

    job_id: str
    vials: tuple[VialShown, ...]
    read_fields: tuple[Field, ...]
    light_fields: tuple[Field, ...]
    legs: tuple[str, ...]
    gathered: str
    unused: tuple[str, ...]
    why_not: str
    stale: str
    verdict: VerdictShown | None
    is_finished: bool
    ask_form: Typed | None
    finish_form: Typed | None


def section_of(desk: Desk, job: Job, typed: Typed | None) -> ProveSection:
    """Return what the template shows."""
    units = units_of(desk.store.settings())
    now = proof(desk, job)
    outlook = FORECASTS.of(desk, job)
    of_vial = typed is not None and "old" in typed.texts
    of_finish = typed is not None and "finish" in typed.values
    return ProveSection(
        job_id=job.head.id,
        vials=tuple(_vial(vial, outlook, units, typed if of_vial else None) for vial in now.vials),
        read_fields=_READ,
        light_fields=_LIGHT,
        legs=_legs(now.inputs),
        gathered=_gathered(now.inputs),
        unused=tuple(one for one in (found_circuit(desk, job).doubt, *now.found.unused) if one),
        why_not=now.why_not,
        stale="" if now.answer is None or now.is_current else _STALE,
        verdict=None
        if now.answer is None or now.books is None
        else verdict_shown(now.answer, now.books, units),
        is_finished=job.state_of(Stage.PROVE) is StageState.FINISHED,
        ask_form=typed if typed is not None and not of_vial and not of_finish else None,
        finish_form=typed if of_finish else None,
    )


_STALE = "Something was written down after this verdict: ask again."
_COUNTED = {
    "sample": ("sample read", "samples read"),
    "volume": ("volume", "volumes"),
    "level": ("level", "levels"),
    "flow": ("timed flow", "timed flows"),
    "turn": ("turn of the outflow", "turns of the outflow"),
    "travel": ("watched leg", "watched legs"),
    "cycles": ("count of cycles", "counts of cycles"),
}


def _gathered(inputs: Mapping[str, Any] | None) -> str:
    """Say what the job's own entries give to go by."""
    if inputs is None:
        return ""
    found = []
    for table, (one, many) in _COUNTED.items():
        count = len(inputs["evidence"].get(table, ()))
        if count:
            found.append(f"{count}{NBSP}{one if count == 1 else many}")
    if not found:
        return (
            "Nothing was measured in this job: the answer is what the circuit file leads to expect."
        )
    return f"Gathered from this job: {', '.join(found)}."


def _legs(inputs: Mapping[str, Any] | None) -> tuple[str, ...]:
    """Return the legs that a reference of their own may stand for."""
    return (
        () if inputs is None else tuple(str(leg["id"]) for leg in inputs["circuit"].get("leg", ()))
    )


def _vial(vial: Vial, outlook: Outlook, units: Units, typed: Typed | None) -> VialShown:
    """Return one sample."""
    mine = typed if typed is not None and typed.text("sample") == vial.name else None
    check = outlook.check_of(vial.reading_uid) if vial.reading_uid else None
    into = "" if vial.at_step_l is None else f", {amount(vial.at_step_l, 'l', units)} into it"
    known = {"old": vial.old_pct, "u": vial.u_pct or _EYE_U_PCT}
    lights = {field.name for field in _LIGHT}
    return VialShown(
        name=vial.name,
        place=f"{place_text(vial.where)}, step {vial.after_step}{into}"
        if vial.after_step
        else f"{place_text(vial.where)}, before the first step",
        reading=""
        if vial.old_pct is None or vial.u_pct is None
        else f"{pct(vial.old_pct)} old, good to {vial.u_pct:.0f}",
        reading_uid=vial.reading_uid,
        check="" if check is None else check_text(check, units),
        is_outside=check is not None and not check.is_within,
        form=mine or filled(_READ, known, units),
        is_light_open=mine is not None and any(mine.text(name) for name in lights),
        fault=mine,
    )


def verdict_shown(answer: Answer, books: Books, units: Units) -> VerdictShown:
    """Return a verdict ready to be shown."""
    body = answer.body
    address = f"/jobs/{answer.job_id}/prove/{answer.id}"
    return VerdictShown(
        wide_url=f"{address}/wide.svg",
        upright_url=f"{address}/upright.svg",
        told=f"A bar for each part, from 0 to 100 % old fluid. {body['sentences'][0]}",
        sentences=tuple(body["sentences"]),
        parts=_parts(body),
        next=tuple(_next(step, units) for step in body["next"][:_MOST_NEXT]),
        books=_books(books, units),
        more=(
            *(check["sentence"] for check in body["dilution"]),
            *(() if body["final"] else (_NOT_FINAL,)),
        ),
        made=made_of(answer),
    )


_NOT_FINAL = (
    "These figures are not final: too few of the simulated machines agree with all readings at "
    "once. Look for a reading that stands apart."
)


def made_of(answer: Answer) -> str:
    """Say by which code, from which inputs and with which seed an answer was worked out."""
    return (
        f"Worked out {moment(answer.made_at)} by version {answer.code}, seed {answer.seed}, "
        f"inputs {answer.fingerprint[:12]}."
    )


def _parts(body: Mapping[str, Any]) -> tuple[PartShown, ...]:
    """Return the table of parts, the whole circuit first."""
    before = body["before"]
    rows = [(WHOLE, body["remaining_pct"], before["remaining_pct"])]
    rows += [(name, after, before["parts"][name]) for name, after in body["parts"].items()]
    return tuple(
        PartShown(
            name=name,
            after=_band(after) if body["fits"] else EN_DASH,
            before=_band(first),
        )
        for name, after, first in rows
    )


def _band(found: Mapping[str, float]) -> str:
    return band(found["p50"], found["p05"], found["p95"])


def _next(step: Mapping[str, Any], units: Units) -> NextShown:
    """Return what could be done next."""
    fluid = "no fluid" if step["litres"] <= 0.0 else amount(step["litres"], "l", units)
    lowers = step["lowers_pct"]
    return NextShown(
        do=f"{step['do'][:1].upper()}{step['do'][1:]}",
        costs=f"{span(step['minutes'] * _MINUTE_S)}, {fluid}",
        lowers="" if lowers < 0.5 else f"lowers it by about {lowers:.0f} points",
    )


def _books(books: Books, units: Units) -> BooksShown:
    """Return the balance, line by line."""

    def litres(value: float) -> str:
        return amount(value, "l", units, digits=2)

    warm = amount(books.at_degc, "degc", units, digits=0)
    rows = [(f"in, at {warm}", litres(books.in_l)), (f"out, at {warm}", litres(books.out_l))]
    if books.old_filter_l > 0.0:
        rows.append(("in the old filter", f"about {litres(books.old_filter_l)}"))
    if books.unaccounted_l is not None:
        rows.append(("unaccounted for", litres(books.unaccounted_l)))
    return BooksShown(rows=tuple(rows), sentence=books.sentence)


def answer_bars(answer: Answer, *, title: str, upright: bool) -> str:
    """Return the picture of a kept verdict."""
    body = answer.body
    before = body["before"]
    bars = [_bar(WHOLE, before["remaining_pct"], body["remaining_pct"])]
    bars += [_bar(name, before["parts"][name], after) for name, after in body["parts"].items()]
    target = body["target_pct"]
    return bars_picture(
        bars,
        target_share=None if target is None else target / 100.0,
        fits=body["fits"],
        title=title,
        told=" ".join(body["sentences"]),
        upright=upright,
    )


def _bar(name: str, before: Mapping[str, float], after: Mapping[str, float]) -> Bar:
    def share(found: Mapping[str, float]) -> Band:
        low, middle, high = (found[key] / 100.0 for key in ("p05", "p50", "p95"))
        return Band(p05=low, p50=middle, p95=high)

    return Bar(name=name, before=share(before), after=share(after))


@router.get("/jobs/{job_id}/prove/{answer_id}/{shape}.svg")
def picture(desk: Here, job_id: str, answer_id: str, shape: str) -> Response:
    """Return the picture of a verdict, wide or upright."""
    answer = desk.store.answer(answer_id)
    if answer.job_id != job_id or answer.of is not Of.VERDICT or shape not in ("wide", "upright"):
        raise NotFound("picture", f"{answer_id}/{shape}.svg")
    job = load_job(desk, job_id)
    text = answer_bars(answer, title=job.head.title, upright=shape == "upright")
    return Response(
        text,
        media_type="image/svg+xml",
        headers={
            "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'",
            "cache-control": "private, max-age=31536000, immutable",
        },
    )


@router.post("/jobs/{job_id}/prove/reading")
def reading(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Write down what was read off a sample, by eye or by a sum of three lights."""
    typed = read((_SAMPLE, *_READ, *_LIGHT), form, units)
    lights = [field.name for field in _LIGHT if field.name in typed.values]
    if lights and len(lights) < len(_LIGHT):
        typed = typed.with_fault("light_mix", "All three lights are needed, or none.")
    if typed.is_good and not lights and "old" not in typed.values:
        typed = typed.with_fault("old", "Say how much of it is old, or give three lights.")
    reference = form.get("ref")

    def act(typed: Typed) -> None:
        old, u = typed.values.get("old", 0.0), typed.values.get("u", _EYE_U_PCT)
        if lights:
            found = bench_sum("absorbance-mix").answer(
                {f"t_{name.removeprefix('light_')}": typed.text(name) for name in lights}
            )
            old, u = found.values["old_pct"], max(found.values["u_pct"], u)
        read_sample(
            desk,
            job_id,
            typed.values["sample"],
            old_pct=min(max(float(old), 0.0), 100.0),
            u_pct=float(u),
            reference=reference if isinstance(reference, str) else "",
            shares=f"lights of {typed.uid}" if lights else "",
            uid=typed.uid,
        )

    return answered(request, desk, job_id, Stage.PROVE, typed, act)


@router.post("/jobs/{job_id}/prove/ask")
def ask(
    request: Request, desk: Here, units: InUnits, work: LongWork, form: Filled, job_id: str
) -> Response:
    """Have worked out what the readings tell; the answer is kept whether or not anybody looks."""
    typed = read((), form, units)
    job = load_job(desk, job_id)
    now = proof(desk, job)
    if now.is_current:
        return back_to(job_id, Stage.PROVE)
    if now.inputs is None:
        typed = typed.with_fault("", now.why_not)
        return job_page(request, desk, job_id, typed={Stage.PROVE: typed}, status=422)
    inputs = now.inputs
    piece = work.begin(
        typed.uid,
        "verdict",
        inputs,
        title=f"{job.head.title}: what the readings tell",
        url=f"/jobs/{job_id}#{Stage.PROVE.value}",
        then=lambda body: _keep(desk, job_id, inputs, body),
    )
    return RedirectResponse(work_url(piece), status_code=303)


def _keep(desk: Desk, job_id: str, inputs: Mapping[str, Any], body: Mapping[str, Any]) -> None:
    """Keep a verdict as soon as it is there."""
    keep_verdict(desk, job_id, inputs, body)


@router.post("/jobs/{job_id}/prove/finish")
def finish(request: Request, desk: Here, units: InUnits, form: Filled, job_id: str) -> Response:
    """Finish the stage."""
    typed = replace(read((), form, units), values={"finish": True})

    def act(typed: Typed) -> None:
        finish_proof(desk, job_id, uid=typed.uid)

    return answered(request, desk, job_id, Stage.PROVE, typed, act)
