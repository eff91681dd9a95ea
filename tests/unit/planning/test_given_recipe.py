"""A recipe that somebody wrote is judged by the yardstick of a plan, and nothing is added to it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import built_in
from ullage.circuit.uncertain import exact
from ullage.errors import FileFaults, Incompatible
from ullage.planning.given_recipe import plan_of_recipe
from ullage.planning.goal import Goal
from ullage.planning.score import score
from ullage.transport.recipe import Bleed, DrawOff, Exchange, Fill, Recipe, TopUp
from ullage.transport.solve import simulate

_GOAL = Goal(target_share=0.4, people=1)
_SHORT = Recipe(
    name="A litre or two",
    steps=(DrawOff(), Fill(), Exchange(litres_m3=8e-3), TopUp()),
)


def test_figures_are_those_that_a_run_gives() -> None:
    """The same seed and members, the same score; the recipe is untouched."""
    circuit = built_in("levelling-van")
    found = plan_of_recipe(circuit, _GOAL, _SHORT, seed=3, members=50)
    run = simulate(circuit, _SHORT, members=50, seed=3, bracket=False)

    assert found.recipe == _SHORT
    assert found.score == score(circuit, _GOAL, _SHORT, run)
    assert [line.step for line in found.sheet if line.stage == "exchange"] == [1, 2, 3, 4]


def test_it_reaches_the_target_where_enough_machines_do() -> None:
    """The first reason says in how many, with no word about methods that nobody compared."""
    circuit = built_in("levelling-van")
    good = plan_of_recipe(circuit, replace(_GOAL, target_share=0.9), _SHORT, members=50)
    bad = plan_of_recipe(circuit, replace(_GOAL, target_share=0.01), _SHORT, members=50)

    assert (good.reached, bad.reached) == (True, False)
    assert good.reasons[0].startswith("100 of 100")
    assert bad.reasons[0].startswith("Only 0 of 100")
    assert not any("usual" in reason for reason in (*good.reasons, *bad.reasons))
    assert [caveat.code for caveat in bad.caveats] == ["not-reached"]


def test_how_far_it_is_is_told() -> None:
    """At its beginning, while machines run, and when it is measured up."""
    told: list[tuple[str, int, int]] = []
    plan_of_recipe(
        built_in("levelling-van"),
        _GOAL,
        _SHORT,
        members=50,
        progress=lambda *words: told.append(words),
    )

    assert told[0][1:] == (0, 50)
    assert told[-1][0] == "measuring up"


def test_a_recipe_that_the_circuit_cannot_carry_out_is_refused() -> None:
    """With what is wrong, before anything is run."""
    wrong = replace(_SHORT, steps=(Bleed(leg="nowhere", litres_m3=1e-3),))

    with pytest.raises(FileFaults, match="nowhere"):
        plan_of_recipe(built_in("levelling-van"), _GOAL, wrong)


def test_an_unknown_family_stops_it() -> None:
    """Nothing may be put to a fluid that nobody knows."""
    circuit = built_in("levelling-van")
    unknown = replace(circuit, fluid=replace(circuit.fluid, class_="unknown"))

    with pytest.raises(Incompatible):
        plan_of_recipe(unknown, _GOAL, _SHORT)


def test_a_pump_that_no_hand_can_stop_in_time_is_told_first() -> None:
    """A reservoir with a cup of fluid above its minimum, and the return sent to waste."""
    circuit = built_in("levelling-van")
    tank = circuit.reservoir
    high = exact(0.98 * tank.full_m3.best)
    shallow = replace(circuit, reservoir=replace(tank, minimum_m3=high))

    found = plan_of_recipe(shallow, _GOAL, _SHORT, members=20)

    assert found.caveats[0].code == "cannot-start"
