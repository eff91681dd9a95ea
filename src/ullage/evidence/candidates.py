"""What could be read or done after a job, and what each machine would show then.

Readings as the machine stands, samples after running it, bleeds. Minutes of work are judgement.
Leaves out what each is worth (``next_step``)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, State
from ullage.evidence.amounts import height_m, level_m3
from ullage.evidence.forward import Shown
from ullage.evidence.motion import diverted_m3_s
from ullage.evidence.samples import LEG_SHADE, MIXING_U
from ullage.evidence.update import remaining
from ullage.transport.recipe import Bleed, Circulate, Exchange, Exercise, Recipe, Step
from ullage.transport.refusals import refusals

Floats = NDArray[np.float64]

# Standard uncertainties that a careful person reaches: a photo of vials, a ruler, a jug, tape at
# the wheel arch, a stop-watch. Judgement: where an evidence file is silent it is taken worse.
_SAMPLE_U, _LEVEL_U_M, _LEVEL_U_M3, _TRAVEL_U, _FLOW_U = 0.03, 2e-3, 0.05e-3, 0.05, 0.04
# Minutes of work, and fluid that is lost and poured again. Judgement.
_SAMPLE_MINUTES, _OUTFLOW_MINUTES, _BLEED_MINUTES = 2.0, 4.0, 5.0
_LEVEL_MINUTES, _TRAVEL_MINUTES, _FLOW_MINUTES = 1.5, 2.0, 4.0
_SAMPLE_M3, _BLEED_SAMPLE_M3, _FLOW_M3 = 0.1e-3, 0.15e-3, 1e-3
_SHORT_S, _LONG_S = 60.0, 300.0
# Bled to renew a leg: so many times what its line and dead volume hold.
_BLEED_SHARE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """Something that could be done: what each machine would show, and how sharply it is read.

    ``shown`` is (machines,); ``lowers`` what the remainder falls by on each, None for a reading
    alone."""

    code: str
    do: str
    shown: Floats
    u: float
    minutes: float
    litres_m3: float
    part: str | None = None
    lowers: Floats | None = None


def running_steps(circuit: Circuit, recipe: Recipe) -> tuple[Step, ...]:
    """Return a short run without exercise, then a long one with all legs that a person may move."""
    movable = [
        leg
        for leg in circuit.legs
        if leg.stroke_m3.best > 0.0 and leg.held_by is not HeldBy.CONTROLLER
    ]
    groups = tuple(dict.fromkeys(leg.group or leg.id for leg in movable))
    period_s = max(
        (
            step.exercise.period_s
            for step in recipe.steps
            if isinstance(step, Exchange | Circulate) and step.exercise.groups
        ),
        default=10.0,
    )
    short = Circulate(duration_s=_SHORT_S)
    long = Circulate(duration_s=_LONG_S, exercise=Exercise(groups=groups, period_s=period_s))
    for steps in ((short, long), (short,)):
        all_steps = Recipe(
            name=recipe.name,
            steps=(*recipe.steps, *steps),
            temperature_k=recipe.temperature_k,
            new_fluid_k=recipe.new_fluid_k,
        )
        if not refusals(circuit, all_steps):
            return steps
    return ()


def bleeds_of(circuit: Circuit, recipe: Recipe) -> tuple[Bleed, ...]:
    """Return one bleed of each leg that can be bled, of what its line and dead volume hold."""
    found = []
    for leg in circuit.legs:
        if not leg.bleed:
            continue
        line = leg.line.volume_m3.best if leg.line.volume_m3 else 0.0
        if leg.line.bore_m is not None and leg.line.length_m is not None and not line:
            line = math.pi / 4.0 * leg.line.bore_m.best**2 * leg.line.length_m.best
        litres = math.ceil(1e4 * _BLEED_SHARE * (line + leg.dead_m3.best)) * 1e-4
        found.append(Bleed(leg=leg.id, litres_m3=max(litres, 1e-4)))
    all_steps = Recipe(
        name=recipe.name, steps=(*recipe.steps, *found), temperature_k=recipe.temperature_k
    )
    return tuple(found) if found and not refusals(circuit, all_steps) else ()


def now(circuit: Circuit, recipe: Recipe, shown: Shown, taken: frozenset[str]) -> list[Candidate]:
    """Return what can be read as the machine stands; ``taken`` names samples drawn already."""
    last = shown.after(shown.job_steps)
    found: list[Candidate] = []
    u = math.hypot(_SAMPLE_U, MIXING_U)
    if shown.traces:
        piece = max(i for i in shown.traces)
        outflow = np.nan_to_num(shown.traces[piece].old_vfrac[-1], nan=1.0)
        found.append(
            Candidate(
                code="sample-outflow",
                do="take one more sample of the outflow",
                shown=outflow,
                u=u,
                minutes=_OUTFLOW_MINUTES,
                litres_m3=_SAMPLE_M3,
            )
        )
    found.append(
        Candidate(
            code="sample-reservoir",
            do="take one more sample of the reservoir, in a photo of its own"
            if "reservoir" in taken
            else "take a sample of the reservoir as it stands",
            shown=last.stirred_vfrac,
            u=u,
            minutes=_SAMPLE_MINUTES,
            litres_m3=0.0,
            part="reservoir",
        )
    )
    for leg in circuit.legs:
        if leg.bleed:
            chamber = shown.part(last, f"{leg.id}.chamber")
            found.append(
                Candidate(
                    code="sample-leg",
                    do=f"take one more sample at the bleed point of {leg.id}"
                    if leg.id in taken
                    else f"take a sample at the bleed point of {leg.id}",
                    shown=chamber,
                    u=math.hypot(u, LEG_SHADE * float(chamber.mean())),
                    minutes=_BLEED_MINUTES,
                    litres_m3=_BLEED_SAMPLE_M3,
                    part=leg.id,
                )
            )
        if leg.stroke_m3.best > 0.0 and _is_exercised(leg.id, leg.group, recipe):
            row = [one.id for one in circuit.legs].index(leg.id)
            found.append(
                Candidate(
                    code="watch-travel",
                    do=f"watch with tape how far {leg.id} really travels",
                    shown=np.minimum(shown.values.leg_use_share[row, 1:], 1.0),
                    u=_TRAVEL_U,
                    minutes=_TRAVEL_MINUTES,
                    litres_m3=0.0,
                    part=leg.id,
                )
            )
    found += _levels(circuit, shown)
    if shown.traces:
        flow = diverted_m3_s(circuit, shown, None)
        found.append(
            Candidate(
                code="time-flow",
                do="time one litre at the diverter",
                shown=flow,
                u=_FLOW_U * float(flow.mean()),
                minutes=_FLOW_MINUTES,
                litres_m3=_FLOW_M3,
            )
        )
    return found


def _is_exercised(leg: str, group: str | None, recipe: Recipe) -> bool:
    """Tell whether a recipe exercises a leg."""
    return any(
        isinstance(step, Exchange | Circulate) and {leg, group} & set(step.exercise.groups)
        for step in recipe.steps
    )


def _levels(circuit: Circuit, shown: Shown) -> list[Candidate]:
    """Return readings of the level with the machine in other states.

    A level in another state is worth what it differs by: the same reading before is at hand.
    """
    last = shown.after(shown.job_steps)
    movable = [
        leg
        for leg in circuit.legs
        if leg.stroke_m3.best > 0.0 and leg.held_by is not HeldBy.CONTROLLER
    ]
    has_height = bool(circuit.reservoir.table) or circuit.reservoir.area_m2 is not None
    states: list[tuple[State, str, str]] = []
    if movable:
        states.append((State.EXTENDED, "level-extended", "read the level on full extension"))
    if any(leg.gas is not None for leg in circuit.legs):
        states.append(
            (State.RELEASED, "level-released", "let the pressure go and read the level again")
        )
    found = []
    for state, code, do in states:
        volume = level_m3(shown, last, circuit, state)
        here = level_m3(shown, last, circuit, State.CHARGED)
        reading, u = volume - here, math.sqrt(2.0) * _LEVEL_U_M3
        if has_height:
            full = shown.values.full_m3[1:]
            reading = height_m(volume, circuit, full, shown.numbers) - height_m(
                here, circuit, full, shown.numbers
            )
            u = math.sqrt(2.0) * _LEVEL_U_M
        found.append(
            Candidate(
                code=code,
                do=do,
                shown=reading,
                u=u,
                minutes=_LEVEL_MINUTES * (1.0 if state is State.EXTENDED else 2.0),
                litres_m3=0.0,
                part="reservoir",
            )
        )
    return found


def after_running(shown: Shown, running: tuple[Step, ...]) -> list[Candidate]:
    """Return samples of the reservoir after running the circuit."""
    found = []
    for i, step in enumerate(running):
        if not isinstance(step, Circulate):
            continue
        minutes = sum(s.duration_s for s in running[: i + 1] if isinstance(s, Circulate)) / 60.0
        groups = step.exercise.groups
        moves = f"exercise {', '.join(groups)} for" if groups else "circulate for"
        found.append(
            Candidate(
                code="exercise-then-sample" if groups else "circulate-then-sample",
                do=f"{moves} {step.duration_s / 60.0:.0f} min, then take a sample of the reservoir",
                shown=shown.after(shown.job_steps + i + 1).stirred_vfrac,
                u=math.hypot(_SAMPLE_U, MIXING_U),
                minutes=(step.duration_s / 60.0 if groups else minutes) + _SAMPLE_MINUTES,
                litres_m3=0.0,
                part="reservoir",
            )
        )
    return found


def after_bleeding(bled: Shown, bleeds: tuple[Bleed, ...], job_steps: int) -> list[Candidate]:
    """Return bleeds of legs, with a look at what comes last."""
    found = []
    for i, step in enumerate(bleeds, start=1):
        after = bled.after(job_steps + i)
        fall = remaining(bled, job_steps + i - 1) - remaining(bled, job_steps + i)
        found.append(
            Candidate(
                code="bleed-leg",
                do=f"bleed {step.litres_m3 * 1e3:.1f} L at {step.leg} and look at what comes last",
                shown=bled.part(after, f"{step.leg}.chamber"),
                u=math.hypot(_SAMPLE_U, MIXING_U),
                minutes=_BLEED_MINUTES + 1.0,
                litres_m3=step.litres_m3,
                part=step.leg,
                lowers=fall,
            )
        )
    return found
