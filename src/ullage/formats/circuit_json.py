"""Writes a circuit as the tables of its file, ready for JSON; reading them back is identity."""

from __future__ import annotations

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Leg, Line, Node, Path, PumpKind
from ullage.fluids.liquid import Liquid
from ullage.formats import circuit_keys, liquid_keys, part_keys
from ullage.formats.schema import Table
from ullage.formats.writer import written


def circuit_to_json(circuit: Circuit) -> dict[str, object]:
    """Return the circuit as a table of tables, in the units of a circuit file."""
    tank, pump, limits, heat = circuit.reservoir, circuit.pump, circuit.limits, circuit.heat
    by_hand = pump.kind is PumpKind.HAND
    found: dict[str, object] = {
        "format": circuit_keys.CIRCUIT.format,
        "name": circuit.name,
        "reservoir": written(
            circuit_keys.RESERVOIR,
            {
                "full_l": tank.full_m3,
                "minimum_l": tank.minimum_m3,
                "brim_l": tank.brim_m3,
                "heel_l": tank.heel_m3,
                "area_cm2": tank.area_m2,
                "table_mm_l": [[_milli(h), _milli(v)] for h, v in tank.table] or None,
                "start_l": tank.start_m3,
                "mark": tank.mark.value,
                "mark_degc": tank.mark_k,
                "dead_pct": tank.dead_share,
                "bypass_pct": tank.bypass_share,
            },
        ),
        "pump": written(
            circuit_keys.PUMP,
            {
                "kind": pump.kind.value,
                "displacement_ml_rev": pump.displacement_m3_rev,
                "efficiency_pct": None if by_hand else pump.efficiency,
                "speed_ratio": pump.speed_ratio,
                "idle_rev_min": pump.idle_rev_s or None,
                "idle_flow_pct": pump.idle_flow_share
                if pump.kind is PumpKind.PRESSURE_HELD
                else None,
                "limit_l_min": pump.limit_m3_s,
                "duty_s": pump.duty_s,
                "rest_s": pump.rest_s,
                "flow_l_min": pump.hand_flow_m3_s,
            },
        ),
        "line": [{"id": line.id, **_line(line)} for line in circuit.lines],
        "node": [_node(node) for node in circuit.nodes],
        "path": [_path(path) for path in circuit.paths],
        "leg": [_leg(leg) for leg in circuit.legs],
        "fluid": _liquid(liquid_keys.FLUID, circuit.fluid),
        "new_fluid": _liquid(liquid_keys.NEW_FLUID, circuit.new_fluid),
        "limits": written(
            circuit_keys.LIMITS,
            {
                "coldest_start_degc": limits.coldest_start_k,
                "hottest_degc": limits.hottest_k,
                "nu_start_max_mm2_s": limits.nu_start_max_m2_s,
                "nu_run_min_mm2_s": limits.nu_run_min_m2_s,
                "inlet_min_bara": limits.inlet_min_pa,
                "target_code": limits.target_code,
                "seals": list(limits.seals) or None,
            },
        ),
        "heat": written(
            circuit_keys.HEAT,
            {
                "ambient_degc": heat.ambient_k,
                "ua_w_k": heat.ua_w_k,
                "heat_capacity_j_k": heat.heat_capacity_j_k,
                "pump_bar": heat.pump_pa,
            },
        ),
    }
    return {key: value for key, value in found.items() if value not in ([], {})}


def _milli(value_si: float) -> float:
    """Return metres or cubic metres as millimetres or litres, the shortest that reads back."""
    raw = value_si * 1e3
    candidates = [float(f"{raw:.{digits}g}") for digits in (9, 12, 15, 17)]
    return next((c for c in candidates if c * 1e-3 == value_si), raw)


def _line(line: Line) -> dict[str, object]:
    """Return a line without its id."""
    return written(
        part_keys.LEG_LINE,
        {
            "bore_mm": line.bore_m,
            "length_m": line.length_m,
            "volume_l": line.volume_m3,
            "fittings": line.fittings or None,
        },
    )


def _node(node: Node) -> dict[str, object]:
    """Return a node."""
    rated = node.beta_um is not None and node.beta is not None
    return written(
        part_keys.NODE,
        {
            "id": node.id,
            "volume_l": node.volume_m3,
            "element": node.element or None,
            "element_l": node.element_m3 if node.element_m3.high > 0.0 else None,
            "beta": {"um": node.beta_um, "ratio": node.beta} if rated else None,
            "rating": "nominal" if node.is_nominal else None,
            "clean_dp_bar": written(
                part_keys.CLEAN_DP,
                {
                    "bar": node.clean_dp_pa,
                    "at_l_min": node.clean_dp_flow_m3_s,
                    "at_mm2_s": node.clean_dp_nu_m2_s,
                },
            )
            or None,
            "bypass_bar": node.bypass_pa,
        },
    )


def _path(path: Path) -> dict[str, object]:
    """Return a path."""
    return written(
        part_keys.PATH,
        {
            "id": path.id,
            "through": list(path.through),
            "share_pct": path.share,
            "divert_after": path.divert_after,
            "opens_above_degc": path.opens_above_k,
            "drains_l_min": path.drains_m3_s,
            "dead_end": path.dead_end or None,
        },
    )


def _leg(leg: Leg) -> dict[str, object]:
    """Return a leg."""
    return written(
        part_keys.LEG,
        {
            "id": leg.id,
            "group": leg.group,
            "at": leg.at,
            "returns_to": leg.returns_to,
            "opposes": leg.opposes,
            "line": _line(leg.line),
            "stroke_l": leg.stroke_m3,
            "dead_l": leg.dead_m3,
            "start_pct": leg.start_share,
            "stroke_use_pct": leg.stroke_use_share,
            "bleed": leg.bleed or None,
            "gas": None
            if leg.gas is None
            else written(
                part_keys.GAS,
                {
                    "volume_l": leg.gas.volume_m3,
                    "precharge_bar": leg.gas.precharge_pa,
                    "working_bar": leg.gas.working_pa,
                },
            ),
            "held_by": leg.held_by.value,
            "opens_with": leg.opens_with,
        },
    )


def _liquid(table: Table, liquid: Liquid) -> dict[str, object]:
    """Return a liquid."""
    key = table.by_name["particles_per_ml"]
    counts = liquid.particles_per_m3
    return written(
        table,
        {
            "nu40_mm2_s": liquid.nu40_m2_s,
            "nu100_mm2_s": liquid.nu100_m2_s,
            "rho15_kg_m3": liquid.rho15_kg_m3,
            "class": liquid.class_,
            "particles_per_ml": None if counts is None else [key.from_si(n) for n in counts],
            "water_mg_kg": liquid.water_wfrac,
            "acid_mgkoh_g": liquid.acid_kg_kg,
        },
    )
