"""What did a person type into a form, as values in the units of our files?

A form is a tuple of ``Field``. ``read`` gives back values for what is right, a sentence for each
field that is not, and every text as it was typed, so that a form can be shown again with nothing
lost. Numbers may bear any unit of their kind ("7.5 us_qt"); without one they are in the unit that
the label shows, which is the person's own.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from datetime import date
from typing import Any, Literal

from ullage.errors import FileFaults, OutOfRange, UllageError
from ullage.units.suffixes import suffix
from ullage.units.text import si_from_text_in
from ullage.web.shown import Units, figure, own_value, word_of

Kind = Literal["number", "whole", "text", "lines", "choice", "flag", "date"]

#: The key of a sentence that belongs to the form as a whole.
WHOLE_FORM = ""
LONGEST_LINE = 200
LONGEST_TEXT = 4000
_UID = re.compile(r"[a-z0-9-]{8,64}")
_COMMA = re.compile(r"\s*([+-]?\d+),(\d+)(?![\d.,])(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a form asks.

    ``unit`` is a suffix of ``units.suffixes``, the one that our files use for this key; ``low`` and
    ``high`` are in it. ``choices`` are words, or pairs of a word and what stands on the page.
    """

    name: str
    label: str
    kind: Kind
    _: KW_ONLY
    unit: str = ""
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: Sequence[str | tuple[str, str]] = ()
    hint: str = ""
    longest: int = 0

    @property
    def options(self) -> tuple[tuple[str, str], ...]:
        """Return the choices as pairs of the word that is sent and the words that are read."""
        return tuple(one if isinstance(one, tuple) else (one, one) for one in self.choices)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was typed: values that are right, all texts, and a sentence for each fault.

    A field that was left empty has no value. ``uid`` is the form's own name: the same when the same
    form is sent twice.
    """

    values: Mapping[str, Any] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)
    uid: str = ""

    @property
    def is_good(self) -> bool:
        """Tell whether nothing is wrong."""
        return not self.faults

    def text(self, name: str) -> str:
        """Return what stands in a field."""
        return self.texts.get(name, "")

    def fault(self, name: str) -> str:
        """Return what is wrong with a field, or nothing."""
        return self.faults.get(name, "")

    def with_fault(self, name: str, sentence: str) -> Typed:
        """Return the same with one more fault; a field keeps the first that was found."""
        return replace(self, faults={name: sentence, **self.faults})

    def with_error(self, error: UllageError) -> Typed:
        """Return the same with an error of a use case beside the field that it is about."""
        if isinstance(error, OutOfRange):
            name = error.name.rsplit(".", 1)[-1]
            if name in self.texts:
                return self.with_fault(name, _sentence(error))
        if isinstance(error, FileFaults):
            return self.with_fault(WHOLE_FORM, " ".join(f.sentence() for f in error.faults))
        return self.with_fault(WHOLE_FORM, as_sentence(str(error)))


def blank() -> Typed:
    """Return an empty form that was not sent yet."""
    return Typed(uid=new_uid())


def new_uid() -> str:
    """Return a name for a form that is about to be shown."""
    return secrets.token_hex(12)


def filled(fields: Sequence[Field], values: Mapping[str, Any], units: Units) -> Typed:
    """Return a form that shows values which are known already."""
    texts = {
        one.name: _shown(one, values[one.name], units)
        for one in fields
        if values.get(one.name) is not None
    }
    return Typed(values=dict(values), texts=texts, uid=new_uid())


def read(fields: Sequence[Field], form: Mapping[str, Any], units: Units) -> Typed:
    """Return what was typed into the fields of a form."""
    values: dict[str, Any] = {}
    texts: dict[str, str] = {}
    faults: dict[str, str] = {}
    for one in fields:
        raw = form.get(one.name)
        text = raw if isinstance(raw, str) else ""
        texts[one.name] = text
        try:
            value = _value(one, text, units)
        except OutOfRange as error:
            faults[one.name] = _sentence(error)
            continue
        if value is not None:
            values[one.name] = value
        if one.required and (value is None or value is False):
            faults[one.name] = f"{one.label}: this is needed."
    uid = form.get("uid")
    known = isinstance(uid, str) and _UID.fullmatch(uid)
    return Typed(values=values, texts=texts, faults=faults, uid=str(uid) if known else new_uid())


def as_sentence(text: str) -> str:
    """Return a text that begins with a capital letter and ends with a full stop."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '?', '!')) else '.'}"


def _sentence(error: OutOfRange) -> str:
    """Return what is wrong with one field, in a sentence that need not repeat its label."""
    got = str(error.value)
    lead = f"This must be {error.allowed}" + (f", not {got}." if got else ".")
    return f"{lead} {as_sentence(error.advice)}" if error.advice else lead


def _value(one: Field, text: str, units: Units) -> Any:
    """Return the value of one field; None where nothing was typed."""
    if one.kind == "flag":
        return text != ""
    if not text.strip():
        return None
    match one.kind:
        case "number":
            return _number(one, text, units)
        case "whole":
            number = _number(one, text, units)
            if number != int(number):
                raise OutOfRange(
                    one.name,
                    f"\N{LEFT DOUBLE QUOTATION MARK}{text.strip()}\N{RIGHT DOUBLE QUOTATION MARK}",
                    "a whole number",
                )
            return int(number)
        case "choice":
            if text not in dict(one.options):
                words = ", ".join(label for _, label in one.options)
                raise OutOfRange(one.name, "something else", f"one of {words}")
            return text
        case "date":
            try:
                return date.fromisoformat(text.strip())
            except ValueError:
                raise OutOfRange(one.name, _quoted(text), "a day such as 2026-05-04") from None
    return _text(one, text)


def _text(one: Field, text: str) -> str:
    """Return a text without what no page, file or label can bear."""
    longest = one.longest or (LONGEST_TEXT if one.kind == "lines" else LONGEST_LINE)
    clean = text.replace("\r\n", "\n").strip()
    if len(clean) > longest:
        raise OutOfRange(one.name, f"{len(clean)}", f"at most {longest} characters long")
    if one.kind == "text" and not clean.isprintable():
        raise OutOfRange(one.name, "", "one line of letters, digits and signs")
    if "\0" in clean:
        raise OutOfRange(one.name, "", "text without control characters")
    return clean


def _number(one: Field, text: str, units: Units) -> float:
    """Return a number in the unit of our files."""
    own = suffix(units.own(one.unit)) if one.unit else None
    typed = _with_point(text, one.name)
    try:
        value = si_from_text_in(typed, name=one.name, own=own)
    except OutOfRange as error:
        raise OutOfRange(one.name, _quoted(text), error.allowed, error.advice) from None
    if one.unit:
        # Twelve digits: what a person typed comes back as they typed it.
        value = float(f"{suffix(one.unit).from_si(value):.12g}")
    low, high = one.low, one.high
    if (low is not None and value < low) or (high is not None and value > high):
        raise OutOfRange(one.name, _quoted(text), _limits(one, units))
    return value


def _with_point(text: str, name: str) -> str:
    """Return a number with a point where many keyboards offer a comma alone.

    Three digits behind it may be thousands: nobody but the person knows.
    """
    found = _COMMA.fullmatch(text)
    if found is None:
        return text
    whole, part, rest = found.groups()
    if len(part) == 3 and whole.lstrip("+-") != "0":
        raise OutOfRange(
            name,
            _quoted(text),
            "written with a point as decimal mark",
            f"write {whole}{part} or {whole}.{part}",
        )
    return f"{whole}.{part}{rest}"


def _limits(one: Field, units: Units) -> str:
    """Say which numbers may be typed, in the person's unit."""
    word = word_of(one.unit, units)
    tail = f" {word}" if word else ""
    low, high = (
        None if end is None else figure(own_value(end, one.unit, units))
        for end in (one.low, one.high)
    )
    if low is None:
        return f"at most {high}{tail}"
    return f"at least {low}{tail}" if high is None else f"between {low} and {high}{tail}"


def _shown(one: Field, value: Any, units: Units) -> str:
    """Return a known value as the person would type it."""
    if one.kind == "flag":
        return "yes" if value else ""
    if isinstance(value, date):
        return value.isoformat()
    if one.kind in ("number", "whole"):
        return f"{own_value(float(value), one.unit, units):.10g}"
    return str(value)


def _quoted(text: str) -> str:
    """Return what was typed between quotation marks, short enough for a sentence."""
    short = text.strip()
    short = short if len(short) <= 30 else f"{short[:29]}\N{HORIZONTAL ELLIPSIS}"
    return f"\N{LEFT DOUBLE QUOTATION MARK}{short}\N{RIGHT DOUBLE QUOTATION MARK}"
