"""Prints what may stand in each file, key by key, from the rows that the files are read by.

``python -m ullage.formats.reference > docs/reference/files.md`` writes it again; a test compares.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator

from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.evidence_keys import EVIDENCE
from ullage.formats.recipe_keys import RECIPE, STEP, STEP_OF
from ullage.formats.schema import FileKind, Key, Kind, Table

_INTRODUCTION = """\
# Files

What people keep: a circuit, a recipe, the readings of a job. All three are TOML, in UTF-8; the
same tables as JSON are read too. `ullage check FILE ...` says everything that is wrong with
them, `ullage template NAME` prints one to start from. This page is written by `python -m
ullage.formats.reference` from the rows that the files are read by.

The first line of a file says what it is and in which version it is written, such as `format =
"ullage-circuit/1"`. A program reads its own version and all older ones; a newer one it refuses.
Keys are added over time, never given another meaning. A key that nobody knows is a fault, and
the nearest known one is named.

## Units

The unit is the last part of a key's name: `_l` litre, `_ml` millilitre, `_mm`, `_cm2`, `_m`,
`_um` micrometre, `_s`, `_minutes`, `_l_min`, `_rev_min`, `_ml_rev`, `_mm2_s` (the same as cSt),
`_kg_m3`, `_degc`, `_pct` from 0 to 100. Pressures in `_bar` are read from a gauge, unless they
are a pressure drop; `_bara` is absolute, which is the gauge reading plus 1.01325 bar.
Conversion happens once, when the file is read.

## Numbers that nobody knows exactly

Where the column *takes* says `number ~`, the number may be written in four ways:

    volume_l = 0.25
    volume_l = { best = 0.25, spread_pct = 20 }
    volume_l = { best = 0.25, low = 0.20, high = 0.33 }
    volume_l = { best = 0.25, spread_pct = 20, as = "one guess" }

A plain number is taken as exact. `low` and `high` mean "surely between these two"; a simulated
machine draws its value from a triangle between them with its peak at `best`. A spread is taken
of the best value, up and down, and is cut off where the key allows no more: 92 % +- 20 % ends
at 100 %. Numbers with the same `as` are one guess with one error and are drawn together.
`ullage check` proposes `as` where several legs bear the same best value and spread.

Guesses that nobody measured are wide. The built-in circuits use 40 % for lines, 25 % for
strokes, 50 % for dead volumes, and 60 to 95 % for the efficiency of a pump (common practice, no
source).
"""

_AFTER_CIRCUIT = """\
### How the parts hang together

- Names (`id`) are unique over lines, nodes and legs; `reservoir` is taken. A group may not bear
  the name of another leg. Paths have names among themselves.
- A line needs `volume_l`, or `length_m` with a bore: `bore_mm`, or `od_mm` and `wall_mm`. Where
  a volume and a bore are given, the volume counts and the bore serves the Reynolds number.
- The best values of `share_pct` of all paths that lead back add up to 100. A path with a
  thermostat may be counted in or left out. While it is closed the others carry everything.
- Parts that two paths share come in the same order on both.
- A leg hangs at a node that stands on exactly one path, and gives back to the same node or one
  behind it.
- The two sides of a double-acting actuator name each other with `opposes`; their `start_pct`
  add up to 100. It is enough that one of them names the other, and that one has `start_pct`.
- `heel_l` <= `minimum_l` <= `full_l` <= `brim_l`, and `start_l` <= `brim_l`, at the best
  values.
- A pump of kind `fixed` or `pressure-held` needs `displacement_ml_rev` and `idle_rev_min`, a
  pump of kind `hand` needs `flow_l_min`. A `pressure-held` pump circulates `idle_flow_pct` of
  its full flow while nothing moves; without the key it is taken to deliver all of it, which is
  what it does into an open diverter.
- Without `start_l` the reservoir starts at its full mark, drawn together with it. A brim that
  is not given is drawn together with the full mark too.
- When a job starts, everything is full of old fluid and the gas volumes are charged.
"""

_AFTER_RECIPE = """\
### What a recipe is refused for

`ullage check CIRCUIT RECIPE` and `ullage simulate` refuse: an exchange where no path has a
diverter, or where every diverted path is closed by its thermostat at the temperature of the
step; an exchange or a circulation where every path is a dead end; groups and legs that are not
there; a leg behind the diverter that should be exercised in an exchange; a leg that a
controller holds, wherever it should move; a bleed at a leg without a bleed point; a fill above
the brim; a step that starts the pump below the minimum. They warn of what can be done but will
surprise, such as cycles that do not fit, a fill above the full mark, or a pump that must rest.
"""

_AFTER_EVIDENCE = """\
### What readings are refused for

Of `litres` and `grams`, and of `mm` and `litres` at a level, exactly one is needed. `litres` at
a level is the content of the reservoir, not a distance from the mark. Together with a circuit
and a recipe, `ullage check` also refuses steps, legs and groups that are not there, an outflow
before anything was diverted, and litres that a step never sent to waste.
"""


def files_reference() -> str:
    """Return the page."""
    return "\n".join(
        [
            _INTRODUCTION,
            *_kind(CIRCUIT),
            _AFTER_CIRCUIT,
            *_kind(RECIPE),
            *_steps(),
            _AFTER_RECIPE,
            *_kind(EVIDENCE),
            _AFTER_EVIDENCE,
        ]
    )


def _kind(kind: FileKind) -> Iterator[str]:
    """Yield the lines of one kind of file."""
    yield f"## {kind.word.capitalize()} file (`*{kind.ending}`)\n"
    yield f'{_sentence(kind.about)} It begins with `format = "{kind.format}"`.\n'
    yield from _rows(kind.keys)
    for table in kind.tables:
        if table is not STEP:
            yield from _table(table)


def _steps() -> Iterator[str]:
    """Yield the lines of all kinds of step."""
    yield "### `[[step]]`\n"
    yield (
        "One table a step, carried out in the order of the file. `do` says what is done; the other "
        "keys depend on it.\nEvery step may have a `temperature_degc` of its own.\n"
    )
    for word, table in STEP_OF.items():
        yield f'#### `do = "{word}"`\n'
        yield f"{_sentence(table.about)}\n"
        own = [key for key in table.keys if key.name not in ("do", "temperature_degc")]
        if own:
            yield from _rows(own)


def _table(table: Table) -> Iterator[str]:
    """Yield the lines of one table, and of the tables within it."""
    brackets = f"[[{table.name}]]" if table.many else f"[{table.name}]"
    often = " It may come several times." if table.many else ""
    needed = " It must be there." if table.required else ""
    yield f"### `{brackets}`\n"
    yield f"{_sentence(table.about)}{often}{needed}\n"
    yield from _rows(table.keys)
    for key in table.keys:
        if key.kind is Kind.TABLE and key.table is not None and key.name != "line":
            yield f"`{key.name} = {{ ... }}`: {key.table.about}.\n"
            yield from _rows(key.table.keys)


def _rows(keys: Iterable[Key]) -> Iterator[str]:
    """Yield a table of keys."""
    yield "| key | takes | without it | what it means | example |"
    yield "|---|---|---|---|---|"
    for key in keys:
        without = "**needed**" if key.required else (key.otherwise or "-")
        yield (f"| `{key.name}` | {_takes(key)} | {without} | {key.about} | `{key.example}` |")
    yield ""


def _takes(key: Key) -> str:
    """Return in words what a key takes."""
    match key.kind:
        case Kind.CHOICE:
            return " ".join(f'`"{word}"`' for word in key.choices)
        case Kind.UNCERTAIN:
            return f"number ~, {key.allowed}"
        case Kind.REAL:
            return f"number, {key.allowed}"
        case Kind.WHOLE:
            return f"whole number, {key.allowed}"
        case Kind.REALS:
            return f"{key.count} numbers, {key.allowed}"
        case Kind.NAME:
            return "name in quotes"
        case Kind.TEXT:
            return "text in quotes"
        case _:
            return key.kind.value


def _sentence(text: str) -> str:
    """Return a text as a sentence."""
    return f"{text[:1].upper()}{text[1:]}."


if __name__ == "__main__":
    sys.stdout.write(files_reference())
