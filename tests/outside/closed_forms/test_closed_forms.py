"""Does the solver give the closed forms of vessels, lines and levels?"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.outside.closed_forms import answers, forms
from tests.outside.closed_forms.answers import last_bin, share
from tests.outside.closed_forms.circuits import (
    LITRE,
    RENEWED,
    circuit,
    leg,
    line,
    node,
    recipe,
    reservoir,
)
from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.circuit.parts import Path as Way
from ullage.circuit.uncertain import exact
from ullage.transport.layout import FINE
from ullage.transport.recipe import Circulate, Exchange, Exercise, Stand
from ullage.transport.solve import simulate

LEVENSPIEL = "Levenspiel, Chemical Reaction Engineering, 3rd ed. 1999"


def derived(
    subject: str, ours: float, theirs: float, tolerance: float, reason: str, source: str
) -> OutsideRow:
    """Return a row whose other side is algebra."""
    return OutsideRow(
        subject=f"washout run: {subject}",
        quantity="old share [-]",
        ours=ours,
        theirs=theirs,
        tolerance=tolerance,
        source=source,
        provenance="derived",
        kind="code",
        reason=reason,
    )


def published_rows() -> list[OutsideRow]:
    """Return the figures that stand in print or follow from such a figure."""
    return rows_from_expected(
        Path(__file__).parent,
        {
            "mixed_vessel": lambda x: answers.mixed_vessel(**x),
            "mixed_vessel_exchanged": lambda x: 1.0 - answers.mixed_vessel(**x),
            "drains": lambda x: answers.drains(**x),
            "tanks_in_series": lambda x: answers.tanks_in_series(**x),
            "laminar_inside": lambda x: answers.line_inside(regime="laminar", **x),
            "laminar_exit": lambda x: answers.line_exit(regime="laminar", **x),
        },
    )


def vessel_rows() -> list[OutsideRow]:
    """Return mixed vessels: alone, two unequal, with by-pass and dead share, drained and mixed."""
    found = [
        derived(
            f"mixed reservoir, theta = {theta}",
            answers.mixed_vessel(theta),
            math.exp(-theta),
            1e-12,
            "the reservoir is updated exactly",
            "exp(-theta)",
        )
        for theta in (0.1, 1.0, 4.0)
    ]
    run = simulate(
        circuit([node("second", 0.4)], reservoir(1.5)),
        recipe(Exchange(litres_m3=2.0 * LITRE)),
        resolution=FINE,
    )
    found.append(
        derived(
            "two unequal tanks",
            share(run, "second"),
            forms.two_tanks_exit(1.5, 0.4, 2.0),
            2e-5,
            "the solver takes finite steps",
            f"{LEVENSPIEL}, ch. 12",
        )
    )
    for bypass, dead, through in ((0.3, 0.2, 3.0), (0.0, 0.4, 2.0), (0.5, 0.0, 5.0)):
        machine = circuit([line("pipe", 0.1)], reservoir(2.0, dead_share=dead, bypass_share=bypass))
        work = recipe(Exchange(litres_m3=through * LITRE))
        run = simulate(machine, work, regime="plug", resolution=FINE)
        named = {"mixed_feed": 1.0 - bypass, "active": 1.0 - dead}
        found.append(
            derived(
                f"by-pass {bypass}, dead share {dead}, inside",
                share(run, "reservoir"),
                forms.cholette_inside(through / 2.0, **named),
                1e-12,
                "the reservoir is updated exactly",
                "Cholette and Cloutier 1959",
            )
        )
        # The last 0.1 L at the outlet left the reservoir between 0.2 and 0.1 L before the end.
        ends = [forms.cholette_inside((through - x) / 2.0, **named) for x in (0.2, 0.1)]
        found.append(
            derived(
                f"by-pass {bypass}, dead share {dead}, leaving",
                last_bin(run),
                (ends[0] - ends[1]) * 2.0 / 0.1,
                2e-5,
                "the solver takes finite steps",
                "Cholette and Cloutier 1959",
            )
        )
    found.append(
        derived(
            "three drains of 4 L from 12 L, mixed by the pump between",
            answers.drains_with_mixing(12.0, 4.0, 3),
            (1.0 - 4.0 / 12.0) ** 3,
            1e-9,
            "mixed for twenty turnovers",
            "(1 - d/V)^n",
        )
    )
    return found


def line_rows() -> list[OutsideRow]:
    """Return lines: plug delay, lanes, fittings, a vessel before a line."""
    found = [
        derived(
            f"plug line, theta = {theta}",
            answers.line_inside(theta, regime="plug"),
            max(1.0 - theta, 0.0),
            1e-12,
            "a plug line only delays",
            "1 - theta",
        )
        for theta in (0.05, 0.37, 0.999, 1.0, 2.5)
    ]
    for lanes in (8, 32):
        for theta in (0.4, 1.0, 3.0):
            ours = answers.line_inside(theta, regime="laminar", lanes=lanes)
            found.append(
                derived(
                    f"laminar line in {lanes} lanes, theta = {theta}",
                    ours,
                    forms.laminar_inside(theta),
                    0.009 * 8.0 / lanes,
                    f"{lanes} lanes stand for the parabola",
                    f"{LEVENSPIEL}, ch. 15",
                )
            )
            found.append(
                derived(
                    f"the same, each of {lanes} lanes a plug",
                    ours,
                    forms.lanes_inside(theta, lanes),
                    1e-9,
                    "lanes only delay",
                    "Gauss-Legendre quadrature in area",
                )
            )
    for theta in (0.8, 2.0):
        found.append(
            derived(
                f"laminar line with one fitting, theta = {theta}",
                answers.line_inside(theta, regime="laminar", lanes=32, fittings=1),
                forms.two_laminar_sections_inside(theta),
                0.003,
                "32 lanes stand for the parabola",
                "convolution of two exit-age distributions of pure convection",
            )
        )
    run = simulate(
        circuit([line("pipe", 0.5)], reservoir(1.0)),
        recipe(Exchange(litres_m3=1.7 * LITRE)),
        regime="plug",
        resolution=FINE,
    )
    found.append(
        derived(
            "mixed vessel then plug line, inside the line",
            share(run, "pipe"),
            (math.exp(-1.2) - math.exp(-1.7)) / 0.5,
            2e-5,
            "the solver takes finite steps",
            f"{LEVENSPIEL}, ch. 12",
        )
    )
    found.append(
        derived(
            "mixed vessel then plug line, leaving",
            last_bin(run),
            (math.exp(-1.1) - math.exp(-1.2)) / 0.1,
            2e-5,
            "the solver takes finite steps",
            f"{LEVENSPIEL}, ch. 12",
        )
    )
    return found


def level_rows() -> list[OutsideRow]:
    """Return reservoirs whose level changes, and a diverter that siphons."""
    machine = circuit(
        [line("long", 3.0), node("block", 0.1)],
        reservoir(2.0),
        legs=[leg("one", "block", line_l=0.1, stroke_l=0.4, dead_l=0.1)],
    )
    work = recipe(
        *RENEWED, Circulate(duration_s=60.0, exercise=Exercise(groups=("one",), period_s=60.0))
    )
    run = simulate(machine, work, regime="plug", resolution=FINE)
    found = [
        derived(
            "level falls and rises while old fluid comes back",
            share(run, "reservoir"),
            # 1 - x: (V1/V0)^((Q - e)/e) falling times (V1/V0)^((Q + e)/e) rising, e = 0.8 L/min.
            1.0 - (1.6 / 2.0) ** (2.0 / 0.8),
            2e-5,
            "the solver takes finite steps",
            "variable volume: (V0/V)^(qi/(qi - qo))",
        )
    ]
    way = Way(
        id="main", through=("pipe",), divert_after="pipe", drains_m3_s=exact(0.2 * LITRE / 60)
    )
    machine = circuit([line("pipe", 0.5)], reservoir(2.0), paths=[way])
    pour = Exchange(litres_m3=0.1 * LITRE)
    run = simulate(machine, recipe(pour, Stand(duration_s=180.0), pour), regime="plug")
    first, second = math.exp(-0.05), math.exp(-0.1 / 1.4)
    found.append(
        derived(
            "0.6 L siphon out between two pours of 0.1 L",
            share(run, "reservoir"),
            first * second,
            1e-12,
            "the reservoir is updated exactly",
            "exp(-q/V) at each level",
        )
    )
    return found


def rows() -> list[OutsideRow]:
    """Return every comparison of this module."""
    return [*published_rows(), *vessel_rows(), *line_rows(), *level_rows()]


@pytest.mark.parametrize("group", [published_rows, vessel_rows, line_rows, level_rows])
def test_the_solver_gives_the_closed_forms(group: object) -> None:
    """Every row of a group agrees within its tolerance."""
    found = group()  # type: ignore[operator]
    wrong = [
        f"{label(row)}: {row.ours:.9g} for {row.theirs:.9g}" for row in found if not row.agrees
    ]

    assert wrong == []


def test_lanes_close_in_on_the_parabola() -> None:
    """Four times the lanes leave less than a third of the error inside a laminar line."""
    errors = [
        max(
            abs(
                answers.line_inside(theta, regime="laminar", lanes=lanes)
                - forms.laminar_inside(theta)
            )
            for theta in (0.7, 1.3, 2.1, 3.3)
        )
        for lanes in (8, 32)
    ]

    assert errors[1] < errors[0] / 3.0


def test_three_tanks_spread_a_step_by_a_third() -> None:
    """The step response has the mean 1 and the variance 1/N (Levenspiel, ch. 14)."""
    machine = circuit([node("two", 1.0), node("three", 1.0)], reservoir(1.0))
    run = simulate(machine, recipe(Exchange(litres_m3=45.0 * LITRE)), resolution=FINE)
    ends = np.concatenate([[0.0], run.outflow[-1].waste_m3]) / (3.0 * LITRE)
    old = run.outflow[-1].old_share[:, 0]
    mean = float(np.sum(old * np.diff(ends)))
    second = float(np.sum(old * np.diff(ends**2)))

    assert mean == pytest.approx(1.0, abs=1e-4)
    assert second - mean**2 == pytest.approx(1.0 / 3.0, abs=2e-3)


@pytest.mark.parametrize("regime", ["plug", "laminar"])
def test_a_closed_loop_keeps_its_old_fluid(regime: answers.Regime) -> None:
    """Circulating and exercising moves old fluid about and removes none."""
    legs = [
        leg("a", "block", line_l=0.1, stroke_l=0.3, dead_l=0.05, start_share=0.3, fittings=1),
        leg("b", "block", line_l=0.3, stroke_l=0.2, dead_l=0.05, start_share=0.8),
    ]
    machine = circuit(
        [line("pipe", 0.4, fittings=2), node("block", 0.2)], reservoir(2.0, brim_l=3.0), legs=legs
    )
    exercise = Exercise(groups=("a", "b"), period_s=30.0, together=True)
    run = simulate(
        machine, recipe(*RENEWED, Circulate(duration_s=400.0, exercise=exercise)), regime=regime
    )
    held = {name: float(part.fluid_m3[0]) / LITRE for name, part in run.parts.items()}
    old = sum(float(part.old_m3[0]) for part in run.parts.values()) / LITRE

    assert old == pytest.approx(0.4 + 0.2 + 0.1 + 0.3 + 0.05 + 0.09 + 0.05 + 0.16, abs=1e-11)
    assert held["a.chamber"] == pytest.approx(0.05 + 0.09, abs=1e-12)
    assert held["b.chamber"] == pytest.approx(0.05 + 0.16, abs=1e-12)
    assert held["reservoir"] == pytest.approx(2.0, abs=1e-12)
