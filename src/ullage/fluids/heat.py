"""How long does a circuit take to warm or cool, and what makes the heat?

The circuit is one lump of one temperature: heat goes in, heat leaks out in proportion to how much
warmer it is than its surroundings. Throttles and relief valves turn all of their pressure to heat.

Left out: gradients inside the circuit; cold legs lag far behind the loop.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.units.caveat import Caveat
from ullage.units.convert import ZERO_CELSIUS_K
from ullage.units.elementwise import (
    Number_co,
    bounded,
    caveats_where,
    exp,
    greatest,
    kept,
    log,
    refuse_where,
    where,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

OIL_CP_J_KG_K = 1900.0  # memory: mineral oil 1800 to 1900
STEEL_CP_J_KG_K = 460.0  # memory
HOTTEST_INLET_K = 60.0 + ZERO_CELSIUS_K  # practice about iso-4413: pump inlet no hotter


def _check_lump(power_w: Numbers, ua_w_k: Numbers, heat_capacity_j_k: Numbers) -> None:
    """Refuse what is no lump that warms or cools."""
    bounded("power_w", power_w, low=0.0, unit="W")
    bounded(
        "ua_w_k", ua_w_k, above=0.0, unit="W/K", advice="every circuit loses some heat; guess 5 W/K"
    )
    bounded("heat_capacity_j_k", heat_capacity_j_k, above=0.0, unit="J/K")


@dataclass(frozen=True, slots=True, kw_only=True)
class Warming(Generic[Number_co]):
    """When a circuit reaches a temperature, and where it would end."""

    time_s: Number_co
    final_k: Number_co
    time_constant_s: Number_co
    caveats: tuple[Caveat, ...]


@overload
def time_to_temperature(
    *,
    power_w: float,
    ua_w_k: float,
    heat_capacity_j_k: float,
    ambient_k: float,
    start_k: float,
    target_k: float,
) -> Warming: ...
@overload
def time_to_temperature(
    *,
    power_w: Numbers,
    ua_w_k: Numbers,
    heat_capacity_j_k: Numbers,
    ambient_k: Numbers,
    start_k: Numbers,
    target_k: Numbers,
) -> Warming[Array]: ...
def time_to_temperature(
    *,
    power_w: Numbers,
    ua_w_k: Numbers,
    heat_capacity_j_k: Numbers,
    ambient_k: Numbers,
    start_k: Numbers,
    target_k: Numbers,
) -> Warming[Numbers]:
    """Return how long a circuit takes from one temperature to another, warming or cooling.

    Parameters
    ----------
    power_w : scalar or (...)
        Heat put in; 0 for cooling by itself. [W]
    ua_w_k : scalar or (...)
        Heat lost per kelvin above the surroundings. [W/K]
    heat_capacity_j_k : scalar or (...)
        Oil and the metal that warms with it: see `heat_capacity`. [J/K]
    ambient_k : scalar or (...)
        Temperature of the surroundings. [K]
    start_k : scalar or (...)
        Temperature at the start. [K]
    target_k : scalar or (...)
        Temperature wanted, between the start and where the circuit would end. [K]

    Returns
    -------
    result : Warming
        Time, final temperature and time constant.

    Raises
    ------
    OutOfRange
        If a value is absurd or the target is never reached.

    Validity
    --------
    One temperature for all, steady power. Metal that lags makes the oil warm up faster at first.

    Source
    ------
    Derived: C dT/dt = P - UA (T - Ta), solved; checked against numerical integration.

    Examples
    --------
    >>> found = time_to_temperature(power_w=1500.0, ua_w_k=12.0, heat_capacity_j_k=60e3,
    ...     ambient_k=288.15, start_k=288.15, target_k=333.15)
    >>> round(found.time_s), round(found.final_k, 2)
    (2231, 413.15)
    """
    _check_lump(power_w, ua_w_k, heat_capacity_j_k)
    for name, value in (("ambient_k", ambient_k), ("start_k", start_k), ("target_k", target_k)):
        bounded(name, value, above=0.0, unit="K")
    final_k = ambient_k + power_w / ua_w_k
    time_constant_s = heat_capacity_j_k / ua_w_k
    left = _share_left(start_k=start_k, target_k=target_k, final_k=final_k)
    # What is there already takes no time; 0.0 - 0.0 is not a negative nothing.
    time_s = 0.0 - time_constant_s * log(left)
    time_s, final_k, time_constant_s = kept(time_s, final_k, time_constant_s)
    return Warming(
        time_s=time_s,
        final_k=final_k,
        time_constant_s=time_constant_s,
        caveats=caveats_where(
            (
                greatest(target_k, start_k) > HOTTEST_INLET_K,
                Caveat(
                    code="hot-for-pump-inlet",
                    text="Hotter than 60 degC, the usual limit at a pump's inlet, and hot enough "
                    "to scald in seconds.",
                ),
            ),
        ),
    )


def _share_left(*, start_k: Numbers, target_k: Numbers, final_k: Numbers) -> Numbers:
    """Return the share of the change that is left at the target; refuse what is not reached."""
    whole_dk, left_dk = final_k - start_k, final_k - target_k
    is_there = target_k == start_k
    is_steady = whole_dk == 0.0
    left = left_dk / where(is_steady, 1.0, whole_dk)
    is_reached = (left > 0.0) & (left < 1.0) & (whole_dk != 0.0)
    refuse_where(
        where(is_there | is_reached, False, True),
        "target_k",
        target_k,
        lambda start, final: (
            f"between {min(start, final):.6g} K and {max(start, final):.6g} K "
            "(start and final temperature, end not included)"
        ),
        "raise the power, cover the reservoir, or choose a milder target",
        unit="K",
        told_by=(start_k, final_k),
    )
    return where(is_there, 1.0, left)  # type: ignore[no-any-return]


@overload
def temperature_after_k(
    time_s: float,
    *,
    power_w: float,
    ua_w_k: float,
    heat_capacity_j_k: float,
    ambient_k: float,
    start_k: float,
) -> float: ...
@overload
def temperature_after_k(
    time_s: Numbers,
    *,
    power_w: Numbers,
    ua_w_k: Numbers,
    heat_capacity_j_k: Numbers,
    ambient_k: Numbers,
    start_k: Numbers,
) -> Array: ...
def temperature_after_k(
    time_s: Numbers,
    *,
    power_w: Numbers,
    ua_w_k: Numbers,
    heat_capacity_j_k: Numbers,
    ambient_k: Numbers,
    start_k: Numbers,
) -> Numbers:
    """Return the temperature of a circuit after a time, warming or cooling.

    Parameters
    ----------
    time_s : scalar or (...)
        Time since the start, 0 or more. [s]
    power_w : scalar or (...)
        Heat put in; 0 for cooling by itself. [W]
    ua_w_k : scalar or (...)
        Heat lost per kelvin above the surroundings. [W/K]
    heat_capacity_j_k : scalar or (...)
        Oil and the metal that warms with it. [J/K]
    ambient_k : scalar or (...)
        Temperature of the surroundings. [K]
    start_k : scalar or (...)
        Temperature at the start. [K]

    Returns
    -------
    temperature_k : scalar or (...)
        Temperature after the time. [K]

    Raises
    ------
    OutOfRange
        If a value is absurd.

    Validity
    --------
    As `time_to_temperature`.

    Source
    ------
    Derived: C dT/dt = P - UA (T - Ta), solved; checked against numerical integration.

    Examples
    --------
    >>> round(temperature_after_k(5000.0, power_w=0.0, ua_w_k=12.0, heat_capacity_j_k=60e3,
    ...     ambient_k=288.15, start_k=333.15), 2)
    304.7
    """
    _check_lump(power_w, ua_w_k, heat_capacity_j_k)
    bounded("time_s", time_s, low=0.0, unit="s")
    bounded("ambient_k", ambient_k, above=0.0, unit="K")
    bounded("start_k", start_k, above=0.0, unit="K")
    final_k = ambient_k + power_w / ua_w_k
    return final_k + (start_k - final_k) * exp(-time_s * ua_w_k / heat_capacity_j_k)


@overload
def heat_capacity(
    *,
    oil_m3: float,
    rho_kg_m3: float,
    metal_kg: float,
    oil_cp_j_kg_k: float = OIL_CP_J_KG_K,
    metal_cp_j_kg_k: float = STEEL_CP_J_KG_K,
) -> float: ...
@overload
def heat_capacity(
    *,
    oil_m3: Numbers,
    rho_kg_m3: Numbers,
    metal_kg: Numbers,
    oil_cp_j_kg_k: Numbers = OIL_CP_J_KG_K,
    metal_cp_j_kg_k: Numbers = STEEL_CP_J_KG_K,
) -> Array: ...
def heat_capacity(
    *,
    oil_m3: Numbers,
    rho_kg_m3: Numbers,
    metal_kg: Numbers,
    oil_cp_j_kg_k: Numbers = OIL_CP_J_KG_K,
    metal_cp_j_kg_k: Numbers = STEEL_CP_J_KG_K,
) -> Numbers:
    """Return the heat capacity of oil and of the metal that warms with it.

    Parameters
    ----------
    oil_m3 : scalar or (...)
        Volume of oil. [m3]
    rho_kg_m3 : scalar or (...)
        Density of the oil. [kg/m3]
    metal_kg : scalar or (...)
        Mass of metal that follows the oil's temperature, 0 or more. [kg]
    oil_cp_j_kg_k : scalar or (...)
        Specific heat of the oil. [J/(kg K)]
    metal_cp_j_kg_k : scalar or (...)
        Specific heat of the metal. [J/(kg K)]

    Returns
    -------
    capacity_j_k : scalar or (...)
        Heat per kelvin. [J/K]

    Raises
    ------
    OutOfRange
        If a value is negative or the oil amounts to nothing.

    Validity
    --------
    Which metal follows is a judgement: reservoir and lines do, frames and cylinders hardly.

    Source
    ------
    Sum of heat capacities; default values from memory.

    Examples
    --------
    >>> round(heat_capacity(oil_m3=0.012, rho_kg_m3=860.0, metal_kg=40.0))
    38008
    """
    bounded("oil_m3", oil_m3, above=0.0, unit="m3")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("metal_kg", metal_kg, low=0.0, unit="kg")
    bounded("oil_cp_j_kg_k", oil_cp_j_kg_k, above=0.0, unit="J/(kg K)")
    bounded("metal_cp_j_kg_k", metal_cp_j_kg_k, above=0.0, unit="J/(kg K)")
    return oil_m3 * rho_kg_m3 * oil_cp_j_kg_k + metal_kg * metal_cp_j_kg_k


@overload
def throttle_rise_dk(
    *, dp_pa: float, rho_kg_m3: float, cp_j_kg_k: float = OIL_CP_J_KG_K
) -> float: ...
@overload
def throttle_rise_dk(
    *, dp_pa: Numbers, rho_kg_m3: Numbers, cp_j_kg_k: Numbers = OIL_CP_J_KG_K
) -> Array: ...
def throttle_rise_dk(
    *, dp_pa: Numbers, rho_kg_m3: Numbers, cp_j_kg_k: Numbers = OIL_CP_J_KG_K
) -> Numbers:
    """Return the warming of fluid that loses pressure without doing work.

    Parameters
    ----------
    dp_pa : scalar or (...)
        Pressure lost, 0 or more. [Pa]
    rho_kg_m3 : scalar or (...)
        Density. [kg/m3]
    cp_j_kg_k : scalar or (...)
        Specific heat. [J/(kg K)]

    Returns
    -------
    rise_dk : scalar or (...)
        Rise of temperature. [K]

    Raises
    ------
    OutOfRange
        If a value is negative or density or specific heat are not positive.

    Validity
    --------
    All heat stays in the fluid. The liquid's own expansion is left out: it makes the true rise
    about a fifth smaller at room temperature.

    Source
    ------
    Balance of energy.

    Examples
    --------
    >>> round(throttle_rise_dk(dp_pa=100e5, rho_kg_m3=870.0), 2)
    6.05
    """
    bounded("dp_pa", dp_pa, low=0.0, unit="Pa")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("cp_j_kg_k", cp_j_kg_k, above=0.0, unit="J/(kg K)")
    return dp_pa / (rho_kg_m3 * cp_j_kg_k)


@overload
def hydraulic_power_w(*, dp_pa: float, flow_m3_s: float) -> float: ...
@overload
def hydraulic_power_w(*, dp_pa: Numbers, flow_m3_s: Numbers) -> Array: ...
def hydraulic_power_w(*, dp_pa: Numbers, flow_m3_s: Numbers) -> Numbers:
    """Return the power in a flow under pressure; across a relief valve all of it turns into heat.

    Parameters
    ----------
    dp_pa : scalar or (...)
        Pressure difference, 0 or more. [Pa]
    flow_m3_s : scalar or (...)
        Flow, 0 or more. [m3/s]

    Returns
    -------
    power_w : scalar or (...)
        Pressure times flow. [W]

    Raises
    ------
    OutOfRange
        If a value is negative.

    Validity
    --------
    Exact for an incompressible liquid.

    Source
    ------
    ``esposito-2009``, chapter 3.

    Examples
    --------
    >>> round(hydraulic_power_w(dp_pa=70e5, flow_m3_s=0.00126))
    8820
    """
    bounded("dp_pa", dp_pa, low=0.0, unit="Pa")
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    return dp_pa * flow_m3_s


@overload
def pump_heat_w(*, dp_pa: float, flow_m3_s: float, efficiency: float) -> float: ...
@overload
def pump_heat_w(*, dp_pa: Numbers, flow_m3_s: Numbers, efficiency: Numbers) -> Array: ...
def pump_heat_w(*, dp_pa: Numbers, flow_m3_s: Numbers, efficiency: Numbers) -> Numbers:
    """Return the heat that a pump makes beside the hydraulic power it delivers.

    Parameters
    ----------
    dp_pa : scalar or (...)
        Pressure rise, 0 or more. [Pa]
    flow_m3_s : scalar or (...)
        Flow delivered, 0 or more. [m3/s]
    efficiency : scalar or (...)
        Overall efficiency: hydraulic power over shaft power, above 0 to 1. [-]

    Returns
    -------
    power_w : scalar or (...)
        Shaft power less hydraulic power. [W]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    All loss warms the oil. Flow is the flow delivered, not the theoretical one.

    Source
    ------
    ``esposito-2009``, example 11-4.

    Examples
    --------
    >>> round(pump_heat_w(dp_pa=70e5, flow_m3_s=0.00126, efficiency=0.85))
    1556
    """
    bounded("efficiency", efficiency, above=0.0, high=1.0, advice="85 % is 0.85")
    return hydraulic_power_w(dp_pa=dp_pa, flow_m3_s=flow_m3_s) * (1.0 / efficiency - 1.0)


@overload
def stream_heat_w(
    *, flow_m3_s: float, rho_kg_m3: float, rise_dk: float, cp_j_kg_k: float = OIL_CP_J_KG_K
) -> float: ...
@overload
def stream_heat_w(
    *, flow_m3_s: Numbers, rho_kg_m3: Numbers, rise_dk: Numbers, cp_j_kg_k: Numbers = OIL_CP_J_KG_K
) -> Array: ...
def stream_heat_w(
    *, flow_m3_s: Numbers, rho_kg_m3: Numbers, rise_dk: Numbers, cp_j_kg_k: Numbers = OIL_CP_J_KG_K
) -> Numbers:
    """Return the heat that a stream of fluid carries away.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Flow, 0 or more. [m3/s]
    rho_kg_m3 : scalar or (...)
        Density. [kg/m3]
    rise_dk : scalar or (...)
        By how much the stream leaves warmer than it came; negative where it brings heat. [K]
    cp_j_kg_k : scalar or (...)
        Specific heat. [J/(kg K)]

    Returns
    -------
    power_w : scalar or (...)
        Heat per second. [W]

    Raises
    ------
    OutOfRange
        If the flow is negative or density or specific heat are not positive.

    Validity
    --------
    No change of phase.

    Source
    ------
    Balance of energy.

    Examples
    --------
    >>> round(stream_heat_w(flow_m3_s=1e-3 / 60, rho_kg_m3=870.0, rise_dk=1.0), 2)
    27.55
    """
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("rise_dk", rise_dk, unit="K")
    bounded("cp_j_kg_k", cp_j_kg_k, above=0.0, unit="J/(kg K)")
    return flow_m3_s * rho_kg_m3 * cp_j_kg_k * rise_dk
