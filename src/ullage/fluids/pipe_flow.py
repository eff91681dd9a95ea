"""How does fluid run through a line: which regime, how fast, at which pressure loss?

Round bores, full of liquid, steady flow. Friction factors of turbulent flow come from the library
`fluids`, loaded when one is asked for; everything the solver needs is plain arithmetic.

Left out: hoses that stretch, losses of fittings (give them as extra length), pulsation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true

LAMINAR_BELOW_RE = 2300.0  # esposito-2009, section 4.4 and iso-23309-2016: laminar below
TURBULENT_ABOVE_RE = 4000.0  # iso-23309-2016: flushing is turbulent above
ROUGHEST_RELATIVE = 0.05  # end of the Moody chart


class Regime(Enum):
    """How the fluid runs: in layers, undecided, or swirling."""

    LAMINAR = "laminar"
    TRANSITIONAL = "transitional"
    TURBULENT = "turbulent"


TRANSITIONAL_FLOW = Caveat(
    code="transitional-flow",
    text="Between Reynolds numbers 2300 and 4000 flow may be laminar or turbulent, and switch; "
    "the friction may be off by a factor of 1.5.",
)


def velocity_m_s(*, flow_m3_s: float, bore_m: float) -> float:
    """Return the mean velocity in a round bore.

    Parameters
    ----------
    flow_m3_s : scalar
        Volume flow, 0 or more. [m3/s]
    bore_m : scalar
        Inner diameter. [m]

    Returns
    -------
    velocity_m_s : scalar
        Flow over cross-section. [m/s]

    Raises
    ------
    OutOfRange
        If the flow is negative or the bore is not positive.

    Validity
    --------
    Exact for a full bore.

    Source
    ------
    Continuity.

    Examples
    --------
    >>> round(velocity_m_s(flow_m3_s=10e-3 / 60, bore_m=0.012), 4)
    1.4737
    """
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    bounded("bore_m", bore_m, above=0.0, unit="m")
    return 4.0 * flow_m3_s / (math.pi * bore_m * bore_m)


def bore_for_velocity_m(*, flow_m3_s: float, velocity_m_s: float) -> float:
    """Return the bore in which a flow runs at a mean velocity.

    Parameters
    ----------
    flow_m3_s : scalar
        Volume flow. [m3/s]
    velocity_m_s : scalar
        Mean velocity wanted. [m/s]

    Returns
    -------
    bore_m : scalar
        Inner diameter. [m]

    Raises
    ------
    OutOfRange
        If a value is not positive.

    Validity
    --------
    Exact for a full bore.

    Source
    ------
    Continuity.

    Examples
    --------
    >>> round(bore_for_velocity_m(flow_m3_s=20e-3 / 60, velocity_m_s=2.0), 4)
    0.0146
    """
    bounded("flow_m3_s", flow_m3_s, above=0.0, unit="m3/s")
    bounded("velocity_m_s", velocity_m_s, above=0.0, unit="m/s")
    return math.sqrt(4.0 * flow_m3_s / (math.pi * velocity_m_s))


def reynolds(*, flow_m3_s: float, bore_m: float, nu_m2_s: float) -> float:
    """Return the Reynolds number of a flow in a round bore.

    Parameters
    ----------
    flow_m3_s : scalar
        Volume flow, 0 or more. [m3/s]
    bore_m : scalar
        Inner diameter. [m]
    nu_m2_s : scalar
        Kinematic viscosity at the fluid's temperature. [m2/s]

    Returns
    -------
    re : scalar
        Reynolds number. [-]

    Raises
    ------
    OutOfRange
        If the flow is negative or bore or viscosity are not positive.

    Validity
    --------
    Exact: it is the definition, 4 Q / (pi d nu).

    Source
    ------
    ``esposito-2009``, section 4.4.

    Examples
    --------
    >>> round(reynolds(flow_m3_s=22.62e-3 / 60, bore_m=0.008, nu_m2_s=15e-6))
    4000
    """
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s", advice="1 mm2/s is 1e-6 m2/s")
    return 4.0 * flow_m3_s / (math.pi * bore_m * nu_m2_s)


def regime_of(re: float) -> Regime:
    """Return the regime of a Reynolds number.

    Parameters
    ----------
    re : scalar
        Reynolds number, 0 or more. [-]

    Returns
    -------
    regime : Regime
        Laminar below 2300, turbulent above 4000, transitional between.

    Raises
    ------
    OutOfRange
        If the number is negative.

    Validity
    --------
    Straight smooth lines. Bends and rough inlets bring turbulence earlier.

    Source
    ------
    ``iso-23309-2016`` (4000); ``esposito-2009``, section 4.4 (2300).

    Examples
    --------
    >>> regime_of(1200.0).value, regime_of(3000.0).value, regime_of(4001.0).value
    ('laminar', 'transitional', 'turbulent')
    """
    bounded("re", re, low=0.0)
    if re < LAMINAR_BELOW_RE:
        return Regime.LAMINAR
    return Regime.TURBULENT if re > TURBULENT_ABOVE_RE else Regime.TRANSITIONAL


def flow_for_reynolds_m3_s(re: float, *, bore_m: float, nu_m2_s: float) -> float:
    """Return the flow that reaches a Reynolds number in a round bore.

    Parameters
    ----------
    re : scalar
        Reynolds number wanted, 0 or more. [-]
    bore_m : scalar
        Inner diameter. [m]
    nu_m2_s : scalar
        Kinematic viscosity at the fluid's temperature. [m2/s]

    Returns
    -------
    flow_m3_s : scalar
        Volume flow. [m3/s]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Exact: it is the definition turned round.

    Source
    ------
    ``esposito-2009``, section 4.4.

    Examples
    --------
    >>> flow = flow_for_reynolds_m3_s(4000.0, bore_m=0.020, nu_m2_s=15e-6)
    >>> round(flow * 60e3, 3)
    56.549
    """
    bounded("re", re, low=0.0)
    bounded("bore_m", bore_m, above=0.0, unit="m")
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s", advice="1 mm2/s is 1e-6 m2/s")
    return 0.25 * math.pi * re * bore_m * nu_m2_s


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushFlow:
    """The flow from which a line is flushed turbulently, and whether a given flow gets there."""

    needed_m3_s: float
    given_m3_s: float
    re: float
    regime: Regime
    caveats: tuple[Caveat, ...]


def flush_flow(*, flow_m3_s: float, bore_m: float, nu_m2_s: float) -> FlushFlow:
    """Return the flow that flushing a line needs, beside the flow there is.

    Parameters
    ----------
    flow_m3_s : scalar
        Flow there is, 0 or more. [m3/s]
    bore_m : scalar
        Inner diameter. [m]
    nu_m2_s : scalar
        Kinematic viscosity at the coldest place of the line. [m2/s]

    Returns
    -------
    result : FlushFlow
        Flow for Reynolds number 4000, the number reached, caveats if it falls short.

    Raises
    ------
    OutOfRange
        If the flow is negative or bore or viscosity are not positive.

    Validity
    --------
    Lines of round bore. Rather thin the fluid by warming it than raise the flow.

    Source
    ------
    ``iso-23309-2016``.

    Examples
    --------
    >>> found = flush_flow(flow_m3_s=6e-3 / 60, bore_m=0.008, nu_m2_s=15e-6)
    >>> round(found.needed_m3_s * 60e3, 1), [caveat.code for caveat in found.caveats]
    (22.6, ['laminar-flush'])
    """
    re = reynolds(flow_m3_s=flow_m3_s, bore_m=bore_m, nu_m2_s=nu_m2_s)
    regime = regime_of(re)
    return FlushFlow(
        needed_m3_s=flow_for_reynolds_m3_s(TURBULENT_ABOVE_RE, bore_m=bore_m, nu_m2_s=nu_m2_s),
        given_m3_s=flow_m3_s,
        re=re,
        regime=regime,
        caveats=only_where_true(
            (
                regime is Regime.LAMINAR,
                Caveat(
                    code="laminar-flush",
                    text="The flush stays laminar: expect a film of old fluid on the walls and "
                    "particles left in place.",
                ),
            ),
            (
                regime is Regime.TRANSITIONAL,
                Caveat(
                    code="transitional-flush",
                    text="The flush is not surely turbulent; warm the fluid or raise the flow.",
                ),
            ),
        ),
    )


def friction_factor(re: float, *, relative_roughness: float = 0.0) -> float:
    """Return the Darcy friction factor.

    Parameters
    ----------
    re : scalar
        Reynolds number, above 0. [-]
    relative_roughness : scalar
        Height of the wall's roughness over the bore, 0 to 0.05. [-]

    Returns
    -------
    friction_factor : scalar
        Darcy factor, four times Fanning's. [-]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    64/Re below 2300 (exact), Colebrook above 4000 (about 5 %), Churchill between, where the true
    value is not settled (up to a factor of 1.5). Steps of a few per cent at the two borders.

    Source
    ------
    ``colebrook-1939`` and ``churchill-1977`` as in the library fluids.

    Examples
    --------
    >>> friction_factor(1000.0)
    0.064
    >>> round(friction_factor(1e5, relative_roughness=1e-4), 6)
    0.018514
    """
    bounded("re", re, above=0.0, advice="no flow, no friction")
    bounded("relative_roughness", relative_roughness, low=0.0, high=ROUGHEST_RELATIVE)
    if re < LAMINAR_BELOW_RE:
        return 64.0 / re
    from fluids.friction import Churchill_1977, Colebrook

    if re <= TURBULENT_ABOVE_RE:
        return float(Churchill_1977(re, relative_roughness))
    return float(Colebrook(re, relative_roughness))


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureLoss:
    """What it costs to push a flow through a line."""

    dp_pa: float
    friction_factor: float
    re: float
    regime: Regime
    velocity_m_s: float
    caveats: tuple[Caveat, ...]


def pressure_loss(
    *,
    flow_m3_s: float,
    bore_m: float,
    length_m: float,
    nu_m2_s: float,
    rho_kg_m3: float,
    roughness_m: float = 0.0,
) -> PressureLoss:
    """Return the pressure loss of a straight line by Darcy and Weisbach.

    Parameters
    ----------
    flow_m3_s : scalar
        Volume flow, above 0. [m3/s]
    bore_m : scalar
        Inner diameter. [m]
    length_m : scalar
        Length, 0 or more; add the equivalent length of fittings. [m]
    nu_m2_s : scalar
        Kinematic viscosity at the fluid's temperature. [m2/s]
    rho_kg_m3 : scalar
        Density at the fluid's temperature. [kg/m3]
    roughness_m : scalar
        Height of the wall's roughness; drawn tube about 1.5e-6 m (memory). [m]

    Returns
    -------
    result : PressureLoss
        Loss, friction factor, Reynolds number, regime, velocity and caveats.

    Raises
    ------
    OutOfRange
        If a value is not positive or the wall is rougher than 0.05 of the bore.

    Validity
    --------
    Fully developed flow of one temperature: see `entrance_length_m`. Cold walls raise the loss.

    Source
    ------
    ``esposito-2009``, section 4.5; friction factor as in `friction_factor`.

    Examples
    --------
    >>> found = pressure_loss(
    ...     flow_m3_s=10e-3 / 60, bore_m=0.010, length_m=5.0, nu_m2_s=46e-6, rho_kg_m3=870.0
    ... )
    >>> round(found.dp_pa), found.regime.value
    (135880, 'laminar')
    """
    bounded("length_m", length_m, low=0.0, unit="m")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("roughness_m", roughness_m, low=0.0, unit="m")
    re = reynolds(flow_m3_s=flow_m3_s, bore_m=bore_m, nu_m2_s=nu_m2_s)
    speed_m_s = velocity_m_s(flow_m3_s=flow_m3_s, bore_m=bore_m)
    regime = regime_of(re)
    factor = friction_factor(re, relative_roughness=roughness_m / bore_m)
    entrance = entrance_length_m(re, bore_m=bore_m)
    return PressureLoss(
        dp_pa=factor * length_m / bore_m * 0.5 * rho_kg_m3 * speed_m_s * speed_m_s,
        friction_factor=factor,
        re=re,
        regime=regime,
        velocity_m_s=speed_m_s,
        caveats=only_where_true(
            (regime is Regime.TRANSITIONAL, TRANSITIONAL_FLOW),
            (
                entrance > 0.5 * length_m,
                Caveat(
                    code="entrance-flow",
                    text="More than half of the line lies within the entrance length; the true "
                    "loss is higher.",
                ),
            ),
        ),
    )


def entrance_length_m(re: float, *, bore_m: float) -> float:
    """Return the length after which the flow profile no longer changes.

    Parameters
    ----------
    re : scalar
        Reynolds number, 0 or more. [-]
    bore_m : scalar
        Inner diameter. [m]

    Returns
    -------
    length_m : scalar
        0.06 Re d in laminar flow, 4.4 Re^(1/6) d in turbulent, the longer of both between. [m]

    Raises
    ------
    OutOfRange
        If the number is negative or the bore not positive.

    Validity
    --------
    A rounded inlet from a large vessel; order of magnitude otherwise.

    Source
    ------
    ``munson-2009``, section 8.1.2.

    Examples
    --------
    >>> entrance_length_m(500.0, bore_m=0.010)
    0.3
    """
    bounded("bore_m", bore_m, above=0.0, unit="m")
    laminar_m = 0.06 * re * bore_m
    regime = regime_of(re)
    if regime is Regime.LAMINAR:
        return laminar_m
    turbulent_m = 4.4 * math.pow(re, 1.0 / 6.0) * bore_m
    return turbulent_m if regime is Regime.TURBULENT else max(laminar_m, turbulent_m)
