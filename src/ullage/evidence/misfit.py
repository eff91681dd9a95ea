"""Do the readings fit the circuit and the recipe at all, and if not, what is likeliest amiss?

Two questions are asked: are the readings what machines of the prior could show, and does any
machine come near all of them at once? Where the answer is no, named hypotheses, each a model with
one thing changed, are weighed against each other, and the one reading that speaks loudest for the
winner is named. Averaging readings that contradict each other is never the answer."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincc, ndtr

from ullage.circuit.network import Circuit
from ullage.evidence.forward import Change, Forward
from ullage.evidence.reading import Reading, covariance
from ullage.evidence.replay import Replay
from ullage.evidence.update import Ensemble, Gaussian, Posterior, predict
from ullage.evidence.waiting import ALONE, Waiting
from ullage.transport.recipe import Circulate, Exchange
from ullage.transport.values import Values

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
#: A jug that is wrong may be wrong by so much of what it shows (1 sd). Judgement.
_JUG_ERROR = 0.10
_MOST_SWAPS = 15
#: Without one reading the others must lie so much nearer (squared, in standard deviations) than
#: without any other for it to be the one that stands apart: odds of twenty to one.
_CLEARLY = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """One thing that may be amiss: its name for programs, its words for people, its odds.

    ``odds`` are against "all as in the files", those before the readings included; ``chance`` is
    that of readings as far out were it true; ``rests_on`` is the reading without which the odds
    would fall most. ``change`` makes machines of it, ``readings`` stand in for those of the file.
    """

    code: str
    words: str
    part: str | None = None
    odds: float = 0.0
    chance: float = 1.0
    rests_on: str = ""
    change: Change | None = None
    replay: Replay | None = None
    readings: tuple[Reading, ...] | None = None


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
    guesses = list(_changed(forward))
    quiet = Waiting(stop=waiting.stop)
    for i, guess in enumerate(guesses):
        waiting.tell(LOOKING, i, len(guesses))
        trial = Forward(forward.circuit, guess.replay or forward.replay, change=guess.change)
        shown = predict(readings, trial.run(u, waiting=quiet))
        found.append(_weighed(guess, values, _Density.of(shown, cov), values, plain, readings))
    for guess, swapped in _swapped(readings):
        found.append(_weighed(guess, swapped, plain, values, plain, readings))
    jug = _wrong_jug(readings, cov)
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


# The hypotheses.


def _changed(forward: Forward) -> Iterator[Hypothesis]:
    """Yield hypotheses about the machine and about what was done to it."""
    circuit, replay = forward.circuit, forward.replay
    moved = _exercised(circuit, replay)
    for leg in moved:
        yield Hypothesis(
            code="leg-never-moved",
            words=f"{leg} never moved",
            part=leg,
            change=_with(forward.change, _unmoved([leg], circuit)),
        )
    groups = {circuit.leg_by_id[leg].group for leg in moved} - {None}
    for group in sorted(str(group) for group in groups):
        mates = [leg.id for leg in circuit.legs_named(group)]
        if 1 < len(mates) < len(circuit.legs):
            yield Hypothesis(
                code="leg-never-moved",
                words=f"the legs of {group} never moved",
                part=group,
                change=_with(forward.change, _unmoved(mates, circuit)),
            )
    for leg in moved:
        yield Hypothesis(
            code="air-pocket",
            words=f"there is air in {leg}",
            part=leg,
            change=_with(forward.change, _airy(leg, circuit)),
        )
    if moved:
        for words, factor in (
            ("only half as many cycles were made as counted", 0.5),
            ("hardly any cycles were made", 0.0),
            ("twice as many cycles were made as counted", 2.0),
        ):
            yield Hypothesis(
                code="cycles-miscounted",
                words=words,
                replay=replace(replay, cycle_factor=factor),
                change=forward.change,
            )
    for words, factor in (
        ("the circuit holds a good deal less than its file says", 0.65),
        ("the circuit holds a good deal more than its file says", 1.5),
    ):
        yield Hypothesis(
            code="wrong-circuit", words=words, change=_with(forward.change, _sized(factor))
        )


def _exercised(circuit: Circuit, replay: Replay) -> list[str]:
    """Return the legs that the recipe exercises."""
    names = [
        name
        for step in replay.recipe.steps
        if isinstance(step, Exchange | Circulate)
        for name in step.exercise.groups
    ]
    legs = {leg.id for name in names for leg in circuit.legs_named(name)}
    return [leg.id for leg in circuit.legs if leg.id in legs and leg.stroke_m3.best > 0.0]


def _with(first: Change | None, then: Change) -> Change:
    """Return one change after another."""
    return then if first is None else lambda values: then(first(values))


def _unmoved(legs: list[str], circuit: Circuit) -> Change:
    """Return the change that some legs stay where they are."""
    names = [leg.id for leg in circuit.legs]
    rows = [names.index(leg) for leg in legs]
    rows += [names.index(circuit.partner[leg]) for leg in legs if leg in circuit.partner]

    def change(values: Values) -> Values:
        use, stroke = values.leg_use_share.copy(), values.leg_stroke_m3.copy()
        dead = values.leg_dead_m3.copy()
        dead[rows] += stroke[rows] * values.leg_start_share[rows]
        use[rows], stroke[rows] = 0.0, 0.0
        return replace(values, leg_use_share=use, leg_stroke_m3=stroke, leg_dead_m3=dead)

    return change


def _airy(leg: str, circuit: Circuit) -> Change:
    """Return the change that air takes up half of a leg's stroke and most of its dead volume."""
    row = [one.id for one in circuit.legs].index(leg)

    def change(values: Values) -> Values:
        stroke, dead = values.leg_stroke_m3.copy(), values.leg_dead_m3.copy()
        stroke[row] *= 0.5
        dead[row] *= 0.2
        return replace(values, leg_stroke_m3=stroke, leg_dead_m3=dead)

    return change


def _sized(factor: float) -> Change:
    """Return the change that everything outside the reservoir holds so many times as much."""

    def change(values: Values) -> Values:
        return replace(
            values,
            parts_m3=values.parts_m3 * factor,
            leg_line_m3=values.leg_line_m3 * factor,
            leg_stroke_m3=values.leg_stroke_m3 * factor,
            leg_dead_m3=values.leg_dead_m3 * factor,
        )

    return change


def _swapped(readings: Sequence[Reading]) -> Iterator[tuple[Hypothesis, Floats]]:
    """Yield hypotheses that two samples were taken for each other, with the values put right."""
    samples = [i for i, reading in enumerate(readings) if reading.kind == "sample"]
    pairs = [
        (i, j)
        for i, j in itertools.combinations(samples, 2)
        if readings[i].words != readings[j].words
    ]
    pairs.sort(key=lambda pair: -abs(readings[pair[0]].value - readings[pair[1]].value))
    for i, j in pairs[:_MOST_SWAPS]:
        values = np.array([reading.value for reading in readings])
        values[[i, j]] = values[[j, i]]
        mended = list(readings)
        mended[i] = replace(mended[i], value=float(values[i]))
        mended[j] = replace(mended[j], value=float(values[j]))
        yield (
            Hypothesis(
                code="swapped-samples",
                words=f"{readings[i].words} and {readings[j].words} were swapped",
                readings=tuple(mended),
            ),
            values,
        )


def _wrong_jug(readings: Sequence[Reading], cov: Floats) -> tuple[Hypothesis, Floats] | None:
    """Return the hypothesis that volumes were read with a wrong jug or scale, and its errors."""
    volume = np.array([reading.kind in ("volume", "flow") for reading in readings])
    if not volume.any():
        return None
    off = np.where(volume, _JUG_ERROR * np.array([reading.value for reading in readings]), 0.0)
    wide = tuple(
        replace(r, u=math.hypot(r.u, float(o)) if o else r.u)
        for r, o in zip(readings, off, strict=True)
    )
    words = "the jug or scale shows wrong volumes"
    guess = Hypothesis(code="jug", words=words, readings=wide)
    return guess, np.asarray(cov + np.outer(off, off))
