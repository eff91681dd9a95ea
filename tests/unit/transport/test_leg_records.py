"""A leg's line keeps its books wherever its fluid turns."""

from __future__ import annotations

import numpy as np

from tests.unit.planning.machines import built_in
from ullage.transport.recipe import Bleed, Exchange, Exercise, Fill, Recipe
from ullage.transport.solve import simulate

LITRE = 1e-3


def test_a_bled_leg_turns_anywhere_on_its_record() -> None:
    """What was bled shifts the turning point off the grid, and the stroke is longer than the
    record: two of these machines turn just where a younger part of the record begins.
    """
    recipe = Recipe(
        name="bled, then exercised",
        steps=(
            Fill(),
            Exchange(litres_m3=5.1 * LITRE),
            Bleed(leg="rear-right", litres_m3=1.6 * LITRE),
            Exchange(litres_m3=3.4 * LITRE, exercise=Exercise(groups=("rear",), period_s=22.0)),
        ),
        temperature_k=313.15,
    )

    run = simulate(built_in("levelling-van"), recipe, members=500, seed=0)

    shares = [part.old_m3 / part.fluid_m3 for part in run.parts.values()]
    assert np.all(np.array(shares) <= 1.0)
    assert abs(run.balance.old_error_m3) <= 1e-15
