"""Samples: few counts, too much area, weights that cannot be, and water by ear."""

from __future__ import annotations

import pytest

from ullage.errors import NotFound, OutOfRange
from ullage.fluids.sampling import (
    CrackleSign,
    CylinderClass,
    crackle_band,
    cylinder_tolerance_m3,
    gravimetric,
    membrane_count,
    poisson_interval,
    water_limit_wfrac,
)

DISC = {"effective_diameter_m": 0.040, "squares": 20, "side_m": 0.0031, "sample_m3": 1e-4}


def test_no_count_has_an_upper_limit_only() -> None:
    """Nothing seen is not nothing there: up to 3.7 particles at 95 %."""
    found = poisson_interval(count=0)

    assert found.low == 0.0
    assert found.high == pytest.approx(3.6889, abs=1e-4)


@pytest.mark.parametrize(
    ("count", "codes"),
    [
        (0, ["upper-limit-only"]),
        (4, ["upper-limit-only"]),
        (5, ["few-counts"]),
        (19, ["few-counts"]),
        (20, ["below-150"]),
        (149, ["below-150"]),
        (150, []),
    ],
)
def test_few_counts_are_said(count: int, codes: list[str]) -> None:
    """One caveat for each step of how little a count says."""
    assert [c.code for c in membrane_count(count=count, **DISC).caveats] == codes


def test_half_of_the_sample_means_twice_the_concentration() -> None:
    """The same count from less fluid stands for dirtier fluid."""
    full = membrane_count(count=200, **DISC)
    half = membrane_count(count=200, **(DISC | {"sample_m3": 5e-5}))

    assert half.per_m3 == pytest.approx(2.0 * full.per_m3)
    assert half.high95_per_m3 == pytest.approx(2.0 * full.high95_per_m3)


@pytest.mark.parametrize(
    "bad",
    [
        {"squares": 200},
        {"squares": 0},
        {"squares": 1.5},
        {"side_m": 0.0},
        {"sample_m3": -1e-6},
        {"effective_diameter_m": float("nan")},
    ],
)
def test_a_membrane_that_cannot_be_is_refused(bad: dict[str, float]) -> None:
    """More area than the disc has, no squares, no sample."""
    with pytest.raises(OutOfRange, match=next(iter(bad))):
        membrane_count(count=10, **(DISC | bad))


@pytest.mark.parametrize("count", [-1, 2.5, float("inf")])
def test_a_count_is_a_whole_number(count: float) -> None:
    """Half a particle was not counted."""
    with pytest.raises(OutOfRange, match="count"):
        poisson_interval(count=count)


def test_a_control_that_gained_more_than_the_test_is_refused() -> None:
    """The first membrane also holds what the second does."""
    with pytest.raises(OutOfRange, match="weigh again"):
        gravimetric(gain_test_kg=1e-6, gain_control_kg=2e-6, sample_m3=1e-4)
    with pytest.raises(OutOfRange, match="not dry"):
        gravimetric(gain_test_kg=1e-6, gain_control_kg=-1e-7, sample_m3=1e-4)


def test_a_gain_near_what_a_balance_shows_is_said() -> None:
    """A fifth of a milligram is mostly weighing error."""
    found = gravimetric(gain_test_kg=0.3e-6, gain_control_kg=0.1e-6, sample_m3=1e-4)

    assert [caveat.code for caveat in found.caveats] == ["near-balance-limit"]


def test_the_bands_of_the_plate_join_without_gaps() -> None:
    """Each sign begins where the quieter one ends, and the loudest has no end."""
    bands = [crackle_band(sign) for sign in CrackleSign]

    assert [band.to_wfrac for band in bands[:-1]] == [band.from_wfrac for band in bands[1:]]
    assert bands[0].from_wfrac == 0.0
    assert bands[-1].to_wfrac is None


def test_a_fluid_made_with_water_has_no_limit_of_water() -> None:
    """The sentence lists the families that have one."""
    assert water_limit_wfrac("ester") == 2 * water_limit_wfrac("mineral")
    with pytest.raises(NotFound, match="mineral, ester, triglyceride"):
        water_limit_wfrac("water glycol")


def test_a_cylinder_that_nobody_makes_is_refused() -> None:
    """Class A is half as wrong as class B, and 300 ml is no size of the standard."""
    tolerances = [cylinder_tolerance_m3(capacity_m3=1e-4, grade=grade) for grade in CylinderClass]

    assert tolerances == pytest.approx([0.5e-6, 1e-6])
    with pytest.raises(NotFound, match="300"):
        cylinder_tolerance_m3(capacity_m3=300e-6, grade=CylinderClass.A)
