"""The bench sums as forms: each key a field, the answer a sentence with its figures and caveats.

A form is sent by GET, so that an answer has an address that means the same to everybody: a bare
number is in the unit of its key, whatever units somebody chose to read in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from ullage.errors import NotFound, OutOfRange, UllageError
from ullage.sums.bench_sum import BenchSum, Shown, figure, quoted
from ullage.sums.key import Key, Kind
from ullage.sums.registry import HOMES, bench_sum
from ullage.units.suffixes import SUFFIXES, Suffix
from ullage.web.forms import WHOLE_FORM, Field, Typed, as_sentence
from ullage.web.shown import Units, fine, word_of
from ullage.web.shown import figure as shown_figure

#: The heading of each group of sums, in the order of the registry.
HEADINGS: Mapping[str, str] = {
    "oil": "The fluid itself",
    "lines": "Flow and lines",
    "energy": "Gas, heat and pressure",
    "exchange": "Exchanging and mixing",
    "particles": "Particles and filters",
    "readings": "Readings",
}
_KINDS = {Kind.NUMBER: "number", Kind.WHOLE: "whole", Kind.CHOICE: "choice"}
# Three figures behind a comma may be thousands: those are left to be asked about.
_COMMA = re.compile(r"\s*([+-]?\d+),(\d{1,2}|\d{4,})(?![\d.,])(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class SumLine:
    """A sum on one line."""

    url: str
    name: str
    purpose: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SumGroup:
    """Sums about one thing."""

    heading: str
    lines: tuple[SumLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SumsPage:
    """All sums, group by group."""

    groups: tuple[SumGroup, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One result: what it means, and its value with its unit."""

    meaning: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """The answer: a sentence, what to beware of, the figures, and how a shell asks the same."""

    sentence: str
    caveats: tuple[str, ...]
    figures: tuple[Figure, ...]
    command: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SumPage:
    """One sum: what it is for, its form, its answer, and what stands behind it."""

    name: str
    title: str
    purpose: str
    fields: tuple[Field, ...]
    typed: Typed
    result: Result | None
    formula: str
    source: str
    validity: str
    example_url: str


def title_of(name: str) -> str:
    """Return the name of a sum as a title.

    >>> title_of("level-shift"), title_of("iso4406")
    ('Level shift', 'ISO 4406')
    """
    found = re.fullmatch(r"(iso|as|nas)(\d+)", name)
    if found is not None:
        return f"{found[1].upper()} {found[2]}"
    words = name.replace("-", " ")
    return words[:1].upper() + words[1:]


def sums_page() -> SumsPage:
    """Return all sums as the registry groups them."""
    groups: dict[str, list[SumLine]] = {}
    for name, home in HOMES.items():
        line = SumLine(
            url=f"/sums/{name}",
            name=title_of(name),
            purpose=as_sentence(bench_sum(name).purpose),
        )
        groups.setdefault(home, []).append(line)
    return SumsPage(
        groups=tuple(
            SumGroup(heading=HEADINGS[home], lines=tuple(lines)) for home, lines in groups.items()
        )
    )


def sum_page(name: str, asked: Mapping[str, str]) -> SumPage:
    """Return a sum, worked out where anything was typed; or raise ``NotFound``."""
    found = bench_sum(name)
    typed, result = _worked_out(found, asked) if asked else (_blank(found), None)
    return SumPage(
        name=name,
        title=title_of(name),
        purpose=as_sentence(found.purpose),
        fields=tuple(_field(key) for key in found.keys),
        typed=typed,
        result=result,
        formula=found.formula,
        source=as_sentence(found.source),
        validity=found.validity,
        example_url=f"/sums/{name}?{urlencode(dict(pair.split('=', 1) for pair in found.example))}",
    )


def _field(key: Key) -> Field:
    """Return the field of a key; its unit is part of the label, since it is nobody's choice."""
    unit = _unit(key.unit)
    label = fine(key.meaning[:1].upper() + key.meaning[1:])
    limits = "" if key.kind is Kind.CHOICE else as_sentence(_limits(key) or "any number")
    several = " Commas between the values." if key.kind is Kind.NUMBERS else ""
    return Field(
        key.name,
        f"{label}, {unit}" if unit and unit not in label else label,
        _KINDS.get(key.kind, "text"),  # type: ignore[arg-type] # the words of forms.Kind
        required=key.is_required,
        choices=key.choices,
        hint=f"{limits}{several}",
    )


def _limits(key: Key) -> str:
    """Return the limits of a key with all their zeros, in the unit as pages write it."""
    text = key.limits_in_words().removesuffix(key.shown_unit).strip()
    spelt = re.sub(r"\d+(\.\d+)?e\+\d+", lambda found: shown_figure(float(found[0])), text)
    unit = _unit(key.unit)
    return f"{spelt} {unit}" if spelt and unit else spelt


def _blank(found: BenchSum) -> Typed:
    """Return a form that was not sent yet: with what holds unless somebody says otherwise."""
    return Typed(texts={key.name: key.default for key in found.keys if key.default is not None})


def _worked_out(found: BenchSum, asked: Mapping[str, str]) -> tuple[Typed, Result | None]:
    """Return the form with what is wrong beside each field, or with the answer."""
    pairs = {name: text.strip() for name, text in asked.items() if text.strip()}
    typed = Typed(texts={**_blank(found).texts, **pairs})
    for key in found.keys:
        if key.name not in pairs:
            if key.is_required:
                typed = typed.with_fault(key.name, "This is needed.")
            continue
        if key.kind is Kind.NUMBER:
            pairs[key.name] = _with_point(pairs[key.name])
        try:
            key.read(pairs[key.name])
        except OutOfRange as error:
            typed = typed.with_error(error)
    if not typed.is_good:
        return typed, None
    try:
        answer = found.answer(pairs)
    except NotFound as error:
        told = f"There is no field called \u201c{error.name}\u201d in this sum."
        return typed.with_fault(WHOLE_FORM, told), None
    except UllageError as error:
        return typed.with_error(error), None
    return typed, Result(
        sentence=answer.sentence,
        caveats=tuple(caveat.text for caveat in answer.caveats),
        figures=tuple(
            Figure(
                meaning=output.meaning[:1].upper() + output.meaning[1:],
                value=_value(answer.values[output.name], output.unit),
            )
            for output in found.outputs
        ),
        command=" ".join(
            ["ullage calc", found.name, *quoted([f"{key}={text}" for key, text in pairs.items()])]
        ),
    )


def _with_point(text: str) -> str:
    """Return a number with a point where a keyboard offers a comma."""
    found = _COMMA.fullmatch(text)
    return text if found is None else f"{found[1]}.{found[2]}{found[3]}"


def _unit(unit: Suffix | None) -> str:
    """Return how a unit is written on pages."""
    if unit is None:
        return ""
    word = word_of(unit.suffix, Units()) if unit.suffix in SUFFIXES else unit.shown
    return fine(f"per {word[3:-1]}") if word.startswith("1/(") else word


def _value(value: Shown, unit: Suffix | None) -> str:
    """Return a result in words."""
    if value is None:
        return "none"
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {text}" for name, text in value.items())
    if isinstance(value, list):
        text = ", ".join(figure(one) for one in value)
    else:
        text = figure(value) if isinstance(value, float) else str(value)
    word = _unit(unit)
    return f"{text}\N{NO-BREAK SPACE}{word}" if word else text
