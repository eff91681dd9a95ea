"""What holds for every circuit and every recipe, whatever the numbers?"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from tests.laws.strategies import CLOSED, Job, jobs
from ullage.circuit.volumes import Numbers, content_m3
from ullage.transport.recipe import Circulate, DrawOff, Exchange, Exercise, Fill, Step
from ullage.transport.result import Run
from ullage.transport.solve import simulate

ROUNDING = 1e-12
"""Errors of books, over the content."""

REGIMES = st.sampled_from(["plug", "laminar", None])

bounded = settings(
    derandomize=True,
    max_examples=60,
    deadline=None,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


def old_m3(run: Run) -> float:
    """Return the old fluid in all parts of the first member."""
    return math.fsum(float(part.old_m3[0]) for part in run.parts.values())


def fluid_m3(run: Run) -> float:
    """Return all fluid of the first member."""
    return math.fsum(float(part.fluid_m3[0]) for part in run.parts.values())


def content(job: Job) -> float:
    """Return what the circuit holds when a job starts, at the best values."""
    return math.fsum(float(v[0]) for v in content_m3(job.circuit, Numbers()).values())


@bounded
@given(job=jobs(can_spill=True), regime=REGIMES)
def test_old_fluid_and_volume_are_conserved(job: Job, regime: str | None) -> None:
    """What was there and came in is what went out and is left, to 1e-12 of the content."""
    run = simulate(job.circuit, job.recipe, regime=regime, bracket=False)
    before = content(job)
    moved = math.fsum(float((s.poured_m3 - s.waste_m3 - s.spilled_m3)[0]) for s in run.steps)

    assert run.balance.old_before_m3 == pytest.approx(before, abs=ROUNDING * before)
    assert abs(before + moved - fluid_m3(run)) <= ROUNDING * before
    assert abs(run.balance.old_out_m3 + old_m3(run) - before) <= ROUNDING * before


@bounded
@given(job=jobs(can_spill=True, spread=True, most=4), seed=st.integers(0, 99))
def test_every_member_keeps_its_volume(job: Job, seed: int) -> None:
    """Each machine of an ensemble holds what it held, and what was poured, less what left."""
    run = simulate(job.circuit, job.recipe, members=5, seed=seed, bracket=False)
    going = ~np.isnan(run.remaining_share)
    before = sum(content_m3(job.circuit, Numbers(count=5, seed=seed, is_best=False)).values())
    moved = sum(np.nan_to_num(s.poured_m3 - s.waste_m3 - s.spilled_m3) for s in run.steps)
    after = sum(part.fluid_m3 for part in run.parts.values())

    assert np.abs(before + moved - after)[going] == pytest.approx(0.0, abs=1e-12 * np.max(before))


@bounded
@given(job=jobs(can_spill=True, spread=True, most=4), regime=REGIMES)
def test_shares_stay_between_nothing_and_all(job: Job, regime: str | None) -> None:
    """No part, step or tenth of a litre is less than new or more than old; nothing is negative."""
    run = simulate(job.circuit, job.recipe, members=3, regime=regime, bracket=False)
    for name, part in run.parts.items():
        assert np.all(part.fluid_m3 >= 0.0), name
        assert np.all(part.old_m3 >= 0.0), name
        assert np.all(part.old_m3 <= part.fluid_m3 + 1e-15), name
    for step in run.steps:
        for volume in (step.poured_m3, step.waste_m3, step.spilled_m3, step.waste_old_m3):
            assert np.all(np.nan_to_num(volume) >= -1e-15), step.do
        assert np.all(np.nan_to_num(step.lowest_m3) >= 0.0), step.do
        assert np.all(np.nan_to_num(step.lowest_m3) <= np.nan_to_num(step.level_m3) + 1e-12)
        assert np.all(np.nan_to_num(step.level_m3) <= job.circuit.reservoir.brim_m3.high + 1e-12)
        assert np.all(np.nan_to_num(step.waste_old_m3) <= np.nan_to_num(step.waste_m3) + 1e-12)
        assert np.nanmin(step.remaining_share, initial=1.0) >= 0.0
        assert np.nanmax(step.remaining_share, initial=0.0) <= 1.0
    for outflow in run.outflow:
        assert np.nanmin(outflow.old_share, initial=1.0) >= 0.0
        assert np.nanmax(outflow.old_share, initial=0.0) <= 1.0


@bounded
@given(job=jobs(kinds=(Exchange, Circulate), most=3), regime=REGIMES)
def test_whole_cycles_end_where_they_began(job: Job, regime: str | None) -> None:
    """Legs that were exercised hold at the end what they held before: no drift of the actuators."""
    run = simulate(job.circuit, job.recipe, regime=regime, bracket=False)
    assume(run.stop is None)
    before = content_m3(job.circuit, Numbers())
    for leg in job.circuit.legs:
        chamber = f"{leg.id}.chamber"

        assert float(run.parts[chamber].fluid_m3[0]) == pytest.approx(
            float(before[chamber][0]), abs=1e-15
        )


@bounded
@given(
    job=jobs(kinds=(Exchange,), can_return=False, most=1),
    less_ml=st.integers(100, 3000),
    more_ml=st.integers(1, 3000),
    regime=REGIMES,
)
def test_more_new_fluid_never_leaves_more_old(
    job: Job, less_ml: int, more_ml: int, regime: str | None
) -> None:
    """Every return diverted, no leg exercised: more poured, never more old fluid left."""
    left = [
        old_m3(
            simulate(
                job.circuit,
                replace(job.recipe, steps=(Exchange(litres_m3=volume_ml * 1e-6),)),
                regime=regime,
                bracket=False,
            )
        )
        for volume_ml in (less_ml, less_ml + more_ml)
    ]

    assert left[1] <= left[0] + ROUNDING * content(job)


@bounded
@given(job=jobs(can_spill=True), regime=REGIMES)
def test_no_step_brings_old_fluid_in(job: Job, regime: str | None) -> None:
    """Old fluid in the circuit never rises from step to step, nor within an exchange."""
    run = simulate(job.circuit, job.recipe, regime=regime, bracket=False)
    holds, last = content(job), content(job)
    for step in run.steps:
        holds += float((step.poured_m3 - step.waste_m3 - step.spilled_m3)[0])
        old = float(step.remaining_share[0]) * holds

        assert old <= last + 1e-12
        assert old <= last - float(step.waste_old_m3[0]) + 1e-12
        last = old


@bounded
@given(job=jobs(kinds=CLOSED, most=4), regime=REGIMES)
def test_a_closed_circuit_keeps_its_old_fluid(job: Job, regime: str | None) -> None:
    """Behind a renewed reservoir nothing that neither pours nor lets out changes the total."""
    start: tuple[Step, ...] = (DrawOff(), Fill(to_m3=job.circuit.reservoir.start_m3.best))
    begun = simulate(job.circuit, replace(job.recipe, steps=start), regime=regime, bracket=False)
    run = simulate(
        job.circuit,
        replace(job.recipe, steps=(*start, *job.recipe.steps)),
        regime=regime,
        bracket=False,
    )

    assert old_m3(run) == pytest.approx(old_m3(begun), abs=ROUNDING * content(job))
    assert fluid_m3(run) == pytest.approx(fluid_m3(begun), abs=ROUNDING * content(job))


@bounded
@given(job=jobs(spread=True, most=3), seed=st.integers(0, 99))
def test_one_seed_gives_one_answer(job: Job, seed: int) -> None:
    """The same seed gives the same bytes; more members leave the first ones as they were."""
    runs = [
        simulate(job.circuit, job.recipe, members=members, seed=seed, bracket=False)
        for members in (4, 4, 9)
    ]
    few, again, many = (
        np.array([run.remaining_share, *(part.old_m3 for part in run.parts.values())])
        for run in runs
    )

    assert few.tobytes() == again.tobytes()
    np.testing.assert_allclose(many[:, :4], few, rtol=1e-12, atol=1e-18)


@bounded
@given(job=jobs(spread=True, most=3))
def test_one_member_is_the_run_of_the_best_values(job: Job) -> None:
    """Asked for one, the solver draws nothing; asked for many, it tells that run beside them."""
    alone = simulate(job.circuit, job.recipe, members=1, seed=1, bracket=False)
    other = simulate(job.circuit, job.recipe, members=1, seed=2, bracket=False)
    beside = simulate(job.circuit, job.recipe, members=3, seed=3, bracket=False).best

    assert beside is not None
    assert alone.remaining_share.tobytes() == other.remaining_share.tobytes()
    assert alone.remaining_share.tobytes() == beside.remaining_share.tobytes()
    for name, part in alone.parts.items():
        assert part.old_m3.tobytes() == beside.parts[name].old_m3.tobytes(), name


@bounded
@given(job=jobs(kinds=(Exchange, Circulate), most=3), regime=REGIMES)
def test_exercising_moves_no_litres_of_its_own(job: Job, regime: str | None) -> None:
    """With or without exercising, an exchange pours and sends to waste the same litres."""
    still = tuple(
        replace(step, exercise=Exercise())
        for step in job.recipe.steps
        if isinstance(step, Exchange | Circulate)
    )
    run = simulate(job.circuit, job.recipe, regime=regime, bracket=False)
    other = simulate(job.circuit, replace(job.recipe, steps=still), regime=regime, bracket=False)
    assume(run.stop is None)
    assume(other.stop is None)

    for a, b in zip(run.steps, other.steps, strict=True):
        assert float(a.waste_m3[0]) == pytest.approx(float(b.waste_m3[0]), abs=1e-12)
        assert float(a.poured_m3[0]) == pytest.approx(float(b.poured_m3[0]), abs=1e-12)
