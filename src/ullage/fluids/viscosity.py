"""How thick is the fluid, at which temperature?

The temperature law is the double-logarithmic one of ASTM D341, drawn through two known points.
Grade and index stand in modules of their own.

Left out: pressure (viscosity roughly doubles in 30 MPa, from memory) and shear thinning.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Generic, overload

from ullage.errors import OutOfRange
from ullage.units.caveat import Caveat
from ullage.units.convert import MM2_S_M2_S, ZERO_CELSIUS_K
from ullage.units.elementwise import (
    Number_co,
    bounded,
    caveats_where,
    each,
    exp,
    kept,
    least,
    log10,
    refuse_where,
    where,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

COLDEST_MEASURED_DK = 60.0  # common practice, no source: further below the points pour point looms
HOTTEST_MEASURED_DK = 50.0  # common practice, no source

THIN_M2_S = 2.0e-6  # below it the short form of Z does not hold, ASTM D341
THINNEST_M2_S = 0.21e-6  # lower end of the chart equations, ASTM D341


class ZForm(Enum):
    """How much of the ASTM D341 expression for Z to use.

    ``SIMPLE`` is for 2 mm2/s and more, ``MEDIUM`` and ``FULL`` go down to 0.21 mm2/s; the last two
    agree within 0.005.
    """

    SIMPLE = "simple"
    MEDIUM = "medium"
    FULL = "full"


# Amplitude exponent and slope of the six exponentials of the full form, with their signs:
# ASTM D341-93 equation 1, from memory, cross-checked with the medium form.
_FULL_TERMS = (
    (+1.0, -1.14883, -2.65868),
    (-1.0, -0.0038138, -12.5645),
    (+1.0, 5.46491, -37.6289),
    (-1.0, 13.0458, -74.6851),
    (+1.0, 37.4619, -192.643),
    (-1.0, 80.4945, -400.468),
)


@overload
def z_from_nu(nu_m2_s: float, form: ZForm = ZForm.MEDIUM) -> float: ...
@overload
def z_from_nu(nu_m2_s: Array, form: ZForm = ZForm.MEDIUM) -> Array: ...
def z_from_nu(nu_m2_s: Numbers, form: ZForm = ZForm.MEDIUM) -> Numbers:
    """Return Z, the number whose double logarithm is straight over log temperature.

    Parameters
    ----------
    nu_m2_s : scalar or (...)
        Kinematic viscosity, from 0.21 mm2/s (2 mm2/s for the simple form). [m2/s]
    form : ZForm
        Which expression for Z. [-]

    Returns
    -------
    z : scalar or (...)
        Z on the scale of mm2/s. [-]

    Raises
    ------
    OutOfRange
        If the viscosity is below what the form covers.

    Validity
    --------
    Petroleum liquids. Medium and full form differ by at most 0.005.

    Source
    ------
    ``astm-d341``, equations 1 and 2; the constants of the full form from memory.

    Examples
    --------
    >>> round(z_from_nu(1.0e-6), 6)
    1.721928
    >>> round(z_from_nu(32.0e-6, ZForm.SIMPLE), 3)
    32.7
    """
    low = THIN_M2_S if form is ZForm.SIMPLE else THINNEST_M2_S
    # A hair of room: the inverse of a chart's end point may land just below it.
    if not isinstance(nu_m2_s, float) or not (low * (1.0 - 1e-9) <= nu_m2_s < math.inf):
        bounded(
            "nu_m2_s", nu_m2_s, low=low * (1.0 - 1e-9), unit="m2/s", advice="1 mm2/s is 1e-6 m2/s"
        )
    # nu in mm2/s, the scale that the constants of the standard are made for.
    nu = nu_m2_s / MM2_S_M2_S
    if form is ZForm.SIMPLE:
        return nu + 0.7
    if form is ZForm.MEDIUM:
        return nu + 0.7 + exp(-1.47 - 1.84 * nu - 0.51 * nu * nu)
    return nu + 0.7 + sum(sign * exp(a + b * nu) for sign, a, b in _FULL_TERMS)


@overload
def nu_from_z(z: float, form: ZForm = ZForm.MEDIUM) -> float: ...
@overload
def nu_from_z(z: Array, form: ZForm = ZForm.MEDIUM) -> Array: ...
def nu_from_z(z: Numbers, form: ZForm = ZForm.MEDIUM) -> Numbers:
    """Return the kinematic viscosity that belongs to a Z.

    Parameters
    ----------
    z : scalar or (...)
        Z on the scale of mm2/s. [-]
    form : ZForm
        Which expression for Z. [-]

    Returns
    -------
    nu_m2_s : scalar or (...)
        Kinematic viscosity. [m2/s]

    Raises
    ------
    OutOfRange
        If the viscosity would lie below what the form covers.

    Validity
    --------
    The explicit inverse of the medium form returns a viscosity within 0.0003 mm2/s of the one that
    made the Z; the other two forms invert to rounding.

    Source
    ------
    ``astm-d341``, equation 3 for the medium form; the full form is inverted by bisection.

    Examples
    --------
    >>> round(nu_from_z(z_from_nu(5.0e-6)) * 1e6, 4)
    5.0
    """
    if form is ZForm.FULL:
        return each(_nu_from_full_z, z=z)
    # The argument of equation 3: the short form's viscosity in mm2/s.
    y = bounded("z", z, unit="(scale of mm2/s)") - 0.7
    nu = y
    if form is ZForm.MEDIUM:
        # From 10 mm2/s on the correction is below 1e-16; the cubic would overflow far beyond.
        thin = least(y, 10.0)
        nu = y - exp(-0.7487 - 3.295 * thin + 0.6119 * thin * thin - 0.3193 * thin**3)
    low = THIN_M2_S if form is ZForm.SIMPLE else THINNEST_M2_S
    return bounded(
        "nu_m2_s",
        nu * MM2_S_M2_S,
        low=low * (1.0 - 2e-3),
        unit="m2/s",
        advice="too hot or too thin",
    )


def _nu_from_full_z(z: float) -> float:
    """Invert the full form by bisection; Z rises with viscosity over the whole range."""
    low, high = THINNEST_M2_S, max(z, 1.0) * MM2_S_M2_S
    thinnest_z = z_from_nu(low, ZForm.FULL)
    bounded("z", z, low=thinnest_z * (1.0 - 1e-12), unit="(scale of mm2/s)")
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if z_from_nu(middle, ZForm.FULL) < z:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaltherLine:
    """The straight line log10 log10 Z = a - b log10 T through two measured points.

    ``cold_k`` and ``hot_k`` are the temperatures of the points: what lies outside is extrapolated.
    """

    a: float
    b: float
    cold_k: float
    hot_k: float
    form: ZForm = ZForm.MEDIUM

    @overload
    def nu_m2_s(self, temperature_k: float) -> float: ...
    @overload
    def nu_m2_s(self, temperature_k: Array) -> Array: ...
    def nu_m2_s(self, temperature_k: Numbers) -> Numbers:
        """Return the kinematic viscosity at a temperature.

        Parameters
        ----------
        temperature_k : scalar or (...)
            Fluid temperature. [K]

        Returns
        -------
        nu_m2_s : scalar or (...)
            Kinematic viscosity. [m2/s]

        Raises
        ------
        OutOfRange
            If the line leads to a viscosity outside the form of Z, or to none at all.

        Validity
        --------
        Between the two points within about 1 %. Below the pour point it is much too low.

        Source
        ------
        ``astm-d341``, section 4.

        Examples
        --------
        >>> line = walther_line(t1_k=313.15, nu1_m2_s=32e-6, t2_k=373.15, nu2_m2_s=5.4e-6)
        >>> round(line.nu_m2_s(353.15) * 1e6, 3)
        8.533
        """
        bounded("temperature_k", temperature_k, above=0.0, unit="K")
        exponent = self.a - self.b * log10(temperature_k)
        # 10**10**1.3 is 1e20 mm2/s: a solid. Below -1.5 Z is 1.08, thinner than the chart.
        refuse_where(
            (exponent <= -1.5) | (exponent >= 1.3),
            "temperature_k",
            temperature_k,
            "one at which the line through the two points still describes a liquid",
            "measure the viscosity nearer to this temperature",
            unit="K",
        )
        return nu_from_z(10.0 ** (10.0**exponent), self.form)

    def caveats(self, temperature_k: Numbers) -> tuple[Caveat, ...]:
        """Return what to know about a viscosity of this line at a temperature."""
        below_dk = self.cold_k - temperature_k
        above_dk = temperature_k - self.hot_k
        return caveats_where(
            (
                (below_dk > COLDEST_MEASURED_DK) | (temperature_k < ZERO_CELSIUS_K),
                Caveat(
                    code="cold-extrapolation",
                    text="The line is drawn far below its cold point; near and below the pour "
                    "point the fluid is thicker than this, a polymer-thickened one even earlier.",
                ),
            ),
            (
                above_dk > HOTTEST_MEASURED_DK,
                Caveat(
                    code="hot-extrapolation",
                    text="The line is drawn far above its hot point; measure there if it matters.",
                ),
            ),
        )


def walther_line(
    *,
    t1_k: float,
    nu1_m2_s: float,
    t2_k: float,
    nu2_m2_s: float,
    form: ZForm = ZForm.MEDIUM,
) -> WaltherLine:
    """Return the viscosity-temperature line through two measured points.

    Parameters
    ----------
    t1_k : scalar
        Temperature of the first point. [K]
    nu1_m2_s : scalar
        Kinematic viscosity at the first point. [m2/s]
    t2_k : scalar
        Temperature of the second point, at least 1 K away from the first. [K]
    nu2_m2_s : scalar
        Kinematic viscosity at the second point; the hotter one must be the thinner one. [m2/s]
    form : ZForm
        Which expression for Z. [-]

    Returns
    -------
    line : WaltherLine
        Constants a and b and the two temperatures.

    Raises
    ------
    OutOfRange
        If the points coincide, the hotter one is the thicker one, or a value is absurd.

    Validity
    --------
    Liquids without wax and without much polymer, from the pour point up.

    Source
    ------
    ``astm-d341``, section 4.

    Examples
    --------
    >>> line = walther_line(t1_k=313.15, nu1_m2_s=32e-6, t2_k=373.15, nu2_m2_s=5.4e-6)
    >>> round(line.a, 4), round(line.b, 4)
    (9.5308, 3.7466)
    """
    bounded("t1_k", t1_k, above=0.0, unit="K")
    bounded("t2_k", t2_k, above=0.0, unit="K")
    if abs(t2_k - t1_k) < 1.0:
        raise OutOfRange(
            "t2_k",
            f"{t2_k:.6g} K",
            f"at least 1 K away from t1_k ({t1_k:.6g} K)",
            "two points at one temperature give no line",
        )
    w1 = math.log10(math.log10(z_from_nu(nu1_m2_s, form)))
    w2 = math.log10(math.log10(z_from_nu(nu2_m2_s, form)))
    b = (w1 - w2) / (math.log10(t2_k) - math.log10(t1_k))
    if b <= 0.0:
        raise OutOfRange(
            "nu2_m2_s",
            f"{nu2_m2_s:.6g} m2/s",
            f"a viscosity that falls as temperature rises (the other point: {nu1_m2_s:.6g} m2/s)",
            "check whether the two viscosities are swapped",
        )
    return WaltherLine(
        a=w1 + b * math.log10(t1_k), b=b, cold_k=min(t1_k, t2_k), hot_k=max(t1_k, t2_k), form=form
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ViscosityAt(Generic[Number_co]):
    """A kinematic viscosity read off the line through two points."""

    nu_m2_s: Number_co
    temperature_k: Number_co
    caveats: tuple[Caveat, ...]


@overload
def viscosity_at(
    temperature_k: float, *, t1_k: float, nu1_m2_s: float, t2_k: float, nu2_m2_s: float
) -> ViscosityAt: ...
@overload
def viscosity_at(
    temperature_k: Array, *, t1_k: float, nu1_m2_s: float, t2_k: float, nu2_m2_s: float
) -> ViscosityAt[Array]: ...
def viscosity_at(
    temperature_k: Numbers, *, t1_k: float, nu1_m2_s: float, t2_k: float, nu2_m2_s: float
) -> ViscosityAt[Numbers]:
    """Return the viscosity at a temperature from two measured points.

    Parameters
    ----------
    temperature_k : scalar or (...)
        Where the viscosity is wanted. [K]
    t1_k : scalar
        Temperature of the first point. [K]
    nu1_m2_s : scalar
        Kinematic viscosity at the first point. [m2/s]
    t2_k : scalar
        Temperature of the second point. [K]
    nu2_m2_s : scalar
        Kinematic viscosity at the second point. [m2/s]

    Returns
    -------
    result : ViscosityAt
        The viscosity, with caveats where it is extrapolated.

    Raises
    ------
    OutOfRange
        If the points give no line or the line gives no liquid.

    Validity
    --------
    Interpolation within about 1 %; extrapolation only above the pour point.

    Source
    ------
    ``astm-d341``, section 4.

    Examples
    --------
    >>> found = viscosity_at(293.15, t1_k=313.15, nu1_m2_s=32e-6, t2_k=373.15, nu2_m2_s=5.4e-6)
    >>> round(found.nu_m2_s * 1e6, 1), found.caveats
    (86.3, ())
    """
    line = walther_line(t1_k=t1_k, nu1_m2_s=nu1_m2_s, t2_k=t2_k, nu2_m2_s=nu2_m2_s)
    nu_m2_s, at_k = kept(line.nu_m2_s(temperature_k), temperature_k)
    return ViscosityAt(
        nu_m2_s=nu_m2_s,
        temperature_k=at_k,
        caveats=line.caveats(temperature_k),
    )


@overload
def nu_from_sus(sus_s: float) -> float: ...
@overload
def nu_from_sus(sus_s: Array) -> Array: ...
def nu_from_sus(sus_s: Numbers) -> Numbers:
    """Return the kinematic viscosity of a Saybolt universal efflux time.

    Parameters
    ----------
    sus_s : scalar or (...)
        Efflux time in Saybolt universal seconds, above 32 s. [s]

    Returns
    -------
    nu_m2_s : scalar or (...)
        Kinematic viscosity. [m2/s]

    Raises
    ------
    OutOfRange
        If the time is 32 s or less.

    Validity
    --------
    Within 2 % of ASTM D2161, which it overshoots above 200 s.

    Source
    ------
    ``esposito-2009``, chapter 2, equations for 32 to 100 s and above 100 s.

    Examples
    --------
    >>> round(nu_from_sus(230.0) * 1e6, 1)
    50.0
    """
    t = bounded("sus_s", sus_s, above=32.0, unit="s", advice="thinner liquids have no such time")
    nu: Numbers = where(t <= 100.0, 0.226 * t - 195.0 / t, 0.220 * t - 135.0 / t)
    return nu * MM2_S_M2_S


@overload
def dynamic_from_kinematic(*, nu_m2_s: float, rho_kg_m3: float) -> float: ...
@overload
def dynamic_from_kinematic(*, nu_m2_s: Numbers, rho_kg_m3: Numbers) -> Array: ...
def dynamic_from_kinematic(*, nu_m2_s: Numbers, rho_kg_m3: Numbers) -> Numbers:
    """Return the dynamic viscosity, density times kinematic viscosity.

    Parameters
    ----------
    nu_m2_s : scalar or (...)
        Kinematic viscosity. [m2/s]
    rho_kg_m3 : scalar or (...)
        Density at the same temperature. [kg/m3]

    Returns
    -------
    mu_pa_s : scalar or (...)
        Dynamic viscosity. [Pa s]

    Raises
    ------
    OutOfRange
        If a value is not a positive number.

    Validity
    --------
    Exact: it is the definition.

    Source
    ------
    Definition.

    Examples
    --------
    >>> round(dynamic_from_kinematic(nu_m2_s=50e-6, rho_kg_m3=900.0) * 1e3, 6)
    45.0
    """
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    return nu_m2_s * rho_kg_m3
