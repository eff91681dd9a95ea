"""Which new fluids pass, which are refused and why, on built-in circuits and on changed ones."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import OIL, bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Limits
from ullage.errors import OutOfRange
from ullage.fluids.liquid import Liquid
from ullage.planning.finding import PRACTICE, Verdict, Weight
from ullage.planning.fluid_fit import FluidFit, blend_nu, fluid_fit
from ullage.units.convert import kelvin_from_degc


def pouring(new: Liquid, old: Liquid = OIL, **limits: object) -> Circuit:
    """Return the bench circuit with these fluids and limits."""
    return replace(bench(), fluid=old, new_fluid=new, limits=Limits(**limits))  # type: ignore[arg-type]


def weights(fit: FluidFit) -> dict[str, Weight]:
    """Return the weight of each finding by its code."""
    return {finding.code: finding.weight for finding in fit.findings}


@pytest.mark.parametrize("name", ["levelling-van", "scissor-lift", "wheel-brakes"])
def test_built_in_fluids_are_right(name: str) -> None:
    """What the built-in circuits are to be filled with belongs into them."""
    assert fluid_fit(built_in(name)).verdict in (Verdict.YES, Verdict.WITH_CARE)


def test_an_unknown_old_family_stops_the_job() -> None:
    """It is a verdict, not an error, and nothing else is judged."""
    found = fluid_fit(pouring(OIL, replace(OIL, class_="unknown")))

    assert found.verdict is Verdict.STOP
    assert set(weights(found)) == {"old-family-unknown"}
    assert found.blends == ()


def test_families_that_ruin_each_other_are_refused() -> None:
    """Glycol brake fluid into a mineral circuit: two reasons, mixing and seals."""
    glycol = Liquid(nu40_m2_s=7.2e-6, nu100_m2_s=2.2e-6, rho15_kg_m3=1058.0, class_="BRAKE-GLYCOL")
    found = fluid_fit(pouring(glycol, seals=("NBR",)))

    assert found.verdict is Verdict.NO
    assert weights(found)["mixing"] is Weight.AGAINST
    assert weights(found)["seal"] is Weight.AGAINST


def test_brake_fluid_against_rubber_of_oil_systems() -> None:
    """The wheel brakes' fluid stands EPDM; with NBR in it the verdict turns."""
    brakes = built_in("wheel-brakes")
    wrong = replace(brakes, limits=replace(brakes.limits, seals=("NBR",)))

    assert fluid_fit(brakes).verdict is Verdict.YES
    assert fluid_fit(wrong).verdict is Verdict.NO


def test_a_fluid_too_thick_for_a_cold_start() -> None:
    """Grade 46 at -25 degC is far above 1000 mm2/s: no, if the pump's own papers say so."""
    cold = kelvin_from_degc(-25.0)
    own = fluid_fit(pouring(OIL, coldest_start_k=cold, nu_start_max_m2_s=1e-3))
    usual = fluid_fit(pouring(OIL, coldest_start_k=cold))
    said = {f.code: f for f in usual.findings}["too-thick-cold"]

    assert weights(own)["too-thick-cold"] is Weight.AGAINST
    assert said.weight is Weight.CARE
    assert said.source == PRACTICE


def test_a_near_miss_is_a_matter_of_care() -> None:
    """The van's pump wants 8 mm2/s at 80 degC and gets 7.4: within the width of a grade."""
    said = {f.code: f for f in fluid_fit(built_in("levelling-van")).findings}["too-thin-hot"]

    assert said.weight is Weight.CARE
    # By pencil, from the double logarithms of 22.7, 5.7 and 8.7: 76.4 degC.
    assert "up to 76 degC" in said.text
    # It says what that does, and which fluid would do: one grade up, of the same index.
    assert "wears" in said.text
    assert "grade 32" in said.text
    assert "cooler" in said.text


def test_what_the_new_fluid_misses_is_not_said_again_of_mixtures() -> None:
    """The van's new fluid is too thin hot already; keeping the load mild would not end."""
    found = fluid_fit(built_in("levelling-van"))

    assert "mixture-too-thin" not in weights(found)


def test_a_thicker_grade_that_would_not_start_is_not_recommended() -> None:
    """Where the next grade is too thick in the cold, another kind of fluid is asked for."""
    found = fluid_fit(
        pouring(
            OIL,
            coldest_start_k=kelvin_from_degc(-12.0),
            hottest_k=kelvin_from_degc(90.0),
            nu_start_max_m2_s=1.2e-3,
            nu_run_min_m2_s=10e-6,
        )
    )
    said = {f.code: f for f in found.findings}["too-thin-hot"]

    assert "too thick for a start at -12 degC" in said.text


def test_a_fluid_too_thin_in_the_heat() -> None:
    """6.8 mm2/s at 100 degC falls short of a pump that needs ten."""
    found = fluid_fit(
        pouring(
            OIL,
            coldest_start_k=kelvin_from_degc(0.0),
            hottest_k=kelvin_from_degc(100.0),
            nu_run_min_m2_s=10e-6,
        )
    )

    assert weights(found)["too-thin-hot"] is Weight.AGAINST


def test_missing_limits_are_named_and_usual_ones_taken() -> None:
    """Four limits, all of common practice, and the answer says so."""
    found = fluid_fit(pouring(OIL))
    told = {caveat.code: caveat.text for caveat in found.caveats}

    assert len(found.limits.assumed) == 4
    assert PRACTICE in told["limits-assumed"]


def test_own_limits_need_no_apology() -> None:
    """The van's papers name all four."""
    assert fluid_fit(built_in("levelling-van")).limits.assumed == ()


def test_an_environmental_fluid_wants_two_percent() -> None:
    """An ester over mineral oil: with care at 10 %, and the rest is fine at 2 %."""
    ester = replace(OIL, class_="HEES")
    many = fluid_fit(pouring(ester), remainder_vfrac=0.1)
    few = fluid_fit(pouring(ester), remainder_vfrac=0.02)

    assert weights(many)["environmental-remainder"] is Weight.CARE
    assert weights(few)["environmental-remainder"] is Weight.FINE


def test_mixtures_lie_between_the_fluids() -> None:
    """Every rule keeps to the ends, and pure fluids are themselves."""
    thick = Liquid(nu40_m2_s=68e-6, nu100_m2_s=8.7e-6, rho15_kg_m3=880.0, class_="HM")
    found = fluid_fit(pouring(thick))
    shares = [blend.old_vfrac for blend in found.blends]

    assert shares == sorted(shares, reverse=True)
    assert found.blends[0].nu40_m2_s == pytest.approx(46e-6)
    assert found.blends[-1].nu40_m2_s == pytest.approx(68e-6)
    for thinner, thicker in zip(found.blends, found.blends[1:], strict=False):
        assert 46e-6 * (1 - 1e-9) <= thinner.nu40_low_m2_s <= thinner.nu40_high_m2_s
        assert thinner.nu40_m2_s < thicker.nu40_m2_s


def test_an_old_fluid_that_is_too_thin_shows_on_the_way() -> None:
    """Until most of it is gone the hot mixture is thinner than the pump needs."""
    thin = Liquid(nu40_m2_s=10e-6, nu100_m2_s=2.6e-6, rho15_kg_m3=860.0, class_="HM")
    found = fluid_fit(pouring(OIL, thin, hottest_k=kelvin_from_degc(80.0)))

    assert weights(found)["mixture-too-thin"] is Weight.CARE


def test_blend_of_like_and_like_is_the_same() -> None:
    """Any share of one fluid in itself."""
    nu = blend_nu(OIL, OIL, old_vfrac=0.3, temperature_k=kelvin_from_degc(60.0))

    assert nu == pytest.approx(OIL.nu_m2_s(kelvin_from_degc(60.0)))


def test_a_seal_nobody_has_on_file_is_said_so() -> None:
    """Polyurethane within a family is a note; across families it leaves the verdict open."""
    ester = replace(OIL, class_="HEES")

    assert weights(fluid_fit(pouring(OIL, seals=("PU",))))["seal-not-listed"] is Weight.NOTE
    assert fluid_fit(pouring(ester, seals=("PU",))).verdict in (Verdict.CANNOT_TELL, Verdict.NO)


@pytest.mark.parametrize("share", [-0.1, 1.1])
def test_a_remainder_outside_a_share_is_refused(share: float) -> None:
    """From nothing to all."""
    with pytest.raises(OutOfRange, match="remainder_vfrac"):
        fluid_fit(bench(), remainder_vfrac=share)
