"""Which unknown matters most: ranked by weight, with a way to know it and its price."""

from __future__ import annotations

import pytest

from ullage.circuit.catalogue import Template, circuit_template, circuit_templates
from ullage.circuit.network import Circuit
from ullage.errors import OutOfRange
from ullage.formats.circuit_file import parse_circuit
from ullage.jobs.which_unknown import standard_recipe, which_unknown
from ullage.transport.recipe import Bleed, Exchange, Recipe
from ullage.transport.refusals import refusals


def _circuit(template: Template) -> Circuit:
    return parse_circuit(template.text, template.name)


@pytest.mark.parametrize("template", circuit_templates(), ids=lambda one: one.name)
def test_every_built_in_circuit_has_a_usual_exchange(template: Template) -> None:
    """Without a job there is a recipe that the circuit can carry out."""
    circuit = _circuit(template)

    assert refusals(circuit, standard_recipe(circuit)) == ()


def test_what_is_ranked_falls_and_costs_wages() -> None:
    """The van's weightiest unknown comes first; each line has a way, minutes and a price."""
    found = which_unknown(_circuit(circuit_template("levelling-van")), labour_per_s=0.01)
    weights = [one.measure.explains for one in found.unknowns]

    assert found.is_standard
    assert found.unknowns[0].measure.unknown == "leg-lines"
    assert weights == sorted(weights, reverse=True)
    assert all(one.measure.how and one.measure.duration_s > 0.0 for one in found.unknowns)
    assert all(one.cost == pytest.approx(0.01 * one.measure.duration_s) for one in found.unknowns)
    assert 0.0 < found.explained_share <= 1.0
    assert found.low_share < found.remaining_share < found.high_share


def test_an_unknown_that_is_known_falls_out_of_the_ranking() -> None:
    """With the lines of the legs measured, something else is the weightiest."""
    text = circuit_template("levelling-van").text
    for old in (
        'best = 8, spread_pct = 5, as = "leg bore"',
        'best = 10, spread_pct = 5, as = "leg bore"',
    ):
        text = text.replace(old, old.split(",")[0])
    for length in ("3.2", "4.1", "7.0", "7.4"):
        text = text.replace(f'{{ best = {length}, spread_pct = 40, as = "leg length" }}', length)
    found = which_unknown(parse_circuit(text, "van"))

    assert "leg-lines" not in {one.measure.unknown for one in found.unknowns}


def test_a_job_s_own_recipe_is_asked_about_where_there_is_one() -> None:
    """The ranking names the recipe, and says that it is no usual one."""
    circuit = _circuit(circuit_template("rack-steering"))
    recipe = Recipe(name="two litres", steps=(Exchange(litres_m3=2e-3),))
    found = which_unknown(circuit, recipe)

    assert (found.recipe, found.is_standard) == ("two litres", False)


def test_a_recipe_that_the_circuit_cannot_carry_out_is_refused() -> None:
    """A bleed where there is no such leg is named, and nothing is ranked."""
    circuit = _circuit(circuit_template("rack-steering"))
    recipe = Recipe(name="bleed", steps=(Bleed(leg="nowhere", litres_m3=1e-3),))

    with pytest.raises(OutOfRange, match="nowhere"):
        which_unknown(circuit, recipe)
