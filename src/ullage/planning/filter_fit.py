"""Is the replacement filter the right one, when its box says something else than the old one's?

Judged by what it holds back, by the code that it can keep against the dirt that gets in, and by the
temperature below which its by-pass stands open, so that it filters nothing. A nominal rating is not
an absolute one: "3 um" without a test may hold back less than a tested ten.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Node
from ullage.circuit.volumes import Numbers, pump_flow_m3_s
from ullage.errors import NotFound, OutOfRange
from ullage.fluids.cleanliness import CleanlinessCode, code_from_counter
from ullage.fluids.density import COLDEST_K, HOTTEST_K
from ullage.fluids.filter_drop import FilterDrop, clean_drop_pa
from ullage.planning.element import CODE_SIZES_UM, Element, element_of, ratio_at
from ullage.planning.filtering import target_of
from ullage.planning.finding import OURS, PRACTICE, Finding, Verdict, Weight, verdict_of
from ullage.planning.fluid_fit import pump_limits
from ullage.units.convert import BAR_PA, ZERO_CELSIUS_K, kelvin_from_degc

#: Start of a working day, when a filter should filter: common practice, no source.
COOL_DAY_K = kelvin_from_degc(20.0)
#: How the drop of an element without papers grows when its size shrinks by a factor: from in
#: proportion to the square of it. Ours, no source: area and pleats are unknown.
_FINER_LOW, _FINER_HIGH = 1.0, 2.0
_AT_40_K = kelvin_from_degc(40.0)
_ML_M3 = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A figure between two ends, low first."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The codes that an element keeps in the long run: at its best, and at its worst."""

    best: CleanlinessCode
    worst: CleanlinessCode


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterFit:
    """Whether a filter is right, why, and its figures beside those of the present one.

    ``bypassed_below_k`` is the temperature under which a clean element is by-passed at idle: None
    where nothing is known of its pressure drop or its by-pass.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    node: str | None
    present: Held | None
    successor: Held | None
    present_bypassed_below_k: Span | None
    bypassed_below_k: Span | None


def filter_fit(
    circuit: Circuit, *, successor: Element | None = None, node: str | None = None
) -> FilterFit:
    """Return whether an element is right for a circuit, in place of the present one.

    Parameters
    ----------
    circuit : Circuit
        Its filter, fluids, flow and limits.
    successor : Element
        What is offered; None judges another one like the present element.
    node : text
        Which housing; None takes the first that has an element.

    Returns
    -------
    fit : FilterFit
        Verdict, findings, codes kept, temperatures of the by-pass.

    Raises
    ------
    NotFound
        If the node has no element.

    Validity
    --------
    Clean elements at idle flow: a loaded one is by-passed in warmer fluid. Dirt gets in as the
    state of the old fluid says.

    Source
    ------
    Ratios after ``iso-16889-2022``, drops after ``iso-3968-2017``; what a nominal rating is worth,
    and the drop of an element without papers: common practice, no source.
    """
    housing = _housing(circuit, node)
    if housing is None:
        return FilterFit(
            verdict=Verdict.YES,
            findings=(
                Finding(
                    code="no-element",
                    text="The circuit has no filter element, so none can be wrong.",
                    weight=Weight.NOTE,
                    source="papers of the machine",
                ),
            ),
            node=None,
            present=None,
            successor=None,
            present_bypassed_below_k=None,
            bypassed_below_k=None,
        )
    present = element_of(housing)
    offered = present if successor is None else _completed(present, successor)
    was, will = _held(circuit, present, present), _held(circuit, present, offered)
    opened = _bypassed_below(circuit, housing, present, present)
    opens = _bypassed_below(circuit, housing, present, offered)
    findings = (
        *_rating(present, offered),
        *_codes(circuit, was, will),
        *_cold(circuit, offered, opened, opens),
        *_estimated(present, offered),
    )
    return FilterFit(
        verdict=verdict_of(findings),
        findings=findings,
        node=housing.id,
        present=was,
        successor=will,
        present_bypassed_below_k=opened,
        bypassed_below_k=opens,
    )


def _housing(circuit: Circuit, node: str | None) -> Node | None:
    """Return the housing that is meant, or None where the circuit has none."""
    housings = [one for one in circuit.nodes if one.element]
    if node is None:
        return housings[0] if housings else None
    for one in housings:
        if one.id == node:
            return one
    raise NotFound("node with an element", node, [one.id for one in housings])


def _completed(present: Element, offered: Element) -> Element:
    """Return the offered element in the present housing: the by-pass is the housing's."""
    if offered.bypass_pa is None:
        return replace(offered, bypass_pa=present.bypass_pa)
    return offered


def _named(element: Element) -> str:
    """Return how a box would describe the element."""
    if element.size_um is None:
        return "an element without a printed size"
    if element.ratio is None:
        return f"{element.size_um:g} um nominal"
    return f"{element.size_um:g} um with a tested ratio of {element.ratio:g}"


def _rating(present: Element, offered: Element) -> Iterator[Finding]:
    """Say what the ratings are worth beside each other."""
    if offered.is_nominal:
        worth = (
            "nobody knows what it holds back"
            if offered.size_um is None
            else f"it may hold back no more than half of what is {offered.size_um:g} um and larger"
        )
        yield Finding(
            code="nominal-is-not-absolute",
            text=f"{_named(offered)[0].upper()}{_named(offered)[1:]}: no agreed test stands behind "
            f"it, {worth}. Ask for the ratio after the multi-pass test.",
            weight=Weight.CARE if present.is_nominal else Weight.UNKNOWN,
            source=PRACTICE,
        )
    worse = [
        size
        for size in CODE_SIZES_UM
        if ratio_at(offered, size_um=size).low < ratio_at(present, size_um=size).low * (1 - 1e-9)
    ]
    surely = [
        size
        for size in CODE_SIZES_UM
        if ratio_at(offered, size_um=size).high < ratio_at(present, size_um=size).low * (1 - 1e-9)
    ]
    if surely:
        yield Finding(
            code="holds-back-less",
            text=f"{_named(offered)[0].upper()}{_named(offered)[1:]} holds back less than "
            f"{_named(present)} at {', '.join(f'{size:g}' for size in surely)} um.",
            weight=Weight.CARE,
            source="iso-16889-2022",
        )
    elif worse:
        yield Finding(
            code="may-hold-back-less",
            text=f"At {', '.join(f'{size:g}' for size in worse)} um it may hold back less than the "
            f"present one, {_named(present)}, whatever the smaller figure on its box suggests.",
            weight=Weight.NOTE,
            source=OURS,
        )
    else:
        yield Finding(
            code="holds-back-enough",
            text=f"It holds back at least what the present one does, {_named(present)}.",
            weight=Weight.FINE,
            source="iso-16889-2022",
        )


def _held(circuit: Circuit, present: Element, element: Element) -> Held | None:
    """Return the codes that an element keeps against the present ingress; None if unknown.

    What gets in per second was taken out by the present element, so the counts change in the
    inverse proportion of the shares that the two hold back.
    """
    counted = circuit.fluid.particles_per_m3
    if counted is None or (present.is_nominal and element != present):
        return None
    best: list[float] = []
    worst: list[float] = []
    for size_um, count in zip(CODE_SIZES_UM, counted, strict=True):
        now, then = ratio_at(present, size_um=size_um), ratio_at(element, size_um=size_um)
        if element == present:
            best.append(count)
            worst.append(count)
            continue
        low_now, high_now = 1.0 - now.passes_high, 1.0 - now.passes_low
        low_then, high_then = 1.0 - then.passes_high, 1.0 - then.passes_low
        best.append(count * low_now / high_then if high_then > 0.0 else float("inf"))
        worst.append(count * high_now / low_then if low_then > 0.0 else float("inf"))
    return Held(best=_code(best), worst=_code(worst))


def _code(per_m3: list[float]) -> CleanlinessCode:
    """Return the code of three counts; what nothing holds back is above any table."""
    four, six, fourteen = (min(value * _ML_M3, 1e9) for value in per_m3)
    six = min(six, four)
    return code_from_counter(four, six, min(fourteen, six))


def _codes(circuit: Circuit, was: Held | None, will: Held | None) -> Iterator[Finding]:
    """Hold the code that the element keeps against the one that the circuit needs."""
    target, whose = target_of(circuit)
    if was is None or will is None:
        yield Finding(
            code="code-unknown",
            text="The particles of the old fluid were not counted, or nobody knows what the "
            "present element holds back, so the code that the new one keeps is unknown; wanted is "
            f"{target.text} ({whose}).",
            weight=Weight.NOTE,
            source=PRACTICE,
        )
        return
    between = (
        will.best.text
        if will.best.text == will.worst.text
        else f"between {will.best.text} and {will.worst.text}"
    )
    meets = will.worst.meets(target)
    may = will.best.meets(target)
    yield Finding(
        code="code-held" if meets else "code-perhaps-held" if may else "code-not-held",
        text=f"Against the dirt that gets in now it keeps {between}; the present one keeps "
        f"{was.best.text}, wanted is {target.text} ({whose}).",
        weight=Weight.FINE if meets else Weight.CARE,
        source=OURS,
    )


def flow_through_m3_s(circuit: Circuit, node: str) -> float:
    """Return the flow through a node at idle.

    Parameters
    ----------
    circuit : Circuit
        Its pump and paths.
    node : text
        A node on a path.

    Returns
    -------
    flow_m3_s : scalar
        Best value, thermostats open. [m3/s]

    Validity
    --------
    The return is not diverted, and no actuator moves.

    Source
    ------
    Continuity.
    """
    flowing = [path for path in circuit.paths if not path.dead_end] or list(circuit.paths)
    whole = sum(path.share.best for path in flowing)
    mine = sum(path.share.best for path in flowing if node in path.through)
    return float(pump_flow_m3_s(circuit, Numbers())[0]) * mine / whole if whole else 0.0


def _sheets(present: Element, offered: Element) -> tuple[FilterDrop, ...]:
    """Return the pressure drops that an element may have: one from its papers, or two ends."""
    if offered.sheet is not None:
        return (offered.sheet,)
    if present.sheet is None or not present.size_um or not offered.size_um:
        return ()
    finer = max(present.size_um / offered.size_um, 1.0)
    return tuple(
        replace(present.sheet, element_pa=present.sheet.element_pa * finer**power)
        for power in (_FINER_LOW, _FINER_HIGH)
    )


def _bypassed_below(
    circuit: Circuit, housing: Node, present: Element, offered: Element
) -> Span | None:
    """Return the temperature under which the clean element is by-passed at idle."""
    flow = flow_through_m3_s(circuit, housing.id)
    sheets = _sheets(present, offered)
    if not sheets or offered.bypass_pa is None or flow <= 0.0:
        return None
    found = [_opens_at_k(circuit, sheet, flow, offered.bypass_pa) for sheet in sheets]
    return Span(low=min(found), high=max(found))


def _opens_at_k(circuit: Circuit, sheet: FilterDrop, flow_m3_s: float, bypass_pa: float) -> float:
    """Return the temperature at which the drop reaches the by-pass, by bisection for the new fluid.

    The ends of the range of densities stand for "never" and "always".
    """
    fluid = circuit.new_fluid
    low, high = COLDEST_K, HOTTEST_K
    for _ in range(50):
        middle = 0.5 * (low + high)
        try:
            drop = clean_drop_pa(
                sheet=sheet,
                flow_m3_s=flow_m3_s,
                nu_m2_s=fluid.nu_m2_s(middle),
                rho_kg_m3=fluid.density_kg_m3(middle),
            )
        except OutOfRange:
            drop = float("inf") if middle < _AT_40_K else 0.0
        low, high = (middle, high) if drop > bypass_pa else (low, middle)
    return high


def _cold(
    circuit: Circuit, offered: Element, opened: Span | None, opens: Span | None
) -> Iterator[Finding]:
    """Say from which temperature on the element filters at all."""
    if opens is None:
        yield Finding(
            code="bypass-unknown",
            text="Clean pressure drop or by-pass pressure is not known, so nobody can say below "
            "which temperature the filter is by-passed; both stand in the papers of an element.",
            weight=Weight.NOTE,
            source=PRACTICE,
        )
        return
    low, high = (value - ZERO_CELSIUS_K for value in (opens.low, opens.high))
    between = f"{high:.0f} degC" if high - low < 0.5 else f"{low:.0f} to {high:.0f} degC"
    was = "" if opened is None else f" (the present one below {opened.high - ZERO_CELSIUS_K:.0f})"
    bar = (offered.bypass_pa or 0.0) / BAR_PA
    coldest = pump_limits(circuit).coldest_start_k
    same = opened is not None and abs(opened.high - opens.high) < 0.5
    if opens.low > COOL_DAY_K:
        weight = Weight.AGAINST if not same else Weight.CARE
    elif opens.high > COOL_DAY_K or (opens.high > coldest and not same):
        weight = Weight.CARE
    else:
        weight = Weight.NOTE if opens.high > coldest else Weight.FINE
    yield Finding(
        code="bypassed-in-the-cold",
        text=f"At idle a clean one is by-passed below {between}{was}, where its drop exceeds "
        f"{bar:.1f} bar: in colder fluid it filters nothing.",
        weight=weight,
        source="iso-3968-2017" if offered.sheet is not None else OURS,
    )


def _estimated(present: Element, offered: Element) -> Iterator[Finding]:
    """Say where the successor's pressure drop is a guess."""
    if offered.sheet is None and _sheets(present, offered):
        yield Finding(
            code="drop-guessed",
            text="The pressure drop of the new element is guessed from the present one's: from in "
            "proportion to how much finer it is, to the square of that. Its papers know better.",
            weight=Weight.NOTE,
            source=OURS,
        )
    finer = present.size_um and offered.size_um and offered.size_um < present.size_um
    if finer:
        yield Finding(
            code="finer-fills-sooner",
            text="A finer element of the same size fills sooner: look at its indicator, or change "
            "it early the first time.",
            weight=Weight.NOTE,
            source=PRACTICE,
        )
