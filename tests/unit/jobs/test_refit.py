"""The machine is put back by a checklist with its own numbers."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from tests.unit.jobs.van_job import exchanged, prepared
from ullage.circuit.parts import State
from ullage.errors import Conflict, NotFound
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import carried_out
from ullage.jobs.log import load_job
from ullage.jobs.refit import finish_refit, read_level, read_temperature, refit, tick
from ullage.jobs.stage import Stage
from ullage.planning.level_target import level_target


def test_the_level_belongs_where_the_fluid_of_now_stands() -> None:
    """Targets follow the newest temperature, one for each state of this machine."""
    desk = memory_desk()
    job = exchanged(desk)
    read_temperature(desk, job, 35.0, uid="form-degc")
    now = refit(desk, load_job(desk, job))
    circuit = found_circuit(desk, load_job(desk, job)).circuit
    expected = level_target(circuit, temperature_k=308.15, state=State.RETRACTED).height_m
    found = dict(now.targets)[State.RETRACTED].height_m

    assert now.at_k == pytest.approx(308.15)
    assert now.targets[0][0] is now.mark
    assert found == expected


def test_a_level_stands_beside_its_target() -> None:
    """Within five millimetres it agrees, in its own state and at its own temperature."""
    desk = memory_desk()
    job = exchanged(desk)
    for number, (mm, state) in enumerate(((11.0, State.CHARGED), (11.0, State.RETRACTED))):
        read_level(
            desk, job, mm=mm, litres=None, state=state, at_degc=45.0, uid=f"form-level-{number}"
        )
    charged, lowered = refit(desk, load_job(desk, job)).levels

    assert charged.is_near is True
    assert lowered.is_near is False


def test_the_checklist_is_that_of_this_machine() -> None:
    """The van has a diverter, a filter and bleed points, the longest line first."""
    desk = memory_desk()
    items = refit(desk, load_job(desk, exchanged(desk))).items
    bleeding = next(item for item in items if item.id == "bleed")

    assert [item.id for item in items] == [
        "diverter",
        "filter",
        "bleed",
        "level",
        "functions",
        "leaks",
        "road",
    ]
    assert "rear-right, rear-left, front-right and front-left" in bleeding.sentence
    assert "3000 rev/min" in items[4].sentence
    assert any("through skin and gloves" in caution for caution in items[0].cautions)


def test_a_filter_that_was_changed_is_only_looked_at() -> None:
    """The step in which that happened is named."""
    desk = memory_desk()
    steps = [{"do": "draw-off"}, {"do": "swap-filter"}, {"do": "fill"}]
    job = prepared(desk, {"format": "ullage-recipe/1", "name": "filter", "step": steps})
    for step in (1, 2, 3):
        carried_out(desk, job, step, uid=f"form-done-{step}")
    items = {item.id: item for item in refit(desk, load_job(desk, job)).items}

    assert "was changed in step 2" in items["filter"].sentence
    assert "diverter" not in items


def test_lines_are_ticked_and_unticked() -> None:
    """What is no line of the list is refused."""
    desk = memory_desk()
    job = exchanged(desk)
    tick(desk, job, "leaks", done=True, uid="form-tick-1")
    ticked = {item.id: item.is_done for item in refit(desk, load_job(desk, job)).items}
    tick(desk, job, "leaks", done=False, uid="form-tick-2")
    unticked = {item.id: item.is_done for item in refit(desk, load_job(desk, job)).items}
    with pytest.raises(NotFound, match="no line of the list is called 'paint'"):
        tick(desk, job, "paint", done=True, uid="form-tick-3")

    assert ticked["leaks"]
    assert not unticked["leaks"]


def test_the_refit_is_not_finished_before_the_level_was_read() -> None:
    """What was not ticked stands in the result."""
    desk = memory_desk()
    job = exchanged(desk)
    with pytest.raises(Conflict, match="the level was not read at the refit"):
        finish_refit(desk, job, uid="form-finish-1")
    read_level(desk, job, mm=11.0, litres=None, state=State.CHARGED, at_degc=45.0, uid="form-level")
    for item in ("diverter", "filter", "bleed", "level", "functions", "leaks"):
        tick(desk, job, item, done=True, uid=f"form-tick-{item}")
    finish_refit(desk, job, uid="form-finish-2")

    assert load_job(desk, job).finished[Stage.REFIT] == (
        "level 11 mm above the mark, belongs 12 mm above the mark (pressure up, "
        "standing as found, 45 °C); "
        "not ticked: road"
    )
