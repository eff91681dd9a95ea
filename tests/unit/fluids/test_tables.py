"""Tables refuse figures that nobody vouches for."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

import pytest

from ullage.errors import FileFaults, NotFound
from ullage.fluids.tables import load_table, read_table

ABOUT = 'what = "w"\nlicence = "l"\n[columns]\nname = "-"\nlength_mm = "mm"\nsource = "-"\n'
HEADER = "name,length_mm,source\n"
ROOT = Path(__file__).parents[3]
NAMES = sorted(
    item.name.removesuffix(".csv")
    for item in (resources.files("ullage.fluids") / "data").iterdir()
    if item.name.endswith(".csv")
)


def test_a_sound_table_is_read_with_its_units() -> None:
    """Columns come as numbers, units as text."""
    table = read_table("t", HEADER + "a,1.5,memory\nb,2,memory\n", ABOUT)

    assert table.numbers("length_mm") == (1.5, 2.0)
    assert table.columns["length_mm"] == "mm"
    assert table.row("name", "b")["length_mm"] == "2"


@pytest.mark.parametrize(
    ("csv_text", "toml_text", "said"),
    [
        (HEADER + "a,1,\n", ABOUT, "no source"),
        (HEADER + "a,1,  \n", ABOUT, "no source"),
        (HEADER + "a,1\n", ABOUT, "cells than columns"),
        (HEADER + "a,1,memory,extra\n", ABOUT, "cells than columns"),
        (HEADER, ABOUT, "empty"),
        ("name,length_mm\na,1\n", ABOUT, "no column of sources"),
        (HEADER + "a,1,memory\n", ABOUT.replace('length_mm = "mm"\n', ""), "no unit"),
        (HEADER + "a,1,memory\n", ABOUT + 'width_mm = "mm"\n', "not in the csv"),
        (HEADER + "a,1,memory\n", ABOUT.replace('licence = "l"\n', ""), "licence"),
    ],
)
def test_unsound_tables_are_refused(csv_text: str, toml_text: str, said: str) -> None:
    """A missing source, unit, cell or licence stops the table."""
    with pytest.raises(FileFaults, match=said):
        read_table("t", csv_text, toml_text)


def test_all_faults_come_at_once() -> None:
    """Nobody has to mend a table one row per run."""
    with pytest.raises(FileFaults) as caught:
        read_table("t", HEADER + "a,1,\nb,2,\n", ABOUT)

    assert [fault.key for fault in caught.value.faults] == ["line 2", "line 3"]


def test_an_unknown_table_names_the_known_ones() -> None:
    """A slip of the pen shows what there is."""
    with pytest.raises(NotFound, match="iso3448"):
        load_table("iso3449")


@pytest.mark.parametrize("name", NAMES)
def test_every_table_of_the_package_is_sound(name: str) -> None:
    """Each shipped table loads and has rows."""
    assert len(load_table(name).rows) > 0


@pytest.mark.parametrize("name", NAMES)
def test_every_source_has_its_entry(name: str) -> None:
    """A row's source is a key of the bibliography, or says plainly that there is none."""
    text = (ROOT / "docs" / "sources.bib").read_text(encoding="utf-8")
    known = set(re.findall(r"^@\w+\{([\w-]+),", text, flags=re.MULTILINE))
    known |= {"memory", "common practice, no source"}

    assert set(load_table(name).texts("source")) - known == set()
