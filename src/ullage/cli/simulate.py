"""``ullage simulate``: carry out a recipe on a circuit and say how much old fluid is left where.

People get the story in two sentences, a table of parts and a line a step; ``--json`` gives one
object and nothing else. Pictures are written where they are asked for. Progress goes to standard
error, and only where somebody looks at it."""

from __future__ import annotations

import json
import re
import sys
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from ullage.circuit.network import Circuit
from ullage.drawing.figures import percent, percent_band
from ullage.drawing.measures import LAPTOP_PX, PHONE_PX, SHEET_PX
from ullage.drawing.moment import moment_of, recipe_until
from ullage.drawing.story import story
from ullage.drawing.telling import (
    balance_sentence,
    bracket_sentence,
    end_sentence,
    part_rows,
    step_rows,
    stop_sentence,
)
from ullage.errors import FileFaults, OutOfRange
from ullage.formats.circuit_file import read_circuit
from ullage.formats.recipe_file import read_recipe
from ullage.formats.result_json import run_to_json
from ullage.transport.recipe import Recipe
from ullage.transport.refusals import refusals
from ullage.transport.result import Run
from ullage.transport.solve import simulate

if TYPE_CHECKING:
    from rich.console import Console

SUCCESS = 0

_WIDEST = 110
# A figure and its unit are not torn apart at the end of a line.
_UNIT = re.compile(r"(\d) (%|(?:L|mL|min|s)\b)")
_KEPT = "\u00a0"
Progress = Callable[[int, int], None]


def run(
    circuit: Path,
    recipe: Path,
    *,
    members: int,
    seed: int,
    as_json: bool,
    draw: Path | None,
    chart: Path | None,
    upright: bool,
) -> int:
    """Carry out one ``ullage simulate`` and return the exit code."""
    for option, path in (("--draw", draw), ("--chart", chart)):
        if path is not None and path.suffix.lower() != ".svg":
            raise OutOfRange(
                option, path, "a file name that ends in .svg", "pictures are written as SVG"
            )
    machine = read_circuit(circuit)
    plan = read_recipe(recipe)
    faults = refusals(machine, plan)
    if faults:
        raise FileFaults(recipe.name, faults)
    with shown_progress(members) as progress:
        answer = simulate(machine, plan, members=members, seed=seed, progress=progress)
        at_moment = run_at_moment(machine, plan, answer)
    if draw is not None:
        from ullage.drawing.circuit_svg import draw as draw_circuit

        across = PHONE_PX if upright else SHEET_PX
        drawing = draw_circuit(machine, answer, width=across)
        draw.write_text(drawing, encoding="utf-8")
    if chart is not None:
        from ullage.drawing.charts import remainder_chart

        across = PHONE_PX if upright else LAPTOP_PX
        picture = remainder_chart(answer, circuit=machine, at_moment=at_moment, width=across)
        chart.write_text(picture, encoding="utf-8")
    if as_json:
        print(json.dumps(run_to_json(answer, machine), allow_nan=False))
    else:
        _tell(machine, plan, answer, at_moment)
        drawn = {"circuit": draw, "remainder and outflow": chart}
        shown = [f"The {what}, drawn: {path}" for what, path in drawn.items() if path is not None]
        if shown:
            print("", *shown, sep="\n")
    return SUCCESS


def run_at_moment(circuit: Circuit, recipe: Recipe, answer: Run) -> Run | None:
    """Return the run of somebody who stops when the outflow looks fresh, if there is one."""
    moment = moment_of(answer)
    if moment is None:
        return None
    return simulate(
        circuit,
        recipe_until(recipe, moment),
        members=answer.members,
        seed=answer.seed,
        bracket=False,
    )


@contextmanager
def shown_progress(members: int, does: str = "simulating") -> Iterator[Progress | None]:
    """Show how many of how many machines are done, where a person looks at standard error."""
    if members < 2 or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(does, total=members)
        yield lambda done, _: bar.update(task, completed=done)


def _tell(circuit: Circuit, recipe: Recipe, answer: Run, at_moment: Run | None) -> None:
    """Print everything that a person should know."""
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False, soft_wrap=False)
    width = min(console.width, _WIDEST)

    def say(words: str, indent: int = 0, hang: int = 0) -> None:
        lines = textwrap.wrap(
            _UNIT.sub(f"\\1{_KEPT}\\2", words),
            width=width,
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent + hang),
            break_long_words=False,
        )
        console.print(Text("\n".join(lines).replace(_KEPT, " ")), soft_wrap=True)

    console.print(Text(circuit.name, style="bold"), soft_wrap=True)
    say(recipe.name)
    console.print()
    for sentence in (*story(circuit, recipe, answer, at_moment=at_moment), end_sentence(answer)):
        say(sentence)
    stopped = stop_sentence(answer)
    if stopped:
        say(stopped)
    console.print()
    _print_parts(console, circuit, answer)
    console.print()
    console.print(Text("Steps", style="bold"))
    for row in step_rows(answer):
        say(f"{row.number}. {row.do}: {row.did}", indent=2, hang=3)
        for note in row.notes:
            say(f"- {note}", indent=5, hang=2)
    console.print()
    for more in (bracket_sentence(answer), balance_sentence(answer)):
        if more:
            say(more)


def _print_parts(console: Console, circuit: Circuit, answer: Run) -> None:
    """Print the table of parts."""
    from rich import box
    from rich.table import Table

    is_banded = answer.members > 1
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("part", no_wrap=True)
    for head in ("holds", "old fluid", "old"):
        table.add_column(head, justify="right", no_wrap=True)
    if is_banded:
        table.add_column("90 of 100 machines", justify="right", no_wrap=True)
    for row in part_rows(circuit, answer):
        share = "-" if row.old is None else percent(row.old.middle)
        band = "-" if row.old is None else percent_band(row.old)
        table.add_row(row.part, row.fluid, row.old_fluid, share, *([band] if is_banded else []))
    console.print(table)
