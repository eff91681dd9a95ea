"""What is wanted, and with what: target, confidence, containers, people, and what is ruled out.

Also the published limits that may stand in place of a number. Leaves out how it is reached.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.errors import OutOfRange
from ullage.fluids.liquid import Liquid
from ullage.units.convert import ZERO_CELSIUS_K

#: What may be ruled out with ``--without``: steps of a recipe, and exercising.
RULED_OUT = (
    "exchange",
    "exercise",
    "circulate",
    "bleed",
    "release",
    "retract",
    "swap-filter",
)

#: Published limits by name, as an old share. ISO 15380: not more than 2 % of the former mineral
#: hydraulic oil after a change to an environmentally acceptable fluid [iso-15380-2016].
READY_TARGETS = {"iso-15380": 0.02}

#: Temperature at which fluid is bought and measured out, 20 degC.
SHELF_K = 20.0 + ZERO_CELSIUS_K

# Containers that a search looks at unless told otherwise, as multiples of the circuit's content.
MOST_CONTENTS = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What a plan has to reach.

    ``target_share`` is the old fluid that may stay, ``sure_share`` the share of simulated machines
    that must come below it. ``reserve_m3`` stays in the containers for topping up later. ``most``
    bounds the containers; None leaves it to ``MOST_CONTENTS``."""

    target_share: float
    sure_share: float = 0.95
    container_m3: float = 1e-3
    reserve_m3: float = 1e-3
    most: int | None = None
    without: frozenset[str] = frozenset()
    people: int = 2

    def __post_init__(self) -> None:
        if not 0.0 < self.target_share < 1.0:
            raise OutOfRange(
                "target_pct", f"{self.target_share * 100:g}", "above 0 and below 100 %", ""
            )
        if not 0.5 <= self.sure_share <= 0.999:
            raise OutOfRange(
                "sure_pct",
                f"{self.sure_share * 100:g}",
                "from 50 to 99.9 %",
                "95 means that 95 of 100 simulated machines must reach the target",
            )
        if not 1e-5 <= self.container_m3 <= 1.0:
            raise OutOfRange(
                "container_l", f"{self.container_m3 * 1e3:g}", "from 0.01 to 1000 L", ""
            )
        if not 0.0 <= self.reserve_m3 <= 1.0:
            raise OutOfRange("reserve_l", f"{self.reserve_m3 * 1e3:g}", "from 0 to 1000 L", "")
        if self.most is not None and self.most < 1:
            raise OutOfRange("most", self.most, "at least 1 container", "")
        if not 1 <= self.people <= 6:
            raise OutOfRange("people", self.people, "from 1 to 6", "")
        for word in sorted(self.without):
            if word not in RULED_OUT:
                raise OutOfRange("without", word, f"one of {', '.join(RULED_OUT)}", "")

    def supply_m3(self, containers: int) -> float:
        """Return what may be poured from so many containers, the reserve kept back.

        Parameters
        ----------
        containers : scalar
            Whole containers bought. [-]

        Returns
        -------
        supply_m3 : scalar
            At shelf temperature. [m3]

        Source
        ------
        Arithmetic.
        """
        return containers * self.container_m3 - self.reserve_m3

    def containers_for(self, shelf_m3: float) -> int:
        """Return how many whole containers hold what is poured and the reserve.

        Parameters
        ----------
        shelf_m3 : scalar
            What is poured, at shelf temperature. [m3]

        Returns
        -------
        containers : scalar
            Whole containers. [-]

        Source
        ------
        Arithmetic.
        """
        return max(1, math.ceil((shelf_m3 + self.reserve_m3) / self.container_m3 - 1e-9))


def shelf_share(fluid: Liquid, *, temperature_k: float) -> float:
    """Return the volume on the shelf over the volume that the same fluid takes when warm.

    Parameters
    ----------
    fluid : Liquid
        The new fluid.
    temperature_k : scalar
        Temperature that a recipe's litres are meant at. [K]

    Returns
    -------
    share : scalar
        Below 1 where the recipe is warmer than the shelf. [m3/m3]

    Validity
    --------
    A container's litres are meant at 20 degC.

    Source
    ------
    As ``Liquid.volume_factor``.
    """
    return fluid.volume_factor(SHELF_K) / fluid.volume_factor(temperature_k)
