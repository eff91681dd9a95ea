"""Where readings stand, what verdict they make, and what a change does to the next date."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import OIL, bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Limits
from ullage.errors import OutOfRange
from ullage.planning.due import (
    DAY_S,
    Answer,
    Due,
    Interval,
    Standing,
    Uncertainties,
    Use,
    due,
    life_after,
    standing,
    usual_interval,
)
from ullage.planning.finding import PRACTICE
from ullage.planning.own_table import own_table

CLEAN = (1e9, 3e8, 2e7)  # 17/15/12
NEW = replace(OIL, acid_kg_kg=0.3e-3, water_wfrac=60e-6, particles_per_m3=CLEAN)


def sampled(**readings: object) -> Circuit:
    """Return the bench circuit with these findings in its old fluid."""
    good = {"acid_kg_kg": 0.6e-3, "water_wfrac": 200e-6, "particles_per_m3": CLEAN}
    old = replace(OIL, **{**good, **readings})  # type: ignore[arg-type]
    return replace(
        bench(), fluid=old, new_fluid=NEW, limits=Limits(target_code="18/16/13", seals=("NBR",))
    )


def stands(found: Due) -> dict[str, Standing]:
    """Return where each thing stands."""
    return {line.what: line.standing for line in found.lines}


def test_all_inside_is_not_due() -> None:
    """Four readings inside their limits, each a reason."""
    found = due(sampled())

    assert found.answer is Answer.NOT_DUE
    assert set(stands(found).values()) == {Standing.INSIDE}
    assert len(found.reasons) == 4


@pytest.mark.parametrize(
    ("what", "reading", "expected"),
    [
        ("water", {"water_wfrac": 440e-6}, Standing.INSIDE),
        ("water", {"water_wfrac": 500e-6}, Standing.AT),
        ("water", {"water_wfrac": 560e-6}, Standing.PAST),
        ("acid", {"acid_kg_kg": 1.1e-3}, Standing.INSIDE),
        ("acid", {"acid_kg_kg": 1.3e-3}, Standing.AT),
        ("acid", {"acid_kg_kg": 1.5e-3}, Standing.PAST),
        ("viscosity", {"nu40_m2_s": 42.5e-6}, Standing.INSIDE),
        ("viscosity", {"nu40_m2_s": 41.4e-6}, Standing.AT),
        ("viscosity", {"nu40_m2_s": 52.0e-6}, Standing.PAST),
        ("particles", {"particles_per_m3": (2.5e9, 6e8, 7e7)}, Standing.INSIDE),
        ("particles", {"particles_per_m3": (4e9, 6e8, 7e7)}, Standing.AT),
        ("particles", {"particles_per_m3": (9e9, 6e8, 7e7)}, Standing.PAST),
    ],
)
def test_readings_stand_inside_at_or_past(
    what: str, reading: dict[str, object], expected: Standing
) -> None:
    """Past any limit is due; at one nobody can tell."""
    found = due(sampled(**reading))
    answers = {
        Standing.INSIDE: Answer.NOT_DUE,
        Standing.AT: Answer.CANNOT_TELL,
        Standing.PAST: Answer.DUE,
    }

    assert stands(found)[what] is expected
    assert found.answer is answers[expected]
    if expected is not Standing.INSIDE:
        assert len(found.reasons) == 1


def test_a_known_uncertainty_narrows_what_is_at() -> None:
    """470 mg/kg, known to 10, is inside 500; known to 20 it is at it."""
    sure = due(sampled(water_wfrac=470e-6), uncertainties=Uncertainties(water_wfrac=10e-6))
    vague = due(sampled(water_wfrac=470e-6), uncertainties=Uncertainties(water_wfrac=20e-6))

    assert stands(sure)["water"] is Standing.INSIDE
    assert stands(vague)["water"] is Standing.AT


def test_the_interval_makes_it_due_without_any_reading() -> None:
    """Five years against the usual four."""
    found = due(built_in("rack-steering"), use=Use(age_s=1826 * DAY_S))

    assert found.answer is Answer.DUE
    assert next(line for line in found.lines if line.what == "age").source == PRACTICE


def test_own_interval_beats_the_usual_one() -> None:
    """Six years, says the maker: five are inside."""
    found = due(
        built_in("scissor-lift"),
        use=Use(age_s=1826 * DAY_S),
        interval=Interval(age_s=6 * 365 * DAY_S),
    )

    assert found.answer is Answer.NOT_DUE


def test_knowing_nothing_is_no_verdict() -> None:
    """One reading of viscosity and no use: cannot tell, and says what is missing."""
    found = due(bench())

    assert found.answer is Answer.CANNOT_TELL
    assert any("not measured" in reason for reason in found.reasons)
    assert "not-counted" in {caveat.code for caveat in found.caveats}


def test_brake_fluid_goes_by_water_and_two_years() -> None:
    """Three per cent of water, two years: the family's own rows."""
    brakes = built_in("wheel-brakes")
    wet = replace(brakes, fluid=replace(brakes.fluid, water_wfrac=0.036))

    assert usual_interval("brake glycol").age_s == pytest.approx(730 * DAY_S)
    assert due(wet).answer is Answer.DUE


def test_colour_alone_never_decides() -> None:
    """Four numbers darker leave it open."""
    found = due(sampled(), colour_rise=4.0)

    assert stands(found)["colour"] is Standing.AT
    assert found.answer is Answer.CANNOT_TELL


def test_every_limit_names_whose_it_is() -> None:
    """Each row of the table has a source, each line that was judged as well."""
    assert all(row["source"] for row in own_table("limits"))
    assert all(line.source for line in due(sampled(), use=Use(age_s=DAY_S)).lines)


@pytest.mark.parametrize(
    ("value", "expected"),
    [(440.0, Standing.INSIDE), (450.0, Standing.AT), (550.0, Standing.AT), (551.0, Standing.PAST)],
)
def test_at_means_within_a_tenth(value: float, expected: Standing) -> None:
    """Where no uncertainty is given."""
    assert standing(value, 500.0) is expected


@pytest.mark.parametrize(("old", "k", "left"), [(0.0, 1, 8.0), (0.1, 1, 7.2), (0.5, 3, 0.0)])
def test_life_after_a_change(old: float, k: float, left: float) -> None:
    """Interval times (1 - k x), never below nothing; k is stated and may be changed."""
    assert life_after(life=8.0, old_vfrac=old, shortening=k) == pytest.approx(left)


def test_use_that_runs_backwards_is_refused() -> None:
    """Odometers do not."""
    with pytest.raises(OutOfRange, match="distance_m"):
        Use(distance_m=-1.0)
