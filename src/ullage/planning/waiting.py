"""A plan takes seconds: whoever waits for it hears how far it is, and may give it up.

Nothing here knows threads or pages: a caller in a worker brings one function that is told and one
that is asked. Both are called from the thread that asked for the plan, and from no other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ullage.errors import Stopped

#: Told what is under way, how much of it is done, and of how much.
Progress = Callable[[str, int, int], None]
#: Asked several times a second; once it says yes the plan is given up.
Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Who waits for a plan; by default nobody."""

    progress: Progress | None = None
    stop: Stop | None = None

    def ask(self) -> None:
        """Go on if somebody still wants the plan.

        Raises
        ------
        Stopped
            If nobody does.
        """
        if self.stop is not None and self.stop():
            raise Stopped("plan")

    def tell(self, what: str, done: int, of: int) -> None:
        """Say how far the plan is, having asked whether to go on."""
        self.ask()
        if self.progress is not None:
            self.progress(what, done, of)
