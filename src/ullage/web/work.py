"""Work that takes longer than a page may wait: done by another process, one piece at a time.

A piece waits, is under way, and then is done, failed or cancelled. Its result is handed on as soon
as it is there, whether or not anybody still looks at the page. Pages stay quick, because the
process that serves them does none of it; a worker that dies fails its piece with a sentence, and
the next piece gets a new one.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from ullage.errors import NotFound

#: Pieces that are remembered after they ended.
KEPT = 200
#: How long a piece that was cancelled may take to end by itself.
_PATIENCE_S = 1.0
_DIED = "the worker ended in the middle of it; ask again"


class State(StrEnum):
    """How far a piece of work has come."""

    WAITING = "waiting"
    UNDER_WAY = "under way"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


ENDED = (State.DONE, State.FAILED, State.CANCELLED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of work as it stands: ``then_url`` is the page to go on with, ``why`` a failure."""

    id: str
    task: str
    title: str
    then_url: str
    state: State = State.WAITING
    what: str = "waiting for its turn"
    done: int = 0
    of: int = 0
    why: str = ""


Then = Callable[[Mapping[str, Any]], None]


@dataclass(slots=True)
class _Order:
    """A piece with what it works on, and what its result is handed to."""

    piece: Piece
    inputs: Mapping[str, Any]
    then: Then
    ended: threading.Event = field(default_factory=threading.Event)


class Work:
    """All pieces of one app, and the one process that does them."""

    def __init__(
        self, words: tuple[str, ...] = (sys.executable, "-m", "ullage.web.worker")
    ) -> None:
        self._words = words
        self._lock = threading.RLock()
        self._orders: OrderedDict[str, _Order] = OrderedDict()
        self._wake = threading.Condition(self._lock)
        self._process: subprocess.Popen[str] | None = None
        self._thread: threading.Thread | None = None
        self._is_closed = False
        self._busy = ""

    def warm(self) -> None:
        """Start the worker before it is needed: loading the solver takes a second."""
        with self._lock:
            self._running()

    def begin(
        self, id_: str, task: str, inputs: Mapping[str, Any], *, title: str, url: str, then: Then
    ) -> Piece:
        """Put a piece of work in line; while it lasts, the same id again is the same piece."""
        with self._lock:
            there = self._orders.get(id_)
            if there is not None and there.piece.state not in ENDED:
                return there.piece
            self._orders.pop(id_, None)
            piece = Piece(id=id_, task=task, title=title, then_url=url)
            self._orders[id_] = _Order(piece, inputs, then)
            while len(self._orders) > KEPT:
                oldest = next(iter(self._orders))
                if self._orders[oldest].piece.state not in ENDED:
                    break
                del self._orders[oldest]
            if self._thread is None:
                self._thread = threading.Thread(target=self._go_on, daemon=True)
                self._thread.start()
            self._wake.notify_all()
            return piece

    def piece(self, id_: str) -> Piece:
        """Return a piece as it stands, or raise ``NotFound``."""
        return self._order(id_).piece

    def wait(self, id_: str, *, timeout_s: float) -> Piece:
        """Return a piece once it has ended, or as it stands when the time is up."""
        self._order(id_).ended.wait(timeout_s)
        return self.piece(id_)

    def cancel(self, id_: str) -> Piece:
        """Give a piece up; one that has ended stays as it is."""
        order = self._order(id_)
        with self._lock:
            state = order.piece.state
            if state in ENDED:
                return order.piece
            self._set(order, state=State.CANCELLED, what="cancelled")
            order.ended.set()
            process = self._process
            if state is State.UNDER_WAY and process is not None:
                self._tell(process, {"stop": True})
                killer = threading.Timer(_PATIENCE_S, self._end_if_busy, (process, id_))
                killer.daemon = True
                killer.start()
            return order.piece

    def close(self) -> None:
        """End the worker and everything that waits."""
        with self._lock:
            self._is_closed = True
            for order in self._orders.values():
                if order.piece.state not in ENDED:
                    self._set(order, state=State.CANCELLED, what="cancelled")
                    order.ended.set()
            self._wake.notify_all()
            self._end(self._process)
            self._process = None
        if self._thread is not None:
            self._thread.join(5.0)

    # --- inside ----------------------------------------------------------------------------------

    def _order(self, id_: str) -> _Order:
        with self._lock:
            if id_ not in self._orders:
                raise NotFound("piece of work", id_)
            return self._orders[id_]

    def _set(self, order: _Order, **changes: Any) -> None:
        order.piece = replace(order.piece, **changes)

    def _running(self) -> subprocess.Popen[str]:
        """Return the worker, started where there is none that lives."""
        if self._process is None or self._process.poll() is not None:
            self._end(self._process)
            self._process = subprocess.Popen(
                self._words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
            )
        return self._process

    def _go_on(self) -> None:
        """Do the pieces that wait, the oldest first, until the app closes."""
        while True:
            with self._lock:
                waiting = [o for o in self._orders.values() if o.piece.state is State.WAITING]
                if self._is_closed:
                    return
                if not waiting:
                    self._wake.wait()
                    continue
                order = waiting[0]
                self._set(order, state=State.UNDER_WAY, what="starting")
                process = self._running()
                self._busy = order.piece.id
            self._do(order, process)
            with self._lock:
                self._busy = ""
            order.ended.set()

    def _do(self, order: _Order, process: subprocess.Popen[str]) -> None:
        """Have one piece done, and hand its result on."""
        self._tell(process, {"task": order.piece.task, "inputs": order.inputs})
        assert process.stdout is not None
        while True:
            try:
                text = process.stdout.readline()
            except (OSError, ValueError):  # closed under our hands
                text = ""
            if not text:
                self._finish(order, state=State.FAILED, why=_DIED)
                with self._lock:
                    if self._process is process:  # it may look alive for a moment yet
                        self._end(process)
                        self._process = None
                return
            line = json.loads(text)
            if "told" in line:
                what, done, of = line["told"]
                self._finish(order, what=what, done=done, of=of)
            elif "failed" in line:
                self._finish(order, state=State.FAILED, why=line["failed"])
                return
            else:
                self._hand_on(order, line["done"])
                return

    def _hand_on(self, order: _Order, found: Mapping[str, Any]) -> None:
        if order.piece.state is not State.UNDER_WAY:
            return
        try:
            order.then(found)
        except Exception as error:
            self._finish(order, state=State.FAILED, why=f"the answer could not be kept: {error}")
        else:
            self._finish(order, state=State.DONE, what="done")

    def _finish(self, order: _Order, **changes: Any) -> None:
        """Change a piece that is under way; one that was cancelled stays cancelled."""
        with self._lock:
            if order.piece.state is State.UNDER_WAY:
                self._set(order, **changes)

    def _tell(self, process: subprocess.Popen[str], line: Mapping[str, Any]) -> None:
        assert process.stdin is not None
        with suppress(OSError, ValueError):  # it died: whoever reads from it finds that out
            process.stdin.write(json.dumps(line, allow_nan=False) + "\n")
            process.stdin.flush()

    def _end_if_busy(self, process: subprocess.Popen[str], id_: str) -> None:
        """End a worker that did not give a piece up by itself."""
        with self._lock:
            if self._busy == id_ and self._process is process:
                self._end(process)
                self._process = None

    def _end(self, process: subprocess.Popen[str] | None) -> None:
        if process is None:
            return
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with suppress(OSError):
                    stream.close()
