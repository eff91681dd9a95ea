"""What volumes and levels would each machine show?

All are brought to the temperature of the recipe first; the reservoir alone shows the swelling of
all that the circuit holds. Leaves out samples (``samples``)."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, State
from ullage.circuit.volumes import Numbers
from ullage.evidence.forward import Shown, Stage
from ullage.evidence.observation import Counted, LevelReading, VolumeReading
from ullage.evidence.reading import VOLUME_IN_COMMON, Predict, Reading
from ullage.transport.latent import area_m2
from ullage.transport.recipe import Bleed, DrawOff, Exchange, Recipe

Floats = NDArray[np.float64]

#: A recipe's litres are a person's count: relative standard deviation of what an exchange sent.
COUNTED_U = 0.02


def at_recipe_m3(volume: VolumeReading, circuit: Circuit, recipe: Recipe) -> float:
    """Return a measured volume at the temperature of the recipe [m3]."""
    is_new = volume.what in (Counted.POURED, Counted.LEFT_OVER)
    liquid = circuit.new_fluid if is_new else circuit.fluid
    rho = liquid.density_kg_m3(recipe.temperature_k)
    if volume.mass_kg is not None:
        return volume.mass_kg / rho
    measured = volume.volume_m3 or 0.0
    at_k = recipe.temperature_k if volume.at_k is None else volume.at_k
    return measured * liquid.density_kg_m3(at_k) / rho


def volume_readings(
    volumes: Iterable[VolumeReading], circuit: Circuit, recipe: Recipe
) -> Iterable[Reading]:
    """Yield the readings of volumes.

    What was left over is taken from what was poured. Waste over the whole job counts what was drawn
    off, unless that was measured by itself.
    """
    known = list(enumerate(volumes, start=1))
    is_drawn_apart = any(v.what is Counted.DRAWN_OFF for _, v in known)
    left_over = {v.step: v for _, v in known if v.what is Counted.LEFT_OVER}
    for index, volume in known:
        if volume.what is Counted.LEFT_OVER:
            continue
        value, u = at_recipe_m3(volume, circuit, recipe), volume.u_m3
        if volume.what is Counted.POURED and volume.step in left_over:
            rest = left_over[volume.step]
            value -= at_recipe_m3(rest, circuit, recipe)
            is_same = rest.shares is not None and rest.shares == volume.shares
            both = VOLUME_IN_COMMON if is_same else 0.0
            u = math.sqrt(max(u**2 + rest.u_m3**2 - 2.0 * both * u * rest.u_m3, 1e-12))
        steps = [*range(1, len(recipe.steps) + 1)] if volume.step is None else [volume.step]
        if volume.step is None and volume.what is not Counted.POURED:
            drawn = [n for n in steps if isinstance(recipe.steps[n - 1], DrawOff)]
            if volume.what is Counted.DRAWN_OFF:
                steps = drawn
            elif is_drawn_apart:
                steps = [n for n in steps if n not in drawn]
        sent = [
            s.litres_m3 for n in steps if isinstance(s := recipe.steps[n - 1], Exchange | Bleed)
        ]
        where = "over the whole job" if volume.step is None else f"in step {volume.step}"
        yield Reading(
            kind="volume",
            index=index,
            words=f"the {volume.what.value} volume {where}",
            value=value,
            u=u,
            predict=_volume_predict(volume, tuple(steps)),
            steps=tuple(steps),
            is_poured=volume.what is Counted.POURED,
            shares=None if volume.shares is None else f"volume:{volume.shares}",
            u_model=COUNTED_U * math.sqrt(sum(litres**2 for litres in sent)),
        )


def _volume_predict(volume: VolumeReading, steps: tuple[int, ...]) -> Predict:
    """Return what a volume would have been."""

    def predict(shown: Shown) -> Floats:
        total = np.zeros(shown.count)
        for step in steps:
            for piece in shown.pieces(step):
                stage = shown.stages[piece]
                total += stage.poured_m3 if volume.what is Counted.POURED else stage.waste_m3
        return total

    return predict


def level_m3(
    shown: Shown, stage: Stage, circuit: Circuit, state: State, *, warmth: float = 1.0
) -> Floats:
    """Return what the reservoir holds with the machine put into a state, (members,) [m3].

    ``warmth`` is the volume of the fluid over its volume at the recipe's temperature; the reservoir
    alone shows the swelling of all that the circuit holds. Where the recipe has let the pressure
    go, "released" is the machine as it stands: held up, its legs have not sunk.
    """
    values = shown.values
    strokes, gas = values.leg_stroke_m3[:, 1:], values.leg_gas_m3[:, 1:]
    level = stage.level_m3.copy()
    place = stage.place
    chosen: set[str] = set()
    with_gas = [i for i, leg in enumerate(circuit.legs) if leg.gas is not None]
    stands_released = bool(with_gas) and not any(stage.charged[i] for i in with_gas)
    for i, leg in enumerate(circuit.legs):
        other = circuit.partner.get(leg.id)
        moves = leg.held_by is not HeldBy.CONTROLLER and other not in chosen
        sinks = state is State.RETRACTED or (
            state is State.RELEASED and other is None and not stands_released
        )
        if moves and (sinks or state is State.EXTENDED):
            chosen.add(leg.id)
            end = 1.0 if state is State.EXTENDED else 0.0
            level = level - (end - place[i]) * strokes[i]
            if other is not None:
                j = [x.id for x in circuit.legs].index(other)
                level = level - (1.0 - end - place[j]) * strokes[j]
        if leg.gas is None:
            continue
        is_charged = stage.charged[i]
        if state is State.RELEASED and is_charged:
            level = level + gas[i]
        elif state in (State.CHARGED, State.EXTENDED) and not is_charged:
            level = level - gas[i]
    return np.asarray(level + stage.parts_m3.sum(axis=0) * (warmth - 1.0))


def height_m(volume_m3: Floats, circuit: Circuit, full_m3: Floats, numbers: Numbers) -> Floats:
    """Return the height of the level above the full mark, (members,) [m]."""
    table = circuit.reservoir.table
    if table:
        heights, volumes = np.array(table).T
        return np.asarray(
            np.interp(volume_m3, volumes, heights) - np.interp(full_m3, volumes, heights)
        )
    area = area_m2(circuit, numbers)
    if area is None:
        raise ValueError("a height was read in a reservoir of unknown shape")
    return np.asarray((volume_m3 - full_m3) / area)


def level_reading(index: int, level: LevelReading, circuit: Circuit, recipe: Recipe) -> Reading:
    """Return the reading of a level."""
    at_k = recipe.temperature_k if level.at_k is None else level.at_k
    warmth = circuit.fluid.density_kg_m3(recipe.temperature_k) / circuit.fluid.density_kg_m3(at_k)

    def predict(shown: Shown) -> Floats:
        stage = shown.after(level.after_step)
        volume = level_m3(shown, stage, circuit, level.state, warmth=warmth)
        if level.height_m is None:
            return volume
        return height_m(volume, circuit, shown.values.full_m3[1:], shown.numbers)

    when = f"after step {level.after_step}" if level.after_step else "before the first step"
    value = level.height_m if level.height_m is not None else level.volume_m3
    u = level.u_height_m if level.height_m is not None else level.u_m3
    return Reading(
        kind="level",
        index=index,
        words=f"the level {when}, {level.state.value}",
        value=value or 0.0,
        u=u or 0.0,
        predict=predict,
    )
