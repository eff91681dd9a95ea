"""Entries of other devices are taken in once, all or none, by the rules of the pages."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill
from ullage.errors import Conflict, NotFound, OutOfRange
from ullage.jobs.entries_sent import FOLLOWING, take_in
from ullage.jobs.event import Draft, Kind
from ullage.jobs.log import load_job, log, take_back
from ullage.jobs.ports import Desk
from ullage.jobs.stage import StepState

RECIPE = {
    "format": "ullage-recipe/1",
    "name": "Two steps",
    "temperature_degc": 45.0,
    "step": [
        {"do": "exchange", "litres": 1.0, "rev_min": 750},
        {"do": "circulate", "minutes": 2.0, "rev_min": 750},
    ],
}


@pytest.fixture
def desk() -> Desk:
    """Return a desk with a job in hand."""
    made = memory_desk()
    fill(made)
    return made


def draft(uid: str, kind: Kind, **payload: Any) -> Draft:
    """Return an entry of a phone."""
    return Draft(
        uid=uid,
        device="phone",
        device_seq=7,
        kind=kind,
        device_at=datetime(2026, 5, 4, 7, 0, tzinfo=UTC),
        payload=payload,
    )


def test_what_is_sent_again_is_added_once(desk: Desk) -> None:
    """A device that heard no answer sends everything once more, with what came since."""
    first = take_in(desk, "job1", [draft("a1", Kind.NOTE, note="one")])
    again = take_in(
        desk, "job1", [draft("a1", Kind.NOTE, note="one"), draft("a2", Kind.NOTE, note="two")]
    )

    assert again[0] == first[0]
    assert [event.seq for event in again] == [first[0].seq, first[0].seq + 1]
    assert again[1].device_at == datetime(2026, 5, 4, 7, 0, tzinfo=UTC)


def test_an_entry_is_never_changed(desk: Desk) -> None:
    """The same id with something else in it is refused."""
    take_in(desk, "job1", [draft("a1", Kind.NOTE, note="one")])

    with pytest.raises(Conflict, match="never changed"):
        take_in(desk, "job1", [draft("a1", Kind.NOTE, note="another")])


def test_a_counter_is_kept_with_the_machine_once(desk: Desk) -> None:
    """As a page does it."""
    before = len(desk.store.counter_readings("van2"))
    for _ in range(2):
        take_in(desk, "job1", [draft("a1", Kind.USE, distance_km=90_000.0)])

    readings = desk.store.counter_readings("van2")
    assert len(readings) == before + 1
    assert 9e7 in [reading.distance_m for reading in readings]


@pytest.mark.parametrize("kind", sorted(FOLLOWING))
def test_what_follows_from_something_else_is_not_sent(desk: Desk, kind: Kind) -> None:
    """Each says what to ask for instead."""
    with pytest.raises(OutOfRange, match=FOLLOWING[kind][:20]):
        take_in(desk, "job1", [draft("a1", kind)])


@pytest.mark.parametrize(
    ("kind", "payload", "name"),
    [
        (Kind.NOTE, {"note": "x", "colour": "red"}, "note"),
        (Kind.USE, {"distance_km": 5.0, "since_km": 6.0}, "since_km"),
        (Kind.USE, {"by": "somebody"}, "use"),
        (Kind.CONDITION, {"particles_per_ml": [1.0, 2.0, 3.0]}, "particles_per_ml"),
        (Kind.GOAL, {"target_pct": 100.0}, "target_pct"),
        (Kind.NEXT_DUE, {"reason": "x", "on": "31.3.2027"}, "next-due.on"),
        (Kind.NEXT_DUE, {"reason": "x", "on": "20270331"}, "next-due.on"),
        (
            Kind.WASTE_HANDED_OVER,
            {"litres": 0.0, "family": "x", "to": "y"},
            "waste-handed-over.litres",
        ),
        (Kind.READING, {"sample": "A", "old_pct": 5.0, "u_pct": 0.0}, "reading.u_pct"),
        (Kind.READING, {"sample": "A", "old_pct": 5.0, "u_pct": 5.0}, "reading.sample"),
    ],
)
def test_what_a_page_refuses_is_refused(
    desk: Desk, kind: Kind, payload: dict[str, Any], name: str
) -> None:
    """And nothing of it is kept, not even what is good."""
    before = desk.store.events("job1")
    with pytest.raises(OutOfRange) as refusal:
        take_in(desk, "job1", [draft("a1", Kind.NOTE, note="good"), draft("a2", kind, **payload)])

    assert refusal.value.name == name
    assert desk.store.events("job1") == before


def test_steps_are_done_one_after_the_other(desk: Desk) -> None:
    """Several may come at once from a device that was out of reach."""
    log(desk, "job1", Kind.RECIPE, {"recipe": RECIPE})
    done = {"state": "carried out"}
    with pytest.raises(Conflict, match="not the one in hand"):
        take_in(desk, "job1", [draft("s2", Kind.STEP, step=2, **done)])
    take_in(
        desk,
        "job1",
        [draft("s1", Kind.STEP, step=1, **done), draft("s2", Kind.STEP, step=2, **done)],
    )

    job = load_job(desk, "job1")
    assert [job.step_state(n) for n in (1, 2)] == [StepState.CARRIED_OUT] * 2


@pytest.mark.parametrize("state", ["waiting", "left out"])
def test_a_step_is_not_left_out_without_a_reason(desk: Desk, state: str) -> None:
    """Nor put back by an entry: its entry is taken back instead."""
    log(desk, "job1", Kind.RECIPE, {"recipe": RECIPE})

    with pytest.raises(OutOfRange, match="step"):
        take_in(desk, "job1", [draft("s1", Kind.STEP, step=1, state=state)])


def test_two_samples_of_one_name_are_refused(desk: Desk) -> None:
    """A reading could not tell them apart."""
    log(desk, "job1", Kind.RECIPE, {"recipe": RECIPE})
    one = draft("v1", Kind.SAMPLE, name="A", where="reservoir", after_step=2)

    with pytest.raises(OutOfRange, match="number them on"):
        take_in(desk, "job1", [one, replace(one, uid="v2")])


def test_a_reading_follows_its_sample(desk: Desk) -> None:
    """Both may come at once."""
    log(desk, "job1", Kind.RECIPE, {"recipe": RECIPE})
    sample = draft("v1", Kind.SAMPLE, name="A", where="reservoir", after_step=2)
    read = draft("v2", Kind.READING, sample="A", old_pct=40.0, u_pct=5.0)

    assert len(take_in(desk, "job1", [sample, read])) == 2


def test_a_reading_must_fit_the_circuit(desk: Desk) -> None:
    """A leg that is not there can't have moved."""
    log(desk, "job1", Kind.RECIPE, {"recipe": RECIPE})
    sample = draft("v1", Kind.SAMPLE, name="A", where="leg:nowhere", after_step=2)

    with pytest.raises(NotFound, match="leg"):
        take_in(desk, "job1", [sample])


def test_what_was_taken_back_stays_so_when_it_is_sent_again(desk: Desk) -> None:
    """Sending is no way to bring an entry back."""
    take_in(desk, "job1", [draft("a1", Kind.NOTE, note="one")])
    take_back(desk, "job1", "a1")
    take_in(desk, "job1", [draft("a1", Kind.NOTE, note="one")])

    assert "a1" not in [event.uid for event in load_job(desk, "job1").entries]
