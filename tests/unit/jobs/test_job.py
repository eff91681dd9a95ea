"""A job is what its events add up to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job, JobHead, folded, standing
from ullage.jobs.next_thing import line_of, next_thing
from ullage.jobs.stage import STAGES, Stage, StageState, StepState

_START = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
_HEAD = JobHead(
    id="job1",
    machine_id="van2",
    circuit_id="leveller",
    circuit_version_id="leveller-1",
    title="Library van 2",
    opened_at=_START,
)
_RECIPE: Mapping[str, Any] = {
    "format": "ullage-recipe/1",
    "name": "two steps",
    "step": [{"do": "draw-off"}, {"do": "fill"}],
}


def _events(*facts: tuple[Kind, Mapping[str, Any]]) -> list[Event]:
    """Return events in order, named e1, e2 and so on."""
    return [
        Event(
            job_id="job1",
            seq=number,
            uid=f"e{number}",
            device="desk",
            device_seq=number,
            kind=kind,
            device_at=_START + timedelta(minutes=number),
            server_at=_START + timedelta(minutes=number, seconds=1),
            payload=payload,
        )
        for number, (kind, payload) in enumerate(facts, start=1)
    ]


def _job(*facts: tuple[Kind, Mapping[str, Any]]) -> Job:
    return folded(_HEAD, _events(*facts))


def _finished(*stages: Stage) -> list[tuple[Kind, Mapping[str, Any]]]:
    return [(Kind.STAGE, {"stage": s.value, "state": "finished", "result": "done"}) for s in stages]


def test_a_job_without_events_begins_with_its_first_stage() -> None:
    """Nothing is finished, the first stage is in hand, all others are to come."""
    job = _job()

    assert [job.state_of(stage) for stage in STAGES] == [
        StageState.IN_HAND,
        *[StageState.TO_COME] * 6,
    ]


def test_the_first_unfinished_stage_is_in_hand() -> None:
    """A stage that is reopened comes before later ones, which stay finished."""
    job = _job(
        *_finished(Stage.ASSESS, Stage.PLAN),
        (Kind.STAGE, {"stage": "assess", "state": "in hand"}),
    )

    assert job.stage is Stage.ASSESS
    assert job.state_of(Stage.PLAN) is StageState.FINISHED
    assert job.state_of(Stage.PREPARE) is StageState.TO_COME


def test_a_job_is_closed_when_all_stages_are_finished() -> None:
    """The seventh stage closes it, and nothing is left to do."""
    job = _job(*_finished(*STAGES))

    assert job.is_closed
    assert next_thing(job).who == ""


def test_an_exchange_without_a_recipe_needs_one_first() -> None:
    """Whoever finished the plan by hand is sent back to it, not told that all is done."""
    bare = _job(*_finished(Stage.ASSESS, Stage.PLAN, Stage.PREPARE))

    assert bare.stage is Stage.EXCHANGE
    assert "choose a recipe" in next_thing(bare).sentence


def test_the_newest_of_single_facts_counts_unless_it_is_taken_back() -> None:
    """A second goal replaces the first; taken back, the first one is back."""
    facts = [(Kind.GOAL, {"target_pct": 20.0}), (Kind.GOAL, {"target_pct": 10.0})]
    newest = _job(*facts).goal
    before = _job(*facts, (Kind.UNDONE, {"uid": "e2"})).goal

    assert newest is not None
    assert newest.payload["target_pct"] == 10.0
    assert before is not None
    assert before.payload["target_pct"] == 20.0


def test_taking_back_a_taking_back_brings_the_event_back() -> None:
    """What a slip of the finger took away comes back with all it meant."""
    events = _events(
        (Kind.NOTE, {"note": "leaks at the rear"}),
        (Kind.UNDONE, {"uid": "e1"}),
        (Kind.UNDONE, {"uid": "e2"}),
    )

    assert [event.uid for event in standing(events)] == ["e1"]


def test_steps_stand_where_their_last_word_put_them() -> None:
    """The first step that is neither carried out nor left out is the one in hand."""
    job = _job(
        (Kind.RECIPE, {"recipe": _RECIPE}),
        (Kind.STEP, {"step": 1, "state": "left out", "reason": "no extractor"}),
    )

    assert job.step_in_hand == 2
    assert job.steps[1].reason == "no extractor"
    assert job.step_state(2) is StepState.WAITING


def test_another_recipe_starts_from_its_first_step() -> None:
    """Steps of the recipe that was given up do not count for the new one."""
    job = _job(
        (Kind.RECIPE, {"recipe": _RECIPE}),
        (Kind.STEP, {"step": 1, "state": "carried out"}),
        (Kind.RECIPE, {"recipe": _RECIPE}),
    )

    assert job.step_in_hand == 1


def test_a_job_that_came_with_a_file_was_touched_when_it_was_noted() -> None:
    """Not when the file was taken in; a clock that runs ahead counts as the time it came in."""
    first, last = _events((Kind.NOTE, {"text": "a"}), (Kind.NOTE, {"text": "b"}))
    years = timedelta(days=700)
    taken_in = [replace(one, server_at=one.server_at + years) for one in (first, last)]
    ahead = replace(last, device_at=last.server_at + years)

    assert line_of(folded(_HEAD, taken_in)).touched_at == last.device_at
    assert line_of(folded(_HEAD, [first, ahead])).touched_at == last.server_at


def test_an_exchange_under_way_goes_before_everything_else() -> None:
    """A machine that stands open in the bay comes first, a closed job last."""
    under_way = line_of(_job(*_finished(*STAGES[:3])))
    ranks = [line_of(_job(*_finished(*STAGES[:count]))).rank for count in range(8)]

    assert under_way.rank == min(ranks)
    assert ranks[7] == max(ranks)


@given(
    order=st.lists(
        st.sampled_from(
            [
                (Kind.NOTE, {"note": "x"}),
                (Kind.GOAL, {"target_pct": 5.0}),
                (Kind.TICKED, {"list": "before", "item": "gloves", "done": True}),
                (Kind.STAGE, {"stage": "assess", "state": "finished"}),
                (Kind.RECIPE, {"recipe": _RECIPE}),
                (Kind.STEP, {"step": 1, "state": "carried out"}),
            ]
        ),
        max_size=12,
    ),
)
def test_taking_everything_back_leaves_an_empty_job(
    order: list[tuple[Kind, Mapping[str, Any]]],
) -> None:
    """Undoing each event, in any number, gives the job without events but for its place."""
    undone = [(Kind.UNDONE, {"uid": f"e{number + 1}"}) for number in range(len(order))]
    job = _job(*order, *undone)

    assert job == folded(_HEAD, []) or job.seq == 2 * len(order)
    assert job.entries == ()
    assert job.stage is Stage.ASSESS
    assert job.recipe is None
