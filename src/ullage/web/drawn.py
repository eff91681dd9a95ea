"""Drawings of circuits that pages show, by content: a page names one, the browser fetches it.

What somebody is still typing is in no store, so the last few circuits are kept here for as long as
a browser needs to ask for their picture. Nothing is drawn before it is asked for.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from threading import Lock
from typing import Any

from fastapi import Request

from ullage.circuit.network import Circuit
from ullage.errors import NotFound
from ullage.jobs.answer import fingerprint_of

#: Circuits that are kept: more than a garage edits at once.
KEPT = 64
_NAME = 20


class Drawings:
    """The circuits of the pages that were shown last."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, Circuit] = OrderedDict()
        self._lock = Lock()

    def keep(self, circuit: Circuit, table: Mapping[str, Any]) -> str:
        """Keep a circuit, and return the name that its picture is asked for by."""
        name = fingerprint_of(table)[:_NAME]
        with self._lock:
            self._kept[name] = circuit
            self._kept.move_to_end(name)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return name

    def circuit(self, name: str) -> Circuit:
        """Return a circuit that was kept, or raise ``NotFound``."""
        with self._lock:
            if name not in self._kept:
                raise NotFound("drawing", name)
            return self._kept[name]


def drawings(request: Request) -> Drawings:
    """Return the drawings of the app that was asked."""
    state = request.app.state
    if not hasattr(state, "drawings"):
        state.drawings = Drawings()
    found: Drawings = state.drawings
    return found
