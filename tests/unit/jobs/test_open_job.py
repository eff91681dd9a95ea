"""Machines are taken in and changed, and jobs are opened on their circuits."""

from __future__ import annotations

import pytest

from tests.fakes.desk import memory_desk
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.jobs.add_machine import (
    Known,
    add_circuit,
    add_machine,
    change_machine,
    template_table,
)
from ullage.jobs.event import Kind
from ullage.jobs.log import log
from ullage.jobs.machine import Counter
from ullage.jobs.open_job import jobs_in_hand, open_job
from ullage.jobs.ports import Desk
from ullage.jobs.prices import PRICES, keep_prices
from ullage.jobs.save_circuit import save_circuit
from ullage.jobs.stage import STAGES

_VAN = Known(name="Library van 2", marks="green stripe")


@pytest.fixture
def desk() -> Desk:
    """Return a desk with nothing on it."""
    return memory_desk()


def _circuit(desk: Desk, name: str = "Library van 2") -> str:
    machine = add_machine(desk, Known(name=name))
    return add_circuit(desk, machine.id, template_table("levelling-van")).circuit_id


def test_a_machine_sent_twice_is_one(desk: Desk) -> None:
    """The device names it, so a second sending finds the first."""
    first = add_machine(desk, _VAN, machine_id="m1")

    assert add_machine(desk, _VAN, machine_id="m1") == first


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "x" * 81])
def test_a_machine_without_a_name_is_refused(name: str) -> None:
    """A name fits on a line."""
    with pytest.raises(OutOfRange, match="name"):
        Known(name=name)


def test_marks_fit_in_a_few_lines() -> None:
    """Who needs more keeps a note."""
    with pytest.raises(OutOfRange, match="marks"):
        Known(name="a", marks="x" * 301)


def test_a_change_goes_by_the_version_that_was_seen(desk: Desk) -> None:
    """The second of two who started from the same one is told."""
    machine = add_machine(desk, _VAN)
    change_machine(desk, machine.id, Known(name="Van two"), seen_version=1)

    with pytest.raises(Conflict, match="Van two"):
        change_machine(desk, machine.id, Known(name="Van three"), seen_version=1)


def test_saving_without_a_change_adds_no_version(desk: Desk) -> None:
    """So nobody else is told of one."""
    machine = add_machine(desk, _VAN)

    assert change_machine(desk, machine.id, _VAN, seen_version=1).version == 1


def test_a_counter_can_be_changed_alone(desk: Desk) -> None:
    """The name may stay."""
    machine = add_machine(desk, _VAN)
    known = Known(name=_VAN.name, marks=_VAN.marks, counter=Counter.HOURS)

    assert change_machine(desk, machine.id, known, seen_version=1).counter is Counter.HOURS


def test_what_is_no_circuit_is_not_kept(desk: Desk) -> None:
    """Every fault is told, and the machine has no circuit."""
    machine = add_machine(desk, _VAN)
    table = template_table("levelling-van")
    table["reservoir"]["minimum_l"] = 99

    with pytest.raises(FileFaults, match="minimum_l"):
        add_circuit(desk, machine.id, table)
    assert desk.store.circuits_of(machine.id) == ()


def test_a_circuit_belongs_to_a_machine(desk: Desk) -> None:
    """One that is here."""
    with pytest.raises(NotFound):
        add_circuit(desk, "nobody", template_table("levelling-van"))


def test_every_built_in_circuit_can_be_added(desk: Desk) -> None:
    """All six are circuits that we take ourselves."""
    from ullage.circuit.catalogue import circuit_templates

    machine = add_machine(desk, _VAN)
    for template in circuit_templates():
        add_circuit(desk, machine.id, template_table(template.name))

    assert len(desk.store.circuits_of(machine.id)) == 6


def test_a_job_keeps_the_version_it_was_opened_with(desk: Desk) -> None:
    """The newest at that time, whatever comes later."""
    circuit_id = _circuit(desk)
    first = desk.store.newest_circuit(circuit_id)
    table = template_table("levelling-van")
    table["reservoir"]["full_l"] = 3.3
    table["reservoir"]["start_l"] = 3.3
    save_circuit(desk, circuit_id, table, base=1)

    head = open_job(desk, circuit_id)

    assert head.circuit_version_id != first.id
    assert desk.store.circuit_version(head.circuit_version_id).number == 2


def test_a_job_sent_twice_is_one(desk: Desk) -> None:
    """Also although a job is then open."""
    circuit_id = _circuit(desk)

    assert open_job(desk, circuit_id, job_id="j1") == open_job(desk, circuit_id, job_id="j1")


def test_a_circuit_has_one_open_job(desk: Desk) -> None:
    """Until its record is filed; another circuit is no obstacle."""
    circuit_id = _circuit(desk)
    other_id = _circuit(desk, "Loader 1")
    head = open_job(desk, circuit_id)
    open_job(desk, other_id)

    with pytest.raises(Conflict, match="open already"):
        open_job(desk, circuit_id)
    for stage in STAGES:
        log(desk, head.id, Kind.STAGE, {"stage": stage.value, "state": "finished"})
    again = open_job(desk, circuit_id)

    assert jobs_in_hand(desk, head.machine_id) == {circuit_id: again.id}


def test_a_new_job_begins_with_its_first_stage(desk: Desk) -> None:
    """Its line stands in the list at once."""
    head = open_job(desk, _circuit(desk))

    (line,) = desk.store.job_lines(is_open=True)

    assert (line.job_id, line.stage, line.title) == (head.id, STAGES[0], "Library van 2")


@pytest.mark.parametrize("price", [-1.0, float("nan"), float("inf")])
def test_prices_are_kept_all_or_none(desk: Desk, price: float) -> None:
    """One that is no price keeps the others out."""
    prices = {**dict.fromkeys(PRICES, 1.0), PRICES[-1]: price}

    with pytest.raises(OutOfRange, match=PRICES[-1]):
        keep_prices(desk, prices, "EUR")
    assert desk.store.settings() == {}
