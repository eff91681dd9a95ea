"""Whoever waits for an answer is told how far it is, and gets away at once when they stop."""

from __future__ import annotations

import time
from itertools import groupby, pairwise

import pytest

from tests.unit.evidence.cases import CONTRADICTION, SAMPLES, circuit, evidence, prover, recipe
from ullage.errors import Stopped
from ullage.evidence.forward import RUNNING
from ullage.evidence.misfit import LOOKING
from ullage.evidence.next_step import AHEAD
from ullage.evidence.update import FITTING
from ullage.evidence.verdict import prove, prover_of

Told = list[tuple[str, int, int]]


class Clicked:
    """Says stop from the n-th question on, and remembers when it first did."""

    def __init__(self, after: int) -> None:
        self.left = after
        self.at_s: float | None = None

    def __call__(self) -> bool:
        """Answer the question."""
        self.left -= 1
        if self.left >= 0:
            return False
        self.at_s = self.at_s or time.perf_counter()
        return True


@pytest.mark.parametrize(
    ("text", "work"),
    [(SAMPLES, [RUNNING, FITTING, AHEAD]), (CONTRADICTION, [RUNNING, FITTING, LOOKING, AHEAD])],
)
def test_each_kind_of_work_is_counted_to_its_end(text: str, work: list[str]) -> None:
    """Counts never fall within one kind of work, and what is waited for is named in order."""
    told: Told = []

    def tell(what: str, done: int, of: int) -> None:
        told.append((what, done, of))

    mine = prover_of(circuit(), recipe(), evidence(text), prior=300, answer=150, progress=tell)
    prove(circuit(), recipe(), evidence(text), prover=mine, progress=tell)

    seen = [(what, list(those)) for what, those in groupby(told, key=lambda one: one[0])]
    assert [what for what, _ in seen] == work
    for what, those in seen:
        counts = [done for _, done, _ in those]
        assert all(0 <= done <= of for _, done, of in those)
        if what != AHEAD:  # two runs, one after the other
            assert counts == sorted(counts)
        if what in (RUNNING, FITTING):
            assert those[-1][1] == those[-1][2]


@pytest.mark.parametrize("after", [0, 3, 12, 40])
def test_an_answer_that_is_called_off_ends_at_once(after: int) -> None:
    """From a cold start, wherever it is asked, it gives up within half a second."""
    stop = Clicked(after)

    with pytest.raises(Stopped, match="the answer was given up"):
        prove(circuit(), recipe(), evidence(SAMPLES), stop=stop)

    assert stop.at_s is not None
    assert time.perf_counter() - stop.at_s < 0.5


def test_the_question_is_put_often() -> None:
    """Between two questions no more than half a second of work is done."""
    asked: list[float] = []

    def stop() -> bool:
        asked.append(time.process_time())
        return False

    prove(circuit(), recipe(), evidence(CONTRADICTION), stop=stop)

    assert max(b - a for a, b in pairwise(asked)) < 0.5


def test_nothing_is_left_of_an_answer_that_was_called_off() -> None:
    """Asked again with the same prover, the answer is the one that nobody stopped."""
    mine = prover()
    with pytest.raises(Stopped):
        prove(circuit(), recipe(), evidence(SAMPLES), prover=mine, stop=Clicked(20))

    again, whole = (prove(circuit(), recipe(), evidence(SAMPLES), prover=mine) for _ in range(2))

    assert again.remaining == whole.remaining
