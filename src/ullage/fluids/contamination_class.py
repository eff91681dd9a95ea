"""Which class of the aerospace standards does a count have?

SAE AS4059 revision E, table 2 (all particles above a size, classes with a letter per size) and
NAS 1638 (particles between two sizes). Both are printed tables; nothing is interpolated. The codes
of ISO 4406 are in ``cleanliness``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ullage.errors import OutOfRange
from ullage.fluids.tables import Table, load_table
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat

AS4059_SIZES_UM = {"a": 4, "b": 6, "c": 14, "d": 21, "e": 38, "f": 70}
NAS1638_RANGES = (
    "from_5_to_15_per_100_ml",
    "from_15_to_25_per_100_ml",
    "from_25_to_50_per_100_ml",
    "from_50_to_100_per_100_ml",
    "above_100_per_100_ml",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContaminationClass:
    """The class of each size that was counted, and the worst of them.

    Classes are texts ("00", "7", ">12") in the order of the table; ``by_size`` goes from fine to
    coarse. ``designation`` is how the standard writes the overall class: with the letters of the
    sizes that it covers, since AS4059 reads a bare number as size B.
    """

    overall: str
    designation: str
    by_size: Mapping[str, str]
    caveats: tuple[Caveat, ...] = ()


def as4059_class(counts_per_100_ml: Mapping[str, float]) -> ContaminationClass:
    """Return the classes of AS4059 for counts above its sizes.

    Parameters
    ----------
    counts_per_100_ml : mapping
        Particles above the sizes a to f (4, 6, 14, 21, 38, 70 um(c)), at least one of them, none
        more than a smaller size has. [1/(100 ml)]

    Returns
    -------
    classes : ContaminationClass
        Each class with the letter of its size, such as ``7B``, and the worst as a number. [-]

    Raises
    ------
    OutOfRange
        If there is no count, an unknown letter, a negative count, or counts that rise with size.

    Validity
    --------
    The overall class is the worst of the sizes given. On paper a class without a letter means size
    B alone, so ``designation`` adds the letters.

    Source
    ------
    SAE AS4059 rev. E, table 2 (``sae-as4059-e``).

    Examples
    --------
    >>> as4059_class({"b": 30000, "c": 5000}).by_size["c"]
    '7C'
    """
    unknown = [letter for letter in counts_per_100_ml if letter not in AS4059_SIZES_UM]
    if unknown or not counts_per_100_ml:
        raise OutOfRange(
            "counts_per_100_ml",
            ", ".join(unknown) or "nothing",
            "given for at least one of the sizes a to f",
        )
    table = load_table("as4059")
    by_size: dict[str, str] = {}
    ranks: list[int] = []
    finer: tuple[str, float] | None = None
    for letter in AS4059_SIZES_UM:
        if letter not in counts_per_100_ml:
            continue
        count = bounded(letter, counts_per_100_ml[letter], low=0.0, unit="per 100 ml")
        if finer is not None:
            bounded(
                letter,
                count,
                low=0.0,
                high=finer[1],
                unit="per 100 ml",
                advice=f"each count includes all larger particles, so {finer[0]} bounds it",
            )
        finer = (letter, count)
        rank = _rank(count, table.numbers(f"{letter}_per_100_ml"))
        ranks.append(rank)
        by_size[letter] = _class_text(rank, table) + letter.upper()
    worst = max(ranks)
    overall = _class_text(worst, table)
    return ContaminationClass(
        overall=overall,
        designation=overall + _letters(tuple(by_size)),
        by_size=by_size,
        caveats=_caveats(worst, table),
    )


def nas1638_class(counts_per_100_ml: Sequence[float]) -> ContaminationClass:
    """Return the class of NAS 1638 for counts in its five ranges.

    Parameters
    ----------
    counts_per_100_ml : (5,)
        Particles of 5-15, 15-25, 25-50, 50-100 and above 100 um, 0 or more. [1/(100 ml)]

    Returns
    -------
    classes : ContaminationClass
        The class of each range, and the worst, which is the class of the sample. [-]

    Raises
    ------
    OutOfRange
        If there are not five counts or one is negative.

    Validity
    --------
    Sizes on the calibration before 1999. Withdrawn for new designs; kept because papers of older
    machines name it.

    Source
    ------
    NAS 1638 (``nas-1638-1964``).

    Examples
    --------
    >>> nas1638_class([30000, 4000, 500, 90, 10]).overall
    '7'
    """
    if len(counts_per_100_ml) != len(NAS1638_RANGES):
        raise OutOfRange(
            "counts_per_100_ml",
            f"{len(counts_per_100_ml)} numbers",
            "five counts: 5-15, 15-25, 25-50, 50-100 and above 100 um",
        )
    table = load_table("nas1638")
    ranks = [
        _rank(bounded(column, count, low=0.0, unit="per 100 ml"), table.numbers(column))
        for column, count in zip(NAS1638_RANGES, counts_per_100_ml, strict=True)
    ]
    worst = max(ranks)
    overall = _class_text(worst, table)
    return ContaminationClass(
        overall=overall,
        designation=f"NAS 1638 class {overall}",
        by_size={
            column.removesuffix("_per_100_ml"): _class_text(rank, table)
            for column, rank in zip(NAS1638_RANGES, ranks, strict=True)
        },
        caveats=_caveats(worst, table),
    )


def _rank(count: float, limits: tuple[float, ...]) -> int:
    """Return the place of the first class that holds the count; past the end if none does."""
    return next((place for place, limit in enumerate(limits) if count <= limit), len(limits))


def _letters(sizes: tuple[str, ...]) -> str:
    """Return the letters of sizes: A-F where they are neighbours, else one after the other."""
    joined = "".join(sizes).upper()
    if len(joined) > 1 and joined in "ABCDEF":
        return f"{joined[0]}-{joined[-1]}"
    return joined


def _class_text(rank: int, table: Table) -> str:
    """Return the name of a class by its place in the table."""
    names = table.texts("class")
    return names[rank] if rank < len(names) else f">{names[-1]}"


def _caveats(worst: int, table: Table) -> tuple[Caveat, ...]:
    """Return the caveat of a sample that is worse than the last class."""
    if worst < len(table.rows):
        return ()
    return (
        Caveat(code="above-table", text="Dirtier than the last class of the table, which is 12."),
    )
