"""Runs built by hand: what a solver might answer, without one."""

from __future__ import annotations

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3
from ullage.drawing.figures import Floats
from ullage.transport.result import (
    Balance,
    Outflow,
    PartResult,
    Run,
    StepResult,
    Trace,
)

EXCHANGED_M3 = 0.010


def run_of(
    circuit: Circuit, *, members: int = 1, seed: int = 5, shares: dict[str, float] | None = None
) -> Run:
    """Return a run that leaves a share of old fluid in each part, drawn or given."""
    random = np.random.default_rng(seed)
    parts: dict[str, PartResult] = {}
    for part, volume in content_m3(circuit, Numbers()).items():
        fluid = np.full(members, volume[0])
        share = (shares or {}).get(part, random.uniform(0.0, 1.0))
        spread = np.clip(share + random.normal(0.0, 0.02, members) * (members > 1), 0.0, 1.0)
        parts[part] = PartResult(fluid_m3=fluid, old_m3=fluid * spread)
    fluid = np.sum([part.fluid_m3 for part in parts.values()], axis=0)
    remaining = np.sum([part.old_m3 for part in parts.values()], axis=0) / fluid
    return run_with(parts, remaining, fluid)


def run_with(parts: dict[str, PartResult], remaining: Floats, fluid: Floats) -> Run:
    """Return a run of one exchange that ends with these parts; the outflow fades to nothing."""
    members = remaining.size
    ones = np.ones(members)
    litres = np.arange(1, 101) * 1e-4
    fading = np.exp(-litres / 0.0025)[:, None] * ones
    poured = np.concatenate([[0.0], litres])
    fall = np.linspace(0.0, 1.0, poured.size)[:, None]
    step = StepResult(
        index=0,
        do="exchange",
        poured_m3=EXCHANGED_M3 * ones,
        waste_m3=EXCHANGED_M3 * ones,
        waste_old_m3=(1.0 - remaining) * fluid,
        spilled_m3=0.0 * ones,
        remaining_share=remaining,
        lowest_m3=0.0021 * ones,
        duration_s=84.0 * ones,
        level_m3=0.003 * ones,
        cycles={},
        notes=(),
    )
    old = float(remaining[0] * fluid[0])
    trace = Trace(poured_m3=poured, remaining_share=1.0 - fall * (1.0 - remaining))
    return Run(
        members=members,
        seed=0,
        steps=(step,),
        remaining_share=remaining,
        parts=parts,
        outflow=(Outflow(step=1, waste_m3=litres, old_share=fading),),
        trace_made=lambda: trace,
        balance=Balance(
            old_before_m3=float(fluid[0]),
            old_out_m3=float(fluid[0]) - old,
            old_left_m3=old,
            old_error_m3=0.0,
            volume_error_m3=0.0,
            poured_m3=EXCHANGED_M3,
            waste_m3=EXCHANGED_M3,
            spilled_m3=0.0,
        ),
    )
