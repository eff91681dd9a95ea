"""Long work is done beside the pages, can be cancelled, and a worker that dies says so."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from ullage.circuit.catalogue import circuit_template
from ullage.errors import NotFound
from ullage.jobs.prices import kept_prices
from ullage.web.work import Piece, State, Work

# A worker that does as its inputs say: the lines are those of the real one.
_OBEDIENT = """
import json, sys, threading, time
stop = threading.Event()
import queue
asked = queue.SimpleQueue()
def listen():
    for text in sys.stdin:
        line = json.loads(text)
        stop.set() if line.get("stop") else asked.put(line)
    asked.put(None)
threading.Thread(target=listen, daemon=True).start()
def say(**line):
    print(json.dumps(line), flush=True)
while (line := asked.get()) is not None:
    inputs = line["inputs"]
    stop.clear()
    say(told=["counting", 1, 2])
    if inputs.get("die"):
        sys.exit(3)
    if inputs.get("deaf"):
        time.sleep(60)
    until = time.monotonic() + inputs.get("for_s", 0.0)
    while time.monotonic() < until and not stop.is_set():
        time.sleep(0.005)
    if stop.is_set():
        say(failed="cancelled")
    elif inputs.get("fail"):
        say(failed=inputs["fail"])
    else:
        say(done={"answer": inputs.get("n", 0)})
"""


@pytest.fixture
def work(tmp_path: Path) -> Iterator[Work]:
    """Give a queue whose worker does as it is told."""
    file = tmp_path / "obedient.py"
    file.write_text(_OBEDIENT)
    made = Work((sys.executable, str(file)))
    yield made
    made.close()


class Kept(list[Any]):
    """Keeps results, as a store would."""

    def __call__(self, found: Mapping[str, Any]) -> None:
        """Keep one."""
        self.append(found["answer"])


def _begin(work: Work, id_: str, kept: Kept | None = None, **inputs: Any) -> Piece:
    return work.begin(
        id_, "plan", inputs, title="Plan", url="/jobs/1", then=Kept() if kept is None else kept
    )


def test_a_result_is_handed_on_whether_or_not_anybody_looks(work: Work) -> None:
    """Pieces are done in the order in which they came."""
    kept = Kept()
    for number in range(3):
        _begin(work, f"p{number}", kept, n=number)

    assert work.wait("p2", timeout_s=20.0).state is State.DONE
    assert kept == [0, 1, 2]


def test_asking_twice_begins_once(work: Work) -> None:
    """A form that was sent twice makes one plan."""
    kept = Kept()
    first = _begin(work, "p1", kept, n=1)
    second = _begin(work, "p1", kept, n=2)
    work.wait("p1", timeout_s=20.0)

    assert first.id == second.id
    assert kept == [1]


def test_a_piece_tells_how_far_it_is(work: Work) -> None:
    """What is under way, how much of it, of how much."""
    _begin(work, "p1", for_s=30.0)
    until = time.monotonic() + 20.0
    while work.piece("p1").what != "counting" and time.monotonic() < until:
        time.sleep(0.01)
    piece = work.piece("p1")

    assert (piece.state, piece.what, piece.done, piece.of) == (State.UNDER_WAY, "counting", 1, 2)


def test_what_is_cancelled_ends_and_the_next_one_goes_on(work: Work) -> None:
    """The worker gives it up by itself and stays."""
    kept = Kept()
    _begin(work, "p1", kept, n=1, for_s=60.0)
    _begin(work, "p2", kept, n=2)
    _begin(work, "p3", kept, n=3)
    work.cancel("p2")
    while work.piece("p1").what != "counting":
        time.sleep(0.01)
    began = time.monotonic()
    work.cancel("p1")
    work.wait("p3", timeout_s=20.0)

    assert [work.piece(p).state for p in ("p1", "p2", "p3")] == [
        State.CANCELLED,
        State.CANCELLED,
        State.DONE,
    ]
    assert kept == [3]
    assert time.monotonic() - began < 10.0


def test_a_worker_that_does_not_listen_is_ended(work: Work) -> None:
    """After a moment; the next piece gets a new one."""
    kept = Kept()
    _begin(work, "p1", kept, deaf=True)
    while work.piece("p1").what != "counting":
        time.sleep(0.01)
    work.cancel("p1")
    _begin(work, "p2", kept, n=2)

    assert work.wait("p2", timeout_s=20.0).state is State.DONE
    assert kept == [2]


def test_a_worker_that_dies_fails_its_piece_with_a_sentence(work: Work) -> None:
    """And the next one is done by another worker."""
    kept = Kept()
    _begin(work, "p1", kept, die=True)
    _begin(work, "p2", kept, n=2)
    work.wait("p2", timeout_s=20.0)

    assert work.piece("p1").state is State.FAILED
    assert "ask again" in work.piece("p1").why
    assert kept == [2]


def test_a_refusal_is_shown_as_it_was_said(work: Work) -> None:
    """A sentence of the use case, not a trace of the program."""
    _begin(work, "p1", fail="families are never mixed")

    assert work.wait("p1", timeout_s=20.0).why == "families are never mixed"


def test_an_answer_that_cannot_be_kept_is_no_answer(work: Work) -> None:
    """The store said no: the page must not say that it is done."""

    def refuses(_: Mapping[str, Any]) -> None:
        raise RuntimeError("disk full")

    work.begin("p1", "plan", {}, title="Plan", url="/", then=refuses)
    piece = work.wait("p1", timeout_s=20.0)

    assert piece.state is State.FAILED
    assert "disk full" in piece.why


def test_closing_ends_everything(work: Work) -> None:
    """No worker and no thread is left."""
    _begin(work, "p1", for_s=60.0)
    _begin(work, "p2")
    while work.piece("p1").what != "counting":
        time.sleep(0.01)
    work.close()

    assert work.piece("p1").state is State.CANCELLED
    assert work.wait("p2", timeout_s=1.0).state is State.CANCELLED
    assert not any(
        t.name.startswith("Thread")
        and t.is_alive()
        and t.daemon
        and getattr(t, "_target", None) == work._go_on
        for t in threading.enumerate()
    )


def test_unknown_work_is_not_found(work: Work) -> None:
    """An address that nobody gave out."""
    with pytest.raises(NotFound):
        work.piece("nowhere")


@pytest.mark.slow
def test_the_real_worker_ends_when_the_app_is_gone() -> None:
    """Even in the middle of a plan: its input ends, whatever became of the app."""
    table = tomllib.loads(circuit_template("levelling-van").text)
    prices = {"currency": "EUR", **kept_prices({})}
    inputs = {"circuit": table, "goal": {"target_pct": 10.0}, "prices": prices, "seed": 0}
    with subprocess.Popen(
        [sys.executable, "-m", "ullage.web.worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as worker:
        assert worker.stdin is not None
        assert worker.stdout is not None
        worker.stdin.write(json.dumps({"task": "plan", "inputs": inputs}) + "\n")
        worker.stdin.flush()
        told = json.loads(worker.stdout.readline())
        worker.stdin.close()
        worker.stdout.read()

        assert "told" in told
        assert worker.wait(timeout=30.0) == 0
