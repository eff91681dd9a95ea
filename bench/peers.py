"""What general programs need for the same: an ODE integrator, and a program for pipe networks.

The ODE is the bench job itself with every line cut into tanks in series; the network is the bench
machine's loop alone, opened, because EPANET knows no legs. Each gets the coarsest steps that err
no more than is allowed, and so does the solver beside EPANET.
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
from ullage.transport.layout import FAST, Resolution
from ullage.transport.recipe import DrawOff, Exchange, Fill, Recipe
from ullage.transport.solve import Solver


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


def open_loop() -> tuple[Circuit, Recipe]:
    """Return the bench machine without legs behind a renewed reservoir, and 10 L out of it."""
    circuit = machines.machine()
    vessel = circuit.reservoir
    opened = replace(
        circuit,
        legs=(),
        reservoir=replace(vessel, heel_m3=replace(vessel.heel_m3, best=0.0, low=0.0, high=0.0)),
    )
    steps = (DrawOff(leave_m3=0.0), Fill(), Exchange(litres_m3=10e-3))
    return opened, replace(machines.work(), steps=steps)


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
    circuit, recipe = open_loop()
    reader = Reader(circuit, recipe)
    litre_s = 1e-3 / reader.pump_m3_s(None)
    fine = extrapolated(circuit, recipe, regime="plug", step_m3=2e-6)
    parts = circuit.paths[0].through

    def share(old: dict[str, float]) -> float:
        """Return the old share of the loop."""
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
    """Return EPANET's seconds, and the old share that it leaves in the loop after 10 L.

    A cubic metre stands for a litre; a litre takes a hundred seconds or more, so that EPANET's
    least step of a second is fine enough.
    """
    import wntr
    from wntr.epanet import toolkit

    from tests.outside.epanet import produce

    litre_s = max(litre_s, 100.0)
    flow = 1.0 / litre_s
    network = wntr.network.WaterNetworkModel()
    network.add_reservoir("new", base_head=1000.0)
    network.get_node("new").initial_quality = 0.0
    network.add_junction("out", base_demand=flow, elevation=0.0)
    network.get_node("out").initial_quality = 100.0
    volumes = {line.id: line for line in circuit.lines}
    through = circuit.paths[0].through
    here, head, tanks = "new", 900.0, {}
    lines: dict[str, float] = {}
    for place, part in enumerate(through):
        if part in volumes:
            line = volumes[part]
            assert line.bore_m is not None
            assert line.length_m is not None
            volume = math.pi / 4.0 * line.bore_m.best**2 * line.length_m.best * 1e3
            pieces = line.fittings + 1
            lines[part] = volume
            end = through[place + 1] if place + 1 < len(through) else "out"
            for piece in range(pieces):
                last = piece == pieces - 1
                there = end if last else f"{part}-{piece}"
                if last and there != "out":
                    head -= 100.0
                    size = circuit.node_by_id[there].volume_m3.best * 1e3
                    produce.tank(network, there, size, head)
                    tanks[there] = size
                elif not last:
                    produce.junction(network, there)
                if piece == 0:
                    produce.valved(network, f"{part}-p{piece}", here, there, volume / pieces, flow)
                else:
                    produce.pipe(network, f"{part}-p{piece}", here, there, volume / pieces)
                here = there
    if here != "out":
        produce.pipe(network, "end", here, "out", 1e-4)
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
        if pipe.link_type == "Pipe" and name != "end":
            volume = math.pi / 4.0 * pipe.diameter**2 * pipe.length
            old += volume * float(run.link["quality"][name].iloc[-1]) / 100.0
    engine = toolkit.ENepanet()
    engine.ENopen(file, str(folder / "loop.rpt"), str(folder / "loop.bin"))

    def once() -> None:
        engine.ENsolveH()
        engine.ENsolveQ()

    seconds = fastest(once, 10)
    engine.ENclose()
    return seconds, old / (sum(tanks.values()) + sum(lines.values()))
