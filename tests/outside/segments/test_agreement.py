"""Do the two solvers agree on every template, and on circuits that nobody chose?

Shares within 1e-4 of the whole and of each part, volumes, levels and positions to rounding, what
left the diverter bin by bin. The solver runs at its finest, this one at two steps that are
extrapolated; a further test says what the normal resolution costs.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from tests.laws.strategies import Job, jobs
from tests.outside.rows import OutsideRow
from tests.outside.segments.reading import NotModelled
from tests.outside.segments.solver import Extrapolated, extrapolated
from ullage.circuit.network import Circuit
from ullage.formats.circuit_file import read_circuit
from ullage.formats.recipe_file import read_recipe
from ullage.transport.layout import FAST, FINE, Resolution
from ullage.transport.recipe import Recipe
from ullage.transport.result import Run
from ullage.transport.solve import simulate

SOURCE = Path(__file__).parents[3] / "src" / "ullage"
RECIPES = sorted(path.name for path in (SOURCE / "transport" / "data").glob("*.recipe.toml"))
REGIMES = ("plug", "laminar", None)
pytestmark = pytest.mark.slow
TOLERANCE = 1e-4

FINEST = Resolution(path_cell_m3=5e-6, leg_cell_m3=1e-6, path_step_m3=5e-6, leg_step_m3=2.5e-6)
"""For brakes and steering, whose whole legs hold little more than a cell elsewhere."""


def job_of(name: str) -> tuple[Circuit, Recipe]:
    """Return a packaged recipe with the template that it is for."""
    circuits = (SOURCE / "circuit" / "data").glob("*.circuit.toml")
    path = next(c for c in circuits if name.startswith(c.name.removesuffix(".circuit.toml")))
    return read_circuit(path), read_recipe(SOURCE / "transport" / "data" / name)


def is_small(name: str) -> bool:
    """Tell whether a template's parts hold millilitres."""
    return name.startswith(("wheel-brakes", "rack-steering"))


@cache
def theirs(name: str, regime: str | None) -> Extrapolated:
    """Return the answer of moving segments to a template."""
    step_m3 = 2e-6 if is_small(name) else 2e-5
    return extrapolated(*job_of(name), regime=regime, step_m3=step_m3)


@cache
def ours(name: str, regime: str | None) -> Run:
    """Return the answer of the solver to a template, at its finest."""
    finest = FINEST if is_small(name) else FINE
    return simulate(*job_of(name), regime=regime, resolution=finest, bracket=False)


def worst_part(run: Run, other: Extrapolated) -> tuple[str, float]:
    """Return the part whose old shares differ most, and by how much."""
    gaps = {
        part: (float(run.parts[part].old_m3[0]) - old) / other.fine.fluid_m3[part]
        for part, old in other.old_m3.items()
        if other.fine.fluid_m3[part] > 1e-8
    }
    part = max(gaps, key=lambda name: abs(gaps[name]))
    return part, gaps[part]


def outflow_means(other: Extrapolated, step: int, ends_m3: np.ndarray) -> np.ndarray:
    """Return what left the diverter in a step, averaged between the ends of bins."""
    volumes, shares = np.array(other.fine.steps[step - 1].outflow).T
    gone = np.concatenate([[0.0], np.cumsum(volumes)])
    old = np.concatenate([[0.0], np.cumsum(volumes * shares)])
    edges = np.concatenate([[0.0], ends_m3])
    means: np.ndarray = np.diff(np.interp(edges, gone, old)) / np.diff(edges)
    return means


def rows() -> list[OutsideRow]:
    """Return the remaining share of every template in both regimes."""
    return [
        OutsideRow(
            subject=f"washout run: {name.removesuffix('.recipe.toml')}, {regime}",
            quantity="old share left [-]",
            ours=float(ours(name, regime).remaining_share[0]),
            theirs=theirs(name, regime).remaining_share,
            tolerance=TOLERANCE,
            source="moving segments, two steps extrapolated (tests/outside/segments)",
            provenance="library",
            kind="code",
            reason="two schemes of second order",
        )
        for name in RECIPES
        for regime in ("plug", "laminar")
    ]


@pytest.mark.parametrize("regime", REGIMES)
@pytest.mark.parametrize("name", RECIPES)
def test_both_solvers_leave_the_same_old_fluid(name: str, regime: str | None) -> None:
    """The whole and every part agree to 1e-4."""
    run, other = ours(name, regime), theirs(name, regime)

    assert abs(float(run.remaining_share[0]) - other.remaining_share) <= TOLERANCE
    assert abs(worst_part(run, other)[1]) <= TOLERANCE, worst_part(run, other)


@pytest.mark.parametrize("regime", REGIMES)
@pytest.mark.parametrize("name", RECIPES)
def test_both_solvers_read_a_recipe_the_same_way(name: str, regime: str | None) -> None:
    """Levels, litres, cycles, and what each chamber holds (so where each leg stands) are equal."""
    run, other = ours(name, regime), theirs(name, regime).fine
    for step, book in zip(run.steps, other.steps, strict=True):
        ours_here = [step.poured_m3, step.waste_m3, step.level_m3, step.lowest_m3]
        theirs_here = [book.poured_m3, book.waste_m3, book.level_m3, book.lowest_m3]

        assert [float(x[0]) for x in ours_here] == pytest.approx(theirs_here, abs=1e-10)
        assert dict(step.cycles) == book.cycles
        # How long the first filling of a dry housing takes is counted by one of the two.
        if not any(note.code == "filter-fills" for note in step.notes) and step.do != "stand":
            assert float(step.duration_s[0]) == pytest.approx(book.duration_s, abs=1e-6)
    held = {part: float(found.fluid_m3[0]) for part, found in run.parts.items()}

    assert held == pytest.approx(other.fluid_m3, abs=1e-10)


@pytest.mark.parametrize("regime", ["plug", "laminar"])
@pytest.mark.parametrize("name", RECIPES)
def test_the_same_comes_out_of_the_diverter(name: str, regime: str) -> None:
    """Every tenth of a litre shows the same old share, and over the step the same old fluid."""
    run, other = ours(name, regime), theirs(name, regime)
    for found in run.outflow:
        expected = outflow_means(other, found.step, found.waste_m3)

        # A front that leaves within a bin is cut differently by finite steps.
        assert np.abs(found.old_share[:, 0] - expected).max() <= 5e-3
        assert np.abs(found.old_share[:, 0] - expected).mean() <= 2e-4


@pytest.mark.parametrize("regime", ["plug", "laminar"])
@pytest.mark.parametrize("name", RECIPES)
def test_the_normal_resolution_costs_less_than_a_thousandth(name: str, regime: str) -> None:
    """The remaining share of the whole is within 1e-3 at the resolution that people use."""
    run = simulate(*job_of(name), regime=regime, resolution=FAST, bracket=False)

    assert abs(float(run.remaining_share[0]) - theirs(name, regime).remaining_share) <= 1e-3


@settings(
    derandomize=True,
    max_examples=60,
    # A drawn circuit that fails is small enough to read; shrinking it takes minutes.
    phases=[Phase.generate],
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(job=jobs(can_spill=False), regime=st.sampled_from(REGIMES))
def test_both_solvers_agree_on_circuits_that_nobody_chose(job: Job, regime: str | None) -> None:
    """Litres and levels to rounding; shares as closely as circuits of a litre or two resolve."""
    try:
        other = extrapolated(job.circuit, job.recipe, regime=regime)
    except NotModelled:
        return
    dead_m3 = job.circuit.reservoir.dead_share.best * job.circuit.reservoir.full_m3.best
    # With nothing but its dead part left, a reservoir passes fluid on without mixing: no pump step
    # that starts there is ever allowed, and finite steps see it late.
    assume(all(book.lowest_m3 > dead_m3 + 1e-9 for book in other.fine.steps))
    run = simulate(job.circuit, job.recipe, regime=regime, resolution=FINE, bracket=False)

    assert (run.stop is not None) == other.fine.stopped
    for step, book in zip(run.steps, other.fine.steps, strict=True):
        ours_here = [step.poured_m3, step.waste_m3, step.spilled_m3, step.level_m3]
        theirs_here = [book.poured_m3, book.waste_m3, book.spilled_m3, book.level_m3]

        assert [float(x[0]) for x in ours_here] == pytest.approx(theirs_here, abs=1e-9)
    held = {part: float(found.fluid_m3[0]) for part, found in run.parts.items()}

    assert held == pytest.approx(other.fine.fluid_m3, abs=1e-9)
    # Mixtures that turn about at a fitting converge more slowly than the rest: allow for the gap.
    allowed = 4e-4 + 5.0 * abs(other.gap)
    assert abs(float(run.remaining_share[0]) - other.remaining_share) <= allowed
    assert abs(worst_part(run, other)[1]) <= 5e-3, worst_part(run, other)
