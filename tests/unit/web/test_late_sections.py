"""Exchange, refit, proof and record as a browser without JavaScript sees and sends them."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi import FastAPI
from httpx2 import Response
from starlette.testclient import TestClient

from tests.unit.jobs.van_job import closed, exchanged, prepared, proved, refitted, with_shelf
from ullage.jobs.event import Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage, StepState


def _send(client: TestClient, path: str, **fields: str) -> Response:
    """Send a form as the page would."""
    return client.post(path, data={"uid": "form-0123456789", **fields}, follow_redirects=False)


def _text(page: Response) -> str:
    """Return the words of a page, spaces made plain."""
    words = re.sub(r"<[^>]+>", " ", page.text)
    return re.sub(r"\s+", " ", unescape(words))


def test_the_step_in_hand_is_foretold_before_its_form(client: TestClient, desk: Desk) -> None:
    """Litres and level come first, cautions with the step, the form after them."""
    page = client.get(f"/jobs/{prepared(desk)}")
    text = _text(page)

    assert page.status_code == 200
    assert "Step 1 of 4: Draw off" in text
    assert re.search(r"comes out 2\.\d–2\.\d L", text)
    assert text.index("comes out") < text.index("burns skin") < text.index("Came out, by jug")
    assert text.count("It went right when") == 1


def test_a_step_is_carried_out_with_what_was_read(client: TestClient, desk: Desk) -> None:
    """It folds to a line with its result, and the next one opens."""
    job = prepared(desk)
    sent = _send(
        client,
        f"/jobs/{job}/exchange/step/1",
        do="carried-out",
        out_g="2110",
        degc="131 degf",
        by="M. Moss",
    )
    text = _text(client.get(f"/jobs/{job}"))
    (volume,) = load_job(desk, job).of(Kind.VOLUME)

    assert (sent.status_code, sent.headers["location"]) == (303, f"/jobs/{job}#exchange")
    assert volume.payload["grams"] == 2110.0
    assert volume.payload["at_degc"] == pytest.approx(55.0)
    assert "1 Draw off carried out 2110 g drawn off, at 55 °C" in text
    assert "Step 2 of 4: Fill" in text


def test_a_fault_keeps_what_was_typed_and_stands_beside_its_field(
    client: TestClient, desk: Desk
) -> None:
    """Nothing is written down then."""
    job = prepared(desk)
    page = _send(
        client, f"/jobs/{job}/exchange/step/1", do="carried-out", out="two", note="cap was loose"
    )

    assert page.status_code == 422
    assert 'aria-invalid="true"' in page.text
    assert "cap was loose" in page.text
    assert 'value="two"' in page.text
    assert load_job(desk, job).of(Kind.VOLUME, Kind.STEP, Kind.NOTE) == ()


def test_litres_and_grams_of_one_can_are_not_both_taken(client: TestClient, desk: Desk) -> None:
    """They would be added up."""
    job = prepared(desk)
    page = _send(client, f"/jobs/{job}/exchange/step/1", do="write", out="2.5", out_g="2100")

    assert page.status_code == 422
    assert "litres or grams" in page.text


def test_a_level_below_the_mark_needs_no_minus_sign(client: TestClient, desk: Desk) -> None:
    """Number pads of phones have none."""
    job = prepared(desk)
    _send(
        client,
        f"/jobs/{job}/exchange/step/2",
        do="write",
        level="9",
        side="below",
        state="charged",
    )
    (level,) = load_job(desk, job).of(Kind.LEVEL)

    assert level.payload["mm"] == -9.0
    assert level.payload["after_step"] == 2


def test_a_step_is_left_out_with_its_reason(client: TestClient, desk: Desk) -> None:
    """Without one the form comes again."""
    job = prepared(desk)
    without = _send(client, f"/jobs/{job}/exchange/step/1/leave-out", reason="")
    _send(client, f"/jobs/{job}/exchange/step/1/leave-out", reason="no <extractor>")
    page = client.get(f"/jobs/{job}")

    assert without.status_code == 422
    assert load_job(desk, job).step_state(1) is StepState.LEFT_OUT
    assert "left out: no &lt;extractor&gt;" in page.text


def test_a_vial_without_a_name_gets_the_next_letter(client: TestClient, desk: Desk) -> None:
    """Gloves type no names."""
    job = exchanged(desk)
    _send(client, f"/jobs/{job}/exchange/step/3", do="write", where="reservoir")
    names = [event.payload["name"] for event in load_job(desk, job).of(Kind.SAMPLE)]

    assert names == ["A", "B", "C"]


def test_flow_and_travel_are_measured_of_the_machine(client: TestClient, desk: Desk) -> None:
    """Each needs its other half."""
    job = prepared(desk)
    half = _send(client, f"/jobs/{job}/exchange/machine", flow="1")
    _send(
        client,
        f"/jobs/{job}/exchange/machine",
        flow="1",
        seconds="6.5",
        leg="rear-left",
        pct="80",
    )
    text = _text(client.get(f"/jobs/{job}"))

    assert half.status_code == 422
    assert "1 L in 6.5 s; rear-left moved 80 % of its stroke" in text


def test_the_page_says_when_the_plan_is_no_longer_to_be_trusted(
    client: TestClient, desk: Desk
) -> None:
    """And which reading lies furthest out."""
    job = prepared(desk)
    read = {
        2: {"level": "60", "side": "below", "state": "charged", "degc": "60"},
        3: {"turn": "9.5"},
        1: {"out": "0.4"},
    }
    for step, fields in read.items():
        client.post(
            f"/jobs/{job}/exchange/step/{step}",
            data={"uid": f"form-trust-{step}", "do": "write", **fields},
        )
    text = _text(client.get(f"/jobs/{job}"))

    assert "Three readings lie outside what was expected: stop trusting the plan." in text
    assert "Furthest out is" in text


def test_a_level_as_found_that_cannot_be_is_told(client: TestClient, desk: Desk) -> None:
    """At the exchange, which it would begin with, and at the proof."""
    job = refitted(desk)
    log(desk, job, Kind.AS_FOUND, {"level_mm": 900.0, "state": "charged", "at_degc": 18.0})
    text = _text(client.get(f"/jobs/{job}"))

    assert text.count("in a reservoir that holds 3.5 L to the brim, so it is not used") == 2


def test_the_exchange_is_finished_with_its_result(client: TestClient, desk: Desk) -> None:
    """There is no button for that while a step is open, and no way around it."""
    job = prepared(desk)
    refused = _send(client, f"/jobs/{job}/exchange/finish")

    assert refused.status_code == 422
    assert "neither carried out nor left out" in refused.text
    assert "/exchange/finish" not in client.get(f"/jobs/{job}").text


def test_a_step_that_is_not_there_has_no_page(client: TestClient, desk: Desk) -> None:
    """An old tab may ask for one."""
    job = prepared(desk)

    assert _send(client, f"/jobs/{job}/exchange/step/9", do="begin").status_code == 404


def test_the_refit_says_where_the_level_belongs_now(client: TestClient, desk: Desk) -> None:
    """The temperature is typed, targets follow, the level read stands beside its own."""
    job = exchanged(desk)
    _send(client, f"/jobs/{job}/refit/temperature", now_degc="45")
    client.post(
        f"/jobs/{job}/refit/level",
        data={"uid": "form-refit-level", "level": "3", "side": "above", "state": "charged"},
    )
    text = _text(client.get(f"/jobs/{job}"))

    assert "Fluid at 45 °C, as last read." in text
    assert "belongs 12 mm above the mark: does not agree" in text


def test_lines_of_the_refit_are_ticked(client: TestClient, desk: Desk) -> None:
    """A line that is done folds; it may be opened again."""
    job = exchanged(desk)
    _send(client, f"/jobs/{job}/refit/tick/leaks", done="yes")

    assert "Not done" in client.get(f"/jobs/{job}").text
    assert load_job(desk, job).ticks["refit", "leaks"].payload["done"] is True


def test_samples_are_read_on_the_page_by_eye_or_by_light(client: TestClient, desk: Desk) -> None:
    """Three lights give the share by the law of Beer and Lambert; two are refused."""
    job = refitted(desk)
    client.post(
        f"/jobs/{job}/prove/reading",
        data={"uid": "form-eye-0001", "sample": "A", "old": "22", "u": "4"},
    )
    lights = {"light_old": "0.06", "light_new": "0.6", "light_mix": "0.4"}
    client.post(
        f"/jobs/{job}/prove/reading",
        data={"uid": "form-light-0001", "sample": "B", "u": "3", **lights},
    )
    two = client.post(
        f"/jobs/{job}/prove/reading",
        data={"uid": "form-light-0002", "sample": "B", "light_old": "0.06", "light_new": "0.6"},
    )
    readings = {
        e.payload["sample"]: e.payload["old_pct"] for e in load_job(desk, job).of(Kind.READING)
    }

    assert readings["A"] == 22.0
    assert readings["B"] == pytest.approx(17.6, abs=0.1)
    assert two.status_code == 422
    assert "All three lights are needed" in two.text


def test_a_verdict_is_a_picture_three_sentences_and_what_comes_next(
    client: TestClient, desk: Desk
) -> None:
    """The picture stands alone, wide and upright, and no other job shows it."""
    job = proved(desk)
    page = client.get(f"/jobs/{job}")
    wide, upright = re.findall(rf'"(/jobs/{job}/prove/[^"/]+/(?:upright|wide)\.svg)"', page.text)
    pictures = [client.get(wide), client.get(upright)]
    text = _text(page)

    assert [one.headers["content-type"] for one in pictures] == ["image/svg+xml"] * 2
    assert "default-src 'none'" in pictures[0].headers["content-security-policy"]
    assert "old fluid is left" in text
    assert "The target of 10 % is not met" in text
    assert re.search(
        r"Bleed 0\.\d L at rear-right .* 6 min, 0\.\d L; lowers it by about \d points", text
    )
    assert "unaccounted for" in text
    assert client.get(wide.replace(job, "other")).status_code == 404


def test_a_verdict_is_worked_out_elsewhere_and_kept(
    web: FastAPI, client: TestClient, desk: Desk
) -> None:
    """The page of the work leads back to the job; asked again, the same verdict stands."""
    job = refitted(desk)
    asked = _send(client, f"/jobs/{job}/prove/ask")
    piece = web.state.work.wait("form-0123456789", timeout_s=90.0)
    again = client.post(
        f"/jobs/{job}/prove/ask", data={"uid": "form-again-1"}, follow_redirects=False
    )

    assert (asked.status_code, asked.headers["location"]) == (303, "/waiting/form-0123456789")
    assert piece.why == ""
    assert piece.then_url == f"/jobs/{job}#prove"
    assert again.headers["location"] == f"/jobs/{job}#prove"
    assert len(desk.store.answers(job)) == 1
    assert "old fluid is left" in _text(client.get(f"/jobs/{job}"))


def test_nothing_done_is_nothing_to_ask_about(client: TestClient, desk: Desk) -> None:
    """The page says so in place of an answer."""
    job = prepared(desk)
    page = _send(client, f"/jobs/{job}/prove/ask")

    assert page.status_code == 422
    assert "no step was carried out yet" in page.text


def test_the_record_takes_waste_lots_a_date_and_a_name(client: TestClient, desk: Desk) -> None:
    """Each form stands for itself; at the end the record is filed."""
    job = proved(desk)
    lot = with_shelf(desk)
    forms = (
        ("waste", {"waste": "12.5", "family": "HV", "to": "county yard"}),
        ("lot", {"lot": lot, "lot_l": "12.6"}),
        ("next-due", {"interval_km": "100000", "interval_months": "48", "shortening": "1"}),
        ("sign", {"name": "M. Moss", "role": "did the work"}),
        ("finish", {}),
    )
    answers = [
        client.post(
            f"/jobs/{job}/record/{name}",
            data={"uid": f"form-record-{name}", **fields},
            follow_redirects=False,
        ).status_code
        for name, fields in forms
    ]

    assert answers == [303] * 5
    assert desk.store.stock()[0].left == pytest.approx(7.4)
    assert load_job(desk, job).is_closed


def test_more_than_the_shelf_holds_is_told_beside_the_field(client: TestClient, desk: Desk) -> None:
    """The lot keeps what it has."""
    job = proved(desk)
    lot = with_shelf(desk, litres=2.0)
    page = _send(client, f"/jobs/{job}/record/lot", lot=lot, lot_l="5")

    assert page.status_code == 422
    assert 'id="lot-lot_l-fault"' in page.text
    assert desk.store.stock()[0].left == 2.0


def test_the_record_is_one_page_with_all_that_it_rests_on(client: TestClient, desk: Desk) -> None:
    """Seven stages, each step with what was expected and read, every answer with its inputs."""
    job = closed(desk)
    text = _text(client.get(f"/jobs/{job}/record"))
    fingerprints = [answer.fingerprint for answer in desk.store.answers(job)]

    assert [f"{stage.number} {stage.value.capitalize()}" in text for stage in Stage] == [True] * 7
    assert all(fingerprint in text for fingerprint in fingerprints)
    assert "outflow turned at 4.4 L of the step" in text
    assert "seed 0" in text
    assert "M. Moss, did the work" in text
    assert "12.6 L of HV 22, lot K7" in text


def test_the_label_has_five_lines(client: TestClient, desk: Desk) -> None:
    """Fluid, date and counter, what is left, filter, next."""
    page = client.get(f"/jobs/{closed(desk)}/label")

    assert page.text.count("<tr>") == 5
    assert re.search(r"Old fluid left \d+ % \(\d+–\d+\)", _text(page))


def test_a_record_can_be_read_before_anything_was_done(client: TestClient, desk: Desk) -> None:
    """It says what is missing."""
    job = prepared(desk)
    text = _text(client.get(f"/jobs/{job}/record"))

    assert "Not filed yet" in text
    assert "Nobody signed yet." in text
    assert "not proved" in _text(client.get(f"/jobs/{job}/label"))


def test_every_text_that_a_person_typed_is_escaped(
    web: FastAPI, client: TestClient, desk: Desk
) -> None:
    """On the page of the job, the record and the label."""
    job = exchanged(desk)
    client.post(
        f"/jobs/{job}/exchange/step/3",
        data={
            "uid": "form-escape-1",
            "do": "write",
            "note": "<script>alert(1)</script>",
            "where": "reservoir",
            "sample": "<b>A</b>",
        },
    )
    pages = [client.get(f"/jobs/{job}{tail}").text for tail in ("", "/record", "/label")]

    assert all("<script>" not in page and "<b>A" not in page for page in pages)
    assert "&lt;script&gt;" in pages[0]
