"""Which machines fit the readings? Sequential Monte Carlo from the prior to the posterior.

Unknowns are standard normals, so the prior is known exactly. The weight of the readings grows from
nothing to all in steps that leave half of the particles effective; between steps particles move by
preconditioned Crank-Nicolson proposals about the Gaussian that the particles themselves form. The
generalised Pareto shape (k-hat) says whether a set of weights can be trusted at all."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Log-likelihood of each particle, (members,), for what was prepared of it.
LogLikelihood = Callable[[Any], Floats]

PARTICLES = 1200
MOVES = 4
#: Above this no weighted answer is shown as final.
K_HAT_MOST = 0.7
_ESS_SHARE = 0.5
_ACCEPTED_SHARE = 0.3
_MOST_STEPS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Particles:
    """Machines that fit, all of the same weight, and how it went.

    ``log_evidence`` is the logarithm of the probability density of the readings under the model."""

    normals: Floats
    log_likelihood: Floats
    log_evidence: float
    temperatures: tuple[float, ...]
    accepted: float


def sample(
    log_likelihood: LogLikelihood,
    *,
    start: Floats,
    seed: int,
    before: LogLikelihood | None = None,
    prepare: Callable[[Floats], Any] | None = None,
    tell: Callable[[float], None] | None = None,
    moves: int = MOVES,
) -> Particles:
    """Return machines drawn from the posterior.

    Parameters
    ----------
    log_likelihood : callable
        Of the readings, given normals.
    start : (names, members)
        Draws from the prior, or from the posterior under ``before``. [-]
    seed : scalar
        Names the random numbers. [-]
    before : callable
        A log-likelihood that ``start`` fits already; None: the prior alone.
    prepare : callable
        Makes of normals, (names, members), what both likelihoods are asked about; None: they take
        the normals themselves.
    tell : callable
        Told before every proposal which share of the readings' weight counts by now.
    moves : scalar
        Proposals to every particle at every temperature. [-]

    Returns
    -------
    particles : Particles
        As many as in ``start``.

    Validity
    --------
    Exact in the limit of many particles; standard error of a share about 1.5 / sqrt(members).

    Source
    ------
    Tempering after ``del-moral-2006``, proposals after ``cotter-2013``; from memory.
    """
    random = np.random.default_rng([seed, 20])
    x = start.copy()
    count = x.shape[1]

    def both(x: Floats) -> tuple[Floats, Floats]:
        asked = x if prepare is None else prepare(x)
        return np.zeros(count) if before is None else before(asked), log_likelihood(asked)

    now, aim = both(x)
    done, evidence, beta, accepted = 0.0, 0.0, 0.5, 1.0
    path: list[float] = [0.0]
    while done < 1.0 and len(path) <= _MOST_STEPS:
        gain = aim - now
        step = _next_step(gain, 1.0 - done)
        log_weights = step * gain
        evidence += _log_mean(log_weights)
        done += step
        path.append(done)
        keep = _resampled(log_weights, random)
        x, now, aim = x[:, keep], now[keep], aim[keep]
        mean, root = _gaussian(x)
        y = np.linalg.solve(root, x - mean)  # the same particles where their Gaussian is standard
        for _ in range(moves):
            if tell is not None:
                tell(done)
            beta = float(np.clip(beta * math.exp(1.5 * (accepted - _ACCEPTED_SHARE)), 0.05, 1.0))
            tried = math.sqrt(1.0 - beta**2) * y + beta * random.standard_normal(x.shape)
            trial = mean + root @ tried
            t_now, t_aim = both(trial)
            ratio = (1.0 - done) * (t_now - now) + done * (t_aim - aim)
            # The proposal keeps the Gaussian of the particles, not the prior: put it right.
            ratio += 0.5 * ((x**2).sum(axis=0) - (trial**2).sum(axis=0))
            ratio += 0.5 * ((tried**2).sum(axis=0) - (y**2).sum(axis=0))
            yes = np.log(random.random(count)) < ratio
            x, y = np.where(yes, trial, x), np.where(yes, tried, y)
            now, aim = np.where(yes, t_now, now), np.where(yes, t_aim, aim)
            accepted = float(yes.mean())
    return Particles(
        normals=x,
        log_likelihood=aim,
        log_evidence=evidence,
        temperatures=tuple(path),
        accepted=accepted,
    )


def _log_mean(log_weights: Floats) -> float:
    """Return the logarithm of the mean weight."""
    top = float(log_weights.max())
    return top + math.log(float(np.exp(log_weights - top).mean()))


def effective(log_weights: Floats) -> float:
    """Return how many equal draws weighted ones are worth.

    >>> effective(np.zeros(8))
    8.0
    """
    w = np.exp(log_weights - log_weights.max())
    return float(w.sum() ** 2 / (w**2).sum())


def _next_step(gain: Floats, rest: float) -> float:
    """Return the largest step that leaves the wanted share of particles effective."""
    wanted = _ESS_SHARE * gain.size
    if effective(rest * gain) >= wanted:
        return rest
    low, high = 0.0, rest
    for _ in range(40):
        middle = 0.5 * (low + high)
        if effective(middle * gain) >= wanted:
            low = middle
        else:
            high = middle
    return max(low, 1e-9)


def _resampled(log_weights: Floats, random: np.random.Generator) -> NDArray[np.intp]:
    """Return which particles go on, by systematic resampling."""
    w = np.exp(log_weights - log_weights.max())
    marks = (np.arange(w.size) + random.random()) / w.size
    found = np.searchsorted(np.cumsum(w) / w.sum(), marks)
    return np.asarray(np.minimum(found, w.size - 1), dtype=np.intp)


def _gaussian(x: Floats) -> tuple[Floats, Floats]:
    """Return mean (names, 1) and a root of the covariance of the particles, shrunk to the prior."""
    mean = x.mean(axis=1, keepdims=True)
    names, count = x.shape
    shrunk = min(0.5, names / count)
    cov = (1.0 - shrunk) * (x - mean) @ (x - mean).T / count + shrunk * np.eye(names)
    return mean, np.linalg.cholesky(cov)


def pareto_k(log_weights: Floats) -> float:
    """Return the shape of the generalised Pareto tail of importance weights (k-hat).

    Parameters
    ----------
    log_weights : (members,)
        Logarithms of the weights, up to a constant. [-]

    Returns
    -------
    k : scalar
        Below 0.5 good, below 0.7 usable, above it the weights say nothing. [-]

    Validity
    --------
    From about 50 members.

    Source
    ------
    ``vehtari-2024``, with the estimator of ``zhang-stephens-2009``; from memory.
    """
    count = log_weights.size
    tail = int(min(0.2 * count, 3.0 * math.sqrt(count)))
    if tail < 5:
        return math.inf
    w = np.sort(np.exp(log_weights - log_weights.max()))
    if w[-1] - w[0] <= 1e-12 * w[-1]:
        return -math.inf
    over = w[-tail:] - w[-tail - 1]
    over = over[over > 0.0]
    n = over.size
    if n < 5:
        return math.inf
    m = 30 + int(math.sqrt(n))
    quarter = over[int(n / 4 + 0.5) - 1]
    theta = 1.0 / over[-1] + (1.0 - np.sqrt(m / (np.arange(1, m + 1) - 0.5))) / (3.0 * quarter)
    k = np.log1p(-theta[:, None] * over[None, :]).mean(axis=1)
    if np.any(theta * k >= 0.0):  # weights like those of one machine: no tail to speak of
        return math.inf
    profile = n * (np.log(-theta / k) - k - 1.0)
    weights = np.exp(profile - profile.max())
    best = float((theta * weights).sum() / weights.sum())
    shape = float(np.log1p(-best * over).mean())
    return float((n * shape + 10.0 * 0.5) / (n + 10.0))  # weakly pulled to 1/2
