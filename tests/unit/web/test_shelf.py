"""The shelf on its pages: sheets from the keys of circuit files, lots, expiry in words."""

from __future__ import annotations

from datetime import date

import pytest
from starlette.testclient import TestClient

from tests.fakes.desk import START
from ullage.formats.liquid_keys import FLUID
from ullage.formats.part_keys import NODE
from ullage.jobs.keep_shelf import Delivery, add_sheet, deliver, lot_of
from ullage.jobs.ports import Desk
from ullage.jobs.shelf import Sheet, SheetOf
from ullage.web.circuit_fields import slots
from ullage.web.shelf_fields import LABELS, fields_for, table_for, table_of, typed_of
from ullage.web.shown import Units

HV = {"class": "HV", "nu40_mm2_s": 22.0, "nu100_mm2_s": 5.0, "rho15_kg_m3": 868.0}
SENT = {
    "uid": "a1b2c3d4e5",
    "name": "HV 22",
    "class": "HV",
    "nu40_mm2_s": "22",
    "nu100_mm2_s": "5,1",
    "rho15_kg_m3": "868",
    "particles_per_ml": "900, 240, 18",
}
CAME = {
    "uid": "d1d2d3d4d5",
    "mark": "K7",
    "count": "12",
    "container_l": "1",
    "received_on": "2026-05-04",
    "expires_on": "2027-05-04",
}


@pytest.fixture
def fluid(desk: Desk) -> Sheet:
    """Return a fluid that is described."""
    return add_sheet(desk, SheetOf.FLUID, "HV 22", HV)


def _lot(desk: Desk, sheet: Sheet, mark: str, until: date | None) -> str:
    came = Delivery(
        mark=mark, count=4.0, container_m3=1e-3, received_on=START.date(), expires_on=until
    )
    return deliver(desk, sheet.id, came, uid=f"u-{mark.lower()}-0001")


@pytest.mark.parametrize("of", list(SheetOf))
def test_every_key_of_a_sheet_has_a_label(of: SheetOf) -> None:
    """A key that the schema gains is named here as well."""
    assert [s.name for s in slots(table_for(of)) if s.name not in LABELS] == []


def test_a_sheet_asks_for_what_a_circuit_file_holds() -> None:
    """Every key of a fluid; of a node all that belongs to its element."""
    fluid = {field.name.split(".")[0] for field in fields_for(SheetOf.FLUID)}
    element = {field.name.split(".")[0] for field in fields_for(SheetOf.FILTER)}

    assert fluid == {"name", *FLUID.by_name}
    assert element == {"name", *NODE.by_name} - {"id", "volume_l", "element"}


def test_a_sheet_comes_back_as_it_was_kept() -> None:
    """From table to form to table, in other units too."""
    table = {**HV, "particles_per_ml": [900.0, 240.0, 18.0], "acid_mgkoh_g": 0.5}

    assert table == table_of(SheetOf.FLUID, typed_of(SheetOf.FLUID, "HV 22", table, Units())) | {
        "particles_per_ml": [900.0, 240.0, 18.0]
    }


def test_a_fluid_is_described_and_shown(client: TestClient, desk: Desk) -> None:
    """A decimal comma counts; counts are a list."""
    answer = client.post("/shelf/new/fluid", data=SENT)

    (sheet,) = desk.store.sheets()
    assert sheet.table["nu100_mm2_s"] == 5.1
    assert sheet.table["particles_per_ml"] == [900.0, 240.0, 18.0]
    assert str(answer.url).endswith(f"/shelf/sheets/{sheet.id}")
    assert "900, 240, 18 per mL" in answer.text


def test_a_filter_is_described(client: TestClient, desk: Desk) -> None:
    """Beta and clean pressure drop become tables, as in a circuit file."""
    client.post(
        "/shelf/new/filter",
        data={
            "uid": "a1b2c3d4e5",
            "name": "Return filter",
            "beta.um": "10",
            "beta.ratio": "75",
            "clean_dp_bar.bar": "3 psi",
            "clean_dp_bar.at_l_min": "10",
            "clean_dp_bar.at_mm2_s": "30",
        },
    )

    (sheet,) = desk.store.sheets(SheetOf.FILTER)
    assert sheet.table["beta"] == {"um": 10.0, "ratio": 75.0}
    assert sheet.table["clean_dp_bar"]["bar"] == pytest.approx(0.206843, rel=1e-5)


@pytest.mark.parametrize(
    ("of", "changed", "field"),
    [
        ("fluid", {"nu40_mm2_s": "0"}, "nu40_mm2_s"),
        ("fluid", {"rho15_kg_m3": ""}, "rho15_kg_m3"),
        ("fluid", {"particles_per_ml": "900, many"}, "particles_per_ml"),
        ("filter", {"beta.um": "10"}, "beta.ratio"),
    ],
)
def test_a_fault_stands_beside_its_field(
    client: TestClient, of: str, changed: dict[str, str], field: str
) -> None:
    """With all that was typed."""
    answer = client.post(f"/shelf/new/{of}", data={**SENT, **changed})

    assert answer.status_code == 422
    assert f'id="{field}-fault"' in answer.text
    assert 'value="HV 22"' in answer.text


def test_who_saves_an_older_sheet_is_told(client: TestClient, desk: Desk, fluid: Sheet) -> None:
    """What was typed is still there, nothing was overwritten."""
    sent = {**SENT, "version": "1"}
    client.post(f"/shelf/sheets/{fluid.id}", data={**sent, "name": "HV 22 winter"})
    answer = client.post(f"/shelf/sheets/{fluid.id}", data={**sent, "name": "HV 22 summer"})

    assert answer.status_code == 409
    assert "Somebody else changed the sheet of HV 22 winter meanwhile" in answer.text
    assert 'value="HV 22 summer"' in answer.text
    assert desk.store.sheet(fluid.id).name == "HV 22 winter"


def test_a_delivery_comes_once(client: TestClient, desk: Desk, fluid: Sheet) -> None:
    """However often the form is sent."""
    for _ in range(2):
        answer = client.post(f"/shelf/sheets/{fluid.id}/lots", data=CAME)

    assert [stock.left for stock in desk.store.stock()] == [12.0]
    assert "12 containers of 1\u00a0L left" in answer.text


def test_some_is_taken_off_with_a_reason(client: TestClient, desk: Desk, fluid: Sheet) -> None:
    """The reason is shown beside the count."""
    lot = _lot(desk, fluid, "K7", None)
    sent = {"uid": "m1m2m3m4m5", "way": "off", "count": "1.5", "why": "<b>leaked</b>"}
    answer = client.post(f"/shelf/lots/{lot}/movements", data=sent)

    assert lot_of(desk, lot).left == 2.5
    assert "&lt;b&gt;leaked&lt;/b&gt;" in answer.text


def test_more_than_is_left_is_refused_beside_the_field(
    client: TestClient, desk: Desk, fluid: Sheet
) -> None:
    """Nothing is moved."""
    lot = _lot(desk, fluid, "K7", None)
    sent = {"uid": "m1m2m3m4m5", "way": "off", "count": "5", "why": "leaked"}
    answer = client.post(f"/shelf/lots/{lot}/movements", data=sent)

    assert answer.status_code == 422
    assert 'id="count-fault"' in answer.text
    assert "at most 4, which is left" in answer.text
    assert lot_of(desk, lot).left == 4.0


def test_the_first_to_expire_comes_first(client: TestClient, desk: Desk, fluid: Sheet) -> None:
    """What is expired stands apart and says so."""
    _lot(desk, fluid, "LATE", date(2028, 1, 1))
    _lot(desk, fluid, "OVER", date(2026, 5, 1))
    _lot(desk, fluid, "SOON", date(2026, 5, 20))
    _lot(desk, fluid, "OPEN", None)
    page = client.get("/shelf").text

    places = [page.index(f"lot {mark}<") for mark in ("OVER", "SOON", "LATE", "OPEN")]
    assert places == sorted(places)
    assert "Expired 3 days ago: not for a machine." in page
    assert "expires in 16 days" in page


@pytest.mark.parametrize("path", ["/shelf/sheets/none", "/shelf/lots/none"])
def test_what_is_not_there_is_not_found(client: TestClient, path: str) -> None:
    """With a page that says so."""
    assert client.get(path).status_code == 404
