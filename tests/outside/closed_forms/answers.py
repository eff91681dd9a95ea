"""What the solver says about the small circuits of ``circuits``: one function a question.

Answers that must come out exactly are asked at the normal resolution, others at the finest.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from tests.outside.closed_forms.circuits import (
    LITRE,
    RENEWED,
    circuit,
    line,
    node,
    recipe,
    reservoir,
)
from ullage.transport.layout import FAST, FINE
from ullage.transport.recipe import Circulate, DrawOff, Exchange, Fill
from ullage.transport.result import Run
from ullage.transport.solve import simulate

Regime = Literal["plug", "laminar"]


def share(run: Run, part: str) -> float:
    """Return the old share of a part at the end."""
    found = run.parts[part]
    return float(found.old_m3[0] / found.fluid_m3[0])


def last_bin(run: Run) -> float:
    """Return the mean old share of the last 0.1 L of the last exchange."""
    return float(run.outflow[-1].old_share[-1, 0])


def mixed_vessel(turnovers: float, volume_l: float = 10.0) -> float:
    """Return the old share of a mixed reservoir after a purge."""
    machine = circuit([line("stub", 0.1)], reservoir(volume_l))
    return share(
        simulate(machine, recipe(Exchange(litres_m3=turnovers * volume_l * LITRE))), "reservoir"
    )


def tanks_in_series(tanks: int, turnovers: float) -> float:
    """Return the old share of the last of equal tanks; the reservoir is the first."""
    nodes = [node(f"tank-{i}", 1.0) for i in range(2, tanks + 1)] or [line("stub", 0.1)]
    run = simulate(
        circuit(nodes, reservoir(1.0)),
        recipe(Exchange(litres_m3=turnovers * tanks * LITRE)),
        resolution=FINE,
    )
    return share(run, f"tank-{tanks}" if tanks > 1 else "reservoir")


def line_inside(
    turnovers: float, *, regime: Regime, lanes: int = 8, fittings: int = 0, volume_l: float = 1.0
) -> float:
    """Return the old share left in a line behind a reservoir of new fluid."""
    machine = circuit([line("pipe", volume_l, fittings=fittings)], reservoir(100.0))
    work = recipe(*RENEWED, Exchange(litres_m3=turnovers * volume_l * LITRE))
    # Lanes alone only delay; between sections their mixture depends on the steps.
    resolution = FINE if fittings else FAST
    return share(simulate(machine, work, regime=regime, lanes=lanes, resolution=resolution), "pipe")


def line_exit(turnovers: float, *, regime: Regime, lanes: int = 64) -> float:
    """Return the old share at the outlet of a 10 L line, the mean over 0.1 L."""
    machine = circuit([line("pipe", 10.0)], reservoir(100.0))
    work = recipe(*RENEWED, Exchange(litres_m3=(10.0 * turnovers + 0.05) * LITRE))
    run = simulate(machine, work, regime=regime, lanes=lanes, resolution=FINE)
    out = run.outflow[-1]
    ends = out.waste_m3 / LITRE
    # The bins end at whole tenths of a litre; average the two around the moment asked for.
    at = np.interp(
        10.0 * turnovers, (ends + np.concatenate([[0.0], ends[:-1]])) / 2.0, out.old_share[:, 0]
    )
    return float(at)


def drains(total_l: float, drained_l: list[float]) -> float:
    """Return the old share of a reservoir after draining and refilling."""
    machine = circuit([line("stub", 0.1)], reservoir(total_l))
    steps = []
    for volume in drained_l:
        steps += [DrawOff(leave_m3=(total_l - volume) * LITRE), Fill()]
    return share(simulate(machine, recipe(*steps)), "reservoir")


def drains_with_mixing(total_l: float, drained_l: float, count: int) -> float:
    """Return what is left of a whole circuit that is drained and filled, and mixed between."""
    rest_l = total_l / 2.0
    machine = circuit([node("loop", rest_l)], reservoir(total_l - rest_l), flow_l_min=60.0)
    steps = [
        DrawOff(leave_m3=(total_l - rest_l - drained_l) * LITRE),
        Fill(),
        Circulate(duration_s=20.0 * total_l),
    ]
    return float(simulate(machine, recipe(*(steps * count))).remaining_share[0])
