"""What about a circuit is possible but doubtful, so that a person should look at it again?

Nothing here forbids anything: each doubt is a sentence that says what it may cost and what to write
instead. Leaves out recipes, and what cannot be right at all (``faults``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg
from ullage.circuit.shown import litres
from ullage.circuit.uncertain import Uncertain
from ullage.fluids.liquid import UNKNOWN_CLASS
from ullage.units.caveat import Caveat

# Numbers of a leg that people tend to guess once and write down for several legs.
_GUESSED: tuple[tuple[str, str, Callable[[Leg], Uncertain | None]], ...] = (
    ("stroke_l", "stroke", lambda leg: leg.stroke_m3),
    ("dead_l", "dead volume", lambda leg: leg.dead_m3),
    ("line.bore_mm", "leg bore", lambda leg: leg.line.bore_m),
    ("line.length_m", "leg length", lambda leg: leg.line.length_m),
    ("line.volume_l", "leg line", lambda leg: leg.line.volume_m3),
    ("gas.volume_l", "gas volume", lambda leg: None if leg.gas is None else leg.gas.volume_m3),
)


def doubts(circuit: Circuit) -> tuple[Caveat, ...]:
    """Return what a person should look at again, the gravest first."""
    return (
        *_liquids(circuit),
        *_ways(circuit),
        *_legs(circuit),
        *_one_guess(circuit),
        *_spreads(circuit),
    )


def _liquids(circuit: Circuit) -> Iterator[Caveat]:
    """Yield what may be wrong with the liquids."""
    for name, liquid in (("fluid", circuit.fluid), ("new_fluid", circuit.new_fluid)):
        if liquid.class_ == UNKNOWN_CLASS:
            yield Caveat(
                code="class-unknown",
                text=f'[{name}] is of class "unknown", which stops a job: find its label or data '
                "sheet before anything is poured",
            )
    old, new = circuit.fluid.family, circuit.new_fluid.family
    if UNKNOWN_CLASS not in (old, new) and old != new:
        yield Caveat(
            code="families-differ",
            text=f"the old fluid is of the family {old}, the new one {new}: families are never "
            "mixed",
        )


def _ways(circuit: Circuit) -> Iterator[Caveat]:
    """Yield what the paths do not allow."""
    flowing = [path for path in circuit.paths if not path.dead_end]
    if flowing and not any(path.divert_after for path in flowing):
        yield Caveat(
            code="no-diverter",
            text="no path has divert_after, so nothing can be exchanged, only drained and "
            "refilled; name the part after which the return hose comes off",
        )


def _legs(circuit: Circuit) -> Iterator[Caveat]:
    """Yield legs that nothing in a recipe can renew."""
    for leg in circuit.legs:
        still = leg.stroke_m3.best <= 0.0 and leg.gas is None
        if leg.held_by is HeldBy.CONTROLLER:
            continue  # it counts as a floor and is shown as one
        if still and not leg.bleed:
            yield Caveat(
                code="leg-never-moves",
                text=f'leg "{leg.id}" has neither stroke nor gas nor a bleed point: what is in it '
                "stays; write bleed = true if it has a screw",
            )
        if leg.stroke_m3.best > 0.0 and leg.dead_m3.high <= 0.0:
            yield Caveat(
                code="no-dead-volume",
                text=f'leg "{leg.id}" has dead_l = 0: its chamber would empty to the last drop, '
                "which is hopeful; a wide guess is better than none",
            )
    by_id = {leg.id: leg for leg in circuit.legs}
    for one, other in circuit.partner.items():
        first, second = by_id[one], by_id[other]
        if first.group != second.group and one < other:
            yield Caveat(
                code="pair-in-two-groups",
                text=f'"{one}" and "{other}" are two sides of one actuator but bear different '
                "groups: a recipe that names both moves it twice",
            )


def _one_guess(circuit: Circuit) -> Iterator[Caveat]:
    """Yield numbers that look like one guess written down several times."""
    for key, word, number_of in _GUESSED:
        alike: dict[tuple[float, float, float], list[str]] = {}
        for leg in circuit.legs:
            number = number_of(leg)
            if number is None or number.is_exact or number.shared is not None:
                continue
            alike.setdefault((number.best, number.low, number.high), []).append(leg.id)
        for legs in alike.values():
            if len(legs) > 1:
                yield Caveat(
                    code="same-guess",
                    text=f"{key} of {', '.join(legs)} have the same best value and spread: if it "
                    f'is one guess, add as = "{word}" to each, or their errors cancel out and the '
                    "answer looks surer than it is",
                )


def _spreads(circuit: Circuit) -> Iterator[Caveat]:
    """Yield spreads that reach into each other, and a circuit that claims to know everything."""
    tank = circuit.reservoir
    for low_name, low, high_name, high in (
        ("minimum_l", tank.minimum_m3, "full_l", tank.full_m3),
        ("full_l", tank.full_m3, "brim_l", tank.brim_m3),
        ("heel_l", tank.heel_m3, "minimum_l", tank.minimum_m3),
    ):
        tied = low.shared is not None and low.shared == high.shared
        if low.high > high.low and not tied and low.high > low.low:
            yield Caveat(
                code="spreads-overlap",
                text=f"the spreads of {low_name} (up to {litres(low.high)}) and {high_name} (from "
                f"{litres(high.low)}) overlap: in some of the simulated machines the marks stand "
                "in the wrong order; narrow one of them",
            )
    numbers = [leg.stroke_m3 for leg in circuit.legs] + [node.volume_m3 for node in circuit.nodes]
    numbers += [n for line in circuit.lines for n in (line.length_m, line.volume_m3) if n]
    if numbers and all(number.is_exact for number in numbers):
        yield Caveat(
            code="no-spreads",
            text="every volume is written as if it were known exactly: a plan will look surer than "
            "it is; add spread_pct to what nobody measured (lines 40, strokes 25, dead volumes 50)",
        )
