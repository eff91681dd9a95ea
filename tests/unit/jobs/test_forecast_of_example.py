"""What the example's exchange under way should show, and what its readings show beside that."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from ullage.circuit.parts import State
from ullage.jobs.carry_out import checklist
from ullage.jobs.forecast import Forecasts
from ullage.jobs.log import line_from_events, load_job
from ullage.records.example import fill_example


@pytest.fixture(scope="module")
def steps() -> dict[int, object]:
    """Return the steps of the van's third job."""
    desk = memory_desk()
    fill_example(desk, line_from_events)
    now = checklist(desk, load_job(desk, "van-2-third"), Forecasts())
    return {step.number: step for step in now.steps}


def test_a_fill_to_the_mark_ends_at_the_mark_in_whatever_state(steps: dict[int, object]) -> None:
    """The pressure was let go and the machine is held up: nothing more runs back by reading."""
    filled = next(s for s in steps.values() if s.do == "fill")  # type: ignore[attr-defined]

    assert filled.expected.state is State.RELEASED
    assert filled.expected.level_m.middle == pytest.approx(0.0, abs=1e-6)


def test_containers_counted_so_far_are_not_held_against_the_whole_job(
    steps: dict[int, object],
) -> None:
    """Nothing of the example stands apart while its exchange is under way."""
    checks = [e.check for s in steps.values() for e in s.entries if e.check]  # type: ignore[attr-defined]

    assert checks != []
    assert all(check.is_within for check in checks)
