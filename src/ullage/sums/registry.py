"""Which bench sums are there, and where?

Each name stands beside the module that holds it, so that one sum loads no more than its own part of
the core.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import import_module
from typing import Final

from ullage.errors import NotFound
from ullage.sums.bench_sum import Answer, BenchSum
from ullage.sums.key import nearest_name

HOMES: Final[Mapping[str, str]] = {
    "viscosity": "oil",
    "viscosity-index": "oil",
    "viscosity-grade": "oil",
    "blend": "oil",
    "density": "oil",
    "level-shift": "oil",
    "reynolds": "lines",
    "pressure-loss": "lines",
    "submergence": "lines",
    "gas-charge": "energy",
    "precharge-at": "energy",
    "warm-up": "energy",
    "throttle-rise": "energy",
    "settling": "lines",
    "drain-fill": "exchange",
    "purge": "exchange",
    "dilution": "exchange",
    "residence": "exchange",
    "iso4406": "particles",
    "as4059": "particles",
    "nas1638": "particles",
    "beta": "particles",
    "filter-time": "particles",
    "absorbance-mix": "readings",
    "membrane-count": "readings",
    "gravimetric": "readings",
    "jug": "readings",
}


@cache
def bench_sum(name: str) -> BenchSum:
    """Return a sum by name.

    Raises
    ------
    NotFound
        If no sum is called that; the nearest name comes first.
    """
    if name not in HOMES:
        near = nearest_name(name, list(HOMES))
        others = [other for other in HOMES if other != near]
        raise NotFound("bench sum", name, [f"{near} (nearest)", *others] if near else others)
    module = import_module(f"ullage.sums.{HOMES[name]}")
    sums: tuple[BenchSum, ...] = module.SUMS
    return next(one for one in sums if one.name == name)


def bench_sums() -> tuple[BenchSum, ...]:
    """Return every sum, in the order of the contract."""
    return tuple(bench_sum(name) for name in HOMES)


def work_out(name: str, pairs: Mapping[str, str]) -> Answer:
    """Return the answer of a sum to texts by key.

    Raises
    ------
    NotFound
        If the sum or a key is not known.
    OutOfRange
        If a key is missing, or a value is no number, absurd, or outside what the formula takes.

    Examples
    --------
    >>> work_out("beta", {"up": "1000", "down": "50"}).values["efficiency_pct"]
    95.0
    """
    return bench_sum(name).answer(pairs)
