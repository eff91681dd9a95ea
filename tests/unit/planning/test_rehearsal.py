"""Rehearsals: a known beginning is not run again, and what an exchange needed is read off."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from tests.unit.planning.machines import built_in
from ullage.planning.candidates import poured
from ullage.planning.goal import Goal
from ullage.planning.refine import _bled_once, _in_one
from ullage.planning.rehearsal import Rehearsal, tidy
from ullage.planning.tries import slower
from ullage.transport.recipe import (
    Bleed,
    DrawOff,
    Exchange,
    Exercise,
    Fill,
    Recipe,
    Release,
    Step,
    SwapFilter,
    TopUp,
)

STEPS: tuple[Step, ...] = (DrawOff(), Fill(), Exchange(litres_m3=2e-3), TopUp())


@pytest.fixture
def steering() -> Iterator[Rehearsal]:
    """A rehearsal of the steering on few draws."""
    rehearsal = Rehearsal(built_in("rack-steering"), Goal(target_share=0.3), members=24)
    yield rehearsal
    rehearsal.close()


def test_a_known_beginning_changes_nothing(steering: Rehearsal) -> None:
    """The same figures whether a recipe runs as a whole or from where another one paused."""
    whole = steering.whole(STEPS)
    steering.pause(STEPS)
    runs = steering.runs
    again = steering.whole(STEPS)

    assert np.allclose(again.state.old_m3, whole.state.old_m3, rtol=1e-9, atol=0.0)
    assert again.shelf_m3 == pytest.approx(whole.shelf_m3, rel=1e-9)
    assert steering.runs == runs + 1


def test_what_is_known_is_not_run_again(steering: Rehearsal) -> None:
    """A pause that was made costs nothing the second time."""
    steering.pause(STEPS)
    runs = steering.runs
    steering.pause(STEPS)

    assert steering.runs == runs


def test_enough_is_enough(steering: Rehearsal) -> None:
    """An exchange cut to what is read off holds, and one cut to four fifths of it does not."""
    long = (*STEPS[:2], Exchange(litres_m3=6e-3), TopUp())
    end = steering.whole(long)
    enough = steering.enough_m3(end.state, end.state.old_m3)
    assert enough is not None

    def held(litres_m3: float) -> float:
        steps = (*STEPS[:2], Exchange(litres_m3=litres_m3), TopUp())
        return steering.whole(steps).held_share

    assert enough < 6e-3
    assert held(1.02 * enough) >= steering.wanted_share
    assert held(0.8 * enough) < steering.wanted_share


def test_nothing_is_enough_where_the_whole_is_not(steering: Rehearsal) -> None:
    """A short exchange does not hold at any of its litres."""
    end = steering.whole((Fill(), Exchange(litres_m3=2e-4), TopUp()))

    assert steering.enough_m3(end.state, end.state.old_m3) is None


def test_no_fill_where_nothing_is_missing() -> None:
    """Exchange and bleed keep the level, and one reservoir of two is full as found."""
    run = Exchange(litres_m3=1e-3)
    steps = (Fill(), run, Fill(), SwapFilter(), TopUp())
    drawn = (DrawOff(), Fill(), run, Release(supported=True), Fill(), TopUp())

    assert poured(built_in("rack-steering"), steps) == (run, SwapFilter(), TopUp())
    assert poured(built_in("levelling-van"), steps) == (Fill(), run, SwapFilter(), TopUp())
    assert poured(built_in("levelling-van"), drawn) == drawn


def test_like_neighbours_are_one_step() -> None:
    """Litres of exchanges in a row are added up."""
    van = built_in("levelling-van")
    steps = tidy(van, (Exchange(litres_m3=1e-3), Exchange(litres_m3=0.5e-3), TopUp()))

    assert steps == (Exchange(litres_m3=1.5e-3), TopUp())


@pytest.mark.parametrize(("late", "place"), [(False, 0), (True, 2)])
def test_bleeds_in_one_go_keep_their_litres(*, late: bool, place: int) -> None:
    """Where the first of them stood, or the last; other legs stay as they are."""
    steps = (
        Bleed(leg="a", litres_m3=1e-3),
        Bleed(leg="b", litres_m3=1e-3),
        Exchange(litres_m3=1e-3),
        Bleed(leg="a", litres_m3=5e-4),
    )
    once = _bled_once(steps, ("a",), late=late)

    assert len(once) == 3
    assert once[place] == Bleed(leg="a", litres_m3=1.5e-3)
    assert Bleed(leg="b", litres_m3=1e-3) in once


def test_exchanges_in_a_row_become_one() -> None:
    """Everything that moves in any of them moves in turn; litres are added up."""
    steps: tuple[Step, ...] = (
        Exchange(litres_m3=1e-3, exercise=Exercise(groups=("lift",), period_s=26.0)),
        Exchange(litres_m3=2e-3, exercise=Exercise(groups=("tilt",), period_s=13.0)),
        TopUp(),
    )
    (found,) = _in_one(steps)

    assert found[1] == (
        Exchange(litres_m3=3e-3, exercise=Exercise(groups=("lift", "tilt"), period_s=26.0)),
        TopUp(),
    )


def test_slower_changes_what_moves_and_nothing_else() -> None:
    """Cycles take a quarter longer, to whole seconds; an exchange at idle stays as it was."""
    moving = Exchange(litres_m3=1e-3, exercise=Exercise(groups=("lift",), period_s=22.0))
    idle = Exchange(litres_m3=1e-3)
    slow = slower(Recipe(name="x", steps=(moving, idle, TopUp())), 1.25)

    assert isinstance(slow.steps[0], Exchange)
    assert slow.steps[0].exercise.period_s == 28.0
    assert slow.steps[1:] == (idle, TopUp())
