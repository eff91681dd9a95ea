"""How did the remainder fall, and what did the outflow say meanwhile?

Two charts: one run in full, and several recipes side by side. Both are drawn here and not by a
chart library; docs/adr/0020 says why."""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Mapping

from ullage.circuit.network import Circuit
from ullage.drawing import figures
from ullage.drawing.curves import outflow_curves, remainder_curve
from ullage.drawing.figures import Spread, spread
from ullage.drawing.lettering import folded
from ullage.drawing.measures import LAPTOP_PX
from ullage.drawing.moment import Moment, moment_of
from ullage.drawing.panel import EndLabel, Panel
from ullage.drawing.placed import Anchor, Box
from ullage.drawing.story import old_in_legs_share
from ullage.drawing.svg import escaped, number, tag
from ullage.drawing.theme import DAYLIGHT, SANS, dark_rules
from ullage.drawing.words import text
from ullage.transport.result import Run
from ullage.units.convert import LITRE_M3

_NARROW_PX = 700
_NARROW_WIDTH, _WIDE_WIDTH = 348.0, 900.0


def remainder_chart(
    run: Run,
    *,
    circuit: Circuit | None = None,
    at_moment: Run | None = None,
    width: int = LAPTOP_PX,
    turns_dark: bool = True,
) -> str:
    """Return a run's remainder and outflow against the litres poured, as SVG text.

    ``at_moment`` is the run of the recipe cut where the outflow looks fresh
    (``moment.recipe_until``): with it and the circuit, the mark says what the legs still hold then.
    """
    is_narrow = width < _NARROW_PX
    across = _NARROW_WIDTH if is_narrow else _WIDE_WIDTH
    size = 12.0 if is_narrow else 14.5
    moment = moment_of(run)
    told = _told(run, moment, circuit, at_moment)
    rows = folded(told, across - 8.0, size, most=4)
    top = 1.22 * size * len(rows) + 8.0
    margin_left, margin_right = 52.0 if is_narrow else 64.0, 76.0 if is_narrow else 112.0
    plot = Box(
        x=margin_left,
        y=top + 1.6 * size,
        width=across - margin_left - margin_right,
        height=190.0 if is_narrow else 300.0,
    )
    height = plot.bottom + 3.4 * size
    key = _key("remainder", width, run)
    panel = Panel(box=plot, most_m3=_most_m3([run]), size=size, key=key)
    content = [*panel.axes(says_shares=True, says_litres=True), *_curves(panel, run)]
    content += panel.end_labels(_ends(run), plot.right + 9.0)
    if moment is not None:
        room = Box(x=4.0, y=2.0, width=across - 8.0, height=top)
        inside = _share_at(run, moment) if at_moment is None else at_moment.remaining_share
        shares = [moment.outflow_old_share, figures.middle(inside)]
        content.append(panel.moment(moment.poured_m3, shares, told, room))
    return _sheet(
        content,
        key=key,
        width=width,
        across=across,
        height=height,
        title="Old fluid inside, and in the outflow, against litres poured",
        told=f"{told} {_end_sentence(run)}",
        turns_dark=turns_dark,
    )


def compare_chart(
    runs: Mapping[str, Run],
    *,
    circuit: Circuit | None = None,
    width: int = LAPTOP_PX,
    turns_dark: bool = True,
) -> str:
    """Return several recipes side by side (below each other where narrow), as SVG text."""
    is_narrow = width < _NARROW_PX
    across = _NARROW_WIDTH if is_narrow else _WIDE_WIDTH
    size = 12.0 if is_narrow else 13.5
    left, gap = (52.0, 0.0) if is_narrow else (62.0, 26.0)
    ends = 76.0 if is_narrow else 84.0
    columns = 1 if is_narrow else max(1, len(runs))
    cell = (across - left - gap * (columns - 1)) / columns
    key = _key("compare", width, *runs.values())
    most = _most_m3(list(runs.values()))
    content: list[str] = []
    y = 4.0
    bottom = y
    titles = {
        name: folded(name, (across - 8.0 if is_narrow else cell - 8.0) / 1.12, size, most=3)
        for name in runs
    }
    head = 1.25 * size * max((len(rows) for rows in titles.values()), default=1) + 2.4 * size
    for i, (name, run) in enumerate(runs.items()):
        x = left if is_narrow else left + i * (cell + gap)
        if is_narrow:
            head = 1.25 * size * len(titles[name]) + 2.4 * size
        plot = Box(x=x, y=y + head, width=cell - ends, height=130.0 if is_narrow else 230.0)
        panel = Panel(box=plot, most_m3=most, size=size, key=f"{key}-{i}")
        is_last = i == len(runs) - 1
        title_x = 4.0 if is_narrow else (4.0 if i == 0 else x - 12.0)
        content += _heading(titles[name], title_x, y + size, size)
        content += panel.axes(says_shares=is_narrow or i == 0, says_litres=is_last or not is_narrow)
        content += _curves(panel, run)
        content += panel.end_labels(_ends(run, circuit), plot.right + 8.0)
        bottom = plot.bottom
        if is_narrow:
            y = plot.bottom + 1.6 * size
    told = " ".join(f"{name}: {_end_sentence(run)}" for name, run in runs.items())
    return _sheet(
        content,
        key=key,
        width=width,
        across=across,
        height=bottom + 3.4 * size,
        title="Recipes side by side: old fluid inside, and in the outflow, against litres poured",
        told=told,
        turns_dark=turns_dark,
    )


def _curves(panel: Panel, run: Run) -> Iterator[str]:
    """Yield bands first, then the outflow in ink, then the remainder in the colour of fluid."""
    remainder, outflows = remainder_curve(run), outflow_curves(run)
    for curve in (*outflows, remainder):
        yield panel.band(curve)
    for curve in outflows:
        yield panel.ink_line(curve)
    yield panel.fluid_line(remainder)


def _heading(rows: tuple[str, ...], x: float, y: float, size: float) -> Iterator[str]:
    """Yield the name of a recipe above its panel."""
    for n, row in enumerate(rows):
        yield text(
            [escaped(row)],
            x=x,
            y=y + 1.25 * size * n,
            anchor=Anchor.START,
            size=size,
            fill=DAYLIGHT.ink,
            weight=600,
        )


def _ends(run: Run, circuit: Circuit | None = None) -> list[EndLabel]:
    """Return the names of the curves, with the figures that they end at."""
    inside = spread(run.remaining_share)
    rows = ["left inside", *_figures(inside)]
    labels = [EndLabel(share=inside.middle, rows=tuple(rows), is_strong=True)]
    if run.outflow:
        last = outflow_curves(run)[-1]
        out = Spread(
            low=float(last.low[-1]),
            middle=float(last.middle[-1]),
            high=float(last.high[-1]),
            is_one=run.members == 1,
        )
        labels.append(EndLabel(share=out.middle, rows=("outflow", *_figures(out))))
    if circuit is not None and circuit.legs:
        legs = f"{figures.percent(old_in_legs_share(circuit, run))} of it"
        labels[0] = EndLabel(
            share=inside.middle, rows=(*labels[0].rows, legs, "in the legs"), is_strong=True
        )
    return labels


def _figures(values: Spread) -> tuple[str, ...]:
    """Return the middle, and the band where it says more."""
    share, band = figures.percent(values.middle), figures.percent_band(values)
    return (share,) if band == share else (share, band)


def _share_at(run: Run, moment: Moment) -> figures.Floats:
    """Return what was left inside at a moment, by the run's own trace."""
    trace = run.trace
    after = int(trace.poured_m3.searchsorted(moment.poured_m3 - 1e-9))
    shares: figures.Floats = trace.remaining_share[min(after, len(trace.poured_m3) - 1)]
    return shares


def _told(run: Run, moment: Moment | None, circuit: Circuit | None, at_moment: Run | None) -> str:
    """Return the words of the moment."""
    if moment is None:
        return ""
    fresh = figures.percent(1.0 - moment.outflow_old_share)
    inside = _share_at(run, moment) if at_moment is None else at_moment.remaining_share
    begin = f"{figures.poured(moment.poured_m3)} poured: the outflow looks {fresh} fresh,"
    said = f"{begin} yet {figures.percent(figures.middle(inside))} inside is old"
    if circuit is None or at_moment is None or not circuit.legs:
        return f"{said}."
    return f"{said}, {figures.percent(old_in_legs_share(circuit, at_moment))} of that in the legs."


def _end_sentence(run: Run) -> str:
    """Return how the run ends."""
    inside = spread(run.remaining_share)
    said = f"At the end {figures.percent(inside.middle)} of the fluid inside is old"
    if inside.is_one:
        return f"{said}."
    return f"{said}; 90 of 100 simulated machines have {figures.percent_band(inside)}."


def _most_m3(runs: list[Run]) -> float:
    """Return the right end of the axis: what is poured at most, rounded up to half a litre."""
    most = max(float(run.trace.poured_m3[-1]) for run in runs)
    return max(math.ceil(most / LITRE_M3 * 2.0 - 1e-6) / 2.0 * LITRE_M3, 1e-4)


def _key(kind: str, width: int, *runs: Run) -> str:
    """Return a name that no other chart on a page has."""
    told = repr((kind, width, [(run.remaining_share.tobytes(), len(run.steps)) for run in runs]))
    return f"ullage-chart-{zlib.crc32(told.encode()):08x}"


def _sheet(
    content: list[str],
    *,
    key: str,
    width: int,
    across: float,
    height: float,
    title: str,
    told: str,
    turns_dark: bool,
) -> str:
    """Return the finished picture."""
    head = [
        tag("title", [escaped(title)], id=f"{key}-title"),
        tag("desc", [escaped(told)], id=f"{key}-desc"),
    ]
    if turns_dark:
        head.append(tag("style", [dark_rules(f"#{key}")]))
    head.append(tag("rect", width=across, height=height, fill=DAYLIGHT.paper))
    return tag(
        "svg",
        [*head, *content],
        xmlns="http://www.w3.org/2000/svg",
        id=key,
        viewBox=f"0 0 {number(across)} {number(height)}",
        width=width,
        height=width * height / across,
        style="max-width:100%;height:auto",
        role="img",
        aria_labelledby=f"{key}-title {key}-desc",
        font_family=SANS,
        font_variant_numeric="tabular-nums",
    )
