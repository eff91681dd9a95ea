"""Particles and water ride along with the fluid; elements keep their share; books close."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import expm

from tests.unit.planning.machines import bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Node, Path
from ullage.circuit.uncertain import exact
from ullage.errors import NotFound, OutOfRange
from ullage.formats.recipe_file import parse_recipe
from ullage.transport.examples import recipe_template
from ullage.transport.layout import FINE
from ullage.transport.recipe import Circulate, DrawOff, Exchange, Recipe, SwapFilter, TopUp
from ullage.transport.solve import simulate
from ullage.transport.species import Carried, carry


def filtered() -> Circuit:
    """Return three litres that go round through a filter of a fiftieth of a litre."""
    return replace(
        bench(),
        nodes=(Node(id="filter", volume_m3=exact(2e-5), element=True),),
        paths=(Path(id="main", through=("filter",), divert_after="filter"),),
    )


def test_old_fluid_as_a_species_is_the_run_itself() -> None:
    """Share 1 at first, 0 in new fluid, nothing held back: part by part what the solver says."""
    van = built_in("levelling-van")
    recipe = parse_recipe(recipe_template("levelling-van-divert-axles").text, "axles")
    (found,) = carry(van, recipe, [Carried(name="old", first=1.0, new=0.0)])
    run = simulate(van, recipe, bracket=False)

    for step, after in zip(run.steps, found.steps, strict=True):
        assert after.mean == pytest.approx(float(step.remaining_share[0]), rel=1e-12)
    for name, part in run.parts.items():
        share = float(part.old_m3[0] / part.fluid_m3[0])
        assert found.steps[-1].concentration[name] == pytest.approx(share, abs=1e-9)


def test_a_loop_is_cleaned_as_the_mixed_balance_says() -> None:
    """Two mixed vessels in a ring, a tenth passing between them: an exponential of a matrix."""
    recipe = Recipe(name="clean", steps=(Circulate(duration_s=60.0),))
    (found,) = carry(
        filtered(),
        recipe,
        [Carried(name="4 um", first=9e9, new=0.0, passes={"filter": 0.1})],
        resolution=FINE,
    )
    after = found.steps[0]

    # Per second; the circuit's volumes are 3 l and 0.02 l, the flow 0.1 l/s.
    tank, housing = 1e-4 / 3e-3, 1e-4 / 2e-5
    left = expm(60.0 * np.array([[-tank, 0.1 * tank], [housing, -housing]])) @ np.ones(2)
    mean = 9e9 * (left[0] * 3e-3 + left[1] * 2e-5) / 3.02e-3
    assert after.mean == pytest.approx(mean, rel=2e-3)
    assert after.caught["filter"] == pytest.approx(found.before - after.held, rel=1e-12)


def test_what_was_caught_leaves_with_the_element() -> None:
    """After a swap the element is clean, and its catch counts as lost."""
    recipe = Recipe(
        name="swap", steps=(Circulate(duration_s=60.0), SwapFilter(), Circulate(duration_s=1.0))
    )
    (found,) = carry(
        filtered(), recipe, [Carried(name="x", first=1.0, new=0.0, passes={"filter": 0.5})]
    )
    first, swapped, _ = found.steps

    assert first.caught["filter"] > 0.0
    assert swapped.caught["filter"] == 0.0
    assert swapped.lost >= first.caught["filter"]


def test_dirt_of_the_new_fluid_comes_in_with_it() -> None:
    """New fluid dirtier than the old one makes the circuit dirtier; the books still close."""
    recipe = Recipe(
        name="dirty",
        steps=(DrawOff(), TopUp(), Exchange(litres_m3=2e-3), Circulate(duration_s=30.0)),
    )
    (found,) = carry(filtered(), recipe, [Carried(name="x", first=1.0, new=5.0)])

    means = [step.mean for step in found.steps]
    assert means[-1] > 4.0
    assert found.error < 1e-11


def test_the_same_for_a_circuit_with_legs_and_a_filter() -> None:
    """Exercise, exchange and a nearly tight element on the van: nothing is lost."""
    van = built_in("levelling-van")
    recipe = parse_recipe(recipe_template("levelling-van-divert-axles").text, "axles")
    (found,) = carry(
        van, recipe, [Carried(name="6 um", first=2.4e9, new=7e8, passes={"filter": 0.05})]
    )

    assert found.error < 1e-11
    assert found.steps[-1].caught["filter"] > 0.0
    assert min(found.steps[-1].concentration.values()) >= 0.0


def test_a_node_that_is_none_is_named() -> None:
    """The nodes that exist are listed."""
    recipe = Recipe(name="clean", steps=(Circulate(duration_s=60.0),))

    with pytest.raises(NotFound, match="filter"):
        carry(filtered(), recipe, [Carried(name="x", first=1.0, new=0.0, passes={"sieve": 0.5})])


@pytest.mark.parametrize(
    "given", [{"first": -1.0}, {"new": float("nan")}, {"passes": {"filter": 1.5}}]
)
def test_nonsense_is_refused(given: dict[str, object]) -> None:
    """Negative, not a number, more than all."""
    with pytest.raises(OutOfRange):
        Carried(**{"name": "x", "first": 1.0, "new": 0.0, **given})  # type: ignore[arg-type]


def test_a_recipe_without_steps_is_refused() -> None:
    """Nothing happens, nothing to follow."""
    with pytest.raises(OutOfRange, match="steps"):
        carry(filtered(), Recipe(name="none", steps=()), [])
