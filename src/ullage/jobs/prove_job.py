"""What do the readings of a job tell: gathered, worked out, kept, and shown with what comes next.

The inputs are tables of files, so that the same answer can be had from the command line. Working it
out takes seconds and touches no store: it may run elsewhere. Leaves out where it runs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ullage.circuit.network import Circuit
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.evidence.verdict import prove
from ullage.evidence.waiting import Progress, Stop
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import finish, write_down
from ullage.jobs.event import Event, Kind
from ullage.jobs.forecast import seed_of
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk, Forms
from ullage.jobs.readings import (
    Gathered,
    gathered,
    poured_at_refit_l,
    recipe_of_steps,
    steps_carried_out,
    with_litres_sent,
)
from ullage.jobs.stage import Stage
from ullage.transport.refusals import refusals

_WHOLE = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Vial:
    """A sample as the last stage shows it: where it was drawn, and what was read off it."""

    name: str
    where: str
    after_step: int
    at_step_l: float | None
    sample_uid: str
    old_pct: float | None
    u_pct: float | None
    reading_uid: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """What went in and came out [L], all at ``at_degc``, the temperature of the recipe;
    ``old_filter_l`` stayed in the element that was changed.

    ``unaccounted_l`` has that taken off where the waste was measured without it; None where no
    volume was measured, and so are ``u_l`` and ``closes``."""

    at_degc: float
    in_l: float
    out_l: float
    old_filter_l: float
    unaccounted_l: float | None
    u_l: float | None
    closes: bool | None

    @property
    def sentence(self) -> str:
        """Say whether the books close."""
        if self.unaccounted_l is None or self.u_l is None:
            return "No volume was measured, so the books close by themselves and prove nothing."
        what = "missing" if self.unaccounted_l > 0.0 else "too much"
        end = (
            "within what the readings can be wrong"
            if self.closes
            else "more than the readings can be wrong: look for a leak, a spill or a can that was "
            "not counted"
        )
        return (
            f"{abs(self.unaccounted_l):.2f} L {what}, give or take {2.0 * self.u_l:.2f} L: that is "
            f"{end}."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """All that the stage shows: samples, what is not used, and the newest verdict.

    ``is_current`` is False where something was written down since; ``why_not`` says why no verdict
    can be worked out now."""

    vials: tuple[Vial, ...]
    found: Gathered
    inputs: Mapping[str, Any] | None
    why_not: str
    answer: Answer | None
    is_current: bool
    books: Books | None


def proof(desk: Desk, job: Job) -> Proof:
    """Return what the stage shows now."""
    machine = found_circuit(desk, job)
    found = gathered(job, machine.circuit, steps_carried_out(job))
    inputs, why_not = None, ""
    try:
        inputs = inputs_of(desk, job)
    except (Conflict, FileFaults) as refusal:
        why_not = str(refusal)
    name = job.answers.get(Of.VERDICT.value)
    answer = None if name is None else desk.store.answer(name)
    return Proof(
        vials=vials_of(job),
        found=found,
        inputs=inputs,
        why_not=why_not,
        answer=answer,
        is_current=answer is not None
        and inputs is not None
        and answer.fingerprint == fingerprint_of(inputs),
        books=None if answer is None else books_of(job, machine.circuit, answer.body),
    )


def vials_of(job: Job) -> tuple[Vial, ...]:
    """Return the samples of a job, each with its newest reading."""
    readings = {event.payload["sample"]: event for event in job.of(Kind.READING)}
    vials = []
    for event in job.of(Kind.SAMPLE):
        sample = event.payload
        reading = readings.get(sample["name"])
        vials.append(
            Vial(
                name=sample["name"],
                where=sample["where"],
                after_step=sample["after_step"],
                at_step_l=sample.get("at_step_l"),
                sample_uid=event.uid,
                old_pct=None if reading is None else reading.payload["old_pct"],
                u_pct=None if reading is None else reading.payload["u_pct"],
                reading_uid="" if reading is None else reading.uid,
            )
        )
    return tuple(vials)


def read_sample(
    desk: Desk,
    job_id: str,
    sample: str,
    *,
    old_pct: float,
    u_pct: float,
    reference: str = "",
    shares: str = "",
    uid: str,
) -> None:
    """Write down what was read off a sample beside reference vials, or by a sum of colours.

    Raises
    ------
    NotFound
        If no sample bears the name.
    OutOfRange
        If a share is not one, or the uncertainty is 0.
    """
    job = load_job(desk, job_id)
    names = [event.payload["name"] for event in job.of(Kind.SAMPLE)]
    if sample not in names:
        raise NotFound("sample", sample, names)
    if not u_pct > 0.0:
        raise OutOfRange(
            "reading.u_pct", u_pct, "above 0", "an eye with references beside it is good to 5"
        )
    payload: dict[str, Any] = {"sample": sample, "old_pct": old_pct, "u_pct": u_pct}
    if reference:
        payload["ref"] = reference
    if shares:
        payload["shares"] = shares
    write_down(desk, job_id, [(Kind.READING, payload)], uid=uid)


def inputs_of(desk: Desk, job: Job) -> dict[str, Any]:
    """Return what a verdict is worked out from: circuit, recipe as carried out, readings, target.

    Raises
    ------
    Conflict
        If no step was carried out.
    FileFaults
        If what was left is a recipe that the circuit cannot carry out.
    """
    kept = steps_carried_out(job)
    table = job.recipe_table
    if table is None or not kept:
        raise Conflict("no step was carried out yet, so there is nothing to prove")
    machine = found_circuit(desk, job)
    found = gathered(job, machine.circuit, kept)
    recipe = recipe_of_steps(table, kept)
    recipe["step"] = with_litres_sent(job, machine.circuit, recipe, kept)
    faults = refusals(machine.circuit, desk.forms.recipe(recipe, "recipe"))
    if faults:
        raise FileFaults("the steps that were carried out", faults)
    goal = {} if job.goal is None else job.goal.payload
    return {
        "circuit": dict(machine.table),
        "recipe": recipe,
        "evidence": found.evidence,
        "target_pct": goal.get("target_pct"),
        "container_l": float(goal.get("container_l") or 1.0),
        "seed": seed_of(desk, job),
    }


def worked_out(
    forms: Forms,
    inputs: Mapping[str, Any],
    *,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> dict[str, Any]:
    """Return the verdict on some inputs as its table; needs no store, so it may run anywhere.

    Raises
    ------
    FileFaults
        If a reading cannot belong to this circuit and recipe.
    Stopped
        If ``stop`` said yes.
    """
    target = inputs["target_pct"]
    is_share = target is not None and 0.0 < target < _WHOLE
    verdict = prove(
        forms.circuit(inputs["circuit"], "circuit"),
        forms.recipe(inputs["recipe"], "recipe"),
        forms.evidence(inputs["evidence"], "readings"),
        target_share=target / _WHOLE if is_share else None,
        seed=inputs["seed"],
        container_m3=inputs["container_l"] * 1e-3,
        progress=progress,
        stop=stop,
    )
    return forms.verdict_table(verdict)


def keep_verdict(
    desk: Desk, job_id: str, inputs: Mapping[str, Any], body: Mapping[str, Any]
) -> Answer:
    """Keep a verdict with what it was worked out from, and note it in the job."""
    answer = Answer(
        id=desk.new_id(),
        job_id=job_id,
        of=Of.VERDICT,
        made_at=desk.now(),
        code=desk.code,
        seed=int(inputs["seed"]),
        inputs=inputs,
        fingerprint=fingerprint_of(inputs),
        body=body,
    )
    desk.store.keep_answer(answer)
    log(desk, job_id, Kind.ANSWERED, {"answer": answer.id, "of": Of.VERDICT.value})
    return answer


def books_of(job: Job, circuit: Circuit, body: Mapping[str, Any]) -> Books:
    """Return the balance of a verdict, with what stayed in the old filter element."""
    balance = body["balance"]
    kept = set(steps_carried_out(job))
    steps = () if job.recipe_table is None else job.recipe_table["step"]
    swaps = [n for n, s in enumerate(steps, start=1) if n in kept and s["do"] == "swap-filter"]
    soaked = 1e3 * sum(node.element_m3.best for node in circuit.nodes if node.element)
    old_filter = soaked * len(swaps)
    unaccounted = balance["unaccounted_l"]
    if unaccounted is not None and _is_measured(job.of(Kind.VOLUME), swaps):
        unaccounted -= old_filter
    u_l = balance["u_l"]
    return Books(
        at_degc=job.recipe_degc,
        in_l=balance["in_l"] + poured_at_refit_l(job),
        out_l=balance["out_l"],
        old_filter_l=old_filter,
        unaccounted_l=unaccounted,
        u_l=u_l,
        closes=None if unaccounted is None or u_l is None else abs(unaccounted) <= 2.0 * u_l,
    )


def _is_measured(volumes: Sequence[Event], swaps: Sequence[int]) -> bool:
    """Tell whether the waste of a filter change was measured, alone or with all the rest."""
    return any(
        event.payload["what"] == "waste" and event.payload.get("step") in {None, *swaps}
        for event in volumes
    )


def verdict_result(body: Mapping[str, Any] | None) -> str:
    """Return a verdict in one line."""
    if body is None:
        return "finished without a verdict"
    band = body["remaining_pct"]
    low, middle, high = (round(band[key]) for key in ("p05", "p50", "p95"))
    left = f"{middle} % ({low}–{high}) old fluid left"
    if not body["fits"]:
        return f"readings do not fit; without them {left}"
    if body["target_pct"] is None:
        return left
    word = {"yes": "met", "no": "not met", "not shown": "not shown to be met"}[body["met"]]
    return f"{left}, target of {body['target_pct']:.3g} % {word}"


def finish_proof(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the stage with the newest verdict in one line.

    Raises
    ------
    Conflict
        If there is no verdict yet, or something was written down after it, or another stage comes
        first.
    """
    job = load_job(desk, job_id)
    now = proof(desk, job)
    if now.answer is None and now.inputs is not None:
        raise Conflict("nobody asked yet what the readings tell; ask, then finish")
    if now.answer is not None and now.inputs is not None and not now.is_current:
        raise Conflict("something was written down after this verdict; ask again, then finish")
    body = None if now.answer is None else now.answer.body
    finish(desk, job, Stage.PROVE, verdict_result(body), uid=uid)
