"""A desk for tests: everything in memory, a clock that ticks a second a look, counted names."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

from tests.fakes.pictures import MemoryPictures
from tests.fakes.store import MemoryStore
from ullage.jobs.ports import Desk, JobStore
from ullage.wiring import FileForms

START = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


class TickingClock:
    """Goes on by a second whenever somebody looks."""

    def __init__(self, start: datetime = START) -> None:
        self.at = start

    def __call__(self) -> datetime:
        """Return a second later than the last time."""
        self.at += timedelta(seconds=1)
        return self.at


class CountedNames:
    """Gives id0001, id0002 and so on."""

    def __init__(self) -> None:
        self._numbers = itertools.count(1)

    def __call__(self) -> str:
        """Return the next name."""
        return f"id{next(self._numbers):04d}"


def memory_desk(store: JobStore | None = None) -> Desk:
    """Return a desk whose store forgets everything when the test ends."""
    return Desk(
        store=MemoryStore() if store is None else store,
        pictures=MemoryPictures(),
        forms=FileForms(),
        now=TickingClock(),
        new_id=CountedNames(),
        code="test",
    )
