"""Somebody waits for the answer: they are told how far it is, and may call it off.

A page runs an answer beside others; what it shows while it runs, and how it ends early, is said
here. Leaves out threads and pages: whoever calls brings two functions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ullage.errors import Stopped

#: Told what is under way, how much of it is done, and of how much.
Progress = Callable[[str, int, int], None]
#: Asked often, from any thread; once it says yes the answer is given up.
Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Who waits: what tells them, and what asks them whether to go on."""

    progress: Progress | None = None
    stop: Stop | None = None

    def tell(self, what: str, done: int, of: int) -> None:
        """Say how far it is, and go on if that is still wanted."""
        self.ask()
        if self.progress is not None:
            self.progress(what, done, of)

    def ask(self) -> None:
        """Go on if that is still wanted.

        Raises
        ------
        Stopped
            If it is not.
        """
        if self.stop is not None and self.stop():
            raise Stopped("answer")


#: Nobody is told, nobody stops.
ALONE = Waiting()
