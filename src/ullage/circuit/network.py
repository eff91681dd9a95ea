"""A whole circuit: its parts, how they are joined, and the order in which fluid meets them.

An object that exists is valid: ``faults.structural_faults`` is asked when it is built. Leaves out
time, flows and what the parts hold."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from ullage.circuit.faults import structural_faults
from ullage.circuit.parts import Heat, Leg, Limits, Line, Node, Path, Pump, Reservoir
from ullage.errors import FileFaults, NotFound
from ullage.fluids.liquid import Liquid


@dataclass(frozen=True, kw_only=True)
class Circuit:
    """A reservoir, a pump, parts in their paths, and legs that branch off at nodes."""

    name: str
    reservoir: Reservoir
    pump: Pump
    fluid: Liquid
    new_fluid: Liquid
    lines: tuple[Line, ...] = ()
    nodes: tuple[Node, ...] = ()
    paths: tuple[Path, ...] = ()
    legs: tuple[Leg, ...] = ()
    limits: Limits = field(default_factory=Limits)
    heat: Heat = field(default_factory=Heat)

    def __post_init__(self) -> None:
        faults = structural_faults(self)
        if faults:
            raise FileFaults(self.name, faults)

    @cached_property
    def line_by_id(self) -> dict[str, Line]:
        """Return the lines that stand on paths, by id."""
        return {line.id: line for line in self.lines}

    @cached_property
    def node_by_id(self) -> dict[str, Node]:
        """Return the nodes by id."""
        return {node.id: node for node in self.nodes}

    @cached_property
    def leg_by_id(self) -> dict[str, Leg]:
        """Return the legs by id."""
        return {leg.id: leg for leg in self.legs}

    @cached_property
    def partner(self) -> dict[str, str]:
        """Return the other side of each leg that belongs to a double-acting actuator."""
        pairs: dict[str, str] = {}
        for leg in self.legs:
            if leg.opposes is not None:
                pairs[leg.id] = leg.opposes
                pairs[leg.opposes] = leg.id
        return pairs

    @cached_property
    def path_of_node(self) -> dict[str, Path]:
        """Return the path that each node bearing legs stands on (exactly one, by the rules)."""
        bearing = {leg.at for leg in self.legs} | {leg.returns_to for leg in self.legs}
        return {part: path for path in self.paths for part in path.through if part in bearing}

    @cached_property
    def flow_order(self) -> tuple[str, ...]:
        """Return the parts of all paths so that each comes after everything that feeds it."""
        after: dict[str, set[str]] = {}
        for path in self.paths:
            for part in path.through:
                after.setdefault(part, set())
            for upstream, part in zip(path.through, path.through[1:], strict=False):
                after[part].add(upstream)
        order: list[str] = []
        waiting = dict(after)
        while waiting:
            ready = [part for part, before in waiting.items() if before <= set(order)]
            if not ready:
                return tuple(order)
            order.append(ready[0])
            del waiting[ready[0]]
        return tuple(order)

    def legs_named(self, name: str) -> tuple[Leg, ...]:
        """Return the legs of a group, or the one leg that bears the name.

        Raises
        ------
        NotFound
            If neither a group nor a leg bears it.
        """
        if name in self.leg_by_id:
            return (self.leg_by_id[name],)
        members = tuple(leg for leg in self.legs if leg.group == name)
        if not members:
            groups = {leg.group for leg in self.legs if leg.group is not None}
            raise NotFound("group or leg", name, [*sorted(groups), *self.leg_by_id])
        return members
