"""What each step of a recipe does to levels, volumes and times, worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.transport.circuits import LITRE, leg, litres, machine, pressure_held
from ullage.circuit.uncertain import exact
from ullage.transport.recipe import (
    Bleed,
    Charge,
    Circulate,
    DrawOff,
    Exchange,
    Exercise,
    Extend,
    Fill,
    Recipe,
    Release,
    Retract,
    Stand,
    Step,
    SwapFilter,
)
from ullage.transport.result import Run
from ullage.transport.solve import simulate


def run(circuit, *steps: Step) -> Run:  # type: ignore[no-untyped-def]
    """Return the run of some steps."""
    return simulate(circuit, Recipe(name="test", steps=steps))


def codes(result: Run) -> list[str]:
    """Return the codes of all notes, in order."""
    return [note.code for step in result.steps for note in step.notes]


def level_l(result: Run) -> float:
    """Return the reservoir's content at the end, in litres."""
    return float(result.parts["reservoir"].fluid_m3[0]) / LITRE


def test_a_draw_off_leaves_the_heel_at_least() -> None:
    """Asked to leave nothing, it leaves what the extractor cannot reach."""
    found = run(machine(), DrawOff(leave_m3=0.0))

    assert level_l(found) == pytest.approx(0.1)
    assert found.steps[0].waste_m3[0] == pytest.approx(1.9 * LITRE)


def test_a_draw_off_below_what_is_there_takes_nothing_and_says_so() -> None:
    """Leaving more than there is changes nothing."""
    found = run(machine(start_l=1.0), DrawOff(leave_m3=1.5 * LITRE))

    assert found.steps[0].waste_m3[0] == 0.0
    assert codes(found) == ["nothing-drawn"]


def test_a_fill_above_the_mark_is_noted() -> None:
    """Between full and brim the fill happens, with a note."""
    found = run(machine(), Fill(to_m3=2.2 * LITRE))

    assert level_l(found) == pytest.approx(2.2)
    assert codes(found) == ["above-full"]


def test_an_exchange_keeps_the_level_and_takes_its_time() -> None:
    """3 L at 6 L/min need 30 s, poured as fast as they leave."""
    found = run(machine(), Exchange(litres_m3=3 * LITRE))

    assert level_l(found) == pytest.approx(2.0)
    assert found.steps[0].poured_m3[0] == pytest.approx(3 * LITRE)
    assert found.steps[0].waste_m3[0] == pytest.approx(3 * LITRE)
    assert found.steps[0].duration_s[0] == pytest.approx(30.0)


def test_cycles_are_what_fits_and_are_dealt_in_turn() -> None:
    """5 L hold five cycles of 1 L: three for the first group, two for the second."""
    found = run(
        machine(leg("front-left"), leg("rear-left")),
        Exchange(litres_m3=5 * LITRE, exercise=Exercise(groups=("front", "rear"), period_s=10.0)),
    )

    assert found.steps[0].cycles == {"front": 3, "rear": 2}


def test_turns_go_on_in_the_next_step_with_the_same_list() -> None:
    """The group that missed out comes first in the step that follows."""
    moves = Exercise(groups=("front", "rear"), period_s=10.0)
    found = run(
        machine(leg("front-left"), leg("rear-left")),
        Exchange(litres_m3=1 * LITRE, exercise=moves),
        Exchange(litres_m3=1 * LITRE, exercise=moves),
    )

    assert [dict(step.cycles) for step in found.steps] == [{"front": 1}, {"rear": 1}]
    assert codes(found) == ["group-left-out", "group-left-out"]


def test_a_step_shorter_than_one_cycle_moves_nothing_and_says_so() -> None:
    """Half a cycle's litres leave the legs where they are."""
    found = run(
        machine(leg("front-left")),
        Exchange(litres_m3=0.5 * LITRE, exercise=Exercise(groups=("front",))),
    )

    assert found.steps[0].cycles == {}
    assert codes(found) == ["no-cycle-fits"]


def test_more_cycles_than_fit_are_capped_and_noted() -> None:
    """Three of ten asked-for cycles fit into 3 L."""
    found = run(
        machine(leg("front-left")),
        Exchange(litres_m3=3 * LITRE, exercise=Exercise(groups=("front",), cycles=10)),
    )

    assert found.steps[0].cycles == {"front": 3}
    assert "cycles-capped" in codes(found)


def test_a_window_that_the_flow_cannot_fill_is_shortened_with_the_period_that_would_do() -> None:
    """A stroke of 0.8 L up and down needs 16 s at 6 L/min; 8 s move half of it."""
    found = run(
        machine(leg("front-left", stroke_l=0.8)),
        Circulate(duration_s=16.0, exercise=Exercise(groups=("front",), period_s=8.0)),
    )
    notes = [note for note in found.steps[0].notes if note.code == "window-shortened"]

    assert len(notes) == 1
    assert "50 %" in notes[0].text
    assert "16 s" in notes[0].text


def test_legs_end_where_a_cycle_began() -> None:
    """After whole cycles every chamber holds what it held."""
    circuit = machine(leg("front-left"), leg("rear-left", stroke_l=0.3))
    found = run(
        circuit,
        Circulate(duration_s=40.0, exercise=Exercise(groups=("front", "rear"), together=True)),
    )

    assert found.parts["front-left.chamber"].fluid_m3[0] == pytest.approx(0.15 * LITRE)
    assert found.parts["rear-left.chamber"].fluid_m3[0] == pytest.approx(0.20 * LITRE)


def test_circulating_moves_the_level_by_what_the_legs_take() -> None:
    """From half way up the leg takes half a stroke from the reservoir."""
    found = run(
        machine(leg("front-left")),
        Circulate(duration_s=10.0, exercise=Exercise(groups=("front",))),
    )

    assert found.steps[0].lowest_m3[0] == pytest.approx(1.9 * LITRE)
    assert level_l(found) == pytest.approx(2.0)


def test_retracting_raises_the_level_and_extending_lowers_it() -> None:
    """Half a stroke comes back, a whole one goes out."""
    circuit = machine(leg("front-left"))

    assert level_l(run(circuit, Retract())) == pytest.approx(2.1)
    assert level_l(run(circuit, Retract(), Extend())) == pytest.approx(1.9)


def test_what_returns_above_the_brim_is_spilled_and_kept_in_the_books() -> None:
    """Two legs give back 0.5 L into 0.3 L of room."""
    found = run(machine(leg("front-left", stroke_l=1.0)), Retract())

    assert found.steps[0].spilled_m3[0] == pytest.approx(0.2 * LITRE)
    assert level_l(found) == pytest.approx(2.3)
    assert codes(found) == ["spilled"]
    assert abs(found.balance.volume_error_m3) < 1e-15


def test_a_release_gives_back_the_gas_volumes_oil_and_charge_takes_it_again() -> None:
    """0.1 L of oil behind gas goes to the reservoir and comes back."""
    circuit = machine(leg("front-left", gas_l=0.1))
    released = run(circuit, Release(supported=True))
    charged = run(circuit, Release(supported=True), Charge())

    assert level_l(released) == pytest.approx(2.1)
    assert level_l(charged) == pytest.approx(2.0)
    assert released.parts["front-left.chamber"].fluid_m3[0] == pytest.approx(0.15 * LITRE)


def test_a_release_without_support_lets_the_legs_sink() -> None:
    """Half the stroke comes back too, and the note says to support the machine."""
    found = run(machine(leg("front-left", gas_l=0.1)), Release())

    assert level_l(found) == pytest.approx(2.2)
    assert codes(found) == ["sank"]


def test_a_released_leg_is_charged_before_it_is_exercised() -> None:
    """The step says so, and the oil is behind the gas again afterwards."""
    found = run(
        machine(leg("front-left", gas_l=0.1)),
        Release(supported=True),
        Circulate(duration_s=10.0, exercise=Exercise(groups=("front",))),
    )

    assert "charged-first" in codes(found)
    assert level_l(found) == pytest.approx(2.0)


def test_a_gas_volume_without_a_stroke_takes_its_oil_with_its_group() -> None:
    """Pressure in the group fills a plain accumulator, so the level falls to where it was."""
    found = run(
        machine(leg("front-left", gas_l=0.1, stroke_l=0.0)),
        Release(supported=True),
        Circulate(duration_s=10.0, exercise=Exercise(groups=("front",))),
    )

    assert "charged-first" in codes(found)
    assert level_l(found) == pytest.approx(2.0)


def test_a_bleed_sends_its_litres_out_and_keeps_the_level() -> None:
    """What is poured leaves at the bleed point; the chamber keeps its volume."""
    found = run(machine(leg("front-left")), Bleed(leg="front-left", litres_m3=0.5 * LITRE))

    assert found.steps[0].waste_m3[0] == pytest.approx(0.5 * LITRE)
    assert found.steps[0].poured_m3[0] == pytest.approx(0.5 * LITRE)
    assert level_l(found) == pytest.approx(2.0)
    assert found.parts["front-left.chamber"].fluid_m3[0] == pytest.approx(0.15 * LITRE)


def test_a_filter_put_in_dry_fills_from_the_reservoir_first() -> None:
    """The housing takes 0.1 L at the next start; in an exchange it is poured."""
    circuit = machine(element=True)
    circulated = run(circuit, SwapFilter(prefilled=False), Circulate(duration_s=10.0))
    exchanged = run(circuit, SwapFilter(prefilled=False), Exchange(litres_m3=1 * LITRE))

    assert level_l(circulated) == pytest.approx(1.9)
    assert "filter-fills" in codes(circulated)
    assert level_l(exchanged) == pytest.approx(2.0)
    assert exchanged.steps[1].poured_m3[0] == pytest.approx(1.1 * LITRE)


def test_a_prefilled_filter_counts_as_poured() -> None:
    """Its content goes to waste and new fluid takes its place."""
    found = run(machine(element=True), SwapFilter())

    assert found.steps[0].poured_m3[0] == pytest.approx(0.1 * LITRE)
    assert found.parts["block"].old_m3[0] == 0.0


def test_falling_below_the_minimum_is_noted_once_and_the_run_goes_on() -> None:
    """Extending from a low level leaves less than the pump should have."""
    found = run(machine(leg("front-left", stroke_l=1.0), start_l=1.0), Extend())

    assert codes(found) == ["below-minimum"]
    assert found.stop is None
    assert found.steps[0].lowest_m3[0] == pytest.approx(0.5 * LITRE)


def test_an_empty_reservoir_stops_the_run_and_says_where() -> None:
    """A leg that wants 1.5 L from 1 L stops the run; the books still close."""
    found = run(
        machine(leg("front-left", stroke_l=3.0), start_l=1.0),
        Extend(),
        Fill(),
        Exchange(litres_m3=1 * LITRE),
    )

    assert found.stop is not None
    assert found.stop.step == 1
    assert len(found.steps) == 1
    assert level_l(found) == pytest.approx(0.0, abs=1e-9)
    assert abs(found.balance.volume_error_m3) < 1e-15


def test_a_hose_left_open_siphons_while_the_pump_stands() -> None:
    """Between two exchanges 0.2 L/min run out for five minutes; before the first nothing does."""
    circuit = machine()
    path = replace(circuit.paths[0], drains_m3_s=exact(0.2 * LITRE / 60.0))
    circuit = replace(circuit, paths=(path,))
    wait = Stand(duration_s=300.0)
    found = run(circuit, wait, Exchange(litres_m3=LITRE), wait, Exchange(litres_m3=LITRE), wait)

    assert [float(s.waste_m3[0]) / LITRE for s in found.steps] == pytest.approx([0, 1, 1, 1, 0])
    assert codes(found) == ["siphoned"]


def test_a_pressure_held_pump_runs_full_only_while_legs_move() -> None:
    """2 L in two cycles of 10 s at 6 L/min, then 1 L at a tenth of that."""
    circuit = pressure_held(machine(leg("front-left")), 0.1)
    found = run(
        circuit,
        Exchange(litres_m3=3 * LITRE, exercise=Exercise(groups=("front",), cycles=2)),
    )

    assert found.steps[0].duration_s[0] == pytest.approx(20.0 + 100.0)


def test_a_closed_thermostat_hands_its_share_to_the_others() -> None:
    """The cooler stands still below its opening temperature."""
    circuit = machine()
    cooled = replace(
        circuit,
        lines=(*circuit.lines, replace(circuit.lines[0], id="cooler")),
        paths=(
            replace(circuit.paths[0], share=exact(0.5)),
            replace(
                circuit.paths[0],
                id="cooled",
                through=("supply", "block", "cooler", "return"),
                share=exact(0.5),
                opens_above_k=350.0,
            ),
        ),
    )
    cold = run(cooled, Exchange(litres_m3=2 * LITRE))
    hot = run(cooled, Exchange(litres_m3=2 * LITRE, temperature_k=360.0))

    assert cold.parts["cooler"].old_m3[0] == pytest.approx(0.2 * LITRE)
    assert hot.parts["cooler"].old_m3[0] < 0.1 * LITRE


def test_dead_fluid_is_drawn_off_last_and_filled_up_first() -> None:
    """With a dead quarter, drawing off to 0.4 L and filling leaves 0.4 L old below."""
    circuit = machine()
    dead = replace(circuit, reservoir=replace(circuit.reservoir, dead_share=exact(0.25)))
    found = run(dead, DrawOff(leave_m3=0.4 * LITRE), Fill(), Exchange(litres_m3=20 * LITRE))

    assert found.parts["reservoir"].old_m3[0] == pytest.approx(0.4 * LITRE, rel=1e-4)


def test_outflow_bins_hold_what_went_to_waste() -> None:
    """The bins' old fluid adds up to the waste's, bin by bin of 0.1 L and a last one."""
    found = run(machine(leg("front-left")), Exchange(litres_m3=2.25 * LITRE))
    bins = found.outflow[0]
    widths = np.diff(bins.waste_m3, prepend=0.0)

    assert len(bins.waste_m3) == 23
    assert float(widths @ bins.old_share[:, 0]) == pytest.approx(
        float(found.steps[0].waste_old_m3[0]), rel=1e-9
    )


def test_members_share_litres_but_not_volumes() -> None:
    """Every member sends the same litres to waste, whatever its own lines hold."""
    circuit = machine(leg("front-left"))
    node = replace(circuit.nodes[0], volume_m3=replace(litres(0.1), low=0.05e-3, high=0.3e-3))
    recipe = Recipe(name="test", steps=(Exchange(litres_m3=2 * LITRE),))
    found = simulate(replace(circuit, nodes=(node,)), recipe, members=300, seed=3)

    assert np.ptp(found.steps[0].waste_m3) < 1e-15
    assert np.ptp(found.parts["block"].fluid_m3) > 0.1e-3
    assert found.best is not None
    assert found.best.members == 1


def test_machines_that_run_dry_keep_what_they_held_while_others_go_on() -> None:
    """Where the stroke decides who runs dry, every machine has an answer and closed books."""
    stroke = replace(litres(3.4), low=1.0 * LITRE, high=4.0 * LITRE)
    circuit = machine(replace(leg("front-left"), stroke_m3=stroke), start_l=1.5)
    recipe = Recipe(name="test", steps=(Extend(), Circulate(duration_s=5.0)))
    for seed in range(6):
        found = simulate(circuit, recipe, members=6, seed=seed)

        assert 0 < found.stopped_members < 6
        assert found.remaining_share == pytest.approx(np.ones(6), abs=1e-12)
