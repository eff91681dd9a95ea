"""What would each reading show on a given machine, and how far off may it be?

Every kind of reading becomes a number, a standard uncertainty and a prediction; all volumes are
brought to the temperature of the recipe first. Readings that bear the same ``shares`` have part of
their error in common. Leaves out which machines fit best (``update``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, PumpKind, State
from ullage.circuit.volumes import Numbers, pump_flow_m3_s
from ullage.evidence.forward import Replay, Shown, Stage, replay_of
from ullage.evidence.observation import (
    Counted,
    Evidence,
    FlowReading,
    LevelReading,
    Place,
    Sample,
    Travel,
    Turn,
    VolumeReading,
)
from ullage.transport.latent import area_m2
from ullage.transport.recipe import Bleed, DrawOff, Exchange, Recipe

Floats = NDArray[np.float64]

# How much of the variance of readings with the same `shares` they have in common: one photo (its
# lamp, its references), one jug (its marks). Judgement; common practice, no source.
SAMPLE_IN_COMMON, VOLUME_IN_COMMON = 0.5, 0.8
#: The old fluid of the legs may be darker or paler than the reservoir's, by this share (1 sd),
#: where no reference from a leg was at hand. Judgement; common practice, no source.
LEG_SHADE = 0.10
#: What no structure of ours mixes rightly, as a standard deviation of an old share. Judgement.
MIXING_U = 0.01
#: A recipe's litres are a person's count: relative standard deviation of what an exchange sent.
COUNTED_U = 0.02
#: Measured litres replace those of the recipe up to this difference; beyond, one of them is wrong.
_SAME_LITRES = 0.25
#: The eye sees a change when the old share has fallen by this much. Judgement.
VISIBLE_DROP = 0.15
_LEAST_M3 = 1e-9

Predict = Callable[[Shown], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading as a number: what it was, what it showed, and what a machine would show.

    ``kind`` and ``index`` lead back to the evidence file (counted from 1). ``u`` is its own
    standard uncertainty, ``u_model`` what the model adds, ``u_shade`` that of the legs' shade,
    common to all readings that have one (negative: a darker leg makes the reading smaller).
    ``steps`` are those that a volume counts, ``is_poured`` whether it went in."""

    kind: str
    index: int
    words: str
    value: float
    u: float
    predict: Predict
    shares: str | None = None
    u_model: float = 0.0
    u_shade: float = 0.0
    steps: tuple[int, ...] = ()
    is_poured: bool = False


def covariance(readings: Sequence[Reading]) -> Floats:
    """Return the covariance of the errors of all readings, (readings, readings).

    Errors in common add up in a straight line (JCGM 100:2008, 5.2.4 and F.1.2.3).
    """
    u = np.array([r.u for r in readings])
    total = np.diag(u**2 + np.array([r.u_model for r in readings]) ** 2)
    for i, one in enumerate(readings):
        for j, other in enumerate(readings):
            if i != j and one.shares is not None and one.shares == other.shares:
                both = min(_in_common(one), _in_common(other))
                total[i, j] += both * u[i] * u[j]
    shade = np.array([r.u_shade for r in readings])
    return np.asarray(total + np.outer(shade, shade))


def _in_common(reading: Reading) -> float:
    """Return how much of a reading's variance it has in common with its like."""
    return VOLUME_IN_COMMON if reading.kind == "volume" else SAMPLE_IN_COMMON


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
        found.append(_sample(i, sample, recipe))
    found += _volumes(evidence.volumes, circuit, recipe)
    for i, level in enumerate(evidence.levels, start=1):
        found.append(_level(i, level, circuit, recipe))
    for i, flow in enumerate(evidence.flows, start=1):
        found.append(_flow(i, flow, circuit))
    for i, turn in enumerate(evidence.turns, start=1):
        found.append(_turn(i, turn))
    for i, travel in enumerate(evidence.travels, start=1):
        found.append(_travel(i, travel, circuit))
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


# Samples.


def _sample(index: int, sample: Sample, recipe: Recipe) -> Reading:
    """Return the reading of a sample."""
    place = {
        Place.OUTFLOW: "the outflow",
        Place.RESERVOIR: "the reservoir",
        Place.BUCKET: "the bucket",
        Place.LEG: f"the chamber of {sample.leg}",
    }[sample.place]
    when = f"after step {sample.after_step}" if sample.after_step else "before the first step"
    if sample.at_step_m3 is not None:
        when = f"{sample.at_step_m3 * 1e3:g} L into step {sample.after_step}"
    is_shaded = sample.place is Place.LEG and sample.reference == "reservoir"
    is_paled = sample.place is not Place.LEG and sample.reference != "reservoir"
    return Reading(
        kind="sample",
        index=index,
        words=f"the sample of {place} {when}",
        value=sample.old_vfrac,
        u=sample.u_vfrac,
        predict=_sample_predict(sample, recipe),
        shares=None if sample.shares is None else f"sample:{sample.shares}",
        u_model=MIXING_U,
        u_shade=LEG_SHADE * sample.old_vfrac * (is_shaded - is_paled),
    )


def _sample_predict(sample: Sample, recipe: Recipe) -> Predict:
    """Return what a sample would show."""
    step, at_m3 = sample.after_step, sample.at_step_m3
    place = sample.place
    leg = sample.leg
    if place is Place.OUTFLOW and step:
        here = recipe.steps[step - 1]
        if isinstance(here, Bleed):
            place, leg = Place.LEG, here.leg

    def predict(shown: Shown) -> Floats:
        stage = shown.after(step, at_m3)
        if place is Place.LEG:
            return shown.part(stage, f"{leg}.chamber")
        if place is Place.RESERVOIR:
            return stage.stirred_vfrac
        last = shown.replay.piece(step, at_m3)
        if place is Place.BUCKET:
            return _bucket(shown, step, last, at_m3)
        return _outflow(shown, step, last, at_m3)

    return predict


def _outflow(shown: Shown, step: int, last: int, at_m3: float | None) -> Floats:
    """Return the old share of the last 0.1 L that ran out at the diverter."""
    for piece in range(last - 1, -1, -1):
        if piece in shown.traces:
            trace = shown.traces[piece]
            within = len(trace.ends_m3) - 1
            if at_m3 is not None and shown.replay.step_of[piece] == step:
                done = _before_piece(shown, step, piece)
                within = int(np.searchsorted(trace.ends_m3, at_m3 - done - _LEAST_M3))
                within = min(within, len(trace.ends_m3) - 1)
            return _filled(trace.old_vfrac[within])
    raise ValueError("an outflow sample before anything ran out")


def _before_piece(shown: Shown, step: int, piece: int) -> float:
    """Return what a step had sent to waste before one of its pieces began [m3]."""
    first = shown.replay.piece(step - 1)
    return sum(float(shown.traces[p].ends_m3[-1]) for p in range(first, piece) if p in shown.traces)


def _bucket(shown: Shown, step: int, last: int, at_m3: float | None) -> Floats:
    """Return the old share of all waste up to a moment."""
    volume, old = np.zeros(shown.count), np.zeros(shown.count)
    for piece in range(last):
        stage = shown.stages[piece]
        share = 1.0
        if at_m3 is not None and shown.replay.step_of[piece] == step and piece in shown.traces:
            ends = shown.traces[piece].ends_m3
            until = at_m3 - _before_piece(shown, step, piece)
            if until < ends[-1] - _LEAST_M3:
                widths = np.diff(np.minimum(ends, until), prepend=0.0)
                volume += widths.sum()
                old += widths @ np.nan_to_num(shown.traces[piece].old_vfrac)
                share = 0.0
        volume += share * stage.waste_m3
        old += share * stage.waste_old_m3
    return np.where(volume > _LEAST_M3, old / np.maximum(volume, _LEAST_M3), 1.0)


def _filled(values: Floats) -> Floats:
    """Return an outflow; machines that ran dry before show what they last held: old fluid."""
    return np.where(np.isfinite(values), values, 1.0)


# Volumes.


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


def _volumes(
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
            words=f"the {volume.what.value.replace('-', ' ')} volume {where}",
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


# Levels.


def level_m3(
    shown: Shown, stage: Stage, circuit: Circuit, state: State, *, warmth: float = 1.0
) -> Floats:
    """Return what the reservoir holds with the machine put into a state, (members,) [m3].

    ``warmth`` is the volume of the fluid over its volume at the recipe's temperature; the reservoir
    alone shows the swelling of all that the circuit holds.
    """
    values = shown.values
    strokes, gas = values.leg_stroke_m3[:, 1:], values.leg_gas_m3[:, 1:]
    level = stage.level_m3.copy()
    place = stage.place
    chosen: set[str] = set()
    for i, leg in enumerate(circuit.legs):
        other = circuit.partner.get(leg.id)
        moves = leg.held_by is not HeldBy.CONTROLLER and other not in chosen
        sinks = state is State.RETRACTED or (state is State.RELEASED and other is None)
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


def _level(index: int, level: LevelReading, circuit: Circuit, recipe: Recipe) -> Reading:
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


# Flows, turns, travels.


def diverted_m3_s(circuit: Circuit, shown: Shown, rev_s: float | None) -> Floats:
    """Return the flow that runs out at the diverter, (members,) [m3/s]."""
    values = shown.values
    speed = circuit.pump.idle_rev_s if rev_s is None else rev_s
    flow = values.flow_at(speed)[1:]
    if circuit.pump.kind is PumpKind.PRESSURE_HELD:
        flow = flow * values.idle_flow_share[1:]
    running = [i for i, path in enumerate(circuit.paths) if not path.dead_end]
    sent = [i for i in running if circuit.paths[i].divert_after is not None]
    if not sent:
        return np.asarray(flow)
    shares = values.shares[:, 1:]
    return np.asarray(flow * shares[sent].sum(axis=0) / shares[running].sum(axis=0))


def _flow(index: int, flow: FlowReading, circuit: Circuit) -> Reading:
    """Return the reading of a timed container."""
    value = flow.volume_m3 / flow.duration_s
    return Reading(
        kind="flow",
        index=index,
        words="the timed flow at the diverter",
        value=value,
        u=flow.u_share * value,
        predict=lambda shown: diverted_m3_s(circuit, shown, flow.rev_s),
    )


def best_flow_ratio(circuit: Circuit, evidence: Evidence) -> float:
    """Return by what the best pump flow must be multiplied to agree with flow readings.

    Members of an ensemble share the litres of every cycle, which follow from the best flow. Prior
    and readings are weighed by their variances.
    """
    if not evidence.flows or circuit.pump.kind is PumpKind.HAND:
        return 1.0
    draws = pump_flow_m3_s(circuit, Numbers(count=512, seed=0, is_best=False))
    best = float(pump_flow_m3_s(circuit, Numbers())[0])
    weight = 1.0 / max(float(np.var(draws / best)), 1e-9)
    total, mean = weight, weight
    for flow in evidence.flows:
        expected = _expected_flow(circuit, flow)
        ratio = flow.volume_m3 / flow.duration_s / expected
        w = 1.0 / max((flow.u_share * ratio) ** 2, 1e-9)
        total += w
        mean += w * ratio
    return mean / total


def _expected_flow(circuit: Circuit, flow: FlowReading) -> float:
    """Return the flow at the diverter with the best values [m3/s]."""
    full = float(pump_flow_m3_s(circuit, Numbers(), flow.rev_s)[0])
    if circuit.pump.kind is PumpKind.PRESSURE_HELD:
        full *= circuit.pump.idle_flow_share.best
    running = [path for path in circuit.paths if not path.dead_end]
    sent = [path for path in running if path.divert_after is not None]
    all_shares = sum(path.share.best for path in running)
    return full * (sum(path.share.best for path in sent) / all_shares if sent else 1.0)


def _turn(index: int, turn: Turn) -> Reading:
    """Return the reading of a change of colour at the diverter."""

    def predict(shown: Shown) -> Floats:
        ends, shares = _whole_trace(shown, turn.step)
        limit = np.maximum(shares[0] - VISIBLE_DROP, 0.0)
        below = shares <= limit
        first = np.where(below.any(axis=0), below.argmax(axis=0), len(ends) - 1)
        before = np.maximum(first - 1, 0)
        who = np.arange(shown.count)
        high, low = shares[before, who], shares[first, who]
        part = np.where(high > low, (high - limit) / np.maximum(high - low, 1e-9), 1.0)
        return np.asarray(ends[before] + np.clip(part, 0.0, 1.0) * (ends[first] - ends[before]))

    return Reading(
        kind="turn",
        index=index,
        words=f"the change of colour in step {turn.step}",
        value=turn.at_m3,
        u=turn.u_m3,
        predict=predict,
    )


def _whole_trace(shown: Shown, step: int) -> tuple[Floats, Floats]:
    """Return middles of the bins [m3] and old shares of a step's outflow over all its pieces."""
    middles, shares = [], []
    done = 0.0
    for piece in shown.pieces(step):
        if piece in shown.traces:
            trace = shown.traces[piece]
            starts = np.concatenate([[0.0], trace.ends_m3[:-1]])
            middles.append(done + 0.5 * (starts + trace.ends_m3))
            shares.append(np.nan_to_num(trace.old_vfrac, nan=1.0))
            done += float(trace.ends_m3[-1])
    return np.concatenate(middles), np.concatenate(shares)


def _travel(index: int, travel: Travel, circuit: Circuit) -> Reading:
    """Return the reading of a leg's travel."""
    place = [leg.id for leg in circuit.legs].index(travel.leg)
    return Reading(
        kind="travel",
        index=index,
        words=f"the travel of {travel.leg}",
        value=travel.share,
        u=travel.u_share,
        predict=lambda shown: np.minimum(shown.values.leg_use_share[place, 1:], 1.0),
    )
