"""A job's verdict rests on what was measured in it, and on nothing that a template guessed."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from ullage.errors import Conflict, OutOfRange
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.answer import Of
from ullage.jobs.assess import (
    due_answer,
    finish_assess,
    is_due_current,
    judge,
    note_condition,
    note_use,
)
from ullage.jobs.log import load_job
from ullage.jobs.open_job import open_job
from ullage.jobs.ports import Desk


@pytest.fixture
def desk() -> Desk:
    """Return a desk with nothing on it."""
    return memory_desk()


def _opened(desk: Desk, template: str = "levelling-van", **fluid: object) -> str:
    machine = add_machine(desk, Known(name="Library van 2"))
    table = template_table(template)
    table["fluid"] = {**table["fluid"], **fluid}
    return open_job(desk, add_circuit(desk, machine.id, table).circuit_id).id


def _standings(desk: Desk, job: str) -> dict[str, str]:
    return {one["what"]: one["standing"] for one in judge(desk, job).body["readings"]}


def test_what_only_the_circuit_file_says_of_a_sample_is_not_measured(desk: Desk) -> None:
    """The built-in van comes with counts and an acid number that nobody took of this machine."""
    job = _opened(desk)

    body = judge(desk, job).body

    assert set(_standings(desk, job).values()) == {"unknown"}
    assert body["verdict"] == "cannot tell"


def test_a_sample_of_this_job_counts(desk: Desk) -> None:
    """Each reading stands against its limit; what was not read stays unknown."""
    job = _opened(desk)
    sample = {"nu40_mm2_s": 21.5, "particles_per_ml": [9000.0, 2400.0, 180.0]}
    note_condition(desk, job, sample, uid="sample00001")

    found = _standings(desk, job)

    assert found["viscosity"] == "inside"
    assert found["particles"] == "past"
    assert (found["water"], found["acid"]) == ("unknown", "unknown")
    assert judge(desk, job).body["verdict"] == "due"


def test_a_sample_is_compared_with_the_sheet_where_no_new_fluid_is_described(desk: Desk) -> None:
    """A viscosity that moved has moved, although the file names one fluid alone."""
    machine = add_machine(desk, Known(name="Library van 3"))
    table = template_table("levelling-van")
    table.pop("new_fluid", None)
    job = open_job(desk, add_circuit(desk, machine.id, table).circuit_id).id
    note_condition(desk, job, {"nu40_mm2_s": 0.7 * table["fluid"]["nu40_mm2_s"]}, uid="sample00002")

    assert _standings(desk, job)["viscosity"] == "past"


def test_the_interval_of_the_papers_comes_before_the_usual_one(desk: Desk) -> None:
    """And the line says that it is the papers' word."""
    job = _opened(desk)
    note_use(
        desk,
        job,
        {"distance_km": 90_000.0, "since_km": 31_000.0, "interval_km": 30_000.0},
        uid="use00000001",
    )

    line = next(one for one in judge(desk, job).body["readings"] if one["what"] == "distance")

    assert (line["standing"], line["limit"]) == ("past", 30_000.0)
    assert line["source"] == "papers of the machine"


def test_judging_again_keeps_one_verdict_until_something_changes(desk: Desk) -> None:
    """The same inputs, the same answer; another reading, another one."""
    job = _opened(desk)
    first, second = judge(desk, job), judge(desk, job)
    note_use(desk, job, {"since_km": 1000.0}, uid="use00000002")
    stale = due_answer(desk, load_job(desk, job))

    assert first.id == second.id
    assert stale is not None
    assert not is_due_current(desk, load_job(desk, job), stale)
    assert judge(desk, job).id != first.id
    assert len(desk.store.answers(job, Of.DUE)) == 2


def test_a_stale_verdict_does_not_finish_the_stage(desk: Desk) -> None:
    """Whoever wrote something down since judges again."""
    job = _opened(desk)
    judge(desk, job)
    note_use(desk, job, {"since_km": 1000.0}, uid="use00000003")

    with pytest.raises(Conflict, match="judge again"):
        finish_assess(desk, job, uid="finish00001")


def test_counts_that_rise_with_size_are_refused(desk: Desk) -> None:
    """A larger particle counts among the smaller sizes as well."""
    job = _opened(desk)

    with pytest.raises(OutOfRange, match="fall"):
        note_condition(desk, job, {"particles_per_ml": [180.0, 2400.0, 9000.0]}, uid="sample00003")
