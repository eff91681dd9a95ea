"""What happened in the invented garage, told through the use cases that people use.

Nothing in it was measured anywhere. Behind each exchange stands one simulated machine that nobody
sees; what is "read" off it is what it would have shown, with the noise of a jug, a rule and an eye.
``write_garage`` has it told once and keeps it in the package.
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from ullage.circuit.parts import State
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.as_found import found_circuit
from ullage.jobs.assess import finish_assess, judge, note_as_found, note_condition, note_use
from ullage.jobs.carry_out import carried_out, finish_exchange
from ullage.jobs.close_job import closing, finish_job, hand_over_waste, set_next_due, sign, use_lot
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.machine import Counter
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk
from ullage.jobs.prepare import finish_prepare, preparation, tick_all
from ullage.jobs.propose_plan import (
    finish_plan,
    keep_plan,
    plan_inputs,
    set_goal,
    take_plan,
    worked_out_plan,
)
from ullage.jobs.prove_job import finish_proof, inputs_of, keep_verdict, read_sample, worked_out
from ullage.jobs.readings import litres_at
from ullage.jobs.refit import finish_refit, pour, read_level, refit, tick
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf
from ullage.transport.examples import recipe_template
from ullage.transport.recipe import DrawOff, Exchange, Recipe
from ullage.transport.result import Run
from ullage.transport.solve import simulate
from ullage.units.convert import ZERO_CELSIUS_K

_LITRE, _ZERO_K = 1e3, ZERO_CELSIUS_K
_JUG_L, _EYE_PCT, _RULE_MM = 0.05, 4.0, 1.5
#: Which of the simulated machines is the true one of a job; any would do.
_MEMBERS, _TRUE = 24, 17


class Calendar:
    """A clock that the story sets; each look takes two minutes."""

    def __init__(self) -> None:
        self.at = datetime(2022, 1, 1, tzinfo=UTC)

    def __call__(self) -> datetime:
        """Return the time, a little later than before."""
        self.at += timedelta(minutes=2)
        return self.at

    def turn_to(self, year: int, month: int, day: int, hour: int = 8) -> None:
        """Go to the morning of a day."""
        self.at = datetime(year, month, day, hour, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A job as the story tells it: recipe, what was wanted, what the counter and a sample said."""

    recipe: str
    target_pct: float
    use: Mapping[str, float]
    sample: Mapping[str, Any]
    found: Mapping[str, Any]
    seed: int


def tell(desk: Desk, calendar: Calendar) -> None:
    """Put everything that happened on a desk."""
    lots = _shelf(desk, calendar)
    van = add_machine(
        desk,
        Known(name="Library van 2", marks="green stripe, ramp at the back"),
        machine_id="library-van-2",
    )
    leveller = add_circuit(
        desk, van.id, template_table("levelling-van"), circuit_id="van-2-leveller"
    ).circuit_id
    calendar.turn_to(2022, 10, 11)
    _whole_visit(
        desk,
        leveller,
        "van-2-first",
        Visit(
            recipe="levelling-van-drain-fill",
            target_pct=60.0,
            use={"distance_km": 21_400.0, "since_km": 21_400.0, "since_days": 1290.0},
            sample={
                "nu40_mm2_s": 21.2,
                "water_mg_kg": 160.0,
                "particles_per_ml": [6200.0, 1500.0, 110.0],
            },
            found={"level_mm": -9.0, "state": "charged", "at_degc": 14.0, "leaks": "none seen"},
            seed=11,
        ),
        lots[0],
    )
    calendar.turn_to(2024, 11, 5)
    _whole_visit(
        desk,
        leveller,
        "van-2-second",
        Visit(
            recipe="levelling-van-divert-axles",
            target_pct=40.0,
            use={"distance_km": 52_900.0, "since_km": 31_500.0, "since_days": 756.0},
            sample={
                "nu40_mm2_s": 20.7,
                "water_mg_kg": 210.0,
                "particles_per_ml": [8100.0, 2100.0, 150.0],
            },
            found={
                "level_mm": -4.0,
                "state": "charged",
                "at_degc": 9.0,
                "leaks": "damp at rear-left",
            },
            seed=12,
        ),
        lots[0],
    )
    calendar.turn_to(2026, 11, 23)
    _visit_under_way(desk, leveller, "van-2-third", lots[1])
    _hire_yard(desk, calendar)


def _shelf(desk: Desk, calendar: Calendar) -> tuple[str, str]:
    """Put fluids, a filter and two deliveries on the shelf; return the lots."""
    calendar.turn_to(2022, 9, 20)
    fluid = {
        "nu40_mm2_s": 22.0,
        "nu100_mm2_s": 5.0,
        "rho15_kg_m3": 868.0,
        "class": "HV",
        "particles_per_ml": [2400.0, 600.0, 40.0],
    }
    element = {
        "beta": {"um": 10, "ratio": 75},
        "clean_dp_bar": {"bar": 0.2, "at_l_min": 10, "at_mm2_s": 30},
        "bypass_bar": 1.7,
    }
    for id_, of, name, table in (
        ("leveller-oil", SheetOf.FLUID, "Leveller oil, class HV", fluid),
        (
            "return-element",
            SheetOf.FILTER,
            "Return element, 10 \N{GREEK SMALL LETTER MU}m",
            element,
        ),
    ):
        desk.store.save_sheet(Sheet(id=id_, of=of, name=name, table=table, saved_at=desk.now()))
    for id_, mark, count, day, until in (
        ("oil-a", "A", 60.0, date(2022, 9, 20), date(2027, 9, 1)),
        ("oil-b", "B", 24.0, date(2026, 10, 5), date(2031, 10, 1)),
    ):
        lot = Lot(
            id=id_,
            sheet_id="leveller-oil",
            mark=mark,
            container_m3=1e-3,
            expires_on=until,
            received_on=day,
        )
        moved = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
        desk.store.add_lot(
            lot,
            Movement(uid=f"in-{id_}", lot_id=id_, count=count, why="delivered", moved_at=moved),
        )
    desk.store.add_lot(
        Lot(
            id="element-a",
            sheet_id="return-element",
            mark="E1",
            received_on=date(2026, 10, 5),
        ),
        Movement(
            uid="in-element-a",
            lot_id="element-a",
            count=3.0,
            why="delivered",
            moved_at=datetime(2026, 10, 5, 9, tzinfo=UTC),
        ),
    )
    return "oil-a", "oil-b"


def _assessed(desk: Desk, circuit_id: str, job: str, visit: Visit) -> None:
    """Open a job and assess it."""
    open_job(desk, circuit_id, job_id=job)
    note_as_found(desk, job, {**visit.found, "family_proof": "label"}, uid=f"{job}-found")
    note_use(desk, job, visit.use, uid=f"{job}-use")
    if visit.sample:
        note_condition(desk, job, visit.sample, uid=f"{job}-sample")
    judge(desk, job)
    finish_assess(desk, job, uid=f"{job}-assessed")


def _whole_visit(desk: Desk, circuit_id: str, job: str, visit: Visit, lot: str) -> None:
    """Tell a job from the first look to the filed record."""
    _assessed(desk, circuit_id, job, visit)
    set_goal(desk, job, {"target_pct": visit.target_pct}, uid=f"{job}-goal")
    table = tomllib.loads(recipe_template(visit.recipe).text)
    log(desk, job, Kind.RECIPE, {"recipe": table, "method": table["name"]}, uid=f"{job}-recipe")
    finish_plan(desk, job, uid=f"{job}-planned")
    _prepared(desk, job)
    recipe = desk.forms.recipe(table, "recipe")
    truth = _truth(desk, job, recipe, visit.seed)
    dice = random.Random(visit.seed)
    for number in range(1, len(recipe.steps) + 1):
        _step(desk, job, recipe, truth, number, dice)
    finish_exchange(desk, job, uid=f"{job}-exchanged")
    _refitted(desk, job, dice)
    _proved(desk, job, truth, dice)
    poured = sum(float(e.payload["litres"]) for e in load_job(desk, job).of(Kind.POURED))
    use_lot(desk, job, lot, round(poured, 1), uid=f"{job}-lot")
    now = closing(desk, load_job(desk, job))
    hand_over_waste(
        desk,
        job,
        litres=round(now.out_l, 1),
        family=now.family,
        to="county waste yard",
        uid=f"{job}-waste",
    )
    set_next_due(desk, job, now.interval, uid=f"{job}-next")
    sign(desk, job, by="R. M.", role="did the work", uid=f"{job}-signed")
    finish_job(desk, job, uid=f"{job}-filed")


def _prepared(desk: Desk, job: str) -> None:
    """Tick everything and finish preparing."""
    lines = preparation(desk, load_job(desk, job)).lines
    tick_all(desk, job, [line.item for line in lines], uid=f"{job}-ticks")
    finish_prepare(desk, job, uid=f"{job}-prepared")


def _truth(desk: Desk, job: str, recipe: Recipe, seed: int) -> Run:
    """Return the simulated machines, one of which is the true one."""
    circuit = found_circuit(desk, load_job(desk, job)).circuit
    return simulate(circuit, recipe, members=_MEMBERS, seed=seed)


def _step(
    desk: Desk, job: str, recipe: Recipe, truth: Run, number: int, dice: random.Random
) -> None:
    """Carry out a step and write down what a jug, a rule and a vial show of it."""
    made, step = truth.steps[number - 1], recipe.steps[number - 1]
    fluid = found_circuit(desk, load_job(desk, job)).circuit.new_fluid
    hot_degc, shelf_degc = recipe.temperature_k - _ZERO_K, recipe.new_fluid_k - _ZERO_K
    # Containers are poured cold; a recipe counts litres at its own temperature.
    hot = {"litres": float(made.poured_m3[_TRUE]) * _LITRE}
    poured = litres_at(hot, fluid, hot_degc, shelf_degc)
    waste = float(made.waste_m3[_TRUE]) * _LITRE
    facts: list[tuple[Kind, dict[str, Any]]] = []
    if poured > 0.05:
        litres = round(dice.gauss(poured, _JUG_L), 2)
        facts.append((Kind.POURED, {"litres": litres, "step": number}))
    if waste > 0.05:
        what = "drawn-off" if isinstance(step, DrawOff) else "waste"
        litres = round(dice.gauss(waste, _JUG_L), 2)
        volume = {"what": what, "step": number, "litres": litres, "u_l": _JUG_L}
        facts.append((Kind.VOLUME, volume))
    if isinstance(step, Exchange):
        name = f"outflow {number}"
        facts.append((Kind.SAMPLE, {"name": name, "where": "outflow", "after_step": number}))
    if number == len(recipe.steps):
        facts.append(
            (Kind.SAMPLE, {"name": "reservoir", "where": "reservoir", "after_step": number})
        )
        facts.append(
            (Kind.SAMPLE, {"name": "rear left", "where": "leg:rear-left", "after_step": number})
        )
    carried_out(desk, job, number, facts, uid=f"{job}-step-{number}")


def _refitted(desk: Desk, job: str, dice: random.Random) -> None:
    """Set the level and tick the checklist."""
    now = refit(desk, load_job(desk, job))
    target = now.targets[0][1]
    # The recipe ends at the mark, hot; the level belongs above it by what the fluid has swollen.
    pour(desk, job, round(target.swell_m3 * _LITRE, 2), uid=f"{job}-refill")
    mm = None if target.height_m is None else round(dice.gauss(target.height_m * 1e3, _RULE_MM))
    read_level(
        desk,
        job,
        mm=mm,
        litres=None,
        state=State.CHARGED,
        at_degc=round(now.at_k - _ZERO_K),
        uid=f"{job}-level",
    )
    for item in refit(desk, load_job(desk, job)).items:
        tick(desk, job, item.id, done=True, uid=f"{job}-refit-{item.id}")
    finish_refit(desk, job, uid=f"{job}-refitted")


def _proved(desk: Desk, job: str, truth: Run, dice: random.Random) -> None:
    """Read the samples and keep the verdict."""
    shown = {
        "reservoir": truth.parts["reservoir"],
        "rear left": truth.parts["rear-left.chamber"],
    }
    for event in load_job(desk, job).of(Kind.SAMPLE):
        name = event.payload["name"]
        if name in shown:
            part = shown[name]
            share = float(part.old_m3[_TRUE] / part.fluid_m3[_TRUE])
        else:
            outflow = [o for o in truth.outflow if o.step == event.payload["after_step"]][-1]
            share = float(outflow.old_share[-1, _TRUE])
        read = min(max(round(dice.gauss(100.0 * share, _EYE_PCT)), 0), 100)
        read_sample(desk, job, name, old_pct=read, u_pct=_EYE_PCT, uid=f"{job}-read-{name}")
    inputs = inputs_of(desk, load_job(desk, job))
    keep_verdict(desk, job, inputs, worked_out(desk.forms, inputs))
    finish_proof(desk, job, uid=f"{job}-proved")


def _planned(desk: Desk, job: str, goal: Mapping[str, Any]) -> None:
    """Say what is wanted and have a plan made for it."""
    set_goal(desk, job, goal, uid=f"{job}-goal")
    inputs = plan_inputs(desk, load_job(desk, job))
    keep_plan(desk, job, inputs, worked_out_plan(desk.forms, inputs))


def _visit_under_way(desk: Desk, circuit_id: str, job: str, lot: str) -> None:
    """Tell the van's third visit, up to the middle of its exchange."""
    visit = Visit(
        recipe="",
        target_pct=20.0,
        use={"distance_km": 84_100.0, "since_km": 31_200.0, "since_days": 748.0},
        sample={
            "nu40_mm2_s": 20.5,
            "water_mg_kg": 260.0,
            "particles_per_ml": [9000.0, 2400.0, 180.0],
            "debris": "a few fine bright specks",
        },
        found={
            "level_mm": -6.0,
            "state": "charged",
            "at_degc": 7.0,
            "heights": "rear left 8 mm low",
            "leaks": "none seen",
            "noises": "pump hums when cold",
            "family_proof": "label on the reservoir, record of 2024",
        },
        seed=13,
    )
    _assessed(desk, circuit_id, job, visit)
    _planned(desk, job, {"target_pct": visit.target_pct, "sure_pct": 95.0})
    take_plan(desk, job, uid=f"{job}-recipe")
    finish_plan(desk, job, uid=f"{job}-planned")
    _prepared(desk, job)
    recipe = desk.forms.recipe(load_job(desk, job).recipe_table or {}, "recipe")
    truth = _truth(desk, job, recipe, visit.seed)
    dice = random.Random(visit.seed)
    for number in range(1, 5):
        _step(desk, job, recipe, truth, number, dice)
    log(desk, job, Kind.NOTE, {"note": f"Lot {lot} is open at the bay.", "stage": "exchange"})


def _hire_yard(desk: Desk, calendar: Calendar) -> None:
    """Tell what stands in the hire yard: a lift that is being planned, a loader just come in."""
    calendar.turn_to(2026, 11, 24)
    hours = Counter.HOURS
    lift = add_machine(
        desk,
        Known(name="Yard lift 5", marks="orange, dented guard rail", counter=hours),
        machine_id="yard-lift-5",
    )
    circuit = add_circuit(
        desk, lift.id, template_table("scissor-lift"), circuit_id="lift-5-lift"
    ).circuit_id
    _assessed(
        desk,
        circuit,
        "lift-5-first",
        Visit(
            recipe="",
            target_pct=20.0,
            use={"hours": 1840.0, "since_hours": 1840.0, "since_days": 2100.0},
            sample={"water_mg_kg": 480.0},
            found={"state": "retracted", "at_degc": 11.0, "leaks": "damp at the hose end"},
            seed=14,
        ),
    )
    _planned(desk, "lift-5-first", {"target_pct": 20.0, "people": 1})
    loader = add_machine(
        desk,
        Known(name="Yard loader 1", marks="grey bucket", counter=hours),
        machine_id="yard-loader-1",
    )
    circuit = add_circuit(
        desk, loader.id, template_table("compact-loader"), circuit_id="loader-1-work"
    ).circuit_id
    open_job(desk, circuit, job_id="loader-1-first")
    note_as_found(
        desk,
        "loader-1-first",
        {"at_degc": 12.0, "noises": "whines on full lift", "leaks": "none seen"},
        uid="loader-1-first-found",
    )
