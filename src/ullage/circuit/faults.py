"""What about a circuit cannot be right, beyond a single value out of range?

Every question that needs two places of the file at once is asked from here: whether levels stand
in order, names are unique and lead somewhere, shares add up, and each leg hangs where its fluid can
come from and go to. All faults are found, not the first. Keys read like places in a circuit file
and values stand in its units. Leaves out recipes (``transport.refusals``) and doubts that forbid
nothing (``circuit.doubts``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from ullage.circuit import leg_faults, names, path_faults
from ullage.circuit.parts import Leg, Limits, Line, Node, Path, Pump, PumpKind, Reservoir
from ullage.circuit.shown import degc, litres, percent
from ullage.circuit.uncertain import Uncertain
from ullage.errors import Fault

# Levels are compared with the roundings of unit conversion allowed for.
_LEVEL_SLACK_M3 = 1e-9


class Joined(Protocol):
    """The part of a circuit that these rules look at."""

    @property
    def reservoir(self) -> Reservoir:
        """Return the reservoir."""

    @property
    def pump(self) -> Pump:
        """Return the pump."""

    @property
    def lines(self) -> tuple[Line, ...]:
        """Return the lines that stand on paths."""

    @property
    def nodes(self) -> tuple[Node, ...]:
        """Return the nodes."""

    @property
    def paths(self) -> tuple[Path, ...]:
        """Return the paths."""

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Return the legs."""

    @property
    def limits(self) -> Limits:
        """Return the limits."""


def structural_faults(circuit: Joined) -> tuple[Fault, ...]:
    """Return everything that cannot be right about how a circuit is put together."""
    lines, nodes, paths, legs = circuit.lines, circuit.nodes, circuit.paths, circuit.legs
    return (
        *_reservoir_faults(circuit.reservoir),
        *_pump_faults(circuit.pump),
        *_name_faults(circuit),
        *path_faults.line_faults(lines, legs),
        *path_faults.node_faults(nodes),
        *path_faults.path_faults(paths, (*lines, *nodes), legs),
        *path_faults.share_faults(paths),
        *path_faults.order_faults(paths),
        *path_faults.unused_faults(paths, lines, nodes, legs),
        *leg_faults.leg_faults(legs, nodes, lines, paths),
        *leg_faults.pair_faults(legs),
        *_limit_faults(circuit.limits),
    )


# --- reservoir, pump, limits ----------------------------------------------------------------------


def _reservoir_faults(vessel: Reservoir) -> Iterator[Fault]:
    """Yield marks that do not stand in order, and a table of heights that does not rise."""
    ladder: tuple[tuple[str, Uncertain, str, Uncertain, str], ...] = (
        ("heel_l", vessel.heel_m3, "minimum_l", vessel.minimum_m3, "the extractor reaches lower"),
        ("minimum_l", vessel.minimum_m3, "full_l", vessel.full_m3, "the pump must find fluid"),
        ("full_l", vessel.full_m3, "brim_l", vessel.brim_m3, "the full mark lies inside"),
        ("start_l", vessel.start_m3, "brim_l", vessel.brim_m3, "more would have run over"),
    )
    for lower_key, lower, upper_key, upper, why in ladder:
        if lower.best > upper.best + _LEVEL_SLACK_M3:
            yield Fault(
                key=f"reservoir.{lower_key}",
                value=litres(lower.best),
                problem=f"is above {upper_key} = {litres(upper.best)}",
                allowed=f"at most {upper_key} ({why})",
                advice="check which of the two is wrong",
            )
    if vessel.table:
        rising = zip(vessel.table, vessel.table[1:], strict=False)
        if len(vessel.table) < 2 or any(b[0] <= a[0] or b[1] <= a[1] for a, b in rising):
            yield Fault(
                key="reservoir.table_mm_l",
                value=[[round(h * 1e3, 6), litres(v)] for h, v in vessel.table],
                problem="does not rise",
                allowed="two or more [mm, litres] pairs, both rising from pair to pair",
                advice="sort the pairs from the bottom up and check each reading",
            )
    if vessel.dead_share.best + vessel.bypass_share.best >= 1.0:
        yield Fault(
            key="reservoir.dead_pct",
            value=percent(vessel.dead_share.best),
            problem=f"leaves nothing that mixes beside bypass_pct = "
            f"{percent(vessel.bypass_share.best)}",
            allowed="dead_pct and bypass_pct together below 100",
            advice="lower one of the two",
        )


def _pump_faults(pump: Pump) -> Iterator[Fault]:
    """Yield what the kind of pump needs and lacks."""
    if pump.kind is PumpKind.HAND:
        if pump.hand_flow_m3_s is None:
            yield Fault(
                key="pump.flow_l_min",
                value=None,
                problem='is missing, and a pump of kind "hand" needs it',
                advice="write the litres that pedal or pressure bleeder push out in a minute, "
                "for example flow_l_min = 0.3",
            )
    else:
        if pump.hand_flow_m3_s is not None:
            yield Fault(
                key="pump.flow_l_min",
                value=float(f"{pump.hand_flow_m3_s.best * 60e3:.6g}"),
                problem=f'belongs to hand pumps, and this one is of kind "{pump.kind}"',
                allowed='displacement_ml_rev, idle_rev_min and efficiency_pct, or kind = "hand"',
                advice="leave it out; a flow that was timed belongs into an evidence file",
            )
        if pump.displacement_m3_rev is None:
            yield Fault(
                key="pump.displacement_ml_rev",
                value=None,
                problem=f'is missing, and a pump of kind "{pump.kind}" needs it',
                advice="write what it moves in one turn, from its plate or from litres over turns",
            )
        if not pump.idle_rev_s * pump.speed_ratio > 0.0:
            yield Fault(
                key="pump.idle_rev_min",
                value=None if pump.idle_rev_s == 0.0 else pump.idle_rev_s * 60.0,
                problem=f'is missing or 0, and a pump of kind "{pump.kind}" needs it',
                allowed="above 0",
                advice="write the idle speed of the engine (or the speed of the motor)",
            )
    for present, absent, value in (
        ("duty_s", "rest_s", pump.duty_s if pump.rest_s is None else None),
        ("rest_s", "duty_s", pump.rest_s if pump.duty_s is None else None),
    ):
        if value is not None:
            yield Fault(
                key=f"pump.{present}",
                value=value,
                problem=f"stands without {absent}",
                advice=f"write {absent} too, or neither of the two",
            )


def _limit_faults(limits: Limits) -> Iterator[Fault]:
    """Yield limits that contradict each other."""
    cold, hot = limits.coldest_start_k, limits.hottest_k
    if cold is not None and hot is not None and cold >= hot:
        yield Fault(
            key="limits.coldest_start_degc",
            value=degc(cold),
            problem=f"is not below hottest_degc = {degc(hot)}",
            advice="check which of the two is wrong",
        )
    thin, thick = limits.nu_run_min_m2_s, limits.nu_start_max_m2_s
    if thin is not None and thick is not None and thin >= thick:
        yield Fault(
            key="limits.nu_run_min_mm2_s",
            value=float(f"{thin * 1e6:.6g}"),
            problem=f"is not below nu_start_max_mm2_s = {thick * 1e6:.6g}",
            advice="check which of the two is wrong",
        )


# --- names ----------------------------------------------------------------------------------------


def _name_faults(circuit: Joined) -> Iterator[Fault]:
    """Yield names that are malformed, taken, or borne by two."""
    kinds = {
        "line": [line.id for line in circuit.lines],
        "node": [node.id for node in circuit.nodes],
        "leg": [leg.id for leg in circuit.legs],
        "path": [path.id for path in circuit.paths],
    }
    bearers: dict[str, str] = {}
    for kind, ids in kinds.items():
        if kind == "path":
            bearers = {}  # a path may bear the name of a part
        for name in ids:
            key = f"{kind}[{name}].id"
            if not names.is_name(name):
                yield _malformed(key, name)
            elif name in names.TAKEN and kind != "path":
                yield Fault(
                    key=key,
                    value=name,
                    problem="is taken by the reservoir itself",
                    advice="choose another name",
                )
            if name in bearers:
                yield Fault(
                    key=key,
                    value=name,
                    problem=f"is already the name of a {bearers[name]}",
                    allowed="each line, node, leg and path has a name of its own",
                    advice="rename one of the two, and the places that mean it",
                )
            bearers.setdefault(name, kind)
    legs = {leg.id for leg in circuit.legs}
    for leg in circuit.legs:
        if leg.group is None:
            continue
        if not names.is_name(leg.group):
            yield _malformed(f"leg[{leg.id}].group", leg.group)
        if leg.group in legs - {leg.id}:
            yield Fault(
                key=f"leg[{leg.id}].group",
                value=leg.group,
                problem="is the name of another leg, so a recipe could not tell which is meant",
                advice="give the group another name",
            )


def _malformed(key: str, name: str) -> Fault:
    """Return the fault of a name with characters that are not allowed."""
    proposal = "".join(c if c.isascii() and c.isalnum() else "-" for c in name.lower()).strip("-")
    return Fault(
        key=key,
        value=name,
        problem="is not a name that can be used" if name else "is empty",
        allowed=names.ALLOWED,
        advice=f'for example "{proposal}"' if proposal else 'for example "valve-block"',
    )
