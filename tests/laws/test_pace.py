"""Nobody who keeps to a pace starves the pump: ten thousand simulated days, and any machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.random import Generator

from tests.unit.planning.follower import Day
from tests.unit.planning.machines import bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.uncertain import Uncertain, exact
from ullage.planning.crew import Crew, from_deviation
from ullage.planning.outflow import Outflow, outflow_of
from ullage.planning.pace import Pace, pace
from ullage.planning.saw_tooth import Draw, Pour, saw_tooth

POURS = 10_000


@dataclass(frozen=True)
class Case:
    """A machine, a crew and litres that are poured again and again."""

    circuit: Circuit
    crew: Crew
    litres: float


def wide(best: float, by: float = 0.25) -> Uncertain:
    """Return a number known to a quarter."""
    return Uncertain(best=best, low=best * (1 - by), high=best * (1 + by))


CASES = {
    "van, bursts": Case(built_in("levelling-van"), Crew(), 13e-3),
    "van, three people": Case(built_in("levelling-van"), Crew(people=3), 13e-3),
    "van, alone": Case(built_in("levelling-van"), Crew(people=1), 13e-3),
    "gearbox": Case(built_in("auto-gearbox"), Crew(people=3), 8e-3),
    "lift": Case(built_in("scissor-lift"), Crew(), 12e-3),
    "brakes, run through": Case(built_in("wheel-brakes"), Crew(container_m3=5e-4), 1e-3),
    "slow pump, run through": Case(
        bench(per_rev=wide(4e-6, 0.1), full=wide(3e-3, 0.04), minimum=wide(1e-3, 0.1)),
        Crew(),
        15e-3,
    ),
}


def inside(rng: Generator, number: Uncertain) -> float:
    """Draw within the sure ends, the ends themselves as likely as a tenth of the room between."""
    kind = rng.random()
    if kind < 0.1:
        return number.low
    if kind < 0.2:
        return number.high
    return float(rng.uniform(number.low, number.high))


def lowest(rng: Generator, case: Case, found: Pace, out: Outflow, *, by_clock: bool) -> float:
    """Return how far above the minimum one drawn day stays at its lowest [m3]."""
    crew, tank = case.crew, case.circuit.reservoir
    rates = [inside(rng, crew.pour_m3_s) for _ in range(60)]
    changes = [inside(rng, crew.change_s) for _ in range(60)]
    start = inside(rng, tank.full_m3)
    margin = inside(rng, crew.react_s) + inside(rng, crew.rundown_s)
    alone_burst = crew.is_alone and not found.continuous
    if crew.is_alone and found.continuous:
        margin += inside(rng, crew.walk_s)
    day = Day(
        start=start,
        steady=inside(rng, out.steady_m3_s),
        flare=inside(rng, out.flare_m3_s),
        flare_s=inside(rng, out.flare_s),
        margin_s=margin,
        container=crew.container_m3,
        rate=lambda k: rates[k % 60],
        change=lambda k: changes[k % 60],
        pourers=crew.pourers,
        first_s=1e9 if alone_burst else inside(rng, crew.walk_s) if crew.is_alone else 0.0,
    )
    least = day.lowest_when_stopped(
        case.litres,
        stop_level=-1.0 if by_clock else found.stop_level_m3,
        stop_s=found.run_s if by_clock and not found.continuous else float("inf"),
        hold=start,
    )
    return least - inside(rng, tank.minimum_m3)


@pytest.mark.slow
@pytest.mark.parametrize("by_clock", [True, False], ids=["by the clock", "by the level"])
@pytest.mark.parametrize("name", CASES)
def test_of_thousands_of_pours_none_starves_the_pump(name: str, by_clock: bool) -> None:
    """Everything drawn within its sure ends, container by container; each stop as told."""
    case = CASES[name]
    found = pace(case.circuit, crew=case.crew, litres_m3=case.litres)
    out = outflow_of(case.circuit, case.crew)
    rng = np.random.default_rng(7)
    pours = POURS if name == "van, bursts" else POURS // 10

    room = [lowest(rng, case, found, out, by_clock=by_clock) for _ in range(pours)]

    assert min(room) >= -1e-12


def test_a_burst_is_no_shorter_than_it_must_be() -> None:
    """With everything at its worse end at once the level just touches the minimum."""
    case = CASES["van, bursts"]
    found = pace(case.circuit, crew=case.crew, litres_m3=case.litres)
    out, crew, tank = outflow_of(case.circuit, case.crew), case.crew, case.circuit.reservoir
    worst = Day(
        start=tank.full_m3.low,
        steady=out.steady_m3_s.high,
        flare=out.flare_m3_s.high,
        flare_s=out.flare_s.high,
        margin_s=crew.react_s.high + crew.rundown_s.high,
        container=crew.container_m3,
        rate=lambda _: crew.pour_m3_s.low,
        change=lambda _: crew.change_s.high,
    )

    least = worst.lowest_when_stopped(case.litres, stop_s=found.run_s)

    assert least == pytest.approx(tank.minimum_m3.high, abs=1e-9)


@pytest.mark.slow
def test_of_ten_thousand_pours_with_spreads_alone_one_in_a_thousand_may() -> None:
    """Times and rates are normal: their tails pass the sure ends now and then."""
    spreads = {
        "pour": (1.0e-4, 1.2e-5),
        "change": (4.0, 0.8),
        "react": (2.0, 0.5),
        "rundown": (1.5, 0.2),
        "flare_s": (3.0, 0.4),
        "start": (3.0e-3, 4e-5),
        "steady": (1.2e-4, 6e-6),
    }
    normal = {name: from_deviation(mean, deviation) for name, (mean, deviation) in spreads.items()}
    crew = Crew(
        pour_m3_s=normal["pour"],
        change_s=normal["change"],
        react_s=normal["react"],
        rundown_s=normal["rundown"],
        start_rev_s=exact(20.0),
        start_s=normal["flare_s"],
    )
    steady = normal["steady"]
    machine = bench(full=normal["start"], per_rev=steady.scaled(0.1))
    found = pace(machine, crew=crew, litres_m3=10e-3)
    rng = np.random.default_rng(11)
    below = 0
    for _ in range(POURS):
        drawn = {
            name: max(float(rng.normal(mean, deviation)), 0.0)
            for name, (mean, deviation) in spreads.items()
        }
        rates = np.maximum(rng.normal(*spreads["pour"], 60), 1e-6)
        changes = np.maximum(rng.normal(*spreads["change"], 60), 0.0)
        day = Day(
            start=drawn["start"],
            steady=drawn["steady"],
            flare=2.0 * drawn["steady"],
            flare_s=drawn["flare_s"],
            margin_s=drawn["react"] + drawn["rundown"],
            container=1e-3,
            rate=lambda k, rates=rates: float(rates[k % 60]),  # type: ignore[misc]
            change=lambda k, changes=changes: float(changes[k % 60]),  # type: ignore[misc]
        )
        by_level = day.lowest_when_stopped(10e-3, stop_level=found.stop_level_m3)
        by_clock = day.lowest_when_stopped(10e-3, stop_s=found.run_s)
        below += min(by_level, by_clock) < 1e-3

    assert not found.continuous
    assert below <= POURS // 1000


flows = st.floats(2e-5, 3e-4)


@given(
    start=st.floats(1e-3, 5e-3),
    steady=flows,
    flare=flows,
    flare_s=st.floats(0.0, 6.0),
    container=st.floats(2e-4, 2e-3),
    rate=st.floats(3e-5, 5e-4),
    change=st.floats(0.0, 20.0),
    pourers=st.integers(1, 4),
    first_s=st.floats(0.0, 10.0),
    litres=st.floats(1e-3, 2e-2),
)
def test_the_saw_tooth_is_exact(
    start: float,
    steady: float,
    flare: float,
    flare_s: float,
    container: float,
    rate: float,
    change: float,
    pourers: int,
    first_s: float,
    litres: float,
) -> None:
    """Our levels are those of a ledger of containers, for any machine and crew."""
    ours = saw_tooth(
        start_m3=start,
        draw=Draw(steady_m3_s=steady, flare_m3_s=flare, flare_s=flare_s),
        pour=Pour(
            container_m3=container,
            pour_m3_s=rate,
            change_s=change,
            pourers=pourers,
            first_s=first_s,
        ),
        litres_m3=litres,
    )
    day = Day(
        start=start,
        steady=steady,
        flare=flare,
        flare_s=flare_s,
        margin_s=0.0,
        container=container,
        rate=lambda _: rate,
        change=lambda _: change,
        pourers=pourers,
        first_s=first_s,
    )
    _, levels = day.levels(litres)

    assert ours.lowest_m3 == pytest.approx(min(levels), abs=1e-11)
    assert ours.highest_m3 == pytest.approx(max(levels), abs=1e-11)


@settings(max_examples=60)
@given(
    per_rev=st.floats(2e-6, 2e-5),
    by=st.floats(0.0, 0.3),
    pour=st.floats(4e-5, 4e-4),
    people=st.integers(1, 3),
    seed=st.integers(0, 1000),
)
def test_no_machine_and_no_crew_starve_a_pump_that_is_stopped_as_told(
    per_rev: float, by: float, pour: float, people: int, seed: int
) -> None:
    """Forty drawn days for each of many machines, stopped by level and by clock."""
    case = Case(
        bench(per_rev=wide(per_rev, by), full=wide(3e-3, 0.05), minimum=wide(1e-3, 0.1)),
        Crew(people=people, pour_m3_s=wide(pour, by)),
        8e-3,
    )
    found = pace(case.circuit, crew=case.crew, litres_m3=case.litres)
    out = outflow_of(case.circuit, case.crew)
    rng = np.random.default_rng(seed)
    if found.run_s <= 0.0:
        assert found.stop_level_m3 >= case.circuit.reservoir.full_m3.low - 1e-12
        return
    for number in range(40):
        room = lowest(rng, case, found, out, by_clock=number % 2 == 0)
        assert room >= -1e-12
