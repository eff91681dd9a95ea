"""The parts of a circuit as plain values: reservoir, pump, line, node, path, leg, gas volume.

Everything is SI. Volumes, lengths, bores, flows, strokes, shares and efficiencies are
:class:`Uncertain`; what a person sets or reads off a plate (speeds, temperatures, pressures) is a
plain float. Pressures are absolute. How the parts are joined, and whether that can be right, is
``network``'s business."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ullage.circuit.uncertain import Uncertain, exact


class State(StrEnum):
    """What the machine stands in when a level is read."""

    CHARGED = "charged"
    RELEASED = "released"
    RETRACTED = "retracted"
    EXTENDED = "extended"


class PumpKind(StrEnum):
    """How a pump's flow follows from its speed."""

    FIXED = "fixed"
    PRESSURE_HELD = "pressure-held"
    HAND = "hand"


class HeldBy(StrEnum):
    """What keeps a leg's fluid where it is while the pump stands."""

    NOTHING = "nothing"
    CHECK = "check"
    PILOT = "pilot"
    CONTROLLER = "controller"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reservoir:
    """A mixed vessel of variable volume.

    ``table`` gives (height in m, volume in m3) pairs, rising, where the walls are not upright;
    otherwise ``area_m2`` turns volumes into heights.
    """

    full_m3: Uncertain
    minimum_m3: Uncertain
    brim_m3: Uncertain
    heel_m3: Uncertain
    start_m3: Uncertain
    area_m2: Uncertain | None = None
    table: tuple[tuple[float, float], ...] = ()
    mark: State = State.CHARGED
    mark_k: float = 293.15
    dead_share: Uncertain = exact(0.0)
    bypass_share: Uncertain = exact(0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """The pump; a hand pump has ``hand_flow_m3_s`` in place of displacement, speed and efficiency.

    Speeds are revolutions per second. ``idle_flow_share`` is what a pressure-held pump circulates
    without demand, of its full flow.
    """

    kind: PumpKind = PumpKind.FIXED
    displacement_m3_rev: Uncertain | None = None
    efficiency: Uncertain = exact(1.0)
    speed_ratio: float = 1.0
    idle_rev_s: float = 0.0
    limit_m3_s: Uncertain | None = None
    idle_flow_share: Uncertain = exact(1.0)
    hand_flow_m3_s: Uncertain | None = None
    duty_s: float | None = None
    rest_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A part that fluid moves along. Without a bore it is taken as plug flow.

    ``volume_m3`` counts where it is given beside a bore; the bore then serves the Reynolds number
    alone. ``fittings`` places re-mix the cross-section and split the line in ``fittings + 1``
    equal segments."""

    id: str
    volume_m3: Uncertain | None = None
    bore_m: Uncertain | None = None
    length_m: Uncertain | None = None
    fittings: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A part that fluid mixes in, of constant volume; ``element`` marks a filter housing.

    ``beta_um`` and ``beta`` rate the element (ISO 16889); ``is_nominal`` marks a rating without a
    test."""

    id: str
    volume_m3: Uncertain
    element: bool = False
    element_m3: Uncertain = exact(0.0)
    beta_um: float | None = None
    beta: float | None = None
    is_nominal: bool = False
    clean_dp_pa: float | None = None
    clean_dp_flow_m3_s: float | None = None
    clean_dp_nu_m2_s: float | None = None
    bypass_pa: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A way from the reservoir through parts, in flow order, back to the reservoir.

    Parts behind ``divert_after`` stand still in an exchange. A ``dead_end`` path has no way back.
    """

    id: str
    through: tuple[str, ...]
    share: Uncertain = exact(1.0)
    divert_after: str | None = None
    opens_above_k: float | None = None
    drains_m3_s: Uncertain | None = None
    dead_end: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """A gas volume at a chamber; pressures absolute."""

    volume_m3: Uncertain
    precharge_pa: float
    working_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A dead-end branch: a line and the actuator chamber behind it.

    ``start_share`` is where it stands, 0 retracted to 1 extended. ``opposes`` names the other side
    of a double-acting actuator. ``line.id`` is the leg's id with ``.line`` behind it."""

    id: str
    at: str
    returns_to: str
    line: Line
    stroke_m3: Uncertain
    dead_m3: Uncertain
    group: str | None = None
    opposes: str | None = None
    start_share: Uncertain = exact(0.5)
    stroke_use_share: Uncertain = exact(1.0)
    bleed: bool = False
    gas: Gas | None = None
    held_by: HeldBy = HeldBy.NOTHING
    opens_with: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the machine allows; None where the file is silent and common practice steps in."""

    coldest_start_k: float | None = None
    hottest_k: float | None = None
    nu_start_max_m2_s: float | None = None
    nu_run_min_m2_s: float | None = None
    inlet_min_pa: float | None = None
    target_code: str | None = None
    seals: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """What warms and cools the machine as one lump."""

    ambient_k: float | None = None
    ua_w_k: Uncertain | None = None
    heat_capacity_j_k: Uncertain | None = None
    pump_pa: float | None = None
