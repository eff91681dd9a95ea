"""How much pressure does a filter take, when does it bypass, and how much of its life is gone?

Drop of element and housing over flow, viscosity and density, scaled from a data sheet; viscosity
and temperature at which the bypass opens; loading. What the filter takes out is in ``filtration``.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, overload

from ullage.fluids.viscosity import WaltherLine, z_from_nu
from ullage.units.elementwise import bounded, cbrt, log10, power

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterDrop:
    """A clean filter's pressure drop as its data sheet gives it, split into its two parts.

    The drops hold at ``flow_m3_s``, ``nu_m2_s`` and ``rho_kg_m3``.
    """

    element_pa: float
    flow_m3_s: float
    nu_m2_s: float
    rho_kg_m3: float
    housing_pa: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a data sheet that cannot be."""
        bounded("element_pa", self.element_pa, low=0.0, unit="Pa")
        bounded("housing_pa", self.housing_pa, low=0.0, unit="Pa")
        bounded("flow_m3_s", self.flow_m3_s, above=0.0, unit="m3/s")
        bounded("nu_m2_s", self.nu_m2_s, above=0.0, unit="m2/s")
        bounded("rho_kg_m3", self.rho_kg_m3, above=0.0, unit="kg/m3")


@overload
def clean_drop_pa(
    *, sheet: FilterDrop, flow_m3_s: float, nu_m2_s: float, rho_kg_m3: float
) -> float: ...
@overload
def clean_drop_pa(
    *, sheet: FilterDrop, flow_m3_s: Numbers, nu_m2_s: Numbers, rho_kg_m3: Numbers
) -> Array: ...
def clean_drop_pa(
    *, sheet: FilterDrop, flow_m3_s: Numbers, nu_m2_s: Numbers, rho_kg_m3: Numbers
) -> Numbers:
    """Return the pressure drop of a clean filter at another flow, viscosity and density.

    Parameters
    ----------
    sheet : FilterDrop
        The drop that the data sheet gives.
    flow_m3_s : scalar or (...)
        Flow through the filter, 0 or more. [m3/s]
    nu_m2_s : scalar or (...)
        Viscosity, above 0. [m2/s]
    rho_kg_m3 : scalar or (...)
        Density, above 0. [kg/m3]

    Returns
    -------
    drop_pa : scalar or (...)
        Element and housing together. [Pa]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Laminar through the element (its drop goes with viscosity, density and flow), turbulent through
    the housing (with density and the square of flow). Where a sheet gives one figure for both,
    taking it all as element is on the safe side in the cold.

    Source
    ------
    Practice with ISO 3968 curves (``iso-3968-2017``); from memory in part.

    Examples
    --------
    >>> sheet = FilterDrop(element_pa=3e4, flow_m3_s=1e-3, nu_m2_s=30e-6, rho_kg_m3=870.0)
    >>> clean_drop_pa(sheet=sheet, flow_m3_s=1e-3, nu_m2_s=120e-6, rho_kg_m3=870.0)
    120000.0
    """
    bounded("flow_m3_s", flow_m3_s, low=0.0, unit="m3/s")
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    flow = flow_m3_s / sheet.flow_m3_s
    density = rho_kg_m3 / sheet.rho_kg_m3
    element_pa = sheet.element_pa * (nu_m2_s / sheet.nu_m2_s) * density * flow
    return element_pa + sheet.housing_pa * density * flow * flow


@overload
def bypass_viscosity_m2_s(
    *, sheet: FilterDrop, flow_m3_s: float, rho_kg_m3: float, bypass_pa: float
) -> float: ...
@overload
def bypass_viscosity_m2_s(
    *, sheet: FilterDrop, flow_m3_s: Numbers, rho_kg_m3: Numbers, bypass_pa: Numbers
) -> Array: ...
def bypass_viscosity_m2_s(
    *, sheet: FilterDrop, flow_m3_s: Numbers, rho_kg_m3: Numbers, bypass_pa: Numbers
) -> Numbers:
    """Return the viscosity from which on a clean filter opens its bypass.

    Parameters
    ----------
    sheet : FilterDrop
        The drop that the data sheet gives, its element above 0.
    flow_m3_s : scalar or (...)
        Flow through the filter, above 0. [m3/s]
    rho_kg_m3 : scalar or (...)
        Density, above 0. [kg/m3]
    bypass_pa : scalar or (...)
        Pressure drop at which the bypass opens, above what the housing alone takes. [Pa]

    Returns
    -------
    nu_m2_s : scalar or (...)
        Viscosity at which the drop is ``bypass_pa``. [m2/s]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    As for ``clean_drop_pa``. A loaded element opens at a lower viscosity.

    Source
    ------
    Inverse of ``clean_drop_pa``.

    Examples
    --------
    >>> sheet = FilterDrop(element_pa=2e4, flow_m3_s=1e-3, nu_m2_s=30e-6, rho_kg_m3=870.0)
    >>> 1e6 * bypass_viscosity_m2_s(
    ...     sheet=sheet, flow_m3_s=1e-3, rho_kg_m3=870.0, bypass_pa=1.7e5)
    255.0
    """
    bounded("flow_m3_s", flow_m3_s, above=0.0, unit="m3/s")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("element_pa", sheet.element_pa, above=0.0, unit="Pa")
    flow = flow_m3_s / sheet.flow_m3_s
    density = rho_kg_m3 / sheet.rho_kg_m3
    housing_pa = sheet.housing_pa * density * flow * flow
    bounded(
        "bypass_pa",
        bypass_pa,
        above=housing_pa,
        unit="Pa",
        advice="the housing alone takes that much: the filter is too small for this flow",
    )
    return sheet.nu_m2_s * (bypass_pa - housing_pa) / (sheet.element_pa * density * flow)


@overload
def bypass_temperature_k(
    *, sheet: FilterDrop, flow_m3_s: float, rho_kg_m3: float, bypass_pa: float, line: WaltherLine
) -> float: ...
@overload
def bypass_temperature_k(
    *,
    sheet: FilterDrop,
    flow_m3_s: Numbers,
    rho_kg_m3: Numbers,
    bypass_pa: Numbers,
    line: WaltherLine,
) -> Array: ...
def bypass_temperature_k(
    *,
    sheet: FilterDrop,
    flow_m3_s: Numbers,
    rho_kg_m3: Numbers,
    bypass_pa: Numbers,
    line: WaltherLine,
) -> Numbers:
    """Return the temperature below which a clean filter opens its bypass.

    Parameters
    ----------
    sheet : FilterDrop
        The drop that the data sheet gives, its element above 0.
    flow_m3_s : scalar or (...)
        Flow through the filter, above 0. [m3/s]
    rho_kg_m3 : scalar or (...)
        Density, above 0. [kg/m3]
    bypass_pa : scalar or (...)
        Pressure drop at which the bypass opens, above what the housing alone takes. [Pa]
    line : WaltherLine
        Viscosity of the fluid over temperature.

    Returns
    -------
    temperature_k : scalar or (...)
        Temperature at which the clean filter's drop is ``bypass_pa``. [K]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above or the viscosity outside those of the line.

    Validity
    --------
    As for ``clean_drop_pa``; density is taken as constant, which costs less than 1 K.

    Source
    ------
    ``bypass_viscosity_m2_s`` and the inverse of the line (``astm-d341``).

    Examples
    --------
    >>> from ullage.fluids.viscosity import walther_line
    >>> line = walther_line(t1_k=313.15, nu1_m2_s=32e-6, t2_k=373.15, nu2_m2_s=5.4e-6)
    >>> sheet = FilterDrop(element_pa=2e4, flow_m3_s=1e-3, nu_m2_s=30e-6, rho_kg_m3=870.0)
    >>> bypass_temperature_k(
    ...     sheet=sheet, flow_m3_s=1e-3, rho_kg_m3=870.0, bypass_pa=1.7e5, line=line) - 273.15
    3.55
    """
    nu_m2_s = bypass_viscosity_m2_s(
        sheet=sheet, flow_m3_s=flow_m3_s, rho_kg_m3=rho_kg_m3, bypass_pa=bypass_pa
    )
    double_log = log10(log10(z_from_nu(nu_m2_s, line.form)))
    return power(10.0, (line.a - double_log) / line.b)


@overload
def life_used_share(*, drop_share: float) -> float: ...
@overload
def life_used_share(*, drop_share: Array) -> Array: ...
def life_used_share(*, drop_share: Numbers) -> Numbers:
    """Return how much of an element's life is used, from its pressure drop.

    Parameters
    ----------
    drop_share : scalar or (...)
        Pressure drop over the drop at which the element is changed, both less that of the clean
        element, 0 to 1. [Pa/Pa]

    Returns
    -------
    share : scalar or (...)
        Part of the life that is used, 0 to 1. [-]

    Raises
    ------
    OutOfRange
        If the share is outside the range above.

    Validity
    --------
    The drop grows with the cube of what is held: a rough law, good to perhaps 10 points.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> life_used_share(drop_share=0.5)
    0.7937
    """
    return cbrt(bounded("drop_share", drop_share, low=0.0, high=1.0))
