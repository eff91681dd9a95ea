"""Do the readings fit the circuit and the recipe at all, and if not, what is likeliest amiss?

Two questions are asked: are the readings what machines of the prior could show, and does any
machine come near all of them at once? Where the answer is no, named hypotheses, each a model with
one thing changed, are weighed against each other, and the one reading that speaks loudest for the
winner is named. Averaging readings that contradict each other is never the answer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincc, ndtr

from ullage.evidence.forward import Forward
from ullage.evidence.reading import Reading, covariance
from ullage.evidence.slips import Hypothesis, changed, swapped, wrong_jug
from ullage.evidence.update import Ensemble, Gaussian, Posterior, predict
from ullage.evidence.waiting import ALONE, Waiting

Floats = NDArray[np.float64]

#: What somebody who waits is told while reasons are looked for.
LOOKING = "looking for what is amiss"
# Chance of a false alarm of either question.
_NO_MACHINE_P, _STRANGE_P = 3e-3, 2e-3
# Readings less likely than this under a hypothesis speak against it too: rough, as the hypotheses.
_REASON_P = 1e-4
#: Odds of each hypothesis against "all as in the files" before any reading. Judgement.
PRIOR_ODDS = 0.02
#: A hypothesis is named when the readings are so many times likelier under it.
NAMED_FROM = 10.0
_MACHINES = 160
#: Without one reading the others must lie so much nearer (squared, in standard deviations) than
#: without any other for it to be the one that stands apart: odds of twenty to one.
_CLEARLY = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Whether the readings fit; ``no_machine_p`` and ``strange_p`` are the chances of a worse fit.

    ``hypotheses`` are sorted, the likeliest first; empty where the readings fit. ``apart`` are
    readings: one that all others speak against, or two that speak against each other."""

    fits: bool
    no_machine_p: float
    strange_p: float
    hypotheses: tuple[Hypothesis, ...] = ()
    apart: tuple[Reading, ...] = ()

    @property
    def named(self) -> Hypothesis | None:
        """Return the hypothesis that stands out and that the readings fit, if there is one.

        What is merely less impossible than the files is no reason.
        """
        best = next((h for h in self.hypotheses if h.chance >= _REASON_P), None)
        return best if best is not None and best.odds >= NAMED_FROM * PRIOR_ODDS else None


def fit_of(readings: Sequence[Reading], posterior: Posterior, seed: int) -> Fit:
    """Return whether the readings fit, without looking for a reason.

    Source
    ------
    Effective number of fitted unknowns as in the deviance criterion, from memory; the chance of
    stranger readings by simulation from the prior.
    """
    if not readings:
        return Fit(fits=True, no_machine_p=1.0, strange_p=1.0)
    rule = Gaussian.of(np.array([r.value for r in readings]), covariance(readings))
    ensemble = posterior.ensemble
    chi2 = (rule.residuals(ensemble.predicted) ** 2).sum(axis=0)
    middle = (ensemble.predicted @ ensemble.weights)[:, None]
    least = float((rule.residuals(middle) ** 2).sum())
    fitted = float(np.clip(chi2 @ ensemble.weights - least, 0.0, len(readings) - 0.5))
    free = max(len(readings) - fitted, 0.5)
    no_machine_p = float(gammaincc(0.5 * free, 0.5 * least))
    strange_p = _strange_p(rule, posterior.prior, seed)
    fits = no_machine_p >= _NO_MACHINE_P and strange_p >= _STRANGE_P
    return Fit(
        fits=fits,
        no_machine_p=no_machine_p,
        strange_p=strange_p,
        apart=() if fits else _apart(readings, posterior.prior),
    )


def _apart(readings: Sequence[Reading], prior: Ensemble) -> tuple[Reading, ...]:
    """Return the reading without which the others fit, or the two of which either could go."""
    every = np.arange(len(readings))
    values = np.array([r.value for r in readings])
    density = _Density.of(prior.predicted, covariance(readings))
    left = [density.distance2(values, np.delete(every, i)) for i in every]
    order = np.argsort(left)
    if _chance(left[order[0]], len(readings) - 1) < _NO_MACHINE_P:
        return ()
    is_alone = len(readings) == 1 or left[order[1]] - left[order[0]] > _CLEARLY
    return tuple(readings[i] for i in order[: 1 if is_alone else 2])


def _chance(distance2: float, count: int) -> float:
    """Return the chance of so many Gaussian readings that lie farther out."""
    return float(gammaincc(0.5 * count, 0.5 * distance2)) if count else 1.0


def _strange_p(rule: Gaussian, prior: Ensemble, seed: int) -> float:
    """Return the share of prior machines whose readings would lie farther out than these."""
    random = np.random.default_rng([seed, 21])
    shown = prior.predicted
    noise = rule.root @ random.standard_normal(shown.shape)
    mean = shown.mean(axis=1, keepdims=True)
    cov = np.cov(shown).reshape(len(shown), -1) + rule.root @ rule.root.T
    root = np.linalg.cholesky(cov)
    far = (np.linalg.solve(root, shown + noise - mean) ** 2).sum(axis=0)
    here = (np.linalg.solve(root, rule.value[:, None] - mean) ** 2).sum()
    return float((1 + (far >= here).sum()) / (1 + far.size))


def reasons(
    readings: Sequence[Reading],
    forward: Forward,
    prior: Ensemble,
    *,
    uniforms: Floats | None = None,
    waiting: Waiting = ALONE,
) -> tuple[Hypothesis, ...]:
    """Return what may be amiss, the likeliest first.

    Parameters
    ----------
    readings : values
        Of the file, all together.
    forward : value
        The circuit and the recipe as carried out.
    prior : value
        Machines of the prior, run.
    uniforms : (names, members)
        Machines on which changed inputs are tried; None: the first of the prior. [-]
    waiting : value
        Told how many of the changes have been tried.

    Returns
    -------
    hypotheses : Hypothesis
        With odds after the readings, against "all as in the files".

    Validity
    --------
    What machines show is taken as Gaussian for each hypothesis: good enough to tell which one
    stands out, not for fine differences.

    Source
    ------
    Bayes' rule; predictive densities by matching two moments.
    """
    u = ndtr(prior.normals[:, :_MACHINES]) if uniforms is None else uniforms
    values = np.array([r.value for r in readings])
    cov = covariance(readings)
    plain = _Density.of(prior.predicted[:, :_MACHINES], cov)
    found: list[Hypothesis] = []
    guesses = list(changed(forward))
    quiet = Waiting(stop=waiting.stop)
    for i, guess in enumerate(guesses):
        waiting.tell(LOOKING, i, len(guesses))
        trial = Forward(forward.circuit, guess.replay or forward.replay, change=guess.change)
        shown = predict(readings, trial.run(u, waiting=quiet))
        found.append(_weighed(guess, values, _Density.of(shown, cov), values, plain, readings))
    for guess, mended in swapped(readings):
        found.append(_weighed(guess, mended, plain, values, plain, readings))
    jug = wrong_jug(readings, cov)
    if jug is not None:
        guess, wide = jug
        wrong = _Density.of(prior.predicted[:, :_MACHINES], wide)
        found.append(_weighed(guess, values, wrong, values, plain, readings))
    return tuple(sorted(found, key=lambda h: -h.odds))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Density:
    """What readings machines would give: a Gaussian."""

    mean: Floats
    cov: Floats

    @classmethod
    def of(cls, shown: Floats, cov: Floats) -> _Density:
        off = shown - shown.mean(axis=1, keepdims=True)
        return cls(mean=shown.mean(axis=1), cov=off @ off.T / off.shape[1] + cov)

    def distance2(self, values: Floats, keep: NDArray[np.intp]) -> float:
        """Return how far out some of the readings lie, squared, in standard deviations."""
        if not keep.size:
            return 0.0
        off = values[keep] - self.mean[keep]
        return float(off @ np.linalg.solve(self.cov[np.ix_(keep, keep)], off))

    def log(self, values: Floats, keep: NDArray[np.intp]) -> float:
        """Return the log density of some of the readings."""
        cov = self.cov[np.ix_(keep, keep)]
        _, size = np.linalg.slogdet(cov)
        return float(-0.5 * self.distance2(values, keep) - 0.5 * size)


def _weighed(
    guess: Hypothesis,
    values: Floats,
    density: _Density,
    plain_values: Floats,
    plain: _Density,
    readings: Sequence[Reading],
) -> Hypothesis:
    """Return a hypothesis with its odds and the reading on which it rests."""
    every = np.arange(len(readings))

    def gain(keep: NDArray[np.intp]) -> float:
        if not keep.size:
            return 0.0
        return density.log(values, keep) - plain.log(plain_values, keep)

    whole = gain(every)
    falls = [whole - gain(np.delete(every, i)) for i in every]
    return replace(
        guess,
        odds=PRIOR_ODDS * math.exp(min(whole, 500.0)),
        chance=_chance(density.distance2(values, every), len(readings)),
        rests_on=readings[int(np.argmax(falls))].words,
    )


__all__ = ["Fit", "Hypothesis", "fit_of", "reasons"]
