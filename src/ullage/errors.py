"""What can go wrong, by name.

::

    UllageError
    |-- OutOfRange      a value lies outside what is allowed
    |-- FileFaults      a file holds faults; carries every one of them
    |-- Incompatible    things that must not be put together
    |-- NotConverged    a calculation did not settle; carries the residual
    |-- Contradiction   readings and model cannot both be right
    |-- NotFound        a name that nothing bears
    `-- Conflict        somebody else changed it first

Every message says what is wrong, what is allowed, the value found, and what to do about it.
The same facts stand in attributes, so that a page or a command can show them in the reader's units.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class UllageError(Exception):
    """Anything that Ullage reports to a person in a sentence."""


class OutOfRange(UllageError):
    """A value lies outside what is allowed.

    ``name`` is the parameter, ``value`` what was given, ``allowed`` the range in words,
    ``advice`` what to do; the message is made of the four.
    """

    def __init__(self, name: str, value: object, allowed: str, advice: str = "") -> None:
        self.name = name
        self.value = value
        self.allowed = allowed
        self.advice = advice
        text = f"{name} must be {allowed}, got {value}"
        super().__init__(f"{text}; {advice}" if advice else text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that cannot be right in a file.

    ``key`` is the place in the file ("leg[2].line.bore_mm"), ``value`` what stands there (None
    where something is missing), ``problem`` what is wrong, ``allowed`` what may stand there,
    ``advice`` what to do.
    """

    key: str
    value: object
    problem: str
    allowed: str = ""
    advice: str = ""

    def sentence(self) -> str:
        """Return the fault as one sentence for a person."""
        shown = "" if self.value is None else f" = {self.value!r}"
        tail = "".join(f"; {part}" for part in (self.allowed, self.advice) if part)
        return f"{self.key}{shown}: {self.problem}{tail}"


class FileFaults(UllageError):
    """A file holds faults; ``faults`` has all of them, in the order of the file."""

    def __init__(self, file: str, faults: Iterable[Fault]) -> None:
        self.file = file
        self.faults = tuple(faults)
        lines = "\n".join(f"  - {fault.sentence()}" for fault in self.faults)
        count = "one fault" if len(self.faults) == 1 else f"{len(self.faults)} faults"
        super().__init__(f"{file}: {count}\n{lines}")


class Incompatible(UllageError):
    """Things that must not be put together, such as fluids of two families."""


class NotConverged(UllageError):
    """A calculation did not settle; it returns no number.

    ``residual`` is what was left, in the unit that the message names.
    """

    def __init__(self, message: str, residual: float) -> None:
        self.residual = residual
        super().__init__(message)


class Stopped(UllageError):
    """Long work was given up by whoever had asked for it; nothing is kept of it."""

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(f"the {what} was given up before it was there; ask again to have it")


class Contradiction(UllageError):
    """Readings and model cannot both be right."""


class NotFound(UllageError):
    """A name that nothing bears; ``known`` lists the names that exist."""

    def __init__(self, what: str, name: str, known: Iterable[str] = ()) -> None:
        self.what = what
        self.name = name
        self.known = tuple(known)
        listed = f"; there are: {', '.join(self.known)}" if self.known else ""
        super().__init__(f"no {what} is called {name!r}{listed}")


class Conflict(UllageError):
    """Somebody else changed it first; load it again and repeat the change."""
