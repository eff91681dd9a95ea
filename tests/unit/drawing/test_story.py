"""The story sets the outflow beside the inside, and names what keeps the rest there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.drawing.circuits import brakes, circuit, four_corners, leg, loader, node
from tests.unit.drawing.runs import run_of
from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Path
from ullage.drawing.page import Proved, ProvedPart, Tried, page
from ullage.drawing.story import old_in_legs_share, story
from ullage.drawing.telling import (
    balance_sentence,
    bracket_sentence,
    part_rows,
    step_rows,
    stop_sentence,
)
from ullage.transport.recipe import Circulate, DrawOff, Exchange, Exercise, Fill, Recipe
from ullage.transport.result import Bracket, Note, Stop

IDLE = Recipe(name="Idle", steps=(Exchange(litres_m3=0.010),))


def _legs_old(machine: Circuit) -> dict[str, float]:
    """Return shares of a machine whose loop is clean and whose legs are not."""
    shares = {part: 0.01 for part in run_of(machine).parts}
    legs = {f"{leg.id}.{half}": 0.9 for leg in machine.legs for half in ("line", "chamber")}
    return shares | legs


def test_the_outflow_is_set_beside_the_inside() -> None:
    """Litres, how it looks, what is left and how much of that is in the legs."""
    machine = four_corners()
    run = run_of(machine, shares=_legs_old(machine))
    first, _ = story(machine, IDLE, run, at_moment=run)
    left, legs = run.remaining_share[0], old_in_legs_share(machine, run)

    assert first == (
        f"After 7.5 L poured, the outflow looks 95 % fresh while {100 * left:.0f} % of the fluid "
        f"inside is still old, {100 * legs:.0f} % of that in the legs."
    )


def test_what_sits_in_the_legs_is_counted_from_the_parts() -> None:
    """Old litres of lines and chambers over all old litres inside."""
    machine = four_corners()
    run = run_of(machine)
    legs = sum(p.old_m3[0] for name, p in run.parts.items() if "." in name)

    assert old_in_legs_share(machine, run) == pytest.approx(
        legs / sum(p.old_m3[0] for p in run.parts.values())
    )


def test_legs_that_nothing_moved_are_named() -> None:
    """Exercising one axle leaves the reason with the other."""
    machine = four_corners()
    shares = _legs_old(machine) | {
        f"front-{side}.{half}": 0.1 for side in ("left", "right") for half in ("line", "chamber")
    }
    front = replace(IDLE, steps=(Exchange(litres_m3=0.01, exercise=Exercise(groups=("front",))),))
    _, second = story(machine, front, run_of(machine, shares=shares))

    assert second.startswith("Nothing moved rear-left and rear-right:")


def test_a_stroke_smaller_than_its_line_is_a_floor() -> None:
    """Where the stroke holds less than the line, pouring is not proposed."""
    machine = circuit(
        "Long lines",
        (),
        (node("valve-block"),),
        (Path(id="main", through=("valve-block",), divert_after="valve-block"),),
        (leg("front-left", stroke_l=0.2, line_l=0.3, bleed=True, group="front"),),
    )
    moved = replace(IDLE, steps=(Exchange(litres_m3=0.01, exercise=Exercise(groups=("front",))),))
    _, second = story(machine, moved, run_of(machine, shares=_legs_old(machine)))

    assert "holds no more than its line" in second
    assert "only bleeding moves it" in second


def test_a_leg_of_a_controller_is_nobodys_to_move() -> None:
    """The reason is who may move it, not how often it was moved."""
    machine = circuit(
        "Clutch",
        (),
        (node("gallery"),),
        (Path(id="main", through=("gallery",), divert_after="gallery"),),
        (leg("clutch", "gallery", held_by=HeldBy.CONTROLLER),),
    )
    _, second = story(machine, IDLE, run_of(machine, shares=_legs_old(machine)))

    assert second.startswith("Only the controller moves clutch")


def test_what_stands_still_behind_the_diverter_is_named() -> None:
    """A filter that nothing ran through holds its old fluid, and the story says where."""
    machine = four_corners()
    shares = {part: 0.0 for part in run_of(machine).parts} | {"filter": 1.0}
    _, second = story(machine, IDLE, run_of(machine, shares=shares))

    assert "behind the diverter, in filter" in second


def test_drains_are_told_as_drains() -> None:
    """Without an exchange the reservoir's size is the reason."""
    machine = loader()
    recipe = Recipe(name="Drain", steps=(DrawOff(), Fill(), Circulate(duration_s=60.0)))
    run = replace(run_of(machine, shares=dict.fromkeys(run_of(machine).parts, 0.4)), outflow=())
    first, second = story(machine, recipe, run)

    assert first.startswith("After 10 L poured, 40 % of the fluid inside is still old")
    assert second.startswith("A drain takes no more than the reservoir holds, 3.20 L of 9.")


def test_an_early_end_is_the_reason() -> None:
    """Whoever ran the pump dry reads that first."""
    machine = four_corners()
    stop = Stop(step=1, waste_m3=0.002, poured_m3=0.0, why="the reservoir is empty")
    run = replace(run_of(machine, shares=_legs_old(machine)), stop=stop)
    _, second = story(machine, IDLE, run)

    assert second == "It ended early, in step 1: the reservoir is empty."
    assert "after 2 L to waste" in (stop_sentence(run) or "")


def test_rows_tell_every_part_and_every_step() -> None:
    """Litres and shares are the run's own; notes stand with their step."""
    machine = four_corners()
    run = run_of(machine, shares={"filter": 0.37})
    note = Note(code="n", text="the level was low", part=None)
    run = replace(run, steps=(replace(run.steps[0], notes=(note,), cycles={"front": 1}),))
    parts = {row.part: row for row in part_rows(machine, run)}
    (step,) = step_rows(run)

    assert sorted(parts) == sorted(run.parts)
    assert (parts["filter"].fluid, parts["filter"].old_fluid) == ("0.35 L", "0.13 L")
    assert step.notes == ("the level was low",)
    assert step.did.startswith("10.0 L poured; 10.0 L to waste; ")
    assert step.did.endswith("old left; lowest level 2.10 L; front 1 cycle; 84 s")


def test_the_bracket_is_told_where_there_is_one() -> None:
    """Both ends stand in the sentence; without a bracket there is none."""
    run = run_of(four_corners())
    told = bracket_sentence(replace(run, bracket=Bracket(plug_share=0.301, laminar_share=0.334)))

    assert bracket_sentence(run) is None
    assert "30 %" in (told or "")
    assert "33 %" in (told or "")


def test_books_that_are_open_are_told_open() -> None:
    """The sentence about the books can say no."""
    run = run_of(four_corners())
    wrong = replace(run, balance=replace(run.balance, old_error_m3=2e-4))

    assert "closed to better than" in balance_sentence(run)
    assert "open by 2.0e-01 L" in balance_sentence(wrong)


def test_a_page_holds_every_recipe_and_escapes_every_name() -> None:
    """One page, no script, no file fetched, every name as text."""
    machine = replace(brakes(), name='Van <b>"7"</b>')
    run = replace(run_of(machine, members=20), outflow=())
    opening = Tried(name="On & on", recipe=IDLE, run=run, at_moment=None)
    other = Tried(name="<i>Idle</i>", recipe=IDLE, run=run_of(machine, seed=9), at_moment=None)
    proved = Proved(
        planned="Wanted: <little>.",
        sentences=("About 1 % is left.",),
        picture="<svg></svg>",
        rows=(ProvedPart(name="<leg>", truth_share=0.1, p05=0.0, p50=0.1, p95=0.2),),
        truth="The truth.",
    )
    html = page(machine, opening, [other], ['a"b.svg'], proved)

    assert "<script" not in html
    assert "<b>" not in html
    assert "<i>" not in html
    assert "&lt;i&gt;Idle&lt;/i&gt;" in html
    assert 'href="a&quot;b.svg"' in html
    assert "http://www.w3.org" in html
    assert np.all([word not in html for word in ("src=", "@import", "url(http")])
