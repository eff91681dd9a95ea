"""Is the new fluid right: for the old one, for the pump in cold and heat, and for the seals?

Judges family, grade, viscosity at the coldest start and the hottest run, seals, mixing with what is
in the circuit, and viscosity while the two are mixed. An unknown family is a verdict of its own:
the job stops. The machine's own papers always come first.

Leaves out additives, price and colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ullage.circuit.network import Circuit
from ullage.circuit.parts import PumpKind
from ullage.errors import NotFound, OutOfRange
from ullage.fluids.blend import BlendRule, blend_nu_m2_s
from ullage.fluids.compatibility import Fit, fluid_class, mixing, seal_verdicts
from ullage.fluids.density import COLDEST_K, HOTTEST_K
from ullage.fluids.liquid import UNKNOWN_CLASS, Liquid
from ullage.fluids.viscosity_grade import grades, viscosity_grade
from ullage.fluids.viscosity_index import viscosity_index
from ullage.planning.finding import PRACTICE, Finding, Verdict, Weight, verdict_of
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat
from ullage.units.convert import MM2_S_M2_S, ZERO_CELSIUS_K, kelvin_from_degc

#: What counts where the circuit's file is silent: common practice, no source.
USUAL_COLDEST_START_K = kelvin_from_degc(-15.0)
USUAL_HOTTEST_K = kelvin_from_degc(80.0)
USUAL_NU_START_MAX_M2_S = 1000.0 * MM2_S_M2_S
USUAL_NU_RUN_MIN_M2_S = 10.0 * MM2_S_M2_S
#: Where pumps are happiest while they run: common practice, no source.
BEST_BAND_M2_S = (16.0 * MM2_S_M2_S, 36.0 * MM2_S_M2_S)

#: Mineral oil that may stay in a fluid that shall keep its environmental class.
ENVIRONMENTAL_REMAINDER = 0.02

#: How far a fluid may lie from the middle of its grade (iso-3448-1992).
GRADE_HALF_WIDTH = 0.1

_AT_40_K = kelvin_from_degc(40.0)
_RULES = (BlendRule.ASTM_D7152, BlendRule.ARRHENIUS, BlendRule.KENDALL_MONROE)
_SHARES = (1.0, 0.75, 0.5, 0.25, 0.1, 0.0)
_ENVIRONMENTAL = ("HETG", "HEPG", "HEES", "HEPR")


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpLimits:
    """What the pump stands; ``assumed`` names what the circuit's file does not say."""

    coldest_start_k: float
    hottest_k: float
    nu_start_max_m2_s: float
    nu_run_min_m2_s: float
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blend:
    """A mixture on the way: its viscosity at 40 degC, at the coldest start and at the hottest run.

    ``nu40_low_m2_s`` and ``nu40_high_m2_s`` are the ends that three rules of blending give.
    """

    old_vfrac: float
    nu40_m2_s: float
    nu40_low_m2_s: float
    nu40_high_m2_s: float
    nu_cold_m2_s: float
    nu_hot_m2_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidFit:
    """Whether the new fluid is right, why, and how thick the mixture is on the way."""

    verdict: Verdict
    findings: tuple[Finding, ...]
    limits: PumpLimits
    blends: tuple[Blend, ...]
    caveats: tuple[Caveat, ...]


def pump_limits(circuit: Circuit) -> PumpLimits:
    """Return the limits that a fluid is held to, with what is usual where the file is silent."""
    own = circuit.limits
    rows = (
        ("coldest_start_degc", own.coldest_start_k),
        ("hottest_degc", own.hottest_k),
        ("nu_start_max_mm2_s", own.nu_start_max_m2_s),
        ("nu_run_min_mm2_s", own.nu_run_min_m2_s),
    )
    return PumpLimits(
        coldest_start_k=_or(own.coldest_start_k, USUAL_COLDEST_START_K),
        hottest_k=_or(own.hottest_k, USUAL_HOTTEST_K),
        nu_start_max_m2_s=_or(own.nu_start_max_m2_s, USUAL_NU_START_MAX_M2_S),
        nu_run_min_m2_s=_or(own.nu_run_min_m2_s, USUAL_NU_RUN_MIN_M2_S),
        assumed=tuple(name for name, value in rows if value is None),
    )


def fluid_fit(circuit: Circuit, *, remainder_vfrac: float = 0.1) -> FluidFit:
    """Return whether a circuit's new fluid is right.

    Parameters
    ----------
    circuit : Circuit
        Its old and new fluid, limits and seals.
    remainder_vfrac : scalar
        Old fluid that the job leaves behind, 0 to 1. [m3/m3]

    Returns
    -------
    fit : FluidFit
        Verdict, findings, the limits used, mixtures and caveats.

    Raises
    ------
    OutOfRange
        If the remainder is outside the range above.

    Validity
    --------
    Families, not brands: two fluids of one family can still differ in additives. Blending rules
    hold for oils without much polymer.

    Source
    ------
    ``iso-6743-4-2015``, ``iso-3448-1992``, ``astm-d341``, ``astm-d7152``; limits that the circuit
    does not name: common practice, no source.
    """
    bounded("remainder_vfrac", remainder_vfrac, low=0.0, high=1.0)
    limits = pump_limits(circuit)
    findings = [*_families(circuit, remainder_vfrac)]
    stopped = verdict_of(findings) is Verdict.STOP
    blends: tuple[Blend, ...] = ()
    if not stopped:
        findings += [*_grades(circuit), *_viscosities(circuit, limits), *_seals(circuit)]
        if mixing(circuit.fluid.class_, circuit.new_fluid.class_).fit is not Fit.NEVER:
            blends = _blends(circuit, limits, remainder_vfrac)
            findings += _on_the_way(circuit, limits, blends)
    caveats = {
        caveat.code: caveat
        for temperature_k in (limits.coldest_start_k, limits.hottest_k)
        for caveat in circuit.new_fluid.caveats(temperature_k)
    }
    if limits.assumed:
        caveats["limits-assumed"] = Caveat(
            code="limits-assumed",
            text=f"The circuit does not say {', '.join(limits.assumed)}: what is usual was taken "
            f"({PRACTICE}); the pump's papers know better.",
        )
    return FluidFit(
        verdict=verdict_of(findings),
        findings=tuple(findings),
        limits=limits,
        blends=blends,
        caveats=tuple(caveats.values()),
    )


def blend_nu(old: Liquid, new: Liquid, *, old_vfrac: float, temperature_k: float) -> float:
    """Return the viscosity of a mixture of old and new fluid.

    Parameters
    ----------
    old, new : Liquid
        The two fluids.
    old_vfrac : scalar
        Share of the old one, 0 to 1. [m3/m3]
    temperature_k : scalar
        Temperature of the mixture. [K]

    Returns
    -------
    nu_m2_s : scalar
        Kinematic viscosity. [m2/s]

    Raises
    ------
    OutOfRange
        If the share or the temperature is outside what the rule and the lines allow.

    Validity
    --------
    Two oils without much polymer; within a few per cent.

    Source
    ------
    ``astm-d7152``.
    """
    return blend_nu_m2_s(
        nu_m2_s=(old.nu_m2_s(temperature_k), new.nu_m2_s(temperature_k)),
        fractions=(old_vfrac, 1.0 - old_vfrac),
    )


def _or(value: float | None, otherwise: float) -> float:
    """Return a limit, or what is usual."""
    return otherwise if value is None else value


def _mm2_s(nu_m2_s: float) -> str:
    """Return a viscosity for a sentence."""
    return f"{nu_m2_s / MM2_S_M2_S:.3g} mm2/s" if nu_m2_s < 1e-3 else f"{nu_m2_s * 1e6:.0f} mm2/s"


def _degc(temperature_k: float) -> str:
    """Return a temperature for a sentence."""
    return f"{temperature_k - ZERO_CELSIUS_K:.0f} degC"


def _families(circuit: Circuit, remainder_vfrac: float) -> Iterator[Finding]:
    """Judge the families of both fluids and whether they may meet."""
    old, new = circuit.fluid.class_, circuit.new_fluid.class_
    unknown = [name for name, c in (("old", old), ("new", new)) if c == UNKNOWN_CLASS]
    for name in unknown:
        yield Finding(
            code=f"{name}-family-unknown",
            text=f"Nobody knows the family of the {name} fluid: the job stops here. Find a label, "
            "the machine's papers or a laboratory; a wrong family ruins seals and pump.",
            weight=Weight.STOP,
            source=PRACTICE,
        )
    if unknown:
        return
    found = mixing(old, new)
    both = f"{new} meets {old} in the circuit"
    weights = {Fit.GOOD: Weight.FINE, Fit.CONDITIONAL: Weight.CARE, Fit.NEVER: Weight.AGAINST}
    yield Finding(
        code="mixing",
        text=f"{both}: {found.why}.",
        weight=weights[found.fit],
        source=found.source,
    )
    if new in _ENVIRONMENTAL and fluid_class(old).family == "mineral":
        enough = remainder_vfrac <= ENVIRONMENTAL_REMAINDER
        yield Finding(
            code="environmental-remainder",
            text=f"{new} keeps its environmental class with at most 2 % of mineral oil; the job "
            f"leaves {100.0 * remainder_vfrac:.3g} %.",
            weight=Weight.FINE if enough else Weight.CARE,
            source="iso-15380-2016",
        )


def _grades(circuit: Circuit) -> Iterator[Finding]:
    """Compare the grades of old and new."""
    old, new = (viscosity_grade(x.nu40_m2_s) for x in (circuit.fluid, circuit.new_fluid))
    if old.nearest.number == new.nearest.number:
        yield Finding(
            code="same-grade",
            text=f"Old and new are both nearest to grade {new.nearest.number}.",
            weight=Weight.FINE,
            source="iso-3448-1992",
        )
        return
    yield Finding(
        code="other-grade",
        text=f"The new fluid is nearest to grade {new.nearest.number}, the old one to "
        f"{old.nearest.number}: use thins or thickens a fluid, so look up the grade that "
        "the machine's papers name.",
        weight=Weight.CARE,
        source="iso-3448-1992",
    )


def _viscosities(circuit: Circuit, limits: PumpLimits) -> Iterator[Finding]:
    """Hold the new fluid to the pump's limits in cold and heat."""
    if circuit.pump.kind is PumpKind.HAND:
        yield Finding(
            code="no-pump-limits",
            text="A pump that is worked by hand sets no limits of viscosity.",
            weight=Weight.NOTE,
            source=PRACTICE,
        )
        return
    new = circuit.new_fluid
    try:
        cold = new.nu_m2_s(limits.coldest_start_k)
    except OutOfRange:
        cold = float("inf")
    hot = new.nu_m2_s(limits.hottest_k)
    thick, thin = cold > limits.nu_start_max_m2_s, hot < limits.nu_run_min_m2_s
    reach, do = "", ""
    if thick:
        reach = _reached(new, limits.nu_start_max_m2_s, "from {} up")
        do = (
            " Colder than that it hardly flows to the pump, which then draws air and wears: let "
            "the machine stand warm, or start it slowly and without load; else ask for a thinner "
            "grade."
        )
    yield Finding(
        code="too-thick-cold" if thick else "cold-start",
        text=f"At a start at {_degc(limits.coldest_start_k)} the new fluid is "
        f"{'solid' if cold == float('inf') else _mm2_s(cold)}; the pump stands "
        f"{_mm2_s(limits.nu_start_max_m2_s)}{reach}.{do}",
        weight=_weight(cold / limits.nu_start_max_m2_s, "nu_start_max_mm2_s", limits),
        source=_source("nu_start_max_mm2_s", "coldest_start_degc", limits),
    )
    reach, do = "", ""
    if thin:
        reach = _reached(new, limits.nu_run_min_m2_s, "up to {}")
        do = (
            " Hotter its film no longer keeps the pump's parts apart: it wears, and "
            f"leaks inside. {_thicker(new, limits)}; until then keep the fluid below that: cooler "
            "clean, no long work under load in the heat."
        )
    yield Finding(
        code="too-thin-hot" if thin else "hot-run",
        text=f"At {_degc(limits.hottest_k)} the new fluid is {_mm2_s(hot)}; the pump needs "
        f"{_mm2_s(limits.nu_run_min_m2_s)}{reach}.{do}",
        weight=_weight(limits.nu_run_min_m2_s / hot, "nu_run_min_mm2_s", limits),
        source=_source("nu_run_min_mm2_s", "hottest_degc", limits),
    )
    low = BEST_BAND_M2_S[0]
    if not low <= new.nu_m2_s(_AT_40_K) and not thin:
        yield Finding(
            code="below-best-band",
            text=f"At 40 degC already the new fluid is below {_mm2_s(low)}, where pumps wear more.",
            weight=Weight.NOTE,
            source=PRACTICE,
        )


def _thicker(new: Liquid, limits: PumpLimits) -> str:
    """Say which fluid of the same family would do in the heat, and whether it would start."""
    for grade in grades():
        if grade.low_m2_s <= new.nu40_m2_s:
            continue
        one = _of_grade(new, grade.midpoint_m2_s)
        if one is None or one.nu_m2_s(limits.hottest_k) < limits.nu_run_min_m2_s:
            continue
        try:
            starts = one.nu_m2_s(limits.coldest_start_k) <= limits.nu_start_max_m2_s
        except OutOfRange:
            starts = False
        if starts:
            return f"Ask for grade {grade.number} of the same family, which does in heat and cold"
        return (
            f"Grade {grade.number} of the same family would do in the heat, but is too thick for "
            f"a start at {_degc(limits.coldest_start_k)}: ask for a fluid whose viscosity changes "
            "less with temperature"
        )
    return "Ask for a thicker grade"


def _of_grade(like: Liquid, nu40_m2_s: float) -> Liquid | None:
    """Return a liquid of another grade and the same viscosity index, by bisection."""
    try:
        wanted = viscosity_index(nu40_m2_s=like.nu40_m2_s, nu100_m2_s=like.nu100_m2_s).index
        low, high = like.nu100_m2_s, 0.6 * nu40_m2_s
        for _ in range(40):
            middle = 0.5 * (low + high)
            index = viscosity_index(nu40_m2_s=nu40_m2_s, nu100_m2_s=middle).index
            low, high = (middle, high) if index < wanted else (low, middle)
        return replace(like, nu40_m2_s=nu40_m2_s, nu100_m2_s=0.5 * (low + high))
    except OutOfRange:
        return None


def _weight(excess: float, name: str, limits: PumpLimits) -> Weight:
    """Return how grave it is that a limit is exceeded by a factor.

    A grade is 10 % wide to either side, so another fluid of the grade may be within a limit that
    this one misses by less. A limit that nobody wrote down never forbids.
    """
    if excess <= 1.0:
        return Weight.FINE
    if excess <= 1.0 + GRADE_HALF_WIDTH or name in limits.assumed:
        return Weight.CARE
    return Weight.AGAINST


def _source(limit: str, temperature: str, limits: PumpLimits) -> str:
    """Return whose word a comparison rests on."""
    return PRACTICE if {limit, temperature} & set(limits.assumed) else "astm-d341"


def _reached(liquid: Liquid, nu_m2_s: float, words: str) -> str:
    """Say at which temperature a liquid has a viscosity, by bisection."""
    low, high = COLDEST_K, HOTTEST_K
    for _ in range(40):
        middle = 0.5 * (low + high)
        try:
            thicker = liquid.nu_m2_s(middle) > nu_m2_s
        except OutOfRange:
            thicker = middle < _AT_40_K
        low, high = (middle, high) if thicker else (low, middle)
    return f", which it keeps {words.format(_degc(low))}"


def _seals(circuit: Circuit) -> Iterator[Finding]:
    """Ask for each elastomer in the circuit whether it stands the new fluid."""
    new = circuit.new_fluid.class_
    weights = {Fit.GOOD: Weight.FINE, Fit.CONDITIONAL: Weight.CARE, Fit.NEVER: Weight.AGAINST}
    if not circuit.limits.seals:
        yield Finding(
            code="seals-unknown",
            text="The circuit does not name its seals: within one family they go on as they are; "
            "ask before the family changes.",
            weight=Weight.NOTE if circuit.fluid.family == circuit.new_fluid.family else Weight.CARE,
            source=PRACTICE,
        )
    for name in circuit.limits.seals:
        try:
            (found,) = seal_verdicts(new, [name])
        except NotFound:
            same = circuit.fluid.family == circuit.new_fluid.family
            yield Finding(
                code="seal-not-listed",
                text=f"Nothing is on file about {name} in {new}"
                + (
                    "; it stands the old fluid of the same family."
                    if same
                    else ": ask the maker of the seals first."
                ),
                weight=Weight.NOTE if same else Weight.UNKNOWN,
                source=PRACTICE,
            )
            continue
        said = {
            Fit.GOOD: f"{name} stands {new}.",
            Fit.CONDITIONAL: f"{name} stands {new} with a condition: {found.why}.",
            Fit.NEVER: f"{name} does not stand {new}: {found.why}.",
        }
        yield Finding(
            code="seal", text=said[found.fit], weight=weights[found.fit], source=found.source
        )


def _blends(circuit: Circuit, limits: PumpLimits, remainder_vfrac: float) -> tuple[Blend, ...]:
    """Return mixtures on the way, the remainder among them, most old fluid first."""
    old, new = circuit.fluid, circuit.new_fluid
    shares = sorted({*_SHARES, remainder_vfrac}, reverse=True)
    pair = (old.nu40_m2_s, new.nu40_m2_s)
    found = []
    for share in shares:
        each = [
            blend_nu_m2_s(nu_m2_s=pair, fractions=(share, 1.0 - share), rule=rule)
            for rule in _RULES
        ]
        found.append(
            Blend(
                old_vfrac=share,
                nu40_m2_s=each[0],
                nu40_low_m2_s=min(each),
                nu40_high_m2_s=max(each),
                nu_cold_m2_s=_mixed(old, new, share, limits.coldest_start_k),
                nu_hot_m2_s=_mixed(old, new, share, limits.hottest_k),
            )
        )
    return tuple(found)


def _mixed(old: Liquid, new: Liquid, share: float, temperature_k: float) -> float:
    """Return the viscosity of a mixture; infinite where a line has turned solid."""
    try:
        return blend_nu(old, new, old_vfrac=share, temperature_k=temperature_k)
    except OutOfRange:
        return float("inf")


def _on_the_way(
    circuit: Circuit, limits: PumpLimits, blends: tuple[Blend, ...]
) -> Iterator[Finding]:
    """Say whether the mixture passes through viscosities that the pump does not stand."""
    if circuit.pump.kind is PumpKind.HAND:
        return
    # Where the new fluid itself is outside, that has been said, and no mixture makes it good.
    new_hot = circuit.new_fluid.nu_m2_s(limits.hottest_k)
    mixed = [blend for blend in blends if 0.0 < blend.old_vfrac < 1.0]
    thin = [b for b in mixed if b.nu_hot_m2_s < limits.nu_run_min_m2_s <= new_hot]
    thick = [b for b in mixed if b.nu_cold_m2_s > limits.nu_start_max_m2_s]
    for outside, code, what in (
        (thin, "mixture-too-thin", f"thinner hot than the pump's {_mm2_s(limits.nu_run_min_m2_s)}"),
        (
            thick,
            "mixture-too-thick",
            f"thicker at a cold start than the pump's {_mm2_s(limits.nu_start_max_m2_s)}",
        ),
    ):
        if outside:
            least = min(b.old_vfrac for b in outside)
            yield Finding(
                code=code,
                text=f"From {100.0 * least:.0f} % of old fluid on the mixture is {what}: keep load "
                "and weather mild until the exchange is through.",
                weight=Weight.CARE,
                source="astm-d7152",
            )
