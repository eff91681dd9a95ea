"""What is followed of a circuit: readings job by job, intervals, limits with their sources."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.served_machine import SERVICES, served_machine
from ullage.errors import NotFound
from ullage.jobs.add_machine import add_circuit, template_table
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk
from ullage.jobs.trends import Followed, Trends, What, trends_of


@pytest.fixture
def desk() -> Desk:
    """Return a desk with a van that was served four times."""
    desk = memory_desk()
    served_machine(desk)
    return desk


def _trends(desk: Desk) -> Trends:
    (machine,) = desk.store.machines()
    _, (found,) = trends_of(desk, machine.id)
    return found


def _followed(desk: Desk, what: What) -> Followed:
    return next(one for one in _trends(desk).followed if one.what is what)


def test_each_job_left_a_remainder_with_its_interval(desk: Desk) -> None:
    """In the order of the years; what readings contradict is not firm."""
    points = _followed(desk, What.REMAINDER).points

    assert [(p.low, p.value, p.high) for p in points] == [service[2] for service in SERVICES]
    assert [point.is_firm for point in points] == [True, False, True, True]


def test_a_code_is_three_numbers_with_the_spread_of_the_method(desk: Desk) -> None:
    """2600, 640 and 42 particles are 19/16/13 (ISO 4406, table 1: upper bounds 5000, 640, 80)."""
    points = _followed(desk, What.PARTICLES).points[6:9]

    assert [point.value for point in points] == [19.0, 16.0, 13.0]
    assert [(p.value - p.low, p.high - p.value) for p in points if p.low and p.high] == [(1, 1)] * 3


def test_every_limit_says_whose_it_is(desk: Desk) -> None:
    """Two for viscosity, one for each size of a code."""
    limits = {one.what: one.limits for one in _trends(desk).followed}

    assert [limit.value for limit in limits[What.WATER]] == pytest.approx([500.0])
    assert [limit.value for limit in limits[What.PARTICLES]] == [18.0, 16.0, 13.0]
    assert [limit.value for limit in limits[What.VISCOSITY]] == pytest.approx([24.2, 19.8])
    assert all(limit.source for held in limits.values() for limit in held)


def test_the_limit_of_acid_begins_at_the_new_fluid(desk: Desk) -> None:
    """A rise of one above what the new fluid has, once that is known."""
    (before,) = _followed(desk, What.ACID).limits
    (machine,) = desk.store.machines()
    (version,) = desk.store.circuits_of(machine.id)
    table = {**version.table, "new_fluid": {**version.table["new_fluid"], "acid_mgkoh_g": 0.3}}
    changed = _with_table(desk, version, table)

    (after,) = _followed(changed, What.ACID).limits
    assert (before.value, after.value) == pytest.approx((1.0, 1.3))
    assert "not known" in before.words


def _with_table(desk: Desk, version: CircuitVersion, table: dict[str, object]) -> Desk:
    """Return a desk like another one whose jobs were opened with another circuit."""
    fresh = memory_desk()
    machine = served_machine(fresh)
    (kept,) = fresh.store.circuits_of(machine)
    fresh.store._versions[kept.id] = replace(kept, table=table)  # type: ignore[attr-defined]
    return fresh


def test_next_due_is_that_of_the_last_record(desk: Desk) -> None:
    """By each count, with its reason."""
    found = _trends(desk).next_due

    assert found is not None
    assert (found.on, found.distance_m) == (date(2029, 4, 20), 232_500e3)
    assert found.reason.startswith("the interval in time")


def test_circuits_are_followed_apart(desk: Desk) -> None:
    """One that was never served has nothing to show."""
    (machine,) = desk.store.machines()
    add_circuit(desk, machine.id, template_table("wheel-brakes"))
    found = {one.circuit: one for one in trends_of(desk, machine.id)[1]}

    assert sorted(len(one.followed) for one in found.values()) == [0, 5]
    assert sorted(one.next_due is None for one in found.values()) == [False, True]


def test_a_machine_that_is_none_is_not_found(desk: Desk) -> None:
    """Instead of having no trends."""
    with pytest.raises(NotFound):
        trends_of(desk, "nothing")
