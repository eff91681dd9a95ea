"""What is a bench sum made of, and how does it get from texts to an answer?

A sum knows its keys, its formula and where that stands, its results, and how to say them in a
sentence. Formulas take and give SI; this file converts once on the way in and once on the way out,
and brings the sentences of the core into the words and units of the keys.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ullage.errors import NotFound, OutOfRange
from ullage.sums.key import Key, Value, nearest_name
from ullage.units.caveat import Caveat
from ullage.units.suffixes import SUFFIXES, Suffix, suffix_of

Shown = float | int | str | None | list[float] | dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One result: its name as the contract gives it, what it means, and its unit."""

    name: str
    meaning: str
    unit: Suffix | None = None
    si_name: str = ""

    def __post_init__(self) -> None:
        """Find the unit and the name in SI, which both follow from the output's own name."""
        carried = suffix_of(self.name) if "_" in self.name else None
        object.__setattr__(self, "unit", self.unit or carried)
        if not self.si_name:
            si = (
                self.name
                if carried is None
                else self.name.removesuffix(carried.suffix) + carried.si
            )
            object.__setattr__(self, "si_name", si)

    def shown(self, value: Any) -> Shown:
        """Return an SI value in the unit of the output; what is no number stays as it is."""
        if isinstance(value, bool) or self.unit is None:
            return list(value) if isinstance(value, tuple) else value
        if isinstance(value, tuple):
            return [self.unit.from_si(one) for one in value]
        return self.unit.from_si(value) if isinstance(value, (int, float)) else value


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a formula gives: SI values by name, and what to beware of."""

    values: Mapping[str, Any]
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The result of a sum: values by name in the units of their names, a sentence, caveats."""

    values: Mapping[str, Shown]
    sentence: str
    caveats: tuple[Caveat, ...]

    def as_json(self) -> dict[str, Any]:
        """Return what ``--json`` prints."""
        caveats = [{"code": caveat.code, "text": caveat.text} for caveat in self.caveats]
        return {**self.values, "caveats": caveats}


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSum:
    """One bench sum.

    ``formula``, ``source`` and ``validity`` are for people; ``work`` takes the keys by their SI
    names; ``say`` makes a sentence of the texts that were given and the results as shown;
    ``example`` is a set of pairs that works.
    """

    name: str
    purpose: str
    keys: tuple[Key, ...]
    outputs: tuple[Output, ...]
    formula: str
    source: str
    validity: str
    work: Callable[..., Found]
    say: Callable[[Mapping[str, str], Mapping[str, Any]], str]
    example: tuple[str, ...]

    def answer(self, pairs: Mapping[str, str]) -> Answer:
        """Work the sum out from texts by key.

        Raises
        ------
        NotFound
            If a key is not known; the nearest one is named.
        OutOfRange
            If a key is missing, or a value is no number, absurd, or outside what the formula takes.
        """
        values = self._read(pairs)
        try:
            found = self.work(**values)
        except OutOfRange as error:
            raise in_words_of_keys(error, self.keys) from error
        shown = {output.name: output.shown(found.values[output.si_name]) for output in self.outputs}
        return Answer(
            values=shown, sentence=self.say(self._texts(pairs), shown), caveats=found.caveats
        )

    def _read(self, pairs: Mapping[str, str]) -> dict[str, Value]:
        """Return the values of the keys by their SI names."""
        names = [key.name for key in self.keys]
        for name in pairs:
            if name not in names:
                near = nearest_name(name, names)
                others = [other for other in names if other != near]
                listed = [f"{near} (nearest)", *others] if near else others
                raise NotFound(f"key of {self.name}", name, listed)
        missing = [key for key in self.keys if key.is_required and key.name not in pairs]
        if missing:
            raise OutOfRange(
                f"the keys of {self.name}",
                ", ".join(pairs) or "none",
                f"complete ({', '.join(key.name for key in missing)} missing)",
                f"such as: ullage calc {self.name} {' '.join(quoted(self.example))}",
            )
        texts = {key: pairs.get(key.name, key.default) for key in self.keys}
        return {key.si_name: key.read(text) for key, text in texts.items() if text is not None}

    def _texts(self, pairs: Mapping[str, str]) -> dict[str, str]:
        """Return the texts of the keys with the unit that a bare number has, for the sentence."""
        said = {}
        for key in self.keys:
            text = pairs.get(key.name, key.default)
            if text is not None:
                bare = not re.search(r"[A-Za-z%]", re.sub(r"[eE][+-]?\d", "", text))
                said[key.name] = f"{text} {key.shown_unit}".strip() if bare else text
        return said


def figure(value: float) -> str:
    """Return a number with four significant digits, as people write it.

    >>> figure(12345.6), figure(0.012345), figure(2.5e-7)
    ('12350', '0.01234', '2.5e-07')
    """
    return f"{float(f'{value:.4g}'):.12g}"


def quoted(pairs: Sequence[str]) -> list[str]:
    """Return pairs as they are typed in a shell."""
    return [f'"{pair}"' if " " in pair or "*" in pair else pair for pair in pairs]


def in_words_of_keys(error: OutOfRange, keys: Sequence[Key]) -> OutOfRange:
    """Return an error of the core with the names and units of the keys.

    The core says ``target_per_m3 must be above 2e6 1/m3``; the person typed ``target_per_ml``.
    """
    parts = {"allowed": error.allowed, "advice": error.advice, "value": str(error.value)}
    name = error.name
    mine = next((key for key in keys if key.si_name == error.name), None)
    for key in keys:
        if key.si_name != key.name:
            whole_name = re.compile(rf"\b{re.escape(key.si_name)}\b")
            parts = {place: whole_name.sub(key.name, text) for place, text in parts.items()}
    if mine is not None:
        name = mine.name
        if mine.unit is not None and not mine.own_unit:
            parts = {place: _converted(text, mine.unit) for place, text in parts.items()}
    return OutOfRange(name, parts["value"], parts["allowed"], parts["advice"])


_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"


def _converted(text: str, unit: Suffix) -> str:
    """Return a text with its SI numbers of one unit in another unit."""

    def range_in_unit(match: re.Match[str]) -> str:
        low, high = (unit.from_si(float(number)) for number in match.groups())
        return f"from {low:.6g} to {high:.6g} {unit.shown}"

    def number_in_unit(match: re.Match[str]) -> str:
        return f"{unit.from_si(float(match[1])):.6g} {unit.shown}"

    after = rf"{re.escape(SUFFIXES[unit.si].bracket)}(?![\w/])"
    text = re.sub(rf"from ({_NUMBER}) to ({_NUMBER}) {after}", range_in_unit, text)
    return re.sub(rf"(?<![\w.])({_NUMBER}) {after}", number_in_unit, text)
