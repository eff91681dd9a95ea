"""The bench sums bear exactly the names that people's scripts rely on.

Rows "contract" of ``calc_contract.csv`` are typed from the description of the commands, not made
from the code, and may never change; rows "added" are ours on top of it and may grow.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from pathlib import Path

import pytest

from ullage.sums.registry import HOMES, bench_sum, bench_sums, work_out

CONTRACT = Path(__file__).with_name("calc_contract.csv")


def agreed(direction: str) -> Mapping[str, set[str]]:
    """Return the agreed keys of each sum, inputs or outputs."""
    found: dict[str, set[str]] = {}
    with CONTRACT.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["sum"], set())
            if row["direction"] == direction:
                found[row["sum"]].add(row["key"])
    return found


def test_the_sums_are_those_agreed() -> None:
    """No sum is missing, and none is there that nobody agreed on."""
    assert set(HOMES) == set(agreed("in"))


@pytest.mark.parametrize("name", HOMES)
def test_inputs_are_those_agreed(name: str) -> None:
    """A sum takes the agreed keys and no others."""
    assert {key.name for key in bench_sum(name).keys} == agreed("in")[name]


@pytest.mark.parametrize("name", HOMES)
def test_outputs_are_those_agreed(name: str) -> None:
    """The JSON of a sum has the agreed keys, and caveats beside them."""
    found = bench_sum(name)
    answer = work_out(name, dict(pair.split("=", 1) for pair in found.example))
    printed = json.loads(json.dumps(answer.as_json(), allow_nan=False))

    assert set(printed) == agreed("out")[name] | {"caveats"}


def test_every_sum_says_what_it_rests_on() -> None:
    """Purpose, formula, source and validity are there to be shown."""
    silent = [
        one.name
        for one in bench_sums()
        if not all((one.purpose, one.formula, one.source, one.validity, one.example))
    ]

    assert silent == []


def test_no_key_of_a_sum_shares_its_inner_name_with_another() -> None:
    """Two keys that became one SI name would overwrite each other."""
    doubled = [
        one.name for one in bench_sums() if len({key.si_name for key in one.keys}) < len(one.keys)
    ]

    assert doubled == []
