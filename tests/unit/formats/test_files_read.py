"""Files written from their description read at first try, mean what they say, and write back."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from hypothesis import given, settings

from tests.laws.strategies import Job, jobs
from tests.unit.formats.texts import CIRCUIT, EVIDENCE, RECIPE, TEXTS, spoilt
from ullage.circuit.parts import HeldBy, PumpKind, State
from ullage.evidence.observation import Counted, Place
from ullage.formats.circuit_file import circuit_from_table, parse_circuit
from ullage.formats.circuit_json import circuit_to_json
from ullage.formats.circuit_keys import CIRCUIT as CIRCUIT_KIND
from ullage.formats.evidence_file import parse_evidence
from ullage.formats.evidence_keys import EVIDENCE as EVIDENCE_KIND
from ullage.formats.recipe_file import parse_recipe, recipe_from_table, recipe_to_json
from ullage.formats.recipe_keys import RECIPE as RECIPE_KIND
from ullage.formats.recipe_keys import STEP_OF
from ullage.formats.schema import FileKind, Kind, Table
from ullage.transport.recipe import Bleed, Circulate, Exchange, Release, SwapFilter, TopUp


def through_json(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table as it comes out of JSON text."""
    found: dict[str, Any] = json.loads(json.dumps(table, allow_nan=False))
    return found


def leaves(value: object, place: str = "") -> dict[str, object]:
    """Return every value within a table of tables by its place."""
    if isinstance(value, dict):
        return {k: v for n, x in value.items() for k, v in leaves(x, f"{place}.{n}").items()}
    if isinstance(value, list):
        return {k: v for n, x in enumerate(value) for k, v in leaves(x, f"{place}[{n}]").items()}
    return {place: value}


def numbers_of(table: object) -> dict[str, float]:
    """Return the numbers within a table by their places."""
    return {k: v for k, v in leaves(table).items() if isinstance(v, float)}


def words_of(table: object) -> dict[str, object]:
    """Return everything within a table that is no number, by place."""
    return {k: v for k, v in leaves(table).items() if not isinstance(v, float)}


def keys_in(table: Table, raw: object, place: str) -> Iterator[str]:
    """Yield the keys of a table that no example has."""
    rows = raw if isinstance(raw, list) else [raw]
    for key in table.keys:
        held = [row[key.name] for row in rows if isinstance(row, dict) and key.name in row]
        if not held:
            yield f"{place}.{key.name}"
        elif key.kind is Kind.TABLE and key.table is not None:
            yield from keys_in(key.table, held, f"{place}.{key.name}")


@pytest.mark.parametrize(("kind", "word"), [(CIRCUIT_KIND, "circuit"), (EVIDENCE_KIND, "evidence")])
def test_the_examples_have_every_key(kind: FileKind, word: str) -> None:
    """No key is accepted that these tests never read."""
    raw = tomllib.loads(TEXTS[word])

    assert [key.name for key in kind.keys if key.name not in raw] == []
    unread = [p for t in kind.tables for p in keys_in(t, raw.get(t.name), t.name)]
    # Only a hand pump has it; the test below reads one.
    assert [place for place in unread if place != "pump.flow_l_min"] == []


def test_the_recipe_has_every_step_and_key() -> None:
    """Each kind of step is there, and each key in one of the steps that take it."""
    raw = tomllib.loads(RECIPE)
    used = {name for step in raw["step"] for name in step}

    assert {step["do"] for step in raw["step"]} == set(STEP_OF)
    assert {key.name for table in STEP_OF.values() for key in table.keys} == used
    assert [key.name for key in RECIPE_KIND.keys if key.name not in raw] == []


def test_units_of_a_circuit_become_si() -> None:
    """Litres, millimetres, bars, degrees and the rest are converted once, at the door."""
    c = parse_circuit(CIRCUIT, "c")
    strut = c.leg_by_id["strut"]

    assert c.reservoir.full_m3.best == pytest.approx(6.0e-3)
    assert c.reservoir.area_m2 is not None
    assert c.reservoir.area_m2.best == pytest.approx(0.03)
    assert c.reservoir.table[1] == pytest.approx((0.06, 2.0e-3))
    assert c.reservoir.mark is State.RELEASED
    assert c.reservoir.mark_k == pytest.approx(298.15)
    assert c.reservoir.dead_share.high == pytest.approx(0.12)
    assert c.pump.kind is PumpKind.PRESSURE_HELD
    assert c.pump.displacement_m3_rev is not None
    assert c.pump.displacement_m3_rev.best == pytest.approx(12e-6)
    assert c.pump.idle_rev_s == pytest.approx(800 / 60)
    assert c.pump.limit_m3_s is not None
    assert c.pump.limit_m3_s.best == pytest.approx(30e-3 / 60)
    assert c.pump.idle_flow_share.best == pytest.approx(0.4)
    assert c.node_by_id["filter"].clean_dp_pa == pytest.approx(0.2e5)
    assert c.node_by_id["filter"].clean_dp_flow_m3_s == pytest.approx(10e-3 / 60)
    assert c.node_by_id["filter"].clean_dp_nu_m2_s == pytest.approx(30e-6)
    assert c.node_by_id["filter"].beta_um == 10.0
    assert c.node_by_id["strainer"].is_nominal
    assert c.paths[2].opens_above_k == pytest.approx(343.15)
    assert strut.line.id == "strut.line"
    assert strut.held_by is HeldBy.PILOT
    assert strut.start_share.best == pytest.approx(0.4)
    assert c.fluid.particles_per_m3 == pytest.approx((9000e6, 2400e6, 180e6))
    assert c.fluid.water_wfrac == pytest.approx(120e-6)
    assert c.fluid.acid_kg_kg == pytest.approx(0.6e-3)
    assert c.limits.inlet_min_pa == pytest.approx(0.8e5)
    assert c.heat.heat_capacity_j_k is not None
    assert c.heat.heat_capacity_j_k.best == 60000.0


def test_a_gauge_pressure_becomes_absolute() -> None:
    """60 bar on the gauge are 61.01325 bar, so the oil behind the gas is V (1 - p0 / p)."""
    gas = parse_circuit(CIRCUIT, "c").leg_by_id["strut"].gas

    assert gas is not None
    assert gas.precharge_pa == pytest.approx(61.01325e5, rel=1e-12)
    assert gas.working_pa == pytest.approx(121.01325e5, rel=1e-12)


def test_a_bore_comes_from_outside_and_wall() -> None:
    """od - 2 wall, the thin pipe with the thick wall at the low end."""
    bore = parse_circuit(CIRCUIT, "c").line_by_id["supply"].bore_m

    assert bore is not None
    assert (bore.low, bore.best, bore.high) == pytest.approx((9.6e-3, 10e-3, 10.4e-3))


def test_a_hand_pump_has_a_flow() -> None:
    """In place of displacement, speed and efficiency, and in litres a minute."""
    pump = CIRCUIT[CIRCUIT.index("[pump]") : CIRCUIT.index("[[line]]")]
    by_hand = '[pump]\nkind = "hand"\nflow_l_min = { best = 0.3, spread_pct = 30 }\n'
    flow = parse_circuit(CIRCUIT.replace(pump, by_hand), "c").pump.hand_flow_m3_s

    assert flow is not None
    assert (flow.low, flow.best, flow.high) == pytest.approx((3.5e-6, 5e-6, 6.5e-6))


def test_the_names_of_one_guess_are_kept() -> None:
    """`as` arrives as the shared name, on a path and in a leg."""
    c = parse_circuit(CIRCUIT, "c")

    assert c.line_by_id["supply"].length_m == c.leg_by_id["strut"].line.length_m
    length = c.line_by_id["supply"].length_m
    assert length is not None
    assert (length.low, length.best, length.high) == pytest.approx((2.24, 3.2, 4.16))
    assert length.shared == "leg length"


def test_what_is_left_out_has_its_default() -> None:
    """returns_to is at, start is half way, the group is none, nothing holds it."""
    clutch = parse_circuit(CIRCUIT, "c").leg_by_id["clutch"]

    assert (clutch.returns_to, clutch.group, clutch.gas) == ("block", None, None)
    assert clutch.start_share.best == 0.5
    assert not clutch.bleed


@pytest.mark.parametrize(("left_out", "said"), [("arm-rod", "70"), ("arm-base", "30")])
def test_one_side_of_an_actuator_stands_where_the_other_leaves_it(left_out: str, said: str) -> None:
    """Which of the two names the other, and which stands where, makes no difference."""
    whole = parse_circuit(CIRCUIT, "c").leg_by_id
    found = parse_circuit(spoilt("circuit", f"start_pct = {said}\n", ""), "c").leg_by_id

    assert found[left_out].start_share.best == pytest.approx(float(said) / 100.0)
    assert {one: found[one].start_share.best for one in ("arm-rod", "arm-base")} == pytest.approx(
        {one: whole[one].start_share.best for one in ("arm-rod", "arm-base")}
    )


def test_an_uncertain_start_is_turned_round_for_the_other_side() -> None:
    """Nearly retracted here is nearly extended there."""
    text = spoilt("circuit", "start_pct = 30\n", "start_pct = { best = 30, low = 10, high = 35 }\n")
    legs = parse_circuit(text.replace("start_pct = 70\n", ""), "c").leg_by_id
    turned = legs["arm-rod"].start_share

    assert (turned.low, turned.best, turned.high) == pytest.approx((0.65, 0.7, 0.9))


def test_without_start_the_reservoir_is_full_in_every_draw() -> None:
    """The start is drawn with the full mark, not beside it."""
    tank = parse_circuit(spoilt("circuit", "start_l = 5.8\n", ""), "c").reservoir

    assert tank.start_m3 == tank.full_m3
    assert tank.full_m3.shared is not None


def test_without_new_fluid_the_old_one_is_poured_again() -> None:
    """Viscosity, density and class carry over; what was found in the old fluid does not."""
    text = CIRCUIT[: CIRCUIT.index("[new_fluid]")] + CIRCUIT[CIRCUIT.index("[limits]") :]
    c = parse_circuit(text, "c")

    assert c.new_fluid.nu40_m2_s == c.fluid.nu40_m2_s
    assert c.new_fluid.particles_per_m3 is None
    assert c.new_fluid.water_wfrac is None


def test_a_recipe_becomes_steps_in_si() -> None:
    """Litres, minutes, revolutions and degrees are converted; order and words are kept."""
    recipe = parse_recipe(RECIPE, "r")
    exchange, circulate = recipe.steps[2], recipe.steps[3]

    assert [step.do for step in recipe.steps] == [
        "draw-off", "fill", "exchange", "circulate", "retract", "extend", "release", "charge",
        "bleed", "swap-filter", "stand", "top-up",
    ]  # fmt: skip
    assert isinstance(exchange, Exchange)
    assert exchange.litres_m3 == pytest.approx(4e-3)
    assert exchange.rev_s == pytest.approx(15.0)
    assert exchange.temperature_k == pytest.approx(344.65)
    assert exchange.exercise.groups == ("front", "arm-base")
    assert (exchange.exercise.cycles, exchange.exercise.together) == (1, True)
    assert isinstance(circulate, Circulate)
    assert circulate.duration_s == pytest.approx(180.0)
    assert circulate.exercise.cycles is None
    assert recipe.steps[6] == Release(legs=("strut",), supported=True)
    assert recipe.steps[8] == Bleed(leg="strut", litres_m3=0.5e-3)
    assert recipe.steps[9] == SwapFilter(prefilled=False)
    assert recipe.steps[11] == TopUp()


def test_evidence_becomes_readings_in_si() -> None:
    """Every table arrives, in SI, with the uncertainty that holds where none is written."""
    found = parse_evidence(EVIDENCE, "e")
    first, second = found.samples

    assert (first.place, first.at_step_m3, first.old_vfrac) == (Place.OUTFLOW, 2e-3, 0.22)
    assert (first.reference, first.shares) == ("strut", "photo-1")
    assert (second.place, second.leg, second.u_vfrac) == (Place.LEG, "strut", 0.05)
    assert found.volumes[1].what is Counted.LEFT_OVER
    assert found.volumes[1].mass_kg == pytest.approx(0.434)
    assert found.volumes[1].u_m3 == pytest.approx(0.02e-3)
    assert found.levels[0].height_m == pytest.approx(-0.012)
    assert found.levels[1].volume_m3 == pytest.approx(5.9e-3)
    assert found.flows[0].rev_s == pytest.approx(12.5)
    assert found.turns[0].at_m3 == pytest.approx(2.9e-3)
    assert found.travels[0].share == pytest.approx(0.8)
    assert (found.cycles[0].group, found.cycles[0].count) == ("front", 1)


def test_a_circuit_survives_json() -> None:
    """Read, written, read again: the same circuit to the last bit."""
    c = parse_circuit(CIRCUIT, "c")

    assert circuit_from_table(through_json(circuit_to_json(c)), "c") == c


def test_a_recipe_survives_json() -> None:
    """Read, written, read again: the same recipe to the last bit."""
    recipe = parse_recipe(RECIPE, "r")

    assert recipe_from_table(through_json(recipe_to_json(recipe)), "r") == recipe


def test_json_text_is_read_like_toml() -> None:
    """What a plan prints can be kept in a file and given to the next command."""
    recipe = parse_recipe(RECIPE, "r")

    assert parse_recipe(json.dumps(recipe_to_json(recipe), indent=1), "r.json") == recipe


@given(jobs())
@settings(max_examples=60)
def test_any_job_survives_json(job: Job) -> None:
    """What the program holds a file can hold: to rounding at first, exactly from then on."""
    tables = [circuit_to_json(job.circuit), recipe_to_json(job.recipe)]
    circuit = circuit_from_table(through_json(tables[0]), "c")
    recipe = recipe_from_table(through_json(tables[1]), "r")

    for before, after in zip(
        tables, [circuit_to_json(circuit), recipe_to_json(recipe)], strict=True
    ):
        assert words_of(after) == words_of(before)
        assert numbers_of(after) == pytest.approx(numbers_of(before), rel=1e-12)
    assert circuit_from_table(through_json(circuit_to_json(circuit)), "c") == circuit
    assert recipe_from_table(through_json(recipe_to_json(recipe)), "r") == recipe
