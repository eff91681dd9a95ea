"""May this fluid go into this circuit, with what is in it and with its seals?

Classes of hydraulic fluids and the chemical family behind each, families that may meet, elastomers
that stand them, and the requirements for brake fluids. The maker's own papers always come first.
Viscosity is judged elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ullage.errors import Incompatible, NotFound
from ullage.fluids.tables import load_table
from ullage.units.convert import MM2_S_M2_S, ZERO_CELSIUS_K

UNKNOWN = "unknown"


class Fit(StrEnum):
    """Whether two things may be put together."""

    GOOD = "good"
    CONDITIONAL = "conditional"
    NEVER = "never"


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidClass:
    """A class of fluid, the family that decides about seals and mixing, and what it means."""

    name: str
    family: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether two things go together, why, and where that stands."""

    fit: Fit
    why: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SealVerdict:
    """Whether one elastomer stands a fluid."""

    elastomer: str
    fit: Fit
    why: str
    source: str


def fluid_classes() -> tuple[FluidClass, ...]:
    """Return every class that is known, in the order of the table."""
    return tuple(
        FluidClass(name=row["class"], family=row["family"], meaning=row["meaning"])
        for row in load_table("fluid_class")
    )


def fluid_class(name: str) -> FluidClass:
    """Return a class of fluid by its name, upper or lower case.

    Parameters
    ----------
    name : text
        A class of ISO 6743-4, ``ATF``, ``BRAKE-GLYCOL`` or ``BRAKE-SILICONE``.

    Returns
    -------
    found : FluidClass
        The class and its family.

    Raises
    ------
    NotFound
        If no class is called that; the error lists those that are.
    Incompatible
        If the name is ``unknown``: nothing may be put to a fluid that nobody knows.

    Validity
    --------
    The family is what decides here; additives within it differ.

    Source
    ------
    ISO 6743-4:2015 (``iso-6743-4-2015``), table ``fluid_class``.

    Examples
    --------
    >>> fluid_class("hees").family
    'ester'
    """
    wanted = name.strip().upper()
    if wanted == UNKNOWN.upper():
        raise Incompatible(
            "the class of the fluid must be known, got 'unknown'; find its name on a label or in "
            "the machine's papers, or stop: two families in one circuit can ruin its seals"
        )
    classes = fluid_classes()
    for known in classes:
        if known.name == wanted:
            return known
    raise NotFound("class of fluid", name, (known.name for known in classes))


def mixing(first: str, second: str) -> Verdict:
    """Return whether two classes of fluid may meet in one circuit.

    Parameters
    ----------
    first, second : text
        Classes as for ``fluid_class``, in either order.

    Returns
    -------
    verdict : Verdict
        Good within a family, else what the table says; a pair that it does not list is never.

    Raises
    ------
    NotFound
        If a class is not known.
    Incompatible
        If one is ``unknown``.

    Validity
    --------
    Whether the fluids stand each other, not whether the machine stands the mixture.

    Source
    ------
    Table ``mixing``; each row names its own.

    Examples
    --------
    >>> mixing("HM", "HEPG").fit
    <Fit.NEVER: 'never'>
    """
    families = sorted((fluid_class(first).family, fluid_class(second).family))
    if families[0] == families[1]:
        return Verdict(
            fit=Fit.GOOD,
            why="one family; additives of two makers can still differ",
            source="common practice, no source",
        )
    for row in load_table("mixing"):
        if {row["first"], row["second"]} == set(families):
            return Verdict(fit=Fit(row["verdict"]), why=row["why"], source=row["source"])
    return Verdict(
        fit=Fit.NEVER,
        why=f"nothing is known that allows {families[0]} and {families[1]} together",
        source="common practice, no source",
    )


def require_mixable(old: str, new: str) -> Verdict:
    """Return the verdict on new fluid meeting old, or refuse.

    Parameters
    ----------
    old, new : text
        Classes as for ``fluid_class``.

    Returns
    -------
    verdict : Verdict
        Good or conditional.

    Raises
    ------
    NotFound
        If a class is not known.
    Incompatible
        If the two must not meet, or one is ``unknown``.

    Validity
    --------
    As for ``mixing``.

    Source
    ------
    As for ``mixing``.

    Examples
    --------
    >>> require_mixable("HM", "HV").fit
    <Fit.GOOD: 'good'>
    """
    verdict = mixing(old, new)
    if verdict.fit is Fit.NEVER:
        raise Incompatible(
            f"{new} must not be put to {old}: {verdict.why}; choose a fluid of the family that is "
            "in the circuit, or have it emptied, cleaned and resealed"
        )
    return verdict


def seal_verdicts(fluid: str, elastomers: Iterable[str]) -> tuple[SealVerdict, ...]:
    """Return for each elastomer whether it stands a fluid.

    Parameters
    ----------
    fluid : text
        Class as for ``fluid_class``.
    elastomers : texts
        Short names such as NBR, HNBR, FKM, EPDM.

    Returns
    -------
    verdicts : SealVerdict
        One for each elastomer, in the order given.

    Raises
    ------
    NotFound
        If class or elastomer is not known, or the table has nothing on the pair.
    Incompatible
        If the fluid is ``unknown``.

    Validity
    --------
    The family's usual behaviour at 70 to 100 degC; a certain compound and fluid are tested to
    ISO 6072 (rule of thumb: no more than 5 % of volume, 5 points of hardness).

    Source
    ------
    Common practice, no source (table ``seal_fit``, with the confidence of each row).

    Examples
    --------
    >>> [verdict.fit.value for verdict in seal_verdicts("HM", ["NBR", "EPDM"])]
    ['good', 'never']
    """
    family = fluid_class(fluid).family
    table = load_table("seal_fit")
    of_family = {row["elastomer"]: row for row in table if row["family"] == family}
    verdicts = []
    for elastomer in elastomers:
        row = of_family.get(elastomer.strip().upper())
        if row is None:
            raise NotFound(f"elastomer with a verdict for {family} fluids", elastomer, of_family)
        verdicts.append(
            SealVerdict(
                elastomer=row["elastomer"],
                fit=Fit(row["fit"]),
                why=row["remark"],
                source=row["source"],
            )
        )
    return tuple(verdicts)


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeFluid:
    """What a brake fluid has to hold: boiling points dry and wet, viscosity cold and hot."""

    name: str
    base: str
    dry_boiling_min_k: float
    wet_boiling_min_k: float
    nu_minus40_max_m2_s: float
    nu100_min_m2_s: float
    source: str


def brake_fluid(name: str) -> BrakeFluid:
    """Return the requirements for a brake fluid.

    Parameters
    ----------
    name : text
        Such as ``DOT 4`` or ``ISO 4925 class 6``.

    Returns
    -------
    fluid : BrakeFluid
        Limits in SI. [K, m2/s]

    Raises
    ------
    NotFound
        If the table has no such fluid.

    Validity
    --------
    Limits that a new fluid has to meet; wet means with 3.7 % water. ISO 4925 rows are from memory.

    Source
    ------
    49 CFR 571.116, S5.1 (``cfr-49-571-116``); ISO 4925 (``iso-4925-2005``, ``iso-4925-2020``).

    Examples
    --------
    >>> round(brake_fluid("DOT 4").wet_boiling_min_k - 273.15)
    155
    """
    row = load_table("brake_fluid").row("name", name)
    return BrakeFluid(
        name=row["name"],
        base=row["base"],
        dry_boiling_min_k=float(row["dry_boiling_min_degc"]) + ZERO_CELSIUS_K,
        wet_boiling_min_k=float(row["wet_boiling_min_degc"]) + ZERO_CELSIUS_K,
        nu_minus40_max_m2_s=float(row["nu_minus40_max_mm2_s"]) * MM2_S_M2_S,
        nu100_min_m2_s=float(row["nu100_min_mm2_s"]) * MM2_S_M2_S,
        source=row["source"],
    )
