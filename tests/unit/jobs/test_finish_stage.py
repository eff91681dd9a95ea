"""Any stage is finished and reopened by its name, by the rules of that stage."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.errors import Conflict
from ullage.jobs.event import Kind
from ullage.jobs.finish_stage import _FINISH, finish_stage, reopen_stage
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES, Stage, StageState


@pytest.fixture
def desk() -> Desk:
    """Return a desk with a job in hand."""
    made = memory_desk()
    fill(made)
    return made


def test_every_stage_can_be_finished() -> None:
    """None is forgotten."""
    assert tuple(_FINISH) == STAGES


@pytest.mark.parametrize("stage", STAGES)
def test_a_stage_that_lacks_something_is_not_finished(desk: Desk, stage: Stage) -> None:
    """Each keeps its own rules: nothing was judged, planned or done yet."""
    with pytest.raises(Conflict):
        finish_stage(desk, "job1", stage, uid="form0001")

    assert load_job(desk, "job1").finished == {}


def test_a_finished_stage_is_reopened_once(desk: Desk) -> None:
    """The same request again reopens nothing that was finished since."""
    done = {"stage": "assess", "state": "finished", "result": "due"}
    log(desk, "job1", Kind.STAGE, done)
    finish_stage(desk, "job1", Stage.ASSESS, uid="form0001")
    reopen_stage(desk, "job1", Stage.ASSESS, uid="form0002")
    log(desk, "job1", Kind.STAGE, done)
    reopen_stage(desk, "job1", Stage.ASSESS, uid="form0002")

    assert load_job(desk, "job1").state_of(Stage.ASSESS) is StageState.FINISHED


def test_what_is_not_finished_is_not_reopened(desk: Desk) -> None:
    """It is said, and nothing is noted."""
    with pytest.raises(Conflict, match="need not be reopened"):
        reopen_stage(desk, "job1", Stage.PLAN, uid="form0001")
