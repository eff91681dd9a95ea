"""What a circuit has that decides which sentences concern it: gas, legs, an engine, brakes.

Tables of sentences name these words in ``where``; this file says which of them hold.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

from ullage.circuit.network import Circuit
from ullage.circuit.parts import PumpKind
from ullage.planning.candidates import groups_of
from ullage.transport.recipe import Bleed, Exchange, Recipe
from ullage.units.convert import ZERO_CELSIUS_K

#: From here on fluid burns skin in minutes, at 60 degC in seconds [moritz-henriques-1947].
SCALDS_FROM_K = 50.0 + ZERO_CELSIUS_K


def features(circuit: Circuit, recipe: Recipe) -> frozenset[str]:
    """Return the words of ``where`` that hold for a circuit and what is done to it."""
    is_brake = "BRAKE" in circuit.new_fluid.class_
    found = {
        "gas": any(leg.gas for leg in circuit.legs),
        "legs": bool(groups_of(circuit)),
        "pump": circuit.pump.kind is not PumpKind.HAND,
        "engine": circuit.pump.kind is not PumpKind.HAND and circuit.pump.duty_s is None,
        "warm": recipe.temperature_k >= SCALDS_FROM_K - 1e-6,
        "brakes": is_brake,
        "oil": not is_brake,
        "steering": any("steer" in (leg.opens_with or "") for leg in circuit.legs),
        "exchange": any(isinstance(step, Exchange) for step in recipe.steps),
        "bleed": any(isinstance(step, Bleed) for step in recipe.steps),
    }
    return frozenset(word for word, holds in found.items() if holds)


@cache
def sentences(table: str) -> dict[str, tuple[dict[str, Any], ...]]:
    """Return the rows of a table of sentences, by heading."""
    file = resources.files("ullage.planning") / "data" / f"{table}.toml"
    raw = tomllib.loads(file.read_text(encoding="utf-8"))
    return {heading: tuple(rows) for heading, rows in raw.items()}


def concerning(table: str, heading: str, has: frozenset[str]) -> tuple[dict[str, Any], ...]:
    """Return the rows under a heading that concern a circuit."""
    return tuple(
        row for row in sentences(table)[heading] if row.get("where") is None or row["where"] in has
    )
