"""What general programs need for the same: an ODE integrator, and a program for pipe networks.

The ODE is the bench job itself with every line cut into tanks in series; the network is the bench
machine opened, its legs flowing through, because EPANET knows nothing that fills and empties. Each
gets the coarsest steps that err no more than is allowed, and so does the solver beside EPANET.
"""

from __future__ import annotations

import importlib.util
import math
import tempfile
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import csr_matrix

from bench import machines
from tests.outside.segments.reading import Phase, Reader
from tests.outside.segments.solver import Machine, extrapolated
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Line, Node
from ullage.circuit.uncertain import exact
from ullage.transport.layout import FAST, Resolution
from ullage.transport.recipe import DrawOff, Exchange, Fill, Recipe
from ullage.transport.solve import Solver

#: What of the flow each leg takes where it flows through.
LEG_SHARE = 0.1
# What joins two mixed vessels that nothing parts in the circuit: how it is named, and its size [L].
_JOINT, _JOINT_L = "joint-", 1e-4


@dataclass(frozen=True)
class Tanks:
    """What the integrator needed, and how far off both were."""

    seconds: float
    error: float
    our_error: float
    volumes: int
    evaluations: int


class TankModel:
    """The bench machine as tanks in series, phase by phase, for an ODE integrator."""

    def __init__(self, circuit: Circuit, recipe: Recipe, tank_m3: float) -> None:
        machine = Machine(
            circuit, recipe, regime="plug", lanes=1, step_m3=machines.STEP_M3, refine=1
        )
        self.volumes: list[float] = []
        self.place: dict[str, tuple[int, int]] = {}
        for name, vessel in machine.mixed.items():
            self.place[name] = (len(self.volumes), 1)
            self.volumes.append(vessel.volume_m3)
        for name, pipe in machine.pipes.items():
            count = max(1, math.ceil(pipe.volume_m3 / tank_m3))
            self.place[name] = (len(self.volumes), count)
            self.volumes += [pipe.volume_m3 / count] * count
        self.phases = [
            event
            for index in range(len(recipe.steps))
            for event in Reader(circuit, recipe).events(index)
            if isinstance(event, Phase)
        ]

    def edges(self, phase: Phase) -> list[tuple[int, int, float]]:
        """Return (from, to, flow) between tanks; -1 is outside."""
        found = []
        backwards = {
            sink
            for source, sink in phase.flows
            if source.endswith(".chamber") and sink in self.place
        }
        through: dict[str, float] = {}
        for (source, sink), flow in phase.flows.items():
            ends = []
            for name, is_source in ((source, True), (sink, False)):
                if name not in self.place:
                    ends.append(-1)
                    continue
                first, count = self.place[name]
                at_end = is_source != (name in backwards)
                ends.append(first + count - 1 if at_end else first)
            found.append((ends[0], ends[1], flow))
            through[sink] = through.get(sink, 0.0) + flow
        for name, flow in through.items():
            if name not in self.place:
                continue
            first, count = self.place[name]
            chain = range(first, first + count)
            found += [
                (a, b, flow) for a, b in pairwise(chain if name not in backwards else chain[::-1])
            ]
        return found

    def solve(self) -> tuple[float, int]:
        """Return the remaining share at the end and how often the right-hand side was asked."""
        volume = np.array(self.volumes)
        old = volume.copy()
        asked = 0
        for phase in self.phases:
            size = len(volume)
            rows, columns, flows = [], [], []
            rate = np.zeros(size)
            for source, sink, flow in self.edges(phase):
                if source >= 0:
                    rows.append(source)
                    columns.append(source)
                    flows.append(-flow)
                    rate[source] -= flow
                if sink >= 0:
                    rate[sink] += flow
                if source >= 0 and sink >= 0:
                    rows.append(sink)
                    columns.append(source)
                    flows.append(flow)
            rate[np.abs(rate) < 1e-15] = 0.0
            matrix = csr_matrix((flows, (rows, columns)), shape=(size, size))
            began = volume

            def change(
                t: float,
                amount: np.ndarray,
                matrix: Any = matrix,
                began: np.ndarray = began,
                rate: np.ndarray = rate,
            ) -> np.ndarray:
                moving: np.ndarray = matrix @ (amount / (began + rate * t))
                return moving

            found = solve_ivp(
                change, (0.0, phase.duration_s), old, method="RK45", rtol=1e-4, atol=1e-9
            )
            asked += found.nfev
            old = found.y[:, -1]
            volume = began + rate * phase.duration_s
        return float(old.sum() / volume.sum()), asked


def tanks_in_series() -> Tanks:
    """Return what the integrator takes with the fewest tanks that err no more than allowed."""
    circuit, recipe = machines.machine(), machines.work()
    true = extrapolated(circuit, recipe, regime="plug", step_m3=machines.STEP_M3).remaining_share
    ours = Solver(circuit).run(recipe, regime="plug", bracket=False)
    for tank_m3 in (100e-6, 50e-6, 25e-6, 12e-6, 6e-6, 3e-6, 1.5e-6):
        model = TankModel(circuit, recipe, tank_m3)
        before = time.thread_time()
        share, asked = model.solve()
        seconds = time.thread_time() - before
        if abs(share - true) <= machines.ALLOWED_ERROR:
            break
    return Tanks(
        seconds,
        abs(share - true),
        abs(float(ours.remaining_share[0]) - true),
        len(model.volumes),
        asked,
    )


@dataclass(frozen=True)
class Network:
    """What EPANET and the solver needed on the same open network, and how far off both were."""

    seconds: float
    error: float
    our_run_s: float
    our_members_s: float
    our_error: float


def scaled(coarser: float) -> Resolution:
    """Return the usual resolution with cells and steps that many times as large."""
    sizes = [field.name for field in fields(FAST) if field.name.endswith(("_cell_m3", "_step_m3"))]
    return replace(FAST, **{name: coarser * getattr(FAST, name) for name in sizes})


def opened() -> tuple[Circuit, Recipe]:
    """Return the bench machine as EPANET can know it, and 10 L out of it.

    The reservoir is renewed, so new fluid comes in; every leg flows through, as a branch of its
    line and its chamber at half its stroke, with a tenth of the flow.
    """
    circuit = machines.machine()
    vessel, (main,) = circuit.reservoir, circuit.paths
    lines, nodes, branches = [], [], []
    for leg in circuit.legs:
        chamber = Node(
            id=f"{leg.id}-end",
            volume_m3=exact(leg.dead_m3.best + leg.start_share.best * leg.stroke_m3.best),
        )
        upstream = main.through[: main.through.index(leg.at) + 1]
        downstream = main.through[main.through.index(leg.at) + 2 :]
        line = replace(leg.line, id=f"{leg.id}-line")
        lines.append(line)
        nodes.append(chamber)
        branches.append(
            replace(
                main,
                id=leg.id,
                through=(*upstream, line.id, chamber.id, *downstream),
                share=exact(LEG_SHARE),
            )
        )
    whole = replace(
        circuit,
        lines=(*circuit.lines, *lines),
        nodes=(*circuit.nodes, *nodes),
        paths=(replace(main, share=exact(1.0 - LEG_SHARE * len(lines))), *branches),
        legs=(),
        reservoir=replace(vessel, heel_m3=replace(vessel.heel_m3, best=0.0, low=0.0, high=0.0)),
    )
    steps = (DrawOff(leave_m3=0.0), Fill(), Exchange(litres_m3=10e-3))
    return whole, replace(machines.work(), steps=steps)


def fastest(job: Callable[[], object], times: int) -> float:
    """Return the smallest CPU time of a job."""
    job()
    best = math.inf
    for _ in range(times):
        before = time.process_time()
        job()
        best = min(best, time.process_time() - before)
    return best


def epanet() -> Network | None:
    """Return the comparison with EPANET, or None where it cannot be run.

    Timed is its toolkit alone, hydraulics and quality, on a file that is already open.
    """
    if importlib.util.find_spec("wntr") is None or importlib.util.find_spec("six") is None:
        return None
    circuit, recipe = opened()
    reader = Reader(circuit, recipe)
    litre_s = 1e-3 / reader.pump_m3_s(None)
    fine = extrapolated(circuit, recipe, regime="plug", step_m3=2e-6)
    parts = [part.id for part in (*circuit.lines, *circuit.nodes)]

    def share(old: dict[str, float]) -> float:
        """Return the old share of all parts but the reservoir."""
        held = sum(fine.fine.fluid_m3[part] for part in parts)
        return sum(old[part] for part in parts) / held

    true = share(fine.old_m3)
    for coarser in (8.0, 6.0, 4.0, 3.0, 2.0, 1.5, 1.0):
        solver = Solver(circuit, resolution=scaled(coarser))
        run = solver.run(recipe, regime="plug", bracket=False)
        ours = share({part: float(run.parts[part].old_m3[0]) for part in parts})
        if abs(ours - true) <= machines.ALLOWED_ERROR:
            break
    run_s = fastest(lambda: solver.run(recipe, regime="plug", bracket=False), 50)
    count = 2048
    many_s = fastest(
        lambda: solver.run(recipe, members=count, regime="plug", threads=1, bracket=False), 3
    )
    with warnings.catch_warnings(), tempfile.TemporaryDirectory() as folder:
        warnings.simplefilter("ignore")
        for step_s in (16, 12, 8, 6, 4, 3, 2, 1):
            seconds, theirs = _epanet_run(circuit, litre_s, step_s, Path(folder))
            if abs(theirs - true) <= machines.ALLOWED_ERROR:
                break
    return Network(
        seconds=seconds,
        error=abs(theirs - true),
        our_run_s=run_s,
        our_members_s=count / many_s,
        our_error=abs(ours - true),
    )


def _epanet_run(circuit: Circuit, litre_s: float, step_s: int, folder: Path) -> tuple[float, float]:
    """Return EPANET's seconds, and the old share that it leaves in the network after 10 L.

    A cubic metre stands for a litre; a litre takes a hundred seconds or more, so that EPANET's
    least step of a second is fine enough. Nodes are mixed tanks, each lower than what feeds it;
    valves fix the flow of every line, re-mixing places are junctions.
    """
    import wntr
    from wntr.epanet import toolkit

    from tests.outside.epanet import produce

    litre_s = max(litre_s, 100.0)
    network = wntr.network.WaterNetworkModel()
    network.add_reservoir("new", base_head=2000.0)
    network.get_node("new").initial_quality = 0.0
    network.add_junction("out", base_demand=1.0 / litre_s, elevation=0.0)
    network.get_node("out").initial_quality = 100.0
    tanks = {node.id: node.volume_m3.best * 1e3 for node in circuit.nodes}
    heads = 1900.0 - 100.0 * np.arange(len(circuit.flow_order))
    for part, head in zip(circuit.flow_order, heads, strict=True):
        if part in tanks:
            produce.tank(network, part, tanks[part], float(head))
    flows: dict[tuple[str, str, str], float] = {}
    for path in circuit.paths:
        here, line = "new", ""
        for part in (*path.through, "out"):
            if part in circuit.line_by_id:
                line = part
                continue
            edge = (here, line or f"{_JOINT}{here}", part)
            flows[edge] = flows.get(edge, 0.0) + path.share.best / litre_s
            here, line = part, ""
    lines: dict[str, float] = {}
    for (start, name, end), flow in flows.items():
        line_of = circuit.line_by_id.get(name)
        lines[name] = _JOINT_L if line_of is None else _litres(line_of)
        pieces = 1 if line_of is None else line_of.fittings + 1
        here = start
        for piece in range(pieces):
            there = end if piece == pieces - 1 else f"{name}-{piece}"
            if there != end:
                produce.junction(network, there)
            volume = lines[name] / pieces
            if piece == 0 and end != "out":
                produce.valved(network, f"{name}-p{piece}", here, there, volume, flow)
            else:
                produce.pipe(network, f"{name}-p{piece}", here, there, volume)
            here = there
    clock = network.options.time
    clock.duration = round(10 * litre_s)
    clock.hydraulic_timestep = clock.report_timestep = clock.duration
    clock.quality_timestep = step_s
    network.options.quality.parameter = "CHEMICAL"
    network.options.quality.tolerance = 0.05
    file = str(folder / "loop.inp")
    wntr.network.write_inpfile(network, file)
    run = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(folder / "check"))
    old = sum(
        size * float(run.node["quality"][name].iloc[-1]) / 100.0 for name, size in tanks.items()
    )
    for name in run.link["quality"].columns:
        pipe = network.get_link(name)
        if pipe.link_type == "Pipe" and not name.startswith(_JOINT):
            volume = math.pi / 4.0 * pipe.diameter**2 * pipe.length
            old += volume * float(run.link["quality"][name].iloc[-1]) / 100.0
    engine = toolkit.ENepanet()
    engine.ENopen(file, str(folder / "loop.rpt"), str(folder / "loop.bin"))

    def once() -> None:
        engine.ENsolveH()
        engine.ENsolveQ()

    seconds = fastest(once, 10)
    engine.ENclose()
    held = sum(tanks.values()) + sum(
        size for name, size in lines.items() if not name.startswith(_JOINT)
    )
    return seconds, old / held


def _litres(line: Line) -> float:
    """Return what a line of the bench machine holds [L]."""
    if line.bore_m is None or line.length_m is None:
        raise ValueError(f"{line.id} has no bore and length")
    return math.pi / 4.0 * line.bore_m.best**2 * line.length_m.best * 1e3
