"""How is a comparison of recipes set as one page that opens from disk?

A written sheet with headed sections, read from top to bottom. No script, nothing fetched:
pictures stand in the page, upright ones for a phone and wide ones for a laptop, and the reader's
device chooses daylight or dark. Leaves out what to compare (``cli.demo``)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from ullage import __version__
from ullage.circuit.network import Circuit
from ullage.drawing.charts import compare_chart, remainder_chart
from ullage.drawing.circuit_svg import draw
from ullage.drawing.figures import (
    duration,
    listed,
    litres,
    middle,
    percent,
    percent_band,
    poured,
    spread,
)
from ullage.drawing.held import contents
from ullage.drawing.measures import LAPTOP_PX, PHONE_PX
from ullage.drawing.moment import moment_of
from ullage.drawing.page_style import STYLE
from ullage.drawing.placed import Shape
from ullage.drawing.story import old_in_legs_share, story
from ullage.drawing.svg import clean
from ullage.drawing.telling import (
    balance_sentence,
    bracket_sentence,
    end_sentence,
    part_rows,
    step_rows,
    stop_sentence,
)
from ullage.transport.recipe import Recipe
from ullage.transport.result import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A recipe that was tried: its run, and that of somebody who stops at its moment."""

    name: str
    recipe: Recipe
    run: Run
    at_moment: Run | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvedPart:
    """A part after the job: what it truly holds, and the band of the verdict, as shares."""

    name: str
    truth_share: float
    p05: float
    p50: float
    p95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """A job on a machine that nobody can look into: what was planned, what its readings told, and
    the truth."""

    planned: str
    sentences: Sequence[str]
    picture: str
    rows: Sequence[ProvedPart]
    truth: str


def page(
    circuit: Circuit,
    opening: Tried,
    tried: Sequence[Tried],
    files: Sequence[str],
    proved: Proved,
) -> str:
    """Return the page as HTML.

    ``opening`` shows how the outflow deceives; ``tried`` are compared; ``proved`` is a job to its
    end; ``files`` are named last."""
    sections = [
        *_opening(circuit, opening),
        *_machine(circuit),
        *_comparison(circuit, tried),
        *(part for one in tried for part in _in_full(circuit, one)),
        *_proved(proved),
        *_trust(opening.run, tried),
        *_files(files),
    ]
    body = "\n".join(sections)
    return (
        "<!doctype html>\n"
        '<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{_safe(circuit.name)}: what is left inside</title>\n"
        f"<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _safe(words: str) -> str:
    """Return words as a page may hold them, figures and their units kept together."""
    kept = escape(clean(words))
    for unit in ("%", "L", "mL", "min", "s"):
        for digit in "0123456789":
            kept = kept.replace(f"{digit} {unit}", f"{digit}\u00a0{unit}")
    return kept


def _said(words: str) -> str:
    """Return a paragraph."""
    return f"<p>{_safe(words)}</p>"


def _both(upright: str, wide: str) -> str:
    """Return a picture in both shapes; the width of the page shows one of them."""
    return f'<figure><div class="phone">{upright}</div><div class="laptop">{wide}</div></figure>'


def _drawn(circuit: Circuit, run: Run, title: str) -> str:
    """Return the circuit, drawn in both shapes."""
    return _both(
        draw(circuit, run, width=PHONE_PX, shape=Shape.UPRIGHT, title=title),
        draw(circuit, run, width=LAPTOP_PX, shape=Shape.WIDE, title=title),
    )


def _opening(circuit: Circuit, opening: Tried) -> Iterator[str]:
    """Yield how a clean outflow deceives."""
    run, at_moment = opening.run, opening.at_moment
    yield f"<h1>{_safe(circuit.name)}</h1>"
    yield '<p class="lead">A clean outflow is not a clean circuit.</p>'
    for sentence in story(circuit, opening.recipe, run, at_moment=at_moment):
        yield _said(sentence)
    moment = moment_of(run)
    if at_moment is not None and moment is not None and moment.looks_fresh:
        total = sum(middle(step.poured_m3) for step in run.steps)
        further = total - moment.poured_m3
        before, after = middle(at_moment.remaining_share), middle(run.remaining_share)
        yield _said(
            f"Another {poured(further)} bring what is left inside from {percent(before)} to "
            f"{percent(after)}."
        )
    yield _both(
        remainder_chart(run, circuit=circuit, at_moment=at_moment, width=PHONE_PX),
        remainder_chart(run, circuit=circuit, at_moment=at_moment, width=LAPTOP_PX),
    )
    if at_moment is not None:
        yield _said(
            "The machine at that moment, every part in the colour of the old fluid still in it:"
        )
        yield _drawn(circuit, at_moment, "When the outflow looks fresh")


def _machine(circuit: Circuit) -> Iterator[str]:
    """Yield what the machine is made of."""
    held = contents(circuit, None)
    legs = sum(
        held.parts[f"{leg.id}.{half}"].fluid_m3
        for leg in circuit.legs
        for half in ("line", "chamber")
    )
    tank = held.parts["reservoir"].fluid_m3
    yield "<h2>The machine</h2>"
    said = (
        f"It holds about {litres(held.fluid_m3)}: {litres(tank)} in the reservoir, "
        f"{litres(held.fluid_m3 - tank - legs)} in the loop"
    )
    if circuit.legs:
        said += f", and {litres(legs)} in the legs {listed([leg.id for leg in circuit.legs])}"
    yield _said(f"{said}.")
    yield _said(
        "Only the reservoir can be emptied. The loop renews itself while the pump runs and the "
        "return goes to waste. A leg is a dead end: its fluid moves only when its actuator moves."
    )


def _comparison(circuit: Circuit, tried: Sequence[Tried]) -> Iterator[str]:
    """Yield the recipes side by side."""
    runs = {one.name: one.run for one in tried}
    yield "<h2>Recipes side by side</h2>"
    for one in tried:
        yield _said(f"{one.name}: {end_sentence(one.run)}")
    yield _both(
        compare_chart(runs, circuit=circuit, width=PHONE_PX),
        compare_chart(runs, circuit=circuit, width=LAPTOP_PX),
    )
    yield _comparison_table(circuit, tried)


def _comparison_table(circuit: Circuit, tried: Sequence[Tried]) -> str:
    """Return the figures of the recipes as a table."""
    rows = []
    for one in tried:
        remaining = spread(one.run.remaining_share)
        cells = (
            poured(sum(middle(step.poured_m3) for step in one.run.steps)),
            percent(remaining.middle),
            percent_band(remaining),
            percent(old_in_legs_share(circuit, one.run)),
            duration(sum(middle(step.duration_s) for step in one.run.steps)),
        )
        shown = "".join(f"<td>{_safe(cell)}</td>" for cell in cells)
        rows.append(f'<tr><th scope="row">{_safe(one.name)}</th>{shown}</tr>')
    heads = ("poured", "old left", "90 of 100 machines", "of it in legs", "pump runs")
    return _table("Each recipe, at its end", ("recipe", *heads), rows)


def _table(caption: str, heads: Sequence[str], rows: Sequence[str]) -> str:
    """Return a table that scrolls by itself where it is wider than the page."""
    head = "".join(f'<th scope="col">{_safe(words)}</th>' for words in heads)
    return (
        f'<div class="scrolls" tabindex="0" role="region" aria-label="{_safe(caption)}"><table>'
        f"<caption>{_safe(caption)}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def _in_full(circuit: Circuit, one: Tried) -> Iterator[str]:
    """Yield one recipe in full: what it tells, its drawing, its steps and its parts."""
    yield f"<h2>{_safe(one.name)}</h2>"
    for sentence in story(circuit, one.recipe, one.run, at_moment=one.at_moment):
        yield _said(sentence)
    for more in (stop_sentence(one.run), bracket_sentence(one.run)):
        if more:
            yield _said(more)
    yield _drawn(circuit, one.run, one.name)
    yield "<h3>Steps</h3>"
    yield "<ol>"
    for row in step_rows(one.run):
        notes = "".join(f'<p class="note">{_safe(note)}</p>' for note in row.notes)
        yield f"<li>{_safe(row.do)}: {_safe(row.did)}{notes}</li>"
    yield "</ol>"
    yield _parts(circuit, one)


def _parts(circuit: Circuit, one: Tried) -> str:
    """Return the table of parts, folded away."""
    rows = []
    for row in part_rows(circuit, one.run):
        cells = [
            row.fluid,
            row.old_fluid,
            "-" if row.old is None else percent(row.old.middle),
            "-" if row.old is None else percent_band(row.old),
        ]
        shown = "".join(f"<td>{_safe(cell)}</td>" for cell in cells)
        rows.append(f'<tr><th scope="row">{_safe(row.part)}</th>{shown}</tr>')
    heads = ("part", "holds", "old fluid", "old", "90 of 100 machines")
    table = _table(f"Every part after: {one.name}", heads, rows)
    return f"<details><summary>Every part in figures</summary>{table}</details>"


def _proved(job: Proved) -> Iterator[str]:
    """Yield the whole job: plan, readings, verdict, and the truth beside it."""
    yield "<h2>The whole job, proved</h2>"
    for sentence in (job.planned, *job.sentences, job.truth):
        yield _said(sentence)
    yield f'<figure class="scrolls">{job.picture}</figure>'
    rows = [
        f'<tr><th scope="row">{_safe(row.name)}</th><td>{_safe(percent(row.truth_share))}</td>'
        f"<td>{_safe(percent(row.p50))}</td>"
        f"<td>{_safe(percent(row.p05))} to {_safe(percent(row.p95))}</td></tr>"
        for row in job.rows
    ]
    heads = ("part", "truly old", "by the readings", "nine times in ten")
    yield _table("Verdict and truth, part by part", heads, rows)


def _trust(run: Run, tried: Sequence[Tried]) -> Iterator[str]:
    """Yield how far these figures go."""
    yield "<h2>How far to trust it</h2>"
    yield _said(
        f"Nobody knows every volume of a machine. So {run.members} machines were simulated that it "
        "might be: each with its own volumes, strokes, pump flow, and its own way of mixing, drawn "
        "from what the circuit file says is sure. A figure is the middle one of them; 90 of 100 "
        "lie within the band beside it."
    )
    yield _said(
        "What the outflow looks like is meant beside a vial of new fluid, in the same vessel. "
        "Reservoir, filter and chambers are taken as stirred; lines as pushed along, fast in the "
        "middle and slow at the wall where the flow is slow."
    )
    yield "<p>Every litre is accounted for:</p><ul>"
    for one in tried:
        yield f"<li>{_safe(one.name)}. {_safe(balance_sentence(one.run))}</li>"
    yield "</ul>"


def _files(files: Sequence[str]) -> Iterator[str]:
    """Yield what lies beside the page, and how to go on."""
    yield "<h2>Beside this page</h2>"
    yield "<ul>"
    for name in files:
        yield f'<li><a href="{escape(name, quote=True)}">{escape(name)}</a></li>'
    yield "</ul>"
    yield (
        "<p>Change a number in the circuit file and try a recipe again: "
        "<code>ullage simulate CIRCUIT RECIPE --members 2000 --draw picture.svg</code></p>"
    )
    yield f'<p class="note">Made by Ullage {_safe(__version__)}. The machine is invented.</p>'
