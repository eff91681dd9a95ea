"""``ullage prove``: what is left where, given what was measured, and what to do next.

People get three sentences, a table of parts, the books and what would tell most; ``--json`` gives
one object and nothing else. The picture is written where it is asked for."""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from ullage.errors import FileFaults, OutOfRange
from ullage.evidence.answer import Verdict
from ullage.evidence.refusals import evidence_faults
from ullage.evidence.sentences import between, pct
from ullage.evidence.verdict import prove
from ullage.evidence.waiting import Progress
from ullage.formats.circuit_file import read_circuit
from ullage.formats.evidence_file import read_evidence
from ullage.formats.recipe_file import read_recipe
from ullage.formats.verdict_json import verdict_to_json
from ullage.transport.refusals import refusals
from ullage.units.convert import ZERO_CELSIUS_K

if TYPE_CHECKING:
    from rich.console import Console

SUCCESS = 0

_WIDEST = 100
_SHOWN_NEXT = 5


def run(
    circuit: Path,
    recipe: Path,
    evidence: Path,
    *,
    target_pct: float | None,
    seed: int,
    as_json: bool,
    draw: Path | None,
) -> int:
    """Carry out one ``ullage prove`` and return the exit code."""
    if draw is not None and draw.suffix.lower() != ".svg":
        raise OutOfRange(
            "--draw", draw, "a file name that ends in .svg", "pictures are written as SVG"
        )
    machine = read_circuit(circuit)
    plan = read_recipe(recipe)
    found = read_evidence(evidence)
    faults = refusals(machine, plan)
    if faults:
        raise FileFaults(recipe.name, faults)
    faults = evidence_faults(found, machine, plan)
    if faults:
        raise FileFaults(evidence.name, faults)
    with _patience() as progress:
        verdict = prove(
            machine,
            plan,
            found,
            target_share=None if target_pct is None else target_pct / 100.0,
            seed=seed,
            progress=progress,
        )
    if draw is not None:
        from ullage.drawing.verdict_svg import verdict_picture

        draw.write_text(verdict_picture(verdict, title=machine.name), encoding="utf-8")
    if as_json:
        print(json.dumps(verdict_to_json(verdict), allow_nan=False))
        return SUCCESS
    _tell(machine.name, verdict, plan.temperature_k - ZERO_CELSIUS_K)
    if draw is not None:
        print(f"\nThe verdict, drawn: {draw}")
    return SUCCESS


@contextmanager
def _patience() -> Iterator[Progress | None]:
    """Say what is under way, where a person looks at standard error."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bars

    columns = (TextColumn("{task.description}"), BarColumn())
    with Bars(*columns, console=Console(stderr=True), transient=True) as bars:
        task = bars.add_task("trying machines", total=1)
        yield lambda what, done, of: bars.update(task, description=what, completed=done, total=of)


def _tell(name: str, verdict: Verdict, at_degc: float) -> None:
    """Print everything that a person should know."""
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False, soft_wrap=False)

    def say(words: str, indent: int = 0) -> None:
        lines = textwrap.wrap(
            words,
            width=min(console.width, _WIDEST),
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent + 2 if indent else 0),
            break_long_words=False,
        )
        console.print(Text("\n".join(lines)), soft_wrap=True)

    console.print(Text(name, style="bold"), soft_wrap=True)
    console.print()
    for sentence in verdict.sentences:
        say(sentence)
    console.print()
    _print_parts(console, verdict)
    if verdict.next:
        console.print()
        console.print(Text("What would tell most for its effort, first things first", style="bold"))
        for step in verdict.next[:_SHOWN_NEXT]:
            fluid = "no fluid" if step.litres_m3 <= 0.0 else f"{step.litres_m3 * 1e3:.2g} L"
            say(f"- {step.do} ({step.minutes:.0f} min, {fluid})", indent=2)
    console.print()
    books = _balance(verdict, at_degc)
    for words in (*([books] if books else []), *(check.sentence for check in verdict.dilution)):
        say(words)
    if not verdict.trust.is_final:
        say(
            "These figures are not final: too few machines agree with all readings at once "
            f"(k-hat {verdict.trust.k_hat:.2f}). Look for a reading that stands apart, or give it "
            "the uncertainty that it deserves."
        )


def _print_parts(console: Console, verdict: Verdict) -> None:
    """Print the table of parts."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("part", no_wrap=True)
    for head in ("old", "nine times in ten", "before the readings"):
        table.add_column(head, justify="right", no_wrap=True)
    rows = [("whole circuit", verdict.remaining, verdict.remaining_before)]
    rows += [(name, part.after, part.before) for name, part in verdict.parts.items()]
    for name, after, before in rows:
        if verdict.fit.fits:
            table.add_row(name, pct(after.p50), between(after), between(before))
        else:
            table.add_row(name, "-", "-", between(before))
    console.print(table)


def _balance(verdict: Verdict, at_degc: float) -> str | None:
    """Say whether the books close; nothing where no volume was measured."""
    balance = verdict.balance
    if balance.unaccounted_m3 is None or balance.u_m3 is None:
        return None
    missing, u = 1e3 * balance.unaccounted_m3, 1e3 * balance.u_m3
    what = "missing" if missing > 0.0 else "too much"
    gained = 1e3 * (balance.in_m3 - balance.out_m3) - missing
    more = "more" if gained >= 0.0 else "less"
    end = (
        "which is within what the readings can be wrong"
        if balance.closes
        else "which is more than the readings can be wrong: look for a leak, a spill or a can that "
        "was not counted"
    )
    return (
        f"Books, at {at_degc:.0f} degC: {1e3 * balance.in_m3:.2f} L in, "
        f"{1e3 * balance.out_m3:.2f} L out, {abs(gained):.2f} L {more} in the circuit than before; "
        f"{abs(missing):.2f} L {what} (the readings leave {2.0 * u:.2f} L either way), {end}."
    )
