"""Every kind of reading becomes the number that a person would have written down."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.evidence.cases import circuit, evidence, prover, recipe
from ullage.circuit.parts import State
from ullage.evidence.amounts import level_m3
from ullage.evidence.forward import Forward, Shown
from ullage.evidence.likelihood import as_measured, carried_out, readings_of
from ullage.evidence.motion import best_flow_ratio
from ullage.evidence.reading import SAMPLE_IN_COMMON, Reading, covariance
from ullage.evidence.samples import LEG_SHADE, MIXING_U

LAST = 4


def reading(text: str) -> Reading:
    """Return the only reading of a text."""
    (one,) = readings_of(evidence(text), circuit(), recipe())
    return one


def shown_for(text: str, members: int = 6) -> Shown:
    """Return what a few machines show where the recipe went as a text says."""
    found = evidence(text)
    machine = as_measured(circuit(), found)
    forward = Forward(machine, carried_out(recipe(), machine, found))
    return forward.run(forward.latents.drawn(seed=1, count=members))


def test_a_bucket_is_all_waste_so_far_mixed() -> None:
    """Old fluid to waste over all waste, step by step."""
    shown = shown_for("")
    old = sum(stage.waste_old_m3 for stage in shown.stages)
    waste = sum(stage.waste_m3 for stage in shown.stages)

    one = reading('[[sample]]\nwhere = "bucket"\nafter_step = 4\nold_pct = 50')

    assert one.predict(shown) == pytest.approx(old / waste, rel=1e-9)


def test_a_sample_within_a_step_is_taken_there() -> None:
    """An outflow sample after two litres is the twentieth tenth of a litre."""
    text = '[[sample]]\nwhere = "outflow"\nafter_step = 3\nat_step_l = 2.0\nold_pct = 50'
    whole = shown_for("").traces[2].old_vfrac[19]

    assert reading(text).predict(shown_for(text)) == pytest.approx(whole, abs=1e-9)


def test_a_cut_changes_nothing_behind_it() -> None:
    """A recipe cut where the reservoir was sampled ends where the whole recipe ends."""
    text = '[[sample]]\nwhere = "reservoir"\nafter_step = 3\nat_step_l = 3.5\nold_pct = 50'
    cut, whole = shown_for(text), shown_for("")

    assert cut.replay.ends == (1, 2, 4, 5)
    assert cut.after(LAST).old_m3 == pytest.approx(whole.after(LAST).old_m3, abs=3e-6)


def test_a_scale_and_a_jug_say_the_same() -> None:
    """Grams and litres of the same fluid become one volume at the recipe's temperature."""
    fluid = circuit().fluid
    grams = 1.8 * fluid.density_kg_m3(313.15)
    by_jug = reading('[[volume]]\nwhat = "drawn-off"\nstep = 1\nlitres = 1.8\nat_degc = 40')
    by_scale = reading(f'[[volume]]\nwhat = "drawn-off"\nstep = 1\ngrams = {grams}')

    assert by_scale.value == pytest.approx(by_jug.value, rel=1e-9)
    assert by_jug.value > 1.8e-3  # at 50 degC it takes more room than at 40


def test_what_was_left_over_is_not_poured() -> None:
    """The left-over is taken from the poured volume, and a shared jug error cancels in part."""
    poured = '[[volume]]\nwhat = "poured"\nlitres = 6\nu_l = 0.1\nshares = "jug"\n'
    left = '[[volume]]\nwhat = "left-over"\nlitres = 0.5\nu_l = 0.05\nshares = "jug"'
    both, alone = reading(poured + left), reading(poured)

    assert both.value == pytest.approx(5.5e-3)
    assert both.u < math.hypot(1e-4, 0.5e-4)
    assert both.predict(shown_for("")) == pytest.approx(alone.predict(shown_for("")))


def test_waste_that_was_measured_replaces_the_litres_of_the_recipe() -> None:
    """The replay sends what was caught, and the reading then agrees with it."""
    text = '[[volume]]\nwhat = "waste"\nstep = 3\nlitres = 4.4'
    replay = carried_out(recipe(), circuit(), evidence(text))

    assert replay.recipe.steps[2].litres_m3 == pytest.approx(4.4e-3)  # type: ignore[union-attr]
    assert reading(text).predict(shown_for(text)) == pytest.approx(4.4e-3)


def test_full_extension_takes_from_the_reservoir_what_the_strokes_lack() -> None:
    """The level falls by stroke times what is left of it, over all legs."""
    shown = shown_for("")
    stage = shown.after(LAST)
    taken = (shown.values.leg_stroke_m3[:, 1:] * (1.0 - stage.place)).sum(axis=0)

    found = level_m3(shown, stage, circuit(), State.EXTENDED)

    assert found == pytest.approx(stage.level_m3 - taken)


def test_letting_the_pressure_go_gives_the_gas_volumes_oil_back() -> None:
    """Released, the legs sink and the oil behind gas stands in the reservoir."""
    shown = shown_for("")
    stage = shown.after(LAST)
    given = (shown.values.leg_stroke_m3[:, 1:] * stage.place).sum(axis=0)
    given = given + shown.values.leg_gas_m3[:, 1:].sum(axis=0)

    found = level_m3(shown, stage, circuit(), State.RELEASED)

    assert found == pytest.approx(stage.level_m3 + given)


def test_the_whole_circuit_swells_into_the_reservoir() -> None:
    """Read 30 K hotter, the level is higher by the swelling of all fluid, not of one part."""
    shown = shown_for("")
    fluid = circuit().fluid
    warmth = fluid.density_kg_m3(323.15) / fluid.density_kg_m3(353.15)
    swelling = (warmth - 1.0) * shown.after(LAST).parts_m3.sum(axis=0)
    cold = reading("[[level]]\nafter_step = 4\nlitres = 2\nat_degc = 50").predict(shown)
    hot = reading("[[level]]\nafter_step = 4\nlitres = 2\nat_degc = 80").predict(shown)

    assert hot - cold == pytest.approx(swelling)


def test_a_height_is_a_volume_over_the_area() -> None:
    """Millimetres from the full mark, with each machine's own mark and area."""
    shown = shown_for("")
    area = shown.numbers.of(circuit().reservoir.area_m2, "reservoir.area")  # type: ignore[arg-type]
    off = shown.after(LAST).level_m3 - shown.values.full_m3[1:]

    found = reading("[[level]]\nafter_step = 4\nmm = -3").predict(shown)

    assert found == pytest.approx(off / area)


def test_a_timed_container_speaks_of_the_pump() -> None:
    """Members show their own flow, and the best flow follows the reading most of the way."""
    text = "[[flow]]\nlitres = 1\nseconds = 9.0"
    shown = shown_for("")
    best = float(shown.values.flow_at(12.5)[0])
    ratio = best_flow_ratio(circuit(), evidence(text))

    assert reading(text).predict(shown) == pytest.approx(shown.values.flow_at(12.5)[1:])
    wanted = 1e-3 / 9.0 / best
    assert min(1.0, wanted) < ratio < max(1.0, wanted)


def test_the_colour_turns_when_the_loop_has_been_pushed_out() -> None:
    """The change comes later on machines with more between reservoir and diverter."""
    text = "[[turn]]\nstep = 3\nat_l = 0.6"
    shown = shown_for("", members=60)
    loop = shown.values.parts_m3[:, 1:].sum(axis=0)

    found = reading(text).predict(shown)

    assert np.all((found > 0.1e-3) & (found < 2e-3))
    assert np.corrcoef(found, loop)[0, 1] > 0.5


def test_a_watched_leg_may_have_moved_anything() -> None:
    """Travel replaces what the file says of the stroke in use."""
    text = '[[travel]]\nleg = "left"\npct = 3'
    shown = shown_for(text, members=400)

    travel = reading(text).predict(shown)

    assert travel.min() < 0.1
    assert travel.max() > 0.8


@pytest.mark.parametrize(("count", "moved"), [(0, False), (2, True)])
def test_cycles_that_were_counted_are_those_that_were_made(count: int, *, moved: bool) -> None:
    """Without a cycle in either step nothing comes out of the chamber of a leg."""
    text = "".join(
        f'[[cycles]]\nstep = {step}\ngroup = "struts"\ncount = {count}\n' for step in (3, 4)
    )
    shown = shown_for(text)

    share = shown.part(shown.after(LAST), "right.chamber")

    assert bool(np.all(share < 0.999)) is moved


def test_one_photo_is_one_error() -> None:
    """Samples of one photo err together, those of others and volumes of the same name do not."""
    sample = '[[sample]]\nwhere = "{}"\nafter_step = 3\nold_pct = 20\nu_pct = 2\nshares = "{}"\n'
    volume = '[[volume]]\nwhat = "waste"\nlitres = 4\nshares = "a"\n'
    text = sample.format("outflow", "a") + sample.format("reservoir", "a")
    text += sample.format("bucket", "b") + volume

    found = covariance(readings_of(evidence(text), circuit(), recipe()))

    assert found[0, 1] == pytest.approx(SAMPLE_IN_COMMON * 0.02**2)
    assert found[0, 0] == pytest.approx(0.02**2 + MIXING_U**2)
    assert np.all(found[2:, :2] == 0.0)
    assert found[3, 2] == 0.0


def test_a_leg_judged_by_the_reservoirs_fluid_carries_the_difference_in_shade() -> None:
    """A tenth of the share comes on top, unless the reference was the leg's own fluid."""
    text = '[[sample]]\nwhere = "leg:left"\nafter_step = 4\nold_pct = 60\n'

    assert reading(text).u_shade == pytest.approx(0.6 * LEG_SHADE)
    assert reading(text + 'ref = "left"\n').u_shade == 0.0


def test_what_machines_show_is_what_the_solver_shows() -> None:
    """The forward model is the full solver, looked at between steps."""
    from ullage.evidence.forward import CUT
    from ullage.transport.solve import Solver

    run = Solver(circuit(), resolution=CUT).run(recipe(), members=30, seed=0, bracket=False)
    forward = prover().forward
    shown = forward.run(forward.latents.drawn(seed=0, count=30))

    for stage, step in zip(shown.stages, run.steps, strict=True):
        left = stage.old_m3.sum(axis=0) / stage.parts_m3.sum(axis=0)
        assert left == pytest.approx(step.remaining_share, abs=1e-5)
        assert stage.waste_m3 == pytest.approx(step.waste_m3, abs=1e-12)
        assert stage.level_m3 == pytest.approx(step.level_m3, abs=1e-12)
