"""What things cost in this garage: the prices of Settings, or the invented ones of the package."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from ullage.errors import OutOfRange
from ullage.jobs.ports import Desk

if TYPE_CHECKING:
    from ullage.planning.costs import Prices

#: Keys of the table of prices; as settings they stand behind "costs.".
PRICES = (
    "fluid_per_litre",
    "filter_each",
    "rings_per_bleed_point",
    "diverter_once",
    "waste_per_litre",
    "labour_per_hour",
)
LONGEST_CURRENCY = 4


@cache
def invented_prices() -> Mapping[str, float | str]:
    """Return the table that comes with the program: figures to begin with, nobody's prices."""
    file = resources.files("ullage.planning") / "data" / "costs.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))


def kept_prices(settings: Mapping[str, str]) -> dict[str, float]:
    """Return the price of each key, that of Settings where one was set."""
    invented = invented_prices()
    return {key: float(settings.get(f"costs.{key}", invented[key])) for key in PRICES}


def kept_currency(settings: Mapping[str, str]) -> str:
    """Return the currency of the prices."""
    return settings.get("costs.currency") or str(invented_prices()["currency"])


def keep_prices(desk: Desk, prices: Mapping[str, float], currency: str) -> None:
    """Keep prices and their currency, all or none.

    Raises
    ------
    OutOfRange
        If a price is negative or no number, or the currency is longer than a sign or a code.
    """
    for key in PRICES:
        if not (math.isfinite(prices[key]) and prices[key] >= 0.0):
            raise OutOfRange(key, prices[key], "a number of at least 0")
    if not (currency.strip() and currency.isprintable() and len(currency) <= LONGEST_CURRENCY):
        raise OutOfRange(
            "currency", repr(currency), f"a sign or a code of at most {LONGEST_CURRENCY} letters"
        )
    for key in PRICES:
        desk.store.set_setting(f"costs.{key}", repr(float(prices[key])))
    desk.store.set_setting("costs.currency", currency.strip())


def prices_of(settings: Mapping[str, str]) -> Prices:
    """Return the prices as planning reckons with them."""
    from ullage.planning.costs import Prices
    from ullage.units.convert import HOUR_S, LITRE_M3

    kept = kept_prices(settings)
    return Prices(
        currency=kept_currency(settings),
        fluid_per_m3=kept["fluid_per_litre"] / LITRE_M3,
        filter_each=kept["filter_each"],
        bleed_point_each=kept["rings_per_bleed_point"],
        diverter_once=kept["diverter_once"],
        waste_per_m3=kept["waste_per_litre"] / LITRE_M3,
        labour_per_s=kept["labour_per_hour"] / HOUR_S,
    )
