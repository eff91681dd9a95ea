"""Slips that happen: a leg that never moved, cycles miscounted, vials swapped, air, a wrong jug.

Each is a model with one thing changed. Leaves out which of them the readings speak for
(``misfit``)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.evidence.forward import Change, Forward
from ullage.evidence.reading import Reading
from ullage.evidence.replay import Replay
from ullage.transport.recipe import Circulate, Exchange
from ullage.transport.values import Values

Floats = NDArray[np.float64]

#: A jug that is wrong may be wrong by so much of what it shows (1 sd). Judgement.
_JUG_ERROR = 0.10
_MOST_SWAPS = 15


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


def changed(forward: Forward) -> Iterator[Hypothesis]:
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


def swapped(readings: Sequence[Reading]) -> Iterator[tuple[Hypothesis, Floats]]:
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


def wrong_jug(readings: Sequence[Reading], cov: Floats) -> tuple[Hypothesis, Floats] | None:
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
