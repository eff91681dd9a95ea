"""How much fluid each part of a circuit holds, at the best values or for every member of a set of
draws.

``Numbers`` is the bridge from uncertain circuits to arrays: it draws each number once and keeps it
by name."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Gas, Line, PumpKind
from ullage.circuit.uncertain import Uncertain, draw

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """Draws numbers by name: the best values when ``is_best``, else ``count`` members of
    ``seed``.
    """

    count: int = 1
    seed: int = 0
    is_best: bool = True

    def of(self, number: Uncertain, name: str) -> Floats:
        """Return the values of one number for all members, (count,)."""
        if self.is_best or number.is_exact:
            return np.full(self.count, number.best)
        return draw(number, name=name, seed=self.seed, count=self.count)


def bore_of(line: Line, numbers: Numbers) -> Floats | None:
    """Return the bore of a line for all members, (count,) [m], or None where only a volume is
    known.
    """
    return None if line.bore_m is None else numbers.of(line.bore_m, f"{line.id}.bore")


def line_volume_m3(line: Line, numbers: Numbers) -> Floats:
    """Return the volume of a line for all members, (count,) [m3]."""
    if line.volume_m3 is not None:
        return numbers.of(line.volume_m3, f"{line.id}.volume")
    bore = bore_of(line, numbers)
    if bore is None or line.length_m is None:
        raise ValueError(f"line {line.id} has neither a volume nor bore and length")
    return math.pi / 4.0 * bore**2 * numbers.of(line.length_m, f"{line.id}.length")


def gas_oil_m3(gas: Gas | None, name: str, numbers: Numbers) -> Floats:
    """Return the oil that a charged gas volume holds, V0 (1 - p0/p), for all members, (count,)
    [m3].

    Source
    ------
    Boyle's law at absolute pressures; slow changes, exponent 1.
    """
    if gas is None or gas.working_pa <= gas.precharge_pa:
        return np.zeros(numbers.count)
    return numbers.of(gas.volume_m3, f"{name}.gas") * (1.0 - gas.precharge_pa / gas.working_pa)


def pump_volume_m3_rev(circuit: Circuit, numbers: Numbers) -> Floats:
    """Return what the pump delivers in one turn of the engine for all members, (count,) [m3/rev];
    0 by hand.
    """
    pump = circuit.pump
    if pump.kind is PumpKind.HAND or pump.displacement_m3_rev is None:
        return np.zeros(numbers.count)
    displacement = numbers.of(pump.displacement_m3_rev, "pump.displacement")
    return displacement * numbers.of(pump.efficiency, "pump.efficiency") * pump.speed_ratio


def pump_flow_m3_s(circuit: Circuit, numbers: Numbers, rev_s: float | None = None) -> Floats:
    """Return the pump's full flow at an engine speed.

    Parameters
    ----------
    circuit : value
        The circuit whose pump runs.
    numbers : value
        Best values or draws.
    rev_s : scalar
        Speed of the engine or motor; None means idle. [rev/s]

    Returns
    -------
    flow_m3_s : (count,)
        Displacement, speed, ratio and efficiency multiplied, up to the pump's limit. [m3/s]

    Source
    ------
    Definition of volumetric efficiency.
    """
    pump = circuit.pump
    if pump.hand_flow_m3_s is not None:
        return numbers.of(pump.hand_flow_m3_s, "pump.hand-flow")
    speed = pump.idle_rev_s if rev_s is None else rev_s
    flow = pump_volume_m3_rev(circuit, numbers) * speed
    if pump.limit_m3_s is not None:
        flow = np.minimum(flow, numbers.of(pump.limit_m3_s, "pump.limit"))
    return flow


def content_m3(circuit: Circuit, numbers: Numbers) -> dict[str, Floats]:
    """Return what every part holds when a job starts, by part id, each (count,) [m3].

    Legs give two parts, ``<id>.line`` and ``<id>.chamber``; oil behind a charged gas volume counts
    with the chamber.
    """
    parts: dict[str, Floats] = {
        "reservoir": numbers.of(circuit.reservoir.start_m3, "reservoir.start")
    }
    for part in circuit.flow_order:
        if part in circuit.node_by_id:
            parts[part] = numbers.of(circuit.node_by_id[part].volume_m3, f"{part}.volume")
        else:
            parts[part] = line_volume_m3(circuit.line_by_id[part], numbers)
    for leg in circuit.legs:
        parts[f"{leg.id}.line"] = line_volume_m3(leg.line, numbers)
        stroke = numbers.of(leg.stroke_m3, f"{leg.id}.stroke")
        parts[f"{leg.id}.chamber"] = (
            numbers.of(leg.dead_m3, f"{leg.id}.dead")
            + stroke * numbers.of(leg.start_share, f"{leg.id}.start")
            + gas_oil_m3(leg.gas, leg.id, numbers)
        )
    return parts
