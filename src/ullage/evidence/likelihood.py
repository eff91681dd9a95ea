"""From an evidence file to numbers: what was really done, which machines are thought possible, and
what each reading would have shown on them.

Litres and cycles that were counted replace those of the recipe; everything else that was read
becomes a ``Reading``. Leaves out which machines fit best (``update``)."""

from __future__ import annotations

from dataclasses import replace

from ullage.circuit.network import Circuit
from ullage.evidence.amounts import at_recipe_m3, level_reading, volume_readings
from ullage.evidence.motion import flow_reading, travel_reading
from ullage.evidence.observation import Counted, Evidence, Place
from ullage.evidence.reading import Reading
from ullage.evidence.replay import Replay, replay_of
from ullage.evidence.samples import sample_reading, turn_reading
from ullage.transport.recipe import Bleed, Exchange, Recipe

#: Measured litres replace those of the recipe up to this difference; beyond, one of them is wrong.
_SAME_LITRES = 0.25


def carried_out(recipe: Recipe, circuit: Circuit, evidence: Evidence) -> Replay:
    """Return the recipe as it was really carried out: litres and cycles as they were counted."""
    steps = list(recipe.steps)
    for volume in evidence.volumes:
        if volume.what is not Counted.WASTE or volume.step is None:
            continue
        step = steps[volume.step - 1]
        if isinstance(step, Exchange | Bleed):
            litres = at_recipe_m3(volume, circuit, recipe)
            if abs(litres / step.litres_m3 - 1.0) <= _SAME_LITRES:
                steps[volume.step - 1] = replace(step, litres_m3=litres)
    cuts: dict[int, tuple[float, ...]] = {}
    for sample in evidence.samples:
        if sample.at_step_m3 is None or not sample.after_step:
            continue
        # What ran out is read off the trace of the whole step; only what stays behind needs a cut.
        is_inside = sample.place in (Place.RESERVOIR, Place.LEG)
        if is_inside or isinstance(steps[sample.after_step - 1], Bleed):
            mine = cuts.get(sample.after_step, ())
            cuts[sample.after_step] = (*mine, sample.at_step_m3)
    counted = {(made.step, made.group): made.count for made in evidence.cycles}
    return replay_of(replace(recipe, steps=tuple(steps)), cuts=cuts, counted=counted)


def readings_of(evidence: Evidence, circuit: Circuit, recipe: Recipe) -> tuple[Reading, ...]:
    """Return all readings of an evidence file, in its order, as numbers."""
    found: list[Reading] = []
    for i, sample in enumerate(evidence.samples, start=1):
        found.append(sample_reading(i, sample, recipe))
    found += volume_readings(evidence.volumes, circuit, recipe)
    for i, level in enumerate(evidence.levels, start=1):
        found.append(level_reading(i, level, circuit, recipe))
    for i, flow in enumerate(evidence.flows, start=1):
        found.append(flow_reading(i, flow, circuit))
    for i, turn in enumerate(evidence.turns, start=1):
        found.append(turn_reading(i, turn))
    for i, travel in enumerate(evidence.travels, start=1):
        found.append(travel_reading(i, travel, circuit))
    return tuple(found)


def as_measured(circuit: Circuit, evidence: Evidence) -> Circuit:
    """Return the circuit with the numbers widened that were measured against their file.

    A leg whose travel was watched may have moved anything from nothing to its stroke.
    """
    watched = {travel.leg for travel in evidence.travels}
    if not watched:
        return circuit
    legs = tuple(
        replace(leg, stroke_use_share=replace(leg.stroke_use_share, low=0.0, high=1.0))
        if leg.id in watched
        else leg
        for leg in circuit.legs
    )
    return replace(circuit, legs=legs)
