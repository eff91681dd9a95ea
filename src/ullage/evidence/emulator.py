"""A fast stand-in for the solver: smooth surfaces through what an ensemble of runs showed.

Readings are smooth in the numbers of a circuit, so a polynomial in them, of high order only in the
few that rule a reading, with a level and slopes of its own for every class of structure, follows
the solver to a point or two. How far off it is is measured on runs that it was not fitted to, and
becomes part of the error of every reading. It serves to find machines that fit; what they hold is
then always asked of the solver itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ullage.transport.latent import Latents
from ullage.transport.structure import CLASSES

Floats = NDArray[np.float64]
Terms = NDArray[np.intp]

# Terms beyond straight lines and squares: slopes by class, products of the pairs that matter most,
# and, for the input that rules a reading, higher orders and products of higher order with the next.
_BY_CLASS, _PAIRS, _NEXT = 12, 90, 6
_HIGHEST = 6
_RULING_MOST = 8
# Runs for each term at least; with fewer, the terms that come last are left out.
_RUNS_PER_TERM = 3.0
_RIDGE = 1e-5


def inputs(latents: Latents, normals: Floats) -> Floats:
    """Return the numbers behind standard normals, each as far from its mean as its own spread,
    (numbers, members).
    """
    return _inputs(latents, ndtr(normals[:-1]))


def _inputs(latents: Latents, uniforms: Floats) -> Floats:
    """Return standardised numbers at their quantiles."""
    found = np.empty_like(uniforms)
    for i, number in enumerate(latents.unknowns):
        mean = (number.low + number.best + number.high) / 3.0
        found[i] = (number.at_quantile(uniforms[i]) - mean) / number.standard_uncertainty
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Which terms a polynomial has beyond straight lines, squares and classes.

    ``products`` are rows (input, power, input, power); ``ruling`` the inputs with terms of high
    order; ``sloped`` those with slopes by class."""

    products: Terms
    ruling: Terms
    sloped: Terms

    def terms(self, latents: Latents, normals: Floats) -> Floats:
        """Return the terms, (terms, members)."""
        uniforms = ndtr(normals)
        x = _inputs(latents, uniforms[:-1])
        classes = latents.classes(uniforms)
        marks = np.array([(classes == n) * 1.0 for n in range(1, len(CLASSES))])
        count = x.shape[1]
        powers = np.array([x, x * x, x * x * x])
        a, p, b, q = self.products.T
        slopes = (marks[:, None, :] * x[self.sloped][None, :, :]).reshape(-1, count)
        return np.concatenate(
            [
                np.ones((1, count)),
                x,
                powers[1] - 1.0,
                marks,
                slopes,
                powers[p - 1, a] * powers[q - 1, b],
                *_legendre(2.0 * uniforms[self.ruling] - 1.0),
            ]
        )


_NO_TERMS = Shape(
    products=np.zeros((0, 4), dtype=np.intp),
    ruling=np.zeros(0, dtype=np.intp),
    sloped=np.zeros(0, dtype=np.intp),
)


def _legendre(t: Floats) -> list[Floats]:
    """Return the Legendre polynomials of degree 3 to ``_HIGHEST``, by their recurrence."""
    before, now = t, 1.5 * t * t - 0.5
    found = []
    for n in range(3, _HIGHEST + 1):
        before, now = now, ((2 * n - 1) * t * now - (n - 1) * before) / n
        found.append(now)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Emulator:
    """Surfaces fitted to an ensemble; ``error`` is the covariance of what they miss."""

    latents: Latents
    shape: Shape
    weights: Floats
    error: Floats

    def __call__(self, normals: Floats) -> Floats:
        """Return what machines would show, (readings, members)."""
        return np.asarray(self.weights @ self.shape.terms(self.latents, normals))


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
    count = normals.shape[1]
    weight = np.ones(count) if trust is None else trust / trust.mean()
    root = np.sqrt(weight)
    scale = np.maximum(shown.std(axis=1), 1e-15)[:, None]
    y = (shown - shown.mean(axis=1)[:, None]) / scale
    first = _NO_TERMS.terms(latents, normals)
    d = len(latents.unknowns)
    slopes = np.abs(_solve(first * root, y * root)[:, 1 : d + 1])
    counting = float(weight.sum() ** 2 / (weight**2).sum())
    shape = _shape(slopes, max(int(counting / _RUNS_PER_TERM) - first.shape[0], 0))
    terms = shape.terms(latents, normals)
    missed = np.empty_like(y)
    fold = np.arange(count) % 5
    grams = [_gram(terms[:, fold == k] * root[fold == k]) for k in range(5)]
    aims = [(terms[:, fold == k] * weight[fold == k]) @ y[:, fold == k].T for k in range(5)]
    gram, aim = np.sum(grams, axis=0), np.sum(aims, axis=0)
    for k in range(5):
        fitted = _ridge(gram - grams[k], aim - aims[k], count)
        missed[:, fold == k] = y[:, fold == k] - fitted @ terms[:, fold == k]
    weights = _ridge(gram, aim, count) * scale
    weights[:, 0] += shown.mean(axis=1)
    missed = missed * scale
    return Emulator(
        latents=latents,
        shape=shape,
        weights=weights,
        error=np.asarray((missed * weight) @ missed.T / count),
    )


def _shape(slopes: Floats, room: int) -> Shape:
    """Return the terms that are worth having, as many as there is room for."""
    steepest = slopes.max(axis=0)
    order = np.argsort(-steepest)
    sloped = order[: min(_BY_CLASS, room // (4 * (len(CLASSES) - 1)))]
    room -= len(sloped) * (len(CLASSES) - 1)
    ruling = list(dict.fromkeys(int(i) for i in slopes.argmax(axis=1)))[:_RULING_MOST]
    ruling = ruling[: room // (6 * (_HIGHEST - 2))]
    room -= len(ruling) * (_HIGHEST - 2)
    a, b = np.triu_indices(slopes.shape[1], 1)
    worth = (slopes[:, a] * slopes[:, b]).max(axis=0)
    chosen = np.argsort(-worth)[: min(_PAIRS, room)]
    products = [(int(a[i]), 1, int(b[i]), 1) for i in chosen]
    for ruler in ruling:
        mine = slopes[slopes.argmax(axis=1) == ruler].max(axis=0)
        for other in np.argsort(-mine)[: _NEXT + 1]:
            if int(other) != ruler:
                pair = ruler, int(other)
                products += [(pair[0], p, pair[1], q) for p, q in ((2, 1), (1, 2), (3, 1), (2, 2))]
    rows = np.array(list(dict.fromkeys(products))[:room], dtype=np.intp).reshape(-1, 4)
    return Shape(
        products=rows, ruling=np.array(ruling, dtype=np.intp), sloped=sloped.astype(np.intp)
    )


def _gram(terms: Floats) -> Floats:
    """Return the products of all terms with each other."""
    return np.asarray(terms @ terms.T)


def _ridge(gram: Floats, aim: Floats, count: int) -> Floats:
    """Return least-squares weights with a touch of ridge, (readings, terms)."""
    held = gram.copy()
    held[np.diag_indices_from(held)] += _RIDGE * count
    return np.asarray(np.linalg.solve(held, aim).T)


def _solve(terms: Floats, y: Floats) -> Floats:
    """Return least-squares weights, (readings, terms)."""
    return _ridge(_gram(terms), terms @ y.T, terms.shape[1])
