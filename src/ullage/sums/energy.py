"""Sums about stored energy and heat: gas cushions, warming up, throttling."""

from __future__ import annotations

from typing import Final

from ullage.fluids.gas import precharge_at_pa
from ullage.fluids.gas_charge import gas_charge
from ullage.fluids.heat import throttle_rise_dk, time_to_temperature
from ullage.sums.bench_sum import BenchSum, Found, Output, figure
from ullage.sums.key import Key


def _pressure(name: str, meaning: str, si_name: str) -> Key:
    """Return a key for an absolute pressure."""
    return Key(name=name, meaning=meaning, above=0.0, high=5000.0, si_name=si_name)


def _temperature(name: str, meaning: str) -> Key:
    """Return a key for a temperature."""
    return Key(name=name, meaning=meaning, low=-100.0, high=400.0)


def _gas_charge(
    volume_m3: float, precharge_abs_pa: float, pressure_abs_pa: float, exponent: float
) -> Found:
    """Work out what a gas cushion holds."""
    found = gas_charge(
        volume_m3=volume_m3,
        precharge_abs_pa=precharge_abs_pa,
        pressure_abs_pa=pressure_abs_pa,
        exponent=exponent,
    )
    return Found(
        values={"oil_m3": found.oil_m3, "energy_j": found.energy_j, "gas_m3": found.gas_m3},
        caveats=found.caveats,
    )


def _precharge_at(pressure_abs_pa: float, from_k: float, to_k: float) -> Found:
    """Bring a precharge to another temperature."""
    found = precharge_at_pa(pressure_abs_pa=pressure_abs_pa, from_k=from_k, to_k=to_k)
    return Found(values={"pressure_pa": found})


def _warm_up(
    power_w: float,
    ua_w_k: float,
    heat_capacity_j_k: float,
    ambient_k: float,
    start_k: float,
    target_k: float,
) -> Found:
    """Work out how long warming takes."""
    found = time_to_temperature(
        power_w=power_w,
        ua_w_k=ua_w_k,
        heat_capacity_j_k=heat_capacity_j_k,
        ambient_k=ambient_k,
        start_k=start_k,
        target_k=target_k,
    )
    return Found(
        values={
            "time_s": found.time_s,
            "final_k": found.final_k,
            "time_constant_s": found.time_constant_s,
        },
        caveats=found.caveats,
    )


def _throttle_rise(dp_pa: float, rho_kg_m3: float, cp_j_kg_k: float) -> Found:
    """Work out what throttling warms."""
    found = throttle_rise_dk(dp_pa=dp_pa, rho_kg_m3=rho_kg_m3, cp_j_kg_k=cp_j_kg_k)
    return Found(values={"rise_k": found})


SUMS: Final = (
    BenchSum(
        name="gas-charge",
        purpose="oil and energy behind a gas cushion",
        keys=(
            Key(name="volume_l", meaning="gas volume at precharge", above=0.0, high=1e5),
            _pressure("precharge_bara", "precharge, absolute", "precharge_abs_pa"),
            _pressure("pressure_bara", "pressure now, absolute", "pressure_abs_pa"),
            Key(
                name="exponent",
                meaning="1 slow (over 3 minutes), 1.4 fast",
                low=1.0,
                high=2.0,
                default="1",
            ),
        ),
        outputs=(
            Output(name="oil_l", meaning="oil behind the gas"),
            Output(name="energy_j", meaning="energy stored above the precharge"),
            Output(name="gas_l", meaning="room that the gas has left"),
        ),
        formula="oil = V0 (1 - (p0/p)^(1/n)); energy = p0 V0/(n - 1) ((p/p0)^((n-1)/n) - 1), "
        "p0 V0 ln(p/p0) for n = 1",
        source="Esposito, Fluid Power with Applications, ch. 14; energy by the first law",
        validity="Nitrogen up to about 200 bar; gauge readings need 1.013 bar added (write psig "
        "or barg and it is done).",
        work=_gas_charge,
        say=lambda given, found: (
            f"At {given['pressure_bara']} it holds {figure(found['oil_l'])} l of oil, which "
            f"comes back when the pressure is let go, and {figure(found['energy_j'])} J."
        ),
        example=("volume_l=0.35", "precharge_bara=61", "pressure_bara=121", "exponent=1"),
    ),
    BenchSum(
        name="precharge-at",
        purpose="precharge that a gauge would show at another temperature",
        keys=(
            _pressure("pressure_bara", "precharge read, absolute", "pressure_abs_pa"),
            Key(
                name="at_degc",
                meaning="gas temperature at the reading",
                low=-100.0,
                high=400.0,
                si_name="from_k",
            ),
            _temperature("to_degc", "gas temperature wanted"),
        ),
        outputs=(Output(name="pressure_bara", meaning="precharge there, absolute"),),
        formula="p2 = p1 T2/T1, absolute pressure and temperature",
        source="Gay-Lussac's law",
        validity="No oil behind the gas; ideal gas up to about 200 bar.",
        work=_precharge_at,
        say=lambda given, found: (
            f"{given['pressure_bara']} at {given['at_degc']} is "
            f"{figure(found['pressure_bara'])} bar abs at {given['to_degc']}."
        ),
        example=("pressure_bara=61", "at_degc=20", "to_degc=80"),
    ),
    BenchSum(
        name="warm-up",
        purpose="time to warm a circuit, and where it would end",
        keys=(
            Key(name="power_kw", meaning="heat put in, 0 for cooling", low=0.0, high=1e4),
            Key(name="ua_w_k", meaning="heat lost per kelvin", above=0.0, high=1e6),
            Key(
                name="heat_capacity_j_k",
                meaning="oil (1900 J/(kg K)) and metal (460) that warm together",
                above=0.0,
                high=1e10,
            ),
            _temperature("ambient_degc", "surroundings"),
            _temperature("start_degc", "temperature at the start"),
            _temperature("target_degc", "temperature wanted"),
        ),
        outputs=(
            Output(name="time_s", meaning="time to the target"),
            Output(name="final_degc", meaning="temperature at which it would stay"),
            Output(name="time_constant_s", meaning="time for 63 % of the whole change"),
        ),
        formula="T = Ta + P/UA + (T0 - Ta - P/UA) exp(-t UA/C)",
        source="derived: one lump, solved",
        validity="One temperature for all and steady power; metal that lags lets the oil warm "
        "faster at first.",
        work=_warm_up,
        say=lambda given, found: (
            f"{given['target_degc']} is reached after {figure(found['time_s'] / 60.0)} minutes; "
            f"left alone it would end at {figure(found['final_degc'])} degC."
        ),
        example=(
            "power_kw=1.5",
            "ua_w_k=12",
            "heat_capacity_j_k=60000",
            "ambient_degc=15",
            "start_degc=15",
            "target_degc=50",
        ),
    ),
    BenchSum(
        name="throttle-rise",
        purpose="how much oil warms when its pressure is throttled away",
        keys=(
            Key(name="dp_bar", meaning="pressure lost", low=0.0, high=5000.0),
            Key(name="rho_kg_m3", meaning="density of the fluid", low=200.0, high=5000.0),
            Key(
                name="cp_j_kg_k",
                meaning="specific heat; mineral oil from memory",
                low=100.0,
                high=10000.0,
                default="1900",
            ),
        ),
        outputs=(Output(name="rise_k", meaning="rise of temperature"),),
        formula="dT = dp/(rho c)",
        source="derived: energy balance",
        validity="All the loss becomes heat in the fluid, none in the metal.",
        work=_throttle_rise,
        say=lambda given, found: (
            f"Throttling {given['dp_bar']} away warms the fluid by {figure(found['rise_k'])} K "
            "at every pass."
        ),
        example=("dp_bar=100", "rho_kg_m3=870", "cp_j_kg_k=1900"),
    ),
)
