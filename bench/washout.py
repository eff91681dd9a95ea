"""How fast is the washout solver, how far off, and how does it compare? ``python -m bench.washout``

Prints ours, the goal or theirs, and the ratio, all measured in the same run, with the load of the
machine beside it. Times are CPU seconds of one core, linear algebra held to one thread.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from bench import machines, peers
from ullage.transport.recipe import Exchange
from ullage.transport.solve import Solver

FIRST_RESULT = """
from pathlib import Path
from ullage.formats.circuit_file import read_circuit
from ullage.formats.recipe_file import read_recipe
from ullage.transport.solve import simulate
run = simulate(read_circuit(Path("bench/four-corner.circuit.toml")),
               read_recipe(Path("bench/four-corner.recipe.toml")))
print(run.remaining_share[0])
"""
ROOT = machines.HERE.parent
ENSEMBLE = 4096
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def cpu_s(job: Callable[[], object], *, times: int) -> float:
    """Return the smallest CPU time of a job, all threads of this process together."""
    job()
    best = float("inf")
    for _ in range(times):
        before = time.process_time()
        job()
        best = min(best, time.process_time() - before)
    return best


def thread_s(job: Callable[[], object], *, times: int) -> float:
    """Return the median CPU time of a job on this thread."""
    job()
    found = []
    for _ in range(times):
        before = time.thread_time()
        job()
        found.append(time.thread_time() - before)
    return statistics.median(found)


def process_s(command: list[str], *, times: int = 5) -> tuple[float, float]:
    """Return the median wall time and CPU time of a process, from its start to its end.

    Byte code is kept between starts, as it is for anybody who has started the program before.
    """
    walls, works = [], []
    with tempfile.TemporaryDirectory() as folder:
        around = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        around["PYTHONPYCACHEPREFIX"] = folder
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT, env=around)
        for _ in range(times):
            before, used = time.perf_counter(), os.times()
            subprocess.run(command, check=True, capture_output=True, cwd=ROOT, env=around)
            walls.append(time.perf_counter() - before)
            works.append(sum(os.times()[2:4]) - sum(used[2:4]))
    return statistics.median(walls), statistics.median(works)


def show(what: str, ours: str, theirs: str, ratio: str) -> None:
    """Print one line of the table."""
    print(f"{what:<58} {ours:>14} {theirs:>14} {ratio:>10}")


def against_goal(what: str, ours: float, goal: float, unit: str, *, more_is_better: bool) -> None:
    """Print a figure beside its goal; the ratio is above one where the goal is reached."""
    ratio = ours / goal if more_is_better else goal / ours
    show(what, f"{ours:.4g} {unit}", f"{goal:g} {unit}", f"{ratio:.2f}x")


def error_of(solver: Solver, regime: str) -> float:
    """Return the 95th percentile over members of the error of the remaining share."""
    run = solver.run(
        machines.work(),
        members=machines.DRAWS,
        seed=machines.SEED,
        regime=regime,
        threads=1,
        bracket=False,
    )
    wrong = np.abs(run.remaining_share - machines.reference(regime).share)
    return float(np.quantile(wrong, 0.95))


def ensembles(solver: Solver) -> dict[str, float]:
    """Print error and members a second in both regimes; return the latter."""
    speeds = {}
    for regime, goal in (("plug", 15_000.0), ("laminar", 5_000.0)):
        gap = machines.reference(regime).gap
        against_goal(
            f"{regime}: error, 95th percentile of {machines.DRAWS} (reference +-{gap:.0e})",
            error_of(solver, regime),
            machines.ALLOWED_ERROR,
            "",
            more_is_better=False,
        )
        recipe = machines.work()
        job = partial(solver.run, recipe, members=ENSEMBLE, regime=regime, threads=1, bracket=False)
        seconds = cpu_s(job, times=3)
        speeds[regime] = ENSEMBLE / seconds
        against_goal(
            f"{regime}: members a second and core, {ENSEMBLE} members",
            speeds[regime],
            goal,
            "/s",
            more_is_better=True,
        )
        print(f"    kernel steps {solver.run(recipe, regime=regime, bracket=False).kernel_steps}")
    return speeds


def single_runs(solver: Solver) -> float:
    """Print what one run costs; return its seconds."""
    recipe = machines.work()
    again = thread_s(lambda: solver.run(recipe, regime="plug", bracket=False), times=100)
    litres = iter(np.linspace(5e-3, 12e-3, 200))

    def another() -> None:
        steps = tuple(
            replace(step, litres_m3=float(next(litres))) if isinstance(step, Exchange) else step
            for step in recipe.steps
        )
        solver.run(replace(recipe, steps=steps), regime="plug", bracket=False)

    new = thread_s(another, times=100)
    against_goal(
        "one run, warm, a recipe seen before", again * 1e3, 1.0, "ms", more_is_better=False
    )
    against_goal("one run, warm, a new recipe", new * 1e3, 1.0, "ms", more_is_better=False)
    run = solver.run(recipe, regime="laminar", bracket=False)
    lost = max(abs(run.balance.old_error_m3), abs(run.balance.volume_error_m3))
    against_goal(
        "conservation, error over content",
        max(lost / run.balance.old_before_m3, 1e-18),
        1e-12,
        "",
        more_is_better=False,
    )
    return again


def starts() -> None:
    """Print how long a process takes to its first answer, and to its help."""
    for what, goal, command in (
        ("process start to first result", 0.6, ["-c", FIRST_RESULT]),
        ("--help", 0.1, ["-m", "ullage", "--help"]),
    ):
        wall, work = process_s([sys.executable, *command])
        against_goal(f"{what} (CPU)", work, goal, "s", more_is_better=False)
        print(f"    wall {wall:.2f} s")


def others(run_s: float, members_s: float) -> None:
    """Print what general programs take for the same, at an error no larger than allowed."""
    tanks = peers.tanks_in_series()
    show(
        f"one run: scipy RK45, {tanks.volumes} tanks, error {tanks.error:.0e}",
        f"{run_s * 1e3:.3g} ms",
        f"{tanks.seconds * 1e3:.4g} ms",
        f"{tanks.seconds / run_s:.0f}x",
    )
    print(f"    right-hand sides {tanks.evaluations}; ours errs by {tanks.our_error:.0e} here")
    network = peers.epanet()
    if network is None:
        print("EPANET: wntr is not installed")
        return
    show(
        f"open network: EPANET 2.2, one run, error {network.error:.0e}",
        f"{network.our_run_s * 1e3:.3g} ms",
        f"{network.seconds * 1e3:.4g} ms",
        f"{network.seconds / network.our_run_s:.1f}x",
    )
    show(
        "open network: EPANET 2.2, ensemble, a member",
        f"{1e6 / network.our_members_s:.3g} us",
        f"{network.seconds * 1e6:.4g} us",
        f"{network.seconds * network.our_members_s:.0f}x",
    )
    print(
        f"    our error there {network.our_error:.0e}; four corners run {members_s:.0f} members/s"
    )


def main(arguments: list[str] | None = None) -> int:
    """Run the bench, or make the reference anew."""
    parser = argparse.ArgumentParser(prog="python -m bench.washout", description=__doc__)
    parser.add_argument("--reference", action="store_true", help="make reference.csv anew")
    parser.add_argument("--no-peers", action="store_true", help="leave the other programs out")
    parser.add_argument(
        "--scale", type=float, default=1.0, help="coarsen (>1) or refine (<1) the cells and steps"
    )
    options = parser.parse_args(arguments)
    if any(os.environ.get(name) != "1" for name in ONE_THREAD):
        # Linear algebra reads these once, when it is loaded: start again with them set.
        os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
        os.execv(sys.executable, [sys.executable, "-m", "bench.washout", *sys.argv[1:]])
    if options.reference:
        for regime, i in machines.make_reference():
            print(f"\r{regime} {i + 1}/{machines.DRAWS}", end="", file=sys.stderr)
        return 0
    load = os.getloadavg()
    print(f"{os.cpu_count()} cores, load {load[0]:.2f} {load[1]:.2f} {load[2]:.2f}")
    show("", "ours", "goal / theirs", "ratio")
    solver = Solver(machines.machine(), resolution=peers.scaled(options.scale))
    run_s = single_runs(solver)
    speeds = ensembles(solver)
    starts()
    if not options.no_peers:
        others(run_s, speeds["plug"])
    load = os.getloadavg()
    print(f"load at the end {load[0]:.2f} {load[1]:.2f} {load[2]:.2f}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
