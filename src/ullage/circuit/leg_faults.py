"""What about legs cannot be right: where they hang, where they give back, and what they oppose?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator, Iterator
from dataclasses import dataclass

from ullage.circuit import names
from ullage.circuit.parts import Leg, Line, Node, Path
from ullage.circuit.shown import gauge_bar, percent
from ullage.errors import Fault

# Start positions are written in percent with few digits.
_SHARE_SLACK = 0.002


def leg_faults(
    legs: tuple[Leg, ...], nodes: tuple[Node, ...], lines: tuple[Line, ...], paths: tuple[Path, ...]
) -> Iterator[Fault]:
    """Yield legs that hang where no fluid can come from or go to, and gas that takes no oil."""
    finder = _Finder(nodes=nodes, lines=lines, paths=paths)
    for leg in legs:
        place = f"leg[{leg.id}]"
        feeding = yield from finder.path_of(f"{place}.at", leg.at)
        if leg.returns_to != leg.at:
            taking = yield from finder.path_of(f"{place}.returns_to", leg.returns_to)
            if feeding is not None and taking is not None:
                yield from _return_faults(leg, feeding, taking)
        if leg.gas is not None and leg.gas.precharge_pa > leg.gas.working_pa:
            yield Fault(
                key=f"{place}.gas.precharge_bar",
                value=gauge_bar(leg.gas.precharge_pa),
                problem="is above working_bar, so the gas volume would never take any oil",
                allowed=f"at most {gauge_bar(leg.gas.working_pa)}",
                advice="check which of the two is wrong, or leave gas out where it has gone flat",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Finder:
    """Finds the one path that a leg's node stands on."""

    nodes: tuple[Node, ...]
    lines: tuple[Line, ...]
    paths: tuple[Path, ...]

    def path_of(self, key: str, name: str) -> Generator[Fault, None, Path | None]:
        """Yield why a leg cannot hang at ``name``; return the path it stands on where it can."""
        nodes = [node.id for node in self.nodes]
        if name not in nodes:
            a_line = name in {line.id for line in self.lines}
            yield Fault(
                key=key,
                value=name,
                problem="is a line, and a leg hangs at a node" if a_line else "is not a node",
                allowed=names.one_of(nodes),
                advice=names.did_you_mean(
                    name, nodes, otherwise="add a [[node]] where the leg branches off"
                ),
            )
            return None
        standing = [path for path in self.paths if name in path.through]
        if len(standing) != 1:
            where = " and ".join(path.id for path in standing)
            yield Fault(
                key=key,
                value=name,
                problem=f"stands on {len(standing)} paths ({where})"
                if standing
                else "is on no path",
                allowed="a node with legs stands on exactly one path",
                advice="split the node so that the legs hang on one path"
                if standing
                else "add it to the `through` of the path that passes it",
            )
            return None
        return standing[0]


def _return_faults(leg: Leg, feeding: Path, taking: Path) -> Iterator[Fault]:
    """Yield why a leg cannot give its fluid back where it says."""
    key = f"leg[{leg.id}].returns_to"
    if feeding.id != taking.id:
        yield Fault(
            key=key,
            value=leg.returns_to,
            problem=f'stands on path "{taking.id}", but at = "{leg.at}" on path "{feeding.id}"',
            allowed="a node of the same path",
            advice=f'name a node of path "{feeding.id}" behind "{leg.at}"',
        )
    elif feeding.through.index(leg.returns_to) < feeding.through.index(leg.at):
        behind = feeding.through[feeding.through.index(leg.at) :]
        yield Fault(
            key=key,
            value=leg.returns_to,
            problem=f'is upstream of at = "{leg.at}"',
            allowed=f'"{leg.at}" itself or a node behind it ({", ".join(behind)})',
            advice="swap the two, or leave returns_to out",
        )


def pair_faults(legs: tuple[Leg, ...]) -> Iterator[Fault]:
    """Yield what does not fit between the two sides of a double-acting actuator."""
    by_id = {leg.id: leg for leg in legs}
    groups = {leg.group for leg in legs if leg.group is not None}
    claims = Counter(leg.opposes for leg in legs if leg.opposes is not None)
    told: set[frozenset[str]] = set()
    for leg in legs:
        if leg.opposes is None:
            continue
        key = f"leg[{leg.id}].opposes"
        other = by_id.get(leg.opposes)
        others = [name for name in by_id if name != leg.id]
        if other is None or other.id == leg.id:
            problem = "is no leg"
            if other is not None:
                problem = "is the leg itself"
            elif leg.opposes in groups:
                problem = "is a group, and the other side of an actuator is one leg"
            yield Fault(
                key=key,
                value=leg.opposes,
                problem=problem,
                allowed=names.one_of(others),
                advice=names.did_you_mean(leg.opposes, others, otherwise="name the other side"),
            )
            continue
        if other.opposes is not None and other.opposes not in by_id:
            continue  # told where it stands
        if other.opposes not in (None, leg.id) or claims[leg.opposes] > 1:
            yield Fault(
                key=key,
                value=leg.opposes,
                problem="is not mutual"
                if other.opposes not in (None, leg.id)
                else "is claimed by two legs",
                allowed="an actuator has two sides, and each names the other",
                advice=f'write opposes = "{leg.id}" at leg "{other.id}", or correct this one',
            )
            continue
        pair = frozenset((leg.id, other.id))
        if pair in told:
            continue
        told.add(pair)
        total = leg.start_share.best + other.start_share.best
        if abs(total - 1.0) > _SHARE_SLACK:
            yield Fault(
                key=f"leg[{leg.id}].start_pct",
                value=percent(leg.start_share.best),
                problem=f'and start_pct = {percent(other.start_share.best)} of "{other.id}" '
                f"add up to {percent(total)}",
                allowed="the two sides of one actuator add up to 100: one is full where the other "
                "is empty",
                advice=f"correct one of them, for example start_pct = "
                f'{percent(1.0 - leg.start_share.best)} at "{other.id}"',
            )
