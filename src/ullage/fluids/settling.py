"""How fast do particles sink and bubbles rise in fluid at rest?

Small, lone spheres in the creeping regime, where drag is proportional to speed. Above a particle
Reynolds number of 1 the law is refused rather than stretched.

Left out: crowding, currents (a warm tank stirs itself), particles far from round.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Generic, overload

from ullage.errors import OutOfRange
from ullage.units.caveat import Caveat
from ullage.units.convert import STANDARD_GRAVITY_M_S2
from ullage.units.elementwise import (
    Number_co,
    anywhere,
    bounded,
    caveats_where,
    first_place,
    kept,
    magnitude,
    placed,
)

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

CREEPING_RE = 0.1  # below it Stokes is within 2 %
STOKES_LIMIT_RE = 1.0  # at it Stokes is some 15 % too fast


class Surface(Enum):
    """Whether the skin of a bubble can slip: rigid in used oil, mobile in very clean oil."""

    RIGID = "rigid"
    MOBILE = "mobile"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling(Generic[Number_co]):
    """Speed of a particle in fluid at rest: positive sinks, negative rises."""

    speed_m_s: Number_co
    particle_re: Number_co
    caveats: tuple[Caveat, ...]

    @overload
    def time_over_s(self: Settling, depth_m: float) -> float: ...
    @overload
    def time_over_s(self, depth_m: Numbers) -> Array: ...
    def time_over_s(self, depth_m: Numbers) -> Numbers:
        """Return the time in which the particle crosses a depth.

        Parameters
        ----------
        depth_m : scalar or (...)
            Distance up or down, 0 or more. [m]

        Returns
        -------
        time_s : scalar or (...)
            Distance over speed. [s]

        Raises
        ------
        OutOfRange
            If the depth is negative or the particle hovers.

        Validity
        --------
        Fluid at rest.

        Source
        ------
        Definition of speed.

        Examples
        --------
        >>> steel = settling(diameter_m=100e-6, rho_particle_kg_m3=7850.0, rho_kg_m3=870.0,
        ...     nu_m2_s=46e-6)
        >>> round(steel.time_over_s(0.2))
        210
        """
        bounded("depth_m", depth_m, low=0.0, unit="m")
        speed_m_s = magnitude(self.speed_m_s)
        if anywhere(speed_m_s == 0.0):
            place, _ = first_place(speed_m_s == 0.0)
            raise OutOfRange(
                placed("rho_particle_kg_m3", place),
                "the fluid's own density",
                "different from the fluid's density",
                "a particle as dense as the fluid neither sinks nor rises",
            )
        return depth_m / speed_m_s


@overload
def settling(
    *,
    diameter_m: float,
    rho_particle_kg_m3: float,
    rho_kg_m3: float,
    nu_m2_s: float,
    surface: Surface = Surface.RIGID,
) -> Settling: ...
@overload
def settling(
    *,
    diameter_m: Numbers,
    rho_particle_kg_m3: Numbers,
    rho_kg_m3: Numbers,
    nu_m2_s: Numbers,
    surface: Surface = Surface.RIGID,
) -> Settling[Array]: ...
def settling(
    *,
    diameter_m: Numbers,
    rho_particle_kg_m3: Numbers,
    rho_kg_m3: Numbers,
    nu_m2_s: Numbers,
    surface: Surface = Surface.RIGID,
) -> Settling[Numbers]:
    """Return the speed of a small sphere in fluid at rest by Stokes.

    Parameters
    ----------
    diameter_m : scalar or (...)
        Diameter of the particle or bubble. [m]
    rho_particle_kg_m3 : scalar or (...)
        Density of the particle; about 1.2 for an air bubble. [kg/m3]
    rho_kg_m3 : scalar or (...)
        Density of the fluid. [kg/m3]
    nu_m2_s : scalar or (...)
        Kinematic viscosity of the fluid. [m2/s]
    surface : Surface
        Rigid, or mobile for bubbles in very clean fluid (half as fast again). [-]

    Returns
    -------
    result : Settling
        Speed, particle Reynolds number, caveats.

    Raises
    ------
    OutOfRange
        If a value is not positive or the particle Reynolds number exceeds 1.

    Validity
    --------
    Particle Reynolds number below 0.1 within 2 %; to 1 too fast by up to 15 %.

    Source
    ------
    ``stokes-1851``; ``hadamard-1911`` for a mobile surface.

    Examples
    --------
    >>> found = settling(diameter_m=100e-6, rho_particle_kg_m3=7850.0, rho_kg_m3=870.0,
    ...     nu_m2_s=46e-6)
    >>> round(found.speed_m_s * 1e3, 2)
    0.95
    """
    bounded("diameter_m", diameter_m, above=0.0, unit="m", advice="100 um is 1e-4 m")
    bounded("rho_particle_kg_m3", rho_particle_kg_m3, above=0.0, unit="kg/m3")
    bounded("rho_kg_m3", rho_kg_m3, above=0.0, unit="kg/m3")
    bounded("nu_m2_s", nu_m2_s, above=0.0, unit="m2/s")
    mobile = surface is Surface.MOBILE
    excess = rho_particle_kg_m3 / rho_kg_m3 - 1.0
    speed_m_s = excess * STANDARD_GRAVITY_M_S2 * diameter_m * diameter_m / (18.0 * nu_m2_s)
    if mobile:
        speed_m_s *= 1.5
    particle_re = magnitude(speed_m_s) * diameter_m / nu_m2_s
    speed_m_s, particle_re = kept(speed_m_s, particle_re)
    if anywhere(particle_re > STOKES_LIMIT_RE):
        place, found = first_place(particle_re > STOKES_LIMIT_RE, diameter_m, particle_re)
        raise OutOfRange(
            placed("diameter_m", place),
            f"{found[0]:.6g} m (particle Reynolds number {found[1]:.3g})",
            "small enough for a particle Reynolds number of at most 1",
            "larger particles drop within seconds; Stokes' law does not describe them",
        )
    return Settling(
        speed_m_s=speed_m_s,
        particle_re=particle_re,
        caveats=caveats_where(
            (
                particle_re > CREEPING_RE,
                Caveat(
                    code="beyond-creeping-flow",
                    text="The particle is fast enough to break away from Stokes' law: its true "
                    "speed is up to 15 % lower.",
                ),
            ),
            (
                mobile,
                Caveat(
                    code="mobile-surface",
                    text="A mobile surface is rare in oil with additives; the rigid figure is the "
                    "cautious one.",
                ),
            ),
        ),
    )
