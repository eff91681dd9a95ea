"""How long does the warm-up take, what does it buy, and how cold does the exchange make it again?

One lump of one temperature, warmed by the pump's own work. What warmth buys is told honestly: it
saves litres only where it turns a line turbulent, and in small lines it seldom does. What it always
buys is an inlet with pressure, a filter that is not by-passed, air that leaves sooner, debris that
settles sooner and a draw-off that leaves less on the walls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Line, PumpKind
from ullage.circuit.uncertain import Uncertain
from ullage.circuit.volumes import Numbers, content_m3, pump_flow_m3_s
from ullage.errors import OutOfRange
from ullage.fluids.heat import OIL_CP_J_KG_K, heat_capacity, temperature_after_k
from ullage.fluids.heat import time_to_temperature as lump_time
from ullage.fluids.pipe_flow import Regime, regime_of, reynolds
from ullage.fluids.scald import scald_time
from ullage.planning.filter_fit import filter_fit
from ullage.planning.finding import OURS, PRACTICE, Finding, Weight
from ullage.planning.outflow import diverted_share
from ullage.planning.rest import air_release, debris_settling
from ullage.planning.suction import coldest_for_inlet_k, least_inlet_pa
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true
from ullage.units.convert import (
    BAR_PA,
    MINUTE_S,
    STANDARD_ATMOSPHERE_PA,
    ZERO_CELSIUS_K,
    kelvin_from_degc,
)

#: What counts where the circuit's file is silent: common practice, no source.
USUAL_AMBIENT_K = kelvin_from_degc(15.0)
USUAL_PUMP_PA = 10.0 * BAR_PA
USUAL_LOSS_W_K_M3 = 1000.0  # one watt per kelvin and litre of fluid: small bare circuits
USUAL_METAL_KG_KG = 3.0  # metal that warms along, per mass of fluid
#: How far those figures may be off, either way, as a factor.
_USUAL_SPREAD = 2.0
#: Warm enough to run, not yet scalding in an instant: common practice, no source.
USUAL_TARGET_K = kelvin_from_degc(50.0)
_CAN_M = 0.2  # how deep a waste can stands when it is judged
_SCALDS_FROM_K = kelvin_from_degc(45.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lump:
    """What warms and cools the circuit; ``assumed`` names what its file does not say."""

    power_w: Uncertain
    ua_w_k: Uncertain
    heat_capacity_j_k: Uncertain
    ambient_k: float
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUp:
    """How long to a temperature: likeliest and between sure ends; None where it never gets there.

    ``final_k`` is where the circuit would end at best values.
    """

    time_s: float | None
    soonest_s: float | None
    latest_s: float | None
    final_k: float
    lump: Lump
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling:
    """The circuit's temperature when an exchange with cold fluid ends, and where it tends to."""

    end_k: float
    steady_k: float
    time_s: float
    findings: tuple[Finding, ...]


def lump_of(circuit: Circuit) -> Lump:
    """Return what warms and cools a circuit, with what is usual where its file is silent.

    A pump by hand makes no heat worth the name.
    """
    heat = circuit.heat
    total = float(sum(v[0] for v in content_m3(circuit, Numbers()).values()))
    rho = circuit.fluid.rho15_kg_m3
    assumed = tuple(
        name
        for name, value in (
            ("ambient_degc", heat.ambient_k),
            ("ua_w_k", heat.ua_w_k),
            ("heat_capacity_j_k", heat.heat_capacity_j_k),
            ("pump_bar", heat.pump_pa),
        )
        if value is None
    )
    dp = USUAL_PUMP_PA if heat.pump_pa is None else heat.pump_pa - STANDARD_ATMOSPHERE_PA
    dp = 0.0 if circuit.pump.kind is PumpKind.HAND else max(dp, 0.0)
    slow, best, fast = _flow_ends(circuit)
    capacity = heat_capacity(oil_m3=total, rho_kg_m3=rho, metal_kg=USUAL_METAL_KG_KG * rho * total)
    return Lump(
        power_w=Uncertain(best=dp * best, low=dp * slow, high=dp * fast),
        ua_w_k=heat.ua_w_k or _usual(USUAL_LOSS_W_K_M3 * total),
        heat_capacity_j_k=heat.heat_capacity_j_k or _usual(capacity),
        ambient_k=USUAL_AMBIENT_K if heat.ambient_k is None else heat.ambient_k,
        assumed=assumed,
    )


def warm_up(
    circuit: Circuit, *, target_k: float = USUAL_TARGET_K, start_k: float | None = None
) -> WarmUp:
    """Return how long the pump must run at idle until the circuit is warm.

    Parameters
    ----------
    circuit : Circuit
        Its pump, fluids and heat figures.
    target_k : scalar
        Temperature wanted, above the start. [K]
    start_k : scalar
        Temperature at the start; None takes the surroundings. [K]

    Returns
    -------
    found : WarmUp
        Times, the final temperature, the figures used and caveats.

    Raises
    ------
    OutOfRange
        If the target is not above the start.

    Validity
    --------
    All of the pump's work turns into heat in the fluid, nothing flows to an actuator. Legs that
    stand still stay cold.

    Source
    ------
    Lumped balance of ``fluids.heat``; figures that the circuit does not name: common practice, no
    source.
    """
    lump = lump_of(circuit)
    start = lump.ambient_k if start_k is None else start_k
    bounded("target_k", target_k, above=start, unit="K", advice="it is warm enough already")
    final_k = lump.ambient_k + lump.power_w.best / lump.ua_w_k.best
    best = _time_s(lump, start, target_k, "best", "best", "best")
    return WarmUp(
        time_s=best,
        soonest_s=_time_s(lump, start, target_k, "high", "low", "low"),
        latest_s=_time_s(lump, start, target_k, "low", "high", "high"),
        final_k=final_k,
        lump=lump,
        caveats=only_where_true(
            (
                bool(lump.assumed),
                Caveat(
                    code="heat-assumed",
                    text=f"The circuit does not say {', '.join(lump.assumed)}: what is usual was "
                    f"taken ({PRACTICE}), within a factor of two.",
                ),
            ),
            (
                best is None,
                Caveat(
                    code="never-warm",
                    text=f"At idle it ends at about {final_k - ZERO_CELSIUS_K:.0f} degC: let the "
                    "pump work against pressure, cover the reservoir, or put up with less.",
                ),
            ),
            *(((True, _scald(target_k)),) if target_k >= _SCALDS_FROM_K else ()),
            (
                circuit.pump.duty_s is not None,
                Caveat(
                    code="duty",
                    text="The power pack must rest between runs: the time counts its running only.",
                ),
            ),
        ),
    )


def exchange_temperature(
    circuit: Circuit,
    *,
    litres_m3: float,
    start_k: float,
    new_fluid_k: float | None = None,
) -> Cooling:
    """Return how cold a circuit becomes while cold fluid is poured into it.

    Parameters
    ----------
    circuit : Circuit
        Its pump, fluids and heat figures.
    litres_m3 : scalar
        How much goes to waste, above 0. [m3]
    start_k : scalar
        Temperature when the exchange begins. [K]
    new_fluid_k : scalar
        Temperature of the containers; None takes the surroundings. [K]

    Returns
    -------
    found : Cooling
        Temperature at the end, where it tends to, and what that means.

    Raises
    ------
    OutOfRange
        If the litres are not positive or the pump moves nothing.

    Validity
    --------
    One lump, pump at idle; what is not diverted keeps its heat. Metal that lags keeps the fluid
    warmer.

    Source
    ------
    Derived: C dT/dt = P - UA (T - Ta) - q rho c (T - Tn), the lumped balance with a stream;
    checked in ``tests/outside/warmth``.
    """
    bounded("litres_m3", litres_m3, above=0.0, unit="m3")
    lump = lump_of(circuit)
    fresh_k = lump.ambient_k if new_fluid_k is None else new_fluid_k
    flow = _flow_ends(circuit)[1] * diverted_share(circuit).best
    bounded("diverted flow", flow, above=0.0, unit="m3/s", advice="no path is diverted")
    stream = flow * circuit.new_fluid.density_kg_m3(fresh_k) * OIL_CP_J_KG_K
    loss = lump.ua_w_k.best + stream
    around_k = (lump.ua_w_k.best * lump.ambient_k + stream * fresh_k) / loss
    time_s = litres_m3 / flow
    end_k = temperature_after_k(
        time_s,
        power_w=lump.power_w.best,
        ua_w_k=loss,
        heat_capacity_j_k=lump.heat_capacity_j_k.best,
        ambient_k=around_k,
        start_k=start_k,
    )
    steady_k = around_k + lump.power_w.best / loss
    return Cooling(
        end_k=end_k,
        steady_k=steady_k,
        time_s=time_s,
        findings=tuple(_cooled(circuit, start_k, end_k)),
    )


def what_warmth_buys(circuit: Circuit, *, cold_k: float, warm_k: float) -> tuple[Finding, ...]:
    """Return what is better in a warm circuit than in a cold one, and what is not.

    Parameters
    ----------
    circuit : Circuit
        Its lines, filter, suction side and old fluid.
    cold_k : scalar
        Temperature without warming. [K]
    warm_k : scalar
        Temperature after it, above the cold one. [K]

    Returns
    -------
    findings : Finding
        Lines that turn turbulent, inlet, by-pass, air, debris, thermostat, draw-off.

    Raises
    ------
    OutOfRange
        If warm is not above cold.

    Validity
    --------
    Idle flow, best values.

    Source
    ------
    Regimes after ``iso-23309-2016``; each finding names its own.
    """
    bounded("warm_k", warm_k, above=cold_k, unit="K")
    return (
        *_turbulent(circuit, cold_k, warm_k),
        *_inlet(circuit, cold_k, warm_k),
        *_bypass(circuit, cold_k, warm_k),
        *_rests(circuit, cold_k, warm_k),
        *_thermostats(circuit, cold_k, warm_k),
        Finding(
            code="fuller-draw-off",
            text="Less of the old fluid stays on walls and in corners when it is drawn off warm, "
            "and actuators reach their ends more easily.",
            weight=Weight.NOTE,
            source=PRACTICE,
        ),
    )


def line_reynolds(circuit: Circuit, *, temperature_k: float) -> dict[str, float]:
    """Return the Reynolds number of every line with a bore, at idle.

    Parameters
    ----------
    circuit : Circuit
        Its pump, lines, legs and old fluid.
    temperature_k : scalar
        Temperature of the fluid. [K]

    Returns
    -------
    re : mapping
        Reynolds number by the id of the line. [-]

    Validity
    --------
    Thermostats open; the legs of one group share the flow of their path.

    Source
    ------
    ``esposito-2009``, section 4.4.
    """
    nu = circuit.fluid.nu_m2_s(temperature_k)
    return {
        line.id: reynolds(flow_m3_s=flow, bore_m=line.bore_m.best, nu_m2_s=nu)
        for line, flow in _line_flows(circuit)
        if line.bore_m is not None and flow > 0.0
    }


def _usual(best: float) -> Uncertain:
    """Return a figure of common practice with its wide ends."""
    return Uncertain(best=best, low=best / _USUAL_SPREAD, high=best * _USUAL_SPREAD)


def _flow_ends(circuit: Circuit) -> tuple[float, float, float]:
    """Return the pump's idle flow: low, best, high [m3/s]."""
    pump = circuit.pump
    best = float(pump_flow_m3_s(circuit, Numbers())[0])
    if pump.hand_flow_m3_s is not None:
        return pump.hand_flow_m3_s.low, best, pump.hand_flow_m3_s.high
    if pump.displacement_m3_rev is None:
        return best, best, best
    turns = pump.speed_ratio * pump.idle_rev_s
    low = pump.displacement_m3_rev.low * pump.efficiency.low * turns
    high = pump.displacement_m3_rev.high * pump.efficiency.high * turns
    if pump.limit_m3_s is not None:
        low, high = min(low, pump.limit_m3_s.low), min(high, pump.limit_m3_s.high)
    return low, best, high


def _time_s(
    lump: Lump, start_k: float, target_k: float, power: str, loss: str, capacity: str
) -> float | None:
    """Return the time with each figure at one of its ends; None where it is never reached."""
    watts = float(getattr(lump.power_w, power))
    ua = float(getattr(lump.ua_w_k, loss))
    if lump.ambient_k + watts / ua <= target_k:
        return None
    return lump_time(
        power_w=watts,
        ua_w_k=ua,
        heat_capacity_j_k=float(getattr(lump.heat_capacity_j_k, capacity)),
        ambient_k=lump.ambient_k,
        start_k=start_k,
        target_k=target_k,
    ).time_s


def _scald(temperature_k: float) -> Caveat:
    """Say how long skin stands the target."""
    found = scald_time(temperature_k=temperature_k)
    return Caveat(
        code="scalds",
        text=f"Fluid of {temperature_k - ZERO_CELSIUS_K:.0f} degC burns skin within "
        f"{found.second_degree_s:.0f} s: gloves, eye protection, and metal or rated containers.",
    )


def _line_flows(circuit: Circuit) -> Iterator[tuple[Line, float]]:
    """Go through all lines with the flow that they have at idle."""
    full = _flow_ends(circuit)[1]
    flowing = [path for path in circuit.paths if not path.dead_end] or list(circuit.paths)
    whole = sum(path.share.best for path in flowing) or 1.0
    for line in circuit.lines:
        mine = sum(path.share.best for path in flowing if line.id in path.through)
        yield line, full * mine / whole
    for leg in circuit.legs:
        path = circuit.path_of_node[leg.at]
        share = path.share.best / whole if path in flowing else 1.0
        mates = [other for other in circuit.legs if leg.group and other.group == leg.group]
        drivers = [other for other in mates if circuit.partner.get(leg.id) != other.id]
        yield leg.line, full * share / max(len(drivers), 1)


def _turbulent(circuit: Circuit, cold_k: float, warm_k: float) -> Iterator[Finding]:
    """Say which lines turn turbulent, and that the others need as many litres as before."""
    cold = line_reynolds(circuit, temperature_k=cold_k)
    warm = line_reynolds(circuit, temperature_k=warm_k)
    turned = [
        line
        for line in warm
        if regime_of(warm[line]) is Regime.TURBULENT
        and regime_of(cold[line]) is not Regime.TURBULENT
    ]
    if turned:
        yield Finding(
            code="lines-turn-turbulent",
            text=f"Warm, the flow turns turbulent in {', '.join(turned)}: there the old fluid "
            "leaves in fewer litres.",
            weight=Weight.FINE,
            source="iso-23309-2016",
        )
        return
    already = [line for line in cold if regime_of(cold[line]) is Regime.TURBULENT]
    best = max(warm.values(), default=0.0)
    yield Finding(
        code="no-line-turns-turbulent",
        text=(
            "Warming saves no litres here: what is turbulent warm is turbulent cold as well."
            if already
            else "Warming saves no litres here: the largest Reynolds number of any line stays at "
            f"{best:.0f}, and walls keep their film below 4000."
        ),
        weight=Weight.NOTE,
        source="iso-23309-2016",
    )


def _inlet(circuit: Circuit, cold_k: float, warm_k: float) -> Iterator[Finding]:
    """Say from which temperature on the inlet has enough pressure."""
    enough = coldest_for_inlet_k(circuit, flow_m3_s=_flow_ends(circuit)[1])
    if enough is None:
        return
    helps = cold_k < enough <= warm_k
    asks = f"{least_inlet_pa(circuit) / BAR_PA:.2f} bar absolute"
    yield Finding(
        code="inlet-needs-warmth" if helps else "inlet-either-way",
        text=f"The pump's inlet has its {asks} from {enough - ZERO_CELSIUS_K:.0f} degC on"
        + (
            ", so warming is needed before it may run faster."
            if helps
            else ", with or without warming."
        ),
        weight=Weight.FINE if helps else Weight.NOTE,
        source="esposito-2009" if circuit.limits.inlet_min_pa is not None else PRACTICE,
    )


def _bypass(circuit: Circuit, cold_k: float, warm_k: float) -> Iterator[Finding]:
    """Say whether warming shuts the filter's by-pass."""
    opens = filter_fit(circuit).bypassed_below_k
    if opens is None:
        return
    helps = cold_k < opens.high <= warm_k
    yield Finding(
        code="bypass-shuts" if helps else "bypass-either-way",
        text=f"A clean filter is by-passed below {opens.high - ZERO_CELSIUS_K:.0f} degC"
        + (": warming makes it filter." if helps else ", which warming does not change here."),
        weight=Weight.FINE if helps else Weight.NOTE,
        source="iso-3968-2017",
    )


def _rests(circuit: Circuit, cold_k: float, warm_k: float) -> Iterator[Finding]:
    """Say how much sooner air leaves and debris settles."""
    fluid = circuit.fluid
    try:
        slow, quick = (air_release(fluid, temperature_k=t).time_s for t in (cold_k, warm_k))
        sinks, drops = (
            debris_settling(fluid, temperature_k=t, depth_m=_CAN_M).time_s for t in (cold_k, warm_k)
        )
    except OutOfRange:
        return
    yield Finding(
        code="air-leaves-sooner",
        text=f"Air leaves the fluid within {quick / MINUTE_S:.0f} minutes instead of "
        f"{slow / MINUTE_S:.0f}; wait as long before a level is judged.",
        weight=Weight.FINE,
        source=f"din-51524-2, scaled with viscosity ({OURS})",
    )
    yield Finding(
        code="debris-settles-sooner",
        text=f"Visible debris settles through {_CAN_M * 1e3:.0f} mm within {drops / MINUTE_S:.0f} "
        f"minutes instead of {sinks / MINUTE_S:.0f}, as long as the can stays warm.",
        weight=Weight.FINE,
        source="stokes-1851",
    )


def _thermostats(circuit: Circuit, cold_k: float, warm_k: float) -> Iterator[Finding]:
    """Say which thermostats open on the way, or never."""
    for path in circuit.paths:
        opens = path.opens_above_k
        if opens is None:
            continue
        degc = opens - ZERO_CELSIUS_K
        if cold_k < opens <= warm_k:
            yield Finding(
                code="thermostat-opens",
                text=f"The thermostat of {path.id} opens at {degc:.0f} degC: only warm does that "
                "path flow at all.",
                weight=Weight.FINE,
                source="papers of the machine",
            )
        elif warm_k < opens:
            yield Finding(
                code="thermostat-stays-shut",
                text=f"The thermostat of {path.id} opens at {degc:.0f} degC only: that path keeps "
                "its old fluid unless it gets warmer.",
                weight=Weight.CARE,
                source="papers of the machine",
            )


def _cooled(circuit: Circuit, start_k: float, end_k: float) -> Iterator[Finding]:
    """Say what the cooling takes back."""
    if end_k >= start_k - 1.0:
        return
    yield Finding(
        code="cools-down",
        text=f"Cold fluid takes the circuit from {start_k - ZERO_CELSIUS_K:.0f} to "
        f"{end_k - ZERO_CELSIUS_K:.0f} degC by the end; keep the containers in the warm.",
        weight=Weight.NOTE,
        source=OURS,
    )
    before = line_reynolds(circuit, temperature_k=start_k)
    after = line_reynolds(circuit, temperature_k=end_k)
    lost = [
        line
        for line in after
        if regime_of(before[line]) is Regime.TURBULENT
        and regime_of(after[line]) is not Regime.TURBULENT
    ]
    if lost:
        yield Finding(
            code="turbulence-lost",
            text=f"On the way the flow in {', '.join(lost)} is no longer turbulent.",
            weight=Weight.CARE,
            source="iso-23309-2016",
        )
    for path in circuit.paths:
        opens = path.opens_above_k
        if opens is not None and end_k < opens <= start_k:
            yield Finding(
                code="thermostat-shuts",
                text=f"The thermostat of {path.id} shuts at {opens - ZERO_CELSIUS_K:.0f} degC, "
                "before the exchange is through: warm up again in between.",
                weight=Weight.CARE,
                source="papers of the machine",
            )
