"""Washout on paper: every model balances, none goes below what can be, limits are met."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.drain_fill import drains, drains_to_target
from ullage.fluids.washout import (
    Washout,
    dead_space,
    laminar,
    laminar_turnovers,
    mixed,
    mixed_turnovers,
    plug,
    shuttle_chamber,
    tanks_in_series,
    two_tanks,
)

Model = Callable[[float], Washout]
MODELS: dict[str, Model] = {
    "mixed": lambda x: mixed(turnovers=x),
    "plug": lambda x: plug(turnovers=x),
    "laminar": lambda x: laminar(turnovers=x),
    "three tanks": lambda x: tanks_in_series(turnovers=x, tanks=3),
    "forty tanks": lambda x: tanks_in_series(turnovers=x, tanks=40),
    "dead space": lambda x: dead_space(turnovers=x, active_share=0.7, mixed_feed_share=0.8),
    "two tanks": lambda x: two_tanks(first_m3=2e-3, second_m3=1e-3, through_m3=3e-3 * x),
    "two alike": lambda x: two_tanks(first_m3=1e-3, second_m3=1e-3, through_m3=2e-3 * x),
}
TURNOVERS = st.floats(min_value=0.0, max_value=50.0)


@pytest.mark.parametrize("name", MODELS)
@pytest.mark.parametrize("until", [0.3, 0.99, 2.7])
def test_what_left_and_what_stays_add_up(name: str, until: float) -> None:
    """Old fluid seen at the outlet and old fluid left inside make up the whole, in each model."""
    steps = 4000
    seen = math.fsum(
        MODELS[name]((k + 0.5) / steps * until).outlet_vfrac * until / steps for k in range(steps)
    )

    assert seen + MODELS[name](until).inside_vfrac == pytest.approx(1.0, abs=4e-4)


@pytest.mark.parametrize("name", MODELS)
@given(first=TURNOVERS, second=TURNOVERS)
def test_more_new_fluid_never_leaves_more_old(name: str, first: float, second: float) -> None:
    """Both figures stay between 0 and 1 and never rise."""
    less, more = (MODELS[name](x) for x in sorted((first, second)))

    for before, after in (
        (less.inside_vfrac, more.inside_vfrac),
        (less.outlet_vfrac, more.outlet_vfrac),
    ):
        assert 0.0 <= after <= before + 1e-12
        assert before <= 1.0


@pytest.mark.parametrize("name", MODELS)
def test_before_anything_is_poured_everything_is_old(name: str) -> None:
    """No model cleans without fluid; a short cut alone shows new fluid at once."""
    start = MODELS[name](0.0)

    assert start.inside_vfrac == 1.0
    assert start.outlet_vfrac == (0.8 if name == "dead space" else 1.0)


@given(turnovers=TURNOVERS)
def test_no_mixing_beats_a_piston(turnovers: float) -> None:
    """Nothing takes out more old fluid than it puts in new."""
    for model in MODELS.values():
        assert model(turnovers).inside_vfrac >= plug(turnovers=turnovers).inside_vfrac - 1e-12


def test_many_tanks_come_near_a_piston_and_one_is_a_mixed_vessel() -> None:
    """The chain of tanks spans the range between the two."""
    assert tanks_in_series(turnovers=0.8, tanks=1) == mixed(turnovers=0.8)
    assert tanks_in_series(turnovers=0.8, tanks=1000).inside_vfrac == pytest.approx(0.2, abs=1e-6)


def test_a_long_chain_does_not_underflow() -> None:
    """A thousand tanks at one volume: exp(-1000) alone would be nothing."""
    assert tanks_in_series(turnovers=1.0, tanks=1000).outlet_vfrac == pytest.approx(0.5, abs=0.01)


@given(target=st.floats(min_value=1e-4, max_value=1.0))
def test_turnovers_for_a_target_meet_it(target: float) -> None:
    """The inverse forms lead to their targets."""
    needed = laminar_turnovers(target_vfrac=target)

    assert mixed(turnovers=mixed_turnovers(target_vfrac=target)).inside_vfrac == pytest.approx(
        target
    )
    assert laminar(turnovers=needed.inside).inside_vfrac == pytest.approx(target)
    if needed.outlet > 0.5:
        assert laminar(turnovers=needed.outlet).outlet_vfrac == pytest.approx(target)


def test_a_clean_outlet_is_not_a_clean_line() -> None:
    """When a laminar line runs 5 % at its outlet, more than a tenth of the old is still in it."""
    at_outlet = laminar_turnovers(target_vfrac=0.05).outlet

    assert laminar(turnovers=at_outlet).inside_vfrac > 0.1


@given(
    share=st.floats(min_value=0.01, max_value=0.99), target=st.floats(min_value=1e-6, max_value=1)
)
def test_the_count_of_drains_is_the_smallest_that_does(share: float, target: float) -> None:
    """One drain less would not reach the target."""
    count = drains_to_target(total_m3=1.0, drained_m3=share, target_vfrac=target)

    assert (1.0 - share) ** count <= target * (1.0 + 1e-6)
    assert count == 0 or (1.0 - share) ** (count - 1) > target * (1.0 - 1e-6)


def test_a_target_that_a_drain_just_meets_costs_no_more() -> None:
    """Rounding must not buy one more container."""
    assert drains_to_target(total_m3=0.010, drained_m3=0.004, target_vfrac=0.6**5) == 5
    assert drains_to_target(total_m3=0.010, drained_m3=0.010, target_vfrac=0.001) == 1


def test_the_order_of_unequal_drains_does_not_matter() -> None:
    """A product has no order."""
    one = drains(total_m3=0.01, drained_m3=[0.001, 0.004, 0.002])[-1]
    other = drains(total_m3=0.01, drained_m3=[0.004, 0.002, 0.001])[-1]

    assert one == pytest.approx(other)


def test_several_small_drains_beat_a_purge_and_lose_to_a_piston() -> None:
    """The same litres: displacement before drains before dilution."""
    drained = drains(total_m3=0.010, drained_m3=[0.004] * 2)[-1]

    assert plug(turnovers=0.8).inside_vfrac < drained < mixed(turnovers=0.8).inside_vfrac


@pytest.mark.parametrize("line_m3", [3e-4, 5e-4])
def test_a_line_that_holds_the_stroke_is_never_renewed(line_m3: float) -> None:
    """Old fluid only shuttles, however often."""
    assert shuttle_chamber(swept_m3=3e-4, unswept_m3=1e-4, line_m3=line_m3, strokes=10_000) == 1.0


def test_each_stroke_renews_what_it_holds_more_than_the_line() -> None:
    """The closed form of the shuttle."""
    left = shuttle_chamber(swept_m3=3e-4, unswept_m3=1e-4, line_m3=1e-4, strokes=3)

    assert left == pytest.approx(0.5**3)
    assert shuttle_chamber(swept_m3=3e-4, unswept_m3=1e-4, line_m3=1e-4, strokes=0) == 1.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: mixed(turnovers=-1.0),
        lambda: plug(turnovers=math.nan),
        lambda: laminar(turnovers=math.inf),
        lambda: tanks_in_series(turnovers=1.0, tanks=0),
        lambda: tanks_in_series(turnovers=1.0, tanks=2.5),
        lambda: dead_space(turnovers=1.0, active_share=0.0),
        lambda: dead_space(turnovers=1.0, active_share=0.5, mixed_feed_share=1.1),
        lambda: two_tanks(first_m3=0.0, second_m3=1.0, through_m3=1.0),
        lambda: drains(total_m3=0.01, drained_m3=[0.02]),
        lambda: drains(total_m3=0.01, drained_m3=[]),
        lambda: drains_to_target(total_m3=0.01, drained_m3=0.0, target_vfrac=0.5),
        lambda: drains_to_target(total_m3=0.01, drained_m3=0.001, target_vfrac=0.0),
        lambda: mixed_turnovers(target_vfrac=0.0),
        lambda: laminar_turnovers(target_vfrac=1.2),
        lambda: shuttle_chamber(swept_m3=0.0, unswept_m3=1.0, line_m3=0.0, strokes=1),
        lambda: shuttle_chamber(swept_m3=1.0, unswept_m3=1.0, line_m3=0.0, strokes=0.5),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object]) -> None:
    """Every form says no to volumes, shares and counts that cannot be."""
    with pytest.raises(OutOfRange):
        call()
