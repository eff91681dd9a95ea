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
from ullage.evidence.observation import Evidence, Place, Sample
from ullage.transport.recipe import Bleed, Circulate, Exchange, Recipe

_SLACK_M3 = 1e-9


def evidence_faults(
    evidence: Evidence, circuit: Circuit, recipe: Recipe | None = None
) -> tuple[Fault, ...]:
    """Return every reading that cannot be; without a recipe steps are not looked at."""
    return (
        *_sample_faults(evidence, circuit, recipe),
        *_step_faults(evidence, recipe),
        *_leg_faults(evidence, circuit),
        *_cycle_faults(evidence, circuit, recipe),
    )


def _sample_faults(evidence: Evidence, circuit: Circuit, recipe: Recipe | None) -> Iterator[Fault]:
    """Yield samples from places that are not there."""
    for index, sample in enumerate(evidence.samples, start=1):
        place = f"sample[{index}]"
        if sample.place is Place.LEG and sample.leg not in circuit.leg_by_id:
            yield _no_leg(f"{place}.where", f"leg:{sample.leg}", sample.leg or "", circuit)
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
    if sample.place is Place.OUTFLOW and not sent:
        yield Fault(
            key=f"{place}.where",
            value="outflow",
            problem=f"nothing has run out at the diverter by the end of step {sample.after_step}",
            allowed="after a step that exchanges",
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
            problem=f"step {sample.after_step} sends no more than {litres(step.litres_m3)} l to "
            "waste",
            allowed=f"from 0 to {litres(step.litres_m3)} l, counted within the step",
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
                problem=f"step {turn.step} sends no more than {litres(step.litres_m3)} l to waste",
                allowed=f"from 0 to {litres(step.litres_m3)} l, counted within the step",
                advice="count the litres of this step alone",
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
    for index, made in enumerate(evidence.cycles, start=1):
        if made.group not in known:
            yield Fault(
                key=f"cycles[{index}].group",
                value=made.group,
                problem="is neither a group nor a leg of the circuit",
                allowed=names.one_of(known),
                advice=names.did_you_mean(made.group, known, otherwise="correct it"),
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
