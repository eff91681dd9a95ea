"""A job is closed: waste, lots, the next date, signatures."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.van_job import refitted, with_shelf
from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.answer import Of
from ullage.jobs.close_job import (
    closing,
    dates_after,
    finish_job,
    give_back,
    hand_over_waste,
    set_next_due,
    sign,
    use_lot,
)
from ullage.jobs.log import load_job
from ullage.jobs.machine import CounterReading
from ullage.jobs.ports import Desk
from ullage.jobs.prove_job import finish_proof, inputs_of, keep_verdict
from ullage.jobs.stage import Stage
from ullage.planning.due import DAY_S, KM_M, Interval

_INTERVAL = Interval(distance_m=100_000 * KM_M, age_s=1000 * DAY_S)


def _at_record(p50: float = 20.0) -> tuple[Desk, str]:
    """Return a job at its last stage, with a verdict that leaves so much old fluid."""
    desk = memory_desk()
    job = refitted(desk)
    body = {
        "remaining_pct": {"p05": p50, "p50": p50, "p95": p50},
        "fits": True,
        "met": "no",
        "target_pct": 10.0,
        "balance": {
            "in_l": 13.0,
            "out_l": 12.6,
            "unaccounted_l": None,
            "u_l": None,
            "closes": None,
        },
    }
    keep_verdict(desk, job, inputs_of(desk, load_job(desk, job)), body)
    finish_proof(desk, job, uid="form-proved")
    return desk, job


def _left(desk: Desk) -> float:
    return desk.store.stock()[0].left


def test_the_shelf_moves_once_however_often_a_form_is_sent() -> None:
    """Twelve and a half containers, not twenty-five."""
    desk, job = _at_record()
    lot = with_shelf(desk)
    for _ in range(2):
        use_lot(desk, job, lot, 12.5, uid="form-lot")

    assert _left(desk) == pytest.approx(7.5)
    assert closing(desk, load_job(desk, job)).lots_l == 12.5


def test_more_than_stands_on_the_shelf_is_refused_and_nothing_written_down() -> None:
    """Neither in the job nor on the shelf."""
    desk, job = _at_record()
    lot = with_shelf(desk, litres=4.0)
    with pytest.raises(OutOfRange):
        use_lot(desk, job, lot, 5.0, uid="form-lot")
    with pytest.raises(NotFound):
        use_lot(desk, job, "lot-9", 1.0, uid="form-lot-9")

    assert _left(desk) == 4.0
    assert closing(desk, load_job(desk, job)).lots == ()


def test_a_lot_that_was_not_used_after_all_goes_back_once() -> None:
    """Its entry is taken back with it."""
    desk, job = _at_record()
    use_lot(desk, job, with_shelf(desk), 3.0, uid="form-lot")
    give_back(desk, job, "form-lot-0")
    with pytest.raises(NotFound):
        give_back(desk, job, "form-lot-0")

    assert _left(desk) == 20.0
    assert closing(desk, load_job(desk, job)).lots == ()


def test_waste_stands_beside_what_came_out() -> None:
    """Drawn off by scale, the rest by jug; handed over in two goes."""
    desk, job = _at_record()
    for number, litres in enumerate((10.0, 2.5)):
        hand_over_waste(desk, job, litres=litres, family="HV", to="yard", uid=f"form-w-{number}")
    now = closing(desk, load_job(desk, job))

    assert now.out_l == pytest.approx(10.05 + 2.52, abs=0.05)
    assert now.handed_l == 12.5


def test_old_fluid_that_stayed_shortens_the_interval() -> None:
    """A fifth old: four fifths of the distance and of the days, one for one."""
    desk, job = _at_record(20.0)
    dates = dates_after(desk, load_job(desk, job), _INTERVAL, old_share=0.2)
    harder = dates_after(desk, load_job(desk, job), _INTERVAL, old_share=0.2, shortening=2.0)

    assert dates.on == desk.now().date() + timedelta(days=800)
    assert dates.distance_m == pytest.approx((61_200 + 80_000) * KM_M)
    assert dates.running_s is None
    assert harder.on == desk.now().date() + timedelta(days=600)


def test_a_busy_machine_is_due_by_distance_first() -> None:
    """Its counter says how far it goes in a day."""
    desk, job = _at_record()
    head = load_job(desk, job).head
    for days, km in ((0, 20_000.0), (100, 60_000.0)):
        desk.store.add_counter_reading(
            CounterReading(
                machine_id=head.machine_id,
                job_id=job,
                read_at=head.opened_at + timedelta(days=days),
                distance_m=km * KM_M,
            )
        )
    dates = dates_after(desk, load_job(desk, job), _INTERVAL, old_share=0.0)

    assert dates.first.what == "distance"


def test_the_next_date_is_an_answer_with_its_assumption() -> None:
    """Written down once, with the share that was proved and the word assumption."""
    desk, job = _at_record(20.0)
    for _ in range(2):
        set_next_due(desk, job, _INTERVAL, uid="form-due")
    event = load_job(desk, job).next_due
    (answer,) = desk.store.answers(job, Of.NEXT_DUE)

    assert event is not None
    assert event.payload["distance_km"] == pytest.approx(141_200.0)
    assert "20 % of old fluid stayed" in event.payload["reason"]
    assert "assumption" in event.payload["reason"]
    assert answer.inputs["old_pct"] == 20.0
    assert load_job(desk, job).answers[Of.NEXT_DUE.value] == answer.id


def test_the_record_is_filed_when_it_is_signed_and_dated() -> None:
    """After that nothing is added."""
    desk, job = _at_record()
    with pytest.raises(Conflict, match="nobody signed"):
        finish_job(desk, job, uid="form-file-1")
    sign(desk, job, by="M. Moss", role="did the work", uid="form-sign")
    with pytest.raises(Conflict, match="due again"):
        finish_job(desk, job, uid="form-file-2")
    dates = set_next_due(desk, job, _INTERVAL, uid="form-due")
    finish_job(desk, job, uid="form-file-3")
    done = load_job(desk, job)
    with pytest.raises(Conflict, match="filed"):
        sign(desk, job, by="N. Nettle", role="checked the work", uid="form-sign-2")

    assert done.is_closed
    assert done.finished[Stage.RECORD] == f"signed by M. Moss, due again by {dates.on}"
