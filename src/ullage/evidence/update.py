"""What is left where, once the readings have been taken in: the posterior over machines.

An ensemble of the prior is run by the solver and an emulator fitted to it; sequential Monte Carlo
on the emulator finds machines that fit; the solver runs those, and what the emulator missed is made
good by weights. Where weights cannot make it good, the emulator is fitted again with the new runs
and the search goes on from where it stands. The answer is always what the solver says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from ullage.circuit.network import Circuit
from ullage.evidence import emulator, sampler
from ullage.evidence.forward import Change, Forward, Shown
from ullage.evidence.reading import Reading, covariance
from ullage.evidence.replay import Replay
from ullage.evidence.waiting import ALONE, Waiting
from ullage.transport.latent import Latents

Floats = NDArray[np.float64]

#: What somebody who waits is told while machines that fit are looked for.
FITTING = "finding machines that fit"
#: Machines of the prior that the solver runs, and machines of the answer.
PRIOR, ANSWER = 1500, 600
#: Rounds, and rounds where nothing final has been found by then.
_ROUNDS, _MOST_ROUNDS = 3, 5
#: Weights better than this are taken without another round.
_GOOD_K, _GOOD_SHARE = 0.5, 0.25
#: Runs of the prior, far from the posterior, count so much in later fits.
_FAR = 0.05
_HALF_LOG_TWO_PI = 0.5 * np.log(2.0 * np.pi)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaussian:
    """The likelihood of readings whose errors are Gaussian."""

    value: Floats
    root: Floats
    whiten: Floats

    @classmethod
    def of(cls, value: Floats, cov: Floats) -> Gaussian:
        """Return the likelihood with a covariance, (readings, readings)."""
        root = np.linalg.cholesky(np.asarray(cov, dtype=np.float64))
        return cls(value=value, root=root, whiten=np.asarray(np.linalg.inv(root)))

    def residuals(self, shown: Floats) -> Floats:
        """Return residuals made independent, of spread 1, (readings, members)."""
        return np.asarray(self.whiten @ (self.value[:, None] - shown))

    def log(self, shown: Floats) -> Floats:
        """Return the log-likelihood of members that show so much, (members,)."""
        size = np.log(np.diag(self.root)).sum() + len(self.value) * _HALF_LOG_TWO_PI
        return np.asarray(-0.5 * (self.residuals(shown) ** 2).sum(axis=0) - size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ensemble:
    """Machines and what they show; ``weights`` add up to 1."""

    normals: Floats
    weights: Floats
    shown: Shown
    predicted: Floats

    @property
    def old_share(self) -> Floats:
        """Return the remainder of the whole circuit at the end of the recipe, (members,)."""
        return remaining(self.shown)

    def quantiles(self, values: Floats, at: Sequence[float] = (0.05, 0.5, 0.95)) -> Floats:
        """Return weighted quantiles of a figure over the machines."""
        order = np.argsort(values)
        w = self.weights[order]
        return np.asarray(np.interp(at, np.cumsum(w) - 0.5 * w, values[order]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Machines that fit the readings, and how far to trust them.

    ``k_hat`` and ``effective`` speak of the weights; ``emulator_u`` is the spread of what the
    emulator missed, reading by reading."""

    ensemble: Ensemble
    prior: Ensemble
    k_hat: float
    effective: float
    rounds: int
    log_evidence: float
    emulator_u: Floats
    acceptance: float

    @property
    def is_final(self) -> bool:
        """Tell whether the weights can be trusted."""
        return self.k_hat < sampler.K_HAT_MOST


def remaining(shown: Shown, step: int | None = None) -> Floats:
    """Return the old share of all fluid at the end of the recipe, (members,)."""
    stage = shown.after(shown.job_steps if step is None else step)
    return np.asarray(stage.old_m3.sum(axis=0) / stage.parts_m3.sum(axis=0))


class Prover:
    """A circuit and a recipe as carried out, with an ensemble of the prior that is kept."""

    def __init__(
        self,
        circuit: Circuit,
        replay: Replay,
        *,
        seed: int = 0,
        prior: int = PRIOR,
        answer: int = ANSWER,
        particles: int = sampler.PARTICLES,
        change: Change | None = None,
        threads: int | None = None,
        waiting: Waiting = ALONE,
    ) -> None:
        self.forward = Forward(circuit, replay, change=change, threads=threads)
        self.seed = seed
        self.answer = answer
        self.particles = particles
        self.normals = ndtri(self.latents.drawn(seed=seed, count=prior))
        self.shown = self.forward.run(ndtr(self.normals), waiting=waiting)

    @property
    def latents(self) -> Latents:
        """Return what is unknown."""
        return self.forward.latents

    def prior(self, readings: Sequence[Reading]) -> Ensemble:
        """Return the machines of the prior, all of the same weight."""
        return _ensemble(self.normals, self.shown, readings, None)

    def posterior(self, readings: Sequence[Reading], *, waiting: Waiting = ALONE) -> Posterior:
        """Return the machines that fit the readings; without any, the prior.

        ``waiting`` is told percents of the rounds that it takes at most.
        """
        prior = self.prior(readings)
        if not readings:
            count = prior.weights.size
            return Posterior(
                ensemble=prior,
                prior=prior,
                k_hat=-np.inf,
                effective=float(count),
                rounds=0,
                log_evidence=0.0,
                emulator_u=np.zeros(0),
                acceptance=1.0,
            )
        value = np.array([r.value for r in readings])
        cov = covariance(readings)
        exact = Gaussian.of(value, cov)
        normals, shown = self.normals, prior.predicted
        trust = np.ones(shown.shape[1])
        start = ndtri(self.latents.drawn(seed=self.seed + 1, count=self.particles))
        before: sampler.LogLikelihood | None = None
        log_evidence = 0.0
        found: Posterior | None = None
        for round_ in range(1, _MOST_ROUNDS + 1):
            surface = emulator.fit(
                self.latents, normals, shown, trust=trust, waiting=Waiting(stop=waiting.stop)
            )
            rough = Gaussian.of(value, cov + surface.error)

            def log(
                x: emulator.Inputs, s: emulator.Emulator = surface, g: Gaussian = rough
            ) -> Floats:
                return g.log(s.at(x))

            seed = self.seed * _MOST_ROUNDS + round_

            def tell(share: float, round_: int = round_) -> None:
                waiting.tell(FITTING, int(100.0 * (round_ - 1.0 + share) / _MOST_ROUNDS), 100)

            fitting = sampler.sample(
                log, start=start, seed=seed, before=before, prepare=surface.scale, tell=tell
            )
            log_evidence += fitting.log_evidence
            chosen = np.linspace(0, self.particles - 1, self.answer).astype(int)
            mine = fitting.normals[:, chosen]
            run = self.forward.run(ndtr(mine), waiting=Waiting(stop=waiting.stop))
            predicted = predict(readings, run)
            log_weights = exact.log(predicted) - fitting.log_likelihood[chosen]
            k_hat, ess = sampler.pareto_k(log_weights), sampler.effective(log_weights)
            if found is None or (k_hat < sampler.K_HAT_MOST, ess) > (
                found.is_final,
                found.effective,
            ):
                found = Posterior(
                    ensemble=_ensemble(mine, run, readings, log_weights, predicted),
                    prior=prior,
                    k_hat=k_hat,
                    effective=ess,
                    rounds=round_,
                    log_evidence=log_evidence,
                    emulator_u=np.sqrt(np.diag(surface.error)),
                    acceptance=fitting.accepted,
                )
            if k_hat < _GOOD_K and ess > _GOOD_SHARE * self.answer:
                break
            if round_ >= _ROUNDS and found.is_final:
                break
            normals = np.concatenate([normals, mine], axis=1)
            shown = np.concatenate([shown, predicted], axis=1)
            trust[: self.normals.shape[1]] = _FAR
            trust = np.concatenate([trust, np.ones(self.answer)])
            start, before = fitting.normals, log
        waiting.tell(FITTING, 100, 100)
        if found is None:
            raise ValueError("a posterior without a round")
        return found


def predict(readings: Sequence[Reading], shown: Shown) -> Floats:
    """Return what machines show for each reading, (readings, members)."""
    if not readings:
        return np.zeros((0, shown.count))
    return np.array([reading.predict(shown) for reading in readings])


def _ensemble(
    normals: Floats,
    shown: Shown,
    readings: Sequence[Reading],
    log_weights: Floats | None,
    predicted: Floats | None = None,
) -> Ensemble:
    """Return machines with weights that add up to 1."""
    count = shown.count
    weights = np.full(count, 1.0 / count)
    if log_weights is not None:
        weights = np.exp(log_weights - log_weights.max())
        weights /= weights.sum()
    return Ensemble(
        normals=normals,
        weights=weights,
        shown=shown,
        predicted=predict(readings, shown) if predicted is None else predicted,
    )
