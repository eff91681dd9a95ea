"""The shelf: a sheet must fit a circuit, a change must know what it changes, stock moves once."""

from __future__ import annotations

from datetime import date

import pytest

from tests.fakes.desk import memory_desk
from ullage.errors import Conflict, FileFaults, NotFound, OutOfRange
from ullage.jobs.keep_shelf import (
    Delivery,
    add_sheet,
    change_sheet,
    deliver,
    expiry_told,
    lot_of,
    move,
)
from ullage.jobs.ports import Desk
from ullage.jobs.shelf import Lot, Sheet, SheetOf

HV = {"class": "HV", "nu40_mm2_s": 22.0, "nu100_mm2_s": 5.0, "rho15_kg_m3": 868.0}
CAME = Delivery(mark="K7", count=12.0, container_m3=1e-3, received_on=date(2026, 5, 4))


@pytest.fixture
def desk() -> Desk:
    """Return an empty desk."""
    return memory_desk()


@pytest.fixture
def fluid(desk: Desk) -> Sheet:
    """Return the sheet of a fluid."""
    return add_sheet(desk, SheetOf.FLUID, "HV 22", HV)


def test_a_sheet_is_kept_as_it_was_written(desk: Desk, fluid: Sheet) -> None:
    """Its first version, under its name."""
    kept = desk.store.sheet(fluid.id)

    assert (kept.name, kept.version, dict(kept.table)) == ("HV 22", 1, HV)


def test_a_sheet_sent_twice_is_one_sheet(desk: Desk) -> None:
    """A form that was sent twice counts once."""
    for _ in range(2):
        add_sheet(desk, SheetOf.FLUID, "HV 22", HV, sheet_id="s12345678")

    assert [sheet.id for sheet in desk.store.sheets()] == ["s12345678"]


def test_faults_of_a_fluid_bear_the_keys_of_its_sheet(desk: Desk) -> None:
    """Thinner at 40 degrees than at all, and no density."""
    with pytest.raises(FileFaults) as caught:
        add_sheet(desk, SheetOf.FLUID, "Odd", {"nu40_mm2_s": -1.0, "nu100_mm2_s": 5.0})

    assert {fault.key for fault in caught.value.faults} == {"nu40_mm2_s", "rho15_kg_m3"}


def test_faults_of_a_filter_bear_the_keys_of_its_sheet(desk: Desk) -> None:
    """A rating below one, a drop without its flow."""
    table = {"beta": {"um": 10.0, "ratio": 0.5}, "clean_dp_bar": {"bar": 0.2, "at_mm2_s": 30.0}}
    with pytest.raises(FileFaults) as caught:
        add_sheet(desk, SheetOf.FILTER, "Odd", table)

    assert {fault.key for fault in caught.value.faults} == {"beta.ratio", "clean_dp_bar.at_l_min"}


def test_two_fluids_do_not_share_a_name(desk: Desk, fluid: Sheet) -> None:
    """However it is spelt; a filter may bear it."""
    with pytest.raises(Conflict, match="another name"):
        add_sheet(desk, SheetOf.FLUID, "hv 22", HV)
    add_sheet(desk, SheetOf.FILTER, "HV 22", {"beta": {"um": 10.0, "ratio": 75.0}})

    assert len(desk.store.sheets()) == 2


def test_a_change_is_the_next_version(desk: Desk, fluid: Sheet) -> None:
    """What was not touched stays."""
    change_sheet(desk, fluid.id, "HV 22", {**HV, "water_mg_kg": 40.0}, seen_version=1)

    kept = desk.store.sheet(fluid.id)
    assert (kept.version, kept.table["water_mg_kg"]) == (2, 40.0)


def test_a_change_of_nothing_is_no_version(desk: Desk, fluid: Sheet) -> None:
    """Saving without a change disturbs nobody."""
    change_sheet(desk, fluid.id, "HV 22", HV, seen_version=1)

    assert desk.store.sheet(fluid.id).version == 1


def test_who_saw_an_older_sheet_is_told(desk: Desk, fluid: Sheet) -> None:
    """Nothing is overwritten unseen."""
    change_sheet(desk, fluid.id, "HV 22 winter", HV, seen_version=1)
    with pytest.raises(Conflict, match="somebody else changed the sheet of HV 22 winter"):
        change_sheet(desk, fluid.id, "HV 22 summer", HV, seen_version=1)

    assert desk.store.sheet(fluid.id).name == "HV 22 winter"


def test_a_delivery_sent_twice_comes_once(desk: Desk, fluid: Sheet) -> None:
    """Twelve containers, not twenty-four."""
    first, second = (deliver(desk, fluid.id, CAME, uid="u12345678") for _ in range(2))

    assert (first == second, lot_of(desk, first).left) == (True, 12.0)


def test_fluid_comes_in_containers_of_a_size(desk: Desk, fluid: Sheet) -> None:
    """Without it nobody could count litres."""
    came = Delivery(mark="K7", count=1.0, received_on=date(2026, 5, 4))
    with pytest.raises(OutOfRange, match="say what one container holds"):
        deliver(desk, fluid.id, came, uid="u12345678")


@pytest.mark.parametrize(("count", "mark"), [(0.0, "K7"), (-1.0, "K7"), (1e9, "K7"), (1.0, " ")])
def test_a_delivery_is_something_with_a_mark(
    desk: Desk, fluid: Sheet, count: float, mark: str
) -> None:
    """Nothing, or a lot that nobody could find, is refused."""
    came = Delivery(mark=mark, count=count, container_m3=1e-3, received_on=date(2026, 5, 4))
    with pytest.raises(OutOfRange):
        deliver(desk, fluid.id, came, uid="u12345678")


def test_what_is_taken_off_is_gone_once(desk: Desk, fluid: Sheet) -> None:
    """Half a container counts as half; the reason stands beside it."""
    lot = deliver(desk, fluid.id, CAME, uid="u12345678")
    for _ in range(2):
        move(desk, lot, -2.5, "spilt", uid="taken-0001")

    assert lot_of(desk, lot).left == 9.5
    assert [one.why for one in desk.store.movements(lot)] == ["delivered", "spilt"]


def test_more_than_is_there_can_not_be_taken(desk: Desk, fluid: Sheet) -> None:
    """The sentence says what is left."""
    lot = deliver(desk, fluid.id, CAME, uid="u12345678")
    with pytest.raises(OutOfRange, match="at most 12, which is left"):
        move(desk, lot, -13.0, "spilt", uid="taken-0001")


@pytest.mark.parametrize(("count", "why"), [(0.0, "spilt"), (-1.0, "  "), (-1.0, "x" * 81)])
def test_a_movement_has_a_count_and_a_reason(
    desk: Desk, fluid: Sheet, count: float, why: str
) -> None:
    """Later somebody will ask."""
    lot = deliver(desk, fluid.id, CAME, uid="u12345678")
    with pytest.raises(OutOfRange):
        move(desk, lot, count, why, uid="taken-0001")


def test_a_lot_that_is_not_there_is_not_found(desk: Desk) -> None:
    """Neither to look at nor to take from."""
    with pytest.raises(NotFound):
        move(desk, "nowhere", -1.0, "spilt", uid="taken-0001")


@pytest.mark.parametrize(
    ("today", "expected"),
    [
        (date(2026, 3, 1), "good until 4 May 2026"),
        (date(2026, 4, 4), "expires in 30 days"),
        (date(2026, 5, 3), "expires tomorrow"),
        (date(2026, 5, 4), "expires today"),
        (date(2026, 5, 5), "expired yesterday: not for a machine"),
        (date(2026, 6, 4), "expired 31 days ago: not for a machine"),
    ],
)
def test_expiry_is_said_in_words(today: date, expected: str) -> None:
    """The last day is still a good one."""
    lot = Lot(
        id="l",
        sheet_id="s",
        mark="K7",
        expires_on=date(2026, 5, 4),
        received_on=date(2025, 5, 4),
    )

    assert expected == expiry_told(lot, today)
