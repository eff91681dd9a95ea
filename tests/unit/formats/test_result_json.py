"""The answer of a run has the agreed keys, in litres and percent, and can be written as JSON."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

from ullage.circuit.catalogue import circuit_template
from ullage.circuit.network import Circuit
from ullage.formats.circuit_file import parse_circuit
from ullage.formats.recipe_file import parse_recipe
from ullage.formats.result_json import run_to_json
from ullage.transport.examples import recipe_template
from ullage.transport.recipe import DrawOff, Exchange, Extend, Fill, Recipe
from ullage.transport.solve import simulate

# Typed from the description of `simulate --json`, not made from the code.
TOP = {
    *("format", "members", "seed", "steps", "remaining_pct", "parts", "outflow", "balance"),
    *("bracket", "stopped"),
}
STEP = {
    *("step", "do", "poured_l", "waste_l", "waste_old_l", "spilled_l", "remaining_pct"),
    *("lowest_l", "duration_s", "cycles", "notes"),
}
BALANCE = {
    *("old_before_l", "old_out_l", "old_left_l", "old_error_l", "volume_error_l", "poured_l"),
    *("waste_l", "spilled_l"),
}


@cache
def van() -> Circuit:
    """Return the levelling van."""
    return parse_circuit(circuit_template("levelling-van").text, "van")


def told(recipe: Recipe, *, members: int = 1) -> dict[str, Any]:
    """Return the answer of a run as it comes out of JSON text."""
    run = simulate(van(), recipe, members=members, seed=3)
    found: dict[str, Any] = json.loads(json.dumps(run_to_json(run, van()), allow_nan=False))
    return found


@pytest.fixture(scope="module")
def axles() -> dict[str, Any]:
    """Return the answer for the axles exercised in turn."""
    text = recipe_template("levelling-van-divert-axles").text
    return told(parse_recipe(text, "axles"))


@pytest.fixture(scope="module")
def ensemble() -> dict[str, Any]:
    """Return the answer of forty machines."""
    text = recipe_template("levelling-van-divert-axles").text
    return told(parse_recipe(text, "axles"), members=40)


def test_the_keys_are_those_agreed(axles: dict[str, Any]) -> None:
    """Scripts rely on them: none is missing, none is new in a single run."""
    assert set(axles) == TOP
    assert axles["format"] == "ullage-result/1"
    assert [set(step) for step in axles["steps"]] == [STEP] * 4
    assert set(axles["balance"]) == BALANCE
    assert set(axles["parts"]["front-left.line"]) == {"fluid_l", "old_l"}
    assert set(axles["outflow"][0]) == {"step", "waste_l", "old_pct"}


def test_steps_count_from_one_and_name_what_is_done(axles: dict[str, Any]) -> None:
    """As in the recipe file."""
    assert [(step["step"], step["do"]) for step in axles["steps"]] == [
        (1, "draw-off"),
        (2, "fill"),
        (3, "exchange"),
        (4, "top-up"),
    ]


def test_notes_have_code_text_and_part(axles: dict[str, Any]) -> None:
    """The last step finds the reservoir full and says so."""
    (note,) = axles["steps"][3]["notes"]

    assert (set(note), note["code"]) == ({"code", "text", "part"}, "nothing-poured")


def test_volumes_are_litres(axles: dict[str, Any]) -> None:
    """2.7 l less the heel of 0.2 l are drawn off, 2.6 l are filled, 10 l go to waste."""
    assert axles["steps"][0]["waste_l"] == pytest.approx(2.5)
    assert axles["steps"][1]["poured_l"] == pytest.approx(2.6)
    assert axles["steps"][2]["waste_l"] == pytest.approx(10.0)
    assert axles["steps"][2]["lowest_l"] == pytest.approx(2.8)


def test_parts_add_up_to_the_remainder(axles: dict[str, Any]) -> None:
    """Old over all, in percent, is what the parts hold; old left is what the balance says."""
    old = sum(part["old_l"] for part in axles["parts"].values())
    fluid = sum(part["fluid_l"] for part in axles["parts"].values())

    assert axles["remaining_pct"] == pytest.approx(100.0 * old / fluid)
    assert axles["balance"]["old_left_l"] == pytest.approx(old)
    assert list(axles["parts"])[:3] == ["reservoir", "suction", "pump-body"]
    assert list(axles["parts"])[-1] == "rear-right.chamber"


def test_outflow_comes_in_tenths_of_a_litre(axles: dict[str, Any]) -> None:
    """A hundred of them in ten litres, old at first, in percent, old litres adding up."""
    outflow = axles["outflow"]

    assert len(outflow) == 100
    assert outflow[0] == {"step": 3, "waste_l": 0.1, "old_pct": 100.0}
    assert outflow[-1]["waste_l"] == pytest.approx(10.0)
    assert sum(bin_["old_pct"] for bin_ in outflow) * 0.1 / 100 == pytest.approx(
        axles["steps"][2]["waste_old_l"], rel=1e-6
    )


def test_an_ensemble_adds_quantiles(ensemble: dict[str, Any], axles: dict[str, Any]) -> None:
    """The figures of the best values stay; spreads stand beside them, rising."""
    quantiles = ensemble["quantiles"]
    spread = quantiles["remaining_pct"]

    assert (ensemble["members"], ensemble["seed"]) == (40, 3)
    assert ensemble["remaining_pct"] == axles["remaining_pct"]
    assert spread["p05"] < spread["p50"] < spread["p95"]
    assert set(quantiles["parts"]) == set(ensemble["parts"])
    assert set(quantiles["parts"]["supply"]["old_l"]) == {"p05", "p50", "p95"}
    assert [step["step"] for step in quantiles["steps"]] == [1, 2, 3, 4]
    assert quantiles["steps"][2]["waste_l"]["p50"] == pytest.approx(10.0)


def test_a_run_that_stops_says_where_and_why() -> None:
    """Rising struts take more than the reservoir holds: the run ends in the third step."""
    steps = (DrawOff(), Fill(to_m3=0.3e-3), Extend(), Exchange(litres_m3=1e-3))
    found = told(Recipe(name="dry", steps=steps))

    assert found["stopped"]["step"] == 3
    assert "empty" in found["stopped"]["why"]
    assert set(found["stopped"]) >= {"step", "litres", "why"}
