"""What about lines, nodes and paths cannot be right?

Lines without a volume, elements that do not fit their housing, paths that name what is not there,
shares that do not add up, orders that contradict each other, parts that no fluid ever reaches.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ullage.circuit import names
from ullage.circuit.parts import Leg, Line, Node, Path
from ullage.circuit.shown import litres, percent
from ullage.errors import Fault

# Shares are written with few digits: 33.3 three times must count as 100.
_SHARE_SLACK = 0.002


def line_faults(lines: tuple[Line, ...], legs: tuple[Leg, ...]) -> Iterator[Fault]:
    """Yield lines whose volume cannot be known."""
    places = [(f"line[{line.id}]", line) for line in lines]
    places += [(f"leg[{leg.id}].line", leg.line) for leg in legs]
    for key, line in places:
        if line.volume_m3 is None and (line.bore_m is None or line.length_m is None):
            missing = [
                text
                for text, there in (("bore_mm", line.bore_m), ("length_m", line.length_m))
                if there is None
            ]
            yield Fault(
                key=key,
                value=None,
                problem=f"has no volume: {' and '.join(missing)} missing",
                allowed="bore_mm (or od_mm and wall_mm) with length_m, or volume_l",
                advice="measure the outside diameter and the length, or guess with a wide spread",
            )


def node_faults(nodes: tuple[Node, ...]) -> Iterator[Fault]:
    """Yield filter elements that do not fit their nodes."""
    for node in nodes:
        soaked = node.element_m3.best
        if soaked > 0.0 and not node.element:
            yield Fault(
                key=f"node[{node.id}].element_l",
                value=litres(soaked),
                problem="says what an element soaks up, but the node has none",
                advice="write element = true, or leave element_l out",
            )
        elif soaked > node.volume_m3.best:
            yield Fault(
                key=f"node[{node.id}].element_l",
                value=litres(soaked),
                problem="is more than the housing holds",
                allowed=f"at most volume_l = {litres(node.volume_m3.best)}",
                advice="check which of the two is wrong",
            )


def path_faults(
    paths: tuple[Path, ...], parts: tuple[Line | Node, ...], legs: tuple[Leg, ...]
) -> Iterator[Fault]:
    """Yield what does not fit between the paths and the parts."""
    known = [part.id for part in parts]
    leg_ids = {leg.id for leg in legs}
    if not paths:
        yield Fault(
            key="path",
            value=None,
            problem="there is none, so the pump has nowhere to send fluid",
            advice="add a [[path]] with the parts between reservoir and reservoir, in flow order",
        )
    for path in paths:
        place = f"path[{path.id}]"
        if not path.through:
            yield Fault(
                key=f"{place}.through",
                value=[],
                problem="is empty",
                allowed=f"one or more lines and nodes in flow order; {names.one_of(known)}",
                advice="name the parts that the fluid meets on its way",
            )
        for part, count in Counter(path.through).items():
            key = f"{place}.through"
            if part in names.TAKEN:
                yield Fault(
                    key=key,
                    value=part,
                    problem="need not be named: every path begins and ends at the reservoir",
                    advice="leave it out",
                )
            elif part in leg_ids:
                yield Fault(
                    key=key,
                    value=part,
                    problem="is a leg, and a leg stands beside a path",
                    allowed=names.one_of(known),
                    advice="name the node that feeds it",
                )
            elif part not in known:
                yield Fault(
                    key=key,
                    value=part,
                    problem="is neither a line nor a node",
                    allowed=names.one_of(known),
                    advice=names.did_you_mean(part, known, otherwise="add it, or leave it out"),
                )
            if count > 1:
                yield Fault(
                    key=key,
                    value=part,
                    problem=f"stands {count} times on the path",
                    allowed="each part once",
                    advice="where a path visits a part again, give the second piece a name",
                )
        if path.divert_after is None:
            continue
        if path.divert_after not in path.through:
            yield Fault(
                key=f"{place}.divert_after",
                value=path.divert_after,
                problem="is not on this path",
                allowed=names.one_of(path.through),
                advice=names.did_you_mean(
                    path.divert_after,
                    path.through,
                    otherwise="name the last part that the fluid passes before the diverter",
                ),
            )
        elif path.dead_end:
            yield Fault(
                key=f"{place}.divert_after",
                value=path.divert_after,
                problem="cannot be: a dead_end path has no way back that could be diverted",
                advice="leave out divert_after, or dead_end where there is a return",
            )


def share_faults(paths: tuple[Path, ...]) -> Iterator[Fault]:
    """Yield shares of the flow that do not add up to the whole.

    A path that a thermostat opens may count into the whole (it divides the flow while it is open)
    or stand beside it (the others carry everything while it is closed): both are right.
    """
    flowing = [path for path in paths if not path.dead_end]
    always = [path for path in flowing if path.opens_above_k is None]
    if not flowing:
        return
    sums = [sum(path.share.best for path in some) for some in (flowing, always) if some]
    if any(abs(total - 1.0) <= _SHARE_SLACK for total in sums):
        return
    yield Fault(
        key="path[*].share_pct",
        value=[percent(path.share.best) for path in flowing],
        problem=f"add up to {percent(sums[0])}",
        allowed="the best values of the paths that lead back to the reservoir add up to 100",
        advice="the flow has no other way: correct "
        + " or ".join(f"path[{path.id}].share_pct" for path in flowing),
    )


def order_faults(paths: tuple[Path, ...]) -> Iterator[Fault]:
    """Yield parts that one path meets before and another after the same part."""
    after: dict[str, set[str]] = {}
    for path in paths:
        for part in path.through:
            after.setdefault(part, set())
        for upstream, part in zip(path.through, path.through[1:], strict=False):
            if upstream != part:
                after[part].add(upstream)
    waiting = dict(after)
    while waiting:
        ready = [part for part, before in waiting.items() if not before & set(waiting)]
        if not ready:
            break
        for part in ready:
            del waiting[part]
    # What only lies behind a ring is no part of it: take away the ends that lead nowhere.
    while True:
        loose = [p for p in waiting if not any(p in after[other] for other in waiting)]
        if not loose:
            break
        for part in loose:
            del waiting[part]
    repeats = any(len(set(path.through)) < len(path.through) for path in paths)
    if waiting and not repeats:
        ring = ", ".join(waiting)
        involved = [path.id for path in paths if len(set(path.through) & set(waiting)) > 1]
        yield Fault(
            key=f"path[{involved[-1]}].through",
            value=sorted(waiting),
            problem=f"the paths {' and '.join(involved)} meet {ring} in different orders",
            allowed="parts that paths share come in the same order on all of them",
            advice="check the flow directions, or split the part that flows both ways in two",
        )


def unused_faults(
    paths: tuple[Path, ...],
    lines: tuple[Line, ...],
    nodes: tuple[Node, ...],
    legs: tuple[Leg, ...],
) -> Iterator[Fault]:
    """Yield lines and nodes that no path leads through and no leg hangs on."""
    used = {part for path in paths for part in path.through}
    used |= {name for leg in legs for name in (leg.at, leg.returns_to)}
    if not paths:
        return
    kinds: dict[str, tuple[Line | Node, ...]] = {"line": lines, "node": nodes}
    for kind, parts in kinds.items():
        for part in parts:
            if part.id not in used:
                yield Fault(
                    key=f"{kind}[{part.id}]",
                    value=None,
                    problem="stands on no path, so no fluid ever reaches it",
                    advice="add it to the `through` of a path, or leave it out",
                )
