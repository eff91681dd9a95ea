"""What the trade does, held against the plans of built-in machines: common practice, no source.

Each fact on a circuit of its own; where a plan differs, it differs for a reason that is shown."""

from __future__ import annotations

from functools import cache
from importlib import resources

import numpy as np
import pytest

from tests.unit.planning.machines import built_in
from ullage.circuit.volumes import Numbers, content_m3
from ullage.planning.candidates import possible, working_temperature_k
from ullage.planning.goal import Goal
from ullage.planning.has import sentences
from ullage.planning.plan import Plan, make_plan
from ullage.transport.recipe import Fill
from ullage.units.convert import ZERO_CELSIUS_K


@cache
def plan_for(machine: str, target: float) -> Plan:
    """Return a plan judged on few draws."""
    return make_plan(built_in(machine), Goal(target_share=target), members=400)


def test_an_automatic_gearbox_is_warmed_to_about_80_degc() -> None:
    """Common practice, no source. Here it has a reason: the cooler's thermostat opens at 75."""
    gearbox = built_in("auto-gearbox")

    assert working_temperature_k(gearbox) - ZERO_CELSIUS_K == pytest.approx(80.0, abs=0.5)
    assert plan_for("auto-gearbox", 0.3).recipe.temperature_k == working_temperature_k(gearbox)


def test_the_level_stays_25_mm_below_the_top_while_pouring_on_the_loader() -> None:
    """Common practice, no source. Every level that a plan fills to leaves 25 mm to the brim."""
    loader = built_in("compact-loader")
    area = loader.reservoir.area_m2
    assert area is not None
    can = possible(loader, Goal(target_share=0.2))
    levels = [can.low_m3, can.work_m3] + [
        step.to_m3
        for opening in can.openings
        for step in opening.steps
        if isinstance(step, Fill) and step.to_m3 is not None
    ]
    room_m = [(loader.reservoir.brim_m3.best - level) / area.best for level in levels]

    assert min(room_m) >= 0.025


@pytest.mark.slow
def test_all_containers_stand_open_before_the_pump_starts_on_the_steering() -> None:
    """Common practice, no source. The sheet asks for it before the first step with the pump."""
    plan = plan_for("rack-steering", 0.1)
    before = [line for line in plan.sheet if line.stage == "before"]
    first_step = next(i for i, line in enumerate(plan.sheet) if line.step is not None)
    asked = [line for line in before if "caps" in line.sentence and "containers" in line.sentence]

    assert len(asked) == 1
    assert plan.sheet.index(asked[0]) < first_step
    assert plan.pace is not None
    assert plan.pace.open_containers <= plan.score.containers


@pytest.mark.slow
def test_about_one_filling_goes_through_and_a_tenth_stays_on_the_scissor_lift() -> None:
    """Common practice, no source. The lift's plan for 10 % pours about what the circuit holds."""
    lift = built_in("scissor-lift")
    content = sum(float(v[0]) for v in content_m3(lift, Numbers()).values())
    plan = plan_for("scissor-lift", 0.1)

    assert plan.score.poured_m3 == pytest.approx(content, rel=0.15)
    assert plan.goal.reserve_m3 == pytest.approx(0.1 * content, rel=0.1)


@pytest.mark.slow
def test_one_filling_is_not_enough_for_the_van() -> None:
    """The same rule on long legs: what one filling leaves is told, not hidden."""
    van = built_in("levelling-van")
    content = sum(float(v[0]) for v in content_m3(van, Numbers()).values())
    goal = Goal(target_share=0.1, most=int(np.ceil(content * 1e3)) + 1)
    plan = make_plan(van, goal, members=400)

    assert not plan.reached
    assert plan.score.p95 > 0.1


def test_tables_say_that_they_are_practice() -> None:
    """No row pretends to a source that nobody has."""
    for table in ("around", "measures", "times"):
        text = (resources.files("ullage.planning") / "data" / f"{table}.toml").read_text("utf-8")

        assert "ommon practice, no source" in text
    assert sentences("around")["before"]
