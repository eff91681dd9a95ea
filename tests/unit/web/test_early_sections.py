"""Assess, plan and prepare as a browser sends and shows them."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.unit.jobs.early_job import GOAL, chosen, opened, planned, wanting
from tests.unit.web.conftest import browser
from ullage.jobs.answer import Of
from ullage.jobs.assess import due_answer
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job
from ullage.jobs.ports import Desk
from ullage.jobs.propose_plan import plan_answer, take_plan
from ullage.jobs.save_circuit import save_circuit
from ullage.jobs.stage import Stage

_PATIENCE_S = 120.0


@pytest.fixture
def client(web: FastAPI) -> Iterator[TestClient]:
    """Return a browser; leaving it ends the worker."""
    with browser(web) as found:
        yield found


def _send(client: TestClient, path: str, uid: str = "0" * 12, **fields: str) -> Any:
    return client.post(path, data={"uid": uid, **fields}, follow_redirects=False)


def _awaited(client: TestClient, reply: Any) -> Mapping[str, Any]:
    """Return a piece of work once it has ended."""
    assert reply.status_code == 303
    address = reply.headers["location"]
    assert address.startswith("/waiting/")
    until = time.monotonic() + _PATIENCE_S
    while time.monotonic() < until:
        piece: dict[str, Any] = client.get(address, headers={"accept": "application/json"}).json()
        if piece["state"] not in ("waiting", "under way"):
            return piece
        time.sleep(0.05)
    raise AssertionError("the work did not end")


# --- assess ---------------------------------------------------------------------------------------


def test_how_it_was_found_is_written_down_with_the_side_of_the_mark(
    client: TestClient, desk: Desk
) -> None:
    """Nobody has to find a minus on a phone; the page shows what was written."""
    job = opened(desk)
    reply = _send(
        client,
        f"/jobs/{job}/assess/note/found",
        level="6",
        side="below",
        state="charged",
        at_degc="18",
        family_proof="label on the reservoir",
    )
    page = client.get(f"/jobs/{job}").text
    found = load_job(desk, job).as_found

    assert reply.status_code == 303
    assert found is not None
    assert found.payload["level_mm"] == -6.0
    assert "Level: 6\N{NO-BREAK SPACE}mm below the mark" in page


def test_a_fault_stands_beside_its_field_and_nothing_typed_is_lost(
    client: TestClient, desk: Desk
) -> None:
    """Two of three counts are no particle code."""
    job = opened(desk)
    reply = _send(client, f"/jobs/{job}/assess/note/sample", n4="9000", n6="2400", debris="rubber")

    assert reply.status_code == 422
    assert "All three counts are needed, or none." in reply.text
    assert 'value="rubber"' in reply.text
    assert load_job(desk, job).condition is None


def test_an_unknown_family_stops_the_job_with_a_sentence(client: TestClient, desk: Desk) -> None:
    """It can't be finished, whatever the verdict."""
    job = opened(desk)
    path = f"/jobs/{job}/assess"
    _send(client, f"{path}/note/found", "found0000001", family_proof="not known", leaks="none")
    _send(client, f"{path}/judge")
    reply = _send(client, f"{path}/finish", "finish000001")

    assert reply.status_code == 422
    assert "Families are never mixed" in reply.text
    assert load_job(desk, job).stage is Stage.ASSESS


def test_every_judged_line_shows_its_limit_and_whose_it_is(client: TestClient, desk: Desk) -> None:
    """Inside, at or past; what nobody measured is unknown."""
    job = opened(desk)
    path = f"/jobs/{job}/assess"
    _send(client, f"{path}/note/use", "use000000001", since_days="1500", interval_days="1000")
    _send(client, f"{path}/note/sample", "sample000001", water_mg_kg="120")
    _send(client, f"{path}/judge")
    page = client.get(f"/jobs/{job}").text

    assert "1500 days since the last exchange: past the interval of 1000 days." in page
    assert "past; limit: papers of the machine" in page
    assert "inside; limit: common practice, no source" in page
    assert re.search(r"Particles were not counted\.</span> <span class=\"rest\">unknown", page)


def test_what_is_worth_measuring_is_worked_out_by_the_worker(
    client: TestClient, desk: Desk
) -> None:
    """Asked for once; then it stands on the page."""
    job = opened(desk)
    reply = _send(client, f"/jobs/{job}/assess/measure")
    if reply.headers["location"].startswith("/waiting/"):
        assert _awaited(client, reply)["state"] == "done"
    page = client.get(f"/jobs/{job}").text

    assert "What would narrow that most" in page
    assert "of the doubt; takes" in page


def test_a_newer_circuit_is_offered_and_taken(client: TestClient, desk: Desk) -> None:
    """What was measured and written into the circuit reaches this job."""
    job = opened(desk)
    head = load_job(desk, job).head
    version = desk.store.circuit_version(head.circuit_version_id)
    pump = {**version.table["pump"], "efficiency_pct": 91.0}
    save_circuit(desk, head.circuit_id, {**version.table, "pump": pump}, base=1)
    before = client.get(f"/jobs/{job}").text
    _send(client, f"/jobs/{job}/assess/newest")
    after = client.get(f"/jobs/{job}").text

    assert "version 2 is newer" in before
    assert "version 2 is newer" not in after


# --- plan -----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_goal_gets_a_plan_while_other_pages_answer(client: TestClient, desk: Desk) -> None:
    """Worked out beside them, kept, and shown with its choice."""
    job = wanting(desk)
    fields = {f"without-{word}": "yes" for word in GOAL["without"]}
    reply = _send(
        client, f"/jobs/{job}/plan/goal", "goal00000002", target_pct="30", people="2", **fields
    )
    took = []
    while (
        client.get(reply.headers["location"], headers={"accept": "application/json"}).json()[
            "state"
        ]
        != "done"
    ):
        began = time.monotonic()
        assert client.get("/").status_code == 200
        took.append(time.monotonic() - began)
    page = client.get(f"/jobs/{job}").text

    assert plan_answer(desk, load_job(desk, job)) is not None
    assert max(took) < 2.0
    assert "of 100 simulated machines" in page
    assert "Take this plan" in page


def test_the_page_of_the_work_needs_no_script(client: TestClient, desk: Desk) -> None:
    """It loads itself again while it lasts, can be cancelled, and says so afterwards."""
    job = wanting(desk)
    address = _send(client, f"/jobs/{job}/plan/ask").headers["location"]
    page = client.get(address).text
    cancelled = client.post(f"{address}/cancel", follow_redirects=False)
    piece = client.get(address, headers={"accept": "application/json"}).json()

    assert '<noscript><meta http-equiv="refresh" content="1"></noscript>' in page
    assert f'action="{address}/cancel"' in page
    assert cancelled.headers["location"] == f"/jobs/{job}#plan"
    assert piece["state"] == "cancelled"
    assert "Cancelled." in client.get(address).text


def test_the_same_question_twice_is_one_piece_of_work(client: TestClient, desk: Desk) -> None:
    """However often the button is pressed; cancelled, it may be asked anew."""
    job = wanting(desk)
    first = _send(client, f"/jobs/{job}/plan/ask", "ask000000001").headers["location"]
    second = _send(client, f"/jobs/{job}/plan/ask", "ask000000002").headers["location"]
    client.post(f"{first}/cancel")
    _send(client, f"/jobs/{job}/plan/ask", "ask000000003")
    again = client.get(first, headers={"accept": "application/json"}).json()["state"]

    assert first == second
    assert again in ("waiting", "under way", "done")


def test_a_goal_out_of_range_is_told_beside_its_field(client: TestClient, desk: Desk) -> None:
    """Nothing is planned."""
    job = wanting(desk)
    reply = _send(client, f"/jobs/{job}/plan/goal", "goal00000003", target_pct="0")

    assert reply.status_code == 422
    assert "between 0.5" in reply.text


def test_the_plan_is_taken_and_its_stage_finished(client: TestClient, desk: Desk) -> None:
    """The result names containers and how sure."""
    job, answer = planned(desk)
    _send(client, f"/jobs/{job}/plan/choose", "choose000001", method="plan")
    _send(client, f"/jobs/{job}/plan/finish", "finish000002")
    found = load_job(desk, job)

    assert found.recipe_table == answer.body["recipe"]
    assert found.finished[Stage.PLAN].startswith(f"{answer.body['containers']} containers")


def test_another_method_is_judged_then_chosen(client: TestClient, desk: Desk) -> None:
    """The page then tells of that recipe, and Prepare gets its lists."""
    job, answer = planned(desk)
    name = next(one["name"] for one in answer.body["methods"] if one["recipe"])
    piece = _awaited(client, _send(client, f"/jobs/{job}/plan/choose", "choose000002", method=name))
    page = client.get(f"/jobs/{job}").text

    assert piece["state"] == "done"
    assert f"<h3>The recipe: {name}</h3>" in page
    assert load_job(desk, job).answers[Of.PLAN.value] != answer.id


def test_a_changed_figure_makes_a_recipe_of_its_own(client: TestClient, desk: Desk) -> None:
    """Unchanged it is refused; changed it is judged and chosen."""
    job, answer = planned(desk)
    page = client.get(f"/jobs/{job}").text
    fields = dict(
        re.findall(r'id="change-s\d+_\w+" name="(s\d+_\w+)" value="([^"]+)" inputmode', page)
    )
    key = next(key for key in fields if key.endswith("_litres"))
    same = _send(client, f"/jobs/{job}/plan/change", "change000001", **fields)
    fields[key] = f"{float(fields[key]) + 1.0:g}"
    piece = _awaited(client, _send(client, f"/jobs/{job}/plan/change", "change000002", **fields))
    recipe = load_job(desk, job).recipe_table
    number = int(re.findall(r"\d+", key)[0])

    assert same.status_code == 422
    assert piece["state"] == "done"
    assert recipe is not None
    assert recipe["step"][number - 1]["litres"] == pytest.approx(
        answer.body["recipe"]["step"][number - 1]["litres"] + 1.0
    )


def test_a_recipe_file_with_faults_names_them(client: TestClient, desk: Desk) -> None:
    """In the fold where it was pasted, with what was pasted."""
    job, _ = planned(desk)
    text = 'format = "ullage-recipe/1"\nname = "Mine"\n[[step]]\ndo = "bleed"\nleg = "nowhere"\n'
    reply = _send(client, f"/jobs/{job}/plan/own", "own000000001", recipe=text + "litres = 1\n")

    assert reply.status_code == 422
    assert "nowhere" in reply.text
    assert load_job(desk, job).recipe is None


@pytest.mark.parametrize("shape", ["wide", "upright"])
def test_pictures_of_a_plan_are_drawings_and_nothing_else(
    client: TestClient, desk: Desk, shape: str
) -> None:
    """The circuit as found and at the end differ; nothing may be loaded by them."""
    job, answer = planned(desk)
    page = client.get(f"/jobs/{job}").text
    last = re.findall(r"moment=(\d+)\"", page)
    address = f"/jobs/{job}/plan/circuit.svg?of={answer.id}&shape={shape}&moment="
    first, end = client.get(f"{address}0"), client.get(f"{address}{max(map(int, last))}")
    chart = client.get(f"/jobs/{job}/plan/methods.svg?of={answer.id}&shape={shape}")

    assert [one.status_code for one in (first, end, chart)] == [200, 200, 200]
    assert first.text != end.text
    assert "100 % of the fluid inside is still old" in first.text
    assert all(
        "default-src 'none'" in one.headers["content-security-policy"] for one in (end, chart)
    )
    assert client.get(f"{address}999").status_code == 404


def test_moments_follow_each_other_without_a_script(client: TestClient, desk: Desk) -> None:
    """From as found to the end by links alone."""
    job, answer = planned(desk)
    address = f"/jobs/{job}/plan/circuit?of={answer.id}&moment=0"
    seen = 0
    while address:
        page = client.get(address).text
        seen += 1
        found = re.search(r'href="([^"]+)" rel="next"', page)
        address = "" if found is None else found[1].replace("&amp;", "&")

    assert seen > len(answer.body["recipe"]["step"])


def test_a_plan_of_another_job_has_no_pictures_here(client: TestClient, desk: Desk) -> None:
    """An address that was put together by hand."""
    _, answer = planned(desk)

    reply = client.get(f"/jobs/nowhere/plan/circuit.svg?of={answer.id}&moment=0&shape=wide")

    assert reply.status_code == 404


# --- prepare --------------------------------------------------------------------------------------


def test_ticks_are_kept_list_by_list(client: TestClient, desk: Desk) -> None:
    """And the stage is finished with what is missing."""
    job = chosen(desk)
    page = client.get(f"/jobs/{job}").text
    items = re.findall(r'name="(item-[0-9a-f]+)"', page.split("To have at hand")[0])
    _send(client, f"/jobs/{job}/prepare/tick/buy", "tick00000001", **dict.fromkeys(items, "yes"))
    page = client.get(f"/jobs/{job}").text
    _send(client, f"/jobs/{job}/prepare/finish", "finish000003")
    found = load_job(desk, job)

    assert 'To buy <span class="state">all ticked' in page
    assert len(found.of(Kind.TICKED)) == len(items)
    assert "lines not ticked" in found.finished[Stage.PREPARE]


def test_the_sheet_has_a_line_for_value_and_initials_at_every_sentence(
    client: TestClient, desk: Desk
) -> None:
    """Before, exchange and after, as the plan has them."""
    job = chosen(desk)
    answer = plan_answer(desk, load_job(desk, job))
    assert answer is not None
    page = client.get(f"/jobs/{job}/sheet").text

    assert page.count('class="ruled-line"') == len(answer.body["sheet"])
    assert all(heading in page for heading in ("<h2>Before", "<h2>Exchange", "<h2>After"))


def test_a_sheet_without_a_recipe_says_what_comes_first(client: TestClient, desk: Desk) -> None:
    """A sentence, not a failure of the program."""
    reply = client.get(f"/jobs/{opened(desk)}/sheet")

    assert reply.status_code == 409
    assert "choose one in the plan first" in reply.text


def test_a_verdict_is_told_to_be_stale_once_something_was_added(
    client: TestClient, desk: Desk
) -> None:
    """On the page, before anybody tries to finish."""
    job = opened(desk)
    _send(client, f"/jobs/{job}/assess/judge")
    first = client.get(f"/jobs/{job}").text
    _send(client, f"/jobs/{job}/assess/note/use", "use000000002", since_days="10")
    second = client.get(f"/jobs/{job}").text

    assert due_answer(desk, load_job(desk, job)) is not None
    assert ("judge again" in first, "judge again" in second) == (False, True)


def test_finishing_a_plan_that_no_longer_holds_is_refused(client: TestClient, desk: Desk) -> None:
    """Somebody wanted something else since."""
    job, _ = planned(desk)
    take_plan(desk, job, uid="choose000009")
    reply = _send(client, f"/jobs/{job}/plan/goal", "goal00000009", target_pct="25")
    client.post(f"{reply.headers['location']}/cancel")

    assert _send(client, f"/jobs/{job}/plan/finish", "finish000009").status_code == 422
