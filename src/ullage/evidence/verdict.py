"""What is left where, is it good enough, and what next: the answer of a job's last stage.

One frozen value that screens, files and papers show, with three sentences as a technician would say
them. Where the readings contradict the files it gives no figure of its own, but says so and names
the likeliest reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.errors import FileFaults, OutOfRange
from ullage.evidence.answer import Band, Met, PartBand, Trust, Verdict
from ullage.evidence.dilution import dilution_checks
from ullage.evidence.forward import Change, Shown
from ullage.evidence.likelihood import as_measured, carried_out, readings_of
from ullage.evidence.mass_balance import mass_balance
from ullage.evidence.misfit import Fit, fit_of, reasons
from ullage.evidence.motion import best_flow_ratio
from ullage.evidence.next_step import outlook
from ullage.evidence.observation import Evidence, Place
from ullage.evidence.reading import Reading
from ullage.evidence.refusals import evidence_faults
from ullage.evidence.sentences import sentences
from ullage.evidence.slips import Hypothesis
from ullage.evidence.update import Ensemble, Posterior, Prover, remaining
from ullage.evidence.waiting import Progress, Stop, Waiting
from ullage.transport.recipe import Recipe
from ullage.transport.values import Values

Floats = NDArray[np.float64]

#: From here on a target counts as met, down to here as missed; between the two nothing is shown.
SURE, UNSURE = 0.95, 0.05
_LESS_PRIOR, _LESS_ANSWER = 500, 250


def prover_of(
    circuit: Circuit,
    recipe: Recipe,
    evidence: Evidence,
    *,
    seed: int = 0,
    prior: int | None = None,
    answer: int | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Prover:
    """Return a circuit and a recipe as carried out, with the prior's machines already run.

    ``progress`` and ``stop`` are those of ``prove``.

    It may be kept for other readings that neither count cycles nor measure waste step by step nor
    were taken within a step: what was done stays the same then.
    """
    ratio = best_flow_ratio(circuit, evidence)
    machine = as_measured(circuit, evidence)
    sizes: dict[str, int] = {}
    if prior is not None:
        sizes["prior"] = prior
    if answer is not None:
        sizes["answer"] = answer
    return Prover(
        machine,
        carried_out(recipe, circuit, evidence),
        seed=seed,
        change=None if ratio == 1.0 else _with_best_flow(ratio),
        waiting=Waiting(progress=progress, stop=stop),
        **sizes,
    )


def _with_best_flow(ratio: float) -> Change:
    """Return the change that the best values take the flow that was measured."""

    def change(values: Values) -> Values:
        pumped, limit = values.pump_m3_rev.copy(), values.pump_limit_m3_s.copy()
        pumped[0] *= ratio
        limit[0] *= ratio
        return replace(values, pump_m3_rev=pumped, pump_limit_m3_s=limit)

    return change


def prove(
    circuit: Circuit,
    recipe: Recipe,
    evidence: Evidence,
    *,
    target_share: float | None = None,
    seed: int = 0,
    container_m3: float = 1e-3,
    prover: Prover | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Verdict:
    """Return what is left where, given what was measured.

    Parameters
    ----------
    circuit, recipe, evidence : values
        The machine, what was done, and what was read.
    target_share : scalar
        Old fluid that may be left, above 0 to below 1; None: nobody said. [-]
    seed : scalar
        Names the random numbers. [-]
    container_m3 : scalar
        What one container of new fluid holds. [m3]
    prover : value
        Of ``prover_of`` with the same circuit and recipe; None makes one.
    progress : callable
        Told what is under way, how much of it is done, and of how much; each kind of work counts
        from 0.
    stop : callable
        Asked often, also from other threads; once it says yes the answer is given up within half
        a second.

    Returns
    -------
    verdict : Verdict
        With three sentences.

    Raises
    ------
    FileFaults
        If a reading cannot belong to this circuit and recipe.
    OutOfRange
        If the target is no share between 0 and 1.
    Stopped
        If ``stop`` said yes before the answer was there.

    Validity
    --------
    As good as circuit, recipe and the stated uncertainties; figures are final only where the
    weights can be trusted (``trust.is_final``).

    Source
    ------
    Bayes' rule on the machines of ``transport``; docs/adr/0040.
    """
    faults = evidence_faults(evidence, circuit, recipe)
    if faults:
        raise FileFaults("evidence", faults)
    if target_share is not None and not 0.0 < target_share < 1.0:
        raise OutOfRange(
            "target", 100.0 * target_share, "above 0 and below 100 %", "10 is a common wish"
        )
    if prover is None:
        prover = prover_of(circuit, recipe, evidence, seed=seed, progress=progress, stop=stop)
    waiting = Waiting(progress=progress, stop=stop)
    machine = prover.forward.circuit
    readings = readings_of(evidence, machine, recipe)
    posterior = prover.posterior(readings, waiting=waiting)
    fit = fit_of(readings, posterior, seed)
    if not fit.fits:
        found = reasons(readings, prover.forward, posterior.prior, waiting=waiting)
        fit = replace(fit, hypotheses=found)
    shown = posterior.ensemble if fit.fits else posterior.prior
    balance = mass_balance(readings, posterior.prior)
    p_met, met = _met(shown, target_share, posterior, fit)
    if_named = _if_named(fit.named, readings, prover, waiting) if not fit.fits else None
    ahead = outlook(prover.forward, recipe, shown, taken=_taken(evidence, recipe), waiting=waiting)
    verdict = Verdict(
        remaining=_band(shown, shown.old_share),
        remaining_before=_band(posterior.prior, posterior.prior.old_share),
        parts=_parts(machine, shown, posterior.prior),
        target_share=target_share,
        p_met=p_met,
        met=met,
        fit=fit,
        if_named=if_named,
        next=ahead.ranked(container_m3=container_m3),
        balance=balance,
        dilution=dilution_checks(evidence, recipe, known_m3=_known_m3(machine, shown.shown)),
        readings=readings,
        trust=Trust(
            k_hat=posterior.k_hat,
            effective=posterior.effective,
            rounds=posterior.rounds,
            emulator_u=float(posterior.emulator_u.max(initial=0.0)),
            is_final=posterior.is_final,
        ),
        sentences=("", "", ""),
    )
    return replace(verdict, sentences=sentences(verdict))


def _taken(evidence: Evidence, recipe: Recipe) -> frozenset[str]:
    """Return where samples of the machine as it now stands were drawn."""
    last = [s for s in evidence.samples if s.after_step == len(recipe.steps)]
    return frozenset(
        s.leg or s.place.value for s in last if s.at_step_m3 is None and s.place is not Place.BUCKET
    )


def _met(
    shown: Ensemble, target_share: float | None, posterior: Posterior, fit: Fit
) -> tuple[float | None, Met | None]:
    """Return the chance that the target is met, and the word for it."""
    if target_share is None:
        return None, None
    if not fit.fits:
        return None, Met.NOT_SHOWN
    p = float(shown.weights[shown.old_share <= target_share].sum())
    if not posterior.is_final:
        return p, Met.NOT_SHOWN
    return p, Met.YES if p >= SURE else Met.NO if p <= UNSURE else Met.NOT_SHOWN


def _if_named(
    named: Hypothesis | None, readings: tuple[Reading, ...], prover: Prover, waiting: Waiting
) -> Band | None:
    """Return the remainder were a hypothesis true, None where that cannot be told."""
    if named is None:
        return None
    if named.readings is not None:
        changed = prover.posterior(named.readings, waiting=waiting)
    else:
        changed = Prover(
            prover.forward.circuit,
            named.replay or prover.forward.replay,
            seed=prover.seed,
            prior=_LESS_PRIOR,
            answer=_LESS_ANSWER,
            particles=_LESS_PRIOR,
            change=named.change,
            waiting=waiting,
        ).posterior(readings, waiting=waiting)
    return _band(changed.ensemble, changed.ensemble.old_share) if changed.is_final else None


def _band(ensemble: Ensemble, values: Floats) -> Band:
    """Return the band of a share over machines."""
    p05, p50, p95 = (float(np.clip(v, 0.0, 1.0)) for v in ensemble.quantiles(values))
    return Band(p05=p05, p50=p50, p95=p95)


def groups_of(circuit: Circuit) -> dict[str, tuple[str, ...]]:
    """Return the parts that an answer names, each with the solver's parts that it is made of."""
    groups: dict[str, tuple[str, ...]] = {"reservoir": ("reservoir",)}
    groups["loop"] = tuple(circuit.flow_order)
    for leg in circuit.legs:
        groups[leg.id] = (f"{leg.id}.line", f"{leg.id}.chamber")
    return groups


def share_of(shown: Shown, parts: tuple[str, ...]) -> tuple[Floats, Floats]:
    """Return old share and old fluid [m3] of some parts together after the recipe, (members,)."""
    stage = shown.after(shown.job_steps)
    rows = [shown.parts.index(name) for name in parts]
    old, fluid = stage.old_m3[rows].sum(axis=0), stage.parts_m3[rows].sum(axis=0)
    return old / np.maximum(fluid, 1e-12), old


def _parts(circuit: Circuit, after: Ensemble, before: Ensemble) -> dict[str, PartBand]:
    """Return all parts with their bands."""
    found = {}
    for name, parts in groups_of(circuit).items():
        if not parts:
            continue
        share, old = share_of(after.shown, parts)
        first, _ = share_of(before.shown, parts)
        found[name] = PartBand(
            before=_band(before, first),
            after=_band(after, share),
            old_m3=float(after.weights @ old),
        )
    return found


def _known_m3(circuit: Circuit, shown: Shown) -> float:
    """Return what reservoir and loop hold together, on average [m3]."""
    stage = shown.after(shown.job_steps)
    rows = [shown.parts.index(name) for name in ("reservoir", *circuit.flow_order)]
    return float(stage.parts_m3[rows].sum(axis=0).mean())


__all__ = [
    "Band",
    "Met",
    "PartBand",
    "Trust",
    "Verdict",
    "prove",
    "prover_of",
    "remaining",
]
