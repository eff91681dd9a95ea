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

from ullage.evidence.waiting import ALONE, Waiting
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
# Machines whose terms are worked out at once.
_AT_ONCE = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What machines put into a polynomial: numbers, each as far from its mean as its own spread,
    the uniforms behind them, and the class of structure.

    ``x`` and ``uniforms`` are (numbers, members), ``classes`` (members,)."""

    x: Floats
    uniforms: Floats
    classes: NDArray[np.intp]

    def columns(self, chosen: slice) -> Inputs:
        """Return some of the machines."""
        return Inputs(
            x=self.x[:, chosen], uniforms=self.uniforms[:, chosen], classes=self.classes[chosen]
        )


class Scale:
    """Turns standard normals into inputs, all numbers of a circuit at once."""

    def __init__(self, latents: Latents) -> None:
        self._latents = latents
        low, best, high = (
            np.array([[getattr(n, end)] for n in latents.unknowns]).reshape(-1, 1)
            for end in ("low", "best", "high")
        )
        sd = np.array([[n.standard_uncertainty] for n in latents.unknowns]).reshape(-1, 1)
        span = (high - low) / sd
        self._mode = (best - low) / (high - low)
        # The quantile of a triangle, measured from its mean in units of its own spread.
        self._low = (low - (low + best + high) / 3.0) / sd
        self._high = self._low + span
        self._rise, self._fall = span * np.sqrt(self._mode), span * np.sqrt(1.0 - self._mode)

    def __call__(self, normals: Floats) -> Inputs:
        """Return the inputs of machines, from (names, members) standard normals."""
        uniforms = ndtr(normals)
        numbers = uniforms[:-1]
        x = np.where(
            numbers < self._mode,
            self._low + self._rise * np.sqrt(numbers),
            self._high - self._fall * np.sqrt(1.0 - numbers),
        )
        return Inputs(x=x, uniforms=numbers, classes=self._latents.classes(uniforms))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Which terms a polynomial has beyond straight lines, squares and classes.

    ``products`` are two powers with the inputs that are raised to them; ``ruling`` the inputs with
    terms of high order; ``sloped`` those with slopes by class."""

    products: tuple[tuple[int, int, Terms, Terms], ...]
    ruling: Terms
    sloped: Terms

    def terms(self, inputs: Inputs) -> Floats:
        """Return the terms, (terms, members)."""
        x = inputs.x
        marks = np.array([(inputs.classes == n) * 1.0 for n in range(1, len(CLASSES))])
        squares = x * x
        powers = (x, squares, squares * x)
        products = [powers[p - 1][a] * powers[q - 1][b] for p, q, a, b in self.products]
        return np.concatenate(
            [
                np.ones((1, x.shape[1])),
                x,
                squares - 1.0,
                marks,
                *(mark * x[self.sloped] for mark in marks),
                *products,
                *_legendre(2.0 * inputs.uniforms[self.ruling] - 1.0),
            ]
        )


_NO_TERMS = Shape(
    products=(),
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

    scale: Scale
    shape: Shape
    weights: Floats
    error: Floats

    def __call__(self, normals: Floats) -> Floats:
        """Return what machines would show, (readings, members)."""
        return self.at(self.scale(normals))

    def at(self, inputs: Inputs) -> Floats:
        """Return what machines with these inputs would show, (readings, members)."""
        # In pieces that stay in the processor's own memory.
        count = inputs.x.shape[1]
        shown = np.empty((len(self.weights), count))
        for first in range(0, count, _AT_ONCE):
            piece = slice(first, first + _AT_ONCE)
            shown[:, piece] = self.weights @ self.shape.terms(inputs.columns(piece))
        return shown


def fit(
    latents: Latents,
    normals: Floats,
    shown: Floats,
    *,
    trust: Floats | None = None,
    waiting: Waiting = ALONE,
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
    waiting : value
        Asked now and then whether to go on.

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
    scaled = Scale(latents)
    inputs = scaled(normals)
    first = _NO_TERMS.terms(inputs)
    d = len(latents.unknowns)
    slopes = np.abs(_solve(first * root, y * root)[:, 1 : d + 1])
    counting = float(weight.sum() ** 2 / (weight**2).sum())
    shape = _shape(slopes, max(int(counting / _RUNS_PER_TERM) - first.shape[0], 0))
    terms = shape.terms(inputs)
    missed = np.empty_like(y)
    fold = np.arange(count) % 5
    grams, aims = [], []
    for k in range(5):
        waiting.ask()
        grams.append(_gram(terms[:, fold == k] * root[fold == k]))
        aims.append((terms[:, fold == k] * weight[fold == k]) @ y[:, fold == k].T)
    gram, aim = np.sum(grams, axis=0), np.sum(aims, axis=0)
    for k in range(5):
        waiting.ask()
        fitted = _ridge(gram - grams[k], aim - aims[k], count)
        missed[:, fold == k] = y[:, fold == k] - fitted @ terms[:, fold == k]
    waiting.ask()
    weights = _ridge(gram, aim, count) * scale
    weights[:, 0] += shown.mean(axis=1)
    missed = missed * scale
    return Emulator(
        scale=scaled,
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
    powers = rows[:, [1, 3]]
    together = []
    for p, q in dict.fromkeys((int(p), int(q)) for p, q in powers):
        same = rows[(powers == (p, q)).all(axis=1)]
        together.append((p, q, same[:, 0], same[:, 2]))
    return Shape(
        products=tuple(together),
        ruling=np.array(ruling, dtype=np.intp),
        sloped=sloped.astype(np.intp),
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
