"""Which particle code does a count have, and does it meet a target?

Codes of ISO 4406 in the three-part form (automatic counter, 4, 6 and 14 um(c)) and in the two-part
form (microscope, 5 and 15 um), and sizes on the old and the new calibration. Counts stay per
millilitre here, as in the standard: its bounds are printed decimals and decide by equality.
Classes of other standards are in ``contamination_class``.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from ullage.errors import OutOfRange
from ullage.fluids.tables import load_table
from ullage.units.bounds import bounded, whole
from ullage.units.caveat import Caveat

ENOUGH_COUNTS = 20  # raw particles in a size; ISO 4406 marks fewer with "at least"
DOUBTFUL_BELOW = 8  # scale number under which laboratories agree badly
LARGEST = 28  # last scale number of the printed table


class Bound(StrEnum):
    """How much a part of a code says."""

    EXACT = ""
    AT_LEAST = ">="
    ABOVE_TABLE = ">"
    NOT_COUNTED = "-"
    TOO_MANY = "*"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleNumber:
    """One part of a code: a number and how far to trust it.

    ``number`` is 0 where nothing was counted or there was too much to count.
    """

    number: int
    bound: Bound = Bound.EXACT

    @property
    def is_number(self) -> bool:
        """Tell whether the part holds a number at all."""
        return self.bound not in (Bound.NOT_COUNTED, Bound.TOO_MANY)

    def __str__(self) -> str:
        """Write the part as it stands in a code."""
        return f"{self.bound}{self.number}" if self.is_number else str(self.bound)


NOT_COUNTED = ScaleNumber(number=0, bound=Bound.NOT_COUNTED)
TOO_MANY = ScaleNumber(number=0, bound=Bound.TOO_MANY)


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanlinessCode:
    """A particle code: one scale number per size, finest first, and what to beware of."""

    parts: tuple[ScaleNumber, ScaleNumber, ScaleNumber]
    caveats: tuple[Caveat, ...] = ()

    @property
    def text(self) -> str:
        """Return the code as it is written down, such as ``18/16/13``."""
        return "/".join(str(part) for part in self.parts)

    def meets(self, target: CleanlinessCode) -> bool:
        """Tell whether every size that the target names is as clean as the target or cleaner.

        A size that was not counted, or had too many to count, does not meet a target. "At least"
        counts as its number.
        """
        return all(
            ours.is_number and ours.bound is not Bound.ABOVE_TABLE and ours.number <= theirs.number
            for ours, theirs in zip(self.parts, target.parts, strict=True)
            if theirs.bound is not Bound.NOT_COUNTED
        )


def scale_number(per_ml: float, *, raw: float | None = None) -> ScaleNumber:
    """Return the scale number of a count.

    Parameters
    ----------
    per_ml : scalar
        Particles of a size or larger, 0 or more. [1/ml]
    raw : scalar
        Particles really counted, where known; below 20 the number becomes "at least". [-]

    Returns
    -------
    number : ScaleNumber
        0 to 28, or above the table. [-]

    Raises
    ------
    OutOfRange
        If a count is negative, not finite, or ``raw`` is not whole.

    Validity
    --------
    Steps of a factor two, so a difference of one between two samples is within the spread of the
    method. The printed bounds are rounded: logarithms would place some counts wrongly.

    Source
    ------
    ISO 4406:2017, table 1 (``iso-4406-2017``).

    Examples
    --------
    >>> str(scale_number(1.3)), str(scale_number(1.3, raw=13)), str(scale_number(3e6))
    ('7', '>=7', '>28')
    """
    bounded("per_ml", per_ml, low=0.0, unit="1/ml")
    few = raw is not None and whole("raw", raw) < ENOUGH_COUNTS
    number = bisect_left(load_table("iso4406").numbers("upper_bound_per_ml"), per_ml)
    if number > LARGEST:
        return ScaleNumber(number=LARGEST, bound=Bound.ABOVE_TABLE)
    return ScaleNumber(number=number, bound=Bound.AT_LEAST if few else Bound.EXACT)


def code_from_counter(
    n4_per_ml: float | ScaleNumber,
    n6_per_ml: float | ScaleNumber,
    n14_per_ml: float | ScaleNumber,
    *,
    raw4: float | None = None,
    raw6: float | None = None,
    raw14: float | None = None,
) -> CleanlinessCode:
    """Return the three-part code of an automatic counter.

    Parameters
    ----------
    n4_per_ml, n6_per_ml, n14_per_ml : scalar
        Particles of at least 4, 6 and 14 um(c), falling; or ``NOT_COUNTED``, ``TOO_MANY``. [1/ml]
    raw4, raw6, raw14 : scalar
        Particles really counted in each size, where known. [-]

    Returns
    -------
    code : CleanlinessCode
        The code with caveats. [-]

    Raises
    ------
    OutOfRange
        If a count is negative, or a larger size has more particles than a smaller one.

    Validity
    --------
    A counter calibrated to ISO 11171. Water drops and air bubbles count as particles.

    Source
    ------
    ISO 4406:2017, clause 4 and table 1 (``iso-4406-2017``).

    Examples
    --------
    >>> code_from_counter(150, 25, 1.0, raw14=15).text
    '14/12/>=7'
    """
    return _code(
        (("n4_per_ml", n4_per_ml, raw4), ("n6_per_ml", n6_per_ml, raw6)),
        ("n14_per_ml", n14_per_ml, raw14),
    )


def code_from_microscope(
    n5_per_ml: float | ScaleNumber,
    n15_per_ml: float | ScaleNumber,
    *,
    raw5: float | None = None,
    raw15: float | None = None,
) -> CleanlinessCode:
    """Return the code of a count under the microscope, whose first part is a dash.

    Parameters
    ----------
    n5_per_ml, n15_per_ml : scalar
        Particles of at least 5 and 15 um, falling; or ``NOT_COUNTED``, ``TOO_MANY``. [1/ml]
    raw5, raw15 : scalar
        Particles really counted in each size, where known. [-]

    Returns
    -------
    code : CleanlinessCode
        The code with caveats. [-]

    Raises
    ------
    OutOfRange
        If a count is negative, or the larger size has more particles than the smaller one.

    Validity
    --------
    Longest dimension under a microscope after ISO 4407. The two sizes are taken as equal to the
    last two of a counter.

    Source
    ------
    ISO 4406:2017, clause 4.3 (``iso-4406-2017``).

    Examples
    --------
    >>> code_from_microscope(2000, 60).text
    '-/18/13'
    """
    return _code((("n5_per_ml", n5_per_ml, raw5),), ("n15_per_ml", n15_per_ml, raw15))


def parse_code(text: str) -> CleanlinessCode:
    """Return the code that a text such as ``18/16/13``, ``-/18/13`` or ``14/12/>=7`` stands for.

    Two numbers alone are read as the microscope form.

    Raises
    ------
    OutOfRange
        If the text is not a code, or its numbers rise.

    Examples
    --------
    >>> parse_code("18/13").text
    '-/18/13'
    """
    fields = [
        field.strip() for field in text.replace("\u2265", ">=").replace("\u2212", "-").split("/")
    ]
    if len(fields) == 2:
        fields.insert(0, "-")
    parts = [_parse_part(field, text) for field in fields]
    if len(parts) != 3:
        raise OutOfRange("code", repr(text), "two or three parts with / between, such as 18/16/13")
    numbers = [part.number for part in parts if part.is_number]
    if numbers != sorted(numbers, reverse=True):
        raise OutOfRange(
            "code",
            repr(text),
            "made of numbers that do not rise",
            "larger particles are never more numerous: check the order",
        )
    return CleanlinessCode(parts=(parts[0], parts[1], parts[2]))


def usual_target(clearance: str) -> CleanlinessCode:
    """Return the code that a circuit needs by its tightest clearance, where its papers say nothing.

    ``clearance`` is "roomy" (gear pumps, plain cylinders), "ordinary" (piston pumps, solenoid
    valves) or "fine" (proportional and servo valves). Common practice, no source.

    Raises
    ------
    NotFound
        If the clearance is called otherwise.
    """
    return parse_code(load_table("target_code").row("clearance", clearance)["code"])


def certified_size_um(acftd_um: float) -> float:
    """Return a size on the certified scale from one on the scale of fine test dust.

    Parameters
    ----------
    acftd_um : scalar
        Size as counters before 1999 gave it, 1 to 100. [um]

    Returns
    -------
    certified_um : scalar
        Size in um(c), interpolated in a straight line between the printed pairs. [um]

    Raises
    ------
    OutOfRange
        If the size is outside the printed pairs.

    Validity
    --------
    For particle counters; a microscope measures something else.

    Source
    ------
    ISO 11171:1999, equivalence with ISO 4402:1991 (``iso-11171-1999``).

    Examples
    --------
    >>> certified_size_um(15.0)
    13.6
    """
    table = load_table("particle_size")
    return _interpolate(
        "acftd_um", acftd_um, table.numbers("acftd_um"), table.numbers("certified_um")
    )


def acftd_size_um(certified_um: float) -> float:
    """Return a size on the scale of fine test dust from one on the certified scale.

    Parameters
    ----------
    certified_um : scalar
        Size in um(c), 4.2 to 70. [um]

    Returns
    -------
    acftd_um : scalar
        Size as counters before 1999 gave it. [um]

    Raises
    ------
    OutOfRange
        If the size is outside the printed pairs.

    Validity
    --------
    As for ``certified_size_um``. The table prints 5.1 um(c) twice; the larger size is returned.

    Source
    ------
    ISO 11171:1999, equivalence with ISO 4402:1991 (``iso-11171-1999``).

    Examples
    --------
    >>> acftd_size_um(14.0)
    15.5
    """
    table = load_table("particle_size")
    return _interpolate(
        "certified_um", certified_um, table.numbers("certified_um"), table.numbers("acftd_um")
    )


def _interpolate(
    name: str, value: float, known: tuple[float, ...], wanted: tuple[float, ...]
) -> float:
    """Interpolate between printed pairs; a value printed twice gives its last pair."""
    bounded(name, value, low=known[0], high=known[-1], unit="um")
    right = bisect_right(known, value)
    left = right - 1
    if known[left] == value:
        return wanted[left]
    share = (value - known[left]) / (known[right] - known[left])
    return wanted[left] + share * (wanted[right] - wanted[left])


_Counted = tuple[str, float | ScaleNumber, float | None]


def _code(smaller: tuple[_Counted, ...], largest: _Counted) -> CleanlinessCode:
    """Return the code of two or three sizes, the missing first one written as a dash."""
    sizes = (*smaller, largest)
    _refuse_rising(sizes)
    parts = [
        count if isinstance(count, ScaleNumber) else scale_number(count, raw=raw)
        for _, count, raw in sizes
    ]
    first, second, third = parts if len(parts) == 3 else (NOT_COUNTED, *parts)
    return CleanlinessCode(
        parts=(first, second, third),
        caveats=_caveats(parts, raw_known=all(raw is not None for _, _, raw in sizes)),
    )


def _refuse_rising(sizes: tuple[_Counted, ...]) -> None:
    """Refuse counts at or above a size that exceed those at or above a smaller one."""
    numbers = [(name, count) for name, count, _ in sizes if not isinstance(count, ScaleNumber)]
    for name, count in numbers:
        bounded(name, count, low=0.0, unit="1/ml")
    for (finer, many), (coarser, few) in pairwise(numbers):
        bounded(
            coarser,
            few,
            low=0.0,
            high=many,
            unit="1/ml",
            advice=f"each count includes all larger particles, so it is no more than {finer}",
        )


def _caveats(parts: list[ScaleNumber], *, raw_known: bool) -> tuple[Caveat, ...]:
    """Return what to beware of in a code."""
    found = []
    if any(part.bound is Bound.AT_LEAST for part in parts):
        found.append(
            Caveat(
                code="few-counts",
                text="A size with fewer than 20 counted particles is marked >=; take a larger "
                "sample to pin it down.",
            )
        )
    elif not raw_known:
        found.append(
            Caveat(
                code="raw-counts-unknown",
                text="Without the raw counts a size with fewer than 20 particles can't be told "
                "apart; give them if you have them.",
            )
        )
    if any(part.is_number and part.number < DOUBTFUL_BELOW for part in parts):
        found.append(
            Caveat(
                code="below-8",
                text="Below scale number 8 results repeat badly; bottle and air count as well.",
            )
        )
    if any(part.bound is Bound.ABOVE_TABLE for part in parts):
        found.append(
            Caveat(code="above-table", text="More particles than the scale has numbers for.")
        )
    return tuple(found)


def _parse_part(field: str, text: str) -> ScaleNumber:
    """Return one part of a written code."""
    if field == "-":
        return NOT_COUNTED
    if field == "*":
        return TOO_MANY
    bound = Bound.EXACT
    if field.startswith(">="):
        bound, field = Bound.AT_LEAST, field[2:].strip()
    elif field.startswith(">"):
        bound, field = Bound.ABOVE_TABLE, field[1:].strip()
    if not (field.isascii() and field.isdigit()) or int(field) > LARGEST:
        raise OutOfRange(
            "code", repr(text), f"made of numbers from 0 to {LARGEST}, '-' or '*', with / between"
        )
    if bound is Bound.ABOVE_TABLE and int(field) != LARGEST:
        raise OutOfRange("code", repr(text), f"without '>' except in >{LARGEST}", "write >= ?")
    return ScaleNumber(number=int(field), bound=bound)
