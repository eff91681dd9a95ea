"""A recipe: the steps that a person carries out, as plain values in SI.

One small class a step; ``do`` is the word a recipe file uses for it. What a step does to the fluid
is ``hydraulics``' business, whether a circuit can carry it out is judged by ``refusals``."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """Which groups or legs move, how often and how.

    ``cycles`` are whole cycles of each group; None means as many as fit. ``period_s`` is one whole
    cycle at the best flow."""

    groups: tuple[str, ...] = ()
    cycles: int | None = None
    together: bool = False
    period_s: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What all steps share: an own temperature, if any (else the recipe's)."""

    do: ClassVar[str] = ""
    temperature_k: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawOff(Step):
    """Take fluid from the reservoir to waste down to ``leave_m3`` (None: the heel)."""

    do: ClassVar[str] = "draw-off"
    leave_m3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill(Step):
    """Pour new fluid into the reservoir up to ``to_m3`` (None: the full mark)."""

    do: ClassVar[str] = "fill"
    to_m3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TopUp(Fill):
    """The fill at the end of a job."""

    do: ClassVar[str] = "top-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange(Step):
    """Run the pump with the return to waste and pour so that the level stays.

    ``rev_s`` None means idle speed; ``litres_m3`` is the volume sent to waste.
    """

    do: ClassVar[str] = "exchange"
    litres_m3: float
    rev_s: float | None = None
    exercise: Exercise = field(default_factory=Exercise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Circulate(Step):
    """Run the pump with the return to the reservoir."""

    do: ClassVar[str] = "circulate"
    duration_s: float
    rev_s: float | None = None
    exercise: Exercise = field(default_factory=Exercise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Retract(Step):
    """Move legs to their retracted ends (empty ``legs``: all that a person may move)."""

    do: ClassVar[str] = "retract"
    legs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Extend(Step):
    """Move legs to their extended ends (empty ``legs``: all that a person may move)."""

    do: ClassVar[str] = "extend"
    legs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Release(Step):
    """Let the pressure go: gas volumes give their oil back; legs sink first unless
    ``supported``.
    """

    do: ClassVar[str] = "release"
    legs: tuple[str, ...] = ()
    supported: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge(Step):
    """Pressure up: gas volumes take their oil."""

    do: ClassVar[str] = "charge"
    legs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bleed(Step):
    """Send fluid through one leg and out at its bleed point; the level is kept by pouring."""

    do: ClassVar[str] = "bleed"
    leg: str
    litres_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SwapFilter(Step):
    """Throw away what every element node holds; refill it by hand if ``prefilled``."""

    do: ClassVar[str] = "swap-filter"
    prefilled: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand(Step):
    """Wait with the pump off."""

    do: ClassVar[str] = "stand"
    duration_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """Steps in order, the fluid's temperature while they run, and that of the containers."""

    name: str
    steps: tuple[Step, ...]
    temperature_k: float = 333.15
    new_fluid_k: float = 293.15
