"""What a run of a recipe answers, as plain values in SI; files and pages render it.

Arrays over members have one entry a member; single runs have exactly one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something a person should know about a step: ``code`` for programs, ``text`` for people."""

    code: str
    text: str
    part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepResult:
    """What one step did; volumes count this step alone. Arrays are (members,).

    ``remaining_share`` is old fluid over all fluid in the circuit when the step ended.
    """

    index: int
    do: str
    poured_m3: Floats
    waste_m3: Floats
    waste_old_m3: Floats
    spilled_m3: Floats
    remaining_share: Floats
    lowest_m3: Floats
    duration_s: Floats
    level_m3: Floats
    cycles: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartResult:
    """What one part holds at the end. Arrays are (members,)."""

    fluid_m3: Floats
    old_m3: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts(Mapping[str, PartResult]):
    """What all parts hold at the end, each made when it is asked for.

    ``held_m3`` is fluid, and old fluid, (2, parts, members)."""

    names: tuple[str, ...]
    held_m3: Floats

    def __getitem__(self, name: str) -> PartResult:
        """Return what a part holds."""
        try:
            fluid, old = self.held_m3[:, self.names.index(name)]
        except ValueError:
            raise KeyError(name) from None
        return PartResult(fluid_m3=fluid, old_m3=old)

    def __iter__(self) -> Iterator[str]:
        """Go through the names in the order in which results list them."""
        return iter(self.names)

    def __len__(self) -> int:
        """Return how many parts there are."""
        return len(self.names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outflow:
    """Mean old share of each bin that went through the diverter, counted per step.

    ``waste_m3`` is the volume of the step gone to waste at the end of the bin (bins,),
    ``old_share`` is (bins, members), NaN where a member stopped before."""

    step: int
    waste_m3: Floats
    old_share: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """How the remainder fell against the litres poured: (points,) and (points, members)."""

    poured_m3: Floats
    remaining_share: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """The books of the first member; errors are relative to nothing, plain volumes."""

    old_before_m3: float
    old_out_m3: float
    old_left_m3: float
    old_error_m3: float
    volume_error_m3: float
    poured_m3: float
    waste_m3: float
    spilled_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bracket:
    """The remainder with plug flow, and with laminar flow, in the lines of all legs."""

    plug_share: float
    laminar_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Where the run of the best values ended early, and why."""

    step: int
    waste_m3: float
    poured_m3: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The whole answer: steps, parts, outflow, books, bracket and what was worth a note.

    ``best`` is the run of the best values (one member); ensembles carry it beside their arrays.
    ``trace_made`` makes the curve of the remainder, which few ask for.
    """

    members: int
    seed: int
    steps: tuple[StepResult, ...]
    remaining_share: Floats
    parts: Mapping[str, PartResult]
    outflow: tuple[Outflow, ...]
    trace_made: Callable[[], Trace]
    balance: Balance
    bracket: Bracket | None = None
    stop: Stop | None = None
    stopped_members: int = 0
    kernel_steps: int = 0
    best: Run | None = None

    @property
    def trace(self) -> Trace:
        """Return how the remainder fell, made anew each time."""
        return self.trace_made()
