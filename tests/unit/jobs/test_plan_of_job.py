"""From what is wanted to the recipe that is carried out; the newest plan is always its own."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.early_job import assessed, planned, wanting
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.jobs.answer import Of
from ullage.jobs.choose_recipe import (
    keep_recipe,
    recipe_inputs,
    recipe_of_method,
    worked_out_recipe,
)
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk
from ullage.jobs.prices import keep_prices, kept_prices
from ullage.jobs.propose_plan import (
    chosen_answer,
    finish_plan,
    is_plan_current,
    keep_plan,
    plan_answer,
    plan_inputs,
    set_goal,
    take_plan,
)
from ullage.jobs.renew_circuit import newer_version, take_newest
from ullage.jobs.save_circuit import save_circuit
from ullage.jobs.stage import Stage


@pytest.fixture
def desk() -> Desk:
    """Return a desk with nothing on it."""
    return memory_desk()


def test_a_goal_that_no_plan_can_be_made_for_is_refused(desk: Desk) -> None:
    """Nothing is written down."""
    job = assessed(desk)

    with pytest.raises(OutOfRange, match="sure_pct"):
        set_goal(desk, job, {"target_pct": 10.0, "sure_pct": 20.0}, uid="goal-00009")
    assert load_job(desk, job).goal is None


def test_without_a_goal_there_is_no_plan(desk: Desk) -> None:
    """The sentence says what to do."""
    with pytest.raises(Conflict, match="say it, then plan"):
        plan_inputs(desk, load_job(desk, assessed(desk)))


def test_a_plan_is_kept_with_all_that_it_was_made_of(desk: Desk) -> None:
    """Circuit at the level as found, goal, prices and seed; the same inputs make the same plan."""
    job, answer = planned(desk)

    assert set(answer.inputs) == {"circuit", "goal", "prices", "seed"}
    assert answer.inputs["circuit"]["reservoir"]["start_l"]["best"] != 0.0
    assert (answer.of, answer.code) == (Of.PLAN, desk.code)
    assert is_plan_current(desk, load_job(desk, job), answer)


def test_costs_are_those_of_this_garage(desk: Desk) -> None:
    """Dearer fluid makes a dearer recipe, and the currency is that of Settings."""
    job, answer = planned(desk)
    recipe = answer.body["recipe"]
    usual = worked_out_recipe(desk.forms, recipe_inputs(desk, load_job(desk, job), recipe))
    prices = kept_prices(desk.store.settings())
    keep_prices(desk, {**prices, "fluid_per_litre": prices["fluid_per_litre"] + 100.0}, "GBP")
    inputs = recipe_inputs(desk, load_job(desk, job), recipe)
    dearer = worked_out_recipe(desk.forms, inputs)

    bought_l = usual["containers"] * usual["container_l"]
    assert dearer["cost"] == pytest.approx(usual["cost"] + 100.0 * bought_l)
    assert dearer["currency"] == "GBP"


def test_prices_make_no_plan_stale(desk: Desk) -> None:
    """They decide nothing; another goal does."""
    job, answer = planned(desk)
    keep_prices(desk, {**kept_prices({}), "labour_per_hour": 1.0}, "EUR")
    before = is_plan_current(desk, load_job(desk, job), answer)
    set_goal(desk, job, {"target_pct": 20.0}, uid="goal-00010")

    assert (before, is_plan_current(desk, load_job(desk, job), answer)) == (True, False)


def test_the_plans_own_recipe_is_taken_once(desk: Desk) -> None:
    """With where it comes from; the same form again adds nothing."""
    job, answer = planned(desk)
    take_plan(desk, job, uid="choose-002")
    take_plan(desk, job, uid="choose-002")
    found = load_job(desk, job)

    assert found.recipe_table == answer.body["recipe"]
    assert len(found.of(Kind.RECIPE)) == 1
    assert chosen_answer(desk, found) == answer


def test_another_method_is_judged_and_becomes_the_plan_of_the_job(desk: Desk) -> None:
    """Whoever proves or prints reads its figures; the plan that was searched for stays beside."""
    job, answer = planned(desk)
    name = next(one["name"] for one in answer.body["methods"] if one["recipe"])
    recipe = recipe_of_method(desk, load_job(desk, job), name)
    inputs = recipe_inputs(desk, load_job(desk, job), recipe, name)
    kept = keep_recipe(desk, job, inputs, worked_out_recipe(desk.forms, inputs), uid="choose-003")
    again = keep_recipe(desk, job, inputs, {}, uid="choose-003")
    found = load_job(desk, job)

    assert again == kept
    assert found.answers[Of.PLAN.value] == kept.id
    assert plan_answer(desk, found) == answer
    assert found.recipe is not None
    assert found.recipe.payload["method"] == name
    assert kept.body["containers"] == next(
        one["containers"] for one in answer.body["methods"] if one["name"] == name
    )
    finish_plan(desk, job, uid="plan-end-2")
    assert load_job(desk, job).finished[Stage.PLAN].startswith(f"{name}: ")


def test_going_back_to_the_plan_makes_it_the_jobs_again(desk: Desk) -> None:
    """The newest answer is that of the recipe that will be carried out."""
    job, answer = planned(desk)
    recipe = answer.body["recipe"]
    inputs = recipe_inputs(desk, load_job(desk, job), recipe)
    keep_recipe(desk, job, inputs, worked_out_recipe(desk.forms, inputs), uid="choose-004")
    take_plan(desk, job, uid="choose-005")

    assert load_job(desk, job).answers[Of.PLAN.value] == answer.id


def test_a_method_that_is_not_there_is_refused(desk: Desk) -> None:
    """Its name was misspelt, or this circuit cannot do it."""
    job, _ = planned(desk)

    with pytest.raises(NotFound):
        recipe_of_method(desk, load_job(desk, job), "magic")


def test_an_own_recipe_is_checked_against_the_circuit(desk: Desk) -> None:
    """All faults are told, and nothing is chosen."""
    job = wanting(desk)
    recipe = {
        "format": "ullage-recipe/1",
        "name": "Mine",
        "step": [{"do": "bleed", "leg": "nowhere", "litres": 1.0}],
    }

    with pytest.raises(FileFaults, match="nowhere"):
        recipe_inputs(desk, load_job(desk, job), recipe)
    assert load_job(desk, job).recipe is None


def test_a_recipe_of_an_older_plan_does_not_finish_the_stage(desk: Desk) -> None:
    """Either the goal was changed, or another plan was made since."""
    job, answer = planned(desk)
    take_plan(desk, job, uid="choose-006")
    keep_plan(desk, job, answer.inputs, answer.body)

    with pytest.raises(Conflict, match="choose again"):
        finish_plan(desk, job, uid="plan-end-3")
    take_plan(desk, job, uid="choose-007")
    set_goal(desk, job, {"target_pct": 20.0}, uid="goal-00011")
    with pytest.raises(Conflict, match="no longer holds"):
        finish_plan(desk, job, uid="plan-end-4")


def test_what_was_measured_reaches_the_plan_by_a_newer_version(desk: Desk) -> None:
    """The job goes on with it when a person says so, and its plan no longer holds."""
    job, answer = planned(desk)
    head = load_job(desk, job).head
    version = desk.store.circuit_version(head.circuit_version_id)
    pump = {**version.table["pump"], "efficiency_pct": 91.0}
    before = newer_version(desk, load_job(desk, job))
    saved = save_circuit(desk, head.circuit_id, {**version.table, "pump": pump}, base=1)
    offered = newer_version(desk, load_job(desk, job))
    take_newest(desk, job, uid="newest-001")
    found = load_job(desk, job)

    assert before is None
    assert offered is not None
    assert found.head.circuit_version_id == offered.id
    assert saved is not None
    assert newer_version(desk, found) is None
    assert not is_plan_current(desk, found, answer)


def test_from_the_first_step_on_the_circuit_stays(desk: Desk) -> None:
    """Readings belong to the circuit that they were foretold for."""
    job, _ = planned(desk)
    take_plan(desk, job, uid="choose-008")
    log(desk, job, Kind.STEP, {"step": 1, "state": "under way"})

    with pytest.raises(Conflict, match="begun"):
        take_newest(desk, job, uid="newest-002")
    assert newer_version(desk, load_job(desk, job)) is None
