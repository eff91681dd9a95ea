"""The page of a circuit by its buttons alone, as it works without a script."""

from __future__ import annotations

import json
import re
import tomllib
from html import unescape
from html.parser import HTMLParser

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from ullage.jobs.add_machine import Known, add_circuit, add_machine, template_table
from ullage.jobs.machine import Machine
from ullage.jobs.ports import Desk

_URL = "/circuits/leveller"
_NEW = "/machines/van2/circuits/new"


@pytest.fixture
def van(desk: Desk) -> Machine:
    """Return the library van with its leveller."""
    machine = add_machine(desk, Known(name="Library van 2"), machine_id="van2")
    add_circuit(desk, "van2", template_table("levelling-van"), circuit_id="leveller")
    return machine


class _Form(HTMLParser):
    """Reads what a browser would send of the editor's form."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: dict[str, str] = {}
        self.open: list[str] = []
        self._select = self._area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a field with what it holds."""
        held = dict(attrs)
        name = held.get("name") or ""
        if tag == "input" and name and (held.get("type") != "checkbox" or "checked" in held):
            self.sent[name] = held.get("value") or ""
        elif tag == "select":
            self._select = name
            self.sent[name] = ""
        elif tag == "option" and self._select and "selected" in held:
            self.sent[self._select] = held.get("value") or ""
        elif tag == "textarea":
            self._area = name
            self.sent[name] = ""
        elif tag == "details" and "open" in held and "data-place" in held:
            self.open.append(held["data-place"] or "")

    def handle_endtag(self, tag: str) -> None:
        """Leave a field."""
        self._select = "" if tag == "select" else self._select
        self._area = "" if tag == "textarea" else self._area

    def handle_data(self, data: str) -> None:
        """Note what stands in a field of several lines."""
        if self._area:
            self.sent[self._area] += data


def _form(text: str) -> _Form:
    form = _Form()
    form.feed(text)
    return form


def _press(client: TestClient, url: str, do: str, **typed: str) -> tuple[int, str]:
    """Load a page, type into fields (``__`` for a point), press a button; return what comes."""
    sent = _form(client.get(url).text).sent
    sent |= {name.replace("__", "."): text for name, text in typed.items()}
    reply = client.post(url.partition("?")[0], data={**sent, "do": do}, follow_redirects=False)
    return reply.status_code, reply.text


def test_the_page_shows_every_key_of_the_table(client: TestClient, van: Machine) -> None:
    """What a browser would send back at once is what is stored."""
    from ullage.web.circuit_fields import tidied
    from ullage.web.circuit_form import table_of
    from ullage.web.shown import Units

    sent = _form(client.get(_URL).text).sent

    assert table_of(tidied(sent), Units()).table == template_table("levelling-van")


def test_the_drawing_can_be_fetched_in_both_shapes(client: TestClient, van: Machine) -> None:
    """The page names two pictures; each is SVG that may load nothing else."""
    text = client.get(_URL).text
    urls = re.findall(r"/circuits/drawn/[0-9a-f]+/\w+\.svg", text)

    assert sorted(url.rsplit("/", 1)[1] for url in urls) == ["upright.svg", "wide.svg"]
    for url in urls:
        reply = client.get(url)
        assert reply.headers["content-type"].startswith("image/svg+xml")
        assert "default-src 'none'" in reply.headers["content-security-policy"]
        assert "front-left" in reply.text


def test_checking_draws_without_keeping(client: TestClient, desk: Desk, van: Machine) -> None:
    """The figures follow a wider bore, and no version is added."""
    status, text = _press(client, _URL, "check.leg.1", leg__1__line__bore_mm__best="20")
    before = client.get(_URL).text

    assert status == 200
    assert "Not saved yet" in text
    assert re.findall(r"front-left: line ([^,]+),", text) != re.findall(
        r"front-left: line ([^,]+),", before
    )
    assert "leg.1" in _form(text).open
    assert desk.store.newest_circuit("leveller").number == 1


def test_a_fault_is_told_on_top_and_beside_its_field(client: TestClient, van: Machine) -> None:
    """The field is marked, described by its sentence, unfolded, and what was typed stays."""
    status, text = _press(client, _URL, "check", leg__1__line__bore_mm__best="-8")

    assert status == 422
    assert '<a href="#leg.1.line.bore_mm.best">leg 1, line bore</a>' in text
    assert re.search(
        r'name="leg\.1\.line\.bore_mm\.best" value="-8"[^>]*aria-describedby="[^"]*'
        r'fault-leg\.1\.line\.bore_mm\.best"[^>]*aria-invalid="true"',
        text,
    )
    assert 'id="fault-leg.1.line.bore_mm.best"' in text
    assert "leg.1" in _form(text).open


def test_the_old_drawing_stays_while_something_is_wrong(client: TestClient, van: Machine) -> None:
    """A drawing of what was typed last and could be right is still there."""
    sent = _form(client.get(_URL).text).sent | {"leg.1.line.bore_mm.best": "20", "do": "check"}
    drawn = client.post(_URL, data=sent).text
    name = re.findall(r"/circuits/drawn/([0-9a-f]+)/wide", drawn)[0]
    wrong = _form(drawn).sent | {"leg.2.line.bore_mm.best": "-1", "do": "check"}
    text = client.post(_URL, data=wrong).text

    assert re.findall(r"/circuits/drawn/([0-9a-f]+)/wide", text) != []
    assert "line 1.01" in re.sub(r"\s", " ", drawn)
    assert "line 1.01" in re.sub(r"\s", " ", text)
    assert name


def test_saving_adds_a_version_and_shows_what_changed(
    client: TestClient, desk: Desk, van: Machine
) -> None:
    """The page comes back with the change as a sentence, and the old version can be read."""
    status, _ = _press(client, _URL, "save", leg__1__line__bore_mm__best="10")
    text = unescape(client.get(_URL).text)

    assert status == 303
    assert desk.store.newest_circuit("leveller").number == 2
    assert "front-left line bore 8 → 10 mm" in text
    assert "8 → 10 mm" in unescape(client.get(f"{_URL}/versions/1").text)
    assert 'value="8"' in client.get(f"{_URL}?from=1").text


def test_who_saves_on_an_older_version_loses_nothing(
    client: TestClient, desk: Desk, van: Machine
) -> None:
    """The first answer says what came between, the second press keeps both."""
    mine = _form(client.get(_URL).text).sent | {"leg.1.line.bore_mm.best": "12", "do": "save"}
    _press(client, _URL, "save", leg__2__line__bore_mm__best="10")
    told = client.post(_URL, data=mine, follow_redirects=False)
    again = _form(told.text).sent | {"do": "save"}
    kept = client.post(_URL, data=again, follow_redirects=False)

    assert told.status_code == 409
    assert "front-right line bore 8 → 10 mm" in unescape(told.text)
    assert kept.status_code == 303
    newest = desk.store.newest_circuit("leveller")
    assert newest.number == 3
    assert newest.table["leg"][0]["line"]["bore_mm"]["best"] == 12


def test_parts_are_added_moved_and_removed_by_buttons(client: TestClient, van: Machine) -> None:
    """A new leg is unfolded, the first one moves down, the last one goes."""
    _, added = _press(client, _URL, "add.leg")
    _, moved = _press(client, _URL, "down.leg.1")
    _, removed = _press(client, _URL, "remove.leg.4")

    assert "leg.5" in _form(added).open
    assert _form(added).sent["leg.5.id"] == ""
    assert [_form(moved).sent[f"leg.{n}.id"] for n in (1, 2)] == ["front-right", "front-left"]
    assert "leg.4.id" not in _form(removed).sent


def test_the_preview_answers_what_is_typed(client: TestClient, van: Machine) -> None:
    """A good table brings drawing and figures; a wrong one brings faults and no drawing."""
    sent = _form(client.get(_URL).text).sent
    good = client.post("/circuits/preview", data=sent).json()
    wrong = client.post("/circuits/preview", data={**sent, "leg.1.stroke_l.best": "x"}).json()

    assert good["faults"] == []
    assert "/wide.svg" in good["answer"]
    assert good["rows"]["leg.1"]["title"] == "front-left"
    assert wrong["answer"] == ""
    assert [one["field"] for one in wrong["faults"]] == ["leg.1.stroke_l.best"]


def test_what_is_typed_is_never_markup(client: TestClient, van: Machine) -> None:
    """A name with angle brackets stands as text in the page, the drawing and the preview."""
    evil = '<img src=x onerror="alert(1)">'
    _, page = _press(client, _URL, "check", name=evil, leg__1__opens_with=evil)
    sent = _form(client.get(_URL).text).sent | {"name": evil}
    found = client.post("/circuits/preview", data=sent).json()
    svg = client.get(re.findall(r"/circuits/drawn/\w+/wide\.svg", found["answer"])[0]).text

    assert "<img src=x" not in page
    assert "<img src=x" not in found["answer"]
    assert "<img src=x" not in svg


def test_a_circuit_file_is_handed_out_and_taken_in_again(
    client: TestClient, desk: Desk, van: Machine
) -> None:
    """TOML with comments and JSON both read back as the same table, and make a new circuit."""
    toml = client.get(f"{_URL}/file")
    table = template_table("levelling-van")

    assert "attachment" in toml.headers["content-disposition"]
    assert tomllib.loads(toml.text) == table
    assert client.get(f"{_URL}/file?as=json").json() == table
    for text in (toml.text, json.dumps(table)):
        shown = client.post(_NEW, data={"do": "import", "text": text})
        saved = client.post(
            _NEW, data={**_form(shown.text).sent, "do": "save"}, follow_redirects=False
        )
        assert saved.status_code == 303
        assert desk.store.newest_circuit(saved.headers["location"].split("/")[2]).table == table


def test_a_file_with_faults_opens_with_each_beside_its_field(
    client: TestClient, van: Machine
) -> None:
    """An unknown key is told and left out; a wrong number is told in place."""
    text = client.get(f"{_URL}/file").text.replace(
        "stroke_l = { best = 0.5,", "stroke_l = { best = -1,", 1
    )
    text = text.replace("[pump]", "[pump]\ncolour = 3")
    reply = client.post(
        _NEW, files={"file": ("van.circuit.toml", text.encode())}, data={"do": "import"}
    )

    assert reply.status_code == 422
    assert "pump.colour" in reply.text
    assert 'id="fault-leg.1.stroke_l.best"' in reply.text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("full_l = 3,2", "is not TOML"),
        ('{"a": ', "is not JSON"),
        ('format = "ullage-recipe/1"\nname = "x"\n[[step]]\ndo = "fill"\n', "kind"),
        ("a = 1", "is no circuit file"),
    ],
)
def test_what_is_no_circuit_file_is_refused_with_a_reason(
    client: TestClient, van: Machine, text: str, says: str
) -> None:
    """The text stays in its field."""
    reply = client.post(_NEW, data={"do": "import", "text": text})

    assert reply.status_code == 422
    assert says in unescape(reply.text)


def test_a_new_circuit_starts_from_a_built_in_one_or_a_copy(
    client: TestClient, desk: Desk, van: Machine
) -> None:
    """The page lists six built-in circuits and the machine's own; nothing is kept before saving."""
    text = client.get(_NEW).text
    starts = re.findall(r'href="([^"]+start=[^"]+)"', text)

    assert len([one for one in starts if "template." in one]) == 6
    assert len([one for one in starts if "copy." in one]) == 1
    for start in starts:
        assert client.get(start).status_code == 200
    assert len(desk.store.circuits_of("van2")) == 1


def test_an_empty_table_asks_for_nothing_before_it_is_checked(
    client: TestClient, van: Machine
) -> None:
    """Beginning with nothing shows no faults; checking names what is needed, field by field."""
    blank = client.get(f"{_NEW}?start=empty")
    checked = client.post(_NEW, data={**_form(blank.text).sent, "do": "check"})

    assert 'class="fault"' not in blank.text
    assert checked.status_code == 422
    assert 'id="fault-reservoir.full_l.best"' in checked.text


def test_the_weightiest_unknown_is_worked_out_beside_the_pages(
    client: TestClient, web: FastAPI, van: Machine
) -> None:
    """The ranked list says how to know each better, and what it takes; asked again it is there."""
    reply = client.post(f"{_URL}/unknown", follow_redirects=False)
    if reply.headers["location"].startswith("/waiting/"):
        web.state.work.wait(reply.headers["location"].split("/")[2], timeout_s=60.0)
    text = unescape(client.get(_URL).text).replace("\N{NO-BREAK SPACE}", " ")
    again = client.post(f"{_URL}/unknown", follow_redirects=False)

    assert "what the lines of the legs hold" in text
    assert "Outside diameter by caliper" in text
    assert "20 min, about EUR 16 of wages" in text
    assert again.headers["location"] == f"{_URL}#unknown"


def test_a_circuit_that_is_not_there_is_not_found(client: TestClient, van: Machine) -> None:
    """Neither the page nor a version nor a start nor a drawing is made up."""
    for url in (
        "/circuits/none",
        f"{_URL}/versions/9",
        f"{_NEW}?start=template.none",
        "/circuits/drawn/none/wide.svg",
    ):
        assert client.get(url).status_code == 404
