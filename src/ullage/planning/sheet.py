"""The job sheet as data: what to do, in plain sentences, with litres, seconds, counts and what to
see when it went right.

Steps come from the recipe, figures from its run at the best values, spreads from the ensemble. What
a careful technician does before and after stands in ``data/around.toml``, cautions in
``data/cautions.toml``; both appear where they belong. How it looks on paper is not decided here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.planning.goal import Goal
from ullage.planning.has import concerning, features
from ullage.planning.level_target import level_target
from ullage.planning.surface import has_heights, height_m
from ullage.planning.warmth import lump_of, warm_up
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Circulate,
    DrawOff,
    Exchange,
    Extend,
    Fill,
    Recipe,
    Release,
    Retract,
    Step,
    SwapFilter,
    TopUp,
)
from ullage.transport.result import Run, StepResult
from ullage.units.convert import ZERO_CELSIUS_K

# The outflow is seen to change when this much of it is new, and looks new from there on.
_TURNS_BELOW = 0.9
_LOOKS_NEW_BELOW = 0.05
_LITRE = 1e3
# Nobody waits longer than this for a pump at idle; common practice, no source.
_LONG_S = 1800.0
# What nobody pours on purpose.
_NOTHING_M3 = 5e-6
# What nobody sees of a level.
_SEEN_M = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the sheet.

    ``stage`` is before, exchange or after; ``step`` the number of the recipe's step, None around
    it. ``accept`` says what to see when it went right, ``cautions`` are their ids and texts."""

    stage: str
    sentence: str
    accept: str
    step: int | None = None
    litres_m3: float | None = None
    duration_s: float | None = None
    cycles: dict[str, int] = field(default_factory=dict)
    cautions: tuple[tuple[str, str], ...] = ()


def sheet_of(circuit: Circuit, goal: Goal, recipe: Recipe, run: Run) -> tuple[Line, ...]:
    """Return the sheet of a recipe that has been run as an ensemble."""
    has = features(circuit, recipe)
    best = run.best or run
    lines = [
        Line(
            stage="before",
            sentence=str(row["text"]),
            accept=str(row["accept"]),
            cautions=_cautions("before", has) if number == 0 else (),
        )
        for number, row in enumerate(concerning("around", "before", has))
    ]
    lines += _warm(circuit, recipe, has)
    before_m3 = circuit.reservoir.start_m3.best
    for step, made, drawn in zip(recipe.steps, best.steps, run.steps, strict=True):
        sentence, accept, litres = _told(
            circuit, goal, step, made, drawn, before_m3, best, recipe.temperature_k
        )
        duration = float(made.duration_s[0])
        words = [step.do]
        if isinstance(step, Exchange | Circulate) and step.exercise.groups:
            words.append("exercise")
        lines.append(
            Line(
                stage="exchange",
                step=made.index + 1,
                sentence=sentence,
                accept=accept,
                litres_m3=litres,
                duration_s=duration if duration > 0.0 else None,
                cycles=dict(made.cycles),
                cautions=tuple(dict.fromkeys(c for word in words for c in _cautions(word, has))),
            )
        )
        before_m3 = float(made.level_m3[0])
    rows = concerning("around", "after", has)
    lines += [
        Line(
            stage="after",
            sentence=str(row["text"]),
            accept=str(row["accept"]),
            cautions=_cautions("after", has) if number == 0 else (),
        )
        for number, row in enumerate(rows)
    ]
    return tuple(lines)


def _cautions(word: str, has: frozenset[str]) -> tuple[tuple[str, str], ...]:
    """Return the cautions of a step, or of before and after."""
    return tuple(
        (str(row["id"]), str(row["text"]))
        for row in concerning("cautions", "caution", has)
        if word in row["at"]
    )


def _warm(circuit: Circuit, recipe: Recipe, has: frozenset[str]) -> Iterator[Line]:
    """Yield the warm-up, where the recipe wants the fluid warm."""
    if "pump" not in has or recipe.temperature_k < 30.0 + ZERO_CELSIUS_K:
        return
    degc = recipe.temperature_k - ZERO_CELSIUS_K
    bring = f"Bring the fluid to about {degc:.0f} degC"
    if recipe.temperature_k <= lump_of(circuit).ambient_k:
        return
    takes_s = warm_up(circuit, target_k=recipe.temperature_k).time_s
    if takes_s is None:
        how = f"{bring} by working or driving the machine: the pump at idle never gets it there."
    elif takes_s > _LONG_S:
        how = (
            f"{bring} by working or driving the machine: the pump at idle alone takes about "
            f"{takes_s / 60.0:.0f} min."
        )
    else:
        how = (
            f"{bring} with the pump at idle, the return to the reservoir: about "
            f"{takes_s / 60.0:.0f} min."
        )
    yield Line(
        stage="before",
        sentence=how,
        accept=f"{degc:.0f} degC in the reservoir, within 5 K",
        cautions=_cautions("circulate", has),
    )


def _told(
    circuit: Circuit,
    goal: Goal,
    step: Step,
    made: StepResult,
    drawn: StepResult,
    before_m3: float,
    best: Run,
    temperature_k: float,
) -> tuple[str, str, float | None]:
    """Return what a step asks for, what to see when it went right, and its litres."""
    level = float(made.level_m3[0])
    match step:
        case DrawOff():
            out = float(made.waste_m3[0])
            low, high = _band(drawn.waste_m3)
            if out < 1e-6:
                return "Nothing is left to draw off here.", "the extractor sucks air", 0.0
            return (
                f"Draw off the reservoir, about {_l(out)}, down to what the hose cannot reach.",
                f"{_span(low, high)} in the waste can",
                out,
            )
        case TopUp():
            poured = float(made.poured_m3[0])
            about = f"about {_l(poured)}" if poured > _NOTHING_M3 else "next to nothing"
            return (
                f"Fill up to the mark: {_level(circuit, level)}, {_state(circuit)}.",
                f"at the mark in that state and at its temperature, {about} poured"
                f"{_read_hot(circuit, temperature_k)}",
                poured,
            )
        case Fill():
            poured = float(made.poured_m3[0])
            if poured < _NOTHING_M3:
                there = _level(circuit, level)
                return f"Look at the level, and pour where it is lower: {there}.", there, 0.0
            return (
                f"Pour {_l(poured)} of new fluid: {_level(circuit, level)}.",
                f"{_level(circuit, level)}, within 5 mm",
                poured,
            )
        case Exchange():
            return (*_exchange(circuit, goal, step, made, best), step.litres_m3)
        case Circulate():
            moved = _moved(made)
            what = f", {moved}" if moved else ""
            seen = "every cycle seen to its ends; " if moved else ""
            return (
                f"Return to the reservoir: run at idle for {_time(step.duration_s)}{what}.",
                f"{seen}the level comes back to where it stood",
                None,
            )
        case Retract():
            return (
                f"Lower {_named(step.legs)} as far as it goes, down to the end stop.",
                f"{_level(circuit, level)} when nothing moves any more",
                None,
            )
        case Extend():
            return (
                f"Raise {_named(step.legs)} as far as it goes, up to the end stop.",
                f"{_level(circuit, level)} when nothing moves any more",
                None,
            )
        case Release():
            back = level - before_m3
            return (
                "Let the pressure of the gas volumes go, the machine held up: about "
                f"{_l(max(back, 0.0))} comes back into the reservoir.",
                f"the level rises by {_l(max(back, 0.0))} and then stands",
                None,
            )
        case Charge():
            takes = before_m3 - level
            return (
                f"Start the engine and let the gas volumes fill: they take {_l(max(takes, 0.0))}.",
                f"{_level(circuit, level)} when the pressure stands",
                None,
            )
        case Bleed():
            count = step.litres_m3
            old = float(made.waste_old_m3[0] / made.waste_m3[0])
            first = next(one.index for one in best.steps if one.do == step.do)
            is_first = made.index == first
            order = " Where the maker gives an order, keep to that one." if is_first else ""
            return (
                f"Bleed {step.leg} at its highest point: let {_l(count)} out into a bottle, keep "
                f"the level by pouring.{order}",
                f"{_l(count)} in the bottle, {old * 100:.0f} % of it old",
                count,
            )
        case SwapFilter():
            what = "fill the housing with new fluid" if step.prefilled else "leave it dry"
            poured = float(made.poured_m3[0])
            return (
                f"Change the filter element and its sealing rings, {what} ({_l(poured)}).",
                "rings oiled, housing tight, the old element draining warm over a tray",
                poured,
            )
        case _:
            minutes = float(made.duration_s[0]) / 60.0
            return f"Wait {minutes:.0f} min.", "nothing moves, foam has gone", None


def _exchange(
    circuit: Circuit, goal: Goal, step: Exchange, made: StepResult, best: Run
) -> tuple[str, str]:
    """Return what an exchange asks for and what to see."""
    litres = step.litres_m3
    containers = litres / goal.container_m3
    moved = _moved(made)
    sentence = (
        f"Return to the waste can: pour new fluid so that the level stays at "
        f"{_level(circuit, float(made.level_m3[0]))} until {_l(litres)} have gone out"
        f" ({containers:.2g} {'container' if containers <= 1.0 else 'containers'})"
    )
    sentence += f", {moved}." if moved else ", nothing is moved."
    turning = _turning(best, made.index + 1)
    poured = sum(float(one.poured_m3[0]) for one in best.steps[: made.index + 1])
    empties = poured / goal.container_m3
    count = int(empties + 0.05)
    accept = f"{_l(litres)} more in the waste can"
    if count:
        accept += f", about {count} {'container' if count == 1 else 'containers'} empty by now"
    return sentence, f"{accept}; {turning}" if turning else accept


def _turning(best: Run, step: int) -> str:
    """Say at which litres of a step the outflow changes; empty where there is no outflow."""
    for flow in best.outflow:
        if flow.step != step:
            continue
        share = flow.old_share[:, 0]
        litres = flow.waste_m3 * _LITRE
        if np.isnan(share).all():
            return ""
        turned = np.flatnonzero(share < _TURNS_BELOW)
        fresh = np.flatnonzero(share < _LOOKS_NEW_BELOW)
        if not len(turned):
            return "the outflow stays dark to the end of this step"
        words = (
            f"the outflow begins to clear at about {litres[turned[0]]:.1f} L"
            if turned[0] > 0
            else "the outflow is already clearing"
        )
        if len(fresh):
            words += f" and looks new from {litres[fresh[0]]:.1f} L on: that is no proof yet"
        else:
            words += f" and ends {share[-1] * 100:.0f} % old"
        return words
    return ""


def outflow_turns_m3(run: Run) -> float | None:
    """Return how much has gone through the diverter when the outflow begins to clear.

    Parameters
    ----------
    run : Run
        At the best values.

    Returns
    -------
    turns_m3 : scalar
        Counted over all exchanges; None where it never clears. [m3]

    Source
    ------
    Read off the run.
    """
    gone = 0.0
    for flow in run.outflow:
        turned = np.flatnonzero(flow.old_share[:, 0] < _TURNS_BELOW)
        if len(turned):
            return gone + float(flow.waste_m3[turned[0]])
        gone += float(flow.waste_m3[-1])
    return None


def _moved(made: StepResult) -> str:
    """Say which groups move how often."""
    cycles = [f"{name} {_times(count)}" for name, count in made.cycles.items() if count]
    if not cycles:
        return ""
    return f"move {' and '.join(cycles)}, up and down over the whole stroke"


def _times(count: int) -> str:
    """Say how often."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _named(legs: tuple[str, ...]) -> str:
    """Say which actuators are meant."""
    return " and ".join(legs) if legs else "every actuator"


def _time(duration_s: float) -> str:
    """Say a time as somebody reads it off a watch."""
    return f"{duration_s:.0f} s" if duration_s < 90.0 else f"{duration_s / 60.0:.1f} min"


def _band(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float]:
    """Return where nine of ten machines lie."""
    low, high = np.quantile(values, [0.05, 0.95])
    return float(low), float(high)


def _state(circuit: Circuit) -> str:
    """Say in which state the mark is read."""
    return {
        State.CHARGED: "pressure up, standing as found"
        if any(leg.gas for leg in circuit.legs)
        else "standing as found",
        State.RELEASED: "pressure let go",
        State.RETRACTED: "everything lowered",
        State.EXTENDED: "everything raised",
    }[circuit.reservoir.mark]


def _span(low_m3: float, high_m3: float) -> str:
    """Say from where to where a volume lies; one figure where both read alike."""
    low, high = _l(low_m3), _l(high_m3)
    return low if low == high else f"{low} to {high}"


def _read_hot(circuit: Circuit, temperature_k: float) -> str:
    """Say where the level belongs when it is read hot, where that can be seen."""
    belongs = level_target(circuit, temperature_k=temperature_k)
    if belongs.height_m is None or abs(belongs.height_m) < _SEEN_M:
        return ""
    side = "above" if belongs.height_m > 0.0 else "below"
    more = f", so {_l(belongs.swell_m3)} more" if belongs.swell_m3 > 0.0 else ""
    return (
        f"; read at {temperature_k - ZERO_CELSIUS_K:.0f} degC it belongs "
        f"{abs(belongs.height_m) * 1e3:.0f} mm {side} the mark{more}"
    )


def _level(circuit: Circuit, volume_m3: float) -> str:
    """Say a level in litres, and in millimetres from the full mark where heights are known."""
    tank = circuit.reservoir
    full = tank.full_m3.best
    if abs(volume_m3 - full) < 1e-5:
        return f"{_l(volume_m3)} in the reservoir, at the full mark"
    if not has_heights(tank):
        return f"{_l(volume_m3)} in the reservoir"
    apart = (height_m(tank, volume_m3) - height_m(tank, full)) * 1e3
    side = "below" if apart < 0.0 else "above"
    return f"{_l(volume_m3)} in the reservoir, {abs(apart):.0f} mm {side} the full mark"


def _l(volume_m3: float) -> str:
    """Say a volume in litres, no finer than a jug reads."""
    litres = volume_m3 * _LITRE
    return f"{litres:.1f} L" if litres >= 1.0 else f"{litres:.2f} L"
