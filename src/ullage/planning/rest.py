"""How long must fluid rest: until air has left it, until debris lies on the floor of the waste can?

Both times go with viscosity, so warm fluid needs less. Leaves out foam on top, which stands longer,
and currents in a can that somebody has just carried.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.errors import OutOfRange
from ullage.fluids.liquid import Liquid
from ullage.fluids.settling import settling
from ullage.fluids.viscosity_grade import viscosity_grade
from ullage.planning.finding import OURS, PRACTICE
from ullage.planning.own_table import own_table
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true
from ullage.units.convert import MINUTE_S, kelvin_from_degc

#: What an eye tells apart on the floor of a clear can: common practice, no source.
VISIBLE_M = 50e-6
#: Wear is mostly steel.
DEBRIS_KG_M3 = 7850.0
#: Beyond this nobody waits; draw a sample warm, use a magnet or a membrane instead.
LONGEST_WAIT_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """How long to wait, whose figure it rests on, and what to beware of."""

    time_s: float
    source: str
    caveats: tuple[Caveat, ...]


def air_release(liquid: Liquid, *, temperature_k: float) -> Rest:
    """Return how long entrained air needs to leave a fluid.

    Parameters
    ----------
    liquid : Liquid
        The fluid.
    temperature_k : scalar
        Its temperature. [K]

    Returns
    -------
    rest : Rest
        Longest time that a new oil of the grade may take. [s]

    Raises
    ------
    OutOfRange
        If the viscosity is not known at the temperature.

    Validity
    --------
    Exact at 50 degC, as a limit that good oils keep well. Elsewhere in proportion to viscosity, as
    bubbles rise. Dirt and water make it longer. Between two rows the longer time counts; outside
    them the nearest row's.

    Source
    ------
    ``din-51524-2``; scaling with viscosity: ours, no source (bubbles after ``stokes-1851``).

    Examples
    --------
    >>> oil = Liquid(nu40_m2_s=46e-6, nu100_m2_s=6.8e-6, rho15_kg_m3=875.0, class_="HM")
    >>> round(air_release(oil, temperature_k=323.15).time_s)
    600
    """
    table = own_table("air_release")
    grade = viscosity_grade(liquid.nu40_m2_s).nearest.number
    rows = list(table)
    row = next((r for r in rows if grade <= float(r["highest_grade"])), rows[-1])
    at_k = kelvin_from_degc(float(row["at_degc"]))
    here, there = liquid.nu_m2_s(temperature_k), liquid.nu_m2_s(at_k)
    inside = float(rows[0]["lowest_grade"]) <= grade <= float(rows[-1]["highest_grade"])
    return Rest(
        time_s=float(row["longest_minutes"]) * MINUTE_S * here / there,
        source=row["source"],
        caveats=only_where_true(
            (
                not inside or liquid.family != "mineral",
                Caveat(
                    code="air-release-borrowed",
                    text="The limits are those of mineral oils from grade 10 to 100; for this "
                    "fluid the nearest is borrowed.",
                ),
            ),
            (
                abs(temperature_k - at_k) > 1.0,
                Caveat(
                    code="air-release-scaled",
                    text=f"The limit holds at 50 degC; here it is scaled with viscosity ({OURS}).",
                ),
            ),
        ),
    )


def debris_settling(
    liquid: Liquid, *, temperature_k: float, depth_m: float, diameter_m: float = VISIBLE_M
) -> Rest:
    """Return how long to wait until visible debris lies on the floor of the waste container.

    Parameters
    ----------
    liquid : Liquid
        The fluid in the container.
    temperature_k : scalar
        Its temperature. [K]
    depth_m : scalar
        How deep it stands, above 0. [m]
    diameter_m : scalar
        Smallest steel particle that shall have settled. [m]

    Returns
    -------
    rest : Rest
        Time from the surface to the floor. [s]

    Raises
    ------
    OutOfRange
        If the depth is not positive.

    Validity
    --------
    Fluid at rest and of one temperature; a cooling can settles slower than this.

    Source
    ------
    ``stokes-1851``; what is visible, and that it is steel: common practice, no source.

    Examples
    --------
    >>> oil = Liquid(nu40_m2_s=46e-6, nu100_m2_s=6.8e-6, rho15_kg_m3=875.0, class_="HM")
    >>> round(debris_settling(oil, temperature_k=313.15, depth_m=0.2).time_s / 60)
    14
    """
    bounded("depth_m", depth_m, above=0.0, unit="m")
    try:
        found = settling(
            diameter_m=diameter_m,
            rho_particle_kg_m3=DEBRIS_KG_M3,
            rho_kg_m3=liquid.density_kg_m3(temperature_k),
            nu_m2_s=liquid.nu_m2_s(temperature_k),
        )
    except OutOfRange as error:
        if error.name != "diameter_m":
            raise
        # So thin a fluid lets it drop at once; the slowest speed that Stokes still describes.
        nu = liquid.nu_m2_s(temperature_k)
        return Rest(time_s=depth_m * diameter_m / nu, source="stokes-1851", caveats=())
    time_s = found.time_over_s(depth_m)
    return Rest(
        time_s=time_s,
        source=PRACTICE,
        caveats=only_where_true(
            (
                time_s > LONGEST_WAIT_S,
                Caveat(
                    code="too-slow-to-wait",
                    text="That is too long to wait: judge a vial drawn from the warm reservoir "
                    "instead, draw a magnet through the can, or count on a membrane.",
                ),
            ),
            (
                True,
                Caveat(
                    code="waste-is-a-mixture",
                    text="The waste can holds old and new fluid together; what was drawn off the "
                    "reservoir first shows the used fluid undiluted.",
                ),
            ),
        ),
    )
