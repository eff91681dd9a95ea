"""The exchange as a checklist: what is foretold, what is written down, and what does not fit."""

from __future__ import annotations

from functools import cache

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.van_job import exchanged, prepared, recipe_table
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import (
    Checklist,
    begin,
    carried_out,
    checklist,
    finish_exchange,
    leave_out,
    write_down,
)
from ullage.jobs.event import Kind
from ullage.jobs.forecast import Forecasts
from ullage.jobs.log import load_job, log, take_back
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage, StepState

_FORECASTS = Forecasts()


def _desk() -> tuple[Desk, str]:
    desk = memory_desk()
    return desk, prepared(desk)


def _list(desk: Desk, job: str) -> Checklist:
    return checklist(desk, load_job(desk, job), _FORECASTS)


@cache
def _fresh() -> Checklist:
    desk, job = _desk()
    return _list(desk, job)


def test_every_step_is_foretold_before_it_is_done() -> None:
    """The reservoir drawn off gives what it held above the heel, the exchange its ten litres."""
    now = _fresh()
    drawn, sent = (
        expected.waste_m3.middle * 1e3
        for expected in (now.steps[0].expected, now.steps[2].expected)
        if expected is not None
    )

    assert now.in_hand == 1
    assert drawn == pytest.approx(2.8 - 0.105 - 0.2, abs=0.1)
    assert sent == pytest.approx(10.0, abs=1e-6)


def test_the_turn_of_the_outflow_is_foretold_where_it_turns() -> None:
    """The exchange has one, within its litres; a draw-off has none."""
    now = _fresh()
    first, third = now.steps[0].expected, now.steps[2].expected

    assert first is not None
    assert first.turn_m3 is None
    assert third is not None
    assert third.turn_m3 is not None
    assert 2e-3 < third.turn_m3.low < third.turn_m3.middle < third.turn_m3.high < 8e-3


def test_the_level_as_found_is_what_the_draw_off_begins_with() -> None:
    """Twenty millimetres lower, four tenths of a litre less come out."""
    desk, job = _desk()
    log(desk, job, Kind.AS_FOUND, {"level_mm": -25.0, "state": "charged", "at_degc": 18.0})
    before, after = _fresh().steps[0].expected, _list(desk, job).steps[0].expected

    assert before is not None
    assert after is not None
    assert (before.waste_m3.middle - after.waste_m3.middle) * 1e3 == pytest.approx(0.42, abs=0.03)


def test_a_level_that_cannot_be_is_not_used_and_said_so() -> None:
    """A metre above the mark is a slip of the finger."""
    desk, job = _desk()
    log(desk, job, Kind.AS_FOUND, {"level_mm": 1000.0, "state": "charged", "at_degc": 18.0})
    found = found_circuit(desk, load_job(desk, job))

    assert "is not used" in found.doubt
    assert (
        found.table == desk.store.circuit_version(load_job(desk, job).head.circuit_version_id).table
    )


def test_steps_go_in_order_and_fold_behind_the_one_in_hand() -> None:
    """Only the step in hand can be begun, carried out or left out."""
    desk, job = _desk()
    begin(desk, job, 1, uid="form-a-begin")
    with pytest.raises(Conflict, match="step 2 is not the one in hand, step 1 is"):
        carried_out(desk, job, 2, uid="form-a-early")
    carried_out(desk, job, 1, uid="form-a-done")
    leave_out(desk, job, 2, "the pump filled it by itself", uid="form-a-left")
    now = _list(desk, job)

    assert [step.state for step in now.steps] == [
        StepState.CARRIED_OUT,
        StepState.LEFT_OUT,
        StepState.WAITING,
        StepState.WAITING,
    ]
    assert now.in_hand == 3
    assert now.steps[1].expected is None


def test_a_step_is_not_left_out_without_a_reason() -> None:
    """The record shows the reason."""
    desk, job = _desk()

    with pytest.raises(OutOfRange, match="say why the step is left out"):
        leave_out(desk, job, 1, "  ", uid="form-b-left")


def test_the_same_form_twice_counts_once() -> None:
    """Gloves press twice."""
    desk, job = _desk()
    for _ in range(2):
        carried_out(
            desk,
            job,
            1,
            [(Kind.VOLUME, {"what": "drawn-off", "step": 1, "litres": 2.5})],
            uid="form-c-done",
        )

    assert len(load_job(desk, job).of(Kind.VOLUME)) == 1
    assert load_job(desk, job).step_in_hand == 2


def test_a_form_whose_id_begins_another_id_is_a_form_of_its_own() -> None:
    """A program may name its forms as it likes."""
    desk, job = _desk()
    carried_out(desk, job, 1, uid="form-e-long")
    carried_out(desk, job, 2, uid="form-e")

    assert load_job(desk, job).step_in_hand == 3


def test_taking_a_step_back_puts_it_in_hand_and_keeps_its_readings() -> None:
    """What was read stays read."""
    desk, job = _desk()
    volume = {"what": "drawn-off", "step": 1, "litres": 2.5}
    carried_out(desk, job, 1, [(Kind.VOLUME, volume)], uid="form-d-done")
    take_back(desk, job, _list(desk, job).steps[0].state_uid)
    now = _list(desk, job)

    assert now.in_hand == 1
    assert now.steps[0].total(Kind.VOLUME, "drawn-off") == 2.5


@pytest.mark.parametrize(
    ("kind", "payload", "error", "says"),
    [
        (Kind.TURN, {"step": 1, "at_l": 1.0}, FileFaults, "only an exchange has an outflow"),
        (Kind.TURN, {"step": 3, "at_l": 12.0}, FileFaults, "sends no more than 10.0 L"),
        (Kind.VOLUME, {"what": "waste", "step": 9, "litres": 1.0}, OutOfRange, "at most 4"),
        (Kind.VOLUME, {"what": "waste", "step": 3}, OutOfRange, "either litres or grams"),
        (Kind.TRAVEL, {"leg": "middle", "pct": 80.0}, FileFaults, "no leg of the circuit"),
        (Kind.SAMPLE, {"name": "A", "where": "sump", "after_step": 3}, OutOfRange, "outflow"),
        (Kind.SAMPLE, {"name": "A", "where": "leg:middle", "after_step": 3}, NotFound, "middle"),
    ],
)
def test_readings_that_cannot_be_are_refused(
    kind: Kind, payload: dict[str, object], error: type[Exception], says: str
) -> None:
    """Nothing of the form is kept then."""
    desk, job = _desk()
    with pytest.raises(error, match=says):
        write_down(
            desk, job, [(Kind.NOTE, {"note": "with it"}), (kind, payload)], uid="form-e-reading"
        )

    assert load_job(desk, job).of(Kind.NOTE) == ()


def test_two_vials_never_bear_one_name() -> None:
    """Or what is read off one would be taken for the other."""
    desk, job = _desk()
    sample = {"name": "A", "where": "reservoir", "after_step": 1}
    write_down(desk, job, [(Kind.SAMPLE, sample)], uid="form-f-one")

    with pytest.raises(OutOfRange, match="a name that no sample of this job bears"):
        write_down(desk, job, [(Kind.SAMPLE, sample)], uid="form-f-two")


def test_readings_of_a_job_that_went_as_foretold_lie_within() -> None:
    """The plan is to be trusted."""
    desk = memory_desk()
    outlook = _list(desk, exchanged(desk)).outlook

    assert len(outlook.checks) == 5
    assert outlook.misses == ()
    assert outlook.is_to_be_trusted


def test_three_readings_outside_their_bands_end_the_trust_in_the_plan() -> None:
    """Two do not yet; the one furthest out is named first."""
    desk, job = _desk()
    level = {"after_step": 2, "mm": -60.0, "state": "charged", "at_degc": 60.0}
    write_down(desk, job, [(Kind.LEVEL, level)], uid="form-g-level")
    write_down(desk, job, [(Kind.TURN, {"step": 3, "at_l": 7.0})], uid="form-g-turn")
    two = _list(desk, job).outlook
    write_down(
        desk,
        job,
        [(Kind.VOLUME, {"what": "drawn-off", "step": 1, "litres": 1.5})],
        uid="form-g-drawn",
    )
    three = _list(desk, job).outlook

    assert len(two.misses) == 2
    assert two.is_to_be_trusted
    assert len(three.misses) == 3
    assert not three.is_to_be_trusted
    assert three.misses[0].words == "the level after step 2, charged"


def test_a_level_is_judged_in_its_own_state_and_at_its_own_temperature() -> None:
    """Everything lowered, the strokes stand in the reservoir: high is right there."""
    desk, job = _desk()
    lowered = {"after_step": 2, "mm": 53.0, "state": "retracted", "at_degc": 60.0}
    standing = {"after_step": 2, "mm": 53.0, "state": "charged", "at_degc": 60.0}
    write_down(desk, job, [(Kind.LEVEL, lowered)], uid="form-h-lowered")
    write_down(desk, job, [(Kind.LEVEL, standing)], uid="form-h-standing")
    checks = _list(desk, job).outlook.checks

    assert [check.is_within for check in checks] == [True, False]


def test_the_exchange_is_finished_when_every_step_is_done() -> None:
    """Its result is one line."""
    desk, job = _desk()
    with pytest.raises(Conflict, match="step 1 is neither carried out nor left out"):
        finish_exchange(desk, job, uid="form-i-early")
    carried_out(desk, job, 1, uid="form-i-1")
    carried_out(desk, job, 2, [(Kind.POURED, {"litres": 2.6, "step": 2})], uid="form-i-2")
    carried_out(desk, job, 3, uid="form-i-3")
    leave_out(desk, job, 4, "at the mark already", uid="form-i-4")
    finish_exchange(desk, job, uid="form-i-5")

    assert (
        load_job(desk, job).finished[Stage.EXCHANGE] == "2.6 L through, no sample, step 4 left out"
    )


def test_a_recipe_that_cannot_go_on_is_still_a_checklist() -> None:
    """Nothing is foretold then, and the page says why."""
    desk = memory_desk()
    table = recipe_table()
    steps = [{"do": "draw-off"}, {"do": "circulate", "minutes": 1}]
    job = prepared(desk, {**table, "step": steps})
    now = _list(desk, job)

    assert [step.expected for step in now.steps] == [None, None]
    assert "below the minimum" in now.outlook.why_not or now.outlook.why_not
    assert now.in_hand == 1


def test_more_litres_than_planned_do_not_end_the_forecast() -> None:
    """What was read in litres that the plan does not have is kept, and checked by nobody."""
    desk, job = _desk()
    write_down(
        desk,
        job,
        [
            (Kind.VOLUME, {"what": "waste", "step": 3, "litres": 12.0}),
            (Kind.TURN, {"step": 3, "at_l": 11.5}),
        ],
        uid="form-j-more",
    )
    outlook = _list(desk, job).outlook

    assert outlook.why_not == ""
    assert [check.kind for check in outlook.checks] == ["volume"]
