"""Which machines verdicts are judged on, what was done to them, and what is read there.

Truth comes from the solver at its finest cut, so that what the verdict's own, coarser runs miss
counts against it. The built-in circuits follow one rule, which nobody chose by its figures: each as
it is, with the first of its recipes by name, and every reading that the two allow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ullage.circuit.catalogue import circuit_templates
from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.circuit.uncertain import Uncertain
from ullage.evidence.forward import Forward, Shown
from ullage.evidence.observation import (
    Counted,
    Evidence,
    LevelReading,
    Place,
    Sample,
    Turn,
    VolumeReading,
)
from ullage.evidence.reading import Reading, covariance
from ullage.evidence.update import Prover, predict
from ullage.formats.circuit_file import parse_circuit, read_circuit
from ullage.formats.recipe_file import parse_recipe, read_recipe
from ullage.transport.examples import recipe_templates
from ullage.transport.lanes import Regime
from ullage.transport.layout import FINE
from ullage.transport.recipe import DrawOff, Exchange, Recipe
from ullage.transport.structure import Mixing

HERE = Path(__file__).parent
# One photo of vials with references; three of them for the legs.
U_ONE, U_THREE = 0.015, 0.010
# A jug, a look at the outflow, a litre scale in the reservoir.
U_JUG_M3, U_TURN_M3, U_LEVEL_M3 = 0.05e-3, 0.2e-3, 0.05e-3
# Where legs stood of which nobody noted the height.
UNNOTED = Uncertain(best=0.5, low=0.35, high=0.65)
OTHERWISE = (
    Mixing(regime=Regime.PLUG, more_fittings=5),
    Mixing(regime=Regime.LAMINAR),
    Mixing(leg_regime=Regime.PLUG, more_fittings=4),
)
# The finest cut takes fifty times as long: so many machines at once are enough.
_AT_ONCE = 64


@dataclass(frozen=True)
class Case:
    """A circuit, what was done to it, and what is read; values come from each machine."""

    name: str
    circuit: Circuit
    recipe: Recipe
    evidence: Evidence


def four_corners(kind: str) -> Case:
    """Return the four corners that nobody watched: two samples ("few"), with bleeds ("all"), and
    with bleeds where nobody noted the heights as found either ("unnoted").
    """
    circuit = read_circuit(HERE / "unwatched.circuit.toml")
    if kind == "unnoted":
        legs = [replace(leg, start_share=UNNOTED) for leg in circuit.legs]
        circuit = replace(circuit, legs=tuple(legs))
    few = (
        Sample(place=Place.OUTFLOW, after_step=3, old_vfrac=0.0, u_vfrac=U_ONE, shares="one"),
        Sample(place=Place.RESERVOIR, after_step=4, old_vfrac=0.0, u_vfrac=U_ONE, shares="one"),
    )
    return Case(
        name={
            "few": "outflow + reservoir",
            "all": "with four bleeds",
            "unnoted": "with four bleeds, heights not noted",
        }[kind],
        circuit=circuit,
        recipe=read_recipe(HERE / "unwatched.recipe.toml"),
        evidence=Evidence(samples=few if kind == "few" else (*few, *_bleeds(circuit, 4))),
    )


def _bleeds(circuit: Circuit, step: int) -> tuple[Sample, ...]:
    """Return a sample of every leg that has a bleed point, against that leg's own old fluid."""
    return tuple(
        Sample(
            place=Place.LEG,
            leg=leg.id,
            reference=leg.id,
            after_step=step,
            old_vfrac=0.0,
            u_vfrac=U_THREE,
        )
        for leg in circuit.legs
        if leg.bleed
    )


def built_in() -> Iterator[Case]:
    """Yield the built-in circuits with all that can be read on them."""
    for template in circuit_templates():
        first = min(recipe_templates(template.name), key=lambda t: t.name)
        circuit = parse_circuit(template.text, template.name)
        recipe = parse_recipe(first.text, first.name)
        yield Case(
            name=template.name,
            circuit=circuit,
            recipe=recipe,
            evidence=_everything(circuit, recipe),
        )


def _everything(circuit: Circuit, recipe: Recipe) -> Evidence:
    """Return every reading that a circuit and a recipe allow, each once."""
    last = len(recipe.steps)
    exchanges = [n for n, step in enumerate(recipe.steps, start=1) if isinstance(step, Exchange)]
    drawn = [n for n, step in enumerate(recipe.steps, start=1) if isinstance(step, DrawOff)]
    places = [(Place.OUTFLOW, n) for n in exchanges[-1:]] + [(Place.RESERVOIR, last)]
    return Evidence(
        samples=(
            *(
                Sample(place=place, after_step=n, old_vfrac=0.0, u_vfrac=U_ONE, shares="one")
                for place, n in places
            ),
            *_bleeds(circuit, last),
        ),
        volumes=tuple(
            VolumeReading(what=Counted.DRAWN_OFF, step=n, volume_m3=1e-3, u_m3=U_JUG_M3)
            for n in drawn[:1]
        ),
        levels=(
            LevelReading(after_step=last, state=State.CHARGED, volume_m3=1e-3, u_m3=U_LEVEL_M3),
        ),
        turns=tuple(Turn(step=n, at_m3=0.0, u_m3=U_TURN_M3) for n in exchanges[-1:]),
    )


def _finest(prover: Prover) -> Forward:
    """Return the same circuit and recipe, cut as finely as it gets."""
    return Forward(prover.forward.circuit, prover.forward.replay, resolution=FINE)


def true_machines(
    prover: Prover, seed: int, machines: int, *, strange: str = ""
) -> Iterator[Shown]:
    """Yield machines as they really are, some at a time."""
    forward = _finest(prover)
    uniforms = prover.latents.drawn(seed=seed, count=machines)
    for first in range(0, machines, _AT_ONCE):
        some = uniforms[:, first : first + _AT_ONCE]
        if strange:
            yield _otherwise(forward, some, [seed, 2, first], dead=strange == "dead")
        else:
            yield forward.run(some)


def _otherwise(forward: Forward, uniforms: np.ndarray, seed: list[int], *, dead: bool) -> Shown:
    """Return machines that mix in ways of their own.

    Lines are none of the classes of the prior, and each leg loses stroke of its own. With ``dead``
    also more than the prior allows by-passes the reservoir, a fifth of which hardly mixes: that
    shows in no reading, so no verdict can know it.
    """
    numbers = forward.latents.numbers(uniforms)
    values = forward.latents.values(uniforms)
    bypass, use = values.bypass_share.copy(), values.leg_use_share.copy()
    random = np.random.default_rng(seed)
    count = uniforms.shape[1]
    use[:, 1:] *= random.uniform(0.85, 1.0, (len(use), count))
    held = values.dead_m3.copy()
    if dead:
        held[1:] = 0.20 * values.full_m3[1:]
        bypass[1:] = random.uniform(0.0, 0.3, count)
    values = replace(values, dead_m3=held, bypass_share=bypass, leg_use_share=use)
    kinds = np.arange(count) % len(OTHERWISE)
    return forward.run_as(values, numbers, [(kind, kinds == i) for i, kind in enumerate(OTHERWISE)])


def noise(readings: tuple[Reading, ...], seed: list[int], machines: int) -> np.ndarray:
    """Return what a person's readings are off by, (readings, machines): no error of the model."""
    own = [replace(r, u_model=0.0) for r in readings]
    drawn = np.random.default_rng(seed).standard_normal((len(readings), machines))
    return np.asarray(np.linalg.cholesky(covariance(own)) @ drawn)


def as_read(readings: tuple[Reading, ...], values: np.ndarray) -> np.ndarray:
    """Return readings as a person writes them down: nothing below 0, no share above 1."""
    top = np.array([1.0 if r.kind == "sample" else np.inf for r in readings])
    return np.asarray(np.clip(values, 0.0, top[:, None]))


def cut_error(prover: Prover, readings: tuple[Reading, ...], machines: int) -> np.ndarray:
    """Return the root-mean-square that the verdict's runs miss of each reading, (readings,)."""
    uniforms = prover.latents.drawn(seed=98, count=machines)
    off = predict(readings, prover.forward.run(uniforms))
    off -= predict(readings, _finest(prover).run(uniforms))
    return np.asarray(np.sqrt((off**2).mean(axis=1)))
