"""What should be seen at each step, before anybody looks; and does a reading lie within it?

The recipe, without the steps that were left out, is run on machines that the circuit may be. The
same machines answer for each reading what they would have shown, in the state and at the
temperature in which it was taken. Leaves out what a reading that lies outside tells
(``evidence.misfit``).
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from threading import Lock
from typing import Any

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.errors import FileFaults, UllageError
from ullage.evidence.forward import Floats
from ullage.evidence.likelihood import readings_of
from ullage.evidence.observation import Evidence, LevelReading, Turn
from ullage.evidence.reading import Reading
from ullage.evidence.refusals import evidence_faults
from ullage.evidence.update import Prover
from ullage.evidence.verdict import prover_of
from ullage.jobs.answer import Of, fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.job import Job
from ullage.jobs.ports import Desk
from ullage.jobs.readings import TABLES, Gathered, gathered, recipe_of_steps, steps_not_left_out
from ullage.planning.goal import Goal
from ullage.planning.sheet import Line, sheet_of
from ullage.planning.surface import has_heights
from ullage.transport.recipe import (
    Charge,
    Circulate,
    Exchange,
    Extend,
    Recipe,
    Release,
    Retract,
    Step,
)
from ullage.transport.refusals import refusals
from ullage.transport.solve import simulate

#: Machines that a forecast is made with.
MACHINES = 400
#: Nineteen of twenty machines, and readings taken on them, lie within a band.
ENDS = (0.025, 0.5, 0.975)
_DEVIATIONS = 1.96
#: So many readings outside their bands, and the plan is no longer to be trusted.
MOST_MISSES = 3
# Where the middle machine shows no change of colour before this share of a step, none is foretold.
_NO_TURN = 0.98
_KEPT = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Where a figure lies nineteen times in twenty, and its middle, in SI."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What a step should show: its line of the sheet and figures with their bands.

    ``state`` is what the machine stands in afterwards, in which ``level_m3`` holds; ``level_m``
    counts from the full mark. ``turn_m3`` is how much of the step has gone to waste when the
    outflow visibly changes, None where it does not."""

    step: int
    line: Line
    state: State
    poured_m3: Band
    waste_m3: Band
    level_m3: Band
    level_m: Band | None
    turn_m3: Band | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A reading beside its band, all in the SI unit of the reading, the reading's error included.

    ``uids`` are the entries that it was made of; ``apart`` is how far it lies from the middle, 1 at
    the end of the band. ``is_height`` tells a level read as a height from one read as a content."""

    kind: str
    words: str
    uids: tuple[str, ...]
    step: int | None
    value: float
    band: Band
    apart: float
    is_height: bool = False

    @property
    def is_within(self) -> bool:
        """Tell whether the reading lies in its band."""
        return self.apart <= 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What is expected of each step that was not left out, by its number; and the machines."""

    circuit: Circuit
    recipe: Recipe
    steps: Mapping[int, Expected]
    prover: Prover
    fingerprint: str
    seed: int

    def checks(self, found: Gathered, evidence: Evidence) -> tuple[Check, ...]:
        """Return each reading beside its band."""
        readings = readings_of(evidence, self.circuit, self.recipe)
        predicted = self.prover.prior(readings)
        checks = []
        for reading, shown in zip(readings, predicted.predicted, strict=True):
            row = found.of(reading.kind)[reading.index - 1]
            low, middle, high = (float(v) for v in predicted.quantiles(shown, ENDS))
            band = _widened(Band(low=low, middle=middle, high=high), reading)
            end = band.high if reading.value >= middle else band.low
            checks.append(
                Check(
                    kind=reading.kind,
                    words=reading.words,
                    uids=row.uids,
                    step=row.values.get("step", row.values.get("after_step")),
                    value=reading.value,
                    band=band,
                    apart=(reading.value - middle) / (end - middle) if end != middle else 0.0,
                    is_height=reading.kind == "level" and "mm" in row.values,
                )
            )
        return tuple(checks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The forecast of a job with its readings checked; ``why_not`` where there is none."""

    forecast: Forecast | None
    found: Gathered
    checks: tuple[Check, ...] = ()
    why_not: str = ""

    @property
    def misses(self) -> tuple[Check, ...]:
        """Return the readings outside their bands, the furthest out first."""
        out = [check for check in self.checks if not check.is_within]
        return tuple(sorted(out, key=lambda check: -check.apart))

    @property
    def is_to_be_trusted(self) -> bool:
        """Tell whether the plan still agrees with what was read."""
        return len(self.misses) < MOST_MISSES

    def check_of(self, uid: str) -> Check | None:
        """Return the check of an entry; amounts that were added up show it at the last of them."""
        return next((check for check in self.checks if check.uids[-1] == uid), None)


class Forecasts:
    """Keeps the newest forecasts, so that a page shown again need not run them again.

    A forecast follows from circuit, recipe, goal and seed alone; these name it."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Forecast] = OrderedDict()
        self._lock = Lock()

    def of(self, desk: Desk, job: Job) -> Outlook:
        """Return what a job's steps should show, and its readings beside that."""
        table = job.recipe_table
        if table is None:
            return Outlook(forecast=None, found=Gathered(), why_not="No recipe was chosen yet.")
        kept = steps_not_left_out(job)
        machine = found_circuit(desk, job)
        found = gathered(job, machine.circuit, kept)
        if not kept:
            return Outlook(forecast=None, found=found, why_not="Every step was left out.")
        try:
            forecast = self._forecast(desk, job, machine.table, recipe_of_steps(table, kept), kept)
            fitting = _fitting(desk, forecast, found, is_through=job.step_in_hand is None)
            checks = forecast.checks(fitting, desk.forms.evidence(fitting.evidence, "readings"))
        except UllageError as refusal:
            return Outlook(forecast=None, found=found, why_not=str(refusal))
        return Outlook(forecast=forecast, found=found, checks=checks)

    def _forecast(
        self,
        desk: Desk,
        job: Job,
        circuit_table: Mapping[str, Any],
        recipe_table: Mapping[str, Any],
        kept: Sequence[int],
    ) -> Forecast:
        """Return a forecast, made anew where it is not at hand."""
        goal, seed = goal_of(job), seed_of(desk, job)
        inputs = {
            "circuit": dict(circuit_table),
            "recipe": dict(recipe_table),
            "kept": list(kept),
            "container_m3": goal.container_m3,
            "seed": seed,
        }
        name = fingerprint_of(inputs)
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                return self._kept[name]
            circuit = desk.forms.circuit(circuit_table, "circuit")
            recipe = desk.forms.recipe(recipe_table, "recipe")
            made = forecast_of(circuit, recipe, goal, kept, seed=seed, fingerprint=name)
            self._kept[name] = made
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
            return made


def _fitting(desk: Desk, forecast: Forecast, found: Gathered, *, is_through: bool) -> Gathered:
    """Return the readings that the recipe as planned can have given.

    Where more was sent than planned, a reading may belong to litres that no forecast has. What was
    counted over the whole job says nothing until the recipe is through (``is_through``)."""
    evidence = desk.forms.evidence(found.evidence, "readings")
    faults = evidence_faults(evidence, forecast.circuit, forecast.recipe)
    places = {fault.key.split(".")[0] for fault in faults}
    rows = tuple(
        row
        for table in TABLES
        for place, row in enumerate(found.of(table), start=1)
        if f"{table}[{place}]" not in places
        and (is_through or table != "volume" or "step" in row.values)
    )
    return replace(found, rows=rows)


def goal_of(job: Job) -> Goal:
    """Return the goal of a job; where none was set, the usual one stands in for its containers."""
    payload = {} if job.goal is None else job.goal.payload
    return Goal(
        target_share=min(max(float(payload.get("target_pct", 10.0)) / 100.0, 1e-4), 0.9999),
        container_m3=float(payload.get("container_l") or 1.0) * 1e-3,
    )


def seed_of(desk: Desk, job: Job) -> int:
    """Return the seed of the plan that a job follows, 0 where there is none."""
    name = job.answers.get(Of.PLAN.value)
    return 0 if name is None else desk.store.answer(name).seed


def forecast_of(
    circuit: Circuit,
    recipe: Recipe,
    goal: Goal,
    kept: Sequence[int],
    *,
    seed: int = 0,
    fingerprint: str = "",
) -> Forecast:
    """Return what is expected of each step; ``kept`` are the numbers that the steps go by.

    Raises
    ------
    FileFaults
        If the circuit cannot carry the recipe out.
    """
    faults = refusals(circuit, recipe)
    if faults:
        raise FileFaults("recipe", faults)
    run = simulate(circuit, recipe, members=MACHINES, seed=seed, bracket=False)
    lines = {line.step: line for line in sheet_of(circuit, goal, recipe, run) if line.step}
    prover = prover_of(circuit, recipe, Evidence(), seed=seed, prior=MACHINES)
    states = _states(recipe)
    expected = {}
    for place, (number, step) in enumerate(zip(kept, recipe.steps, strict=True), start=1):
        stage = prover.shown.after(place)
        heights = (
            _band(prover, _level(place, states[place - 1], circuit, recipe, is_height=True))
            if has_heights(circuit.reservoir)
            else None
        )
        expected[number] = Expected(
            step=number,
            line=replace(lines[place], step=number),
            state=states[place - 1],
            poured_m3=_band_of(prover, stage.poured_m3),
            waste_m3=_band_of(prover, stage.waste_m3),
            level_m3=_band(
                prover, _level(place, states[place - 1], circuit, recipe, is_height=False)
            ),
            level_m=heights,
            turn_m3=_turn(prover, place, step, circuit, recipe),
        )
    return Forecast(
        circuit=circuit,
        recipe=recipe,
        steps=expected,
        prover=prover,
        fingerprint=fingerprint,
        seed=seed,
    )


def _states(recipe: Recipe) -> list[State]:
    """Return what the machine stands in after each step."""
    state = State.CHARGED
    found = []
    for step in recipe.steps:
        match step:
            case Retract():
                state = State.RETRACTED
            case Extend():
                state = State.EXTENDED
            case Release():
                state = State.RELEASED
            case Charge():
                state = State.CHARGED
            case Exchange() | Circulate() if step.exercise.groups:
                state = State.CHARGED
            case _:
                pass
        found.append(state)
    return found


def _level(
    place: int, state: State, circuit: Circuit, recipe: Recipe, *, is_height: bool
) -> Reading:
    """Return a level after a step as if it had been read."""
    level = LevelReading(
        after_step=place,
        state=state,
        height_m=0.0 if is_height else None,
        u_height_m=1e-3 if is_height else None,
        volume_m3=None if is_height else 0.0,
        u_m3=None if is_height else 1e-6,
    )
    return readings_of(Evidence(levels=(level,)), circuit, recipe)[0]


def _turn(prover: Prover, place: int, step: Step, circuit: Circuit, recipe: Recipe) -> Band | None:
    """Return when the outflow of a step changes colour, None where it does not or has none."""
    if not isinstance(step, Exchange):
        return None
    turn = Turn(step=place, at_m3=0.0, u_m3=1e-6)
    band = _band(prover, readings_of(Evidence(turns=(turn,)), circuit, recipe)[0])
    return None if band.middle >= _NO_TURN * step.litres_m3 else band


def _band(prover: Prover, reading: Reading) -> Band:
    """Return where a reading would lie, without its own error."""
    return _band_of(prover, prover.prior([reading]).predicted[0])


def _band_of(prover: Prover, values: Floats) -> Band:
    """Return where a figure of all machines lies."""
    low, middle, high = (float(v) for v in prover.prior([]).quantiles(values, ENDS))
    return Band(low=low, middle=middle, high=high)


def _widened(band: Band, reading: Reading) -> Band:
    """Return a band with the error of the reading in it."""
    u = _DEVIATIONS * math.hypot(reading.u, reading.u_model, reading.u_shade)
    return Band(
        low=band.middle - math.hypot(band.middle - band.low, u),
        middle=band.middle,
        high=band.middle + math.hypot(band.high - band.middle, u),
    )
