"""Viscosity over temperature, index and grade: shape, limits and refusals."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise

import pytest

from ullage.errors import OutOfRange
from ullage.fluids.viscosity import ZForm, nu_from_sus, nu_from_z, viscosity_at, walther_line
from ullage.fluids.viscosity_grade import grades, viscosity_grade
from ullage.fluids.viscosity_index import viscosity_index

POINTS = {"t1_k": 313.15, "nu1_m2_s": 32e-6, "t2_k": 373.15, "nu2_m2_s": 5.4e-6}


def test_the_line_meets_both_of_its_points() -> None:
    """Reading the line at its own temperatures gives back the viscosities."""
    line = walther_line(**POINTS)

    assert [line.nu_m2_s(313.15), line.nu_m2_s(373.15)] == pytest.approx([32e-6, 5.4e-6], rel=1e-9)


def test_the_order_of_the_points_does_not_matter() -> None:
    """Swapping both points together draws the same line."""
    swapped = walther_line(t1_k=373.15, nu1_m2_s=5.4e-6, t2_k=313.15, nu2_m2_s=32e-6)

    assert swapped.nu_m2_s(333.15) == pytest.approx(walther_line(**POINTS).nu_m2_s(333.15))


def test_swapped_viscosities_are_refused_with_advice() -> None:
    """A hotter point that is thicker names the likely mistake."""
    with pytest.raises(OutOfRange, match="swapped"):
        walther_line(t1_k=313.15, nu1_m2_s=5.4e-6, t2_k=373.15, nu2_m2_s=32e-6)


@pytest.mark.parametrize(
    ("temperature_k", "codes"),
    [
        (333.15, []),
        (293.15, []),
        (243.15, ["cold-extrapolation"]),
        (440.0, ["hot-extrapolation"]),
    ],
)
def test_extrapolation_carries_a_caveat(temperature_k: float, codes: list[str]) -> None:
    """Far outside the two points the answer says so."""
    found = viscosity_at(temperature_k, **POINTS)

    assert [caveat.code for caveat in found.caveats] == codes


def test_a_temperature_without_a_liquid_is_refused() -> None:
    """The line is not followed to where it means a solid."""
    with pytest.raises(OutOfRange, match="liquid"):
        walther_line(**POINTS).nu_m2_s(120.0)


def test_the_short_form_is_refused_for_thin_liquids() -> None:
    """Below 2 mm2/s the simple form of Z does not hold."""
    with pytest.raises(OutOfRange, match="at least"):
        walther_line(**{**POINTS, "nu2_m2_s": 1.5e-6}, form=ZForm.SIMPLE)


def test_a_z_below_the_chart_is_refused() -> None:
    """No viscosity is invented for a Z thinner than the chart."""
    with pytest.raises(OutOfRange):
        nu_from_z(0.9)


def test_an_index_above_polymer_level_carries_a_caveat() -> None:
    """A flat viscosity line warns that the cold end is not to be trusted."""
    found = viscosity_index(nu40_m2_s=32e-6, nu100_m2_s=6.5e-6)

    assert [caveat.code for caveat in found.caveats] == ["polymer-thickened"]


def test_the_index_is_refused_below_two() -> None:
    """D2270 ends at 2 mm2/s at 100 degC."""
    with pytest.raises(OutOfRange, match="index"):
        viscosity_index(nu40_m2_s=5e-6, nu100_m2_s=1.9e-6)


def test_the_index_is_continuous_at_one_hundred() -> None:
    """Procedures A and B meet where the viscosity equals H."""
    thick = viscosity_index(nu40_m2_s=82.87e-6 * 1.0001, nu100_m2_s=10e-6)
    thin = viscosity_index(nu40_m2_s=82.87e-6 * 0.9999, nu100_m2_s=10e-6)

    assert (thick.procedure, thin.procedure) == ("A", "B")
    assert thick.index == pytest.approx(thin.index, abs=0.05)


def test_grades_do_not_overlap() -> None:
    """No viscosity belongs to two grades."""
    known = grades()

    assert all(a.high_m2_s < b.low_m2_s for a, b in pairwise(known))


@pytest.mark.parametrize(("nu_mm2_s", "number"), [(41.4, 46), (50.6, 46), (50.7, None), (2.0, 2)])
def test_both_ends_belong_to_a_grade(nu_mm2_s: float, number: int | None) -> None:
    """The limits are inside, the gap between two grades is not."""
    found = viscosity_grade(nu_mm2_s * 1e-6).grade

    assert (found.number if found else None) == number


def test_the_nearest_grade_is_named_in_a_gap() -> None:
    """Between 46 and 68 the closer midpoint, by ratio, is named."""
    assert viscosity_grade(55e-6).nearest.number == 46


def test_saybolt_times_meet_at_one_hundred_seconds() -> None:
    """The two branches differ by less than 0.1 mm2/s where they meet."""
    assert nu_from_sus(100.0) == pytest.approx(nu_from_sus(100.0001), abs=1e-7)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 0.0, -1.0])
def test_absurd_viscosities_are_refused(value: float) -> None:
    """Not-a-number, infinity, zero and negative values never give a line."""
    with pytest.raises(OutOfRange):
        walther_line(**{**POINTS, "nu1_m2_s": value})


def test_solver_modules_load_no_heavy_library() -> None:
    """The solver reads Reynolds numbers without waiting for scipy, fluids or chemicals."""
    code = (
        "import sys, ullage.fluids.liquid, ullage.fluids.pipe_flow, ullage.fluids.gas;"
        "print([m for m in ('scipy', 'fluids', 'chemicals', 'pint', 'numpy') if m in sys.modules])"
    )

    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout

    assert shown.strip() == "[]"
