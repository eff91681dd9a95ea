"""What a recipe takes in minutes and money, by tables that a garage edits for itself.

Pumping time comes from the run; handling time and prices from ``data/times.toml`` and
``data/costs.toml``. They serve to compare methods, not to write an invoice.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

from ullage.circuit.network import Circuit
from ullage.errors import OutOfRange
from ullage.transport.recipe import Bleed, Exchange, Step, SwapFilter
from ullage.units.convert import LITRE_M3, MINUTE_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Handling times [s]: of a whole job, of each kind of step, and per litre of it [s/m3]."""

    job_s: float
    diverter_s: float
    step_s: dict[str, float]
    per_m3_s: dict[str, float]
    alone_factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What things cost; volumes per cubic metre, labour per second."""

    currency: str
    fluid_per_m3: float
    filter_each: float
    bleed_point_each: float
    diverter_once: float
    waste_per_m3: float
    labour_per_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """What a recipe asks of people: the order in which ties are decided."""

    duration_s: float
    steps: int
    kinds: int
    bleed_points: int


def read_times(path: Path | None = None) -> Times:
    """Return the handling times of a table; None takes the one that comes with the program."""
    return _times(path)


@cache
def _times(path: Path | None) -> Times:
    raw = _table("times.toml", path)
    job = _numbers(raw, "job")
    per_litre = _numbers(raw, "litre")
    return Times(
        job_s=(job["set_up"] + job["clear_up"] + job["check"]) * MINUTE_S,
        diverter_s=job["diverter"] * MINUTE_S,
        step_s={name: value * MINUTE_S for name, value in _numbers(raw, "step").items()},
        per_m3_s={name: value * MINUTE_S / LITRE_M3 for name, value in per_litre.items()},
        alone_factor=_numbers(raw, "people")["alone_factor"],
    )


@cache
def read_prices(path: Path | None = None) -> Prices:
    """Return the prices of a table; None takes the invented ones that come with the program."""
    raw = _table("costs.toml", path)
    currency = str(raw.pop("currency", ""))
    found = {name: _price(name, value) for name, value in raw.items()}
    return Prices(
        currency=currency,
        fluid_per_m3=found["fluid_per_litre"] / LITRE_M3,
        filter_each=found["filter_each"],
        bleed_point_each=found["rings_per_bleed_point"],
        diverter_once=found["diverter_once"],
        waste_per_m3=found["waste_per_litre"] / LITRE_M3,
        labour_per_s=found["labour_per_hour"] / 3600.0,
    )


def _table(name: str, path: Path | None) -> dict[str, object]:
    """Return a table of the package, or the one that stands at a path."""
    if path is not None:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    file = resources.files("ullage.planning") / "data" / name
    return tomllib.loads(file.read_text(encoding="utf-8"))


def _numbers(raw: dict[str, object], name: str) -> dict[str, float]:
    """Return the numbers under one heading."""
    rows = raw.get(name)
    if not isinstance(rows, dict):
        raise OutOfRange(f"[{name}]", "missing", "a table of minutes", "see data/times.toml")
    return {str(key): _price(f"{name}.{key}", value) for key, value in rows.items()}


def _price(name: str, value: object) -> float:
    """Return a number that is not negative."""
    if not isinstance(value, int | float) or value < 0.0:
        raise OutOfRange(name, value, "a number of at least 0", "")
    return float(value)


def effort_of(
    circuit: Circuit,
    steps: Sequence[Step],
    *,
    volumes_m3: Sequence[float],
    pumped_s: float,
    people: int,
    times: Times | None = None,
) -> Effort:
    """Return what a recipe asks of people.

    Parameters
    ----------
    circuit : Circuit
        Its pump may have to rest.
    steps : (steps,)
        What is done.
    volumes_m3 : (steps,)
        What is handled in each: poured, or drawn off. [m3]
    pumped_s : scalar
        Time with the pump running, and waiting. [s]
    people : scalar
        Who work at it. [-]
    times : Times
        None takes the table of the package.

    Returns
    -------
    effort : Effort
        Whole time, and how many steps, kinds of steps and bleed points.

    Source
    ------
    Common practice, no source: ``data/times.toml``.
    """
    table = read_times() if times is None else times
    pump = circuit.pump
    rests = 0.0
    if pump.duty_s is not None and pump.rest_s is not None:
        rests = int(max(pumped_s - 1e-6, 0.0) / pump.duty_s) * pump.rest_s
    handling = table.job_s
    if any(isinstance(step, Exchange) for step in steps):
        handling += table.diverter_s
    for step, volume_m3 in zip(steps, volumes_m3, strict=True):
        handling += table.step_s.get(step.do, 0.0) + table.per_m3_s.get(step.do, 0.0) * volume_m3
    if people == 1:
        handling *= table.alone_factor
    return Effort(
        duration_s=handling + pumped_s + rests,
        steps=len(steps),
        kinds=len({step.do for step in steps}),
        bleed_points=len({step.leg for step in steps if isinstance(step, Bleed)}),
    )


def cost_of(
    effort: Effort,
    steps: Sequence[Step],
    *,
    bought_m3: float,
    waste_m3: float,
    prices: Prices | None = None,
) -> float:
    """Return what a recipe costs, in the currency of the table.

    Parameters
    ----------
    effort : Effort
        Its time counts as labour.
    steps : (steps,)
        What is done.
    bought_m3 : scalar
        Content of all containers bought. [m3]
    waste_m3 : scalar
        What is handed over. [m3]
    prices : Prices
        None takes the invented table of the package.

    Returns
    -------
    cost : scalar
        Fluid, filter, small parts, waste and labour. [-]

    Source
    ------
    Invented figures: ``data/costs.toml``.
    """
    table = read_prices() if prices is None else prices
    cost = bought_m3 * table.fluid_per_m3 + waste_m3 * table.waste_per_m3
    cost += effort.duration_s * table.labour_per_s
    cost += table.filter_each * sum(isinstance(step, SwapFilter) for step in steps)
    cost += table.bleed_point_each * effort.bleed_points
    if any(isinstance(step, Exchange) for step in steps):
        cost += table.diverter_once
    return cost
