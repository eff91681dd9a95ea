"""What was read at the machine, as plain values in SI: samples, volumes, levels, flows, strokes.

Steps are counted from 1 as in a recipe; 0 means before the first. ``u_...`` is one standard
uncertainty. Readings that bear the same ``shares`` text have one error in common (one photo, one
jug). Leaves out what the readings mean (``likelihood``) and whether they fit the circuit and recipe
at hand (``refusals``).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ullage.circuit.parts import State


class Place(StrEnum):
    """Where a sample was drawn."""

    OUTFLOW = "outflow"
    RESERVOIR = "reservoir"
    BUCKET = "bucket"
    LEG = "leg"


class Counted(StrEnum):
    """Which volume was measured."""

    DRAWN_OFF = "drawn-off"
    WASTE = "waste"
    POURED = "poured"
    LEFT_OVER = "left-over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The old share of a sample against a reference of pure old fluid.

    Drawn when ``after_step`` had ended, or once ``at_step_m3`` of it had gone to waste. ``leg``
    names the chamber for ``Place.LEG``; ``reference`` the old fluid that the reference stood for,
    "reservoir" or a leg.
    """

    place: Place
    after_step: int
    old_vfrac: float
    u_vfrac: float
    leg: str | None = None
    at_step_m3: float | None = None
    reference: str = "reservoir"
    shares: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeReading:
    """A volume by jug (``volume_m3``) or by scale (``mass_kg``); ``step`` None: over the whole job.

    ``at_k`` None: at the temperature of the recipe.
    """

    what: Counted
    u_m3: float
    step: int | None = None
    volume_m3: float | None = None
    mass_kg: float | None = None
    at_k: float | None = None
    shares: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelReading:
    """The level in the reservoir: a height from the full mark, or the content itself."""

    after_step: int
    state: State
    height_m: float | None = None
    u_height_m: float | None = None
    volume_m3: float | None = None
    u_m3: float | None = None
    at_k: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowReading:
    """A container timed at the diverter; ``rev_s`` None: at idle. ``u_share`` is of the flow."""

    volume_m3: float
    duration_s: float
    u_share: float
    rev_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """The volume of a step that had gone to waste when the outflow visibly changed."""

    step: int
    at_m3: float
    u_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """How far a leg really moved, of its stroke."""

    leg: str
    share: float
    u_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CyclesMade:
    """How many whole cycles of a group were really made in a step."""

    step: int
    group: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Everything that was read in one job."""

    samples: tuple[Sample, ...] = ()
    volumes: tuple[VolumeReading, ...] = ()
    levels: tuple[LevelReading, ...] = ()
    flows: tuple[FlowReading, ...] = ()
    turns: tuple[Turn, ...] = ()
    travels: tuple[Travel, ...] = ()
    cycles: tuple[CyclesMade, ...] = ()
