"""Is the fluid due, and why: readings against limits, and use against intervals?

Each reading stands inside, at or past its limit; limits come from the machine's own figures or from
a table, row by row with whose word they are. The verdict is due, not due, or cannot tell, and
always carries its reasons. No limit condemns alone what the machine's papers allow.

Leaves out how readings run over time (``trend``), and what a change does to the next date.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from ullage.circuit.network import Circuit
from ullage.errors import NotFound
from ullage.fluids.cleanliness import code_from_counter
from ullage.fluids.sampling import water_limit_wfrac
from ullage.planning.filtering import target_of
from ullage.planning.finding import PRACTICE
from ullage.planning.own_table import own_table
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat, only_where_true
from ullage.units.convert import HOUR_S

DAY_S = 24.0 * HOUR_S
KM_M = 1000.0
_ANY = "any"
_PPM = 1e-6
_ACID = 1e-3  # mg KOH per g
#: How far a reading may miss its limit and still be called "at" it, where no uncertainty is given,
#: as a share of the limit. Common practice, no source.
_NEAR = 0.1


class Standing(StrEnum):
    """Where something stands against its limit."""

    INSIDE = "inside"
    AT = "at"
    PAST = "past"
    UNKNOWN = "unknown"


class Answer(StrEnum):
    """Whether the fluid is due."""

    DUE = "due"
    NOT_DUE = "not due"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What a fluid has been through since it was new: distance, age, hours; None where unknown."""

    distance_m: float | None = None
    age_s: float | None = None
    running_s: float | None = None

    def __post_init__(self) -> None:
        """Refuse use that runs backwards."""
        for name in ("distance_m", "age_s", "running_s"):
            value: float | None = getattr(self, name)
            if value is not None:
                bounded(name, value, low=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval(Use):
    """How much use the machine's papers allow; None where they name none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One thing judged: what, value and limit in ``unit``, where it stands, whose limit it is."""

    what: str
    value: float | None
    limit: float | None
    unit: str
    standing: Standing
    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """The verdict, its reasons, every line that was judged, and caveats."""

    answer: Answer
    reasons: tuple[str, ...]
    lines: tuple[Judged, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainties:
    """Standard uncertainties of the readings; None takes what is usual for being "at" a limit."""

    nu40_m2_s: float | None = None
    water_wfrac: float | None = None
    acid_kg_kg: float | None = None


def due(
    circuit: Circuit,
    *,
    use: Use | None = None,
    interval: Interval | None = None,
    colour_rise: float | None = None,
    uncertainties: Uncertainties | None = None,
    is_viscosity_measured: bool = True,
) -> Due:
    """Return whether the fluid in a circuit is due for a change.

    Parameters
    ----------
    circuit : Circuit
        Its old fluid holds the readings, its new fluid what they are compared with.
    use : Use
        What the fluid has been through since the last change.
    interval : Interval
        What the machine's papers allow; where they are silent a table of common practice steps in.
    colour_rise : scalar
        Numbers of the petroleum colour scale above new fluid. [-]
    uncertainties : Uncertainties
        Of the readings, where known.
    is_viscosity_measured : value
        False where the old fluid's viscosity is its sheet's: it then says nothing of its wear.

    Returns
    -------
    found : Due
        Verdict, reasons, lines, caveats.

    Raises
    ------
    OutOfRange
        If a figure is negative.

    Validity
    --------
    Limits of families, not of products. A sample must stand for the circuit: drawn from moving
    fluid, or from the reservoir before anything new went in.

    Source
    ------
    Tables ``limits`` and ``water_limit``, each row with its own: mostly common practice, no source.
    """
    given = Uncertainties() if uncertainties is None else uncertainties
    lines = (
        *_readings(circuit, given, is_viscosity_measured=is_viscosity_measured),
        *_colour(circuit, colour_rise),
        *_use(circuit, use or Use(), interval or Interval()),
    )
    answer, reasons = _answer(lines)
    return Due(
        answer=answer,
        reasons=reasons,
        lines=lines,
        caveats=only_where_true(
            (
                any(line.source == PRACTICE for line in lines if line.limit is not None),
                Caveat(
                    code="usual-limits",
                    text=f"Some limits are those of {PRACTICE}: what the machine's papers say "
                    "comes first, and a trend says more than one reading.",
                ),
            ),
            (
                not any(line.what == "particles" and line.value is not None for line in lines),
                Caveat(
                    code="not-counted",
                    text="Nobody counted particles: dirt, the commonest reason, is not seen here.",
                ),
            ),
        ),
    )


def life_after(*, life: float, old_vfrac: float, shortening: float = 1.0) -> float:
    """Return how long a fluid lasts after a change that left some old fluid behind.

    Parameters
    ----------
    life : scalar
        Interval of an entirely new filling, 0 or more: distance, time or hours. [any]
    old_vfrac : scalar
        Old fluid that stayed, 0 to 1. [m3/m3]
    shortening : scalar
        By which share of the interval all-old fluid would shorten it, 0 or more; above 1 where a
        little old fluid does much harm. [-]

    Returns
    -------
    life : scalar
        Interval that is left, in the same unit; never below 0. [any]

    Raises
    ------
    OutOfRange
        If a value is outside the ranges above.

    Validity
    --------
    An assumption, shown and editable: straight shortening by the share that stayed, interval times
    (1 - k x) with k = 1. Acids and worn-out additives may do more than their share.

    Source
    ------
    Ours, no source.

    Examples
    --------
    >>> life_after(life=4.0, old_vfrac=0.25)
    3.0
    """
    bounded("life", life, low=0.0)
    bounded("old_vfrac", old_vfrac, low=0.0, high=1.0)
    bounded("shortening", shortening, low=0.0, high=20.0)
    return life * max(1.0 - shortening * old_vfrac, 0.0)


def usual_interval(family: str) -> Interval:
    """Return the interval that is usual for a family, where no papers name one.

    Common practice, no source.
    """
    return Interval(
        distance_m=_usual("distance", family) * KM_M,
        age_s=_usual("age", family) * DAY_S,
        running_s=_usual("running", family) * HOUR_S,
    )


def standing(value: float, limit: float, u: float | None = None) -> Standing:
    """Return where a value stands against a limit that it must not exceed.

    Within its standard uncertainty of the limit, doubled, it is "at" it.

    >>> standing(450.0, 500.0, 10.0).value, standing(490.0, 500.0, 10.0).value
    ('inside', 'at')
    """
    near = 2.0 * u if u is not None else _NEAR * abs(limit)
    if value > limit + near:
        return Standing.PAST
    return Standing.AT if value >= limit - near else Standing.INSIDE


def _row(what: str, family: str) -> dict[str, str] | None:
    """Return the row of a property for a family, or the one for any."""
    rows = [row for row in own_table("limits") if row["property"] == what]
    for wanted in (family, _ANY):
        for row in rows:
            if row["family"] == wanted:
                return dict(row)
    return None


def _usual(what: str, family: str) -> float:
    """Return a figure that every family has."""
    row = _row(what, family)
    if row is None:
        raise NotFound("limit", what, ())
    return float(row["limit"])


def _unknown(what: str, unit: str, text: str) -> Judged:
    """Return the line of something that nobody knows."""
    return Judged(
        what=what,
        value=None,
        limit=None,
        unit=unit,
        standing=Standing.UNKNOWN,
        text=text,
        source=PRACTICE,
    )


_VERB = {
    Standing.INSIDE: "is inside",
    Standing.AT: "is at",
    Standing.PAST: "is past",
    Standing.UNKNOWN: "has no",
}


def _readings(
    circuit: Circuit, given: Uncertainties, *, is_viscosity_measured: bool
) -> Iterator[Judged]:
    """Judge viscosity, water, acid and particles."""
    old, new = circuit.fluid, circuit.new_fluid
    if is_viscosity_measured:
        yield _viscosity(circuit, given)
    else:
        yield _unknown("viscosity", "%", "The old fluid's viscosity was not measured.")
    yield _water(circuit, given)
    acid = _row("acid", old.family)
    if acid is None or old.acid_kg_kg is None:
        yield _unknown(
            "acid",
            "mg KOH/g",
            "The acid number was not measured."
            if acid is not None
            else f"No limit of acid is on file for {old.family} fluids.",
        )
    else:
        limit = float(acid["limit"])
        fresh = 0.0 if new.acid_kg_kg is None else new.acid_kg_kg / _ACID
        u = None if given.acid_kg_kg is None else given.acid_kg_kg / _ACID
        rise = old.acid_kg_kg / _ACID - fresh
        where = standing(rise, limit, u)
        against = (
            "over the new fluid"
            if new.acid_kg_kg is not None
            else "with nothing known of the new fluid's own"
        )
        yield Judged(
            what="acid",
            value=rise,
            limit=limit,
            unit="mg KOH/g",
            standing=where,
            text=f"A rise of acid of {rise:.2g} mg KOH/g, {against}, {_VERB[where]} its limit of "
            f"{limit:g}.",
            source=acid["source"],
        )
    yield _particles(circuit)


def _viscosity(circuit: Circuit, given: Uncertainties) -> Judged:
    """Judge how far viscosity has moved from that of the new fluid."""
    old, new = circuit.fluid, circuit.new_fluid
    row = _row("viscosity", old.family)
    limit = float(row["limit"]) if row else 10.0
    change = 100.0 * (old.nu40_m2_s / new.nu40_m2_s - 1.0)
    u = None if given.nu40_m2_s is None else 100.0 * given.nu40_m2_s / new.nu40_m2_s
    where = standing(abs(change), limit, u)
    return Judged(
        what="viscosity",
        value=change,
        limit=limit,
        unit="%",
        standing=where,
        text=f"Viscosity at 40 degC has moved by {change:+.1f} % against the new fluid and "
        f"{_VERB[where]} its limit of {limit:g} %.",
        source=row["source"] if row else PRACTICE,
    )


def _water(circuit: Circuit, given: Uncertainties) -> Judged:
    """Judge water against the limit of the family."""
    old = circuit.fluid
    row = _row("water", old.family)
    limit: float | None = None
    if row is not None:
        limit = float(row["limit"])
    else:
        try:
            limit = water_limit_wfrac(old.family) / _PPM
        except NotFound:
            limit = None
    if limit is None or old.water_wfrac is None:
        return _unknown(
            "water",
            "mg/kg",
            "Water was not measured."
            if limit is not None
            else f"No limit of water is on file for {old.family} fluids.",
        )
    value = old.water_wfrac / _PPM
    u = None if given.water_wfrac is None else given.water_wfrac / _PPM
    where = standing(value, limit, u)
    return Judged(
        what="water",
        value=value,
        limit=limit,
        unit="mg/kg",
        standing=where,
        text=f"Water of {value:.0f} mg/kg {_VERB[where]} its limit of {limit:g}.",
        source=row["source"] if row else PRACTICE,
    )


def _particles(circuit: Circuit) -> Judged:
    """Judge the particle code: one number above the target is within the spread of the method."""
    counted = circuit.fluid.particles_per_m3
    if counted is None:
        return _unknown("particles", "-", "Particles were not counted.")
    target, whose = target_of(circuit)
    four, six, fourteen = (count * 1e-6 for count in counted)
    code = code_from_counter(four, six, fourteen)
    above = max(
        (
            ours.number - theirs.number
            for ours, theirs in zip(code.parts, target.parts, strict=True)
            if theirs.is_number
        ),
        default=0,
    )
    row = _row("particles", circuit.fluid.family)
    spread = float(row["limit"]) if row else 1.0
    where = Standing.INSIDE if above <= 0 else Standing.AT if above <= spread else Standing.PAST
    return Judged(
        what="particles",
        value=float(above),
        limit=0.0,
        unit="-",
        standing=where,
        text=f"The particle code {code.text} {_VERB[where]} its target of {target.text}: "
        + (f"{above} above it at the worst size." if above > 0 else "met at every size."),
        source=whose,
    )


def _colour(circuit: Circuit, rise: float | None) -> Iterator[Judged]:
    """Judge colour, which is a hint and decides nothing alone."""
    row = _row("colour", circuit.fluid.family)
    if rise is None or row is None:
        return
    limit = float(row["limit"])
    where = standing(rise, limit, 0.25)
    where = Standing.AT if where is Standing.PAST else where
    yield Judged(
        what="colour",
        value=rise,
        limit=limit,
        unit="-",
        standing=where,
        text=f"It is {rise:g} numbers darker than new; colour follows ageing and mixing alike and "
        "never decides alone.",
        source=row["source"],
    )


_USES = (
    ("distance", "distance_m", KM_M, "km"),
    ("age", "age_s", DAY_S, "days"),
    ("running", "running_s", HOUR_S, "h"),
)


def _use(circuit: Circuit, use: Use, interval: Interval) -> Iterator[Judged]:
    """Judge distance, age and hours against the interval."""
    usual = usual_interval(circuit.fluid.family)
    for what, name, size, unit in _USES:
        value: float | None = getattr(use, name)
        own: float | None = getattr(interval, name)
        limit = getattr(usual, name) if own is None else own
        if value is None:
            if own is not None:
                yield _unknown(what, unit, f"How much {what} it has behind it is not known.")
            continue
        share = value / limit if limit > 0.0 else float("inf")
        where = (
            Standing.PAST
            if share >= 1.0
            else Standing.AT
            if share >= 1.0 - _NEAR
            else Standing.INSIDE
        )
        yield Judged(
            what=what,
            value=value / size,
            limit=limit / size,
            unit=unit,
            standing=where,
            text=f"{value / size:.0f} {unit} since the last exchange: "
            f"{_VERB[where].removeprefix('is ')} the interval of {limit / size:.0f} {unit}.",
            source=PRACTICE if own is None else "papers of the machine",
        )


_USE_WORDS = tuple(what for what, *_ in _USES)


def _answer(lines: Iterable[Judged]) -> tuple[Answer, tuple[str, ...]]:
    """Return the verdict and the lines that make it.

    Past any limit: due. Inside everything that is known, with its interval or most readings known:
    not due. At a limit, or too little known: cannot tell.
    """
    lines = tuple(lines)
    past = [line for line in lines if line.standing is Standing.PAST]
    if past:
        return Answer.DUE, tuple(line.text for line in past)
    at = [line for line in lines if line.standing is Standing.AT]
    if at:
        return Answer.CANNOT_TELL, tuple(line.text for line in at)
    inside = [line for line in lines if line.standing is Standing.INSIDE]
    used = [line for line in inside if line.what in _USE_WORDS]
    measured = [line for line in inside if line.what in ("water", "acid", "particles")]
    if used or len(measured) >= 2:
        return Answer.NOT_DUE, tuple(line.text for line in inside)
    unknown = [line.text for line in lines if line.standing is Standing.UNKNOWN]
    return (
        Answer.CANNOT_TELL,
        ("Neither its use nor enough readings are known.", *unknown),
    )
