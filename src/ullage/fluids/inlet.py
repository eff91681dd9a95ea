"""Does the pump get its fluid: deep enough under the surface, and at enough pressure?

Two questions on the suction side. How far must the mouth lie below the surface so that no vortex
draws air, and what pressure is left where the pump begins. Pressures are absolute (``_abs_pa``).

Left out: the release of dissolved air, which begins well above the vapour pressure of an oil.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.fluids.pipe_flow import velocity_m_s as mean_velocity_m_s
from ullage.units.caveat import Caveat
from ullage.units.convert import INHG_PA, STANDARD_ATMOSPHERE_PA, STANDARD_GRAVITY_M_S2
from ullage.units.elementwise import Number_co, bounded, caveats_where, kept, refuse_where, sqrt

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

SMALL_MOUTH_M = 0.1  # ansi-hi-9-8: made for intakes of decimetres and more; border chosen by us
STEADY_INLET_ABS_PA = 0.8e5  # common practice, no source
COLD_START_INLET_ABS_PA = 0.6e5  # memory: 0.6 to 0.7 bar absolute, for a short time


@overload
def froude(*, velocity_m_s: float, length_m: float) -> float: ...
@overload
def froude(*, velocity_m_s: Numbers, length_m: Numbers) -> Array: ...
def froude(*, velocity_m_s: Numbers, length_m: Numbers) -> Numbers:
    """Return the Froude number of a velocity and a length.

    Parameters
    ----------
    velocity_m_s : scalar or (...)
        Velocity, 0 or more. [m/s]
    length_m : scalar or (...)
        Length: for an intake, the diameter of its mouth. [m]

    Returns
    -------
    froude : scalar or (...)
        Velocity over the root of gravity times length. [-]

    Raises
    ------
    OutOfRange
        If the velocity is negative or the length not positive.

    Validity
    --------
    Exact: it is the definition.

    Source
    ------
    ``ansi-hi-9-8``, section 9.8.7.

    Examples
    --------
    >>> round(froude(velocity_m_s=1.4737, length_m=0.012), 3)
    4.296
    """
    bounded("velocity_m_s", velocity_m_s, low=0.0, unit="m/s")
    bounded("length_m", length_m, above=0.0, unit="m")
    return velocity_m_s / sqrt(STANDARD_GRAVITY_M_S2 * length_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Submergence(Generic[Number_co]):
    """How deep the mouth of a suction line must lie below the surface."""

    depth_m: Number_co
    froude: Number_co
    velocity_m_s: Number_co
    caveats: tuple[Caveat, ...]


@overload
def submergence(*, flow_m3_s: float, mouth_m: float) -> Submergence: ...
@overload
def submergence(*, flow_m3_s: Numbers, mouth_m: Numbers) -> Submergence[Array]: ...
def submergence(*, flow_m3_s: Numbers, mouth_m: Numbers) -> Submergence[Numbers]:
    """Return the depth at which a suction mouth draws no air through a vortex.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Flow into the mouth, 0 or more. [m3/s]
    mouth_m : scalar or (...)
        Outside diameter of the mouth or bell. [m]

    Returns
    -------
    result : Submergence
        Depth D (1 + 2.3 Fr), Froude number and velocity at the mouth.

    Raises
    ------
    OutOfRange
        If the flow is negative or the diameter not positive.

    Validity
    --------
    Water intakes of decimetres and more. For the small mouth of an oil suction it errs on the deep,
    safe side: viscosity damps the swirl. A caveat says so below 0.1 m.

    Source
    ------
    ``ansi-hi-9-8``, section 9.8.7.

    Examples
    --------
    >>> found = submergence(flow_m3_s=10e-3 / 60, mouth_m=0.012)
    >>> round(found.depth_m * 1e3, 1), found.caveats[0].code
    (130.6, 'small-mouth')
    """
    bounded("mouth_m", mouth_m, above=0.0, unit="m")
    speed_m_s = mean_velocity_m_s(flow_m3_s=flow_m3_s, bore_m=mouth_m)
    number = froude(velocity_m_s=speed_m_s, length_m=mouth_m)
    depth_m, number, speed_m_s = kept(mouth_m * (1.0 + 2.3 * number), number, speed_m_s)
    return Submergence(
        depth_m=depth_m,
        froude=number,
        velocity_m_s=speed_m_s,
        caveats=caveats_where(
            (
                mouth_m < SMALL_MOUTH_M,
                Caveat(
                    code="small-mouth",
                    text="The rule was made for water intakes of decimetres; for a small oil "
                    "suction it is a cautious figure.",
                ),
            ),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class InletPressure(Generic[Number_co]):
    """What pressure is left at the pump's inlet, and what took the rest.

    ``pressure_abs_pa`` = atmosphere + ``head_pa`` - ``velocity_head_pa`` - line - strainer.
    """

    pressure_abs_pa: Number_co
    head_pa: Number_co
    velocity_head_pa: Number_co
    line_loss_pa: Number_co
    strainer_loss_pa: Number_co
    caveats: tuple[Caveat, ...]


@overload
def inlet_pressure(
    *,
    rho_kg_m3: float,
    surface_above_inlet_m: float,
    velocity_m_s: float,
    line_loss_pa: float,
    strainer_loss_pa: float = 0.0,
    atmosphere_abs_pa: float = STANDARD_ATMOSPHERE_PA,
    least_abs_pa: float = STEADY_INLET_ABS_PA,
) -> InletPressure: ...
@overload
def inlet_pressure(
    *,
    rho_kg_m3: Numbers,
    surface_above_inlet_m: Numbers,
    velocity_m_s: Numbers,
    line_loss_pa: Numbers,
    strainer_loss_pa: Numbers = 0.0,
    atmosphere_abs_pa: Numbers = STANDARD_ATMOSPHERE_PA,
    least_abs_pa: Numbers = STEADY_INLET_ABS_PA,
) -> InletPressure[Array]: ...
def inlet_pressure(
    *,
    rho_kg_m3: Numbers,
    surface_above_inlet_m: Numbers,
    velocity_m_s: Numbers,
    line_loss_pa: Numbers,
    strainer_loss_pa: Numbers = 0.0,
    atmosphere_abs_pa: Numbers = STANDARD_ATMOSPHERE_PA,
    least_abs_pa: Numbers = STEADY_INLET_ABS_PA,
) -> InletPressure[Numbers]:
    """Return the absolute pressure at the inlet of a pump.

    Parameters
    ----------
    rho_kg_m3 : scalar or (...)
        Density of the fluid. [kg/m3]
    surface_above_inlet_m : scalar or (...)
        Height of the surface above the inlet; negative where the pump stands higher. [m]
    velocity_m_s : scalar or (...)
        Mean velocity in the suction line. [m/s]
    line_loss_pa : scalar or (...)
        Pressure loss of the line, at the viscosity of the coldest start. [Pa]
    strainer_loss_pa : scalar or (...)
        Pressure loss of the strainer. [Pa]
    atmosphere_abs_pa : scalar or (...)
        Pressure on the surface; about 12 % less per 1000 m of altitude. [Pa]
    least_abs_pa : scalar or (...)
        What the pump asks for; its own papers win over this default of 0.8 bar. [Pa]

    Returns
    -------
    result : InletPressure
        Pressure left, its parts, and caveats where it is below what the pump asks for.

    Raises
    ------
    OutOfRange
        If a value is absurd, or nothing is left: then this flow cannot be sucked.

    Validity
    --------
    Steady flow; starting strokes pull deeper for a moment.

    Source
    ------
    Bernoulli with losses; limits: common practice, no source.

    Examples
    --------
    >>> found = inlet_pressure(rho_kg_m3=870.0, surface_above_inlet_m=0.3, velocity_m_s=1.0,
    ...     line_loss_pa=25_000.0)
    >>> round(found.pressure_abs_pa), [caveat.code for caveat in found.caveats]
    (78450, ['inlet-below-limit'])
    """
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("surface_above_inlet_m", surface_above_inlet_m, low=-20.0, high=20.0, unit="m")
    bounded("velocity_m_s", velocity_m_s, low=0.0, unit="m/s")
    bounded("line_loss_pa", line_loss_pa, low=0.0, unit="Pa")
    bounded("strainer_loss_pa", strainer_loss_pa, low=0.0, unit="Pa")
    bounded("atmosphere_abs_pa", atmosphere_abs_pa, above=0.0, unit="Pa")
    bounded("least_abs_pa", least_abs_pa, low=0.0, unit="Pa")
    head_pa = rho_kg_m3 * STANDARD_GRAVITY_M_S2 * surface_above_inlet_m
    velocity_head_pa = 0.5 * rho_kg_m3 * velocity_m_s * velocity_m_s
    left_pa = atmosphere_abs_pa + head_pa - velocity_head_pa - line_loss_pa - strainer_loss_pa
    refuse_where(
        left_pa <= 0.0,
        "inlet pressure",
        left_pa,
        "above 0 Pa absolute",
        "this flow cannot be sucked: warm the fluid, slow the pump or widen the line",
        unit="Pa absolute",
    )
    left_pa, head_pa, velocity_head_pa, line_pa, strainer_pa, least_pa = kept(
        left_pa, head_pa, velocity_head_pa, line_loss_pa, strainer_loss_pa, least_abs_pa
    )
    return InletPressure(
        pressure_abs_pa=left_pa,
        head_pa=head_pa,
        velocity_head_pa=velocity_head_pa,
        line_loss_pa=line_pa,
        strainer_loss_pa=strainer_pa,
        caveats=caveats_where(
            (
                left_pa < least_pa,
                Caveat(
                    code="inlet-below-limit",
                    text="The pressure at the inlet is below what the pump asks for: expect noise, "
                    "foam and wear.",
                ),
            ),
            (
                left_pa < COLD_START_INLET_ABS_PA,
                Caveat(
                    code="inlet-below-cold-start",
                    text="Below 0.6 bar absolute not even a short cold start is usually allowed.",
                ),
            ),
        ),
    )


@overload
def absolute_from_vacuum_pa(
    *, vacuum_inhg: float, atmosphere_abs_pa: float = STANDARD_ATMOSPHERE_PA
) -> float: ...
@overload
def absolute_from_vacuum_pa(
    *, vacuum_inhg: Numbers, atmosphere_abs_pa: Numbers = STANDARD_ATMOSPHERE_PA
) -> Array: ...
def absolute_from_vacuum_pa(
    *, vacuum_inhg: Numbers, atmosphere_abs_pa: Numbers = STANDARD_ATMOSPHERE_PA
) -> Numbers:
    """Return the absolute pressure of a vacuum gauge's reading in inches of mercury.

    Parameters
    ----------
    vacuum_inhg : scalar or (...)
        Reading below the atmosphere, 0 or more. [inHg]
    atmosphere_abs_pa : scalar or (...)
        Absolute pressure of the atmosphere at the gauge. [Pa]

    Returns
    -------
    pressure_abs_pa : scalar or (...)
        Absolute pressure. [Pa]

    Raises
    ------
    OutOfRange
        If the reading is negative or deeper than the atmosphere.

    Validity
    --------
    Exact for mercury at 0 degC.

    Source
    ------
    ``nist-sp-811``, appendix B.8.

    Examples
    --------
    >>> round(absolute_from_vacuum_pa(vacuum_inhg=5.0))
    84393
    """
    bounded("atmosphere_abs_pa", atmosphere_abs_pa, above=0.0, unit="Pa")
    deepest = atmosphere_abs_pa / INHG_PA
    bounded("vacuum_inhg", vacuum_inhg, low=0.0, high=deepest, unit="inHg")
    return atmosphere_abs_pa - vacuum_inhg * INHG_PA
