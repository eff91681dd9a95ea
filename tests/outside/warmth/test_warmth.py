"""Do warm-up times and temperatures during an exchange solve the balance of heat?"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from scipy.integrate import solve_ivp

from tests.outside.rows import OutsideRow, label
from tests.unit.planning.machines import built_in
from ullage.circuit.network import Circuit
from ullage.planning.warmth import exchange_temperature, warm_up

# By hand from the files: idle flow [m3/s] and the share of it that is diverted.
FLOWS = {
    "levelling-van": (14e-6 * 0.88 * 750.0 / 60.0, 1.0),
    "compact-loader": (25e-6 * 0.88 * 1100.0 / 60.0, 1.0),
    "auto-gearbox": (17e-6 * 0.82 * 700.0 / 60.0, 0.55),
}
BARS = {"levelling-van": 60.0, "compact-loader": 30.0, "auto-gearbox": 5.0}


def figures(circuit: Circuit, name: str) -> tuple[float, float, float, float]:
    """Return power, loss, heat capacity and surroundings from the circuit's own numbers."""
    heat = circuit.heat
    assert heat.ua_w_k is not None
    assert heat.heat_capacity_j_k is not None
    assert heat.ambient_k is not None
    return (
        BARS[name] * 1e5 * FLOWS[name][0],
        heat.ua_w_k.best,
        heat.heat_capacity_j_k.best,
        heat.ambient_k,
    )


def integrated(
    name: str, *, start_k: float, time_s: float, stream_w_k: float, fresh_k: float
) -> float:
    """Return the temperature after a time."""
    power, loss, capacity, ambient_k = figures(built_in(name), name)

    def slope(_: float, t: Sequence[float]) -> list[float]:
        gained = power - loss * (t[0] - ambient_k) - stream_w_k * (t[0] - fresh_k)
        return [gained / capacity]

    solved = solve_ivp(slope, (0.0, time_s), [start_k], method="LSODA", rtol=1e-10, atol=1e-10)
    return float(solved.y[0, -1])


def row(quantity: str, ours: float, theirs: float) -> OutsideRow:
    """Return a row whose other side was integrated here."""
    return OutsideRow(
        subject="warmth",
        quantity=quantity,
        ours=ours,
        theirs=theirs,
        tolerance=1e-5,
        source="scipy 1.17 solve_ivp",
        provenance="library",
        kind="code, numerical solution",
        reason="tolerance of the integrator",
    )


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    found = []
    for name, target_k in (("levelling-van", 323.15), ("compact-loader", 303.15)):
        circuit = built_in(name)
        time_s = warm_up(circuit, target_k=target_k).time_s
        assert time_s is not None
        start_k = figures(circuit, name)[3]
        theirs = integrated(name, start_k=start_k, time_s=time_s, stream_w_k=0.0, fresh_k=300.0)
        found.append(row(f"{name}: temperature when we say it is warm [K]", target_k, theirs))
    for name, (flow, share) in FLOWS.items():
        circuit = built_in(name)
        ours = exchange_temperature(circuit, litres_m3=8e-3, start_k=333.15, new_fluid_k=283.15)
        stream = flow * share * circuit.new_fluid.density_kg_m3(283.15) * 1900.0
        theirs = integrated(
            name,
            start_k=333.15,
            time_s=8e-3 / (flow * share),
            stream_w_k=stream,
            fresh_k=283.15,
        )
        found.append(row(f"{name}: after 8 l of cold fluid [K]", ours.end_k, theirs))
    return found


@pytest.mark.parametrize("outside", rows(), ids=label)
def test_warmth(outside: OutsideRow) -> None:
    """Closed forms and integrator agree on whole circuits."""
    outside.check()
