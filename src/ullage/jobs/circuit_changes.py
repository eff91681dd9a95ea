"""What changed from one version of a circuit to the next, in sentences a person can check.

Parts are told apart by their ids, so moving a row is no change. Numbers are compared and shown in
the units of the circuit file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ullage.units.suffixes import SUFFIXES, suffix_of

# Keys of an uncertain number that is written as a table.
_ENDS = frozenset({"best", "low", "high", "spread_pct", "as"})
# Longer lists are named, not printed.
_LONGEST = 60


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what differs between two tables, a sentence each; empty where nothing does.

    >>> changes({"pump": {"idle_rev_min": 750}}, {"pump": {"idle_rev_min": 700}})
    ('pump idle 750 → 700 rev/min',)
    """
    return tuple(_of_file(before, after))


def _of_file(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    """Yield the differences of two whole tables, in the order of the newer one."""
    for name in dict.fromkeys((*after, *before)):
        if name == "format":
            continue
        old, new = before.get(name), after.get(name)
        if _is_rows(old) or _is_rows(new):
            yield from _of_rows(name, _rows(old), _rows(new))
        elif isinstance(old, Mapping) or isinstance(new, Mapping):
            place = name.replace("_", " ")
            if old is None:
                yield f"{place} added"
            elif new is None:
                yield f"{place} taken away"
            else:
                yield from _of_table(place, old, new)
        elif old != new:
            yield _changed(name, name, old, new)


def _of_rows(kind: str, before: Sequence[Any], after: Sequence[Any]) -> Iterator[str]:
    """Yield the differences between two lists of parts; a part is known by its id."""
    old = {str(row.get("id")): row for row in before}
    new = {str(row.get("id")): row for row in after}
    for name, row in new.items():
        if name not in old:
            yield f"{kind} {name} added"
        else:
            yield from _of_table(name, old[name], row)
    for name in old:
        if name not in new:
            yield f"{kind} {name} taken away"


def _of_table(place: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    """Yield the differences of two tables key by key."""
    for key in dict.fromkeys((*after, *before)):
        old, new = before.get(key), after.get(key)
        if old == new:
            continue
        if isinstance(old, Mapping) and isinstance(new, Mapping) and _both_inner(old, new):
            yield from _of_table(f"{place} {_word(key)}", old, new)
        elif _is_inner(new):
            yield f"{place} {_word(key)} added"
        elif _is_inner(old):
            yield f"{place} {_word(key)} taken away"
        else:
            yield _changed(f"{place} {_word(key)}", key, old, new)


def _changed(what: str, key: str, old: object, new: object) -> str:
    """Return one difference: what it was and what it is."""
    unit = _unit(key)
    if old is None:
        return f"{what} {shown(new, unit)}, not said before"
    if new is None:
        return f"{what} no longer said, was {shown(old, unit)}"
    if isinstance(old, Mapping) and isinstance(new, Mapping) and _differ_in_best(old, new):
        old, new = old["best"], new["best"]
    is_plain = not isinstance(old, Mapping) and not isinstance(new, Mapping)
    texts = shown(old, "" if is_plain else unit), shown(new, unit)
    if max(map(len, texts)) > _LONGEST:
        return f"{what} changed"
    return f"{what} {texts[0]} → {texts[1]}"


def _differ_in_best(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Tell whether two uncertain numbers have another best value and nothing else."""
    return (
        "best" in old
        and "best" in new
        and {**old, "best": 0} == {**new, "best": 0}
        and "low" not in old
    )


def shown(value: object, unit: str = "") -> str:
    """Return a value of a circuit file as a person reads it.

    >>> shown({"best": 88, "low": 60, "high": 95}, "%"), shown({"best": 8, "spread_pct": 5}, "mm")
    ('88 (60–95) %', '8 mm ± 5 %')
    """
    tail = f" {unit}" if unit else ""
    match value:
        case bool():
            return "yes" if value else "no"
        case int() | float():
            return f"{value:.10g}{tail}"
        case str():
            return value
        case list() | tuple():
            return ", ".join(shown(item) for item in value) + tail
        case Mapping():
            text = shown(value.get("best", "?"))
            if "spread_pct" in value:
                text += f"{tail} ± {shown(value['spread_pct'])} %"
            elif "low" in value or "high" in value:
                text += f" ({shown(value.get('low', '?'))}–{shown(value.get('high', '?'))}){tail}"
            else:
                text += tail
            return f"{text}, one guess with {value['as']}" if "as" in value else text
    return str(value)


def _is_rows(value: object) -> bool:
    """Tell whether a value is a list of parts."""
    return isinstance(value, list) and any(isinstance(item, Mapping) for item in value)


def _rows(value: object) -> list[Mapping[str, Any]]:
    """Return the parts of a list."""
    found = value if isinstance(value, list) else []
    return [item for item in found if isinstance(item, Mapping)]


def _both_inner(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Tell whether two tables hold keys of their own."""
    return _is_inner(old) and _is_inner(new)


def _is_inner(value: object) -> bool:
    """Tell whether a value is a table of keys, and not an uncertain number."""
    return isinstance(value, Mapping) and not set(value) & _ENDS


def _word(key: str) -> str:
    """Return a key without its unit, in words."""
    row = suffix_of(key)
    stem = key.removesuffix(f"_{row.suffix}") if row is not None else key
    return stem.replace("_", " ")


def _unit(key: str) -> str:
    """Return the unit that a key is in, as sentences print it."""
    row = suffix_of(key)
    return "" if row is None or key in SUFFIXES else row.shown
