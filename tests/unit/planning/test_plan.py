"""The plan on small jobs: it holds, it obeys, it is said so that somebody can do it."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.unit.planning.machines import built_in
from ullage.errors import Incompatible, OutOfRange, Stopped
from ullage.planning.goal import READY_TARGETS, Goal
from ullage.planning.has import sentences
from ullage.planning.methods import USUAL
from ullage.planning.plan import Plan, make_plan
from ullage.planning.plan_words import worth_measuring
from ullage.planning.score import score
from ullage.planning.shopping import WASTE_ROOM
from ullage.planning.tries import MOST_TRIES
from ullage.transport.recipe import Bleed, Exchange, Recipe, SwapFilter, TopUp
from ullage.transport.refusals import refusals
from ullage.transport.solve import simulate

MEMBERS = 1500


@cache
def steering() -> Plan:
    """Return a plan for the steering."""
    return make_plan(built_in("rack-steering"), Goal(target_share=0.1), members=MEMBERS)


@cache
def brakes() -> Plan:
    """Return a plan for the brakes, which cannot go as deep as this."""
    return make_plan(built_in("wheel-brakes"), Goal(target_share=0.04), members=MEMBERS)


def test_figures_are_those_of_simulate() -> None:
    """The same recipe, seed and members give the same figures to the digit."""
    plan = steering()
    again = simulate(
        built_in("rack-steering"), plan.recipe, members=plan.members, seed=plan.seed, bracket=False
    )

    assert np.array_equal(again.remaining_share, plan.run.remaining_share)
    assert float(np.quantile(again.remaining_share, 0.95)) == plan.score.p95


@pytest.mark.parametrize("number", range(USUAL))
def test_figures_of_a_method_are_those_of_simulate(number: int) -> None:
    """Each usual method names the draws it was judged on; one that cannot be done says why."""
    method = steering().methods[number]
    if method.recipe is None or method.score is None:
        assert method.why_not
        return
    again = simulate(
        built_in("rack-steering"),
        method.recipe,
        members=method.members,
        seed=method.seed,
        bracket=False,
    )

    made = method.score
    assert float(np.quantile(again.remaining_share, 0.95)) == made.p95
    assert float(np.mean(again.remaining_share <= 0.1)) == made.held_share
    assert score(built_in("rack-steering"), steering().goal, method.recipe, again) == made


def test_it_holds_on_draws_of_its_own() -> None:
    """On machines that neither search nor tries have met."""
    plan = steering()
    run = simulate(built_in("rack-steering"), plan.recipe, members=3000, seed=99_991, bracket=False)

    assert plan.reached
    # Three standard deviations of a share counted on 3000 draws.
    assert float(np.mean(run.remaining_share <= 0.1)) >= 0.95 - 0.012


def test_no_more_containers_than_any_usual_method() -> None:
    """What the usual methods need is an upper bound."""
    plan = steering()
    usual = [m.score.containers for m in plan.methods if m.reached and m.score is not None]

    assert usual
    assert plan.score.containers <= min(usual)


def test_it_ends_at_the_mark() -> None:
    """The last step fills to full, in every simulated machine."""
    plan = steering()
    level = plan.run.steps[-1].level_m3
    best = plan.run.best
    assert best is not None

    assert isinstance(plan.recipe.steps[-1], TopUp)
    assert float(best.steps[-1].level_m3[0]) == pytest.approx(0.75e-3)
    assert np.ptp(level) > 0.0  # the full mark itself is uncertain


def test_nothing_spills_and_the_pump_never_starves() -> None:
    """Neither at the best values nor in more than one of a hundred machines."""
    plan = steering()
    notes = {note.code for step in plan.run.steps for note in step.notes}

    assert not notes & {"spilled", "below-minimum"}
    assert plan.score.unsafe_share <= 0.01
    assert refusals(built_in("rack-steering"), plan.recipe) == ()


def test_tries_are_told() -> None:
    """Each with its own seed; the last one is what the plan stands on."""
    for plan in (steering(), brakes()):
        seeds = [one.seed for one in plan.tries]

        assert 1 <= len(seeds) <= MOST_TRIES
        assert len(set(seeds)) == len(seeds)
        assert plan.seed in seeds


def test_litres_add_up() -> None:
    """Poured, kept back and left over make the containers."""
    plan = steering()
    bought = plan.score.containers * plan.goal.container_m3

    assert plan.bought_m3 + plan.left_over_m3 == pytest.approx(bought)
    assert plan.left_over_m3 >= -1e-9


def test_what_cannot_be_reached_says_what_holds_it() -> None:
    """The brakes: a corner of the reservoir keeps more than is allowed, and it is named."""
    plan = brakes()

    assert not plan.reached
    assert plan.floor.share > 0.04
    assert plan.floor.parts[0].part == "reservoir"
    assert any("reservoir" in way for way in plan.floor.moved_by)
    assert "not-reached" in {caveat.code for caveat in plan.caveats}


def test_every_wheel_is_bled() -> None:
    """Nobody leaves one wheel out, however easy the target."""
    plan = make_plan(built_in("wheel-brakes"), Goal(target_share=0.3), members=300)
    bled = [step.leg for step in plan.recipe.steps if isinstance(step, Bleed)]

    assert sorted(set(bled)) == ["front-left", "front-right", "rear-left", "rear-right"]
    assert bled[0] == "rear-right"  # the longest line


@pytest.mark.slow
@pytest.mark.parametrize("word", ["exercise", "exchange", "swap-filter", "bleed"])
def test_what_is_ruled_out_is_not_there(word: str) -> None:
    """In the plan and in no method that counts as reached."""
    goal = Goal(target_share=0.3, without=frozenset({word}))
    plan = make_plan(built_in("scissor-lift"), goal, members=300)
    recipes = [plan.recipe, *(m.recipe for m in plan.methods if m.reached and m.recipe)]

    for recipe in recipes:
        assert word not in words_of(recipe)


def words_of(recipe: Recipe) -> set[str]:
    """Return what a recipe does, exercising included."""
    found = {step.do for step in recipe.steps}
    if any(getattr(step, "exercise", None) and step.exercise.groups for step in recipe.steps):
        found.add("exercise")
    return found


def test_one_person_does_not_exercise_while_pouring() -> None:
    """Alone nobody pours, minds the switch and moves the wheel."""
    goal = Goal(target_share=0.1, people=1)
    plan = make_plan(built_in("rack-steering"), goal, members=400)

    for step in plan.recipe.steps:
        if isinstance(step, Exchange):
            assert step.exercise.groups == ()


def test_a_larger_reserve_never_needs_fewer_containers() -> None:
    """What stays back has to be bought."""
    large = make_plan(
        built_in("rack-steering"), Goal(target_share=0.1, reserve_m3=3e-3), members=MEMBERS
    )

    assert large.score.containers >= steering().score.containers + 1


def test_at_most_so_many_containers() -> None:
    """With fewer than it takes the plan says so, and stays within them."""
    goal = Goal(target_share=0.05, most=3)
    plan = make_plan(built_in("rack-steering"), goal, members=MEMBERS)

    assert not plan.reached
    assert plan.score.containers <= 3


def test_the_same_seed_gives_the_same_plan() -> None:
    """Nothing depends on the clock."""
    again = make_plan(built_in("rack-steering"), Goal(target_share=0.1), members=MEMBERS)

    assert again.recipe == steering().recipe
    assert again.score == steering().score


@pytest.mark.parametrize("stage", ["searching", "comparing the usual methods", "trying on fresh"])
def test_a_plan_may_be_given_up(stage: str) -> None:
    """Whatever is under way: nothing comes back, within half a second of processor time, and no
    thread of it stays.
    """
    threads = set(threading.enumerate())
    since: list[float] = []

    def progress(what: str, done: int, of: int) -> None:
        if what.startswith(stage) and not since:
            since.append(time.process_time())

    with pytest.raises(Stopped):
        make_plan(
            built_in("rack-steering"),
            Goal(target_share=0.1),
            members=4000,
            progress=progress,
            stop=lambda: bool(since),
        )

    assert time.process_time() - since[0] < 0.5
    assert set(threading.enumerate()) <= threads


def test_a_plan_given_up_before_it_begins_does_nothing() -> None:
    """Whoever has left already is not worked for."""
    heard: list[str] = []
    with pytest.raises(Stopped):
        make_plan(
            built_in("levelling-van"),
            Goal(target_share=0.1),
            progress=lambda what, done, of: heard.append(what),
            stop=lambda: True,
        )

    assert heard == []


def test_progress_is_told_in_order() -> None:
    """Each stage by name, counted up within what there is, from the thread that asked."""
    heard: list[tuple[str, int, int]] = []
    here = {threading.get_ident()}
    make_plan(
        built_in("wheel-brakes"),
        Goal(target_share=0.3),
        members=200,
        progress=lambda what, done, of: (
            heard.append((what, done, of)),
            here.add(threading.get_ident()),
        )[0],
    )
    stages = list(dict.fromkeys(what for what, _, _ in heard))

    assert stages == [
        "searching",
        "comparing the usual methods",
        "trying on fresh draws",
        "measuring up",
    ]
    assert all(0 <= done <= of for _, done, of in heard)
    assert here == {threading.get_ident()}


def test_fluids_that_must_not_meet_stop_the_job() -> None:
    """A family that nobody knows is no reason to pour."""
    machine = built_in("rack-steering")
    unknown = replace(machine, fluid=replace(machine.fluid, class_="unknown"))

    with pytest.raises(Incompatible):
        make_plan(unknown, Goal(target_share=0.1))


@pytest.mark.parametrize(
    "wrong",
    [
        {"target_share": 0.0},
        {"target_share": 1.0},
        {"target_share": 0.1, "sure_share": 0.3},
        {"target_share": 0.1, "container_m3": 0.0},
        {"target_share": 0.1, "reserve_m3": -1.0},
        {"target_share": 0.1, "most": 0},
        {"target_share": 0.1, "people": 0},
        {"target_share": 0.1, "without": frozenset({"hope"})},
    ],
)
def test_goals_that_make_no_sense_are_refused(wrong: dict[str, object]) -> None:
    """Each with what is allowed."""
    with pytest.raises(OutOfRange):
        Goal(**wrong)  # type: ignore[arg-type]


def test_the_published_limit_is_ready() -> None:
    """ISO 15380: 2 % of the former mineral oil."""
    assert READY_TARGETS["iso-15380"] == 0.02


def test_waste_cans_hold_a_tenth_more() -> None:
    """What comes out, and room."""
    plan = steering()
    out = np.sum([step.waste_m3 for step in plan.run.steps], axis=0)

    assert plan.waste.cans_hold_m3 == pytest.approx(1.1 * float(np.quantile(out, 0.95)))
    assert WASTE_ROOM == 1.1


def test_the_sheet_has_a_line_a_step_with_cautions_where_they_belong() -> None:
    """In order, with what to see when right, and no caution for what is not there."""
    plan = steering()
    steps = [line for line in plan.sheet if line.step is not None]
    texts = {ident for line in plan.sheet for ident, _ in line.cautions}

    assert [line.step for line in steps] == list(range(1, len(plan.recipe.steps) + 1))
    assert all(line.sentence and line.accept for line in plan.sheet)
    assert {line.stage for line in plan.sheet} == {"before", "exchange", "after"}
    assert "stored-pressure" not in texts
    assert "brake-fluid" not in texts
    assert "steering-lock" in texts


def test_no_line_of_the_sheet_asks_for_nothing() -> None:
    """No step pours nothing but the last look at the mark, and nobody is told "1 times"."""
    for plan in (steering(), brakes()):
        lines = [line for line in plan.sheet if line.step is not None]

        assert all(line.litres_m3 is None or line.litres_m3 > 0.0 for line in lines[:-1])
        assert not any(" 1 times" in line.sentence for line in lines)
        assert not any("0.00 L" in line.accept for line in lines)


def test_a_pump_that_no_hand_stops_in_time_is_told_of() -> None:
    """The steering: its reservoir is at the minimum sooner than anybody switches off."""
    plan = steering()
    assert plan.pace is not None
    told = {caveat.code: caveat.text for caveat in plan.caveats}

    assert plan.pace.run_s == 0.0
    assert "time the first litre" in told["cannot-start"]
    # The one usual method that reaches 10 % there without pouring against the pump.
    assert "drain and refill, run and exercised between, 5 containers" in told["cannot-start"]


def test_a_fluid_too_thin_is_told_of_beside_the_plan() -> None:
    """Whoever reads the advice alone still reads that the new fluid is too thin hot."""
    told = {caveat.code: caveat.text for caveat in steering().caveats}

    assert "At 100 degC the new fluid is 7.3 mm2/s" in told["fluid-too-thin-hot"]


def test_warming_is_asked_of_what_can_warm() -> None:
    """The steering's pump at idle never gets it to 60 degC, so nobody is told to wait for that."""
    (line,) = [x for x in steering().sheet if "degC" in x.sentence and x.stage == "before"]

    assert steering().heat is not None
    assert steering().heat.time_s is None  # type: ignore[union-attr]
    assert "never gets it there" in line.sentence


@pytest.mark.slow
def test_every_caution_can_appear() -> None:
    """No sentence is written for nobody: each concerns some built-in machine and step."""
    shown: set[str] = set()
    for name in ("rack-steering", "wheel-brakes"):
        plan = steering() if name == "rack-steering" else brakes()
        shown |= {ident for line in plan.sheet for ident, _ in line.cautions}
    shown |= {ident for line in van_at_20().sheet for ident, _ in line.cautions}

    assert {str(row["id"]) for row in sentences("cautions")["caution"]} - shown == set()


@cache
def van_at_20() -> Plan:
    """Return a plan for the van."""
    return make_plan(built_in("levelling-van"), Goal(target_share=0.2), members=600)


@pytest.mark.slow
def test_the_van_is_told_what_to_measure_first() -> None:
    """Unknowns in the order of what they take off, each with how and how long."""
    measures = van_at_20().measures

    assert measures
    assert all(one.sure_then <= one.sure_now for one in measures)
    gains = [one.sure_now - one.sure_then for one in measures]
    assert gains == sorted(gains, reverse=True)
    assert sum(one.explains for one in measures) < 1.1


@pytest.mark.slow
def test_the_last_line_says_where_the_level_belongs_read_hot() -> None:
    """As the plan's own target has it, in millimetres from the mark and in litres."""
    plan = van_at_20()
    last = next(line for line in reversed(plan.sheet) if line.stage == "exchange")
    assert plan.level.height_m is not None
    height = f"{plan.level.height_m * 1e3:.0f} mm above the mark"
    litres = f"{plan.level.swell_m3 * 1e3:.2f} L more"

    assert f"{height}, so {litres}" in last.accept
    assert f"read at {plan.recipe.temperature_k - 273.15:.0f} degC" in last.accept


@pytest.mark.parametrize(
    ("then", "says"), [(0.19, "by about 1.0 points"), (0.1996, "hardly moves")]
)
def test_what_measuring_lowers_is_told_in_points(then: float, says: str) -> None:
    """And not with a figure where nobody would see it."""
    told = worth_measuring(
        name="the loop",
        doubt="half",
        how="count",
        took="2 minutes",
        sure="95 of 100",
        now=0.2,
        then=then,
    )

    assert says in told


def test_the_van_reports_filter_fluid_pace_level_and_due() -> None:
    """What goes with a plan is there."""
    plan = van_at_20()

    assert plan.heat is not None
    assert plan.pace is not None
    assert plan.cooling is not None
    assert plan.filter.node == "filter"
    assert any(isinstance(step, SwapFilter) for step in plan.recipe.steps)
    assert any(item.what.startswith("filter element") for item in plan.shopping)
