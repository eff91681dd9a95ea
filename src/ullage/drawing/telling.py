"""How is a run told row by row: parts, steps, books, and how far to trust it?

Rows and sentences as plain values; a terminal, a page or a paper sets them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.drawing import figures
from ullage.drawing.figures import Spread, litres, middle, percent, percent_band, poured, spread
from ullage.drawing.held import contents
from ullage.transport.result import Run, StepResult
from ullage.units.convert import LITRE_M3

_SHOWN_FROM_M3 = 5e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """A part and what it holds; ``old`` is None where it holds nothing."""

    part: str
    fluid: str
    old: Spread | None
    old_fluid: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """A step: its number from 1, the word for it, what it did in a row of words, and its notes."""

    number: int
    do: str
    did: str
    notes: tuple[str, ...]


def part_rows(circuit: Circuit, run: Run) -> tuple[PartRow, ...]:
    """Return all parts in the order in which fluid meets them, the legs last."""
    held = contents(circuit, run).parts
    legs = [f"{leg.id}.{half}" for leg in circuit.legs for half in ("line", "chamber")]
    return tuple(
        PartRow(
            part=part,
            fluid=litres(held[part].fluid_m3),
            old=held[part].old,
            old_fluid=litres(middle(run.parts[part].old_m3)),
        )
        for part in ("reservoir", *circuit.flow_order, *legs)
        if part in held
    )


def step_rows(run: Run) -> tuple[StepRow, ...]:
    """Return what each step did."""
    return tuple(
        StepRow(
            number=step.index + 1,
            do=step.do,
            did="; ".join(_did(step)),
            notes=tuple(note.text for note in step.notes),
        )
        for step in run.steps
    )


def _did(step: StepResult) -> list[str]:
    """Return what one step did, nothing that did not happen."""
    said: list[str] = []
    for volume, what in (
        (middle(step.poured_m3), "poured"),
        (middle(step.waste_m3), "to waste"),
        (middle(step.spilled_m3), "spilled over the brim"),
    ):
        if volume > _SHOWN_FROM_M3:
            said.append(f"{litres(volume)} {what}")
    said.append(f"{_share(spread(step.remaining_share))} old left")
    said.append(f"lowest level {litres(middle(step.lowest_m3))}")
    if step.cycles:
        said.append(_cycles(step.cycles))
    span = middle(step.duration_s)
    if span >= 0.5:
        said.append(figures.duration(span))
    return said


def _share(share: Spread) -> str:
    """Return a share with its band, where it has one."""
    said, band = percent(share.middle), percent_band(share)
    return said if band == said else f"{said} ({band})"


def _cycles(cycles: Mapping[str, int]) -> str:
    """Return how often which group moved."""
    return ", ".join(
        f"{group} {n} {'cycle' if n == 1 else 'cycles'}" for group, n in cycles.items()
    )


def end_sentence(run: Run) -> str:
    """Return how much is left at the end, and for how many of the machines that holds."""
    remaining = spread(run.remaining_share)
    total = sum(middle(step.poured_m3) for step in run.steps)
    said = f"{poured(total)} of new fluid leave {percent(remaining.middle)} old fluid inside"
    if remaining.is_one:
        return f"{said}."
    return f"{said}; 90 of 100 simulated machines have {percent_band(remaining)}."


def bracket_sentence(run: Run) -> str | None:
    """Return how far the flow in the legs' lines moves the answer; None where it hardly does."""
    if run.bracket is None:
        return None
    return (
        f"How the lines of the legs wash out moves the answer: {percent(run.bracket.plug_share)} "
        f"old left if they empty like a plug, {percent(run.bracket.laminar_share)} if the middle "
        "of the stream runs ahead of the wall."
    )


def balance_sentence(run: Run) -> str:
    """Return the books of the best values, and how exactly they close."""
    books = (run.best or run).balance
    closed = (
        "closed to better than a millionth of a litre"
        if abs(books.old_error_m3) < 1e-9
        else f"open by {abs(books.old_error_m3) / LITRE_M3:.1e} L"
    )
    return (
        f"The books of old fluid: {litres(books.old_before_m3)} before, "
        f"{litres(books.old_out_m3)} gone, {litres(books.old_left_m3)} left; {closed}."
    )


def stop_sentence(run: Run) -> str | None:
    """Return where the run ended early; None where it did not."""
    if run.stop is None and run.stopped_members == 0:
        return None
    said: list[str] = []
    if run.stop is not None:
        said.append(
            f"The run ended early, in step {run.stop.step} after {poured(run.stop.waste_m3)} to "
            f"waste: {run.stop.why.rstrip('.')}."
        )
    if run.members > 1 and run.stopped_members:
        said.append(
            f"{run.stopped_members} of {run.members} simulated machines did not reach the end."
        )
    return " ".join(said)
