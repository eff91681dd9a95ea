"""What was written down in a job becomes an evidence file without being typed again."""

from __future__ import annotations

from typing import Any

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.van_job import prepared
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import carried_out, leave_out, write_down
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.readings import Gathered, gathered, recipe_of_steps, steps_carried_out


def _gathered(desk: Desk, job_id: str) -> Gathered:
    job = load_job(desk, job_id)
    return gathered(job, found_circuit(desk, job).circuit, steps_carried_out(job))


def _first_left_out() -> tuple[Desk, str]:
    """Return a job whose first step was left out and whose others were carried out."""
    desk = memory_desk()
    job = prepared(desk)
    leave_out(desk, job, 1, "no extractor", uid="form-left-1")
    for step in (2, 3, 4):
        carried_out(desk, job, step, uid=f"form-done-{step}")
    return desk, job


def test_steps_that_were_left_out_vanish_and_the_others_move_up() -> None:
    """The third step of the plan is the second of what was done."""
    desk, job = _first_left_out()
    write_down(
        desk,
        job,
        [
            (Kind.TURN, {"step": 3, "at_l": 4.0}),
            (Kind.LEVEL, {"after_step": 4, "mm": 0.0, "state": "charged"}),
            (Kind.CYCLES, {"step": 3, "group": "front", "count": 3}),
        ],
        uid="form-readings",
    )
    found = _gathered(desk, job)
    table = load_job(desk, job).recipe_table
    assert table is not None

    assert found.evidence["turn"] == [{"step": 2, "at_l": 4.0}]
    assert found.evidence["level"][0]["after_step"] == 3
    assert found.evidence["cycles"] == [{"step": 2, "group": "front", "count": 3}]
    assert [step["do"] for step in recipe_of_steps(table, (2, 3, 4))["step"]] == [
        "fill",
        "exchange",
        "top-up",
    ]


def test_a_reading_of_a_step_that_was_left_out_is_not_used_and_said_so() -> None:
    """It counts nothing that happened."""
    desk, job = _first_left_out()
    payload = {"what": "drawn-off", "step": 1, "litres": 0.4}
    write_down(desk, job, [(Kind.VOLUME, payload)], uid="form-volume")
    found = _gathered(desk, job)

    assert found.of("volume") == ()
    assert found.unused == (
        "Step 1 does not count as carried out, so the drawn-off volume of it is not used.",
    )


def test_cans_of_one_step_are_added_up() -> None:
    """Litres and grams come to litres at the temperature of the recipe, errors of one jug add."""
    desk, job = _first_left_out()
    grams = {"what": "waste", "step": 3, "grams": 4200.0}
    litres = {"what": "waste", "step": 3, "litres": 5.0, "at_degc": 60.0}
    write_down(desk, job, [(Kind.VOLUME, litres), (Kind.VOLUME, grams)], uid="form-cans")
    (row,) = _gathered(desk, job).of("volume")
    rho = found_circuit(desk, load_job(desk, job)).circuit.fluid.density_kg_m3(333.15)

    assert row.in_file["litres"] == pytest.approx(5.0 + 4200.0 / rho, abs=1e-9)
    assert row.in_file["u_l"] == pytest.approx((0.2 * 0.0029 + 0.8 * 0.0049) ** 0.5)
    assert len(row.uids) == 2


def test_containers_are_counted_over_the_whole_job() -> None:
    """Pouring goes container by container, so no single step tells how much it took."""
    desk, job = _first_left_out()
    facts = [(Kind.POURED, {"litres": 1.0, "step": 3}) for _ in range(12)]
    write_down(desk, job, facts, uid="form-pours")
    (row,) = _gathered(desk, job).of("volume")

    assert row.in_file == {"what": "poured", "litres": 12.0, "at_degc": 20, "u_l": 0.18}


def test_what_was_left_over_counts_only_beside_what_was_poured() -> None:
    """Alone it says nothing, and the person hears so."""
    desk, job = _first_left_out()
    left = {"what": "left-over", "step": 3, "litres": 0.4}
    write_down(desk, job, [(Kind.VOLUME, left)], uid="form-left-over")
    alone = _gathered(desk, job).unused
    poured = {"what": "poured", "step": 3, "litres": 12.0}
    write_down(desk, job, [(Kind.VOLUME, poured)], uid="form-poured-3")

    assert alone == (
        "What was left over is not counted: nobody wrote down what was poured in step 3.",
    )
    assert _gathered(desk, job).unused == ()


def test_samples_are_joined_with_what_was_read_off_them() -> None:
    """By name; the newest reading counts, a vial that nobody read is named."""
    desk, job = _first_left_out()
    samples: list[tuple[Kind, dict[str, Any]]] = [
        (Kind.SAMPLE, {"name": "A", "where": "outflow", "after_step": 3, "at_step_l": 5.0}),
        (Kind.SAMPLE, {"name": "B", "where": "reservoir", "after_step": 4}),
    ]
    write_down(desk, job, samples, uid="form-samples")
    for number, old_pct in enumerate((70.0, 55.0)):
        reading = {"sample": "A", "old_pct": old_pct, "u_pct": 4.0}
        write_down(desk, job, [(Kind.READING, reading)], uid=f"form-reading-{number}")
    found = _gathered(desk, job)

    assert found.evidence["sample"] == [
        {"where": "outflow", "after_step": 2, "at_step_l": 5.0, "old_pct": 55.0, "u_pct": 4.0}
    ]
    assert found.unread == ("B",)


def test_what_was_poured_at_the_refit_is_no_part_of_the_recipe() -> None:
    """Nor do levels read there count then, since they tell another content."""
    desk, job = _first_left_out()
    level = {"after_step": 4, "mm": 3.0, "state": "charged", "stage": "refit"}
    write_down(desk, job, [(Kind.LEVEL, level)], uid="form-refit-level")
    counted = _gathered(desk, job).of("level")
    write_down(desk, job, [(Kind.POURED, {"litres": 0.3, "stage": "refit"})], uid="form-refit-pour")
    found = _gathered(desk, job)

    assert len(counted) == 1
    assert found.of("level") == ()
    assert found.of("volume") == ()
    assert len(found.unused) == 2


def test_a_job_without_readings_is_an_empty_evidence_file() -> None:
    """It can be proved all the same: the prior is the answer."""
    desk, job = _first_left_out()
    found = _gathered(desk, job)

    assert found.evidence == {"format": "ullage-evidence/1"}
    assert desk.forms.evidence(found.evidence, "readings").samples == ()
