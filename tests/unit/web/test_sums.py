"""The bench sums on their pages: every one of them, by its example, by links, by faults."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from ullage.sums.registry import HOMES, bench_sum, work_out
from ullage.web.sums_page import HEADINGS, sum_page, sums_page


def test_every_group_has_a_heading() -> None:
    """A module of sums that the registry gains is named here as well."""
    assert set(HEADINGS) == set(HOMES.values())


def test_every_sum_stands_in_the_list_once() -> None:
    """In the groups of the registry."""
    listed = [line.url for group in sums_page().groups for line in group.lines]

    assert sorted(listed) == sorted(f"/sums/{name}" for name in HOMES)


@pytest.mark.parametrize("name", list(HOMES))
def test_a_sum_answers_its_example(client: TestClient, name: str) -> None:
    """By the link that stands on its page, with the sentence of the command."""
    page = sum_page(name, {})
    answered = sum_page(name, dict(pair.split("=", 1) for pair in bench_sum(name).example))

    assert answered.result is not None
    pairs = dict(pair.split("=", 1) for pair in bench_sum(name).example)
    assert answered.result.sentence == work_out(name, pairs).sentence
    assert client.get(page.example_url).status_code == 200


@pytest.mark.parametrize("name", list(HOMES))
def test_a_sum_can_be_asked_for_without_values(client: TestClient, name: str) -> None:
    """The form alone, with formula, source and limits."""
    answer = client.get(f"/sums/{name}")

    assert answer.status_code == 200
    assert "Not worked out yet" not in answer.text
    for word in ("Formula", "Source", "Limits"):
        assert f"<dt>{word}</dt>" in answer.text


def test_a_link_is_an_answer(client: TestClient) -> None:
    """Figures, sentence, and what was typed in the fields."""
    page = client.get("/sums/reynolds?flow_l_min=9&bore_mm=8&nu_mm2_s=15").text

    assert "Reynolds number 1592: laminar" in page
    assert 'value="9"' in page
    assert "ullage calc reynolds flow_l_min=9 bore_mm=8 nu_mm2_s=15" in page


def test_a_link_means_the_same_in_other_units(client: TestClient) -> None:
    """Who reads in quarts and psi sees the same answer to the same address."""
    link = "/sums/throttle-rise?dp_bar=100&rho_kg_m3=870"
    before = client.get(link).text
    chosen = {"volume": "us_qt", "temperature": "degf", "pressure": "psi", "distance": "mile"}
    client.post("/settings/units", data=chosen)

    assert 'value="psi" checked' in client.get("/settings").text
    assert before == client.get(link).text


def test_a_number_may_bear_its_unit_and_a_comma(client: TestClient) -> None:
    """As everywhere."""
    asked = {"flow_l_min": "9,5", "bore_mm": "0.5 in", "nu_mm2_s": "15"}
    found = sum_page("reynolds", asked)

    assert found.typed.faults == {}
    assert found.typed.text("flow_l_min") == "9,5"


@pytest.mark.parametrize(
    ("link", "field", "sentence"),
    [
        ("reynolds?flow_l_min=9&bore_mm=-8&nu_mm2_s=15", "bore_mm", "above 0"),
        ("reynolds?flow_l_min=9&bore_mm=&nu_mm2_s=15", "bore_mm", "This is needed."),
        ("reynolds?flow_l_min=nine&bore_mm=8&nu_mm2_s=15", "flow_l_min", "This must be"),
        ("reynolds?flow_l_min=1,250&bore_mm=8&nu_mm2_s=15", "flow_l_min", "This must be"),
        ("blend?nu_mm2_s=32,68&fractions=0.5,0.5&rule=guess", "rule", "one of"),
        ("viscosity-index?nu40_mm2_s=20&nu100_mm2_s=1", "nu100_mm2_s", "This must be"),
    ],
)
def test_a_fault_stands_beside_its_field(
    client: TestClient, link: str, field: str, sentence: str
) -> None:
    """And nothing is worked out."""
    answer = client.get(f"/sums/{link}")

    assert answer.status_code == 422
    assert sentence in answer.text.split(f'id="{field}-fault">')[1].split("</p>")[0]
    assert 'id="answer"' not in answer.text


def test_counts_say_once_what_they_are_counted_in(client: TestClient) -> None:
    """Per 100 mL, in words and not as a fraction beside them."""
    page = client.get("/sums/as4059").text.replace("\u00a0", " ")

    assert "per 100 mL" in page
    assert "1/(100" not in page


def test_all_faults_are_told_at_once() -> None:
    """Not one after the other."""
    found = sum_page("reynolds", {"flow_l_min": "-1", "bore_mm": "x"})

    assert set(found.typed.faults) == {"flow_l_min", "bore_mm", "nu_mm2_s"}


def test_a_key_that_is_none_is_told(client: TestClient) -> None:
    """A mistyped link is not answered as if it had been right."""
    answer = client.get("/sums/beta?up=1000&down=50&left=1")

    assert answer.status_code == 422
    assert "no field called \u201cleft\u201d" in answer.text


def test_what_is_typed_is_escaped(client: TestClient) -> None:
    """In the form and in the command."""
    answer = client.get(f"/sums/beta?{urlencode({'up': '<script>', 'down': '5'})}")

    assert "<script>" not in answer.text
    assert answer.status_code == 422


def test_a_sum_that_is_none_is_not_found(client: TestClient) -> None:
    """With a page that says so."""
    assert client.get("/sums/alchemy").status_code == 404
