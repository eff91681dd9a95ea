"""Can these readings have been taken from this circuit while this recipe was carried out?

Names every reading that points at a step, leg or group that is not there, or at litres that never
flowed. Leaves out whether the readings are likely (``misfit``).
"""

from __future__ import annotations

from collections.abc import Iterator

from ullage.circuit import names
from ullage.circuit.network import Circuit
from ullage.circuit.shown import litres
from ullage.errors import Fault
from ullage.evidence.observation import Counted, Evidence, Place, Sample, VolumeReading
from ullage.transport.recipe import (
    Bleed,
    Circulate,
    DrawOff,
    Exchange,
    Fill,
    Recipe,
    Step,
    SwapFilter,
)

_SLACK_M3 = 1e-9
# Which steps move a volume, and what they do with it.
_MOVED: dict[Counted, tuple[tuple[type[Step], ...], str]] = {
    Counted.DRAWN_OFF: ((DrawOff,), "draw anything off"),
    Counted.WASTE: ((DrawOff, Exchange, Bleed, SwapFilter), "send anything to waste"),
    Counted.POURED: ((Fill, Exchange, Bleed, SwapFilter), "take in new fluid"),
}


def evidence_faults(
    evidence: Evidence, circuit: Circuit, recipe: Recipe | None = None
) -> tuple[Fault, ...]:
    """Return every reading that cannot be; without a recipe steps are not looked at."""
    return (
        *_sample_faults(evidence, circuit, recipe),
        *_step_faults(evidence, recipe),
        *_leg_faults(evidence, circuit),
        *_cycle_faults(evidence, circuit, recipe),
        *_flow_faults(evidence, circuit),
    )


def _flow_faults(evidence: Evidence, circuit: Circuit) -> Iterator[Fault]:
    """Yield flows timed at a diverter that is not there."""
    if any(path.divert_after is not None for path in circuit.paths):
        return
    for index, flow in enumerate(evidence.flows, start=1):
        yield Fault(
            key=f"flow[{index}].litres",
            value=litres(flow.volume_m3),
            problem="was timed at the diverter, and no path of the circuit has one",
            allowed="a circuit with divert_after on a path",
            advice="leave it out, or add divert_after to the path that was diverted",
        )


def _sample_faults(evidence: Evidence, circuit: Circuit, recipe: Recipe | None) -> Iterator[Fault]:
    """Yield samples from places that are not there."""
    for index, sample in enumerate(evidence.samples, start=1):
        place = f"sample[{index}]"
        if sample.place is Place.LEG and sample.leg not in circuit.leg_by_id:
            yield _no_leg(f"{place}.where", f"leg:{sample.leg}", sample.leg or "", circuit)
        leg = circuit.leg_by_id.get(sample.leg or "")
        if sample.place is Place.LEG and leg is not None and not leg.bleed:
            yield Fault(
                key=f"{place}.where",
                value=f"leg:{sample.leg}",
                problem="has no bleed point in the circuit file, so nothing can be drawn from it",
                allowed=names.one_of([one.id for one in circuit.legs if one.bleed]),
                advice="if it came out at a fitting of its chamber, set bleed = true for this leg",
            )
        if sample.reference != "reservoir" and sample.reference not in circuit.leg_by_id:
            yield _no_leg(f"{place}.ref", sample.reference, sample.reference, circuit)
        if recipe is not None:
            yield from _drawn_faults(sample, recipe, place)


def _drawn_faults(sample: Sample, recipe: Recipe, place: str) -> Iterator[Fault]:
    """Yield samples of litres that never flowed."""
    count = len(recipe.steps)
    if sample.after_step > count:
        yield _no_step(f"{place}.after_step", sample.after_step, recipe)
        return
    sent = [s for s in recipe.steps[: sample.after_step] if isinstance(s, Exchange)]
    bled = sample.after_step > 0 and isinstance(recipe.steps[sample.after_step - 1], Bleed)
    if sample.place is Place.OUTFLOW and not sent and not bled:
        yield Fault(
            key=f"{place}.where",
            value="outflow",
            problem=f"nothing has run out at the diverter by the end of step {sample.after_step}",
            allowed="after a step that exchanges, or after one that bleeds",
            advice="correct after_step, or where",
        )
    if sample.at_step_m3 is None:
        return
    step = recipe.steps[sample.after_step - 1] if sample.after_step else None
    if not isinstance(step, Exchange | Bleed):
        yield Fault(
            key=f"{place}.at_step_l",
            value=litres(sample.at_step_m3),
            problem=f"step {sample.after_step} sends nothing to waste while it lasts",
            allowed="a step that exchanges or bleeds",
            advice="leave at_step_l out, or correct after_step",
        )
    elif sample.at_step_m3 > step.litres_m3 + _SLACK_M3:
        yield Fault(
            key=f"{place}.at_step_l",
            value=litres(sample.at_step_m3),
            problem=f"step {sample.after_step} sends no more than {litres(step.litres_m3)} L to "
            "waste",
            allowed=f"from 0 to {litres(step.litres_m3)} L, counted within the step",
            advice="count the litres of this step alone",
        )


def _step_faults(evidence: Evidence, recipe: Recipe | None) -> Iterator[Fault]:
    """Yield readings of steps that are not there."""
    if recipe is None:
        return
    count = len(recipe.steps)
    for index, volume in enumerate(evidence.volumes, start=1):
        if volume.step is not None and volume.step > count:
            yield _no_step(f"volume[{index}].step", volume.step, recipe)
        else:
            yield from _volume_faults(index, volume, recipe)
    for index, level in enumerate(evidence.levels, start=1):
        if level.after_step > count:
            yield _no_step(f"level[{index}].after_step", level.after_step, recipe)
    for index, turn in enumerate(evidence.turns, start=1):
        if turn.step > count:
            yield _no_step(f"turn[{index}].step", turn.step, recipe)
            continue
        step = recipe.steps[turn.step - 1]
        if not isinstance(step, Exchange):
            yield Fault(
                key=f"turn[{index}].step",
                value=turn.step,
                problem=f"step {turn.step} is {step.do}, and only an exchange has an outflow",
                allowed="a step that exchanges",
                advice="correct the number of the step",
            )
        elif turn.at_m3 > step.litres_m3 + _SLACK_M3:
            yield Fault(
                key=f"turn[{index}].at_l",
                value=litres(turn.at_m3),
                problem=f"step {turn.step} sends no more than {litres(step.litres_m3)} L to waste",
                allowed=f"from 0 to {litres(step.litres_m3)} L, counted within the step",
                advice="count the litres of this step alone",
            )


def _volume_faults(index: int, volume: VolumeReading, recipe: Recipe) -> Iterator[Fault]:
    """Yield volumes that no step of theirs takes or gives."""
    if volume.what is Counted.LEFT_OVER:
        return
    kinds, does = _MOVED[volume.what]
    where = recipe.steps if volume.step is None else recipe.steps[volume.step - 1 : volume.step]
    if not any(isinstance(step, kinds) for step in where):
        who = "the recipe" if volume.step is None else f"step {volume.step} ({where[0].do})"
        may = [str(n) for n, step in enumerate(recipe.steps, start=1) if isinstance(step, kinds)]
        yield Fault(
            key=f"volume[{index}].what",
            value=volume.what.value,
            problem=f"{who} does not {does}",
            allowed=f"step {' or '.join(may)}" if may else "no such volume with this recipe",
            advice="correct the step, or what was measured",
        )


def _leg_faults(evidence: Evidence, circuit: Circuit) -> Iterator[Fault]:
    """Yield travels of legs that are not there or do not move."""
    for index, travel in enumerate(evidence.travels, start=1):
        leg = circuit.leg_by_id.get(travel.leg)
        if leg is None:
            yield _no_leg(f"travel[{index}].leg", travel.leg, travel.leg, circuit)
        elif leg.stroke_m3.best <= 0.0:
            yield Fault(
                key=f"travel[{index}].leg",
                value=travel.leg,
                problem="has no stroke in the circuit file, so it cannot have travelled",
                allowed="a leg with stroke_l above 0",
                advice="correct the leg, here or in the circuit file",
            )


def _cycle_faults(evidence: Evidence, circuit: Circuit, recipe: Recipe | None) -> Iterator[Fault]:
    """Yield cycles of groups that are not there or were not exercised."""
    known = [*dict.fromkeys(leg.group for leg in circuit.legs if leg.group), *circuit.leg_by_id]
    first: dict[tuple[int, str], int] = {}
    for index, made in enumerate(evidence.cycles, start=1):
        if made.group not in known:
            yield Fault(
                key=f"cycles[{index}].group",
                value=made.group,
                problem="is neither a group nor a leg of the circuit",
                allowed=names.one_of(known),
                advice=names.did_you_mean(made.group, known, otherwise="correct it"),
            )
        before = first.setdefault((made.step, made.group), index)
        if before != index:
            yield Fault(
                key=f"cycles[{index}].group",
                value=made.group,
                problem=f"was counted for step {made.step} already, in cycles[{before}]",
                allowed="one count for a group in a step",
                advice="keep the one that holds",
            )
        if recipe is None:
            continue
        if made.step > len(recipe.steps):
            yield _no_step(f"cycles[{index}].step", made.step, recipe)
            continue
        step = recipe.steps[made.step - 1]
        moved = step.exercise.groups if isinstance(step, Exchange | Circulate) else ()
        if made.group in known and made.group not in moved:
            yield Fault(
                key=f"cycles[{index}].group",
                value=made.group,
                problem=f"step {made.step} ({step.do}) does not exercise it",
                allowed=names.one_of(moved),
                advice="correct the step or the group",
            )


def _no_step(key: str, number: int, recipe: Recipe) -> Fault:
    """Return the fault of a step that is not there."""
    count = len(recipe.steps)
    return Fault(
        key=key,
        value=number,
        problem=f"there is no such step: the recipe has {count}",
        allowed=f"from 1 to {count}",
        advice="count the [[step]] entries of the recipe, the first is 1",
    )


def _no_leg(key: str, value: str, name: str, circuit: Circuit) -> Fault:
    """Return the fault of a leg that is not there."""
    return Fault(
        key=key,
        value=value,
        problem="is no leg of the circuit",
        allowed=names.one_of(circuit.leg_by_id),
        advice=names.did_you_mean(name, circuit.leg_by_id, otherwise="correct the id"),
    )
