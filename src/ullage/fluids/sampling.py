"""What does a sample say, and how surely?

Counting statistics, particles on a membrane, mass on a membrane, and water by the crackle plate.
Drawing the sample well matters more than any of these; how to do that is on the job sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from ullage.errors import OutOfRange
from ullage.fluids.tables import load_table
from ullage.units.bounds import bounded, whole
from ullage.units.caveat import Caveat, only_where_true

WANTED_COUNTS = 150  # total under the microscope; ISO 4407, from memory
FEW_COUNTS = 20
UPPER_LIMIT_ONLY = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class CountInterval:
    """A count and the limits between which the true mean lies."""

    count: int
    low: float
    high: float

    @property
    def relative_spread(self) -> float:
        """Standard deviation of a count over the count itself."""
        whole("count", self.count, low=1)
        return 1.0 / math.sqrt(self.count)


def poisson_interval(*, count: float, confidence: float = 0.95) -> CountInterval:
    """Return the exact two-sided interval of the mean behind a raw count.

    Parameters
    ----------
    count : scalar
        Particles really counted, a whole number from 0. [-]
    confidence : scalar
        Share of such intervals that hold the true mean, above 0 and below 1. [-]

    Returns
    -------
    interval : CountInterval
        Limits in counts. [-]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    Particles fall anywhere, each for itself. Clumps, and an operator's eye, come on top.

    Source
    ------
    Garwood 1936 (``garwood-1936``), by the inverse of the incomplete gamma function.

    Examples
    --------
    >>> found = poisson_interval(count=20)
    >>> found.low, found.high
    (12.217, 30.888)
    """
    from scipy.special import gammaincinv  # scipy is slow to load: only for who asks

    number = whole("count", count)
    bounded("confidence", confidence, above=0.0, below=1.0)
    tail = (1.0 - confidence) / 2.0
    low = float(gammaincinv(number, tail)) if number > 0 else 0.0
    return CountInterval(count=number, low=low, high=float(gammaincinv(number + 1, 1.0 - tail)))


@dataclass(frozen=True, slots=True, kw_only=True)
class MembraneCount:
    """Particles per volume from a membrane, with 95 % limits and what to beware of."""

    per_m3: float
    low95_per_m3: float
    high95_per_m3: float
    caveats: tuple[Caveat, ...]


def membrane_count(
    *, count: float, effective_diameter_m: float, squares: float, side_m: float, sample_m3: float
) -> MembraneCount:
    """Return the particles per volume of a sample from a count on part of its membrane.

    Parameters
    ----------
    count : scalar
        Particles counted, a whole number from 0. [-]
    effective_diameter_m : scalar
        Diameter of the stained disc, above 0. [m]
    squares : scalar
        Grid squares counted, a whole number from 1. [-]
    side_m : scalar
        Side of one square, above 0. [m]
    sample_m3 : scalar
        Volume filtered, above 0. [m3]

    Returns
    -------
    found : MembraneCount
        Concentration with its 95 % limits from counting alone. [1/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above, or more area was counted than the disc has.

    Validity
    --------
    Particles spread evenly over the disc. A blank has to be subtracted where it matters.

    Source
    ------
    ISO 4407:2002, calculation of results (``iso-4407-2002``); interval as ``poisson_interval``;
    at least 150 counts from memory.

    Examples
    --------
    >>> found = membrane_count(count=200, effective_diameter_m=0.040, squares=20, side_m=0.0031,
    ...                        sample_m3=100e-6)
    >>> found.per_m3 / 1e6
    13.07635
    """
    bounded("effective_diameter_m", effective_diameter_m, above=0.0, unit="m")
    whole("squares", squares, low=1)
    bounded("side_m", side_m, above=0.0, unit="m")
    bounded("sample_m3", sample_m3, above=0.0, unit="m3")
    interval = poisson_interval(count=count)
    disc_m2 = math.pi / 4.0 * effective_diameter_m**2
    counted_m2 = squares * side_m * side_m
    if counted_m2 > disc_m2:
        raise OutOfRange(
            "squares",
            f"{squares:g} squares of {side_m * 1000:.4g} mm ({counted_m2 * 1e6:.4g} mm2)",
            f"no more area than the disc has ({disc_m2 * 1e6:.4g} mm2)",
            "check side and diameter",
        )
    scale = disc_m2 / counted_m2 / sample_m3
    number = interval.count
    return MembraneCount(
        per_m3=number * scale,
        low95_per_m3=interval.low * scale,
        high95_per_m3=interval.high * scale,
        caveats=only_where_true(
            (
                number < UPPER_LIMIT_ONLY,
                Caveat(
                    code="upper-limit-only",
                    text="Fewer than 5 counts: only the upper limit means anything.",
                ),
            ),
            (
                UPPER_LIMIT_ONLY <= number < FEW_COUNTS,
                Caveat(
                    code="few-counts",
                    text="Fewer than 20 counts: a code made of this carries >=.",
                ),
            ),
            (
                FEW_COUNTS <= number < WANTED_COUNTS,
                Caveat(
                    code="below-150",
                    text="Fewer than the 150 counts that the method asks for: count more squares.",
                ),
            ),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gravimetric:
    """Mass of solids per volume, and what to beware of."""

    concentration_kg_m3: float
    caveats: tuple[Caveat, ...]


def gravimetric(*, gain_test_kg: float, gain_control_kg: float, sample_m3: float) -> Gravimetric:
    """Return the mass of solids in a sample, by two membranes one behind the other.

    Parameters
    ----------
    gain_test_kg : scalar
        What the first membrane gained, at least ``gain_control_kg``. [kg]
    gain_control_kg : scalar
        What the second gained, 0 or more. [kg]
    sample_m3 : scalar
        Volume filtered, above 0. [m3]

    Returns
    -------
    found : Gravimetric
        Mass per volume. [kg/m3]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    A balance that shows 0.1 mg or finer, membranes dried and weighed alike.

    Source
    ------
    ISO 4405:1991, expression of results (``iso-4405-1991``).

    Examples
    --------
    >>> gravimetric(gain_test_kg=5.2e-6, gain_control_kg=0.2e-6,
    ...             sample_m3=100e-6).concentration_kg_m3 * 1000
    50.0
    """
    bounded(
        "gain_control_kg",
        gain_control_kg,
        low=0.0,
        unit="kg",
        advice="a control that loses mass was not dry at first: repeat it",
    )
    bounded(
        "gain_test_kg",
        gain_test_kg,
        low=gain_control_kg,
        unit="kg",
        advice="the first membrane holds what the second does and the solids too: weigh again",
    )
    bounded("sample_m3", sample_m3, above=0.0, unit="m3")
    gain_kg = gain_test_kg - gain_control_kg
    return Gravimetric(
        concentration_kg_m3=gain_kg / sample_m3,
        caveats=only_where_true(
            (
                gain_kg < 0.5e-6,
                Caveat(
                    code="near-balance-limit",
                    text="Less than 0.5 mg of solids: weighing error is a large part of it; "
                    "filter a larger sample.",
                ),
            ),
        ),
    )


class CrackleSign(StrEnum):
    """What a drop of oil does on the hot plate."""

    NONE = "none"
    FINE_BUBBLES = "fine-bubbles"
    BUBBLES = "bubbles"
    VIOLENT = "violent"


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterBand:
    """Water between two limits; ``to_wfrac`` is None where there is no upper one."""

    from_wfrac: float
    to_wfrac: float | None


def crackle_band(sign: CrackleSign) -> WaterBand:
    """Return the water that goes with what a drop does on a plate at 160 degC.

    Parameters
    ----------
    sign : CrackleSign
        What was seen and heard.

    Returns
    -------
    band : WaterBand
        Limits of water by mass. [kg/kg]

    Validity
    --------
    Mineral oil. Dissolved gas and volatile parts crackle too; nothing heard means less than
    500 mg/kg, not dry.

    Source
    ------
    Common practice, no source (table ``crackle``).

    Examples
    --------
    >>> crackle_band(CrackleSign.BUBBLES)
    WaterBand(from_wfrac=0.001, to_wfrac=0.002)
    """
    row = load_table("crackle").row("sign", sign)
    upper = row["water_to_mg_kg"]
    return WaterBand(
        from_wfrac=float(row["water_from_mg_kg"]) / 1e6,
        to_wfrac=float(upper) / 1e6 if upper else None,
    )


def water_limit_wfrac(family: str) -> float:
    """Return the water in a fluid in service at which to act.

    Parameters
    ----------
    family : text
        Fluid family as in ``compatibility``: mineral, ester or triglyceride.

    Returns
    -------
    limit_wfrac : scalar
        Water by mass. [kg/kg]

    Raises
    ------
    NotFound
        If no limit is known for the family, such as those that are made with water.

    Validity
    --------
    An alarm, not a law: the trend on one machine says more.

    Source
    ------
    Common practice, no source (table ``water_limit``).

    Examples
    --------
    >>> water_limit_wfrac("mineral")
    0.0005
    """
    return float(load_table("water_limit").row("family", family)["limit_mg_kg"]) / 1e6


class CylinderClass(StrEnum):
    """How closely a graduated glass cylinder is made."""

    A = "a"
    B = "b"


def cylinder_tolerance_m3(*, capacity_m3: float, grade: CylinderClass) -> float:
    """Return the limit of error of a graduated glass cylinder.

    Parameters
    ----------
    capacity_m3 : scalar
        Its nominal capacity, one that the standard has, 5 to 2000 ml. [m3]
    grade : CylinderClass
        Class A or B.

    Returns
    -------
    tolerance_m3 : scalar
        Limit of error, plus or minus. [m3]

    Raises
    ------
    NotFound
        If the standard has no such cylinder.

    Validity
    --------
    Glass at 20 degC. For a plastic jug take 2 % of its capacity (common practice, no source).

    Source
    ------
    ASTM E1272-02, table 1 (``astm-e1272-02``); 1000 and 2000 ml from memory.

    Examples
    --------
    >>> cylinder_tolerance_m3(capacity_m3=500e-6, grade=CylinderClass.B) * 1e6
    4.0
    """
    row = load_table("glass_cylinder").row("capacity_ml", f"{capacity_m3 * 1e6:.6g}")
    return float(row[f"class_{grade}_ml"]) / 1e6
