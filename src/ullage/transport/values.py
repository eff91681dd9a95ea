"""The numbers of a circuit as arrays over members: column 0 holds the best values, the rest are
draws.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.uncertain import Uncertain, exact
from ullage.circuit.volumes import Numbers, gas_oil_m3, line_volume_m3, pump_volume_m3_rev
from ullage.transport import structure

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """Everything a run needs of a circuit's numbers; the last axis is columns (best, then members).

    Rows follow the circuit: ``parts_m3`` its flow order, ``leg_*`` its legs, ``shares`` its paths.
    """

    full_m3: Floats
    minimum_m3: Floats
    brim_m3: Floats
    heel_m3: Floats
    start_m3: Floats
    dead_m3: Floats
    bypass_share: Floats
    shares: Floats
    drains_m3_s: Floats
    parts_m3: Floats
    leg_line_m3: Floats
    leg_stroke_m3: Floats
    leg_dead_m3: Floats
    leg_gas_m3: Floats
    leg_start_share: Floats
    leg_use_share: Floats
    idle_flow_share: Floats
    pump_m3_rev: Floats
    hand_flow_m3_s: Floats
    pump_limit_m3_s: Floats

    def columns(self, index: NDArray[np.intp]) -> Values:
        """Return the same numbers for some columns only."""
        return Values(**{f.name: getattr(self, f.name)[..., index] for f in fields(self)})

    def flow_at(self, speed: float) -> Floats:
        """Return the pump's full flow [m3/s] at an engine speed [1/s], (columns,)."""
        return np.minimum(self.pump_m3_rev * speed, self.pump_limit_m3_s) + self.hand_flow_m3_s

    @property
    def count(self) -> int:
        """Return the number of columns."""
        return int(self.full_m3.shape[-1])


def values_of(
    circuit: Circuit, *, members: int = 0, seed: int = 0, drawn: Numbers | None = None
) -> Values:
    """Return best values in column 0 and ``members`` draws behind it; draws include the
    structure's. ``drawn`` stands in for the draws of ``seed``, as many as it counts.
    """
    if drawn is None:
        drawn = Numbers(count=members, seed=seed, is_best=False)
    members = drawn.count
    numbers = (Numbers(), drawn) if members else (Numbers(),)

    def of(number: Uncertain, name: str) -> Floats:
        return np.concatenate([n.of(number, name) for n in numbers])

    def drawn_share(number: Uncertain, prior: Uncertain, name: str) -> Floats:
        """Return a stated share, or the prior's draw where the file says zero exactly."""
        silent = number.is_exact and number.best == 0.0
        return np.concatenate(
            [n.of(prior if silent and not n.is_best else number, name) for n in numbers]
        )

    def rows(each: list[Floats]) -> Floats:
        return np.array(each) if each else np.zeros((0, 1 + members))

    r = circuit.reservoir
    full = of(r.full_m3, "reservoir.full")
    lines, nodes, legs = circuit.line_by_id, circuit.node_by_id, circuit.legs
    use = [of(leg.stroke_use_share, f"{leg.id}.use") for leg in legs]
    really = (
        np.concatenate([np.ones(1), drawn.of(structure.STROKE_REALLY_USED, "structure.stroke")])
        if members
        else np.ones(1)
    )
    return Values(
        full_m3=full,
        minimum_m3=of(r.minimum_m3, "reservoir.minimum"),
        brim_m3=of(r.brim_m3, "reservoir.brim"),
        heel_m3=of(r.heel_m3, "reservoir.heel"),
        start_m3=of(r.start_m3, "reservoir.full" if r.start_m3 is r.full_m3 else "reservoir.start"),
        dead_m3=full * drawn_share(r.dead_share, structure.RESERVOIR_SHARE, "reservoir.dead"),
        bypass_share=drawn_share(r.bypass_share, structure.RESERVOIR_SHARE, "reservoir.bypass"),
        shares=rows([of(path.share, f"{path.id}.share") for path in circuit.paths]),
        drains_m3_s=rows(
            [
                np.zeros(1 + members)
                if path.drains_m3_s is None
                else of(path.drains_m3_s, f"{path.id}.drains")
                for path in circuit.paths
            ]
        ),
        parts_m3=rows(
            [
                of(nodes[part].volume_m3, f"{part}.volume")
                if part in nodes
                else np.concatenate([line_volume_m3(lines[part], n) for n in numbers])
                for part in circuit.flow_order
            ]
        ),
        leg_line_m3=rows(
            [np.concatenate([line_volume_m3(leg.line, n) for n in numbers]) for leg in legs]
        ),
        leg_stroke_m3=rows([of(leg.stroke_m3, f"{leg.id}.stroke") for leg in legs]),
        leg_dead_m3=rows([of(leg.dead_m3, f"{leg.id}.dead") for leg in legs]),
        leg_gas_m3=rows(
            [np.concatenate([gas_oil_m3(leg.gas, leg.id, n) for n in numbers]) for leg in legs]
        ),
        leg_start_share=rows([of(leg.start_share, f"{leg.id}.start") for leg in legs]),
        leg_use_share=rows([share * really for share in use]),
        idle_flow_share=of(circuit.pump.idle_flow_share, "pump.idle-flow"),
        pump_m3_rev=np.concatenate([pump_volume_m3_rev(circuit, n) for n in numbers]),
        hand_flow_m3_s=of(circuit.pump.hand_flow_m3_s or exact(0.0), "pump.hand-flow"),
        pump_limit_m3_s=np.full(1 + members, np.inf)
        if circuit.pump.limit_m3_s is None
        else of(circuit.pump.limit_m3_s, "pump.limit"),
    )
