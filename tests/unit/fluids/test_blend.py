"""Mixtures: bounds, agreement of the rules, and the share read back from viscosity."""

from __future__ import annotations

import pytest

from ullage.errors import Contradiction, OutOfRange
from ullage.fluids.blend import (
    BlendRule,
    blend_nu_m2_s,
    lederer_alpha,
    lederer_roegiers_pa_s,
    mass_fractions,
    old_fraction_from_viscosity,
)


@pytest.mark.parametrize("rule", BlendRule)
@pytest.mark.parametrize("share", [0.0, 0.25, 0.9, 1.0])
def test_a_mixture_lies_between_its_parts(rule: BlendRule, share: float) -> None:
    """Every rule stays between the thinnest and the thickest part and meets both ends."""
    mixed = blend_nu_m2_s(nu_m2_s=[22e-6, 68e-6], fractions=[share, 1.0 - share], rule=rule)

    assert 22e-6 * (1 - 1e-9) <= mixed <= 68e-6 * (1 + 1e-9)
    if share in (0.0, 1.0):
        assert mixed == pytest.approx(22e-6 if share else 68e-6)


def test_the_rules_agree_within_four_percent_at_a_ratio_of_two() -> None:
    """The choice of rule matters little where old and new fluid are alike."""
    found = [blend_nu_m2_s(nu_m2_s=[34e-6, 68e-6], fractions=[0.5, 0.5], rule=r) for r in BlendRule]

    assert max(found) / min(found) < 1.045


def test_three_parts_mix_in_any_order() -> None:
    """The order of the list changes nothing."""
    one = blend_nu_m2_s(nu_m2_s=[10e-6, 20e-6, 40e-6], fractions=[0.2, 0.3, 0.5])
    other = blend_nu_m2_s(nu_m2_s=[40e-6, 10e-6, 20e-6], fractions=[0.5, 0.2, 0.3])

    assert one == pytest.approx(other)


@pytest.mark.parametrize(
    "fractions", [[0.5, 0.4], [0.5], [1.2, -0.2], [float("nan"), 0.5], [], [0.3, 0.3, 0.4]]
)
def test_shares_that_are_no_recipe_are_refused(fractions: list[float]) -> None:
    """Sums other than 1, negative shares and lists of other lengths give no mixture."""
    with pytest.raises(OutOfRange, match="fractions"):
        blend_nu_m2_s(nu_m2_s=[32e-6, 68e-6], fractions=fractions)


@pytest.mark.parametrize("rule", BlendRule)
def test_the_share_of_a_mixture_is_found_again(rule: BlendRule) -> None:
    """Mixing and reading back are inverse."""
    mixed = blend_nu_m2_s(nu_m2_s=[30e-6, 46e-6], fractions=[0.37, 0.63], rule=rule)
    found = old_fraction_from_viscosity(
        mixture_m2_s=mixed, old_m2_s=30e-6, new_m2_s=46e-6, rule=rule
    )

    assert found.share == pytest.approx(0.37, abs=1e-6)


def test_alike_fluids_are_refused_and_nearly_alike_ones_warned_of() -> None:
    """4 % apart gives no share, 10 % apart a share with a caveat."""
    with pytest.raises(OutOfRange, match="colour or a tracer"):
        old_fraction_from_viscosity(mixture_m2_s=31.5e-6, old_m2_s=31e-6, new_m2_s=32e-6)

    near = old_fraction_from_viscosity(mixture_m2_s=33e-6, old_m2_s=31.5e-6, new_m2_s=34.7e-6)
    assert [caveat.code for caveat in near.caveats] == ["ill-conditioned"]


def test_a_sample_just_outside_is_clipped_and_says_so() -> None:
    """Within the uncertainty the nearer end is the answer."""
    found = old_fraction_from_viscosity(mixture_m2_s=46.4e-6, old_m2_s=30e-6, new_m2_s=46e-6)

    assert found.share == 0.0
    assert [caveat.code for caveat in found.caveats] == ["clipped"]


def test_a_sample_far_outside_contradicts() -> None:
    """A mixture thicker than both parts is no mixture of them."""
    with pytest.raises(Contradiction, match="one temperature"):
        old_fraction_from_viscosity(mixture_m2_s=60e-6, old_m2_s=30e-6, new_m2_s=46e-6)


def test_mass_fractions_follow_density() -> None:
    """The denser part weighs more than its share of volume."""
    light, heavy = mass_fractions(vfrac=[0.5, 0.5], rho_kg_m3=[860.0, 1010.0])

    assert light < 0.5 < heavy
    assert light + heavy == pytest.approx(1.0)


def test_a_fitted_constant_meets_its_own_mixture() -> None:
    """The rule of one constant passes through the point it was fitted to."""
    parts = {"mu1_pa_s": 0.040, "mu2_pa_s": 0.012, "fraction2": 0.4}
    alpha = lederer_alpha(**parts, mixture_pa_s=0.022)

    assert lederer_roegiers_pa_s(**parts, alpha=alpha) == pytest.approx(0.022)
