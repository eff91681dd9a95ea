"""Which unknown moves the answer most, and what is the cheapest way to know it better?

Told from the very draws that the plan was judged on: a straight line through the remainder over
everything that was drawn. What an unknown explains of the spread is what measuring it could take
away; the table of measures says how much of that, and at which price in minutes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ullage.circuit.network import Circuit
from ullage.planning.has import concerning, features
from ullage.planning.score import Floats
from ullage.transport import structure
from ullage.transport.recipe import Recipe
from ullage.transport.result import Run
from ullage.transport.values import Values, values_of

# An unknown that explains less of the variance than this is not worth a line.
_WORTH = 0.01
# A gain smaller than this does not show.
_SHOWS = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """Something to measure before the job.

    ``spread_share`` is the standard deviation of the remainder that the unknown alone makes,
    ``explains`` its share of the variance, ``sure_now`` and ``sure_then`` the remainder at the
    wanted confidence before and after measuring."""

    unknown: str
    name: str
    how: str
    duration_s: float
    spread_share: float
    explains: float
    sure_now: float
    sure_then: float


def measure_first(
    circuit: Circuit, recipe: Recipe, run: Run, *, sure_share: float, most: int = 4
) -> tuple[Measure, ...]:
    """Return what to measure first, the best worth of a minute's work among the weighty first.

    Parameters
    ----------
    circuit : Circuit
        What is serviced.
    recipe : Recipe
        The plan's.
    run : Run
        Its ensemble.
    sure_share : scalar
        Confidence that was asked for. [-]
    most : scalar
        How many at most. [-]

    Returns
    -------
    measures : values
        Ordered by what they take off the remainder at the wanted confidence.

    Validity
    --------
    A straight line: interactions are left out, so the gains are about right, not exact.

    Source
    ------
    Least squares on the draws; how well people measure: common practice, no source.
    """
    values = values_of(circuit, members=run.members, seed=run.seed)
    classes = structure.draw_classes(seed=run.seed, count=run.members)
    columns = _columns(circuit, values, classes)
    names = [name for name, _ in columns]
    matrix = np.array([row for _, row in columns])
    spread = matrix.std(axis=1)
    keep = spread > 1e-12 * np.maximum(np.abs(matrix).mean(axis=1), 1e-30)
    matrix, names = matrix[keep], [n for n, k in zip(names, keep, strict=True) if k]
    if not names:
        return ()
    scaled = (matrix - matrix.mean(axis=1, keepdims=True)) / matrix.std(axis=1, keepdims=True)
    share = run.remaining_share - run.remaining_share.mean()
    ridge = scaled @ scaled.T + 1e-6 * run.members * np.eye(len(names))
    slopes = np.linalg.solve(ridge, scaled @ share)
    total = float(share.std())
    middle = float(np.median(run.remaining_share))
    sure = float(np.quantile(run.remaining_share, sure_share))
    found: list[Measure] = []
    for row in concerning("measures", "measure", features(circuit, recipe)):
        mine = [i for i, name in enumerate(names) if name == row["unknown"]]
        if not mine or total <= 0.0:
            continue
        effect = float((slopes[mine] @ scaled[mine]).std())
        left = min(float(row["to_pct"]) / float(row["from_pct"]), 1.0)
        after = max(total**2 - effect**2 * (1.0 - left**2), 0.0) ** 0.5
        sure_then = middle + (sure - middle) * after / total
        if effect**2 < _WORTH * total**2 or sure - sure_then < _SHOWS:
            continue
        found.append(
            Measure(
                unknown=str(row["unknown"]),
                name=str(row["name"]),
                how=str(row["how"]),
                duration_s=float(row["minutes"]) * 60.0,
                spread_share=effect,
                explains=effect**2 / total**2,
                sure_now=sure,
                sure_then=sure_then,
            )
        )
    found.sort(key=lambda one: (round(one.sure_then, 4), one.duration_s))
    return tuple(found[:most])


def _columns(
    circuit: Circuit, values: Values, classes: np.ndarray[tuple[int], np.dtype[np.intp]]
) -> list[tuple[str, Floats]]:
    """Return everything that was drawn, with the unknown that it belongs to."""
    found: list[tuple[str, Floats]] = [
        ("reservoir", values.full_m3[1:]),
        ("reservoir", values.heel_m3[1:]),
        ("reservoir", values.start_m3[1:]),
        ("mixing", values.dead_m3[1:]),
        ("mixing", values.bypass_share[1:]),
        ("pump", values.pump_m3_rev[1:] + values.hand_flow_m3_s[1:]),
    ]
    found += [("loop", row[1:]) for row in values.parts_m3]
    found += [("leg-lines", row[1:]) for row in values.leg_line_m3]
    found += [("stroke", row[1:]) for row in values.leg_stroke_m3]
    found += [("stroke", row[1:]) for row in values.leg_use_share]
    found += [("stroke", row[1:]) for row in values.leg_start_share]
    found += [("dead", row[1:]) for row in values.leg_dead_m3]
    found += [("gas", row[1:]) for row in values.leg_gas_m3]
    found += [("shares", row[1:]) for row in values.shares] if len(circuit.paths) > 1 else []
    found += [
        ("mixing", (classes == number).astype(np.float64))
        for number in range(1, len(structure.CLASSES))
    ]
    return found
