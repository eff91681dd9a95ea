"""Programs read and write what pages do, and are told in one shape what is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.fakes.garage import fill, photo
from tests.unit.jobs.served_machine import REASON, served_machine
from tests.unit.web.conftest import LAN, PORT, browser
from ullage.jobs.add_machine import template_table
from ullage.jobs.answer import Of
from ullage.jobs.ports import Desk, Device
from ullage.jobs.prices import PRICES
from ullage.web.api.garage import PricesKept, UnitsChosen
from ullage.web.door import limit_of
from ullage.web.shown import CHOICES

V1 = "/api/v1"
OIL = {"class": "HV", "nu40_mm2_s": 32.0, "nu100_mm2_s": 5.6, "rho15_kg_m3": 870.0}


@pytest.fixture
def job(desk: Desk) -> str:
    """Return a job with entries, an answer and a photo."""
    return fill(desk)


def entry(uid: str, **more: Any) -> dict[str, Any]:
    """Return an entry of a phone."""
    made = {
        "uid": uid,
        "device": "phone",
        "device_seq": 1,
        "kind": "note",
        "device_at": "2026-05-04T08:30:00+02:00",
        "payload": {"note": "a note"},
    }
    return {**made, **more}


def test_a_machine_is_taken_in_once_and_changed_by_version(client: TestClient) -> None:
    """Who starts from an older version is told so."""
    new = {"id": "van3", "name": "Van 3", "counter": "hours"}
    first, again = (client.post(f"{V1}/machines", json=new) for _ in range(2))
    change = {"name": "Van 3b", "version": 1}
    saved = client.put(f"{V1}/machines/van3", json=change)
    late = client.put(f"{V1}/machines/van3", json={**change, "name": "Van 3c"})

    assert (first.status_code, again.json()) == (201, first.json())
    assert (saved.json()["version"], saved.json()["name"]) == (2, "Van 3b")
    assert (late.status_code, list(late.json())) == (409, ["error"])
    assert [one["name"] for one in client.get(f"{V1}/machines?q=3B").json()] == ["Van 3b"]


def test_two_machines_of_one_name_are_a_conflict(client: TestClient, job: str) -> None:
    """The other one stays."""
    answer = client.post(f"{V1}/machines", json={"name": "library VAN 2"})

    assert answer.status_code == 409


def test_a_circuit_is_saved_version_by_version(client: TestClient, job: str) -> None:
    """The version that somebody else saved meanwhile stays, and the sender is told."""
    table = template_table("levelling-van")
    table["name"] = "Leveller, measured"
    saved = client.post(f"{V1}/circuits/leveller/versions", json={"base": 1, "table": table})
    other = {**table, "name": "Leveller, guessed"}
    late = client.post(f"{V1}/circuits/leveller/versions", json={"base": 1, "table": other})

    assert (saved.status_code, saved.json()["number"]) == (200, 2)
    assert late.status_code == 409
    assert [one["number"] for one in client.get(f"{V1}/circuits/leveller/versions").json()] == [
        2,
        1,
    ]
    assert client.get(f"{V1}/circuits/leveller/versions/1").json()["name"] != table["name"]
    assert client.get(f"{V1}/circuits/leveller").json()["table"] == table
    assert client.get(f"{V1}/circuits/leveller/versions/3").status_code == 404


def test_every_fault_of_a_circuit_is_told(client: TestClient, job: str) -> None:
    """With its place, what stands there and what may."""
    table = template_table("levelling-van")
    table["reservoir"]["full_l"] = -1
    table["pump"]["idle_rev_min"] = "fast"
    answer = client.post(f"{V1}/circuits/leveller/versions", json={"base": 1, "table": table})

    faults = {fault["key"]: fault for fault in answer.json()["faults"]}
    assert answer.status_code == 422
    assert {"reservoir.full_l", "pump.idle_rev_min"} <= set(faults)
    assert faults["pump.idle_rev_min"]["value"] == "fast"


def test_a_machine_is_given_a_circuit(client: TestClient, job: str) -> None:
    """Once; the same id with another table is its next version."""
    sent = {"id": "lift", "table": template_table("scissor-lift")}
    first, again = (client.post(f"{V1}/machines/van2/circuits", json=sent) for _ in range(2))

    assert (first.status_code, again.json()) == (201, first.json())
    assert {one["circuit"] for one in client.get(f"{V1}/machines/van2/circuits").json()} == {
        "leveller",
        "lift",
    }


def test_jobs_are_listed_part_by_part(client: TestClient, job: str) -> None:
    """The count is that of all."""
    part = client.get(f"{V1}/jobs?open=true&q=library&limit=1&offset=0").json()

    assert (part["count"], [one["id"] for one in part["jobs"]]) == (1, [job])
    assert client.get(f"{V1}/jobs?offset=1").json()["jobs"] == []
    assert client.get(f"{V1}/jobs?open=false").json() == {"count": 0, "jobs": []}


def test_a_job_is_told_as_it_stands(client: TestClient, job: str) -> None:
    """Seven stages, the next thing, and what was written down last."""
    told = client.get(f"{V1}/jobs/{job}").json()

    assert [one["state"] for one in told["stages"]] == ["in hand", *["to come"] * 6]
    assert told["next"] == {
        "sentence": "Judge whether the exchange is due.",
        "who": "at the desk",
    }
    assert told["use"]["distance_km"] == 84_000.0
    assert (told["goal"], told["is_closed"], told["seq"]) == (None, False, 3)


def test_a_second_job_on_a_circuit_is_a_conflict(client: TestClient, job: str) -> None:
    """Two would count each other's litres."""
    assert client.post(f"{V1}/jobs", json={"circuit": "leveller"}).status_code == 409
    assert client.post(f"{V1}/jobs", json={"circuit": "nothing"}).status_code == 404


def test_a_job_is_opened_once(client: TestClient, job: str) -> None:
    """However often it is sent."""
    sent = {"id": "lift", "table": template_table("scissor-lift")}
    client.post(f"{V1}/machines/van2/circuits", json=sent)
    new = {"circuit": "lift", "id": "job00002"}
    first, again = (client.post(f"{V1}/jobs", json=new) for _ in range(2))

    assert (first.status_code, first.json()["id"]) == (201, "job00002")
    assert again.json() == first.json()


def test_entries_are_added_once_and_read_on(client: TestClient, job: str) -> None:
    """A device that heard no answer sends all again; another reads on from where it was."""
    two = {"entries": [entry("phone-0001"), entry("phone-0002", device_seq=2)]}
    first, again = (client.post(f"{V1}/jobs/{job}/entries", json=two) for _ in range(2))
    read = client.get(f"{V1}/jobs/{job}/entries?after=3").json()

    assert (first.status_code, again.json()) == (200, first.json())
    assert [one["uid"] for one in read["entries"]] == ["phone-0001", "phone-0002"]
    assert read["entries"][0]["device_at"] == "2026-05-04T06:30:00Z"
    assert (read["last"], read["is_all"]) == (5, True)
    assert client.get(f"{V1}/jobs/{job}/entries?after=5").json()["last"] == 5


@pytest.mark.parametrize(
    ("wrong", "status", "field"),
    [
        ({"payload": {"note": "other"}}, 409, None),
        ({"uid": "phone-0002", "payload": {"colour": "red"}}, 422, "note"),
        ({"uid": "phone-0002", "kind": "photo"}, 422, "kind"),
        ({"uid": "phone-0002", "kind": "reading", "payload": {}}, 422, "reading.sample"),
        ({"uid": "phone-0002", "kind": "nothing"}, 422, "entries[1].kind"),
        ({"uid": "phone-0002", "device_at": "2026-05-04T08:30:00"}, 422, "entries[1].device_at"),
        (
            {"uid": "phone-0002", "device_at": "0001-01-01T00:00:00+05:00"},
            422,
            "entries[1].device_at",
        ),
        ({"uid": "phone-0002", "device_at": 5}, 422, "entries[1].device_at"),
        ({"uid": "X"}, 422, "entries[1].uid"),
        ({"uid": "phone-0002", "device_seq": "2"}, 422, "entries[1].device_seq"),
        ({"uid": "phone-0002", "payload": {"note": "\ud800"}}, 422, "entries[1].payload"),
    ],
)
def test_nothing_is_added_where_one_entry_is_wrong(
    client: TestClient, job: str, wrong: dict[str, Any], status: int, field: str | None
) -> None:
    """The refusal names the place."""
    both = {"entries": [entry("phone-0001"), {**entry("phone-0001"), **wrong}]}
    kind = {"content-type": "application/json"}
    answer = client.post(f"{V1}/jobs/{job}/entries", content=json.dumps(both), headers=kind)

    assert (answer.status_code, answer.json().get("field")) == (status, field)
    assert client.get(f"{V1}/jobs/{job}").json()["seq"] == 3


def test_an_entry_is_taken_back(client: TestClient, job: str) -> None:
    """It stays in the log and no longer counts; a second time is a conflict."""
    client.post(f"{V1}/jobs/{job}/entries", json={"entries": [entry("phone-0001")]})
    use = client.get(f"{V1}/jobs/{job}/entries").json()["entries"][1]["uid"]
    first, again = (client.post(f"{V1}/jobs/{job}/take-back", json={"uid": use}) for _ in range(2))

    assert (first.status_code, first.json()["payload"]) == (200, {"uid": use})
    assert again.status_code == 409
    assert client.get(f"{V1}/jobs/{job}").json()["use"] is None


def test_a_stage_is_finished_by_its_own_rules(client: TestClient, job: str) -> None:
    """Assess needs a verdict that holds and a word on the family of the fluid."""
    address = f"{V1}/jobs/{job}/stages/assess"
    early = client.post(address, json={"uid": "stage-0001"})
    found = {"level_mm": -6.0, "family_proof": "papers of the machine"}
    client.post(
        f"{V1}/jobs/{job}/entries",
        json={"entries": [entry("phone-0001", kind="as-found", payload=found)]},
    )
    due = client.post(f"{V1}/jobs/{job}/work", json={"of": "due"}).json()
    done = client.post(address, json={"uid": "stage-0002"})
    reopened = client.post(address, json={"uid": "stage-0003", "state": "in hand"})

    assert early.status_code == 409
    assert (due["answer"]["of"], due["work"]) == ("due", None)
    assert done.json()["stages"][0]["state"] == "finished"
    assert done.json()["stages"][0]["result"]
    assert reopened.json()["stage"] == "assess"


def test_answers_are_listed_and_read(client: TestClient, job: str) -> None:
    """With all that went in."""
    heads = client.get(f"{V1}/jobs/{job}/answers?of=due").json()
    whole = client.get(f"{V1}/answers/{heads[0]['id']}").json()

    assert whole["body"] == {"answer": "due"}
    assert {key: whole[key] for key in heads[0]} == heads[0]
    assert client.get(f"{V1}/jobs/{job}/answers?of=plan").json() == []


def test_a_plan_needs_a_goal(client: TestClient, job: str) -> None:
    """And a verdict needs a step, and a choice something to choose."""
    assert client.post(f"{V1}/jobs/{job}/work", json={"of": "plan"}).status_code == 409
    assert client.post(f"{V1}/jobs/{job}/work", json={"of": "verdict"}).status_code == 409
    choice = {"uid": "choice-0001", "method": "plan"}
    assert client.post(f"{V1}/jobs/{job}/recipe", json=choice).status_code == 409
    both = {**choice, "recipe": {}}
    assert client.post(f"{V1}/jobs/{job}/recipe", json=both).json()["field"] == "recipe"


def test_work_is_begun_once_looked_at_and_called_off(client: TestClient, job: str) -> None:
    """The same question while it lasts is the same piece."""
    goal = entry("phone-0001", kind="goal", payload={"target_pct": 10.0})
    client.post(f"{V1}/jobs/{job}/entries", json={"entries": [goal]})
    first, again = (client.post(f"{V1}/jobs/{job}/work", json={"of": "plan"}) for _ in range(2))
    name = first.json()["work"]["id"]
    seen = client.get(f"{V1}/waiting/{name}")
    off = client.post(f"{V1}/waiting/{name}/call-off")

    assert (first.status_code, again.json()["work"]["id"]) == (200, name)
    assert seen.json()["title"].startswith("Planning: ")
    assert off.json()["state"] == "cancelled"
    assert client.get(f"{V1}/waiting/nothing").status_code == 404


def test_a_recipe_that_is_sent_is_judged_by_the_worker_and_chosen(
    client: TestClient, web: FastAPI, desk: Desk, job: str
) -> None:
    """The answer is kept whether or not anybody looks."""
    goal = entry("phone-0001", kind="goal", payload={"target_pct": 50.0})
    client.post(f"{V1}/jobs/{job}/entries", json={"entries": [goal]})
    recipe = {
        "format": "ullage-recipe/1",
        "name": "One litre",
        "temperature_degc": 45.0,
        "step": [{"do": "exchange", "litres": 1.0, "rev_min": 750}],
    }
    choice = {"uid": "choice-0001", "recipe": recipe}
    begun = client.post(f"{V1}/jobs/{job}/recipe", json=choice).json()["work"]
    web.state.work.wait(begun["id"], timeout_s=60.0)

    assert client.get(f"{V1}/waiting/{begun['id']}").json()["state"] == "done"
    told = client.get(f"{V1}/jobs/{job}").json()
    assert told["recipe"]["method"] == "own recipe"
    assert told["answers"][Of.PLAN] == "choice-0001-answer"


def test_the_shelf_is_kept(client: TestClient) -> None:
    """Sheets by version, deliveries and movements once, never below nothing."""
    new = {"id": "oil", "of": "fluid", "name": "Thin oil", "table": OIL}
    sheet = client.post(f"{V1}/shelf/sheets", json=new)
    changed = {"name": "Thin oil, new", "table": OIL, "version": 1}
    assert client.put(f"{V1}/shelf/sheets/oil", json=changed).json()["version"] == 2
    assert client.put(f"{V1}/shelf/sheets/oil", json=changed).status_code == 409
    came = {
        "uid": "came-0001",
        "mark": "K7",
        "count": 4,
        "container_l": 1.0,
        "received_on": "2026-05-04",
    }
    lot = client.post(f"{V1}/shelf/sheets/oil/lots", json=came).json()
    taken = {"uid": "taken-0001", "count": -1.5, "why": "spilt"}
    for _ in range(2):
        after = client.post(f"{V1}/shelf/lots/{lot['lot']}/movements", json=taken).json()
    too_much = client.post(
        f"{V1}/shelf/lots/{lot['lot']}/movements",
        json={**taken, "uid": "taken-0002", "count": -3},
    )

    assert sheet.status_code == 201
    assert (lot["left"], lot["container_l"], after["left"]) == (4.0, 1.0, 2.5)
    assert (too_much.status_code, too_much.json()["field"]) == (422, "count")
    moved = client.get(f"{V1}/shelf/lots/{lot['lot']}/movements").json()
    assert [one["count"] for one in moved] == [4.0, -1.5]
    assert [one["name"] for one in client.get(f"{V1}/shelf/stock").json()] == ["Thin oil, new"]


def test_a_lot_is_used_by_a_job_and_given_back(client: TestClient, job: str) -> None:
    """Taking the entry back puts it on the shelf again."""
    new = {"id": "oil", "of": "fluid", "name": "Thin oil", "table": OIL}
    client.post(f"{V1}/shelf/sheets", json=new)
    came = {
        "uid": "came-0001",
        "mark": "K7",
        "count": 4,
        "container_l": 1.0,
        "received_on": "2026-05-04",
    }
    lot = client.post(f"{V1}/shelf/sheets/oil/lots", json=came).json()["lot"]
    use = {"uid": "used-0001", "lot": lot, "litres": 2.0}
    assert client.post(f"{V1}/jobs/{job}/lots", json=use).status_code == 200
    left = client.get(f"{V1}/shelf/lots/{lot}").json()["left"]
    uid = client.get(f"{V1}/jobs/{job}/entries").json()["entries"][-1]["uid"]
    client.post(f"{V1}/jobs/{job}/take-back", json={"uid": uid})

    assert left == 2.0
    assert client.get(f"{V1}/shelf/lots/{lot}").json()["left"] == 4.0


def test_settings_are_kept_whole(client: TestClient) -> None:
    """What is read can be sent back, changed."""
    told = client.get(f"{V1}/settings").json()
    told["units"]["volume"] = "us_qt"
    told["prices"]["filter_each"] = 30
    saved = client.put(f"{V1}/settings", json=told)
    wrong = client.put(f"{V1}/settings", json={**told, "currency": "\t"})

    assert saved.json()["units"]["volume"] == "us_qt"
    assert client.get(f"{V1}/settings").json()["prices"]["filter_each"] == 30.0
    assert (wrong.status_code, wrong.json()["field"]) == (422, "currency")


def test_settings_are_those_of_the_pages() -> None:
    """No unit or price is forgotten."""
    units = {
        key: set(field.annotation.__args__)  # type: ignore[union-attr]
        for key, field in UnitsChosen.model_fields.items()
    }

    assert units == {key: {word for word, _ in words} for key, (_, words) in CHOICES.items()}
    assert tuple(PricesKept.model_fields) == PRICES


def test_a_device_is_struck_out_at_the_computer_alone(
    open_web: FastAPI, desk: Desk, client: TestClient
) -> None:
    """Another device can't do it."""
    desk.store.add_device(
        Device(id="phone1", name="Phone", paired_at=desk.now(), seen_at=desk.now())
    )
    there = f"http://{LAN}:{PORT}"
    with browser(open_web, at=LAN, host=there) as paired:
        paired.cookies.set("ullage_device", open_web.state.pairing._signer.sign("phone1").decode())
        seen = paired.get(f"{V1}/devices")
        refused = paired.post(f"{V1}/devices/phone1/strike-out", json={})
    done = client.post(f"{V1}/devices/phone1/strike-out")

    assert [one["name"] for one in seen.json()] == ["Phone"]
    assert (refused.status_code, list(refused.json())) == (403, ["error"])
    assert done.json()["revoked_at"] is not None


def test_a_photo_is_sent_and_handed_out(client: TestClient, job: str) -> None:
    """Once, as bytes of a picture."""
    data = photo(shade=40)
    address = f"{V1}/jobs/{job}/photos?uid=photo-0001&stage=assess&name=level.jpg"
    kind = {"content-type": "image/jpeg"}
    first, again = (client.post(address, content=data, headers=kind) for _ in range(2))
    sha256 = first.json()["photo"]["sha256"]

    assert (first.status_code, again.json()) == (201, first.json())
    assert client.get(f"{V1}/photos/{sha256}").json()["width"] == 40
    assert client.get(f"{V1}/photos/{sha256}/original").content == data
    assert client.get(f"{V1}/photos/{sha256}/preview").headers["content-type"] == "image/jpeg"


@pytest.mark.parametrize(
    ("kind", "data", "status"),
    [("text/plain", photo(), 415), ("image/jpeg", b"no picture", 422), ("image/png", b"", 422)],
)
def test_what_is_no_photo_is_refused(
    client: TestClient, job: str, kind: str, data: bytes, status: int
) -> None:
    """By its kind, or by what it holds."""
    address = f"{V1}/jobs/{job}/photos?uid=photo-0001"
    answer = client.post(address, content=data, headers={"content-type": kind})

    assert (answer.status_code, "error" in answer.json()) == (status, True)


def test_a_job_goes_out_and_comes_in(client: TestClient, job: str) -> None:
    """The same file again changes nothing; what contradicts what is here is a conflict."""
    file = client.get(f"{V1}/jobs/{job}/file").json()
    same = client.post(f"{V1}/job-files", json=file)
    file["job"]["title"] = "Another title"
    other = client.post(f"{V1}/job-files", json=file)
    broken = client.post(
        f"{V1}/job-files", content=b'{"a": NaN}', headers={"content-type": "application/json"}
    )
    as_text = client.post(f"{V1}/job-files", content=b"{}", headers={"content-type": "text/plain"})

    assert same.json() == {"job": job, "entries": 3}
    assert [one.status_code for one in (other, broken, as_text)] == [409, 422, 415]


def test_what_is_due_and_what_was_read_over_the_years_is_told(
    client: TestClient, desk: Desk
) -> None:
    """In the units of the keys, with the reason and whose limit it is."""
    machine = served_machine(desk)
    client.post(f"{V1}/machines", json={"id": "bare", "name": "Bare"})
    served, bare = client.get(f"{V1}/due").json()
    found = client.get(f"{V1}/due?q=bare").json()
    (circuit,) = client.get(f"{V1}/machines/{machine}/trends").json()
    water = next(one for one in circuit["followed"] if one["what"] == "water")

    assert (served["machine"], served["when"], served["reason"]) == (machine, "to come", REASON)
    marks = {one["count"]: one for one in (served["first"], *served["others"])}
    assert marks["day"]["on"] == "2029-04-20"
    assert marks["distance"]["at"] == 232_500.0
    assert (bare["circuit"], bare["when"], bare["first"]) == (None, "never served", None)
    assert found == [bare]
    assert (water["unit"], water["limits"][0]["value"]) == ("mg_kg", 500.0)
    assert water["limits"][0]["source"] == "common practice, no source"
    assert client.get(f"{V1}/machines/nobody/trends").status_code == 404


def test_a_sum_is_described_and_worked_out(client: TestClient) -> None:
    """Numbers in the key's own unit, or texts with one."""
    told = client.get(f"{V1}/sums/beta").json()
    answer = client.post(f"{V1}/sums/beta", json={"keys": {"up": 1000, "down": "50"}})

    assert [key["name"] for key in told["keys"]] == ["up", "down"]
    assert answer.json()["values"]["efficiency_pct"] == 95.0
    assert client.post(f"{V1}/sums/beta", json={"keys": told["example"]}).status_code == 200
    assert client.get(f"{V1}/sums/alpha").status_code == 404


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({"up": 1000}, "the keys of beta"),
        ({"up": 1000, "down": -1}, "down"),
        ({"up": 1000, "down": 50, "side": 1}, "keys"),
        ({"up": 1000, "down": True}, "keys.down.float"),
    ],
)
def test_a_sum_says_what_it_lacks(client: TestClient, keys: dict[str, Any], field: str) -> None:
    """By the name of the key."""
    answer = client.post(f"{V1}/sums/beta", json={"keys": keys})

    assert (answer.status_code, answer.json()["field"]) == (422, field)


def test_what_can_not_be_read_is_told_in_our_shape(client: TestClient) -> None:
    """Each fault with its place and what stands there."""
    answer = client.post(f"{V1}/machines", json={"name": 7, "wheels": 4})
    no_json = client.post(
        f"{V1}/machines", content="{", headers={"content-type": "application/json"}
    )
    deep = client.post(
        f"{V1}/machines", content="[" * 100_000, headers={"content-type": "application/json"}
    )

    assert answer.json() == {
        "error": "name: input should be a valid string",
        "field": "name",
        "value": "7",
        "faults": [
            {"key": "name", "problem": "input should be a valid string", "value": "7"},
            {"key": "wheels", "problem": "extra inputs are not permitted", "value": "4"},
        ],
    }
    assert (no_json.status_code, no_json.json()["field"]) == (422, "body")
    assert deep.status_code == 422


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded"])
def test_only_json_is_taken(client: TestClient, kind: str) -> None:
    """A form of a page is sent to its page."""
    answer = client.post(f"{V1}/machines", content=b"{}", headers={"content-type": kind})

    assert (answer.status_code, list(answer.json())) == (415, ["error"])


def test_the_door_holds_and_speaks_json(client: TestClient, open_web: FastAPI) -> None:
    """Host, origin, device and size, as for pages."""
    evil = {"origin": "http://elsewhere.example"}
    new = {"name": "Van 9"}
    large = b" " * 300_000
    with browser(open_web, at="192.168.1.77", host=f"http://{LAN}:{PORT}") as stranger:
        unknown = stranger.get(f"{V1}/machines")
    answers = [
        client.get(f"{V1}/machines", headers={"host": "elsewhere.example"}),
        client.post(f"{V1}/machines", json=new, headers=evil),
        unknown,
        client.post(f"{V1}/machines", content=large, headers={"content-type": "application/json"}),
        client.post(
            f"{V1}/machines",
            content=iter([large]),
            headers={"content-type": "application/json"},
        ),
    ]

    assert [one.status_code for one in answers] == [421, 403, 401, 413, 413]
    assert [list(one.json()) for one in answers] == [["error"]] * 5
    assert client.get(f"{V1}/machines").json() == []


def test_photos_and_whole_jobs_may_be_larger() -> None:
    """As much as their pages take."""
    assert limit_of(f"{V1}/jobs/job1/photos") == limit_of("/jobs/job1/photos")
    assert limit_of(f"{V1}/job-files") > limit_of(f"{V1}/jobs/job1/photos") > limit_of(V1)


def test_a_failure_is_told_without_what_happened(
    web: FastAPI, client: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What happened goes to the log."""

    def fails(**_: object) -> None:
        raise RuntimeError("a secret")

    monkeypatch.setattr(desk.store, "machines", fails)
    answer = client.get(f"{V1}/machines")

    assert (answer.status_code, list(answer.json())) == (500, ["error"])
    assert "secret" not in answer.text


def test_an_address_that_is_not_there_is_told_in_json(client: TestClient) -> None:
    """And a way of asking that is not one."""
    assert "/api lists" in client.get("/api/v2/machines").json()["error"]
    assert client.put(f"{V1}/machines", json={}).status_code == 405


def test_the_page_shows_what_is_described(client: TestClient) -> None:
    """Every address, every shape; nothing is loaded from elsewhere."""
    page = client.get("/api").text
    table = client.get("/api/openapi.json").json()

    assert [path for path in table["paths"] if path not in page] == []
    assert [name for name in table["components"]["schemas"] if name not in page] == []
    assert "https://" not in page


def test_pages_do_not_wait_for_the_api(app: Any) -> None:
    """Its models are made when the first program asks."""
    code = "import sys, ullage.cli.serve; print('ullage.web.api.served' in sys.modules)"
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout

    assert said.strip() == "False"
