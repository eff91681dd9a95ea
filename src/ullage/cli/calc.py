"""``ullage calc``: work out one bench sum, list them, or explain one.

Speaks for ``ullage.sums``: pairs of key and value come in, a sentence or one JSON object goes out.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import TextIO

from ullage.errors import OutOfRange, UllageError
from ullage.sums.bench_sum import Answer, BenchSum, quoted
from ullage.sums.registry import bench_sum, bench_sums, work_out

SUCCESS = 0
BAD_INPUT = 2
USAGE = "ullage calc NAME key=value ... [--json] | ullage calc --list | ullage calc NAME --help"


def run(
    name: str | None,
    pairs: Sequence[str],
    *,
    as_json: bool,
    list_all: bool,
    help_: bool,
    out: TextIO,
    err: TextIO,
) -> int:
    """Carry out one ``ullage calc`` and return the exit code: 0, or 2 on bad input."""
    try:
        text = _text(name, pairs, as_json=as_json, list_all=list_all, help_=help_)
    except UllageError as error:
        err.write(f"ullage calc: {error}\n")
        return BAD_INPUT
    out.write(text + "\n")
    return SUCCESS


def _text(
    name: str | None, pairs: Sequence[str], *, as_json: bool, list_all: bool, help_: bool
) -> str:
    """Return what the command prints."""
    if list_all:
        _nothing_else(name, pairs)
        return _list_as_json() if as_json else _list()
    if name is None:
        if help_:
            return f"usage: {USAGE}\n\n{_list()}"
        raise OutOfRange("NAME", "nothing", "the name of a sum", f"see: {USAGE}")
    if help_:
        found = bench_sum(name)
        return json.dumps(_described(found)) if as_json else explain(found)
    answer = work_out(name, split_pairs(pairs))
    if as_json:
        return json.dumps(answer.as_json(), allow_nan=False)
    return in_sentences(bench_sum(name), answer)


def split_pairs(pairs: Sequence[str]) -> dict[str, str]:
    """Return ``key=value`` texts as a mapping; refuse what is no pair or comes twice."""
    found: dict[str, str] = {}
    for pair in pairs:
        key, sign, value = pair.partition("=")
        key = key.strip()
        if not sign or not key:
            raise OutOfRange(
                "each argument",
                repr(pair),
                "of the form key=value",
                'put a value with a unit in quotes: flow_l_min="2 us_gal/min"',
            )
        if key in found:
            raise OutOfRange(key, f"{found[key]} and {value}", "given once")
        found[key] = value
    return found


def in_sentences(found: BenchSum, answer: Answer) -> str:
    """Return an answer for people: the sentence, the limits, and each caveat on its line."""
    lines = [answer.sentence, f"Holds: {found.validity}"]
    lines += [f"Beware: {caveat.text}" for caveat in answer.caveats]
    return "\n".join(lines)


def explain(found: BenchSum) -> str:
    """Return what ``ullage calc NAME --help`` prints: formula, keys, results, source, validity."""
    names = [key.name for key in found.keys] + [output.name for output in found.outputs]
    width = max(len(name) for name in names)
    lines = [f"ullage calc {found.name}: {found.purpose}", "", f"formula: {found.formula}", ""]
    lines.append("keys:")
    for key in found.keys:
        needed = f" (default {key.default})" if key.default else " (optional)" * key.may_be_left_out
        limits = key.limits_in_words()
        ending = f" [{limits}]" if limits else ""
        lines.append(f"  {key.name.ljust(width)}  {key.meaning}{needed}{ending}")
    lines += ["", "results:"]
    for output in found.outputs:
        unit = f" [{output.unit.shown}]" if output.unit else ""
        lines.append(f"  {output.name.ljust(width)}  {output.meaning}{unit}")
    lines += [
        "",
        f"source:  {found.source}",
        f"holds:   {found.validity}",
        f"example: ullage calc {found.name} {' '.join(quoted(found.example))}",
        "",
        'A value may carry a unit: flow_l_min="2 us_gal/min". Lists are a,b,c.',
    ]
    return "\n".join(lines)


def _nothing_else(name: str | None, pairs: Sequence[str]) -> None:
    """Refuse a name or pairs beside ``--list``."""
    if name is not None or pairs:
        given = " ".join([*([name] if name else []), *pairs])
        raise OutOfRange("--list", f"{given!r} beside it", "given alone")


def _list() -> str:
    """Return one line per sum."""
    sums = bench_sums()
    width = max(len(one.name) for one in sums)
    return "\n".join(f"{one.name.ljust(width)}  {one.purpose}" for one in sums)


def _list_as_json() -> str:
    """Return every sum with its keys and results as one JSON object."""
    return json.dumps({"sums": [_described(one) for one in bench_sums()]})


def _described(found: BenchSum) -> dict[str, object]:
    """Return a sum as JSON describes it."""
    return {
        "name": found.name,
        "purpose": found.purpose,
        "formula": found.formula,
        "source": found.source,
        "validity": found.validity,
        "keys": [
            {
                "name": key.name,
                "meaning": key.meaning,
                "kind": key.kind.value,
                "unit": key.shown_unit or None,
                "required": key.is_required,
                "default": key.default,
                "allowed": key.limits_in_words(),
            }
            for key in found.keys
        ],
        "outputs": [
            {
                "name": output.name,
                "meaning": output.meaning,
                "unit": output.unit.shown if output.unit else None,
            }
            for output in found.outputs
        ],
        "example": list(found.example),
    }


def _main(words: Sequence[str]) -> int:
    """Run this module by itself: ``python -m ullage.cli.calc viscosity ...``."""
    flags = {"--json", "--list", "--help", "-h"}
    rest = [word for word in words if word not in flags]
    return run(
        rest[0] if rest else None,
        rest[1:],
        as_json="--json" in words,
        list_all="--list" in words,
        help_="--help" in words or "-h" in words,
        out=sys.stdout,
        err=sys.stderr,
    )


if __name__ == "__main__":
    raise SystemExit(_main(sys.argv[1:]))
