"""What do a timed flow and a watched stroke say of each machine?

Leaves out how many cycles were made: they were counted, so every machine makes them
(``likelihood``)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import PumpKind
from ullage.circuit.volumes import Numbers, pump_flow_m3_s
from ullage.evidence.forward import Shown
from ullage.evidence.observation import Evidence, FlowReading, Travel
from ullage.evidence.reading import Reading

Floats = NDArray[np.float64]


def diverted_m3_s(circuit: Circuit, shown: Shown, rev_s: float | None) -> Floats:
    """Return the flow that runs out at the diverter, (members,) [m3/s]."""
    values = shown.values
    speed = circuit.pump.idle_rev_s if rev_s is None else rev_s
    flow = values.flow_at(speed)[1:]
    if circuit.pump.kind is PumpKind.PRESSURE_HELD:
        flow = flow * values.idle_flow_share[1:]
    running = [i for i, path in enumerate(circuit.paths) if not path.dead_end]
    sent = [i for i in running if circuit.paths[i].divert_after is not None]
    if not sent:
        return np.asarray(flow)
    shares = values.shares[:, 1:]
    return np.asarray(flow * shares[sent].sum(axis=0) / shares[running].sum(axis=0))


def flow_reading(index: int, flow: FlowReading, circuit: Circuit) -> Reading:
    """Return the reading of a timed container."""
    value = flow.volume_m3 / flow.duration_s
    return Reading(
        kind="flow",
        index=index,
        words="the timed flow at the diverter",
        value=value,
        u=flow.u_share * value,
        predict=lambda shown: diverted_m3_s(circuit, shown, flow.rev_s),
    )


def best_flow_ratio(circuit: Circuit, evidence: Evidence) -> float:
    """Return by what the best pump flow must be multiplied to agree with flow readings.

    Members of an ensemble share the litres of every cycle, which follow from the best flow. Prior
    and readings are weighed by their variances.
    """
    if not evidence.flows or circuit.pump.kind is PumpKind.HAND:
        return 1.0
    draws = pump_flow_m3_s(circuit, Numbers(count=512, seed=0, is_best=False))
    best = float(pump_flow_m3_s(circuit, Numbers())[0])
    weight = 1.0 / max(float(np.var(draws / best)), 1e-9)
    total, mean = weight, weight
    for flow in evidence.flows:
        expected = _expected_flow(circuit, flow)
        ratio = flow.volume_m3 / flow.duration_s / expected
        w = 1.0 / max((flow.u_share * ratio) ** 2, 1e-9)
        total += w
        mean += w * ratio
    return mean / total


def _expected_flow(circuit: Circuit, flow: FlowReading) -> float:
    """Return the flow at the diverter with the best values [m3/s]."""
    full = float(pump_flow_m3_s(circuit, Numbers(), flow.rev_s)[0])
    if circuit.pump.kind is PumpKind.PRESSURE_HELD:
        full *= circuit.pump.idle_flow_share.best
    running = [path for path in circuit.paths if not path.dead_end]
    sent = [path for path in running if path.divert_after is not None]
    all_shares = sum(path.share.best for path in running)
    return full * (sum(path.share.best for path in sent) / all_shares if sent else 1.0)


def travel_reading(index: int, travel: Travel, circuit: Circuit) -> Reading:
    """Return the reading of a leg's travel."""
    place = [leg.id for leg in circuit.legs].index(travel.leg)
    return Reading(
        kind="travel",
        index=index,
        words=f"the travel of {travel.leg}",
        value=travel.share,
        u=travel.u_share,
        predict=lambda shown: np.minimum(shown.values.leg_use_share[place, 1:], 1.0),
    )
