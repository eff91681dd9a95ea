"""A job on the library van for tests, brought to any of its late stages by the use cases.

The figures that are "read" lie within what the solver foretells for the built-in van; nothing in
them was measured anywhere.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from ullage.circuit.parts import State
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.carry_out import carried_out, finish_exchange
from ullage.jobs.close_job import (
    closing,
    finish_job,
    hand_over_waste,
    set_next_due,
    sign,
    use_lot,
)
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.prove_job import finish_proof, inputs_of, keep_verdict, read_sample, worked_out
from ullage.jobs.refit import finish_refit, read_level, refit, tick
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf
from ullage.jobs.stage import Stage
from ullage.transport.examples import recipe_template

AT = datetime(2026, 5, 4, 7, 0, tzinfo=UTC)


def recipe_table() -> dict[str, Any]:
    """Return the recipe that the van's job follows."""
    return tomllib.loads(recipe_template("levelling-van-divert-axles").text)


def prepared(
    desk: Desk, recipe: Mapping[str, Any] | None = None, *, van: str = "Library van 2"
) -> str:
    """Open a job on the van and bring it to the exchange; return its name."""
    machine = add_machine(desk, Known(name=van, marks="blue shelves inside"))
    circuit = add_circuit(desk, machine.id, template_table("levelling-van"))
    job = open_job(desk, circuit.circuit_id).id
    log(desk, job, Kind.AS_FOUND, {"level_mm": -5.0, "state": "charged", "at_degc": 18.0})
    log(desk, job, Kind.USE, {"distance_km": 61200.0, "hours": 2100.0, "since_days": 700.0})
    _finished(desk, job, Stage.ASSESS, "due: the acid number is past its limit")
    log(desk, job, Kind.GOAL, {"target_pct": 10.0, "container_l": 1.0})
    log(desk, job, Kind.RECIPE, {"recipe": recipe_table() if recipe is None else dict(recipe)})
    _finished(desk, job, Stage.PLAN, "13 containers, axles exercised in turn")
    _finished(desk, job, Stage.PREPARE, "everything at hand")
    return job


def _finished(desk: Desk, job: str, stage: Stage, result: str) -> None:
    payload = {"stage": stage.value, "state": "finished", "result": result}
    log(desk, job, Kind.STAGE, payload)


def exchanged(desk: Desk, *, van: str = "Library van 2") -> str:
    """Bring a job to the refit: four steps carried out, with readings."""
    job = prepared(desk, van=van)
    drawn = {"what": "drawn-off", "step": 1, "grams": 2110.0, "at_degc": 55.0}
    carried_out(desk, job, 1, [(Kind.VOLUME, drawn)], uid=f"{job}-one-1")
    carried_out(desk, job, 2, [(Kind.POURED, {"litres": 2.6, "step": 2})], uid=f"{job}-two-2")
    carried_out(
        desk,
        job,
        3,
        [
            (Kind.POURED, {"litres": 10.0, "step": 3}),
            (Kind.VOLUME, {"what": "waste", "step": 3, "litres": 10.05}),
            (Kind.TURN, {"step": 3, "at_l": 4.4}),
            (Kind.SAMPLE, {"name": "A", "where": "outflow", "after_step": 3}),
        ],
        uid=f"{job}-three-3",
    )
    carried_out(
        desk,
        job,
        4,
        [
            (Kind.LEVEL, {"after_step": 4, "mm": 1.0, "state": "charged", "at_degc": 60.0}),
            (Kind.SAMPLE, {"name": "B", "where": "leg:rear-left", "after_step": 4}),
        ],
        uid=f"{job}-four-4",
    )
    finish_exchange(desk, job, uid=f"{job}-five-5")
    return job


def refitted(desk: Desk, *, van: str = "Library van 2") -> str:
    """Bring a job to the proof: the level read, every line ticked."""
    job = exchanged(desk, van=van)
    read_level(
        desk, job, mm=-8.0, litres=None, state=State.CHARGED, at_degc=45.0, uid=f"{job}-six-6"
    )
    for item in refit(desk, load_job(desk, job)).items:
        tick(desk, job, item.id, done=True, uid=f"{job}-{item.id}")
    finish_refit(desk, job, uid=f"{job}-seven-7")
    return job


def proved(desk: Desk, *, van: str = "Library van 2") -> str:
    """Bring a job to the record: samples read, verdict kept."""
    job = refitted(desk, van=van)
    read_sample(desk, job, "A", old_pct=22.0, u_pct=4.0, uid=f"{job}-eight-8")
    read_sample(desk, job, "B", old_pct=86.0, u_pct=5.0, uid=f"{job}-nine-9")
    inputs = inputs_of(desk, load_job(desk, job))
    keep_verdict(desk, job, inputs, worked_out(desk.forms, inputs))
    finish_proof(desk, job, uid=f"{job}-ten-10")
    return job


def with_shelf(desk: Desk, litres: float = 20.0) -> str:
    """Put litres of fluid on the shelf in one-litre containers, once; return the lot's name."""
    sheet = Sheet(
        id="sheet-hv",
        of=SheetOf.FLUID,
        name="HV 22",
        table={"class": "HV", "nu40_mm2_s": 22.0, "nu100_mm2_s": 5.0, "rho15_kg_m3": 868.0},
        saved_at=AT,
    )
    lot = Lot(
        id="lot-1",
        sheet_id=sheet.id,
        mark="K7",
        container_m3=1e-3,
        expires_on=date(2030, 1, 1),
        received_on=date(2026, 1, 1),
    )
    if any(one.lot.id == lot.id for one in desk.store.stock(empty_too=True)):
        return lot.id
    desk.store.save_sheet(sheet)
    desk.store.add_lot(
        lot,
        Movement(uid="delivery-1", lot_id=lot.id, count=litres, why="delivered", moved_at=AT),
    )
    return lot.id


def closed(desk: Desk, *, van: str = "Library van 2") -> str:
    """Bring a job to its end."""
    job = proved(desk, van=van)
    use_lot(desk, job, with_shelf(desk), 12.6, uid=f"{job}-eleven-11")
    hand_over_waste(
        desk, job, litres=12.5, family="HV", to="county yard", paper="W-17", uid=f"{job}-twelve-12"
    )
    interval = closing(desk, load_job(desk, job)).interval
    set_next_due(desk, job, interval, uid=f"{job}-thirteen-13")
    sign(desk, job, by="M. Moss", role="did the work", uid=f"{job}-fourteen-14")
    finish_job(desk, job, uid=f"{job}-fifteen-15")
    return job
