"""How thick is a mixture, and what does its viscosity say about the share of old fluid in it?

Four published rules, all of one shape: a transform of viscosity is averaged over the shares and
turned back. They differ by a few per cent at a viscosity ratio of two. Which share they ask for
differs too: volume, mass or mole.

Left out: mixtures thickened by polymer or by emulsified water, for which none of the rules holds.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Generic, overload

from ullage.errors import Contradiction, OutOfRange
from ullage.fluids.viscosity import nu_from_z, z_from_nu
from ullage.units.caveat import Caveat
from ullage.units.convert import MM2_S_M2_S
from ullage.units.elementwise import (
    Number_co,
    anywhere,
    bounded,
    caveats_where,
    cbrt,
    exp,
    first_place,
    greatest,
    hypot,
    kept,
    least,
    log,
    magnitude,
    placed,
    refuse_where,
    total,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

SUM_ROOM = 1e-6  # shares typed with six decimals may miss 1 by this much
THINNEST_LOG_M2_S = 0.5e-6  # the double logarithm of the blending number runs away below
ALIKE_RATIO = 1.05  # common practice, no source: closer viscosities cannot tell two fluids apart
USELESS_SHARE = 0.1  # a standard uncertainty of the share above this deserves a warning


class BlendRule(Enum):
    """Which rule mixes the viscosities."""

    ASTM_D7152 = "astm-d7152"
    BLENDING_NUMBER = "blending-number"
    ARRHENIUS = "arrhenius"
    KENDALL_MONROE = "kendall-monroe"


SHARE_BASIS = {
    BlendRule.ASTM_D7152: "volume",
    BlendRule.BLENDING_NUMBER: "mass",
    BlendRule.ARRHENIUS: "volume",
    BlendRule.KENDALL_MONROE: "mole",
}
"""What the fractions of a rule are shares of."""


@overload
def blending_number(nu_m2_s: float) -> float: ...
@overload
def blending_number(nu_m2_s: Array) -> Array: ...
def blending_number(nu_m2_s: Numbers) -> Numbers:
    """Return the viscosity blending number of Refutas.

    Parameters
    ----------
    nu_m2_s : scalar or (...)
        Kinematic viscosity, from 0.5 mm2/s. [m2/s]

    Returns
    -------
    number : scalar or (...)
        Blending number, linear in mass fractions. [-]

    Raises
    ------
    OutOfRange
        If the viscosity is below 0.5 mm2/s.

    Validity
    --------
    Petroleum liquids at one temperature.

    Source
    ------
    ``maples-2000``.

    Examples
    --------
    >>> round(blending_number(2.234e-6), 2)
    12.48
    """
    bounded("nu_m2_s", nu_m2_s, low=THINNEST_LOG_M2_S, unit="m2/s")
    return 14.534 * log(log(nu_m2_s / MM2_S_M2_S + 0.8)) + 10.975


def _nu_from_blending_number(number: Numbers) -> Numbers:
    """Turn a blending number back into a viscosity."""
    return (exp(exp((number - 10.975) / 14.534)) - 0.8) * MM2_S_M2_S


def _double_log(nu_m2_s: Numbers) -> Numbers:
    """Return the transform of ASTM D7152, ln ln Z."""
    bounded("nu_m2_s", nu_m2_s, low=THINNEST_LOG_M2_S, unit="m2/s")
    return log(log(z_from_nu(nu_m2_s)))


_TRANSFORMS: dict[BlendRule, tuple[Callable[[Numbers], Numbers], Callable[[Numbers], Numbers]]] = {
    BlendRule.ASTM_D7152: (_double_log, lambda w: nu_from_z(exp(exp(w)))),
    BlendRule.BLENDING_NUMBER: (lambda nu: blending_number(nu), _nu_from_blending_number),
    BlendRule.ARRHENIUS: (log, exp),
    BlendRule.KENDALL_MONROE: (cbrt, lambda root: root**3),
}


@overload
def blend_nu_m2_s(
    *,
    nu_m2_s: Sequence[float],
    fractions: Sequence[float],
    rule: BlendRule = BlendRule.ASTM_D7152,
) -> float: ...
@overload
def blend_nu_m2_s(
    *,
    nu_m2_s: Sequence[Numbers],
    fractions: Sequence[Numbers],
    rule: BlendRule = BlendRule.ASTM_D7152,
) -> Array: ...
def blend_nu_m2_s(
    *,
    nu_m2_s: Sequence[Numbers],
    fractions: Sequence[Numbers],
    rule: BlendRule = BlendRule.ASTM_D7152,
) -> Numbers:
    """Return the kinematic viscosity of a mixture at the temperature of its parts' viscosities.

    Parameters
    ----------
    nu_m2_s : (n,) of scalar or (...)
        Kinematic viscosities, all at one temperature. [m2/s]
    fractions : (n,) of scalar or (...)
        Shares of volume, mass or mole as `SHARE_BASIS` says, that add up to 1. [-]
    rule : BlendRule
        Which rule. [-]

    Returns
    -------
    nu_m2_s : scalar or (...)
        Viscosity of the mixture, between the thinnest and the thickest part. [m2/s]

    Raises
    ------
    OutOfRange
        If there are no parts, their numbers differ, a share is outside 0 to 1, the shares do not
        add up, or a viscosity is not positive (for the double logarithms: below 0.5 mm2/s).

    Validity
    --------
    Petroleum liquids without much polymer. The rules agree within 4 % at a viscosity ratio of two
    and drift apart beyond; measured mixtures of like oils come within a few per cent.

    Source
    ------
    ``astm-d7152`` (form of the double logarithm from memory); ``maples-2000``; ``arrhenius-1887``;
    ``kendall-monroe-1917``.

    Examples
    --------
    >>> round(blend_nu_m2_s(nu_m2_s=[32e-6, 68e-6], fractions=[0.5, 0.5]) * 1e6, 2)
    45.86
    """
    _check_shares(nu_m2_s, fractions)
    forward, back = _TRANSFORMS[rule]
    if len(nu_m2_s) == 1:
        # One part alone is itself, for each of its shares (all of them 1).
        return nu_m2_s[0] + 0.0 * fractions[0]
    return back(sum(share * forward(nu) for share, nu in zip(fractions, nu_m2_s, strict=True)))


def _check_shares(nu_m2_s: Sequence[Numbers], fractions: Sequence[Numbers]) -> None:
    """Refuse lists that are no recipe of a mixture."""
    if len(nu_m2_s) == 0 or len(nu_m2_s) != len(fractions):
        raise OutOfRange(
            "fractions",
            f"{len(fractions)} shares for {len(nu_m2_s)} viscosities",
            "as many as there are viscosities, at least one",
        )
    for nu in nu_m2_s:
        bounded("nu_m2_s", nu, above=0.0, unit="m2/s")
    for share in fractions:
        bounded("fractions", share, low=0.0, high=1.0)
    whole_share = total(*fractions)
    is_wrong = magnitude(whole_share - 1.0) > SUM_ROOM
    if anywhere(is_wrong):
        place, (found,) = first_place(is_wrong, whole_share)
        raise OutOfRange(
            placed("fractions", place), f"a sum of {found:.9g}", "shares that add up to 1"
        )


@overload
def mass_fractions(*, vfrac: Sequence[float], rho_kg_m3: Sequence[float]) -> tuple[float, ...]: ...
@overload
def mass_fractions(
    *, vfrac: Sequence[Numbers], rho_kg_m3: Sequence[Numbers]
) -> tuple[Array, ...]: ...
def mass_fractions(
    *, vfrac: Sequence[Numbers], rho_kg_m3: Sequence[Numbers]
) -> tuple[Numbers, ...]:
    """Return shares of mass from shares of volume.

    Parameters
    ----------
    vfrac : (n,) of scalar or (...)
        Shares of volume before mixing. [m3/m3]
    rho_kg_m3 : (n,) of scalar or (...)
        Densities at one temperature. [kg/m3]

    Returns
    -------
    wfrac : (n,) of scalar or (...)
        Shares of mass, adding up to 1. [kg/kg]

    Raises
    ------
    OutOfRange
        If a share is negative, all are zero, or a density is not positive.

    Validity
    --------
    Exact: mass is conserved.

    Source
    ------
    Balance of mass.

    Examples
    --------
    >>> [round(share, 4) for share in mass_fractions(vfrac=[0.5, 0.5], rho_kg_m3=[860.0, 900.0])]
    [0.4886, 0.5114]
    """
    masses = [
        bounded("vfrac", share, low=0.0) * bounded("rho_kg_m3", rho, above=0.0, unit="kg/m3")
        for share, rho in zip(vfrac, rho_kg_m3, strict=True)
    ]
    mass_kg_m3 = bounded("vfrac", total(*masses), above=0.0)
    return kept(*(mass / mass_kg_m3 for mass in masses))


@overload
def lederer_roegiers_pa_s(
    *, mu1_pa_s: float, mu2_pa_s: float, fraction2: float, alpha: float
) -> float: ...
@overload
def lederer_roegiers_pa_s(
    *, mu1_pa_s: Numbers, mu2_pa_s: Numbers, fraction2: Numbers, alpha: Numbers
) -> Array: ...
def lederer_roegiers_pa_s(
    *, mu1_pa_s: Numbers, mu2_pa_s: Numbers, fraction2: Numbers, alpha: Numbers
) -> Numbers:
    """Return the dynamic viscosity of a two-part mixture by a rule with one fitted constant.

    Parameters
    ----------
    mu1_pa_s : scalar or (...)
        Dynamic viscosity of the first part. [Pa s]
    mu2_pa_s : scalar or (...)
        Dynamic viscosity of the second part, same temperature. [Pa s]
    fraction2 : scalar or (...)
        Share of the second part, 0 to 1. [-]
    alpha : scalar or (...)
        Fitted constant, above 0; 1 makes it the rule of Arrhenius. See `lederer_alpha`. [-]

    Returns
    -------
    mu_pa_s : scalar or (...)
        Dynamic viscosity of the mixture. [Pa s]

    Raises
    ------
    OutOfRange
        If a viscosity or alpha is not positive or the share is outside 0 to 1.

    Validity
    --------
    As good as the measured mixture that alpha was fitted to.

    Source
    ------
    ``lederer-1931``; ``roegiers-1951``.

    Examples
    --------
    >>> round(lederer_roegiers_pa_s(mu1_pa_s=0.04, mu2_pa_s=0.01, fraction2=0.5, alpha=1.0), 9)
    0.02
    """
    log1 = log(bounded("mu1_pa_s", mu1_pa_s, above=0.0, unit="Pa s"))
    log2 = log(bounded("mu2_pa_s", mu2_pa_s, above=0.0, unit="Pa s"))
    bounded("alpha", alpha, above=0.0)
    weight1 = 1.0 - bounded("fraction2", fraction2, low=0.0, high=1.0)
    weight2 = alpha * fraction2
    return exp((weight1 * log1 + weight2 * log2) / (weight1 + weight2))


@overload
def lederer_alpha(
    *, mu1_pa_s: float, mu2_pa_s: float, fraction2: float, mixture_pa_s: float
) -> float: ...
@overload
def lederer_alpha(
    *, mu1_pa_s: Numbers, mu2_pa_s: Numbers, fraction2: Numbers, mixture_pa_s: Numbers
) -> Array: ...
def lederer_alpha(
    *, mu1_pa_s: Numbers, mu2_pa_s: Numbers, fraction2: Numbers, mixture_pa_s: Numbers
) -> Numbers:
    """Return the constant that makes the rule of Lederer and Roegiers meet one measured mixture.

    Parameters
    ----------
    mu1_pa_s : scalar or (...)
        Dynamic viscosity of the first part. [Pa s]
    mu2_pa_s : scalar or (...)
        Dynamic viscosity of the second part, different from the first. [Pa s]
    fraction2 : scalar or (...)
        Share of the second part in the measured mixture, between 0 and 1. [-]
    mixture_pa_s : scalar or (...)
        Dynamic viscosity of that mixture, strictly between those of its parts. [Pa s]

    Returns
    -------
    alpha : scalar or (...)
        Constant of the rule. [-]

    Raises
    ------
    OutOfRange
        If the mixture does not lie between its parts or the share is 0 or 1.

    Validity
    --------
    For the two liquids and the temperature measured.

    Source
    ------
    ``lederer-1931``; ``roegiers-1951``, solved for the constant.

    Examples
    --------
    >>> round(lederer_alpha(mu1_pa_s=0.04, mu2_pa_s=0.01, fraction2=0.5, mixture_pa_s=0.02), 9)
    1.0
    """
    bounded("fraction2", fraction2, above=0.0, below=1.0)
    bounded("mu1_pa_s", mu1_pa_s, above=0.0, unit="Pa s")
    bounded("mu2_pa_s", mu2_pa_s, above=0.0, unit="Pa s")
    low, high = least(mu1_pa_s, mu2_pa_s), greatest(mu1_pa_s, mu2_pa_s)
    bounded("mixture_pa_s", mixture_pa_s, above=low, below=high, unit="Pa s")
    log_mixture = log(mixture_pa_s)
    return (
        (1.0 - fraction2)
        * (log(mu1_pa_s) - log_mixture)
        / (fraction2 * (log_mixture - log(mu2_pa_s)))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OldFraction(Generic[Number_co]):
    """The share of old fluid that a viscosity speaks for.

    ``share`` and its standard uncertainty ``u_share`` are of the basis of the rule (`SHARE_BASIS`);
    ``share_per_relative_change`` is how far the share moves when viscosity is off by its own size.
    """

    share: Number_co
    u_share: Number_co
    share_per_relative_change: Number_co
    rule: BlendRule
    caveats: tuple[Caveat, ...]


@overload
def old_fraction_from_viscosity(
    *,
    mixture_m2_s: float,
    old_m2_s: float,
    new_m2_s: float,
    u_relative: float = 0.01,
    rule: BlendRule = BlendRule.ASTM_D7152,
) -> OldFraction: ...
@overload
def old_fraction_from_viscosity(
    *,
    mixture_m2_s: Numbers,
    old_m2_s: Numbers,
    new_m2_s: Numbers,
    u_relative: Numbers = 0.01,
    rule: BlendRule = BlendRule.ASTM_D7152,
) -> OldFraction[Array]: ...
def old_fraction_from_viscosity(
    *,
    mixture_m2_s: Numbers,
    old_m2_s: Numbers,
    new_m2_s: Numbers,
    u_relative: Numbers = 0.01,
    rule: BlendRule = BlendRule.ASTM_D7152,
) -> OldFraction[Numbers]:
    """Return the share of old fluid in a mixture from three viscosities at one temperature.

    Parameters
    ----------
    mixture_m2_s : scalar or (...)
        Kinematic viscosity of the sample. [m2/s]
    old_m2_s : scalar or (...)
        Kinematic viscosity of the old fluid, at least 5 % from that of the new. [m2/s]
    new_m2_s : scalar or (...)
        Kinematic viscosity of the new fluid. [m2/s]
    u_relative : scalar or (...)
        Relative standard uncertainty of each of the three viscosities. [-]
    rule : BlendRule
        Which rule. [-]

    Returns
    -------
    result : OldFraction
        Share, its standard uncertainty and caveats.

    Raises
    ------
    OutOfRange
        If old and new differ by less than 5 % or a value is absurd.
    Contradiction
        If the sample lies outside old and new by more than three standard uncertainties.

    Validity
    --------
    Ill-conditioned: at a viscosity ratio of 1.5 an error of 1 % moves the share by 2.5 points. Old
    fluid that has thickened or sheared needs its own measured viscosity. The error of the rule
    itself (a few per cent of viscosity) is not in the uncertainty.

    Source
    ------
    Derived: the rule solved for the share, first-order uncertainty.

    Examples
    --------
    >>> found = old_fraction_from_viscosity(
    ...     mixture_m2_s=45.8565e-6, old_m2_s=32e-6, new_m2_s=68e-6, u_relative=0.005
    ... )
    >>> round(found.share, 3), round(found.u_share, 3)
    (0.5, 0.008)
    """
    for name, value in (("old_m2_s", old_m2_s), ("new_m2_s", new_m2_s)):
        bounded(name, value, above=0.0, unit="m2/s")
    bounded("mixture_m2_s", mixture_m2_s, above=0.0, unit="m2/s")
    bounded("u_relative", u_relative, low=0.0, high=0.5)
    refuse_where(
        greatest(old_m2_s, new_m2_s) < ALIKE_RATIO * least(old_m2_s, new_m2_s),
        "old_m2_s",
        old_m2_s,
        lambda new: f"at least 5 % away from the new fluid's {new:.6g} m2/s",
        "two fluids this alike cannot be told apart by viscosity; use colour or a tracer",
        unit="m2/s",
        told_by=(new_m2_s,),
    )
    forward, _ = _TRANSFORMS[rule]
    w_mix, w_old, w_new = forward(mixture_m2_s), forward(old_m2_s), forward(new_m2_s)
    share = (w_mix - w_new) / (w_old - w_new)
    slopes = [_log_slope(forward, nu) for nu in (mixture_m2_s, old_m2_s, new_m2_s)]
    gain = magnitude(slopes[0] / (w_old - w_new))
    u_share = (
        u_relative
        * hypot(slopes[0], share * slopes[1], (1.0 - share) * slopes[2])
        / magnitude(w_old - w_new)
    )
    outside = greatest(greatest(-share, share - 1.0), 0.0)
    is_foreign = outside > 3.0 * u_share + 1e-9
    if anywhere(is_foreign):
        place, (old, new, mixture) = first_place(is_foreign, old_m2_s, new_m2_s, mixture_m2_s)
        raise Contradiction(
            f"{placed('mixture_m2_s', place)} must lie between the old fluid's {old:.6g} m2/s and "
            f"the new one's {new:.6g} m2/s, got {mixture:.6g} m2/s; check that all three were "
            "measured at one temperature and that no third fluid is in the sample"
        )
    share, u_share, gain = kept(least(greatest(share, 0.0), 1.0), u_share, gain)
    return OldFraction(
        share=share,
        u_share=u_share,
        share_per_relative_change=gain,
        rule=rule,
        caveats=caveats_where(
            (
                u_share > USELESS_SHARE,
                Caveat(
                    code="ill-conditioned",
                    text="Old and new fluid are too alike for this: the share is uncertain by more "
                    "than 10 points (one standard uncertainty).",
                ),
            ),
            (
                outside > 0.0,
                Caveat(
                    code="clipped",
                    text="The sample lies just outside old and new fluid, within its uncertainty; "
                    "the share was set to the nearer end.",
                ),
            ),
        ),
    )


def _log_slope(forward: Callable[[Numbers], Numbers], nu_m2_s: Numbers) -> Numbers:
    """Return the derivative of a transform over the logarithm of viscosity."""
    step = 1e-5
    rise = forward(nu_m2_s * (1.0 + step)) - forward(nu_m2_s * (1.0 - step))
    return rise / (2.0 * step)
