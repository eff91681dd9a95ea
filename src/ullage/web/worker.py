"""What the worker process runs: one task after the other, told and asked in lines of JSON.

On standard input come ``{"task", "inputs"}`` and ``{"stop": true}``; on standard output go
``{"told": [what, done, of]}`` and, at the end of each task, ``{"done": table}`` or ``{"failed":
sentence}``. Started by ``work``; it ends when its input does, so it never outlives the app.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Callable, Mapping
from queue import SimpleQueue
from typing import Any, TextIO

from ullage.errors import UllageError
from ullage.wiring import FileForms

#: Seconds between two lines about how far a task is.
_TELL_EVERY_S = 0.1
#: How far the worker stands back where pages want the processor too.
_NICER = 10


def main(source: TextIO, out: TextIO) -> None:
    """Carry out tasks until the input ends."""
    # Loaded while nobody waits: the first task then starts at once.
    from ullage.jobs.choose_recipe import worked_out_recipe
    from ullage.jobs.propose_plan import worked_out_plan
    from ullage.jobs.prove_job import worked_out
    from ullage.jobs.which_unknown import ranked_table

    tasks: Mapping[str, Callable[..., dict[str, Any]]] = {
        "plan": worked_out_plan,
        "recipe": worked_out_recipe,
        "verdict": worked_out,
        "unknown": ranked_table,
    }
    lock = threading.Lock()
    asked: SimpleQueue[dict[str, Any] | None] = SimpleQueue()
    stop = threading.Event()

    def say(line: Mapping[str, Any]) -> None:
        with lock:
            out.write(json.dumps(line, allow_nan=False) + "\n")
            out.flush()

    def listen() -> None:
        for text in source:
            line = json.loads(text)
            if line.get("stop"):
                stop.set()
            else:
                asked.put(line)
        stop.set()
        asked.put(None)

    threading.Thread(target=listen, daemon=True).start()
    while (line := asked.get()) is not None:
        stop.clear()
        try:
            found = tasks[line["task"]](
                FileForms(), line["inputs"], progress=_spaced(say), stop=stop.is_set
            )
            say({"done": found})
        except UllageError as error:
            say({"failed": str(error)})
        except Exception as error:
            say({"failed": f"the program itself failed ({type(error).__name__}: {error})"})


def _spaced(say: Callable[[Mapping[str, Any]], None]) -> Callable[[str, int, int], None]:
    """Return a way to tell how far it is that does not tell it a thousand times a second."""
    from time import monotonic

    said_at, said = 0.0, ""

    def tell(what: str, done: int, of: int) -> None:
        nonlocal said_at, said
        now = monotonic()
        if what != said or now - said_at > _TELL_EVERY_S:
            said_at, said = now, what
            say({"told": [what, done, of]})

    return tell


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(_NICER)
    main(sys.stdin, sys.stdout)
