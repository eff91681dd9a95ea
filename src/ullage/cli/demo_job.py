"""The whole job on the demo's van: planned, carried out on a machine that nobody sees, proved.

The machine behind it is one of those that the circuit file allows, simulated; it shows what a jug
and an eye would read off it, with their noise. The verdict knows the readings alone, and stands
beside the truth at the end. So that no lucky machine stands for all, others are proved as well and
counted.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from ullage.circuit.network import Circuit
from ullage.drawing.page import Proved, ProvedPart
from ullage.drawing.verdict_svg import WHOLE, verdict_picture
from ullage.evidence.answer import Band, Verdict
from ullage.evidence.verdict import prove
from ullage.formats.evidence_file import evidence_from_table
from ullage.planning.goal import Goal
from ullage.planning.plan import Plan, make_plan
from ullage.transport.recipe import DrawOff, Exchange, Recipe
from ullage.transport.result import Run
from ullage.transport.solve import simulate

TARGET_SHARE = 0.20
_LITRE, _PERCENT = 1e3, 100.0
_JUG_L, _EYE_PCT = 0.05, 4.0
#: Machines that might be the true one; their seed is not that of the plan or of the verdict.
_MACHINES, _SEED = 24, 20261
#: Which of them are proved, counted from the one that is left with least old fluid: the middle one
#: is shown, the others are counted.
_SHOWN, _OTHERS = 12, (2, 7, 17, 22)

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeJob:
    """A job from plan to verdict, with the truth that only a demo knows, as shares by part."""

    plan: Plan
    readings: dict[str, Any]
    verdict: Verdict
    truth_share: float
    truth_shares: dict[str, float]
    others_held: int

    @property
    def shown(self) -> Proved:
        """Return what the page shows of it."""
        rows = [_row(WHOLE, self.truth_share, self.verdict.remaining)]
        rows += [
            _row(name, self.truth_shares[name], part.after)
            for name, part in self.verdict.parts.items()
        ]
        return Proved(
            planned=self.plan_sentence,
            sentences=self.verdict.sentences,
            picture=self.picture,
            rows=tuple(rows),
            truth=self.truth_sentence,
        )

    @property
    def picture(self) -> str:
        """Return the verdict's bars."""
        return verdict_picture(self.verdict, title="What the readings tell")

    @property
    def plan_sentence(self) -> str:
        """Say what was planned."""
        made = self.plan.score
        return (
            f"Wanted: at most {TARGET_SHARE * _PERCENT:.0f} % old fluid. The plan takes "
            f"{made.containers} containers of 1 L in {len(self.plan.recipe.steps)} steps and holds "
            f"in {made.held_share * _PERCENT:.0f} of 100 simulated machines."
        )

    @property
    def truth_sentence(self) -> str:
        """Say what the machine really holds, and whether the band had it."""
        band = self.verdict.remaining
        word = "inside" if band.p05 <= self.truth_share <= band.p95 else "outside"
        return (
            f"The truth, which only a demo knows: {self.truth_share * _PERCENT:.1f} % old fluid "
            f"is left, {word} the band of {band.p05 * _PERCENT:.0f} to "
            f"{band.p95 * _PERCENT:.0f} %. Of {len(_OTHERS)} more machines, from the cleanest to "
            f"the dirtiest after this job, the band held the truth of {self.others_held}; over "
            "many, nine in ten do."
        )


def whole_job(circuit: Circuit, say: Say) -> WholeJob:
    """Plan a job, carry it out on a hidden machine, read it, and prove it."""
    plan = make_plan(circuit, Goal(target_share=TARGET_SHARE))
    truth = simulate(circuit, plan.recipe, members=_MACHINES, seed=_SEED)
    order = [int(one) for one in np.argsort(truth.remaining_share, kind="stable")]
    shown = order[_SHOWN]
    readings = _readings(plan.recipe, truth, shown)
    verdict = _proved(circuit, plan.recipe, readings)
    others_held = 0
    for place in _OTHERS:
        found = _proved(circuit, plan.recipe, _readings(plan.recipe, truth, order[place]))
        share = float(truth.remaining_share[order[place]])
        others_held += found.remaining.p05 <= share <= found.remaining.p95
    done = WholeJob(
        plan=plan,
        readings=readings,
        verdict=verdict,
        truth_share=float(truth.remaining_share[shown]),
        truth_shares=_shares(circuit, truth, shown, tuple(verdict.parts)),
        others_held=others_held,
    )
    say("The whole job on one such van, which nobody can look into:")
    for sentence in (done.plan_sentence, *verdict.sentences, done.truth_sentence):
        say(f"  {sentence}")
    say("")
    return done


def _proved(circuit: Circuit, recipe: Recipe, readings: dict[str, Any]) -> Verdict:
    """Return the verdict on some readings, which come as from a file."""
    evidence = evidence_from_table(readings, "readings")
    return prove(circuit, recipe, evidence, target_share=TARGET_SHARE)


def _readings(recipe: Recipe, truth: Run, true: int) -> dict[str, Any]:
    """Return what was read off the hidden machine, as the table of an evidence file."""
    dice = random.Random(_SEED + true)
    volumes: list[dict[str, Any]] = []
    samples: list[dict[str, Any]] = []
    for number, (step, made) in enumerate(zip(recipe.steps, truth.steps, strict=True), start=1):
        waste = float(made.waste_m3[true]) * _LITRE
        if waste > _JUG_L:
            what = "drawn-off" if isinstance(step, DrawOff) else "waste"
            litres = round(dice.gauss(waste, _JUG_L), 2)
            volumes.append({"what": what, "step": number, "litres": litres, "u_l": _JUG_L})
        if isinstance(step, Exchange):
            flow = [one for one in truth.outflow if one.step == number][-1]
            samples.append(_sample("outflow", number, float(flow.old_share[-1, true]), dice))
    last = len(recipe.steps)
    for where, part in (
        ("reservoir", "reservoir"),
        ("leg:rear-left", "rear-left.chamber"),
        ("leg:front-right", "front-right.chamber"),
    ):
        held = truth.parts[part]
        share = float(held.old_m3[true] / held.fluid_m3[true])
        samples.append(_sample(where, last, share, dice))
    return {"format": "ullage-evidence/1", "sample": samples, "volume": volumes}


def _sample(where: str, step: int, share: float, dice: random.Random) -> dict[str, Any]:
    """Return a vial as an eye reads it beside reference vials."""
    read = min(max(round(dice.gauss(share * _PERCENT, _EYE_PCT)), 0), 100)
    return {"where": where, "after_step": step, "old_pct": float(read), "u_pct": _EYE_PCT}


def _shares(circuit: Circuit, truth: Run, true: int, parts: tuple[str, ...]) -> dict[str, float]:
    """Return the true old share of each part of a verdict."""
    legs = {leg.id for leg in circuit.legs}
    held: dict[str, list[float]] = {name: [0.0, 0.0] for name in parts}
    for name, part in truth.parts.items():
        leg = name.rpartition(".")[0]
        group = leg if leg in legs else name if name == "reservoir" else "loop"
        held[group][0] += float(part.old_m3[true])
        held[group][1] += float(part.fluid_m3[true])
    return {name: old / fluid if fluid > 0.0 else 0.0 for name, (old, fluid) in held.items()}


def _row(name: str, truth: float, band: Band) -> ProvedPart:
    return ProvedPart(
        name=name,
        truth_share=truth,
        p05=band.p05,
        p50=band.p50,
        p95=band.p95,
    )
