"""What ratings are worth, what an element keeps, and when cold fluid goes past it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import built_in
from ullage.errors import NotFound, OutOfRange
from ullage.fluids.filter_drop import FilterDrop
from ullage.planning.element import Element, element_of, ratio_at
from ullage.planning.filter_fit import FilterFit, filter_fit, flow_through_m3_s
from ullage.planning.finding import OURS, PRACTICE, Verdict, Weight
from ullage.units.convert import kelvin_from_degc

TEN = Element(size_um=10.0, ratio=75.0)
THREE_NOMINAL = Element(size_um=3.0, ratio=None)


def said(fit: FilterFit) -> dict[str, str]:
    """Return the sentences by their codes."""
    return {finding.code: finding.text for finding in fit.findings}


def test_a_tested_ratio_holds_at_its_size() -> None:
    """Below it the logarithm falls in proportion; above it is at least the same."""
    at = ratio_at(TEN, size_um=10.0)

    assert (at.low, at.high) == (pytest.approx(75.0), pytest.approx(75.0))
    assert ratio_at(TEN, size_um=5.0).low == pytest.approx(75.0**0.5)
    assert ratio_at(TEN, size_um=14.0).low == 75.0
    assert ratio_at(TEN, size_um=14.0).high == pytest.approx(75.0**1.4)
    assert ratio_at(TEN, size_um=50.0).high == 1000.0


def test_a_nominal_rating_is_not_an_absolute_one() -> None:
    """Three nominal may pass half of what a tested ten stops; common practice, no source."""
    nominal = ratio_at(THREE_NOMINAL, size_um=14.0)

    assert nominal.passes_high == 0.5
    assert ratio_at(TEN, size_um=14.0).passes_high == pytest.approx(1.0 / 75.0)
    assert ratio_at(THREE_NOMINAL, size_um=2.0).low == 1.0


def test_a_ten_superseded_by_a_three_on_the_van() -> None:
    """The box says finer, the box says nominal: nobody can tell, and the cold gets worse.

    That a return filter of 10 um is later replaced by one of 3 um is common practice, no source.
    """
    found = filter_fit(built_in("levelling-van"), successor=THREE_NOMINAL)

    assert found.verdict is Verdict.CANNOT_TELL
    assert {"nominal-is-not-absolute", "holds-back-less", "finer-fills-sooner"} <= set(said(found))
    assert next(f for f in found.findings if f.code == "nominal-is-not-absolute").source == PRACTICE
    assert found.bypassed_below_k is not None
    assert found.present_bypassed_below_k is not None
    assert found.bypassed_below_k.low > found.present_bypassed_below_k.high + 10.0
    assert found.successor is not None
    # The present one keeps 20/18/15; a half instead of 82 % at 4 um makes a class more of it.
    assert [part.number for part in found.successor.worst.parts] == [21, 19, 16]


def test_a_tested_three_is_a_matter_of_the_cold_alone() -> None:
    """It holds back more; guessed drops say from which temperature on."""
    found = filter_fit(built_in("levelling-van"), successor=Element(size_um=3.0, ratio=200.0))

    assert found.verdict is Verdict.WITH_CARE
    assert "holds-back-enough" in said(found)
    assert found.successor is not None
    assert found.present is not None
    assert all(
        new.number <= old.number
        for new, old in zip(found.successor.worst.parts, found.present.worst.parts, strict=True)
    )


def test_the_temperature_of_the_by_pass_by_hand() -> None:
    """1.7 bar over 0.2 bar at 30 mm2/s and 10 l/min, at 9.24 l/min: 276 mm2/s but for density."""
    van = built_in("levelling-van")
    found = filter_fit(van)
    assert found.bypassed_below_k is not None
    opens = found.bypassed_below_k.high
    rho = van.new_fluid.density_kg_m3(opens)

    assert van.new_fluid.nu_m2_s(opens) == pytest.approx(
        30e-6 * 1.7 / 0.2 * 10.0 / 9.24 * 870.0 / rho, rel=1e-6
    )


def test_papers_beat_guesses() -> None:
    """With a drop of its own the successor has one temperature, and no guess is mentioned."""
    sheet = FilterDrop(element_pa=3e4, flow_m3_s=10e-3 / 60.0, nu_m2_s=30e-6, rho_kg_m3=870.0)
    offered = Element(size_um=3.0, ratio=200.0, sheet=sheet, bypass_pa=3.5e5)
    found = filter_fit(built_in("levelling-van"), successor=offered)

    assert found.bypassed_below_k is not None
    assert found.bypassed_below_k.low == found.bypassed_below_k.high
    assert "drop-guessed" not in said(found)


def test_by_passed_on_a_working_day_is_against() -> None:
    """An element so tight that it opens at 20 degC filters nothing when the day begins."""
    sheet = FilterDrop(element_pa=2e5, flow_m3_s=10e-3 / 60.0, nu_m2_s=30e-6, rho_kg_m3=870.0)
    tight = Element(size_um=3.0, ratio=200.0, sheet=sheet)
    found = filter_fit(built_in("levelling-van"), successor=tight)

    assert found.verdict is Verdict.NO
    assert found.bypassed_below_k is not None
    assert found.bypassed_below_k.low > kelvin_from_degc(20.0)


def test_a_housing_without_papers_says_so() -> None:
    """The scissor lift's element is nominal, without a size: care, and nothing about the cold."""
    found = filter_fit(built_in("scissor-lift"))

    assert found.verdict is Verdict.WITH_CARE
    assert {"bypass-unknown", "code-unknown"} <= set(said(found))
    assert found.bypassed_below_k is None
    assert element_of(built_in("scissor-lift").node_by_id["filter"]).is_nominal


def test_no_element_no_quarrel() -> None:
    """Brakes have none."""
    assert filter_fit(built_in("wheel-brakes")).verdict is Verdict.YES
    assert filter_fit(built_in("wheel-brakes")).node is None


def test_a_part_of_the_flow_goes_through() -> None:
    """Four fifths of the loader's flow pass its filter."""
    loader = built_in("compact-loader")

    assert flow_through_m3_s(loader, "filter") == pytest.approx(0.8 * 25e-6 * 0.88 * 1100 / 60)


def test_a_target_that_is_missed_asks_for_care() -> None:
    """The same element at the same ingress keeps what there is: 20/18/15 against 18/16/13."""
    found = filter_fit(built_in("levelling-van"))
    clean = replace(
        built_in("levelling-van"),
        limits=replace(built_in("levelling-van").limits, target_code="20/18/15"),
    )

    assert next(f for f in found.findings if f.code == "code-not-held").source == OURS
    assert (
        next(f for f in filter_fit(clean).findings if f.code == "code-held").weight is Weight.FINE
    )


def test_a_housing_that_is_none_is_refused() -> None:
    """Those with an element are listed."""
    with pytest.raises(NotFound, match="filter"):
        filter_fit(built_in("levelling-van"), node="cooler")


@pytest.mark.parametrize(("size", "ratio"), [(0.1, 2.0), (10.0, 0.5), (float("nan"), None)])
def test_ratings_that_are_none_are_refused(size: float, ratio: float | None) -> None:
    """Sizes from half a micrometre, ratios from one."""
    with pytest.raises(OutOfRange):
        Element(size_um=size, ratio=ratio)
