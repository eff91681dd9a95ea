"""What was read in a job, as the table of an evidence file, without typing anything again.

Samples are joined with what was read off them by their names; cans and containers of one step are
added up; steps that were left out vanish, and the others are counted anew. Leaves out what the
readings mean.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ullage.circuit.network import Circuit
from ullage.evidence.reading import VOLUME_IN_COMMON
from ullage.fluids.liquid import Liquid
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.stage import Stage, StepState
from ullage.units.convert import LITRE_M3, ZERO_CELSIUS_K

#: The tables of an evidence file, in its order.
TABLES = ("sample", "volume", "level", "flow", "turn", "travel", "cycles")
#: Standard uncertainty of one amount, where nobody says: by jug and by kitchen scale, as in an
#: evidence file.
JUG_U_L, SCALE_U_L = 0.05, 0.02
#: Of what containers hold, against their label, the film that stays in them included. Common
#: practice, no source.
CONTAINER_U = 0.015
_GRAM_KG = 1e-3
_SHELF_DEGC = 20.0
_SENT = ("exchange", "bleed")
_POURED, _LEFT_OVER = "poured", "left-over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One reading: the table it belongs to, its keys, and the entries that it was made of.

    ``values`` carry the step numbers of the recipe that was chosen, ``in_file`` those of the
    recipe as it was carried out.
    """

    table: str
    values: Mapping[str, Any]
    in_file: Mapping[str, Any]
    uids: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """All readings of a job; ``unread`` names samples that nobody read yet, ``unused`` says in
    sentences what is not used and why.
    """

    rows: tuple[Row, ...] = ()
    unread: tuple[str, ...] = ()
    unused: tuple[str, ...] = ()

    def of(self, table: str) -> tuple[Row, ...]:
        """Return the rows of one table, in the order of the file."""
        return tuple(row for row in self.rows if row.table == table)

    @property
    def evidence(self) -> dict[str, Any]:
        """Return the table of an evidence file."""
        tables = {name: [dict(row.in_file) for row in self.of(name)] for name in TABLES}
        return {
            "format": "ullage-evidence/1",
            **{name: rows for name, rows in tables.items() if rows},
        }


def steps_carried_out(job: Job) -> tuple[int, ...]:
    """Return the numbers of the steps that were carried out."""
    return _steps_where(job, {StepState.CARRIED_OUT})


def steps_not_left_out(job: Job) -> tuple[int, ...]:
    """Return the numbers of the steps that were carried out or still may be."""
    return _steps_where(job, set(StepState) - {StepState.LEFT_OUT})


def _steps_where(job: Job, states: set[StepState]) -> tuple[int, ...]:
    """Return the numbers of the steps in some states."""
    table = job.recipe_table
    count = 0 if table is None else len(table["step"])
    return tuple(n for n in range(1, count + 1) if job.step_state(n) in states)


def recipe_of_steps(table: Mapping[str, Any], kept: Sequence[int]) -> dict[str, Any]:
    """Return the table of a recipe that has some of the steps only."""
    return {**table, "step": [table["step"][number - 1] for number in kept]}


def gathered(job: Job, circuit: Circuit, kept: Sequence[int]) -> Gathered:
    """Return all readings of a job for a recipe of the steps that were ``kept``."""
    return _Gathering(job, circuit, kept).all()


class _Gathering:
    """Goes through the entries of a job, table by table."""

    def __init__(self, job: Job, circuit: Circuit, kept: Sequence[int]) -> None:
        self.job = job
        self.circuit = circuit
        self.place = {number: place for place, number in enumerate(kept, start=1)}
        recipe = job.recipe_table or {}
        self.recipe_degc = job.recipe_degc
        self.shelf_degc = float(recipe.get("new_fluid_degc", _SHELF_DEGC))
        self.unread: list[str] = []
        self.unused: list[str] = []

    def all(self) -> Gathered:
        """Return everything."""
        rows = (
            *self.samples(),
            *self.volumes(),
            *self.levels(),
            *self.as_typed(Kind.FLOW, "flow"),
            *self.newest(Kind.TURN, "turn", ("step",)),
            *self.as_typed(Kind.TRAVEL, "travel"),
            *self.newest(Kind.CYCLES, "cycles", ("step", "group")),
        )
        return Gathered(rows=rows, unread=tuple(self.unread), unused=tuple(self.unused))

    def samples(self) -> Iterator[Row]:
        """Yield the samples that were read, each with its newest reading."""
        readings = {event.payload["sample"]: event for event in self.job.of(Kind.READING)}
        drawn = {event.payload["name"]: event for event in self.job.of(Kind.SAMPLE)}
        for name in readings:
            if name not in drawn:
                self.unused.append(f"A reading names the sample {name}, which nobody drew.")
        for name, sample in drawn.items():
            reading = readings.get(name)
            if reading is None:
                self.unread.append(name)
                continue
            values = {
                **_keys(sample, ("where", "after_step", "at_step_l")),
                **_keys(reading, ("old_pct", "u_pct", "ref", "shares")),
            }
            moved = dict(values)
            if values["after_step"] not in self.place:
                moved.pop("at_step_l", None)
            yield Row(
                table="sample",
                values=values,
                in_file=self.after(moved),
                uids=(sample.uid, reading.uid),
            )

    def volumes(self) -> Iterator[Row]:
        """Yield volumes: amounts of one step added up, containers over the whole job."""
        groups: dict[tuple[str, int | None], list[Event]] = {}
        self.at_refit()
        for event in _of_exchange(self.job, Kind.VOLUME):
            groups.setdefault((event.payload["what"], event.payload.get("step")), []).append(event)
        for (what, step), events in groups.items():
            values = self.added_up(what, events)
            if step is not None:
                values["step"] = step
            yield from self.of_step("volume", values, events, f"the {what} volume")
        poured = _of_exchange(self.job, Kind.POURED)
        for what, step in groups:
            is_counted = (_POURED, step) in groups or (step is None and poured)
            if what == _LEFT_OVER and not is_counted:
                where = "over the whole job" if step is None else f"in step {step}"
                self.unused.append(
                    f"What was left over is not counted: nobody wrote down what was poured {where}."
                )
        if poured and (_POURED, None) not in groups:
            litres = sum(float(event.payload["litres"]) for event in poured)
            values = {
                "what": _POURED,
                "litres": litres,
                "at_degc": self.shelf_degc,
                "u_l": max(SCALE_U_L, CONTAINER_U * litres),
            }
            yield from self.of_step("volume", values, poured, "the poured volume")

    def at_refit(self) -> None:
        """Say that what was poured at the refit is no part of the recipe."""
        litres = poured_at_refit_l(self.job)
        if litres > 0.0:
            self.unused.append(
                f"{litres:.2g} L poured at the refit are not counted: they can only lower what is "
                "left."
            )

    def added_up(self, what: str, events: Sequence[Event]) -> dict[str, Any]:
        """Return several amounts as one, in the unit and at the temperature they have in common."""
        first = events[0].payload
        alike = {(event.payload.get("at_degc"), "grams" in event.payload) for event in events}
        if len(alike) == 1:
            key = "grams" if "grams" in first else "litres"
            values = {"what": what, key: sum(float(event.payload[key]) for event in events)}
            if first.get("at_degc") is not None:
                values["at_degc"] = first["at_degc"]
        else:
            litres = sum(self.litres(what, event.payload) for event in events)
            values = {"what": what, "litres": litres, "at_degc": self.recipe_degc}
        each = [
            float(event.payload.get("u_l") or (SCALE_U_L if "grams" in event.payload else JUG_U_L))
            for event in events
        ]
        apart, together = sum(u**2 for u in each), sum(each) ** 2
        values["u_l"] = math.sqrt((1.0 - VOLUME_IN_COMMON) * apart + VOLUME_IN_COMMON * together)
        shares = {event.payload.get("shares") for event in events}
        if len(shares) == 1 and first.get("shares"):
            values["shares"] = first["shares"]
        return values

    def litres(self, what: str, payload: Mapping[str, Any]) -> float:
        """Return an amount in litres at the temperature of the recipe."""
        is_new = what in (_POURED, _LEFT_OVER)
        liquid = self.circuit.new_fluid if is_new else self.circuit.fluid
        at_degc = payload.get("at_degc")
        return litres_at(
            payload, liquid, self.recipe_degc if at_degc is None else at_degc, self.recipe_degc
        )

    def levels(self) -> Iterator[Row]:
        """Yield levels; those of the refit only where nothing was poured or drained there."""
        changed = any(
            event.payload.get("stage") == Stage.REFIT
            for event in self.job.of(Kind.POURED, Kind.VOLUME)
        )
        for event in self.job.of(Kind.LEVEL):
            if changed and event.payload.get("stage") == Stage.REFIT:
                self.unused.append(
                    "A level read at the refit is not used: fluid was poured or drained there."
                )
                continue
            keys = ("after_step", "mm", "litres", "state", "at_degc", "u_mm", "u_l")
            values = _keys(event, keys)
            yield Row(table="level", values=values, in_file=self.after(values), uids=(event.uid,))

    def as_typed(self, kind: Kind, table: str) -> Iterator[Row]:
        """Yield readings that belong to no step."""
        for event in self.job.of(kind):
            values = _keys(event, _KEYS[kind])
            yield Row(table=table, values=values, in_file=values, uids=(event.uid,))

    def newest(self, kind: Kind, table: str, of: tuple[str, ...]) -> Iterator[Row]:
        """Yield readings of which a step has one, the newest."""
        found = {tuple(event.payload[key] for key in of): event for event in self.job.of(kind)}
        for event in found.values():
            yield from self.of_step(table, _keys(event, _KEYS[kind]), (event,), f"the {table}")

    def of_step(
        self, table: str, values: Mapping[str, Any], events: Iterable[Event], words: str
    ) -> Iterator[Row]:
        """Yield a reading that a step must have been carried out for."""
        step = values.get("step")
        if step is not None and step not in self.place:
            self.unused.append(
                f"Step {step} does not count as carried out, so {words} of it is not used."
            )
            return
        moved = dict(values) if step is None else {**values, "step": self.place[step]}
        yield Row(
            table=table, values=values, in_file=moved, uids=tuple(event.uid for event in events)
        )

    def after(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Return the keys with ``after_step`` counted in the recipe as it was carried out."""
        number = values["after_step"]
        return {**values, "after_step": sum(1 for kept in self.place if kept <= number)}


def _of_exchange(job: Job, kind: Kind) -> tuple[Event, ...]:
    """Return entries of a kind that were not made at the refit."""
    return tuple(e for e in job.of(kind) if e.payload.get("stage") != Stage.REFIT)


def poured_at_refit_l(job: Job) -> float:
    """Return what was poured at the refit [L]."""
    return sum(
        float(event.payload["litres"])
        for event in job.of(Kind.POURED)
        if event.payload.get("stage") == Stage.REFIT
    )


_KEYS = {
    Kind.FLOW: ("litres", "seconds", "rev_min"),
    Kind.TURN: ("step", "at_l", "u_l"),
    Kind.TRAVEL: ("leg", "pct"),
    Kind.CYCLES: ("step", "group", "count"),
}


def litres_at(payload: Mapping[str, Any], liquid: Liquid, at_degc: float, to_degc: float) -> float:
    """Return an amount that was read at one temperature, in litres at another."""
    rho = liquid.density_kg_m3(to_degc + ZERO_CELSIUS_K)
    if payload.get("grams") is not None:
        return float(payload["grams"]) * _GRAM_KG / rho / LITRE_M3
    return float(payload["litres"]) * liquid.density_kg_m3(at_degc + ZERO_CELSIUS_K) / rho


def _keys(event: Event, keys: tuple[str, ...]) -> dict[str, Any]:
    """Return some keys of a payload, those that are there."""
    return {key: event.payload[key] for key in keys if event.payload.get(key) is not None}


def with_litres_sent(
    job: Job, circuit: Circuit, recipe: Mapping[str, Any], kept: Sequence[int]
) -> list[dict[str, Any]]:
    """Return the steps with the litres that really went to waste, where they were measured."""
    at_degc = job.recipe_degc
    sent: dict[int, float] = {}
    for event in job.of(Kind.VOLUME):
        payload = event.payload
        if (
            payload["what"] == "waste"
            and payload.get("stage") != Stage.REFIT
            and payload.get("step") is not None
        ):
            read_degc = payload.get("at_degc")
            litres = litres_at(
                payload, circuit.fluid, at_degc if read_degc is None else read_degc, at_degc
            )
            sent[payload["step"]] = sent.get(payload["step"], 0.0) + litres
    return [
        {**step, "litres": sent[number]}
        if step["do"] in _SENT and sent.get(number, 0.0) > 0.0
        else dict(step)
        for number, step in zip(kept, recipe["step"], strict=True)
    ]
