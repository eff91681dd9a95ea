"""What should a reader know about a value before trusting it?

A result that is usable with reservations carries caveats. Screens and printed reports show them;
nothing else in the program may swallow them.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caveat:
    """One reservation about a value.

    ``code`` is a fixed word for programs ("above-200-bar"), ``text`` one sentence for people.
    """

    code: str
    text: str


def only_where_true(*pairs: tuple[bool, Caveat]) -> tuple[Caveat, ...]:
    """Return the caveats whose condition holds, in the order given."""
    return tuple(caveat for holds, caveat in pairs if holds)
