"""What a plan was judged by, as JSON: plain units, nothing infinite, whose word each limit is."""

from __future__ import annotations

import json

import pytest

from tests.unit.planning.machines import built_in
from ullage.formats.judged_json import (
    due_to_json,
    filter_to_json,
    fluid_to_json,
    heat_to_json,
    level_to_json,
)
from ullage.planning.due import DAY_S, Use, due, usual_interval
from ullage.planning.element import Element
from ullage.planning.filter_fit import filter_fit
from ullage.planning.fluid_fit import fluid_fit
from ullage.planning.level_target import level_target
from ullage.planning.trend import next_due
from ullage.planning.warmth import exchange_temperature, warm_up, what_warmth_buys
from ullage.units.convert import kelvin_from_degc

NAMES = ["levelling-van", "scissor-lift", "wheel-brakes", "auto-gearbox", "compact-loader"]


@pytest.mark.parametrize("name", NAMES)
def test_everything_can_be_written(name: str) -> None:
    """No NaN and no infinity, for any built-in circuit."""
    circuit = built_in(name)
    cold, warm = kelvin_from_degc(15.0), kelvin_from_degc(50.0)
    nominal = Element(size_um=3.0, ratio=None)
    tables = [
        fluid_to_json(fluid_fit(circuit)),
        filter_to_json(filter_fit(circuit, successor=nominal)),
        heat_to_json(
            warm_up(circuit),
            buys=what_warmth_buys(circuit, cold_k=cold, warm_k=warm),
            exchange=exchange_temperature(circuit, litres_m3=5e-3, start_k=warm),
        ),
        level_to_json(level_target(circuit, temperature_k=warm)),
        due_to_json(due(circuit, use=Use(age_s=500 * DAY_S))),
    ]

    assert all(json.loads(json.dumps(table, allow_nan=False)) for table in tables)


def test_units_are_those_of_people() -> None:
    """Millimetres and litres of the van's level, days to its next change."""
    van = built_in("levelling-van")
    target = level_target(van, temperature_k=kelvin_from_degc(60.0))
    level = level_to_json(target)
    then = next_due(interval=usual_interval("mineral"), old_vfrac=0.5)
    dated = due_to_json(due(van), then=then)["next"]

    assert target.height_m is not None
    assert level["mm"] == pytest.approx(target.height_m * 1e3, rel=1e-8)
    assert level["litres"] == pytest.approx(target.volume_m3 * 1e3, rel=1e-8)
    assert isinstance(dated, dict)
    assert (dated["value"], dated["unit"]) == (730.5, "days")


def test_a_filter_says_from_which_temperature_on() -> None:
    """The by-pass of the van's filter shuts at about -10 degC."""
    span = filter_to_json(filter_fit(built_in("levelling-van")))["bypassed_below_degc"]

    assert isinstance(span, dict)
    assert span["low"] == pytest.approx(-10.0, abs=1.0)
