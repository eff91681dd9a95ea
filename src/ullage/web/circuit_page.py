"""What the page of a circuit shows: rows of fields, the answer beside them, versions, unknowns."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.schema import Key, Kind, Table
from ullage.web.circuit_answer import Answer
from ullage.web.circuit_fields import PARTS, Slot, rows_of, slots
from ullage.web.circuit_form import FieldFault
from ullage.web.circuit_history import UnknownTable, VersionLine
from ullage.web.shown import EN_DASH, Units, fine, word_of

_WORDS = {
    "best": "best",
    "low": "low",
    "high": "high",
    "spread": "\N{PLUS-MINUS SIGN} %",
    "as": "one guess with",
}
# Keys that name other parts, and the list of names that is offered for them.
_LISTS = {
    "at": "nodes",
    "returns_to": "nodes",
    "opposes": "legs",
    "group": "groups",
    "divert_after": "parts",
}
# Half the width of a spread over the best value, from which on nobody can have measured it: the
# narrowest guess that templates make (an efficiency of 88 % between 60 and 95 %).
_GUESS = 0.19
# So many keys of a part are told on its line.
_TOLD = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One field: ``word`` is its own label where a key has several."""

    name: str
    part: str
    word: str
    text: str
    fault: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One key of a part with its fields; ``mark`` says what its spread tells of it."""

    name: str
    words: str
    unit: str
    kind: str
    inputs: tuple[Input, ...]
    options: tuple[tuple[str, str], ...]
    offered: str
    help_id: str
    is_needed: bool
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One part: its name, what it is in a line, what it has, and what else it might have."""

    anchor: str
    place: str
    title: str
    told: str
    cells: tuple[Cell, ...]
    more: tuple[Cell, ...]
    is_open: bool
    is_more_open: bool
    is_movable: bool
    is_first: bool
    is_last: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Help:
    """What a key means, what may stand there, and what holds where nothing does."""

    id: str
    words: str
    key: str
    about: str
    allowed: str
    otherwise: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One table of the file; ``kind`` is the part that may be added, empty where it comes once."""

    anchor: str
    heading: str
    about: str
    kind: str
    rows: tuple[Row, ...]
    helps: tuple[Help, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitPage:
    """The editor of one circuit.

    ``base`` is the version that it started from, ``drawn`` names the drawing that is shown, and
    ``state`` says whether what is typed is kept. ``answer`` is None until something can be drawn.
    """

    title: str
    machine: str
    machine_url: str
    action: str
    uid: str
    base: int
    drawn: str
    state: str
    notes: tuple[str, ...]
    faults: tuple[FieldFault, ...]
    name: Cell
    sections: tuple[Section, ...]
    lists: Mapping[str, tuple[str, ...]]
    answer: Answer | None
    file_url: str
    versions: tuple[VersionLine, ...]
    ask_url: str
    unknown: UnknownTable | None


def sections_of(
    texts: Mapping[str, str], faults: tuple[FieldFault, ...], units: Units, opened: Collection[str]
) -> tuple[Section, ...]:
    """Return the tables of a circuit as sections, the parts in ``opened`` unfolded."""
    by_field: dict[str, str] = {}
    for fault in faults:
        before = by_field.get(fault.field)
        by_field[fault.field] = f"{before} {fault.sentence}" if before else fault.sentence
    return tuple(_section(part, texts, by_field, units, opened) for part in CIRCUIT.tables)


def name_cell(texts: Mapping[str, str], faults: tuple[FieldFault, ...]) -> Cell:
    """Return the field of the circuit's own name."""
    key = CIRCUIT.keys[0]
    wrong = {fault.field: fault.sentence for fault in faults}
    slot = Slot(path=(key.name,), key=key, required=True)
    return _cell("", slot, "", texts, wrong, Units())


def lists_of(texts: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Return the names that fields offer: parts, nodes, legs, groups and shared guesses."""

    def ids(kind: str, key: str = "id") -> list[str]:
        return [texts.get(f"{kind}.{number}.{key}", "") for number in rows_of(texts, kind)]

    found = {
        "nodes": ids("node"),
        "legs": ids("leg"),
        "groups": ids("leg", "group"),
        "parts": [*ids("line"), *ids("node")],
        "guesses": [text for name, text in texts.items() if name.endswith(".as")],
    }
    return {name: tuple(dict.fromkeys(filter(None, rows))) for name, rows in found.items()}


def told_of(texts: Mapping[str, str], part: Table, place: str, units: Units) -> str:
    """Return what a part is in one line: the first few keys that say something."""
    found: list[str] = []
    for slot in slots(part):
        if slot.key.name == part.named_by or len(found) == _TOLD:
            continue
        text = _told(texts, f"{place}.{slot.name}", slot, units)
        if text:
            found.append(text)
    return ", ".join(found) or "nothing said yet"


def title_of(texts: Mapping[str, str], part: Table, number: int) -> str:
    """Return what a part is called: its id, or that it has none yet."""
    if not part.many:
        return part.name.replace("_", " ").capitalize()
    return texts.get(f"{part.name}.{number}.id", "") or f"{part.name} {number}, not named yet"


def _section(
    part: Table,
    texts: Mapping[str, str],
    faults: Mapping[str, str],
    units: Units,
    opened: Collection[str],
) -> Section:
    """Return one table as a section."""
    word = part.name.replace("_", " ").capitalize()
    numbers = rows_of(texts, part.name) if part.many else (0,)
    return Section(
        anchor=f"all-{part.name}",
        heading=f"{word}s" if part.many else word,
        about=part.about,
        kind=part.name if part.many else "",
        rows=tuple(_row(part, number, texts, faults, units, opened) for number in numbers),
        helps=tuple(_help(part, slot) for slot in slots(part)),
    )


def _row(
    part: Table,
    number: int,
    texts: Mapping[str, str],
    faults: Mapping[str, str],
    units: Units,
    opened: Collection[str],
) -> Row:
    """Return one part."""
    place = f"{part.name}.{number}" if part.many else part.name
    cells = [(slot, _cell(part.name, slot, place, texts, faults, units)) for slot in slots(part)]
    said = [
        slot.required or _is_sibling(slot, part, texts, place) or any(i.text for i in cell.inputs)
        for slot, cell in cells
    ]
    wrong = {cell.name for _, cell in cells if any(one.fault for one in cell.inputs)}
    more = tuple(cell for (_, cell), here in zip(cells, said, strict=True) if not here)
    last = len(rows_of(texts, part.name))
    return Row(
        anchor=place.replace(".", "-"),
        place=place,
        title=title_of(texts, part, number),
        told=fine(told_of(texts, part, place, units)),
        cells=tuple(cell for (_, cell), here in zip(cells, said, strict=True) if here),
        more=more,
        is_open=place in opened or bool(wrong),
        is_more_open=any(cell.name in wrong for cell in more) or len(more) == len(cells),
        is_movable=part.many,
        is_first=number <= 1,
        is_last=number == last,
    )


def _is_sibling(slot: Slot, part: Table, texts: Mapping[str, str], place: str) -> bool:
    """Tell whether a key is needed because its table is there: the pressure of a gas volume."""
    if len(slot.path) < 2 or not slot.key.required:
        return False
    within = f"{place}.{'.'.join(slot.path[:-1])}."
    return any(name.startswith(within) and text for name, text in texts.items())


def _cell(
    table: str,
    slot: Slot,
    place: str,
    texts: Mapping[str, str],
    faults: Mapping[str, str],
    units: Units,
) -> Cell:
    """Return one key with its fields."""
    name = f"{place}.{slot.name}" if place else slot.name
    inputs = tuple(
        Input(
            name=f"{name}{ending}",
            part=ending[1:],
            word=_WORDS.get(ending[1:], ""),
            text=texts.get(f"{name}{ending}", ""),
            fault=faults.get(f"{name}{ending}", ""),
        )
        for ending in slot.inputs
    )
    unit = word_of(slot.unit, units)
    return Cell(
        name=name,
        words=slot.words,
        unit=unit,
        kind=_KINDS[slot.key.kind],
        inputs=inputs,
        options=tuple((word, word) for word in slot.key.choices),
        offered=_LISTS.get(slot.key.name, ""),
        help_id=_help_id(table, slot) if table else "",
        is_needed=slot.required,
        mark=_mark(texts, name) if slot.key.kind is Kind.UNCERTAIN else "",
    )


_KINDS = {
    Kind.UNCERTAIN: "uncertain",
    Kind.REAL: "number",
    Kind.WHOLE: "whole",
    Kind.TEXT: "text",
    Kind.NAME: "name",
    Kind.FLAG: "flag",
    Kind.CHOICE: "choice",
    Kind.NAMES: "lines",
    Kind.REALS: "text",
    Kind.PAIRS: "lines",
    Kind.TABLE: "text",
}


def _told(texts: Mapping[str, str], name: str, slot: Slot, units: Units) -> str:
    """Return one key on a part's line, empty where nothing is typed."""
    unit = word_of(slot.unit, units)
    if slot.key.kind is Kind.UNCERTAIN:
        best, low, high, spread = (
            texts.get(f"{name}.{part}", "") for part in ("best", "low", "high", "spread")
        )
        if not best:
            return ""
        if spread:
            return f"{slot.words} {best} {unit}".rstrip() + f" \N{PLUS-MINUS SIGN} {spread} %"
        band = f" ({low}{EN_DASH}{high})" if low or high else ""
        return f"{slot.words} {best}{band} {unit}".rstrip()
    text = texts.get(name, "")
    if not text:
        return ""
    if slot.key.kind is Kind.FLAG:
        return slot.words
    if slot.key.kind is Kind.NAMES:
        return " \N{RIGHTWARDS ARROW} ".join(text.split("\n"))
    return f"{slot.words} {text} {unit}".rstrip()


def _mark(texts: Mapping[str, str], name: str) -> str:
    """Return that a number is a guess, where its spread is as wide as one."""
    numbers = {}
    for part in PARTS:
        try:
            numbers[part] = float(texts.get(f"{name}.{part}", "").strip("\N{PLUS-MINUS SIGN}% "))
        except ValueError:
            continue
    best = numbers.get("best", 0.0)
    if best <= 0.0:
        return ""
    half = numbers.get("spread", 0.0) / 100.0 * best
    if "low" in numbers and "high" in numbers:
        half = 0.5 * (numbers["high"] - numbers["low"])
    return "guessed" if half >= _GUESS * best else ""


def _help(part: Table, slot: Slot) -> Help:
    """Return what a key means."""
    return Help(
        id=_help_id(part.name, slot),
        words=slot.words,
        key=".".join(slot.path),
        about=slot.key.about,
        allowed=_allowed(slot.key),
        otherwise=slot.key.otherwise,
    )


def _allowed(key: Key) -> str:
    """Return what may stand in a field, where that is worth a word."""
    return "" if key.kind in (Kind.TEXT, Kind.NAME, Kind.NAMES, Kind.PAIRS) else key.allowed


def _help_id(table: str, slot: Slot) -> str:
    """Return the name of a key's help on the page."""
    return f"help-{table}-{'-'.join(slot.path)}"


def opened_by(place: str, texts: Mapping[str, str]) -> Iterator[str]:
    """Yield a part that was just worked on, if it is there."""
    kind, _, number = place.partition(".")
    if kind in CIRCUIT.table_by_name and (not number or int(number) in rows_of(texts, kind)):
        yield place
