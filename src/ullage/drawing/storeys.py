"""In which order do the parts of a circuit stand in the drawing?

The rule: the reservoir lies below; what the fluid meets first rises on the left; what it meets
last falls on the right; between them lies the main storey with the nodes that feed legs, and each
parallel path adds a storey of its own from where it leaves the ways already drawn to where it
comes back. A part stands once, on the first way that names it. Leaves out all measures
(``layout``)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Leg, Node, Path, PumpKind
from ullage.drawing.figures import whole_percent
from ullage.drawing.placed import Kind
from ullage.units.convert import ZERO_CELSIUS_K

#: The ends of every path, as an edge names them.
TANK_OUT = "reservoir:out"
TANK_IN = "reservoir:in"

# A circuit file has no key for these two; the word in the name is all there is.
_PUMP_WORD = "pump"
_COOLER_WORD = "cooler"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Something that stands on a way: a part, or a pump or diverter without a volume of its own."""

    id: str
    kind: Kind
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """Fluid goes straight from one item to another."""

    start: str
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The items of one storey from left to right; ``caption`` tells about its path."""

    items: tuple[str, ...]
    caption: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveBack:
    """Legs fed at one node give their fluid back to another."""

    node: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Storeys:
    """The whole order: what rises, the storeys with the main one first, what falls."""

    items: dict[str, Item]
    rise: tuple[str, ...]
    runs: tuple[Run, ...]
    fall: tuple[str, ...]
    edges: tuple[Edge, ...]
    gives_back: tuple[GiveBack, ...]


def arrange(circuit: Circuit) -> Storeys:
    """Return the order in which a circuit is drawn."""
    items, ways = _ways(circuit)
    feeding = {leg.at for leg in circuit.legs}
    main = max(circuit.paths, key=lambda path: sum(leg.at in path.through for leg in circuit.legs))
    rise, top, fall = _split(circuit, main, ways[main.id], feeding, items)
    placed = {*rise, *top, *fall}
    runs: list[Run] = []
    if top:
        runs.append(Run(items=top))
    for path in circuit.paths:
        if path is not main:
            for run in _private_runs(path, ways[path.id], placed, circuit):
                runs.append(run)
                placed.update(run.items)
    edges: list[Edge] = []
    left, right = {TANK_OUT, *rise}, {TANK_IN, *fall}
    for edge in _edges(circuit, ways):
        if edge.start in left and edge.end in right:
            across = f"{edge.start}>{edge.end}"
            items[across] = Item(id=across, kind=Kind.CROSSING)
            edges += [Edge(start=edge.start, end=across), Edge(start=across, end=edge.end)]
            runs.insert(len(runs) if top else 0, Run(items=(across,)))
        else:
            edges.append(edge)
    return Storeys(
        items=items,
        rise=rise,
        runs=tuple(runs),
        fall=fall,
        edges=tuple(edges),
        gives_back=tuple(
            dict.fromkeys(
                GiveBack(node=leg.at, to=leg.returns_to)
                for leg in circuit.legs
                if leg.returns_to != leg.at
            )
        ),
    )


def _ways(circuit: Circuit) -> tuple[dict[str, Item], dict[str, tuple[str, ...]]]:
    """Return all items, and the items of each path in flow order with pump and diverter put in."""
    items: dict[str, Item] = {}
    feeding = {leg.at for leg in circuit.legs}
    for node in circuit.nodes:
        items[node.id] = Item(id=node.id, kind=_node_kind(node, feeding, circuit), part=node.id)
    for line in circuit.lines:
        kind = Kind.COOLER if line.id == _cooler_line(circuit) else Kind.LINE
        items[line.id] = Item(id=line.id, kind=kind, part=line.id)
    pump = _pump_kind(circuit)
    shared = _shared_beginning(circuit)
    has_pump = any(item.kind is pump for item in items.values())
    place = 1 if shared and items[shared[0]].kind is Kind.LINE else 0
    ways: dict[str, tuple[str, ...]] = {}
    for path in circuit.paths:
        way: list[str] = []
        for i, part in enumerate(path.through):
            if i == place and not has_pump:
                items["pump:"] = Item(id="pump:", kind=pump)
                way.append("pump:")
            way.append(part)
            if part == path.divert_after:
                items[f"{part}:diverter"] = Item(id=f"{part}:diverter", kind=Kind.DIVERTER)
                way.append(f"{part}:diverter")
        if path.dead_end and way and items[way[-1]].kind is Kind.LINE:
            items[f"{path.id}:end"] = Item(id=f"{path.id}:end", kind=Kind.END)
            way.append(f"{path.id}:end")
        ways[path.id] = tuple(way)
    return items, ways


def _cooler_line(circuit: Circuit) -> str:
    """Return the line that is a cooler, where no node is one."""
    if any(_COOLER_WORD in node.id for node in circuit.nodes):
        return ""
    named = [line.id for line in circuit.lines if _COOLER_WORD in line.id]
    return _COOLER_WORD if _COOLER_WORD in named else "".join(named[:1])


def _pump_kind(circuit: Circuit) -> Kind:
    """Return the symbol of the circuit's pump."""
    return Kind.HAND_PUMP if circuit.pump.kind is PumpKind.HAND else Kind.PUMP


def _node_kind(node: Node, feeding: set[str], circuit: Circuit) -> Kind:
    """Return the symbol of a node."""
    if node.id in feeding:
        return Kind.GALLERY
    if node.element:
        return Kind.FILTER
    if _COOLER_WORD in node.id:
        return Kind.COOLER
    pumps = [other.id for other in circuit.nodes if _PUMP_WORD in other.id]
    if pumps and node.id == pumps[0]:
        return _pump_kind(circuit)
    return Kind.VESSEL


def _shared_beginning(circuit: Circuit) -> tuple[str, ...]:
    """Return the parts that all paths begin with."""
    shared: list[str] = []
    for parts in zip(*(path.through for path in circuit.paths), strict=False):
        if len(set(parts)) > 1:
            break
        shared.append(parts[0])
    return tuple(shared)


def _split(
    circuit: Circuit, main: Path, way: tuple[str, ...], feeding: set[str], items: dict[str, Item]
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Return what rises, what lies on the main storey, and what falls, of the main path."""
    bearing = [i for i, item in enumerate(way) if item in feeding]
    if bearing:
        first, last = bearing[0], bearing[-1] + 1
    else:
        inner = [i for i in range(1, len(way) - 1) if items[way[i]].kind is Kind.VESSEL]
        if inner:
            first = max(inner, key=lambda i: circuit.node_by_id[way[i]].volume_m3.best)
            last = first + 1
        else:
            first = last = (len(way) + 1) // 2
    if main.dead_end:
        last = len(way)
    return way[:first], way[first:last], way[last:]


def _private_runs(
    path: Path, way: tuple[str, ...], placed: set[str], circuit: Circuit
) -> tuple[Run, ...]:
    """Return the stretches of a path that no way drawn before has."""
    runs: list[Run] = []
    own: list[str] = []
    for item in (*way, TANK_IN):
        if item not in placed and item != TANK_IN:
            own.append(item)
            continue
        if own:
            caption = "" if runs else _caption(path, circuit)
            runs.append(Run(items=tuple(own), caption=caption))
        own = []
    return tuple(runs)


def _caption(path: Path, circuit: Circuit) -> str:
    """Return what a person should know about a parallel path."""
    said = [path.id]
    if len(circuit.paths) > 1 and path.share.best < 1.0:
        said.append(f"{whole_percent(path.share.best)} % of the flow")
    if path.opens_above_k is not None:
        said.append(f"opens above {path.opens_above_k - ZERO_CELSIUS_K:.0f}\u00a0°C")
    return ", ".join(said)


def _edges(circuit: Circuit, ways: dict[str, tuple[str, ...]]) -> tuple[Edge, ...]:
    """Return every step from item to item on any path, once."""
    edges: dict[Edge, None] = {}
    for path in circuit.paths:
        way = ways[path.id]
        stops = (TANK_OUT, *way) if path.dead_end else (TANK_OUT, *way, TANK_IN)
        for start, end in pairwise(stops):
            edges[Edge(start=start, end=end)] = None
    return tuple(edges)


def legs_of(circuit: Circuit, node: str) -> tuple[tuple[Leg, ...], ...]:
    """Return the actuators at a node: single legs, or two that are sides of one cylinder."""
    units: list[tuple[Leg, ...]] = []
    taken: set[str] = set()
    for leg in circuit.legs:
        if leg.at != node or leg.id in taken:
            continue
        other = circuit.leg_by_id.get(circuit.partner.get(leg.id, ""))
        if other is not None and other.at == node and other.id not in taken:
            units.append((leg, other))
            taken.add(other.id)
        else:
            units.append((leg,))
        taken.add(leg.id)
    return tuple(units)
