"""Which circuit does a job work on: the version it was planned with, at the level it was found at?

The level that was written down before anything moved says what the reservoir held at the start, so
it replaces the guess of the circuit file. Leaves out everything that was read later.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from typing import Any

from ullage.circuit.network import Circuit
from ullage.circuit.parts import State
from ullage.jobs.answer import fingerprint_of
from ullage.jobs.job import Job
from ullage.jobs.machine import CircuitVersion
from ullage.jobs.ports import Desk
from ullage.planning.level_target import level_target
from ullage.planning.surface import has_heights, height_m, volume_m3
from ullage.units.convert import LITRE_M3, ZERO_CELSIUS_K

#: Standard uncertainty of a level read with a rule, as in an evidence file that names none.
LEVEL_U_M = 3e-3
#: From a standard uncertainty to the ends of a triangle of the same spread.
_TRIANGLE = math.sqrt(6.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A circuit as a job found it, as table and as value; ``doubt`` says what was not used."""

    table: Mapping[str, Any]
    circuit: Circuit
    doubt: str = ""


class _Founds:
    """Keeps what was found last: a page of a job asks for it a dozen times.

    It follows from a table and an entry alone, and is kept under their fingerprint."""

    def __init__(self, most: int = 16) -> None:
        self._most = most
        self._kept: OrderedDict[str, Found] = OrderedDict()
        self._lock = Lock()

    def of(self, name: str, make: Callable[[], Found]) -> Found:
        """Return what is kept under a name, made anew where nothing is."""
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                return self._kept[name]
        made = make()
        with self._lock:
            self._kept[name] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made


_FOUNDS = _Founds()


def found_circuit(desk: Desk, job: Job) -> Found:
    """Return the circuit of a job with the level at which it was found.

    Raises
    ------
    NotFound, FileFaults
        If the version is gone, or its table is no circuit.
    """
    version = desk.store.circuit_version(job.head.circuit_version_id)
    payload = {} if job.as_found is None else dict(job.as_found.payload)
    name = fingerprint_of({"table": version.table, "name": version.name, "found": payload})
    return _FOUNDS.of(name, lambda: _found(desk, version, payload))


def _found(desk: Desk, version: CircuitVersion, payload: Mapping[str, Any]) -> Found:
    """Return a version of a circuit with the level that an entry tells."""
    circuit = desk.forms.circuit(version.table, version.name)
    level_mm = payload.get("level_mm")
    if level_mm is None:
        return Found(table=version.table, circuit=circuit)
    if not has_heights(circuit.reservoir):
        return Found(
            table=version.table,
            circuit=circuit,
            doubt="The level as found is not used: the circuit file has no area of the reservoir.",
        )
    start_m3, spread_m3 = _start_m3(
        circuit,
        float(level_mm) * 1e-3,
        State(payload.get("state", State.CHARGED.value)),
        payload.get("at_degc"),
    )
    brim_m3 = circuit.reservoir.brim_m3.best
    if not 0.0 < start_m3 <= brim_m3:
        return Found(
            table=version.table,
            circuit=circuit,
            doubt=f"The level as found would be {start_m3 / LITRE_M3:.1f} L in a reservoir that "
            f"holds {brim_m3 / LITRE_M3:.1f} L to the brim, so it is not used: look at its sign, "
            "its state and its temperature.",
        )
    table = dict(version.table)
    table["reservoir"] = {
        **version.table["reservoir"],
        "start_l": {
            "best": start_m3 / LITRE_M3,
            "low": max(start_m3 - spread_m3, 0.5 * start_m3) / LITRE_M3,
            "high": min(start_m3 + spread_m3, brim_m3) / LITRE_M3,
        },
    }
    return Found(table=table, circuit=desk.forms.circuit(table, version.name))


@lru_cache(maxsize=32)
def _start_m3(
    circuit: Circuit, level_m: float, state: State, at_degc: float | None
) -> tuple[float, float]:
    """Return what the reservoir held before the job, and how far that may be off [m3].

    Every page of a job asks for it; it follows from its arguments alone."""
    tank = circuit.reservoir
    at_k = tank.mark_k if at_degc is None else at_degc + ZERO_CELSIUS_K
    full_m = height_m(tank, tank.full_m3.best)
    held = volume_m3(tank, full_m + level_m)
    missing = level_target(circuit, temperature_k=at_k, state=state, is_new=False).volume_m3 - held
    whole = level_target(circuit, temperature_k=tank.mark_k, state=State.CHARGED, is_new=False)
    reach = _TRIANGLE * LEVEL_U_M
    spread = 0.5 * (
        volume_m3(tank, full_m + level_m + reach) - volume_m3(tank, full_m + level_m - reach)
    )
    return whole.volume_m3 - missing, spread
