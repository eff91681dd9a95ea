"""Filters: what they hold back, how long a loop takes, when they bypass."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.errors import OutOfRange
from ullage.fluids.filter_drop import (
    FilterDrop,
    bypass_temperature_k,
    bypass_viscosity_m2_s,
    clean_drop_pa,
    life_used_share,
)
from ullage.fluids.filtration import (
    FilterLoop,
    efficiency_share,
    loop_concentration,
    retention,
    time_to_concentration,
)
from ullage.fluids.viscosity import walther_line

LOOP = FilterLoop(
    volume_m3=0.012, flow_m3_s=1e-4, efficiency_share=1.0 - 1.0 / 75.0, ingress_per_s=2000.0
)
SHEET = FilterDrop(
    element_pa=15e3, housing_pa=5e3, flow_m3_s=10e-3 / 60, nu_m2_s=30e-6, rho_kg_m3=870.0
)


@given(target=st.floats(min_value=1.01, max_value=100.0))
def test_the_time_to_a_target_leads_to_the_target(target: float) -> None:
    """Time and concentration are each other's inverse."""
    target_per_m3 = target * LOOP.steady_per_m3
    time = time_to_concentration(loop=LOOP, start_per_m3=1e10, target_per_m3=target_per_m3)
    reached = loop_concentration(loop=LOOP, start_per_m3=1e10, time_s=time.time_s)

    assert reached == pytest.approx(target_per_m3, rel=1e-9)


def test_a_target_below_the_steady_state_is_never_met() -> None:
    """The sentence says where the loop settles instead of giving an endless time."""
    with pytest.raises(OutOfRange, match="ingress and filter settle there"):
        time_to_concentration(loop=LOOP, start_per_m3=1e10, target_per_m3=0.9 * LOOP.steady_per_m3)


@pytest.mark.parametrize(
    ("start", "code"), [(0.5, "rises-again"), (1.0, "rises-again"), (1.9, "clean-already")]
)
def test_a_start_that_is_clean_enough_says_whether_it_stays_so(start: float, code: str) -> None:
    """Below the steady state the fluid gets dirtier while it is filtered."""
    target = 0.95 if code == "rises-again" else 2.0
    start = min(start, target)
    found = time_to_concentration(
        loop=LOOP,
        start_per_m3=start * LOOP.steady_per_m3,
        target_per_m3=target * LOOP.steady_per_m3,
    )

    assert found.time_s == 0.0
    assert [caveat.code for caveat in found.caveats] == [code]


def test_a_fresh_feed_dilutes_even_without_a_filter() -> None:
    """Pouring and draining alone approaches the dirt of what is poured."""
    feed = FilterLoop(
        volume_m3=0.01, flow_m3_s=0.0, efficiency_share=0.0, feed_m3_s=1e-4, feed_per_m3=5e9
    )

    assert feed.steady_per_m3 == pytest.approx(5e9)
    assert loop_concentration(loop=feed, start_per_m3=9e9, time_s=100.0) == pytest.approx(
        5e9 + 4e9 * math.exp(-1.0)
    )


@pytest.mark.parametrize(
    "bad",
    [
        {"flow_m3_s": 0.0},
        {"efficiency_share": 0.0},
        {"efficiency_share": 1.5},
        {"volume_m3": 0.0},
        {"ingress_per_s": -1.0},
    ],
)
def test_a_loop_that_cannot_be_is_refused(bad: dict[str, float]) -> None:
    """A loop that cleans nothing, or has no volume, has no answer."""
    with pytest.raises(OutOfRange):
        FilterLoop(**({"volume_m3": 0.01, "flow_m3_s": 1e-4, "efficiency_share": 0.9} | bad))


def test_a_filter_that_gives_more_than_it_gets_is_refused() -> None:
    """More particles behind than before means swapped bottles or a shedding filter."""
    with pytest.raises(OutOfRange, match="swapped"):
        retention(upstream=50, downstream=1000)
    with pytest.raises(OutOfRange, match="count longer"):
        retention(upstream=50, downstream=0)


def test_a_ratio_beyond_the_test_is_a_ratio_with_a_caveat() -> None:
    """The standard does not tell ratios above 1000 apart."""
    found = retention(upstream=1e6, downstream=100.0)

    assert [caveat.code for caveat in found.caveats] == ["above-1000"]
    assert [c.code for c in retention(upstream=100.0, downstream=10.0).caveats] == ["few-counts"]


@given(ratio=st.floats(min_value=1.0, max_value=1e5))
def test_ratio_and_efficiency_say_the_same(ratio: float) -> None:
    """An efficiency leads back to its ratio."""
    assert 1.0 / (1.0 - efficiency_share(ratio=ratio)) == pytest.approx(ratio, rel=1e-9)


def test_the_housing_does_not_care_about_viscosity() -> None:
    """Four times as thick makes the element's part four times as large and leaves the housing's."""
    drop_pa = clean_drop_pa(sheet=SHEET, flow_m3_s=SHEET.flow_m3_s, nu_m2_s=120e-6, rho_kg_m3=870.0)

    assert drop_pa == pytest.approx(4 * 15e3 + 5e3)


def test_the_bypass_opens_where_the_drop_says_so() -> None:
    """At the viscosity and at the temperature found, the clean drop is that of the bypass."""
    line = walther_line(t1_k=313.15, nu1_m2_s=22e-6, t2_k=373.15, nu2_m2_s=5e-6)
    given = {"sheet": SHEET, "flow_m3_s": 8e-3 / 60, "rho_kg_m3": 870.0}
    nu_m2_s = bypass_viscosity_m2_s(bypass_pa=1.7e5, **given)
    at_k = bypass_temperature_k(bypass_pa=1.7e5, line=line, **given)

    assert clean_drop_pa(nu_m2_s=nu_m2_s, **given) == pytest.approx(1.7e5)
    assert line.nu_m2_s(at_k) == pytest.approx(nu_m2_s, rel=1e-6)


def test_a_housing_that_alone_opens_the_bypass_is_refused() -> None:
    """No warming helps a filter that is too small."""
    with pytest.raises(OutOfRange, match="too small for this flow"):
        bypass_viscosity_m2_s(
            sheet=SHEET, flow_m3_s=10 * SHEET.flow_m3_s, rho_kg_m3=870.0, bypass_pa=4e5
        )


@pytest.mark.parametrize("bad", [-0.1, 1.1])
def test_life_is_a_share(bad: float) -> None:
    """A drop beyond the last one is not a share of it."""
    with pytest.raises(OutOfRange):
        life_used_share(drop_share=bad)
