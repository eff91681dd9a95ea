"""Moments of a recipe: as found, after each step, and now and then inside a long exchange."""

from __future__ import annotations

import pytest

from ullage.jobs.plan_moments import PlanMoment, moments_of, recipe_at
from ullage.transport.recipe import DrawOff, Exchange, Fill, Recipe, Stand

_RECIPE = Recipe(
    name="r", steps=(DrawOff(), Fill(), Exchange(litres_m3=6e-3), Exchange(litres_m3=1e-3))
)


def test_every_step_ends_in_a_moment_and_long_exchanges_have_some_inside() -> None:
    """Six litres are shown in four pieces, one litre in one."""
    found = moments_of(_RECIPE)

    assert [one.after_step for one in found if one.is_between_steps] == [0, 1, 2, 3, 4]
    assert [one.into_m3 for one in found if not one.is_between_steps] == pytest.approx(
        [1.5e-3, 3e-3, 4.5e-3]
    )
    assert [(one.after_step, one.into_m3) for one in found] == sorted(
        (one.after_step, one.into_m3) for one in found
    )


def test_a_recipe_is_cut_at_a_moment() -> None:
    """Whole steps before it, the exchange that is under way as far as it has come."""
    cut = recipe_at(_RECIPE, PlanMoment(after_step=2, into_m3=3e-3))

    assert cut.steps == (DrawOff(), Fill(), Exchange(litres_m3=3e-3))


def test_as_found_nothing_was_done() -> None:
    """A recipe must have a step, so it stands for no time."""
    assert recipe_at(_RECIPE, PlanMoment(after_step=0)).steps == (Stand(duration_s=0.0),)


def test_only_an_exchange_has_an_inside() -> None:
    """Asking for half a draw-off is a mistake of the program."""
    with pytest.raises(TypeError, match="no exchange"):
        recipe_at(_RECIPE, PlanMoment(after_step=0, into_m3=1e-3))
