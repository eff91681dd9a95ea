"""How near are our formulas to reference equations of real liquids and real nitrogen?"""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import PropsSI

from tests.outside.rows import OutsideRow, label
from ullage.fluids.gas import oil_held_m3, precharge_at_pa, stored_energy_j
from ullage.fluids.heat import throttle_rise_dk
from ullage.fluids.jet import leak_jet
from ullage.fluids.pipe_flow import pressure_loss
from ullage.fluids.viscosity import walther_line

SOURCE = "CoolProp 8.0.0, reference equations of the pure fluid"
KIND = "model, reference equation fitted to measurements"
ROOM_K = 293.15
ATMOSPHERE_PA = 101325.0


def nu_m2_s(fluid: str, temperature_k: float) -> float:
    """Return the kinematic viscosity of a pure liquid at one atmosphere."""
    mu = PropsSI("V", "T", temperature_k, "P", ATMOSPHERE_PA, fluid)
    return float(mu / PropsSI("D", "T", temperature_k, "P", ATMOSPHERE_PA, fluid))


def viscosity_rows() -> list[OutsideRow]:
    """Draw our line through the values at 40 and 100 degC and read it elsewhere."""
    found = []
    for fluid in ("n-Decane", "n-Dodecane"):
        line = walther_line(
            t1_k=313.15,
            nu1_m2_s=nu_m2_s(fluid, 313.15),
            t2_k=373.15,
            nu2_m2_s=nu_m2_s(fluid, 373.15),
        )
        for t_degc, share in ((0.0, 0.02), (20.0, 0.01), (70.0, 0.005), (120.0, 0.006)):
            theirs = nu_m2_s(fluid, t_degc + 273.15) * 1e6
            found.append(
                OutsideRow(
                    subject="viscosity over temperature",
                    quantity=f"{fluid} at {t_degc:g} degC from 40 and 100 degC [mm2/s]",
                    ours=line.nu_m2_s(t_degc + 273.15) * 1e6,
                    theirs=theirs,
                    tolerance=share * theirs,
                    source=SOURCE,
                    provenance="library",
                    kind=KIND,
                    reason=f"{share:.1%}: the straight line is an approximation",
                )
            )
    return found


def slow_gas_rows() -> list[OutsideRow]:
    """Hold the isothermal gas charge against real nitrogen at 20 degC."""
    found = []
    for high_bar, share in ((100.0, 0.01), (200.0, 0.025), (350.0, 0.04)):
        dense = [PropsSI("D", "P", bar * 1e5, "T", ROOM_K, "Nitrogen") for bar in (50.0, high_bar)]
        theirs = 1.0 - dense[0] / dense[1]
        found.append(
            OutsideRow(
                subject="gas charge",
                quantity=f"oil per gas volume, 50 to {high_bar:g} bar abs, slow [-]",
                ours=oil_held_m3(
                    volume_m3=1.0, precharge_abs_pa=50e5, pressure_abs_pa=high_bar * 1e5
                ),
                theirs=theirs,
                tolerance=share * theirs,
                source=SOURCE,
                provenance="library",
                kind=KIND,
                reason=f"{share:.1%}: nitrogen is no ideal gas; ours is high, as its caveat says",
            )
        )
    return found


def quick_gas_rows() -> list[OutsideRow]:
    """Hold the adiabatic gas charge against the isentrope of real nitrogen."""
    found = []
    for low_bar, high_bar, share in ((20.0, 40.0, 0.04), (60.0, 120.0, 0.09), (60.0, 200.0, 0.1)):
        start = {"P": low_bar * 1e5, "T": ROOM_K}
        density, entropy, energy = (
            PropsSI(name, "P", start["P"], "T", start["T"], "Nitrogen") for name in "DSU"
        )
        end_density, end_energy = (
            PropsSI(name, "P", high_bar * 1e5, "S", entropy, "Nitrogen") for name in "DU"
        )
        held = 1.0 - density / end_density
        found.append(
            OutsideRow(
                subject="gas charge",
                quantity=f"oil per gas volume, {low_bar:g} to {high_bar:g} bar abs, quick [-]",
                ours=oil_held_m3(
                    volume_m3=1.0,
                    precharge_abs_pa=low_bar * 1e5,
                    pressure_abs_pa=high_bar * 1e5,
                    exponent=1.4,
                ),
                theirs=held,
                tolerance=share * held,
                source=SOURCE,
                provenance="library",
                kind=KIND,
                reason=f"{share:.0%}: real nitrogen is stiffer than exponent 1.4; ours is high",
            )
        )
        stored = (end_energy - energy) * density * 1e-3
        found.append(
            OutsideRow(
                subject="gas charge",
                quantity=f"energy of 1 l, {low_bar:g} to {high_bar:g} bar abs, quick [J]",
                ours=stored_energy_j(
                    volume_m3=1e-3, precharge_abs_pa=low_bar * 1e5, pressure_abs_pa=high_bar * 1e5
                ),
                theirs=stored,
                tolerance=share * stored,
                source=SOURCE,
                provenance="library",
                kind=KIND,
                reason=f"{share:.0%}: real nitrogen; ours is high, the safe side for energy",
            )
        )
    return found


def precharge_rows() -> list[OutsideRow]:
    """Warm nitrogen in a fixed volume."""
    found = []
    for start_bar, share in ((60.0, 0.03), (200.0, 0.07)):
        density = PropsSI("D", "P", start_bar * 1e5, "T", ROOM_K, "Nitrogen")
        theirs = PropsSI("P", "D", density, "T", 353.15, "Nitrogen") / 1e5
        found.append(
            OutsideRow(
                subject="gas charge",
                quantity=f"precharge at 80 degC of {start_bar:g} bar abs at 20 degC [bar]",
                ours=precharge_at_pa(pressure_abs_pa=start_bar * 1e5, from_k=ROOM_K, to_k=353.15)
                / 1e5,
                theirs=theirs,
                tolerance=share * theirs,
                source=SOURCE,
                provenance="library",
                kind=KIND,
                reason=f"{share:.0%}: nitrogen is no ideal gas; ours is low",
            )
        )
    return found


def liquid_rows() -> list[OutsideRow]:
    """Let a real hydrocarbon through a throttle and out of a pinhole, and water through a tube."""
    fluid, warm_k, high_pa = "n-Dodecane", 313.15, 145e5
    heat_in = PropsSI("H", "T", warm_k, "P", 101e5, fluid)
    rise_dk = PropsSI("T", "H", heat_in, "P", 1e5, fluid) - warm_k
    density, cp = (PropsSI(name, "T", warm_k, "P", 51e5, fluid) for name in "DC")
    entropy, enthalpy = (PropsSI(name, "T", warm_k, "P", high_pa, fluid) for name in "SH")
    speed_m_s = math.sqrt(2.0 * (enthalpy - PropsSI("H", "S", entropy, "P", ATMOSPHERE_PA, fluid)))
    water_rho, water_mu = (PropsSI(name, "T", ROOM_K, "P", ATMOSPHERE_PA, "Water") for name in "DV")
    bore_m, re = 0.010, 20_000.0
    flow_m3_s = re * math.pi * bore_m * water_mu / water_rho / 4.0
    speed = 4.0 * flow_m3_s / (math.pi * bore_m**2)
    blasius_pa = 0.3164 * re**-0.25 / bore_m * 0.5 * water_rho * speed**2
    return [
        OutsideRow(
            subject="heat",
            quantity="throttling n-dodecane at 40 degC by 100 bar [K]",
            ours=throttle_rise_dk(dp_pa=100e5, rho_kg_m3=density, cp_j_kg_k=cp),
            theirs=rise_dk,
            tolerance=2.0,
            source=SOURCE,
            provenance="library",
            kind=KIND,
            reason="ours leaves out expansion, a third of the effect here, a fifth for oil",
        ),
        OutsideRow(
            subject="leak jet",
            quantity="n-dodecane from 145 bar [m/s]",
            ours=leak_jet(
                dp_pa=high_pa - ATMOSPHERE_PA,
                rho_kg_m3=PropsSI("D", "T", warm_k, "P", ATMOSPHERE_PA, fluid),
            ).speed_m_s,
            theirs=speed_m_s,
            tolerance=0.01 * speed_m_s,
            source=SOURCE,
            provenance="library",
            kind=KIND,
            reason="1 %: ours takes the liquid as incompressible",
        ),
        OutsideRow(
            subject="pressure loss",
            quantity="water at 20 degC, 10 mm smooth, Reynolds number 20 000 [Pa per m]",
            ours=pressure_loss(
                flow_m3_s=flow_m3_s,
                bore_m=bore_m,
                length_m=1.0,
                nu_m2_s=water_mu / water_rho,
                rho_kg_m3=water_rho,
            ).dp_pa,
            theirs=blasius_pa,
            tolerance=0.03 * blasius_pa,
            source="law of Blasius 1913 (from memory) with water of CoolProp 8.0.0",
            provenance="memory",
            kind="model, law fitted to measurements",
            reason="3 %: two laws through scattered measurements",
        ),
    ]


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [
        *viscosity_rows(),
        *slow_gas_rows(),
        *quick_gas_rows(),
        *precharge_rows(),
        *liquid_rows(),
    ]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_coolprop(row: OutsideRow) -> None:
    """Real liquids and real nitrogen are as near to our formulas as we say."""
    row.check()
