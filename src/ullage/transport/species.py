"""Where do other things than old fluid go: particles of a size, water, acid?

They ride along with the fluid and follow the same books. An element lets only a share of what goes
through it pass and keeps the rest until it is swapped. Runs the best values with the structure as
stated, one thing at a time; leaves out whatever settles, dissolves or is made on the way.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ullage.circuit.network import Circuit
from ullage.errors import NotConverged, NotFound, OutOfRange
from ullage.transport import kernel
from ullage.transport.balance import CLOSES_WITHIN
from ullage.transport.block import Answer, Floats, Runner, Species
from ullage.transport.course import Course, Tally
from ullage.transport.layout import FAST, Layout, Resolution
from ullage.transport.recipe import Recipe
from ullage.transport.steps import Steps
from ullage.transport.structure import AS_STATED
from ullage.transport.values import values_of
from ullage.units.bounds import bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Something that the fluid carries: concentrations at first and in new fluid, in any unit.

    ``passes`` says for nodes with an element which share goes through; a node that is not named
    lets everything through.
    """

    name: str
    first: float
    new: float
    passes: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse negative concentrations and shares that are none."""
        bounded(f"{self.name}: first", self.first, low=0.0)
        bounded(f"{self.name}: new", self.new, low=0.0)
        for node, share in self.passes.items():
            bounded(f"{self.name}: share that passes {node}", share, low=0.0, high=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedAfter:
    """What one step left behind: amounts are concentration times m3.

    ``concentration`` has every part that holds fluid; ``caught`` what each element holds then.
    """

    step: int
    do: str
    concentration: Mapping[str, float]
    caught: Mapping[str, float]
    held: float
    mean: float
    lost: float
    poured: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedRun:
    """One thing, followed through a recipe; ``error`` is how far its books are open, of its most.

    ``before`` is the amount in the circuit at the start; ``stopped`` whether the recipe ran dry.
    """

    name: str
    before: float
    steps: tuple[CarriedAfter, ...]
    error: float
    stopped: bool


class _Watcher(Runner):
    """A runner that keeps what elements have caught when it ends."""

    def __init__(self, course: Course, tallies: list[Tally], species: Species) -> None:
        super().__init__(course, tallies, species)
        self.whole = self.program
        self.caught: Floats = np.zeros(0)

    def until(self, phases: int) -> Answer:
        """Run the first phases alone."""
        self.program = self.whole._replace(phases=self.whole.phases[:phases])
        return self.run(0, 1)

    def _parts(
        self, block: kernel.Block, held: kernel.Held, session: kernel.Session | None = None
    ) -> Floats:
        self.caught = held.caught[:, 0, 0].copy()
        return super()._parts(block, held, session)


def carry(
    circuit: Circuit,
    recipe: Recipe,
    things: Iterable[Carried],
    *,
    resolution: Resolution = FAST,
) -> tuple[CarriedRun, ...]:
    """Return where each thing is after every step of a recipe.

    Parameters
    ----------
    circuit, recipe : values
        What it is done to, and what is done.
    things : values
        What the fluid carries.
    resolution : value
        How finely the run is cut.

    Returns
    -------
    runs : CarriedRun
        One for each thing, in the order given.

    Raises
    ------
    OutOfRange
        If the recipe has no step.
    NotFound
        If a thing names a node that is none.
    NotConverged
        If the books of a thing do not close.

    Validity
    --------
    As ``solve.simulate`` at the best values. What elements hold back stays there until a
    ``swap-filter``; nothing is shed.

    Source
    ------
    Conservation of each thing; retention after ``iso-16889-2022``.
    """
    if not recipe.steps:
        raise OutOfRange("steps", 0, "one at least", "add [[step]] entries to the recipe")
    values = values_of(circuit)
    layout = Layout(circuit=circuit, mixing=AS_STATED, resolution=resolution, best=values)
    course = Course(layout, values)
    tallies = Steps(course, recipe).carry_out()
    return tuple(_carried(layout, course, tallies, thing) for thing in things)


def _carried(layout: Layout, course: Course, tallies: list[Tally], thing: Carried) -> CarriedRun:
    """Follow one thing."""
    for node in thing.passes:
        if node not in layout.node_index:
            raise NotFound("node on a path", node, layout.node_index)
    passes = np.array([[thing.passes.get(node, 1.0)] for node in layout.node_index])
    species = Species(
        first=np.array([thing.first]),
        new=np.array([thing.new]),
        most=np.array([max(thing.first, thing.new)]),
        passes=passes.reshape(-1, 1),
    )
    watcher = _Watcher(course, tallies, species)
    names = layout.part_names
    ends = [
        phase + 1
        for phase, (first, _, _, _) in enumerate(course.phases)
        if watcher.program.ops[first, 0] == kernel.SNAP
    ]
    found: list[CarriedAfter] = []
    before, worst = 0.0, 0.0
    for tally, end in zip(tallies, ends, strict=True):
        answer = watcher.until(end)
        i = tally.index
        before = thing.first * float(answer.fluid_before_m3[0])
        told = answer.told
        lost = float(told.waste[: i + 1, 0, 0].sum() + told.spilled[: i + 1, 0, 0].sum())
        poured = thing.new * sum(float(t.poured_m3[0]) for t in tallies[: i + 1])
        held = float(told.held[i, 0, 0])
        volumes, amounts = answer.parts[:, :, 0]
        caught = {node: float(watcher.caught[n]) for node, n in layout.node_index.items()}
        size = max(before + poured, 1e-300)
        kept = sum(caught.values())
        worst = max(
            worst,
            abs(before + poured - lost - held - kept) / size,
            abs(float(amounts.sum()) - held) / size,
        )
        found.append(
            CarriedAfter(
                step=i + 1,
                do=tally.do,
                concentration={
                    name: max(float(amount / volume), 0.0)
                    for name, amount, volume in zip(names, amounts, volumes, strict=True)
                    if volume > 0.0
                },
                caught={
                    node: amount
                    for node, amount in caught.items()
                    if layout.circuit.node_by_id[node].element
                },
                held=held,
                mean=held / float(volumes.sum()),
                lost=lost,
                poured=poured,
            )
        )
    if not worst <= CLOSES_WITHIN:
        raise NotConverged(
            f"the books of {thing.name} are open by {worst:.1e} of its amount; this is a defect of "
            "the program: please report it with the circuit and recipe files",
            worst,
        )
    return CarriedRun(
        name=thing.name,
        before=before,
        steps=tuple(found),
        error=worst,
        stopped=course.stop is not None,
    )
