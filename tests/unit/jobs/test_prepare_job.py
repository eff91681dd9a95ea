"""What must be at hand for the recipe that was chosen, and what of it was ticked."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.early_job import chosen, wanting
from ullage.errors import Conflict, NotFound
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.prepare import Preparation, finish_prepare, preparation, tick_all
from ullage.jobs.propose_plan import chosen_answer
from ullage.jobs.shelf import Lot, Movement, Sheet, SheetOf
from ullage.jobs.stage import Stage

_AT = datetime(2026, 5, 4, 7, 0, tzinfo=UTC)


@pytest.fixture
def desk() -> Desk:
    """Return a desk with nothing on it."""
    return memory_desk()


def _ready(desk: Desk, job: str) -> Preparation:
    return preparation(desk, load_job(desk, job))


def test_without_a_recipe_nothing_can_be_got_ready(desk: Desk) -> None:
    """The sentence says what comes first."""
    with pytest.raises(Conflict, match="no recipe"):
        preparation(desk, load_job(desk, wanting(desk)))


def test_lists_are_those_of_the_plan_that_was_kept(desk: Desk) -> None:
    """Not worked out anew, so they say what the plan said."""
    job = chosen(desk)
    answer = chosen_answer(desk, load_job(desk, job))
    assert answer is not None
    ready = _ready(desk, job)
    bought = [item for item in answer.body["shopping"] if item["kind"] == "buy"]

    assert [line.group for line in ready.lines].count("buy") == len(bought)
    assert ready.waste == answer.body["waste"]
    assert list(ready.sheet) == answer.body["sheet"]


def test_cans_hold_a_tenth_more_than_comes_out(desk: Desk) -> None:
    """The line for them names the litres."""
    ready = _ready(desk, chosen(desk))
    line = next(line for line in ready.lines if "cans for waste" in line.text)

    assert ready.waste["cans_hold_l"] == pytest.approx(1.1 * ready.waste["comes_out_l"])
    assert f"{ready.waste['cans_hold_l']:.1f} L" in line.text


def test_a_machine_with_legs_is_held_up_before_anything_is_opened(desk: Desk) -> None:
    """On supports rated for its weight."""
    safe = [line.text for line in _ready(desk, chosen(desk)).lines if line.group == "safe"]

    assert any("supports rated for its weight" in text for text in safe)


def test_the_shelf_is_looked_at_for_the_class_that_is_poured(desk: Desk) -> None:
    """Fluid of another class is no stock for this job."""
    job = chosen(desk)
    before = next(line for line in _ready(desk, job).lines if line.on_shelf)
    version = desk.store.circuit_version(load_job(desk, job).head.circuit_version_id)
    fluid = version.table.get("new_fluid", version.table["fluid"])
    for number, class_ in enumerate((fluid["class"], "BRAKE-GLYCOL")):
        sheet = Sheet(
            id=f"sheet-{number}",
            of=SheetOf.FLUID,
            name=f"Fluid {number}",
            table={**fluid, "class": class_},
            saved_at=_AT,
        )
        lot = Lot(
            id=f"lot-{number}",
            sheet_id=sheet.id,
            mark=f"K{number}",
            container_m3=1e-3,
            expires_on=date(2030, 1, 1),
            received_on=date(2026, 1, 1),
        )
        desk.store.save_sheet(sheet)
        first = Movement(
            uid=f"first-{number}", lot_id=lot.id, count=7.0, why="delivered", moved_at=_AT
        )
        desk.store.add_lot(lot, first)
    after = next(line for line in _ready(desk, job).lines if line.on_shelf)

    assert before.on_shelf.startswith("nothing of class")
    assert "7 of 1 L, Fluid 0, lot K0" in after.on_shelf
    assert "Fluid 1" not in after.on_shelf


def test_ticks_of_one_list_leave_the_others_alone(desk: Desk) -> None:
    """What is ticked stays so until it is unticked; a line that is not there is refused."""
    job = chosen(desk)
    lines = _ready(desk, job).lines
    buy = [line.item for line in lines if line.group == "buy"]
    have = [line.item for line in lines if line.group == "have"]
    tick_all(desk, job, buy, group="buy", uid="tick-00001")
    tick_all(desk, job, have[:1], group="have", uid="tick-00002")
    tick_all(desk, job, buy[1:], group="buy", uid="tick-00003")
    done = {line.item for line in _ready(desk, job).lines if line.is_done}

    assert done == {*buy[1:], have[0]}
    with pytest.raises(NotFound):
        tick_all(desk, job, ["nothing"], group="buy", uid="tick-00004")


def test_what_is_open_is_told_and_holds_nobody_up(desk: Desk) -> None:
    """The result says how many lines were not ticked."""
    job = chosen(desk)
    count = _ready(desk, job).open_count
    finish_prepare(desk, job, uid="ready-00001")

    assert load_job(desk, job).finished[Stage.PREPARE] == f"{count} lines not ticked"
