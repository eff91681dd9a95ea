"""Reads circuit files into circuits (``circuit_json`` is the way back).

All faults of a file come at once: single values by the schema, then everything that needs two
places by ``circuit.faults``, as far as no stand-in takes part.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any

from ullage.circuit.faults import structural_faults
from ullage.circuit.network import Circuit
from ullage.circuit.parts import (
    Gas,
    Heat,
    HeldBy,
    Leg,
    Limits,
    Line,
    Node,
    Path,
    Pump,
    PumpKind,
    Reservoir,
    State,
)
from ullage.circuit.uncertain import Uncertain, exact
from ullage.errors import Fault, FileFaults, OutOfRange
from ullage.fluids.liquid import UNKNOWN_CLASS, Liquid
from ullage.formats import circuit_keys, document, liquid_keys, part_keys
from ullage.formats.reader import Reader, Values

_FULL = "reservoir.full_l"
# Where a file has no brim: the neck of a filler above the mark; common practice, no source.
BRIM_ABOVE_FULL = 1.15
# Places of names: what is wrong there is wrong whatever the numbers beside it are.
_NAMES = ("id", "group", "at", "returns_to", "opposes", "through", "divert_after")
_STAND_IN_LIQUID = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """The parts of a circuit before it is known whether they can be one."""

    reservoir: Reservoir
    pump: Pump
    lines: tuple[Line, ...]
    nodes: tuple[Node, ...]
    paths: tuple[Path, ...]
    legs: tuple[Leg, ...]
    limits: Limits


def read_circuit(path: FilePath) -> Circuit:
    """Return the circuit that a file describes.

    Raises
    ------
    FileFaults
        With everything that is wrong with the file.
    """
    return parse_circuit(document.read_text(path), path.name)


def parse_circuit(text: str, name: str) -> Circuit:
    """Return the circuit that a text describes; ``name`` is the file's name in sentences."""
    return circuit_from_table(document.raw_table(text, name), name)


def circuit_from_table(raw: Mapping[str, Any], file: str) -> Circuit:
    """Return the circuit that a table of tables describes (a circuit file as JSON, for example)."""
    reader = Reader(file=file)
    top = reader.top_level(raw, circuit_keys.CIRCUIT)
    if top is None:
        raise FileFaults(file, reader.faults)
    reservoir = _reservoir(reader, raw)
    pump = _pump(reader, raw)
    lines = tuple(_line(reader, v, v.text("id")) for v in reader.many(raw, part_keys.LINE))
    nodes = tuple(_node(v) for v in reader.many(raw, part_keys.NODE))
    paths = tuple(_path(v) for v in reader.many(raw, part_keys.PATH))
    legs = _facing([(_leg(reader, v), "start_pct" in v) for v in reader.many(raw, part_keys.LEG)])
    fluid = _liquid(reader, reader.one(raw, liquid_keys.FLUID))
    new_values = reader.one(raw, liquid_keys.NEW_FLUID)
    # What a laboratory found in the old fluid says nothing about the new one.
    new_fluid = (
        replace(fluid, particles_per_m3=None, water_wfrac=None, acid_kg_kg=None)
        if new_values is None
        else _liquid(reader, new_values)
    )
    limits = _limits(reader.one(raw, circuit_keys.LIMITS))
    heat = _heat(reader.one(raw, circuit_keys.HEAT))
    draft = _Draft(
        reservoir=reservoir,
        pump=pump,
        lines=lines,
        nodes=nodes,
        paths=paths,
        legs=legs,
        limits=limits,
    )
    faults = [*reader.faults, *_trustworthy(reader, structural_faults(draft))]
    if faults:
        raise FileFaults(file, faults)
    return Circuit(
        name=top.text("name"),
        reservoir=reservoir,
        pump=pump,
        fluid=fluid,
        new_fluid=new_fluid,
        lines=lines,
        nodes=nodes,
        paths=paths,
        legs=legs,
        limits=limits,
        heat=heat,
    )


def _trustworthy(reader: Reader, faults: tuple[Fault, ...]) -> list[Fault]:
    """Return the structural faults that no stand-in has brought about."""
    stood_in = reader.stood_in
    if any(place.endswith((".id", ".through", "]")) for place in stood_in):
        return []  # without names nobody can say what belongs to what
    kept = []
    for fault in faults:
        table, _, last = fault.key.rpartition(".")
        if fault.key in stood_in:
            continue
        if last == "share_pct" and any(place.endswith(".share_pct") for place in stood_in):
            continue
        if last not in _NAMES and reader.stands_in(table or fault.key):
            continue
        kept.append(fault)
    return kept


def _reservoir(reader: Reader, raw: Mapping[str, Any]) -> Reservoir:
    """Return the reservoir."""
    v = reader.one(raw, circuit_keys.RESERVOIR)
    if v is None:
        raise TypeError("the schema says that a circuit has a reservoir")
    full = v.uncertain("full_l")
    borrowed = "start_l" not in v or "brim_l" not in v
    if borrowed and not full.is_exact and full.shared is None:
        # What follows from the full mark must be drawn with it, or members would start overfull.
        full = replace(full, shared=_FULL)
    return Reservoir(
        full_m3=full,
        minimum_m3=v.uncertain("minimum_l"),
        brim_m3=v.uncertain("brim_l", full.scaled(BRIM_ABOVE_FULL)),
        heel_m3=v.uncertain("heel_l", exact(0.0)),
        start_m3=v.uncertain("start_l", full),
        area_m2=v.maybe_uncertain("area_cm2"),
        table=tuple((mm * 1e-3, litres * 1e-3) for mm, litres in v.pairs("table_mm_l")),
        mark=State(v.text("mark", State.CHARGED.value)),
        mark_k=v.real("mark_degc", 293.15),
        dead_share=v.uncertain("dead_pct", exact(0.0)),
        bypass_share=v.uncertain("bypass_pct", exact(0.0)),
    )


def _pump(reader: Reader, raw: Mapping[str, Any]) -> Pump:
    """Return the pump."""
    v = reader.one(raw, circuit_keys.PUMP)
    if v is None:
        raise TypeError("the schema says that a circuit has a pump")
    return Pump(
        kind=PumpKind(v.text("kind", PumpKind.FIXED.value)),
        displacement_m3_rev=v.maybe_uncertain("displacement_ml_rev"),
        efficiency=v.uncertain("efficiency_pct", exact(1.0)),
        speed_ratio=v.real("speed_ratio", 1.0),
        idle_rev_s=v.real("idle_rev_min", 0.0),
        limit_m3_s=v.maybe_uncertain("limit_l_min"),
        idle_flow_share=v.uncertain("idle_flow_pct", exact(1.0)),
        hand_flow_m3_s=v.maybe_uncertain("flow_l_min"),
        duty_s=v.maybe_real("duty_s"),
        rest_s=v.maybe_real("rest_s"),
    )


def _line(reader: Reader, v: Values, name: str) -> Line:
    """Return a line, its bore taken from outside diameter and wall where a caliper found those."""
    return Line(
        id=name,
        volume_m3=v.maybe_uncertain("volume_l"),
        bore_m=_bore(reader, v),
        length_m=v.maybe_uncertain("length_m"),
        fittings=v.whole("fittings", 0),
    )


def _bore(reader: Reader, v: Values) -> Uncertain | None:
    """Return the inside diameter, or None where the file is silent or wrong about it."""
    bore, outside, wall = (v.maybe_uncertain(key) for key in ("bore_mm", "od_mm", "wall_mm"))
    if outside is None and wall is None:
        return bore
    if bore is not None:
        reader.faults.append(
            Fault(
                key=f"{v.place}.bore_mm",
                value=bore.best * 1e3,
                problem="stands beside od_mm or wall_mm",
                allowed="either bore_mm, or od_mm and wall_mm",
                advice="keep the one that was measured",
            )
        )
        return bore
    if outside is None or wall is None:
        there, missing = ("od_mm", "wall_mm") if wall is None else ("wall_mm", "od_mm")
        key = f"{v.place}.{missing}"
        if key not in reader.stood_in:
            example = "wall_mm = 1 for steel, 3 for hose" if wall is None else "od_mm = 12"
            reader.faults.append(
                Fault(
                    key=key,
                    value=None,
                    problem=f"is missing beside {there}",
                    allowed="od_mm and wall_mm together",
                    advice=f"add {missing}, for example {example}",
                )
            )
            reader.stood_in.add(key)
        return None
    if outside.low <= 2.0 * wall.high:
        reader.faults.append(
            Fault(
                key=f"{v.place}.wall_mm",
                value=round(wall.high * 1e3, 6),
                problem=f"leaves no bore within od_mm = {outside.low * 1e3:.6g}",
                allowed="less than half of od_mm, ends of both spreads included",
                advice="check which of the two is wrong",
            )
        )
        reader.stood_in.add(f"{v.place}.wall_mm")
        return None
    return Uncertain(
        best=outside.best - 2.0 * wall.best,
        low=outside.low - 2.0 * wall.high,
        high=outside.high - 2.0 * wall.low,
        # One guess about pipes of one make: whichever of the two carries the name ties the bores.
        shared=outside.shared or wall.shared,
    )


def _node(v: Values) -> Node:
    """Return a node."""
    beta, clean = v.table("beta"), v.table("clean_dp_bar")
    return Node(
        id=v.text("id"),
        volume_m3=v.uncertain("volume_l"),
        element=v.flag("element", False),
        element_m3=v.uncertain("element_l", exact(0.0)),
        beta_um=None if beta is None else beta.real("um"),
        beta=None if beta is None else beta.real("ratio"),
        is_nominal=v.maybe_text("rating") == "nominal",
        clean_dp_pa=None if clean is None else clean.real("bar"),
        clean_dp_flow_m3_s=None if clean is None else clean.real("at_l_min"),
        clean_dp_nu_m2_s=None if clean is None else clean.real("at_mm2_s"),
        bypass_pa=v.maybe_real("bypass_bar"),
    )


def _path(v: Values) -> Path:
    """Return a path."""
    return Path(
        id=v.text("id"),
        through=v.names("through"),
        share=v.uncertain("share_pct", exact(1.0)),
        divert_after=v.maybe_text("divert_after"),
        opens_above_k=v.maybe_real("opens_above_degc"),
        drains_m3_s=v.maybe_uncertain("drains_l_min"),
        dead_end=v.flag("dead_end", False),
    )


def _leg(reader: Reader, v: Values) -> Leg:
    """Return a leg."""
    name, line, gas = v.text("id"), v.table("line"), v.table("gas")
    if line is None:
        raise TypeError("the schema says that a leg has a line")
    return Leg(
        id=name,
        at=v.text("at"),
        returns_to=v.text("returns_to", v.text("at")),
        line=_line(reader, line, f"{name}.line"),
        stroke_m3=v.uncertain("stroke_l"),
        dead_m3=v.uncertain("dead_l", exact(0.0)),
        group=v.maybe_text("group"),
        opposes=v.maybe_text("opposes"),
        start_share=v.uncertain("start_pct", exact(0.5)),
        stroke_use_share=v.uncertain("stroke_use_pct", exact(1.0)),
        bleed=v.flag("bleed", False),
        gas=None
        if gas is None
        else Gas(
            volume_m3=gas.uncertain("volume_l"),
            precharge_pa=gas.real("precharge_bar"),
            working_pa=gas.real("working_bar"),
        ),
        held_by=HeldBy(v.text("held_by", HeldBy.NOTHING.value)),
        opens_with=v.maybe_text("opens_with"),
    )


def _facing(legs: Sequence[tuple[Leg, bool]]) -> tuple[Leg, ...]:
    """Return legs, each with whether the file says where it stands; a side that it does not say it
    of stands where the other side of its actuator leaves it.
    """
    said = {leg.id: leg for leg, is_said in legs if is_said}
    named_by = {leg.opposes: leg.id for leg, _ in legs if leg.opposes is not None}
    found = []
    for leg, is_said in legs:
        other = said.get(leg.opposes or named_by.get(leg.id, ""))
        if not is_said and other is not None:
            stands = other.start_share
            rest = Uncertain(best=1.0 - stands.best, low=1.0 - stands.high, high=1.0 - stands.low)
            leg = replace(leg, start_share=rest)
        found.append(leg)
    return tuple(found)


def _liquid(reader: Reader, v: Values | None) -> Liquid:
    """Return a liquid, or a stand-in after noting why there is none."""
    if v is None or reader.stands_in(v.place):
        return _STAND_IN_LIQUID
    nu40, nu100 = v.real("nu40_mm2_s"), v.real("nu100_mm2_s")
    particles = v.reals("particles_per_ml")
    faults = []
    if nu40 <= nu100:
        faults.append(
            Fault(
                key=f"{v.place}.nu40_mm2_s",
                value=float(f"{nu40 * 1e6:.6g}"),
                problem=f"is not above nu100_mm2_s = {nu100 * 1e6:.6g}",
                allowed="thicker at 40 degC than at 100 degC",
                advice="check whether the two are swapped",
            )
        )
    if particles is not None and sorted(particles, reverse=True) != list(particles):
        faults.append(
            Fault(
                key=f"{v.place}.particles_per_ml",
                value=[float(f"{count * 1e-6:.6g}") for count in particles],
                problem="does not fall",
                allowed="counts from 4, 6 and 14 um(c) upwards; each holds the next",
                advice="check the order",
            )
        )
    reader.faults += faults
    if faults:
        return _STAND_IN_LIQUID
    try:
        return Liquid(
            nu40_m2_s=nu40,
            nu100_m2_s=nu100,
            rho15_kg_m3=v.real("rho15_kg_m3"),
            class_=v.text("class", UNKNOWN_CLASS),
            particles_per_m3=None
            if particles is None
            else (particles[0], particles[1], particles[2]),
            water_wfrac=v.maybe_real("water_mg_kg"),
            acid_kg_kg=v.maybe_real("acid_mgkoh_g"),
        )
    except OutOfRange as error:
        reader.faults.append(
            Fault(
                key=v.place,
                value=None,
                problem=f"is no liquid that can be: {error}",
                advice="check the figures against the data sheet",
            )
        )
        return _STAND_IN_LIQUID


def _limits(v: Values | None) -> Limits:
    """Return the limits; without a table there are none."""
    if v is None:
        return Limits()
    return Limits(
        coldest_start_k=v.maybe_real("coldest_start_degc"),
        hottest_k=v.maybe_real("hottest_degc"),
        nu_start_max_m2_s=v.maybe_real("nu_start_max_mm2_s"),
        nu_run_min_m2_s=v.maybe_real("nu_run_min_mm2_s"),
        inlet_min_pa=v.maybe_real("inlet_min_bara"),
        target_code=v.maybe_text("target_code"),
        seals=v.names("seals"),
    )


def _heat(v: Values | None) -> Heat:
    """Return what warms and cools the machine."""
    if v is None:
        return Heat()
    return Heat(
        ambient_k=v.maybe_real("ambient_degc"),
        ua_w_k=v.maybe_uncertain("ua_w_k"),
        heat_capacity_j_k=v.maybe_uncertain("heat_capacity_j_k"),
        pump_pa=v.maybe_real("pump_bar"),
    )
