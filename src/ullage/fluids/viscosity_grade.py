"""Which ISO viscosity grade is a liquid of, if any?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.fluids.tables import load_table
from ullage.units.bounds import bounded
from ullage.units.convert import MM2_S_M2_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """A viscosity grade of ISO 3448: a midpoint at 40 degC and 10 % either side."""

    number: int
    midpoint_m2_s: float

    @property
    def low_m2_s(self) -> float:
        """Thinnest liquid of the grade."""
        return 0.9 * self.midpoint_m2_s

    @property
    def high_m2_s(self) -> float:
        """Thickest liquid of the grade."""
        return 1.1 * self.midpoint_m2_s

    def holds(self, nu40_m2_s: float) -> bool:
        """Tell whether a viscosity at 40 degC is of this grade, both ends included."""
        room = 1e-9 * self.midpoint_m2_s
        return self.low_m2_s - room <= nu40_m2_s <= self.high_m2_s + room


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeFound:
    """Where a viscosity at 40 degC stands among the grades.

    ``grade`` is None between two grades, which is an answer: grades do not cover every viscosity.
    ``nearest`` always names the grade with the closest midpoint.
    """

    grade: Grade | None
    nearest: Grade


def grades() -> tuple[Grade, ...]:
    """Return every grade of ISO 3448, thinnest first."""
    table = load_table("iso3448")
    return tuple(
        Grade(number=int(number), midpoint_m2_s=midpoint * MM2_S_M2_S)
        for number, midpoint in zip(
            table.texts("grade"), table.numbers("midpoint_mm2_s"), strict=True
        )
    )


def viscosity_grade(nu40_m2_s: float) -> GradeFound:
    """Return the ISO viscosity grade of a liquid.

    Parameters
    ----------
    nu40_m2_s : scalar
        Kinematic viscosity at 40 degC. [m2/s]

    Returns
    -------
    result : GradeFound
        The grade, or none between two grades, and the nearest one.

    Raises
    ------
    OutOfRange
        If the viscosity is not a positive number.

    Validity
    --------
    1.98 to 3520 mm2/s; outside there is no grade. Grades 2200 and 3200 from memory.

    Source
    ------
    ``iso-3448-1992``, table 1; data/iso3448.csv.

    Examples
    --------
    >>> viscosity_grade(44.0e-6).grade.number
    46
    >>> viscosity_grade(55.0e-6).grade is None
    True
    """
    bounded("nu40_m2_s", nu40_m2_s, above=0.0, unit="m2/s")
    known = grades()
    nearest = min(known, key=lambda grade: abs(math.log(nu40_m2_s / grade.midpoint_m2_s)))
    return GradeFound(grade=nearest if nearest.holds(nu40_m2_s) else None, nearest=nearest)
