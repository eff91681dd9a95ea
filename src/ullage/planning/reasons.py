"""Why is the plan as it is? Its name, its reasons and how figures are said, in sentences.

Leaves out the sheet (``sheet``) and what the command prints around it.
"""

from __future__ import annotations

from collections.abc import Iterator

from ullage.planning.floor import Floor, reasons_of
from ullage.planning.goal import Goal
from ullage.planning.methods import Method
from ullage.planning.rehearsal import Proposal
from ullage.planning.score import Score
from ullage.transport.recipe import Exchange


def name_of(proposal: Proposal) -> str:
    """Return a name that says what a recipe does."""
    words: list[str] = []
    for step in proposal.steps:
        if isinstance(step, Exchange):
            word = "exchange with exercise" if step.exercise.groups else "exchange"
        else:
            word = step.do
        if word in ("fill", "top-up", "charge") or word in words:
            continue
        words.append(word)
    text = ", ".join(words)
    return text[0].upper() + text[1:]


def reasons(
    goal: Goal,
    made: Score,
    methods: tuple[Method, ...],
    floor: Floor,
    reached: bool,
) -> Iterator[str]:
    """Go through why the plan is as it is."""
    held = round(made.held_share * 100.0)
    if reached:
        yield (
            f"{held} of 100 simulated machines end at or below {percent(goal.target_share)}; "
            f"nine of ten lie between {percent(made.p05)} and {percent(made.p95)}."
        )
    else:
        yield (
            f"Only {held} of 100 simulated machines end at or below {percent(goal.target_share)}; "
            f"nine of ten lie between {percent(made.p05)} and {percent(made.p95)}."
        )
    usual = [m for m in methods if m.reached and m.score is not None]
    best = min(usual, key=lambda m: m.score.order if m.score else (), default=None)
    if best is not None and best.score is not None and reached:
        apart = best.score.containers - made.containers
        if apart > 0:
            yield (
                f"The best usual method, {best.name.lower()}, needs {best.score.containers} "
                f"containers: {apart} more."
            )
        else:
            yield f"The best usual method, {best.name.lower()}, needs as many containers."
    elif reached:
        yield "None of the usual methods reaches the target at all."
    if floor.parts:
        yield (
            f"However much more is poured in this way, {of_100(goal.sure_share)} come down to "
            f"{percent(floor.share)}, not lower."
        )
        yield from reasons_of(floor)


def percent(share: float) -> str:
    """Say a share in per cent."""
    pct = share * 100.0
    return f"{pct:.0f} %" if pct >= 9.95 else f"{pct:.1f} %"


def of_100(share: float) -> str:
    """Say a confidence as a count of machines."""
    count = share * 100.0
    return f"{count:.3g} of 100 machines"
