"""Do the closed forms of loops, tanks and reservoirs solve their own equations?"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import gammaincc

from tests.outside.rows import OutsideRow, label
from ullage.fluids import washout
from ullage.fluids.filtration import FilterLoop, loop_concentration, time_to_concentration
from ullage.fluids.reservoir import varying_volume
from ullage.fluids.residence import closed_vessel_variance

Slope = Callable[[float, Sequence[float]], Sequence[float]]


def run(slope: Slope, start: Sequence[float], until: float) -> list[float]:
    """Integrate a system and return its last state."""
    solved = solve_ivp(slope, (0.0, until), start, method="LSODA", rtol=1e-10, atol=1e-13)
    assert solved.success
    return [float(value) for value in solved.y[:, -1]]


def row(
    subject: str, quantity: str, ours: float, theirs: float, source: str = "scipy 1.17 solve_ivp"
) -> OutsideRow:
    """Return a row whose other side was computed here."""
    return OutsideRow(
        subject=subject,
        quantity=quantity,
        ours=ours,
        theirs=theirs,
        tolerance=1e-7 * max(1.0, abs(theirs)),
        source=source,
        provenance="library",
        kind="code, numerical solution",
        reason="tolerance of the integrator",
    )


def filter_rows() -> list[OutsideRow]:
    """Follow a filtered loop with ingress and a fresh feed of its own dirt."""
    loop = FilterLoop(
        volume_m3=0.012,
        flow_m3_s=1e-4,
        efficiency_share=1.0 - 1.0 / 75.0,
        ingress_per_s=2000.0,
        feed_m3_s=2e-5,
        feed_per_m3=4e8,
    )

    def slope(_: float, n: Sequence[float]) -> list[float]:
        """Return the change of the count, in 1e9 per m3."""
        caught = loop.flow_m3_s * loop.efficiency_share * n[0]
        fed = loop.feed_m3_s * (loop.feed_per_m3 / 1e9 - n[0])
        return [(loop.ingress_per_s / 1e9 - caught + fed) / loop.volume_m3]

    found = []
    for time_s in (30.0, 120.0, 600.0):
        ours = loop_concentration(loop=loop, start_per_m3=1e10, time_s=time_s) / 1e9
        found.append(
            row(
                "filtered loop", f"after {time_s:g} s [1e3/ml]", ours, run(slope, [10.0], time_s)[0]
            )
        )

    def target_met(_: float, n: Sequence[float]) -> float:
        """Fall through zero at the target."""
        return n[0] - 1.0

    target_met.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(
        slope, (0.0, 1e4), [10.0], method="LSODA", rtol=1e-11, atol=1e-13, events=target_met
    )
    ours = time_to_concentration(loop=loop, start_per_m3=1e10, target_per_m3=1e9).time_s
    found.append(
        row("filtered loop", "time down to a tenth [s]", ours, float(solved.t_events[0][0]))
    )
    return found


def tank_rows() -> list[OutsideRow]:
    """Follow equal tanks in a row, and ask the incomplete gamma function."""
    found = []
    for tanks in (1, 3, 10):

        def slope(_: float, x: Sequence[float], tanks: int = tanks) -> list[float]:
            """Return the change of old fluid in each tank."""
            return [tanks * (before - here) for before, here in zip((0.0, *x), x, strict=False)]

        for turnovers in (0.4, 1.5):
            ours = washout.tanks_in_series(turnovers=turnovers, tanks=tanks)
            state = run(slope, [1.0] * tanks, turnovers)
            what = f"{tanks} tanks, {turnovers:g} volumes"
            found += [
                row("tanks in series", f"{what}, outlet [-]", ours.outlet_vfrac, state[-1]),
                row("tanks in series", f"{what}, inside [-]", ours.inside_vfrac, np.mean(state)),
            ]
    for tanks, turnovers in ((1, 0.2), (20, 1.1), (200, 1.0), (1000, 0.9), (1000, 1.1)):
        ours = washout.tanks_in_series(turnovers=turnovers, tanks=tanks)
        x = tanks * turnovers
        inside = gammaincc(tanks + 1, x) - turnovers * gammaincc(tanks, x)
        what = f"{tanks} tanks, {turnovers:g} volumes"
        found += [
            row(
                "tanks in series",
                f"{what}, outlet by the gamma function [-]",
                ours.outlet_vfrac,
                float(gammaincc(tanks, x)),
                "scipy 1.17 gammaincc",
            ),
            row(
                "tanks in series",
                f"{what}, inside by the gamma function [-]",
                ours.inside_vfrac,
                float(inside),
                "scipy 1.17 gammaincc",
            ),
        ]
    return found


def unequal_tank_rows() -> list[OutsideRow]:
    """Follow two tanks of different, nearly equal and equal size."""
    found = []
    for first, second in ((2.0, 1.0), (1.0, 5.0), (1.0, 1.0 + 1e-9), (1.0, 1.0)):

        def slope(
            _: float, x: Sequence[float], first: float = first, second: float = second
        ) -> list[float]:
            """Return the change of old fluid in either tank per litre."""
            return [-x[0] / first, (x[0] - x[1]) / second]

        for through in (0.5, 4.0):
            ours = washout.two_tanks(
                first_m3=first / 1e3, second_m3=second / 1e3, through_m3=through / 1e3
            )
            a, b = run(slope, [1.0, 1.0], through)
            inside = (first * a + second * b) / (first + second)
            what = f"{first:.10g} and {second:.10g} l, {through:g} l through"
            found += [
                row("two tanks", f"{what}, outlet [-]", ours.outlet_vfrac, b),
                row("two tanks", f"{what}, inside [-]", ours.inside_vfrac, inside),
            ]
    return found


def reservoir_rows() -> list[OutsideRow]:
    """Follow a mixed reservoir that fills, empties, or stands."""
    found = []
    for poured, drawn in ((6.0, 3.0), (2.0, 5.0), (4.0, 4.0), (4.0, 4.0 + 1e-9)):

        def slope(
            _: float, state: Sequence[float], poured: float = poured, drawn: float = drawn
        ) -> list[float]:
            """Return the change of volume and of old fluid, in litres per minute."""
            volume, old = state
            return [poured - drawn, -drawn * old / volume]

        volume, old = run(slope, [2.0, 2.0], 0.5)
        ours = varying_volume(
            start_m3=2e-3, in_m3_s=poured / 60e3, out_m3_s=drawn / 60e3, time_s=30.0
        )
        quantity = f"{poured:g} in, {drawn:.10g} l/min out, half a minute [-]"
        found.append(row("reservoir of varying volume", quantity, ours, old / volume))
    return found


def dead_space_rows() -> list[OutsideRow]:
    """Follow a vessel with a dead corner and a short cut."""

    def slope(_: float, x: Sequence[float]) -> list[float]:
        """Return the change of old fluid in the part that mixes; feed and volume are 1."""
        return [-0.9 * x[0] / 0.8]

    (mixed,) = run(slope, [1.0], 2.0)
    ours = washout.dead_space(turnovers=2.0, active_share=0.8, mixed_feed_share=0.9)
    what = "dead space 20 %, short cut 10 %, 2 volumes"
    return [
        row("dead space", f"{what}, outlet [-]", ours.outlet_vfrac, 0.9 * mixed),
        row("dead space", f"{what}, inside [-]", ours.inside_vfrac, 0.8 * mixed + 0.2),
    ]


def transfer_variance(number: float) -> float:
    """Return the relative variance of a closed vessel from its transfer function.

    The logarithm of the transfer function has mean and variance as its first two coefficients;
    the second comes here from a ring of points around zero (Cauchy's formula).
    """
    peclet, points, radius = 1.0 / number, 32, 0.05

    def log_transfer(s: complex) -> complex:
        """Return the logarithm of the outlet's transform of a pulse."""
        a = cmath.sqrt(1.0 + 4.0 * s / peclet)
        bottom = (1 + a) ** 2 - (1 - a) ** 2 * cmath.exp(-a * peclet)
        return cmath.log(4.0 * a / bottom) + peclet * (1.0 - a) / 2.0

    ring = [cmath.exp(2j * math.pi * k / points) for k in range(points)]
    second = sum(log_transfer(radius * z) / z**2 for z in ring) / points / radius**2
    return 2.0 * second.real


def dispersion_rows() -> list[OutsideRow]:
    """Compare the spread of a closed vessel with its transfer function."""
    return [
        row(
            "closed vessel",
            f"relative variance at dispersion number {number:g} [-]",
            closed_vessel_variance(dispersion_number=number),
            transfer_variance(number),
            "transfer function after Danckwerts 1953, differentiated numerically",
        )
        for number in (0.02, 0.12, 1.0)
    ]


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [
        *filter_rows(),
        *tank_rows(),
        *unequal_tank_rows(),
        *reservoir_rows(),
        *dead_space_rows(),
        *dispersion_rows(),
    ]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
