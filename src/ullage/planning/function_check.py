"""What happens at the function check at raised engine speed, before anybody raises it?

After the refit everything is moved once with the engine turning at about 3000 rev/min, held there:
more flow, a deeper pull at the inlet, more drop at the filter. This file says what the circuit will
see, and from which temperature on it may be done. It replaces no eye on the level.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.parts import PumpKind
from ullage.circuit.volumes import Numbers, pump_flow_m3_s
from ullage.errors import OutOfRange
from ullage.fluids.filter_drop import clean_drop_pa
from ullage.planning.filter_fit import flow_through_m3_s
from ullage.planning.finding import PRACTICE, Finding, Verdict, Weight, verdict_of
from ullage.planning.suction import (
    coldest_for_inlet_k,
    data_sheet,
    least_inlet_pa,
    pressure_at_inlet,
)
from ullage.units.bounds import bounded
from ullage.units.convert import BAR_PA, MINUTE_S, ZERO_CELSIUS_K

#: Engine speed at which functions are checked, held: common practice, no source.
CHECK_REV_S = 3000.0 / MINUTE_S


@dataclass(frozen=True, slots=True, kw_only=True)
class FunctionCheck:
    """What the circuit sees at the raised speed; pressures None where nothing is known of them.

    ``from_k`` is the temperature from which on the inlet keeps what the pump asks for.
    """

    verdict: Verdict
    rev_s: float
    flow_m3_s: float
    inlet_pa: float | None
    filter_drop_pa: float | None
    from_k: float | None
    findings: tuple[Finding, ...]


def function_check(
    circuit: Circuit, *, temperature_k: float, rev_s: float = CHECK_REV_S
) -> FunctionCheck:
    """Return what a function check at raised engine speed does to the pump's inlet and the filter.

    Parameters
    ----------
    circuit : Circuit
        Its pump, suction line, filter and new fluid.
    temperature_k : scalar
        Temperature of the fluid. [K]
    rev_s : scalar
        Engine speed that is held, above 0. [rev/s]

    Returns
    -------
    found : FunctionCheck
        Verdict, flow, pressures and findings.

    Raises
    ------
    OutOfRange
        If the speed is not positive.

    Validity
    --------
    Steady speed, best values. A motor of one speed and a pump by hand have no raised speed: they
    are checked as they run.

    Source
    ------
    The speed: common practice, no source. Inlet after ``esposito-2009``, filter after
    ``iso-3968-2017``.
    """
    bounded("rev_s", rev_s, above=0.0, unit="rev/s")
    pump = circuit.pump
    has_one_speed = pump.kind is PumpKind.HAND or pump.duty_s is not None
    speed = pump.idle_rev_s if has_one_speed else rev_s
    flow = float(pump_flow_m3_s(circuit, Numbers(), speed)[0])
    idle = float(pump_flow_m3_s(circuit, Numbers())[0])
    inlet, warm_k = None, None
    if flow > 0.0 and pump.kind is not PumpKind.HAND:
        warm_k = coldest_for_inlet_k(circuit, flow_m3_s=flow)
        try:
            found = pressure_at_inlet(circuit, flow_m3_s=flow, temperature_k=temperature_k)
            inlet = None if found is None else found.pressure_abs_pa
        except OutOfRange:
            inlet = 0.0
    drop, opens = _filter(circuit, temperature_k, flow / idle if idle > 0.0 else 0.0)
    findings = (
        *_speed(has_one_speed, speed, flow, idle),
        *_inlet(circuit, inlet, warm_k),
        *_bypass(drop, opens),
        Finding(
            code="level-again",
            text="Read the level again afterwards: what was still empty has filled, and air comes "
            "up.",
            weight=Weight.NOTE,
            source=PRACTICE,
        ),
    )
    return FunctionCheck(
        verdict=verdict_of(findings),
        rev_s=speed,
        flow_m3_s=flow,
        inlet_pa=inlet,
        filter_drop_pa=drop,
        from_k=warm_k,
        findings=findings,
    )


def _filter(circuit: Circuit, temperature_k: float, times: float) -> tuple[float | None, float]:
    """Return drop and by-pass of the first filter with papers, at a multiple of idle flow."""
    for node in circuit.nodes:
        sheet = data_sheet(node) if node.element else None
        if sheet is None:
            continue
        drop = clean_drop_pa(
            sheet=sheet,
            flow_m3_s=times * flow_through_m3_s(circuit, node.id),
            nu_m2_s=circuit.new_fluid.nu_m2_s(temperature_k),
            rho_kg_m3=circuit.new_fluid.density_kg_m3(temperature_k),
        )
        return drop, float("inf") if node.bypass_pa is None else node.bypass_pa
    return None, float("inf")


def _speed(has_one_speed: bool, speed: float, flow: float, idle: float) -> Iterator[Finding]:
    """Say how fast it turns and what flows."""
    if has_one_speed:
        yield Finding(
            code="one-speed",
            text="There is no raised speed here: check every function as it runs.",
            weight=Weight.NOTE,
            source=PRACTICE,
        )
        return
    yield Finding(
        code="raised-speed",
        text=f"Hold the engine at about {speed * MINUTE_S:.0f} rev/min and move everything once: "
        f"{flow * 60e3:.1f} L/min instead of {idle * 60e3:.1f} at idle.",
        weight=Weight.NOTE,
        source=PRACTICE,
    )


def _inlet(circuit: Circuit, inlet_pa: float | None, warm_k: float | None) -> Iterator[Finding]:
    """Say whether the pump's inlet stands it."""
    if inlet_pa is None:
        yield Finding(
            code="inlet-unknown",
            text="Nothing is known of the suction line: listen, and stop at the first howl.",
            weight=Weight.NOTE,
            source=PRACTICE,
        )
        return
    least = least_inlet_pa(circuit)
    poor = inlet_pa < least
    tail = "" if warm_k is None else f"; from {warm_k - ZERO_CELSIUS_K:.0f} degC on it has that"
    yield Finding(
        code="inlet-too-low" if poor else "inlet-enough",
        text=f"The inlet is left {inlet_pa / BAR_PA:.2f} bar absolute, the pump asks for "
        f"{least / BAR_PA:.2f}{tail}.",
        weight=Weight.AGAINST if poor else Weight.FINE,
        source=PRACTICE if circuit.limits.inlet_min_pa is None else "papers of the machine",
    )


def _bypass(drop_pa: float | None, opens_pa: float) -> Iterator[Finding]:
    """Say whether the filter's by-pass opens."""
    if drop_pa is None:
        return
    if drop_pa > opens_pa:
        yield Finding(
            code="bypass-opens",
            text=f"The clean filter takes {drop_pa / BAR_PA:.1f} bar and is by-passed at "
            f"{opens_pa / BAR_PA:.1f}: what the check stirs up goes past it, so warm up first.",
            weight=Weight.CARE,
            source="iso-3968-2017",
        )
