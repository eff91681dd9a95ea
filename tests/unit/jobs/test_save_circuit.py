"""Versions of a circuit: each kept whole, none lost, none twice, and what changed is told."""

from __future__ import annotations

from typing import Any

import pytest

from tests.fakes.desk import memory_desk
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.circuit_changes import changes
from ullage.jobs.ports import Desk
from ullage.jobs.save_circuit import keep_circuit, numbered, save_circuit

_CIRCUIT = "leveller"


@pytest.fixture
def desk() -> Desk:
    """Return a desk with the van and version 1 of its leveller."""
    found = memory_desk()
    add_machine(found, Known(name="Library van 2"), machine_id="van2")
    add_circuit(found, "van2", template_table("levelling-van"), circuit_id=_CIRCUIT)
    return found


def _with_bore(mm: float) -> dict[str, Any]:
    """Return the van's table with another bore of the front left line."""
    table = template_table("levelling-van")
    table["leg"][0]["line"]["bore_mm"] = {"best": mm, "spread_pct": 5, "as": "leg bore"}
    return table


def test_an_edit_becomes_the_next_version_and_the_old_one_stays(desk: Desk) -> None:
    """Version 2 holds the new table; version 1 is what it was."""
    saved = save_circuit(desk, _CIRCUIT, _with_bore(10), base=1)

    assert (saved.number, saved.machine_id, saved.table) == (2, "van2", _with_bore(10))
    assert numbered(desk, _CIRCUIT, 1).table == template_table("levelling-van")


def test_who_saves_on_an_older_version_is_told_and_nothing_is_lost(desk: Desk) -> None:
    """The version that came between stays the newest."""
    save_circuit(desk, _CIRCUIT, _with_bore(10), base=1)

    with pytest.raises(Conflict, match="version 2 was saved while you worked on version 1"):
        save_circuit(desk, _CIRCUIT, _with_bore(12), base=1)
    assert desk.store.newest_circuit(_CIRCUIT).table == _with_bore(10)


def test_the_same_table_sent_twice_is_kept_once(desk: Desk) -> None:
    """A second press of the button finds its own version."""
    first = save_circuit(desk, _CIRCUIT, _with_bore(10), base=1)
    again = save_circuit(desk, _CIRCUIT, _with_bore(10), base=1)

    assert again == first
    assert len(desk.store.circuit_versions(_CIRCUIT)) == 2


def test_a_table_with_a_fault_is_never_kept(desk: Desk) -> None:
    """Every fault is named and no version is added."""
    with pytest.raises(FileFaults, match="bore_mm"):
        save_circuit(desk, _CIRCUIT, _with_bore(-8), base=1)
    assert desk.store.newest_circuit(_CIRCUIT).number == 1


def test_a_name_that_fits_on_no_line_is_refused(desk: Desk) -> None:
    """The name is shown in lists, so it is held to their length."""
    table = {**template_table("levelling-van"), "name": "x" * 200}

    with pytest.raises(OutOfRange) as caught:
        save_circuit(desk, _CIRCUIT, table, base=1)
    assert caught.value.name == "name"


def test_a_new_circuit_sent_again_after_a_change_becomes_a_version_of_itself(desk: Desk) -> None:
    """Going back in the browser and saving again makes no second circuit and loses nothing."""
    keep_circuit(desk, "van2", _with_bore(10), circuit_id="new1")
    keep_circuit(desk, "van2", _with_bore(10), circuit_id="new1")
    last = keep_circuit(desk, "van2", _with_bore(12), circuit_id="new1")

    assert (last.number, last.table) == (2, _with_bore(12))
    assert len(desk.store.circuits_of("van2")) == 2


def test_a_version_that_never_was_is_not_found(desk: Desk) -> None:
    """Asking for version 9 of 1 says so."""
    with pytest.raises(NotFound):
        numbered(desk, _CIRCUIT, 9)


def test_a_change_is_told_with_part_key_unit_and_both_values() -> None:
    """One bore was changed, and one sentence says so."""
    before, after = template_table("levelling-van"), _with_bore(10)

    assert changes(before, after) == ("front-left line bore 8 → 10 mm",)


def test_a_spread_that_narrows_is_told_with_both_ends() -> None:
    """Measuring leaves the best value and changes what is known of it."""
    before = {"line": [{"id": "supply", "length_m": {"best": 4.2, "spread_pct": 40}}]}
    after = {"line": [{"id": "supply", "length_m": {"best": 4.2, "low": 4.0, "high": 4.5}}]}

    assert changes(before, after) == ("supply length 4.2 m ± 40 % → 4.2 (4–4.5) m",)


def test_parts_that_come_and_go_are_told_and_moved_rows_are_not() -> None:
    """A row that only moved is no change; a leg less and a heat table less are."""
    before, after = template_table("levelling-van"), template_table("levelling-van")
    after["node"].reverse()
    del after["heat"]
    gone = after["leg"].pop()

    assert set(changes(before, after)) == {f"leg {gone['id']} taken away", "heat taken away"}
    assert changes(before, before) == ()


def test_a_value_that_is_said_or_no_longer_said_is_told() -> None:
    """What was silent before, and what fell silent, is told apart from a change."""
    before = {"pump": {"idle_rev_min": 750, "kind": "fixed"}}
    after = {"pump": {"idle_rev_min": 700, "limit_l_min": 40}}

    assert set(changes(before, after)) == {
        "pump idle 750 → 700 rev/min",
        "pump limit 40 l/min, not said before",
        "pump kind no longer said, was fixed",
    }
