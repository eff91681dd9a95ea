"""What the program can do is described, in words that mean one thing, with sources that exist."""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from ullage import errors
from ullage.cli.arguments import declare

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "ullage"
COMMANDS_PAGE = (ROOT / "docs" / "reference" / "commands.md").read_text("utf-8")
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text("utf-8")
BIBLIOGRAPHY = ROOT / "docs" / "sources.bib"

# What stands where there is no key: an honest "nobody".
WITHOUT_KEY = ("common practice, no source", "derived", "memory", "unknown")

NEEDED_WORDS = {
    *("machine", "circuit", "reservoir", "node", "line", "leg", "chamber", "fluid", "container"),
    *("level", "minimum", "draw off", "exchange", "exercise", "circulate", "bleed", "remainder"),
    *("target", "sample", "reference vial", "verdict", "job", "record", "ullage", "heel", "brim"),
    *("dead share", "by-pass share", "window", "lane", "plug", "bracket"),
}


def glossary_words(text: str) -> list[str]:
    """Return the words that a glossary explains; one entry may explain several."""
    heads = re.findall(r"^- (\*\*.+?\*\*(?:, \*\*.+?\*\*)*): ", text, flags=re.MULTILINE)
    return [word.lower() for head in heads for word in re.findall(r"\*\*(.+?)\*\*", head)]


def source_keys(text: str) -> set[str]:
    """Return the keys that a Source section bears.

    A key has letters and a figure (``iso-4406-2017``), or stands alone before a place in it
    (``esposito, chapter 4``). Paths and names of functions are no keys.
    """
    quiet = re.sub(r"[\w.-]*[/_][\w./-]*", " ", text)
    keys = set(re.findall(r"(?<![\w.-])[a-z]{3,}[a-z-]*\d[a-z0-9-]*(?![\w.]\w)", quiet))
    for clause in re.split(r"[;\[]", quiet):
        lone = re.match(r"\s*([a-z][a-z0-9-]+)\s*(?:,|\]|\.?\s*$)", clause)
        if lone:
            keys.add(lone[1])
    return keys - {word for word in WITHOUT_KEY if " " not in word}


def bibliography_keys(text: str) -> list[str]:
    """Return the keys of the entries of a bibliography."""
    return re.findall(r"^@\w+\{\s*([^,\s]+)\s*,", text, flags=re.MULTILINE)


def cited() -> Iterator[tuple[str, str]]:
    """Go through all Source sections and all source cells of tables: where, and which key."""
    for file in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
                text = ast.get_docstring(node) or ""
                section = re.search(
                    r"^Source\n-+\n(.*?)(?=\n\n\w[\w ]*\n-{3,}|\Z)", text, re.M | re.S
                )
                for key in source_keys(section[1]) if section else ():
                    yield f"{file.relative_to(SOURCE)}: {getattr(node, 'name', 'module')}", key
    for file in sorted(SOURCE.rglob("data/*.csv")):
        with file.open(encoding="utf-8", newline="") as rows:
            for row in csv.DictReader(rows):
                if row.get("source") and row["source"] not in WITHOUT_KEY:
                    yield str(file.relative_to(SOURCE)), row["source"]


@pytest.mark.parametrize("name", sorted(declare()[1]))
def test_a_command_is_described_with_its_options(name: str) -> None:
    """A heading of its own, and every option named below it."""
    heading = re.search(rf"^## `ullage {name}\b.*$", COMMANDS_PAGE, flags=re.MULTILINE)
    assert heading is not None
    below = COMMANDS_PAGE[heading.start() :].split("\n## ")[0]
    options = {option for option in declare()[1][name].options if option not in ("-h", "--help")}

    assert options - set(re.findall(r"--[a-z-]+", below)) == set()


def test_no_command_is_described_that_is_not_there() -> None:
    """The page has the commands of this version and no others."""
    described = re.findall(r"^## `ullage ([a-z]+)", COMMANDS_PAGE, flags=re.MULTILINE)

    assert sorted(described) == sorted(declare()[1])


@pytest.mark.parametrize(
    "error",
    [
        name
        for name, thing in vars(errors).items()
        if isinstance(thing, type) and issubclass(thing, errors.UllageError)
    ],
)
def test_an_error_is_described(error: str) -> None:
    """Whoever calls the library can look up what it raises."""
    assert f"| `{error}` |" in COMMANDS_PAGE


def test_a_word_has_one_meaning() -> None:
    """No word is explained twice."""
    words = glossary_words(GLOSSARY)

    assert [word for word in sorted(set(words)) if words.count(word) > 1] == []


def test_the_words_of_the_trade_are_explained() -> None:
    """The words on pages and in files stand in the glossary."""
    assert NEEDED_WORDS - set(glossary_words(GLOSSARY)) == set()


def test_a_word_explained_twice_would_be_found() -> None:
    """Entries with two words count both."""
    assert glossary_words("- **Leg**: a.\n- **line**, **leg**: b.\n") == ["leg", "line", "leg"]


def test_cited_sources_exist() -> None:
    """Each key in a docstring or a table leads to an entry of the bibliography."""
    known = set(bibliography_keys(BIBLIOGRAPHY.read_text("utf-8")))

    assert sorted({f"{place}: {key}" for place, key in cited() if key not in known}) == []


def test_a_source_has_one_entry() -> None:
    """No key stands twice in the bibliography."""
    keys = bibliography_keys(BIBLIOGRAPHY.read_text("utf-8"))

    assert [key for key in sorted(set(keys)) if keys.count(key) > 1] == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("astm-d341, equations 1 and 2.", {"astm-d341"}),
        ("ISO 4406:2017, table 1 (``iso-4406-2017``).", {"iso-4406-2017"}),
        ("Parabolic profile [levenspiel1999, ch. 15]; quadrature in s.", {"levenspiel1999"}),
        ("taylor-1953; aris-1956.", {"taylor-1953", "aris-1956"}),
        ("esposito, section 4.4.", {"esposito"}),
        ("Derived; checked in ``tests/outside/scipy_2``.", set()),
        ("As ``washout.mixed``; 4 mm and p0 from the plate.", set()),
        ("Common practice, no source.", set()),
    ],
)
def test_keys_are_told_from_other_words(text: str, expected: set[str]) -> None:
    """The ways in which a source is written all lead to its key."""
    assert source_keys(text) == expected


def test_fragments_of_the_changelog_bear_a_kind() -> None:
    """A fragment is named so that the release can sort it."""
    kinds = re.findall(r"^\| `(\w+)` \|", (ROOT / "changelog.d" / "README.md").read_text(), re.M)
    named = re.compile(rf"[a-z0-9-]+\.({'|'.join(kinds)})\.md")
    files = [file.name for file in (ROOT / "changelog.d").iterdir() if file.name != "README.md"]

    assert [name for name in files if not named.fullmatch(name)] == []
