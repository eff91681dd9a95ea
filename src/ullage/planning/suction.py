"""Does the pump get its fluid: how low may the reservoir stand, and how cold may the fluid be?

Two old rules on the suction side of a circuit. How deep the mouth of the suction line must lie, and
what pressure is left at the pump. Neither knows where the mouth really sits, so both give advice
and never move a limit that a person wrote down.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Line, Node, PumpKind
from ullage.errors import OutOfRange
from ullage.fluids.density import COLDEST_K
from ullage.fluids.filter_drop import FilterDrop, clean_drop_pa
from ullage.fluids.inlet import (
    STEADY_INLET_ABS_PA,
    InletPressure,
    inlet_pressure,
    submergence,
)
from ullage.fluids.pipe_flow import pressure_loss
from ullage.planning.surface import has_heights, height_m, volume_m3
from ullage.units.caveat import Caveat
from ullage.units.convert import BAR_PA, LITRE_M3, ZERO_CELSIUS_K, kelvin_from_degc

COOL_DAY_K = kelvin_from_degc(20.0)
_WARMEST_K = kelvin_from_degc(100.0)
_CLOSE_DK = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Suction:
    """The way from the reservoir to the pump, and what share of the pump's flow it carries."""

    lines: tuple[Line, ...]
    strainers: tuple[Node, ...]
    share: float


def suction_of(circuit: Circuit) -> Suction | None:
    """Return what stands before the pump: lines and strainers up to the first other node.

    None where the circuit names no such line with a bore (a pump inside its tank, a pump by hand).
    """
    if circuit.pump.kind is PumpKind.HAND:
        return None
    paths = [path for path in circuit.paths if path.through]
    if not paths:
        return None
    first = paths[0]
    lines: list[Line] = []
    strainers: list[Node] = []
    for part in first.through:
        if part in circuit.line_by_id:
            lines.append(circuit.line_by_id[part])
        elif circuit.node_by_id[part].element:
            strainers.append(circuit.node_by_id[part])
        else:
            break
    known = tuple(line for line in lines if line.bore_m is not None and line.length_m is not None)
    if not known:
        return None
    beside = sum(path.share.best for path in paths if path.through[0] == first.through[0])
    whole = sum(path.share.best for path in paths)
    return Suction(lines=known, strainers=tuple(strainers), share=beside / whole)


def pressure_at_inlet(
    circuit: Circuit, *, flow_m3_s: float, temperature_k: float, surface_above_inlet_m: float = 0.0
) -> InletPressure | None:
    """Return the pressure at the pump's inlet, or None where the circuit names no suction line.

    Parameters
    ----------
    circuit : Circuit
        Its suction line and old fluid count.
    flow_m3_s : scalar
        Flow of the pump, above 0. [m3/s]
    temperature_k : scalar
        Temperature of the fluid. [K]
    surface_above_inlet_m : scalar
        How far the surface stands above the inlet; 0 where nobody measured it. [m]

    Returns
    -------
    found : InletPressure
        Pressure and its parts; caveats where it is below what the pump asks for.

    Raises
    ------
    OutOfRange
        If nothing is left of the pressure, or a value is absurd.

    Validity
    --------
    Best values, straight line, steady flow: bends and the first strokes pull deeper.

    Source
    ------
    ``esposito-2009``, section 4.5, and Bernoulli with losses.
    """
    suction = suction_of(circuit)
    if suction is None:
        return None
    flow = flow_m3_s * suction.share
    nu = circuit.fluid.nu_m2_s(temperature_k)
    rho = circuit.fluid.density_kg_m3(temperature_k)
    loss, speed = 0.0, 0.0
    for line in suction.lines:
        if line.bore_m is None or line.length_m is None:
            continue
        found = pressure_loss(
            flow_m3_s=flow,
            bore_m=line.bore_m.best,
            length_m=line.length_m.best,
            nu_m2_s=nu,
            rho_kg_m3=rho,
        )
        loss += found.dp_pa
        speed = found.velocity_m_s
    strained = sum(
        clean_drop_pa(sheet=sheet, flow_m3_s=flow, nu_m2_s=nu, rho_kg_m3=rho)
        for sheet in (data_sheet(node) for node in suction.strainers)
        if sheet is not None
    )
    return inlet_pressure(
        rho_kg_m3=rho,
        surface_above_inlet_m=surface_above_inlet_m,
        velocity_m_s=speed,
        line_loss_pa=loss,
        strainer_loss_pa=strained,
        least_abs_pa=least_inlet_pa(circuit),
    )


def data_sheet(node: Node) -> FilterDrop | None:
    """Return the pressure drop that the papers of an element give, or None where they are silent.

    All of it counts as the element's own, which is on the safe side in the cold; the density that
    belongs to it is seldom printed and taken as 870 kg/m3 (common practice, no source).
    """
    if node.clean_dp_pa is None or not node.clean_dp_flow_m3_s or not node.clean_dp_nu_m2_s:
        return None
    return FilterDrop(
        element_pa=node.clean_dp_pa,
        flow_m3_s=node.clean_dp_flow_m3_s,
        nu_m2_s=node.clean_dp_nu_m2_s,
        rho_kg_m3=870.0,
    )


def least_inlet_pa(circuit: Circuit) -> float:
    """Return the absolute pressure that the pump asks for at its inlet [Pa], else what is usual."""
    own = circuit.limits.inlet_min_pa
    return STEADY_INLET_ABS_PA if own is None else own


def coldest_for_inlet_k(
    circuit: Circuit, *, flow_m3_s: float, surface_above_inlet_m: float = 0.0
) -> float | None:
    """Return the temperature from which on the pump's inlet has the pressure that it asks for.

    Parameters
    ----------
    circuit : Circuit
        Its suction line, old fluid and limit count.
    flow_m3_s : scalar
        Flow of the pump, above 0. [m3/s]
    surface_above_inlet_m : scalar
        How far the surface stands above the inlet. [m]

    Returns
    -------
    temperature_k : scalar
        Lowest temperature that will do, within 0.1 K; the coldest that density is known for where
        any will; None where the circuit names no suction line, or 100 degC is not enough. [K]

    Validity
    --------
    As ``pressure_at_inlet``. Far below 0 degC viscosity is drawn on from warmer points.

    Source
    ------
    Inverse of ``pressure_at_inlet`` by bisection: the pressure rises with temperature.
    """
    least = least_inlet_pa(circuit)

    def does(temperature_k: float) -> bool:
        try:
            found = pressure_at_inlet(
                circuit,
                flow_m3_s=flow_m3_s,
                temperature_k=temperature_k,
                surface_above_inlet_m=surface_above_inlet_m,
            )
        except OutOfRange:
            return False
        return found is not None and found.pressure_abs_pa >= least

    low, high = COLDEST_K, _WARMEST_K
    if suction_of(circuit) is None or not does(high):
        return None
    if does(low):
        return low
    while high - low > _CLOSE_DK:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if does(middle) else (middle, high)
    return high


def suction_advice(
    circuit: Circuit, *, flow_m3_s: float, flare_m3_s: float, temperature_k: float = COOL_DAY_K
) -> tuple[Caveat, ...]:
    """Return what the suction side says about the minimum level and about cold fluid."""
    suction = suction_of(circuit)
    if suction is None:
        return (
            Caveat(
                code="suction-unknown",
                text="The circuit names no suction line with bore and length before its pump, so "
                "nothing can be said about whirls at a low level or about pressure at the inlet.",
            ),
        )
    return (
        *_depth_advice(circuit, suction, max(flow_m3_s, flare_m3_s)),
        *_pressure_advice(circuit, max(flow_m3_s, flare_m3_s), temperature_k),
    )


def _depth_advice(circuit: Circuit, suction: Suction, flow_m3_s: float) -> tuple[Caveat, ...]:
    """Say how much fluid the mouth of the suction line wants above it."""
    bore = suction.lines[0].bore_m
    if bore is None:
        return ()
    found = submergence(flow_m3_s=flow_m3_s * suction.share, mouth_m=bore.best)
    wants = (
        f"At the flow of a start the mouth of the suction line ({bore.best * 1e3:.0f} mm) wants "
        f"{found.depth_m * 1e3:.0f} mm of fluid above it, by a rule made for large water intakes "
        "that is cautious for oil"
    )
    tank = circuit.reservoir
    if not has_heights(tank):
        return (Caveat(code="submergence", text=f"{wants}; measure it against the minimum mark."),)
    there = height_m(tank, tank.minimum_m3.best)
    if there < found.depth_m:
        deep_enough = volume_m3(tank, found.depth_m) / LITRE_M3
        return (
            Caveat(
                code="minimum-below-submergence",
                text=f"{wants}; the minimum stands only {there * 1e3:.0f} mm above the floor, so "
                f"watch for a whirl below {deep_enough:.1f} L and stop when you see one.",
            ),
        )
    room = (there - found.depth_m) * 1e3
    return (
        Caveat(
            code="submergence",
            text=f"{wants}; at the minimum it has that if it sits no more than {room:.0f} mm "
            "above the floor.",
        ),
    )


def _pressure_advice(
    circuit: Circuit, flow_m3_s: float, temperature_k: float
) -> tuple[Caveat, ...]:
    """Say whether the inlet has enough pressure today, and from which temperature on."""
    least = least_inlet_pa(circuit)
    whose = (
        "what is usual (common practice, no source)"
        if circuit.limits.inlet_min_pa is None
        else "what its papers ask for"
    )
    warm = coldest_for_inlet_k(circuit, flow_m3_s=flow_m3_s)
    asks = f"{least / BAR_PA:.2f} bar absolute, {whose}"
    if warm is None:
        return (
            Caveat(
                code="inlet-never",
                text=f"The suction line never leaves the pump {asks}, however warm the fluid: "
                "check bore and length, or start slower.",
            ),
        )
    degc = warm - ZERO_CELSIUS_K
    if warm > temperature_k:
        return (
            Caveat(
                code="inlet-too-cold",
                text=f"Below {degc:.0f} degC the start leaves the pump less than {asks}: warm the "
                "fluid first, and start as slowly as the engine lets you.",
            ),
        )
    coldest = circuit.limits.coldest_start_k
    if coldest is not None and warm > coldest:
        return (
            Caveat(
                code="inlet-cold-start",
                text=f"The inlet has {asks} from {degc:.0f} degC on, which is above the coldest "
                "start that the circuit names.",
            ),
        )
    return (Caveat(code="inlet-enough", text=f"The pump's inlet keeps {asks}, at a start too."),)
