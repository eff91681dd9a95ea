"""The charts draw what the run says, name their curves, and mark the moment."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.unit.drawing.circuits import brakes, four_corners
from tests.unit.drawing.runs import run_of
from ullage.drawing.charts import compare_chart, remainder_chart
from ullage.drawing.curves import outflow_curves, remainder_curve
from ullage.drawing.moment import LOOKS_FRESH, moment_of, recipe_until
from ullage.transport.recipe import DrawOff, Exchange, Recipe

SVG = "{http://www.w3.org/2000/svg}"
IDLE = Recipe(name="Idle", steps=(Exchange(litres_m3=0.010),))


def _texts(svg: str) -> list[str]:
    """Return all rows of text of a picture."""
    return ["".join(text.itertext()) for text in ElementTree.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("width", [360, 900])
def test_a_chart_is_valid_and_says_where_its_curves_end(width: int) -> None:
    """Both curves are named, with the whole percent that they end at."""
    run = run_of(four_corners(), members=60)
    svg = remainder_chart(run, width=width)
    texts = _texts(svg)
    left, out = np.median(run.remaining_share), np.median(run.outflow[0].old_share[-1])

    assert ElementTree.fromstring(svg).get("role") == "img"
    assert texts[texts.index("left inside") + 1] == f"{100 * left:.0f} %"
    assert texts[texts.index("outflow") + 1] == f"{100 * out:.0f} %"


def test_the_moment_is_the_first_at_which_the_outflow_looks_fresh() -> None:
    """It is read off the outflow: the first tenth of a litre with 5 % old fluid at most."""
    run = run_of(four_corners())
    moment = moment_of(run)
    old = run.outflow[0].old_share[:, 0]
    first = int(np.argmax(old <= LOOKS_FRESH))

    assert moment is not None
    assert moment.looks_fresh
    assert moment.poured_m3 == pytest.approx(run.outflow[0].waste_m3[first])
    assert moment.outflow_old_share == old[first]


def test_an_outflow_that_never_looks_fresh_has_its_moment_at_the_end() -> None:
    """The mark then says how it looked when the pouring ended."""
    run = run_of(four_corners())
    dull = replace(run.outflow[0], old_share=np.full_like(run.outflow[0].old_share, 0.4))
    moment = moment_of(replace(run, outflow=(dull,)))

    assert moment is not None
    assert not moment.looks_fresh
    assert moment.into_step_m3 == run.outflow[0].waste_m3[-1]


def test_members_that_stopped_early_do_not_spoil_the_moment() -> None:
    """Figures are those of the members that were still running."""
    run = run_of(four_corners(), members=4)
    shares = run.outflow[0].old_share.copy()
    shares[10:, :2] = np.nan
    shares[50:, :] = np.nan
    cut = replace(run, outflow=(replace(run.outflow[0], old_share=shares),))
    moment = moment_of(cut)

    assert moment is not None
    assert moment.into_step_m3 == pytest.approx(run.outflow[0].waste_m3[49])
    assert len(outflow_curves(cut)[0].middle) == 50


def test_a_recipe_is_cut_at_its_moment() -> None:
    """Steps behind are gone, the exchange ends where the person stopped."""
    run = run_of(four_corners())
    moment = moment_of(run)
    recipe = Recipe(name="Idle", steps=(Exchange(litres_m3=0.010), DrawOff()))

    assert moment is not None
    cut = recipe_until(recipe, moment)
    assert cut.steps == (Exchange(litres_m3=moment.into_step_m3),)


def test_the_curve_of_the_remainder_is_the_trace() -> None:
    """The middle of the band is the middle of the members at every point."""
    run = run_of(four_corners(), members=30)
    curve = remainder_curve(run)

    assert curve.poured_m3 == pytest.approx(run.trace.poured_m3)
    assert curve.middle == pytest.approx(np.median(run.trace.remaining_share, axis=1))
    assert np.all(curve.low <= curve.middle)
    assert np.all(curve.middle <= curve.high)


@pytest.mark.parametrize("width", [360, 900])
def test_recipes_side_by_side_keep_their_names_and_their_ids(width: int) -> None:
    """Each panel bears its recipe's name; gradients of panels are never mixed up."""
    circuit = four_corners()
    runs = {"Idle & <slow>": run_of(circuit, seed=1), "Axles in turn": run_of(circuit, seed=2)}
    svg = compare_chart(runs, circuit=circuit, width=width)
    ids = re.findall(r' id="([^"]+)"', svg)

    assert [name for name in runs if name not in _texts(svg)] == []
    assert len(ids) == len(set(ids))


def test_a_run_without_an_outflow_is_drawn_too() -> None:
    """Bleeding sends nothing through a diverter: there is one curve and no mark."""
    run = replace(run_of(brakes()), outflow=())
    texts = _texts(remainder_chart(run, circuit=brakes()))

    assert "outflow" not in texts
    assert "left inside" in texts
