"""The four ways to write a number that nobody knows exactly, and back.

::

    volume_l = 0.25
    volume_l = { best = 0.25, spread_pct = 20 }
    volume_l = { best = 0.25, low = 0.20, high = 0.33 }
    volume_l = { best = 0.25, spread_pct = 20, as = "one guess" }

A spread never reaches outside what the key allows: what would is cut off (92 % +- 20 % ends at
100 %). Ends that were written out are taken at their word, and refused where not allowed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ullage.circuit import names
from ullage.circuit.uncertain import Uncertain, exact
from ullage.errors import Fault
from ullage.formats.schema import Key

_PARTS = ("best", "low", "high", "spread_pct", "as")
_EXAMPLE = "{{ best = {best:.6g}, spread_pct = 20 }}"


def as_number(raw: object) -> float | None:
    """Return a TOML value as a finite number, or None where it is none (true is not 1)."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        return None
    try:
        number = float(raw)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def number_fault(key: Key, place: str, raw: object) -> Fault:
    """Return the fault of a value that should have been a number."""
    advice = "write a number"
    if isinstance(raw, str):
        unquoted = raw.strip().replace(",", ".").split(" ")[0]
        try:
            advice = f"write it without quotes: {key.name} = {float(unquoted):.6g}"
        except ValueError:
            advice = "write a number, without quotes and without a unit"
    return Fault(
        key=place,
        value=shown(raw),
        problem="is not a number",
        allowed=key.allowed,
        advice=advice,
    )


def shown(raw: object) -> object:
    """Return a value short enough for a sentence."""
    text = repr(raw)
    return raw if len(text) <= 60 else f"{text[:57]}..."


def read_uncertain(key: Key, place: str, raw: object) -> Uncertain | list[Fault]:
    """Return the number behind a key in SI, or everything that is wrong with it."""
    if isinstance(raw, Mapping):
        return _read_ends(key, place, raw)
    number = as_number(raw)
    if number is None:
        return [number_fault(key, place, raw)]
    if allowed := key.out_of_range(number):
        return [range_fault(key, place, number, allowed)]
    return exact(key.to_si(number))


def range_fault(key: Key, place: str, value: object, allowed: str, *, advice: str = "") -> Fault:
    """Return the fault of a number outside its range."""
    negative = isinstance(value, int | float) and value < 0
    return Fault(
        key=place,
        value=value,
        problem="is outside what is allowed",
        allowed=f"must be {allowed}",
        advice=advice or ("check the sign" if negative else "check the value and its unit"),
    )


def _read_ends(key: Key, place: str, raw: Mapping[str, Any]) -> Uncertain | list[Fault]:
    """Return the number written as a table of best value and ends."""
    faults = [
        Fault(
            key=f"{place}.{name}",
            value=shown(raw[name]),
            problem="is not a known key",
            allowed="best with spread_pct, or best with low and high; as",
            advice=names.did_you_mean(str(name), _PARTS, otherwise="leave it out"),
        )
        for name in raw
        if name not in _PARTS
    ]
    numbers: dict[str, float] = {}
    for name in ("best", "low", "high", "spread_pct"):
        if name not in raw:
            continue
        number = as_number(raw[name])
        if number is None:
            faults.append(number_fault(key, f"{place}.{name}", raw[name]))
        elif name != "spread_pct" and (allowed := key.out_of_range(number)):
            faults.append(range_fault(key, f"{place}.{name}", number, allowed))
        elif name == "spread_pct" and not 0.0 <= number <= 100.0:
            faults.append(
                Fault(
                    key=f"{place}.spread_pct",
                    value=number,
                    problem="is outside what is allowed",
                    allowed="must be from 0 to 100 %",
                    advice="write low and high where the two sides differ",
                )
            )
        else:
            numbers[name] = number
    shared = raw.get("as")
    if "as" in raw and (not isinstance(shared, str) or not shared.strip()):
        faults.append(
            Fault(
                key=f"{place}.as",
                value=shown(shared),
                problem="is not a name",
                advice='write the name of the guess in quotes, for example as = "leg length"',
            )
        )
    faults += _shape_faults(place, raw, numbers)
    if faults:
        return faults
    best = numbers["best"]
    if "spread_pct" in numbers:
        half = abs(best) * numbers["spread_pct"] / 100.0
        low, high = best - half, best + half
        low = max(low, *(b for b in (key.low, key.above) if b is not None), -math.inf)
        high = min(high, *(b for b in (key.high, key.below) if b is not None), math.inf)
        if key.above is not None and low <= key.above:
            return [
                range_fault(
                    key,
                    f"{place}.spread_pct",
                    numbers["spread_pct"],
                    "below 100 %",
                    advice="the low end would be nothing at all: write low and high instead",
                )
            ]
    else:
        low, high = numbers.get("low", best), numbers.get("high", best)
    return Uncertain(
        best=key.to_si(best),
        low=key.to_si(low),
        high=key.to_si(high),
        shared=shared if isinstance(shared, str) else None,
    )


def _shape_faults(place: str, raw: Mapping[str, Any], numbers: dict[str, float]) -> list[Fault]:
    """Return what is wrong between the members of the table."""
    faults: list[Fault] = []
    if "best" not in raw:
        example = numbers.get("low", 1.0)
        faults.append(
            Fault(
                key=f"{place}.best",
                value=None,
                problem="is missing",
                allowed="best with spread_pct, or best with low and high",
                advice=f"write the likeliest value, for example {_EXAMPLE.format(best=example)}",
            )
        )
    if "spread_pct" in raw and ("low" in raw or "high" in raw):
        faults.append(
            Fault(
                key=f"{place}.spread_pct",
                value=shown(raw["spread_pct"]),
                problem="stands beside low or high",
                allowed="either spread_pct or low and high",
                advice="leave one of the two ways out",
            )
        )
    for end, other in (("low", "high"), ("high", "low")):
        if end in raw and other not in raw and "spread_pct" not in raw:
            faults.append(
                Fault(
                    key=f"{place}.{other}",
                    value=None,
                    problem=f"is missing beside {end}",
                    allowed="low and high together",
                    advice="write both ends; the same as best where there is no room",
                )
            )
    best = numbers.get("best")
    if best is not None:
        low, high = numbers.get("low", best), numbers.get("high", best)
        if low > best:
            faults.append(_disorder(f"{place}.low", low, "is above", best))
        if high < best:
            faults.append(_disorder(f"{place}.high", high, "is below", best))
    return faults


def _disorder(place: str, end: float, relation: str, best: float) -> Fault:
    """Return the fault of ends that do not enclose the best value."""
    return Fault(
        key=place,
        value=end,
        problem=f"{relation} best = {best:.6g}",
        allowed="low <= best <= high",
        advice="check which of the two is wrong",
    )


def write_uncertain(key: Key, number: Uncertain) -> object:
    """Return a number as a file writes it."""
    if number.is_exact and number.shared is None:
        return key.from_si(number.best)
    ends: dict[str, object] = {
        "best": key.from_si(number.best),
        "low": key.from_si(number.low),
        "high": key.from_si(number.high),
    }
    return ends if number.shared is None else {**ends, "as": number.shared}
