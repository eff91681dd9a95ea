"""A job is proved from its own entries, and its answers can be had again."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.van_job import exchanged, prepared, refitted
from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.answer import Of
from ullage.jobs.carry_out import carried_out, write_down
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.prove_job import (
    Books,
    books_of,
    finish_proof,
    inputs_of,
    keep_verdict,
    proof,
    read_sample,
    vials_of,
    worked_out,
)
from ullage.jobs.stage import Stage


def _body(p50: float = 30.0) -> dict[str, object]:
    """Return the parts of a verdict's table that the use cases look at."""
    return {
        "remaining_pct": {"p05": p50 - 4.0, "p50": p50, "p95": p50 + 4.0},
        "fits": True,
        "met": "no",
        "target_pct": 10.0,
        "balance": {"in_l": 12.98, "out_l": 12.6, "unaccounted_l": 0.3, "u_l": 0.2, "closes": True},
    }


def test_the_litres_that_were_really_sent_replace_those_of_the_recipe() -> None:
    """10.05 L by jug in place of ten."""
    desk = memory_desk()
    inputs = inputs_of(desk, load_job(desk, exchanged(desk)))

    assert inputs["recipe"]["step"][2]["litres"] == pytest.approx(10.05)
    assert inputs["target_pct"] == 10.0
    assert set(inputs["evidence"]) == {"format", "volume", "level", "turn"}


def test_the_level_as_found_is_in_the_inputs() -> None:
    """Five millimetres below the mark, a tenth of a litre less than full."""
    desk = memory_desk()
    start = inputs_of(desk, load_job(desk, exchanged(desk)))["circuit"]["reservoir"]["start_l"]

    assert start["best"] == pytest.approx(2.8 - 0.105 + 0.0, abs=0.03)
    assert start["low"] < start["best"] < start["high"]


def test_nothing_carried_out_is_nothing_to_prove() -> None:
    """The page says so."""
    desk = memory_desk()
    job = prepared(desk)

    with pytest.raises(Conflict, match="no step was carried out yet"):
        inputs_of(desk, load_job(desk, job))
    assert "no step was carried out yet" in proof(desk, load_job(desk, job)).why_not


def test_a_sample_is_read_by_its_name() -> None:
    """Another name, or an uncertainty of nothing, is refused."""
    desk = memory_desk()
    job = refitted(desk)
    read_sample(desk, job, "A", old_pct=22.0, u_pct=4.0, uid="form-read-a")
    with pytest.raises(NotFound, match="no sample is called 'Z'"):
        read_sample(desk, job, "Z", old_pct=22.0, u_pct=4.0, uid="form-read-z")
    with pytest.raises(OutOfRange, match="above 0"):
        read_sample(desk, job, "B", old_pct=22.0, u_pct=0.0, uid="form-read-b")

    assert [(vial.name, vial.old_pct) for vial in vials_of(load_job(desk, job))] == [
        ("A", 22.0),
        ("B", None),
    ]


def test_a_verdict_is_kept_with_what_it_came_from_and_goes_stale() -> None:
    """A reading written down later makes it one to be asked again."""
    desk = memory_desk()
    job = refitted(desk)
    inputs = inputs_of(desk, load_job(desk, job))
    answer = keep_verdict(desk, job, inputs, _body())
    before = proof(desk, load_job(desk, job))
    read_sample(desk, job, "A", old_pct=22.0, u_pct=4.0, uid="form-read-a")
    after = proof(desk, load_job(desk, job))

    assert before.answer == answer
    assert before.is_current
    assert not after.is_current
    assert desk.store.answers(job, Of.VERDICT) == (answer,)


def test_the_stage_is_not_finished_with_a_stale_verdict() -> None:
    """Asked again, it is; the result is one line."""
    desk = memory_desk()
    job = refitted(desk)
    with pytest.raises(Conflict, match="nobody asked yet"):
        finish_proof(desk, job, uid="form-finish-1")
    keep_verdict(desk, job, inputs_of(desk, load_job(desk, job)), _body())
    read_sample(desk, job, "A", old_pct=22.0, u_pct=4.0, uid="form-read-a")
    with pytest.raises(Conflict, match="ask again"):
        finish_proof(desk, job, uid="form-finish-2")
    keep_verdict(desk, job, inputs_of(desk, load_job(desk, job)), _body())
    finish_proof(desk, job, uid="form-finish-3")

    assert load_job(desk, job).finished[Stage.PROVE] == (
        "30 % (26–34) old fluid left, target of 10 % not met"
    )


def test_the_verdict_of_a_job_is_that_of_its_files() -> None:
    """Samples of an outflow and a leg leave the rear legs old; told of work on the way."""
    desk = memory_desk()
    job = refitted(desk)
    read_sample(desk, job, "A", old_pct=22.0, u_pct=4.0, uid="form-read-a")
    read_sample(desk, job, "B", old_pct=86.0, u_pct=5.0, uid="form-read-b")
    told: list[str] = []
    body = worked_out(
        desk.forms,
        inputs_of(desk, load_job(desk, job)),
        progress=lambda what, done, of: told.append(what),
    )

    assert body["fits"]
    assert body["met"] == "no"
    assert 20.0 < body["remaining_pct"]["p50"] < 40.0
    assert body["parts"]["rear-left"]["p50"] > 70.0
    assert told


def test_the_old_filter_is_taken_off_what_is_unaccounted_for() -> None:
    """Its litres never reached the can that was weighed."""
    desk = memory_desk()
    table = {
        "format": "ullage-recipe/1",
        "name": "filter",
        "step": [{"do": "draw-off"}, {"do": "swap-filter"}, {"do": "fill"}],
    }
    job = prepared(desk, table)
    for step in (1, 2, 3):
        carried_out(desk, job, step, uid=f"form-done-{step}")
    circuit = desk.forms.circuit(
        desk.store.circuit_version(load_job(desk, job).head.circuit_version_id).table, "van"
    )
    unmeasured = books_of(load_job(desk, job), circuit, _body())
    write_down(
        desk, job, [(Kind.VOLUME, {"what": "waste", "step": 2, "litres": 0.4})], uid="form-can"
    )
    measured = books_of(load_job(desk, job), circuit, _body())

    assert unmeasured.old_filter_l == pytest.approx(0.09)
    assert unmeasured.unaccounted_l == pytest.approx(0.3)
    assert measured.unaccounted_l == pytest.approx(0.21)


@pytest.mark.parametrize(
    ("unaccounted", "u", "says"),
    [
        (None, None, "prove nothing"),
        (0.2, 0.2, "0.20 L missing, give or take 0.40 L: that is within"),
        (-0.9, 0.2, "0.90 L too much, give or take 0.40 L: that is more than"),
    ],
)
def test_books_say_whether_they_close(
    unaccounted: float | None, u: float | None, says: str
) -> None:
    """In one sentence."""
    books = Books(
        at_degc=60.0,
        in_l=12.0,
        out_l=12.0,
        old_filter_l=0.0,
        unaccounted_l=unaccounted,
        u_l=u,
        closes=None if unaccounted is None or u is None else abs(unaccounted) <= 2.0 * u,
    )

    assert says in books.sentence


def test_another_goal_asks_for_another_verdict() -> None:
    """The target is one of the inputs."""
    desk = memory_desk()
    job = refitted(desk)
    keep_verdict(desk, job, inputs_of(desk, load_job(desk, job)), _body())
    log(desk, job, Kind.GOAL, {"target_pct": 40.0})

    assert not proof(desk, load_job(desk, job)).is_current
