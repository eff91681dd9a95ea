"""Verdicts of a pace by hand, its stops followed by simulated people, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import bench, built_in
from ullage.circuit.parts import PumpKind
from ullage.circuit.uncertain import Uncertain, exact
from ullage.errors import OutOfRange
from ullage.planning.crew import Crew, Habit, from_deviation, usual
from ullage.planning.pace import Pace, needed_pour_m3_s, pace

TIMED = Crew(
    container_m3=1e-3,
    pour_m3_s=exact(1e-4),
    change_s=exact(4.0),
    react_s=exact(2.0),
    rundown_s=exact(1.0),
    walk_s=exact(5.0),
    start_rev_s=exact(20.0),
    start_s=exact(3.0),
)


def codes(found: Pace) -> set[str]:
    """Return the codes of the advice."""
    return {caveat.code for caveat in found.advice}


def test_bursts_by_hand() -> None:
    """0.2 l/s for 3 s, then 0.1 l/s; a litre in 10 s, 4 s to change; 2 + 1 s until still.

    The level loses 0.3 l in the flare, then holds while the first litre lasts (10 s), and sinks by
    0.1 l/s for 4 s in each change. 2.0 l above the minimum: 2.7 at 3 s, 2.3 at 14 s, 1.9 at 28 s,
    1.5 at 42 s, and the stop level of 1.3 l is reached 2 s into the change that begins at 52 s.
    """
    found = pace(bench(), crew=TIMED, litres_m3=10e-3)

    assert not found.continuous
    assert found.draw_m3_s == pytest.approx(1e-4)
    assert found.usable_m3 == pytest.approx(2e-3)
    assert found.stop_level_m3 == pytest.approx(1.3e-3)
    assert found.seconds_to_minimum == pytest.approx(3.0 + 14.0)
    assert found.seconds_to_minimum_sure == pytest.approx(17.0)
    assert found.run_s == pytest.approx(54.0)


def test_an_exact_machine_has_no_doubt() -> None:
    """With nothing to draw, sure, likeliest and 95 % values are one."""
    found = pace(bench(), crew=TIMED, litres_m3=10e-3)

    assert found.seconds_to_minimum_p95 == pytest.approx(found.seconds_to_minimum)
    assert found.draw_sure_m3_s == found.draw_m3_s
    assert found.lowest_sure_m3 == pytest.approx(found.lowest_m3)


def test_a_quick_pourer_runs_through() -> None:
    """A litre in 5 s and 4 s to change make 0.111 l/s: more than the pump takes."""
    quick = replace(TIMED, pour_m3_s=exact(2e-4))
    found = pace(bench(), crew=quick, litres_m3=20e-3)

    assert found.continuous
    # Held at 3 l after the flare, a change takes 0.4 l: never below 2.6 l.
    assert found.lowest_sure_m3 == pytest.approx(2.6e-3)
    assert found.run_s == pytest.approx(197.0)
    assert found.open_containers == 20
    assert "run-through" in codes(found)


def test_two_pourers_close_the_gap() -> None:
    """Four seconds of changing vanish behind ten seconds of pouring by somebody else."""
    one = pace(bench(), crew=replace(TIMED, pour_m3_s=exact(1.05e-4)), litres_m3=20e-3)
    two = pace(bench(), crew=replace(TIMED, pour_m3_s=exact(1.05e-4), people=3), litres_m3=20e-3)

    assert not one.continuous
    assert two.continuous


def test_alone_means_bursts_at_the_switch() -> None:
    """Nobody pours: 2.0 l less 0.3 l of flare surplus and 0.3 l for the hand last 14 s."""
    found = pace(bench(), crew=replace(TIMED, people=1), litres_m3=10e-3)

    assert not found.continuous
    assert found.run_s == pytest.approx(14.0)
    assert found.stop_level_m3 == pytest.approx(1.3e-3)
    assert "bursts-alone" in codes(found)


def test_alone_may_run_through_a_slow_pump_but_stops_earlier() -> None:
    """0.01 l/s leaves time for the walk, which the stop level then holds ready."""
    slow = bench(idle_rev_s=1.0)
    crew = replace(TIMED, people=1, start_rev_s=exact(1.0))
    found = pace(slow, crew=crew, litres_m3=5e-3)

    assert found.continuous
    assert found.stop_level_m3 == pytest.approx(1e-3 + 1e-5 * (2.0 + 1.0 + 5.0))
    assert "alone-walk" in codes(found)


def test_a_start_that_is_too_low_is_not_started() -> None:
    """1.4 l: the flare alone takes 0.6 l before a late hand has stopped it."""
    found = pace(bench(), crew=TIMED, litres_m3=5e-3, start_m3=exact(1.4e-3))

    assert found.run_s == 0.0
    assert found.runs == 0
    assert found.stop_level_m3 == pytest.approx(1.6e-3)
    assert "do-not-start" in codes(found)


def test_pouring_on_without_a_look_overflows() -> None:
    """The plain saw-tooth shows it, and the advice says when to hold."""
    found = pace(bench(), crew=replace(TIMED, pour_m3_s=exact(3e-4)), litres_m3=20e-3)

    assert found.highest_m3 > 4e-3
    assert "would-overflow" in codes(found)


@pytest.mark.parametrize(
    ("change_s", "pourers", "expected"),
    [(5.0, 1, 2e-4), (10.0, 1, None), (5.0, 2, 1e-4), (15.0, 2, 2e-4), (20.0, 2, None)],
)
def test_the_rate_that_keeps_up(change_s: float, pourers: int, expected: float | None) -> None:
    """A litre lasts 10 s: what changing leaves of that, shared among those who take turns."""
    found = needed_pour_m3_s(draw_m3_s=1e-4, container_m3=1e-3, change_s=change_s, pourers=pourers)

    assert found == (expected if expected is None else pytest.approx(expected))


def test_a_wider_doubt_never_lengthens_a_burst() -> None:
    """Sure ends further out mean an earlier stop and a shorter run."""
    narrow = pace(bench(), crew=TIMED, litres_m3=10e-3)
    wide = pace(
        bench(per_rev=Uncertain(best=10e-6, low=9e-6, high=11e-6)),
        crew=replace(TIMED, react_s=usual(Habit.REACT, 2.0)),
        litres_m3=10e-3,
    )

    assert wide.run_s < narrow.run_s
    assert wide.stop_level_m3 > narrow.stop_level_m3
    assert wide.seconds_to_minimum_sure < wide.seconds_to_minimum_p95 < wide.seconds_to_minimum


def test_paths_that_come_back_do_not_count() -> None:
    """The gearbox diverts the cooler's path alone: about half of the pump's flow."""
    found = pace(built_in("auto-gearbox"), litres_m3=5e-3)
    full_m3_s = 17e-6 * 0.82 * 700.0 / 60.0

    assert found.draw_m3_s == pytest.approx(0.55 * full_m3_s)
    assert found.draw_sure_m3_s == pytest.approx(
        17e-6 * 1.08 * 0.95 * 700.0 / 60.0 * 0.7 / (0.7 + 0.3)
    )


def test_a_pressure_held_pump_may_be_asked_for_all_of_its_flow() -> None:
    """It idles at a fifth; the sure end is the whole flow."""
    machine = bench()
    held = replace(
        machine,
        pump=replace(machine.pump, kind=PumpKind.PRESSURE_HELD, idle_flow_share=exact(0.2)),
    )
    found = pace(held, crew=TIMED, litres_m3=5e-3)

    assert found.draw_m3_s == pytest.approx(2e-5)
    assert found.draw_sure_m3_s == pytest.approx(1e-4)


def test_a_flow_limit_caps_the_flare() -> None:
    """Steering pumps give no more at 1200 than at 800 rev/min."""
    machine = bench()
    limited = replace(machine, pump=replace(machine.pump, limit_m3_s=exact(1e-4)))

    assert pace(limited, crew=TIMED, litres_m3=5e-3).seconds_to_minimum == pytest.approx(20.0)


def test_the_van_has_seconds_not_minutes() -> None:
    """A small reservoir at idle is at its minimum within about ten seconds, surely sooner."""
    found = pace(built_in("levelling-van"))

    assert 5.0 < found.seconds_to_minimum_sure < found.seconds_to_minimum < 12.0


def test_usual_spreads_are_no_secret() -> None:
    """Whoever gives one number is told that the ends are ours."""
    told = {c.code: c.text for c in pace(bench(), litres_m3=5e-3).advice}

    assert "common practice, no source" in told["usual-spreads"]


def test_ends_from_a_deviation() -> None:
    """3.3 standard deviations to either side, never below nothing."""
    assert from_deviation(6.0, 0.5) == Uncertain(best=6.0, low=4.35, high=7.65)
    assert from_deviation(1.0, 0.5).low == 0.0


def test_power_packs_rest() -> None:
    """The duty of the pump stands in the advice of the scissor lift."""
    assert "duty" in codes(pace(built_in("scissor-lift"), litres_m3=5e-3))


@pytest.mark.parametrize("start", [0.9e-3, 1e-3, 4.1e-3])
def test_a_start_outside_the_marks_is_refused(start: float) -> None:
    """Nothing usable, or above the brim."""
    with pytest.raises(OutOfRange, match="start_l must be above the minimum"):
        pace(bench(), start_m3=exact(start))


def test_a_pressure_held_pump_that_idles_at_nothing_counts_in_full() -> None:
    """It draws only while it is asked for flow, and then all of it."""
    machine = bench()
    held = replace(
        machine,
        pump=replace(machine.pump, kind=PumpKind.PRESSURE_HELD, idle_flow_share=exact(0.0)),
    )

    assert pace(held, crew=TIMED, litres_m3=5e-3).draw_m3_s == pytest.approx(1e-4)


@pytest.mark.parametrize("people", [0, 10])
def test_a_crew_of_nobody_is_refused(people: int) -> None:
    """From one to nine."""
    with pytest.raises(OutOfRange, match="people must be from 1 to 9"):
        Crew(people=people)


def test_a_short_burst_is_told_what_would_lengthen_it() -> None:
    """The van runs a few seconds at a time; known flow and no flare make it more."""
    told = {c.code: c.text for c in pace(built_in("levelling-van")).advice}

    assert "16 s" in told["what-would-help"]
    assert "what-would-help" not in codes(pace(bench(), crew=TIMED, litres_m3=10e-3))
