"""What would a sample show on each machine, and when would the outflow change colour?

Old shares of the outflow, the reservoir, the bucket and the chambers, each with what the model
may miss. Leaves out volumes and levels (``amounts``)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.evidence.forward import Shown
from ullage.evidence.observation import Place, Sample, Turn
from ullage.evidence.reading import Predict, Reading
from ullage.transport.recipe import Bleed, Recipe

Floats = NDArray[np.float64]

#: The old fluid of the legs may be darker or paler than the reservoir's, by this share (1 sd),
#: where no reference from a leg was at hand. Judgement; common practice, no source.
LEG_SHADE = 0.10
#: What the solver's cut into cells and steps misses in a sample, as a standard deviation of an old
#: share. ``bench/prove.py`` measures it: 0.1 points on average over its samples, 0.26 on the worst.
#: How lines and chambers mix is not in it: that is among the unknowns (``transport.structure``).
MIXING_U = 0.0025
#: The eye sees a change when the old share has fallen by this much. Judgement.
VISIBLE_DROP = 0.15
_LEAST_M3 = 1e-9


def sample_reading(index: int, sample: Sample, recipe: Recipe) -> Reading:
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


def turn_reading(index: int, turn: Turn) -> Reading:
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
