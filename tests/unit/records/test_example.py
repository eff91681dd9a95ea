"""The invented garage is whole: every job folds, every answer says what it was made of."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from ullage.jobs.answer import Of, fingerprint_of
from ullage.jobs.log import line_from_events, load_job
from ullage.jobs.ports import Desk
from ullage.jobs.prove_job import worked_out
from ullage.jobs.stage import Stage
from ullage.records.example import example_table, fill_example, garage_to_table


@pytest.fixture
def desk() -> Desk:
    """Return a desk with the example on it."""
    made = memory_desk()
    fill_example(made, line_from_events)
    return made


def test_it_has_jobs_filed_and_under_way(desk: Desk) -> None:
    """Two of the van are filed and one is in the exchange; the yard's are further back."""
    stages = {line.job_id: line.stage for line in desk.store.job_lines()}

    assert stages == {
        "van-2-third": Stage.EXCHANGE,
        "lift-5-first": Stage.PLAN,
        "loader-1-first": Stage.ASSESS,
        "van-2-first": None,
        "van-2-second": None,
    }


def test_filling_twice_is_filling_once(desk: Desk) -> None:
    """Whoever opens the example again finds it, with what they changed."""
    before = garage_to_table(desk)
    fill_example(desk, line_from_events)

    assert garage_to_table(desk) == before


def test_every_answer_bears_the_fingerprint_of_its_inputs(desk: Desk) -> None:
    """Nobody mended the file by hand."""
    answers = [a for line in desk.store.job_lines() for a in desk.store.answers(line.job_id)]

    assert len(answers) >= 8
    assert all(a.fingerprint == fingerprint_of(a.inputs) for a in answers)


def test_a_kept_verdict_comes_out_again(desk: Desk) -> None:
    """The same inputs give the same bands, within a point, by the program of today."""
    kept = desk.store.answers("van-2-second", Of.VERDICT)[0]
    again = worked_out(desk.forms, kept.inputs)

    for end in ("p05", "p50", "p95"):
        assert again["remaining_pct"][end] == pytest.approx(
            kept.body["remaining_pct"][end], abs=1.0
        )


def test_the_shelf_is_what_was_delivered_less_what_was_used(desk: Desk) -> None:
    """Both filed jobs took their fluid from the first lot."""
    left = {one.lot.id: one.left for one in desk.store.stock(empty_too=True)}
    used = sum(
        float(event.payload["litres"])
        for job in ("van-2-first", "van-2-second")
        for event in load_job(desk, job).entries
        if event.kind == "lot-used"
    )

    assert left["oil-a"] == pytest.approx(60.0 - used)
    assert left["oil-b"] == 24.0


def test_no_table_of_the_file_names_this_computer() -> None:
    """Nothing of where it was made is in it."""

    assert "/" not in str(example_table()["lots"])
