"""Whatever a program sends, the API answers as it is described, and never fails.

Requests are made up from the description itself, good ones and bad ones. Ids in addresses are often
those of things that are there, so that more than "not found" is met.
"""

from __future__ import annotations

import hashlib
import itertools
import re
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import Case
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.testclient import TestClient

from tests.fakes.desk import memory_desk
from tests.fakes.garage import fill, photo
from ullage.jobs.entries_sent import FOLLOWING, SENT
from ullage.jobs.event import Kind
from ullage.jobs.keep_shelf import Delivery, add_sheet, deliver
from ullage.jobs.log import log
from ullage.jobs.payload import PAYLOADS, Field
from ullage.jobs.shelf import SheetOf
from ullage.sums.registry import HOMES, bench_sum
from ullage.web.app import create_app
from ullage.web.door import Door
from ullage.wiring import App

REFERENCE = (Path(__file__).parents[2] / "docs" / "reference" / "api.md").read_text("utf-8")
_RECIPE = {
    "format": "ullage-recipe/1",
    "name": "Two steps",
    "temperature_degc": 45.0,
    "step": [
        {"do": "exchange", "litres": 1.0, "rev_min": 750},
        {"do": "circulate", "minutes": 2.0, "rev_min": 750},
    ],
}
_HOST = "127.0.0.1:8765"
_TRIED = 15


@cache
def web() -> FastAPI:
    """Return the app at a desk with something of everything on it."""
    desk = memory_desk()
    fill(desk)
    table = {"class": "HV", "nu40_mm2_s": 32.0, "nu100_mm2_s": 5.6, "rho15_kg_m3": 870.0}
    sheet = add_sheet(desk, SheetOf.FLUID, "Thin oil", table, sheet_id="oil")
    came = Delivery(
        mark="K7", count=12.0, container_m3=1e-3, received_on=desk.now().date(), expires_on=None
    )
    deliver(desk, sheet.id, came, uid="came0001")
    log(desk, "job1", Kind.NOTE, {"note": "a note"}, uid="note0001")
    log(desk, "job1", Kind.RECIPE, {"recipe": _RECIPE})
    return create_app(App(desk=desk, data=Path(tempfile.gettempdir())), Door(port=8765))


async def at_the_machine(scope: Any, receive: Any, send: Any) -> None:
    """Ask the app as a program at the computer itself does, through the whole door."""
    if scope["type"] == "http":
        kept = [pair for pair in scope["headers"] if pair[0] not in (b"host", b"origin")]
        own = [(b"host", _HOST.encode()), (b"origin", f"http://{_HOST}".encode())]
        scope = {**scope, "client": ["127.0.0.1", 50_000], "headers": [*kept, *own]}
    await web()(scope, receive, send)


_CONFIG = schemathesis.Config.from_dict(
    {
        "seed": 20260504,
        "generation": {"max-examples": _TRIED, "deterministic": True, "database": "none"},
        "phases": {"coverage": {"enabled": False}},
    }
)
_SCHEMA = schemathesis.openapi.from_asgi("/api/openapi.json", at_the_machine, config=_CONFIG)
_ID = r"[0-9A-Za-z_-]{1,80}"
#: What is there, by the names that addresses have for it, and what such a name looks like.
_THERE: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "machine_id": (_ID, ("van2",)),
    "circuit_id": (_ID, ("leveller",)),
    "job_id": (_ID, ("job1",)),
    "answer_id": (_ID, ("job1-due",)),
    "sheet_id": (_ID, ("oil",)),
    "lot_id": (_ID, ("lcame0001",)),
    "sha256": (r"[0-9a-f]{64}", (hashlib.sha256(photo()).hexdigest(),)),
    "name": (r"[a-z0-9-]{1,40}", tuple(HOMES)),
    "number": (r"[1-9]\d{0,5}", ("1",)),
}


def _with_what_is_there(case: Case) -> None:
    """Put ids that exist into three of four good addresses, the same ones for the same request."""
    for name, value in (case.path_parameters or {}).items():
        drawn = int.from_bytes(hashlib.sha256(repr((name, value, case.body)).encode()).digest()[:2])
        form, known = _THERE.get(name, ("", ()))
        if known and drawn % 4 and re.fullmatch(form, str(value)):
            case.path_parameters[name] = known[drawn % len(known)]


@_SCHEMA.parametrize()
@settings(
    max_examples=_TRIED,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_answer_is_as_described(case: Case) -> None:
    """No failure, no status, kind of content or shape that is not described."""
    _with_what_is_there(case)
    case.call_and_validate(
        checks=[
            not_a_server_error,
            status_code_conformance,
            content_type_conformance,
            response_headers_conformance,
            response_schema_conformance,
            negative_data_rejection,
        ]
    )


_NUMBERS = itertools.count()
#: Words that mean something at one key or another.
_WORDS = ("reservoir", "outflow", "leg:front-left", "A", "B", "front-left", "all", "2027-03-31")


def _value(field: Field) -> st.SearchStrategy[Any]:
    """Return values of a key of an entry, and some that are none."""
    low, high = max(field.low, -1e9), min(field.high, 1e9)
    good: st.SearchStrategy[Any] = {
        str: st.sampled_from(field.choices)
        if field.choices
        else st.sampled_from(_WORDS) | st.text(min_size=1, max_size=9),
        bool: st.booleans(),
        int: st.integers(1, 3) | st.integers(int(low), int(high)),
        float: st.sampled_from((0.5, 2.0, 40.0)) | st.floats(low, high),
        dict: st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
    }[field.type]
    return st.lists(good, max_size=4) if field.many else good


@st.composite
def _entries(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Return entries whose keys and values look right, whatever they mean together."""
    made = []
    for number in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(SENT))
        fields = PAYLOADS[kind]
        payload = draw(
            st.fixed_dictionaries(
                {key: _value(one) for key, one in fields.items() if one.is_required},
                optional={key: _value(one) for key, one in fields.items() if not one.is_required},
            )
        )
        made.append(
            {
                "uid": f"entry{next(_NUMBERS):06d}",
                "device": "phone",
                "device_seq": number,
                "kind": kind.value,
                "device_at": "2026-05-04T08:30:00Z",
                "payload": payload,
            }
        )
    return made


_BOUNDED = settings(
    max_examples=150, derandomize=True, deadline=None, database=None, suppress_health_check=[]
)


@given(entries=_entries())
@_BOUNDED
def test_entries_leave_a_job_that_can_be_read(entries: list[dict[str, Any]]) -> None:
    """Whatever is taken in, the job, the list and the due dates can be asked for afterwards."""
    sent = _client().post("/api/v1/jobs/job1/entries", json={"entries": entries})

    assert sent.status_code in (200, 404, 409, 422), sent.text
    for address in ("/api/v1/jobs/job1", "/api/v1/jobs", "/jobs/job1", "/due"):
        assert _client().get(address).status_code == 200


@given(
    name=st.sampled_from(sorted(HOMES)),
    numbers=st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=12, max_size=12),
)
@_BOUNDED
def test_a_sum_answers_or_says_what_is_wrong(name: str, numbers: list[float]) -> None:
    """Whatever numbers it is given."""
    keys = {
        key.name: key.choices[0] if key.choices else number
        for key, number in zip(bench_sum(name).keys, numbers, strict=False)
    }
    answer = _client().post(f"/api/v1/sums/{name}", json={"keys": keys})

    assert answer.status_code in (200, 422), answer.text


@cache
def _client() -> TestClient:
    """Return a program at the computer itself."""
    return TestClient(at_the_machine, base_url=f"http://{_HOST}", raise_server_exceptions=False)


def _described() -> dict[str, Any]:
    table: dict[str, Any] = _client().get("/api/openapi.json").json()
    return table


def test_pages_are_not_described() -> None:
    """The description is for programs: every address in it is one of theirs."""
    assert {path.split("/")[1:3] == ["api", "v1"] for path in _described()["paths"]} == {True}


def test_every_refusal_has_the_one_shape() -> None:
    """No operation tells what is wrong in another way."""
    shapes = {
        content["schema"].get("$ref")
        for methods in _described()["paths"].values()
        for told in methods.values()
        for status, one in told["responses"].items()
        if not status.startswith("2")
        for content in one["content"].values()
    }

    assert shapes == {"#/components/schemas/Problem"}


def test_every_operation_has_a_name_of_its_own() -> None:
    """Programs that are made from the description call it by that."""
    names = [
        told["operationId"]
        for methods in _described()["paths"].values()
        for told in methods.values()
    ]

    assert len(names) == len(set(names)) > 40


def test_every_operation_is_in_the_reference() -> None:
    """Whoever looks for an address finds it, and none that is not there."""
    described = {
        f"{method.upper()} {path.removeprefix('/api/v1')}"
        for path, methods in _described()["paths"].items()
        for method in methods
    }
    documented = set(re.findall(r"^\| `((?:GET|POST|PUT) [^`?]+)", REFERENCE, flags=re.MULTILINE))

    assert documented == described


def test_every_kind_of_entry_is_in_the_reference() -> None:
    """With its keys, the required ones marked; the others with what to ask for instead."""
    rows = {
        f"| `{kind.value}` | "
        + ", ".join(f"`{key}`{'*' * one.is_required}" for key, one in PAYLOADS[kind].items())
        + " |"
        for kind in SENT
    } | {f"| `{kind.value}` | {instead} |" for kind, instead in FOLLOWING.items()}

    assert rows - set(REFERENCE.splitlines()) == set()


def test_every_status_is_in_the_reference() -> None:
    """Those that any operation may answer."""
    statuses = {
        status
        for methods in _described()["paths"].values()
        for told in methods.values()
        for status in told["responses"]
        if not status.startswith("2")
    }

    assert [one for one in sorted(statuses) if f"\n| {one} |" not in REFERENCE] == []
