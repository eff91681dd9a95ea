"""A fast stand-in for the solver: smooth surfaces through what an ensemble of runs showed.

Readings are smooth in the numbers of a circuit, so a second-order polynomial in them, with a level
and slopes of its own for every class of structure, follows the solver to about a point. How far
off it is is measured on runs it was not fitted to, and becomes part of the error of every reading.
It serves to find machines that fit; what they hold is then always asked of the solver itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ullage.transport.latent import Latents
from ullage.transport.structure import CLASSES

Floats = NDArray[np.float64]

# Terms beyond straight lines and squares: products of the pairs that matter most, third powers,
# and slopes by class. More of them need more runs than they are worth.
_PAIRS, _CUBES, _BY_CLASS = 90, 8, 12
# Runs for each term at least; with fewer, products are left out.
_RUNS_PER_TERM = 3.0
_RIDGE = 1e-3


def inputs(latents: Latents, normals: Floats) -> Floats:
    """Return the numbers behind standard normals, each as far from its mean as its own spread,
    (numbers, members).
    """
    u = ndtr(normals[:-1])
    found = np.empty_like(u)
    for i, number in enumerate(latents.unknowns):
        mean = (number.low + number.best + number.high) / 3.0
        found[i] = (number.at_quantile(u[i]) - mean) / number.standard_uncertainty
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Emulator:
    """Surfaces fitted to an ensemble; ``error`` is the covariance of what they miss."""

    latents: Latents
    pairs: NDArray[np.intp]
    cubes: NDArray[np.intp]
    sloped: NDArray[np.intp]
    weights: Floats
    error: Floats

    def __call__(self, normals: Floats) -> Floats:
        """Return what machines would show, (readings, members)."""
        return np.asarray(self.weights @ self.terms(normals))

    def terms(self, normals: Floats) -> Floats:
        """Return the terms of the polynomial, (terms, members)."""
        return _terms(self.latents, normals, self.pairs, self.cubes, self.sloped)


def _terms(
    latents: Latents,
    normals: Floats,
    pairs: NDArray[np.intp],
    cubes: NDArray[np.intp],
    sloped: NDArray[np.intp],
) -> Floats:
    """Return constant, straight lines, squares, classes, slopes by class, products and cubes."""
    x = inputs(latents, normals)
    classes = latents.classes(ndtr(normals))
    marks = np.array([(classes == n) * 1.0 for n in range(1, len(CLASSES))])
    slopes = (marks[:, None, :] * x[sloped][None, :, :]).reshape(-1, x.shape[1])
    return np.concatenate(
        [
            np.ones((1, x.shape[1])),
            x,
            x**2 - 1.0,
            marks,
            slopes,
            x[pairs[:, 0]] * x[pairs[:, 1]],
            x[cubes] ** 3,
        ]
    )


def fit(
    latents: Latents, normals: Floats, shown: Floats, *, trust: Floats | None = None
) -> Emulator:
    """Return surfaces through what an ensemble showed.

    Parameters
    ----------
    latents : value
        What is unknown.
    normals : (names, members)
        Standard normals of the members. [-]
    shown : (readings, members)
        What the solver says that they show. [any]
    trust : (members,)
        How much each member counts, in the fit and in the error; None: all the same. [-]

    Returns
    -------
    emulator : Emulator
        With the covariance of its errors on members left out of the fit, five parts in turn.
    """
    d, count = len(latents.unknowns), normals.shape[1]
    weight = np.ones(count) if trust is None else trust / trust.mean()
    root = np.sqrt(weight)
    none = np.zeros((0, 2), dtype=np.intp)
    first = _terms(latents, normals, none, none[:, 0], none[:, 0])
    scale = np.maximum(shown.std(axis=1), 1e-15)[:, None]
    y = (shown - shown.mean(axis=1)[:, None]) / scale
    slopes = np.abs(_solve(first * root, y * root)[:, 1 : d + 1])
    room = int(count / _RUNS_PER_TERM) - first.shape[0]
    order = np.argsort(-slopes.max(axis=0))
    sloped = order[: min(_BY_CLASS, max(room // 6, 0))]
    cubes = order[: min(_CUBES, max(room // 6, 0))]
    left = max(room - 3 * len(sloped) - len(cubes), 0)
    a, b = np.triu_indices(d, 1)
    worth = (slopes[:, a] * slopes[:, b]).max(axis=0)
    chosen = np.argsort(-worth)[: min(_PAIRS, left)]
    pairs = np.stack([a[chosen], b[chosen]], axis=1).astype(np.intp)
    terms = _terms(latents, normals, pairs, cubes, sloped)
    missed = np.empty_like(y)
    fold = np.arange(count) % 5
    for k in range(5):
        rest = fold != k
        fitted = _solve(terms[:, rest] * root[rest], y[:, rest] * root[rest])
        missed[:, ~rest] = y[:, ~rest] - fitted @ terms[:, ~rest]
    weights = _solve(terms * root, y * root) * scale
    weights[:, 0] += shown.mean(axis=1)
    missed = missed * scale
    return Emulator(
        latents=latents,
        pairs=pairs,
        cubes=cubes,
        sloped=sloped,
        weights=weights,
        error=np.asarray((missed * weight) @ missed.T / count),
    )


def _solve(terms: Floats, y: Floats) -> Floats:
    """Return the least-squares weights with a touch of ridge, (readings, terms)."""
    gram = terms @ terms.T
    gram[np.diag_indices_from(gram)] += _RIDGE * terms.shape[1] / 100.0
    return np.asarray(np.linalg.solve(gram, terms @ y.T).T)
