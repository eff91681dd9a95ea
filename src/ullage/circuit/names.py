"""How are parts named, which names are taken, and which name did a person probably mean?"""

from __future__ import annotations

import re
from collections.abc import Iterable

TAKEN = ("reservoir",)
ALLOWED = "lower-case letters, digits and hyphens, beginning with a letter or digit"

_ID = re.compile(r"[a-z0-9][a-z0-9-]*")


def is_name(text: str) -> bool:
    """Tell whether a text may be the id of a part or the name of a group.

    >>> is_name("front-left"), is_name("Front left"), is_name("")
    (True, False, False)
    """
    return _ID.fullmatch(text) is not None


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that is most like ``name``, or None where none is like it.

    >>> nearest("suply", ["supply", "return"])
    'supply'
    >>> nearest("xyz", ["supply", "return"]) is None
    True
    >>> nearest("hv", ["HM", "HV"])
    'HV'
    """
    import difflib  # only sentences about misspelt names need it

    by_small = {text.lower(): text for text in known}
    found = difflib.get_close_matches(name.lower(), list(by_small), n=1, cutoff=0.6)
    return by_small[found[0]] if found else None


def one_of(known: Iterable[str]) -> str:
    """Return the names a person may choose from, in words.

    >>> one_of(["supply", "return"])
    'there are: supply, return'
    >>> one_of([])
    'there are none'
    """
    names = list(known)
    return f"there are: {', '.join(names)}" if names else "there are none"


def did_you_mean(name: str, known: Iterable[str], *, otherwise: str = "") -> str:
    """Return a question that proposes the nearest known name, else ``otherwise``.

    >>> did_you_mean("suply", ["supply", "return"])
    'did you mean "supply"?'
    """
    found = nearest(name, known)
    return otherwise if found is None else f'did you mean "{found}"?'
