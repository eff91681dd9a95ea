"""Where must the level stand, in millimetres, at this temperature and in this state of the machine?

The full mark holds in one state and at one temperature. Warmer, all of the circuit's fluid has
swollen, and all of that shows in the reservoir. With actuators in, their strokes are in the
reservoir; with the pressure let go, the oil of the gas volumes as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, State
from ullage.circuit.volumes import Numbers, content_m3, gas_oil_m3
from ullage.planning.surface import has_heights
from ullage.units.caveat import Caveat, only_where_true

Floats = NDArray[np.float64]

#: Machines drawn for the band that nine of ten fall in.
DRAWS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTarget:
    """Where the level belongs: volume in the reservoir and height from the full mark, up positive.

    ``swell_m3``, ``strokes_m3`` and ``gas_m3`` are what warmth, actuators and gas volumes put into
    the reservoir, against the state and temperature of the mark. ``low_m`` and ``high_m`` hold nine
    of ten machines; heights are None where the reservoir has neither area nor table.
    """

    volume_m3: float
    height_m: float | None
    low_m: float | None
    high_m: float | None
    swell_m3: float
    strokes_m3: float
    gas_m3: float
    caveats: tuple[Caveat, ...]


def level_target(
    circuit: Circuit, *, temperature_k: float, state: State | None = None, is_new: bool = True
) -> LevelTarget:
    """Return where the level belongs for the circuit to be filled right.

    Parameters
    ----------
    circuit : Circuit
        Its reservoir, parts and fluids.
    temperature_k : scalar
        Temperature of the whole circuit. [K]
    state : State
        What the machine stands in; None takes the state of the mark.
    is_new : value
        Whether the new fluid fills it (else the old one).

    Returns
    -------
    target : LevelTarget
        Volume, height, its parts and caveats.

    Raises
    ------
    OutOfRange
        If the temperature is outside what the fluid's volume is known for.

    Validity
    --------
    One temperature throughout: cold legs make the true level lower. Hoses and metal do not give.
    "Charged" is where the legs stood before the job; "released" means let down, gas volumes empty.

    Source
    ------
    Conservation of mass; volume factors of ``api-mpms-11-1``, table 54D.
    """
    wanted = circuit.reservoir.mark if state is None else state
    best = _Filling(circuit, Numbers())
    drawn = _Filling(circuit, Numbers(count=DRAWS, seed=0, is_best=False))
    liquid = circuit.new_fluid if is_new else circuit.fluid
    factor = liquid.volume_factor(temperature_k) / liquid.volume_factor(circuit.reservoir.mark_k)
    volume = float(best.volume(wanted, factor)[0])
    low = high = height = None
    if has_heights(circuit.reservoir):
        height = float(best.height(wanted, factor)[0])
        low, high = (float(v) for v in np.quantile(drawn.height(wanted, factor), [0.05, 0.95]))
    tank = circuit.reservoir
    return LevelTarget(
        volume_m3=volume,
        height_m=height,
        low_m=low,
        high_m=high,
        swell_m3=float(best.total()[0]) * (factor - 1.0),
        strokes_m3=float((best.strokes(tank.mark) - best.strokes(wanted))[0]),
        gas_m3=float((best.gas(tank.mark) - best.gas(wanted))[0]),
        caveats=only_where_true(
            (
                volume > tank.brim_m3.low,
                Caveat(
                    code="over-the-brim",
                    text=f"In this state and at this temperature {volume * 1e3:.2f} L belong into "
                    f"the reservoir, which runs over at {tank.brim_m3.best * 1e3:.2f} l: draw off "
                    "first, and fill up again afterwards.",
                ),
            ),
            (
                volume < tank.minimum_m3.high,
                Caveat(
                    code="below-the-minimum",
                    text="In this state and at this temperature the right level lies below the "
                    "minimum: do not run the pump, and do not fill up to the mark either.",
                ),
            ),
            (
                wanted is not tank.mark,
                Caveat(
                    code="not-the-state-of-the-mark",
                    text=f'The mark holds in the state "{tank.mark.value}"; keep both readings, '
                    "and trust the one taken there.",
                ),
            ),
        ),
    )


class _Filling:
    """What every member of a set of machines holds outside its reservoir, state by state."""

    def __init__(self, circuit: Circuit, numbers: Numbers) -> None:
        self.circuit = circuit
        self.numbers = numbers
        self.full = numbers.of(circuit.reservoir.full_m3, "reservoir.full")
        held = content_m3(circuit, numbers)
        moving = {f"{leg.id}.chamber" for leg in circuit.legs} | {"reservoir"}
        none = np.zeros(numbers.count)
        self.fixed = np.sum([none, *(v for name, v in held.items() if name not in moving)], axis=0)
        for leg in circuit.legs:
            self.fixed = self.fixed + numbers.of(leg.dead_m3, f"{leg.id}.dead")

    def strokes(self, state: State) -> Floats:
        """Return what the strokes hold, (members,)."""
        total = np.zeros(self.numbers.count)
        settled: set[str] = set()
        for leg in self.circuit.legs:
            stands = self.numbers.of(leg.start_share, f"{leg.id}.start")
            first = self.circuit.partner.get(leg.id)
            follows = first in settled and first is not None
            if follows and first is not None:
                other = self.circuit.leg_by_id[first]
                stands = 1.0 - self.numbers.of(other.start_share, f"{first}.start")
            settled.add(leg.id)
            moves = leg.held_by is not HeldBy.CONTROLLER
            if moves and state in (State.RETRACTED, State.EXTENDED):
                end = 1.0 if (state is State.EXTENDED) is not follows else 0.0
                stands = np.full(self.numbers.count, end)
            elif moves and state is State.RELEASED and leg.id not in self.circuit.partner:
                stands = np.zeros(self.numbers.count)
            total = total + stands * self.numbers.of(leg.stroke_m3, f"{leg.id}.stroke")
        return total

    def gas(self, state: State) -> Floats:
        """Return the oil behind gas, (members,)."""
        total = np.zeros(self.numbers.count)
        if state is State.RELEASED:
            return total
        for leg in self.circuit.legs:
            total = total + gas_oil_m3(leg.gas, leg.id, self.numbers)
        return total

    def total(self) -> Floats:
        """Return all fluid of a circuit that is filled to its mark, (members,)."""
        mark = self.circuit.reservoir.mark
        filled: Floats = self.full + self.fixed + self.strokes(mark) + self.gas(mark)
        return filled

    def volume(self, state: State, factor: float) -> Floats:
        """Return what the reservoir holds when all fluid has grown by a factor, (members,)."""
        left: Floats = self.total() * factor - self.fixed - self.strokes(state) - self.gas(state)
        return left

    def height(self, state: State, factor: float) -> Floats:
        """Return the level over the full mark, (members,) [m]."""
        tank = self.circuit.reservoir
        volume = self.volume(state, factor)
        if tank.table:
            pairs = zip(volume.tolist(), self.full.tolist(), strict=True)
            return np.array(
                [
                    _table_height_m(tank.table, at) - _table_height_m(tank.table, mark)
                    for at, mark in pairs
                ]
            )
        if tank.area_m2 is None:
            raise ValueError("a reservoir without heights was asked for one")
        rise: Floats = (volume - self.full) / self.numbers.of(tank.area_m2, "reservoir.area")
        return rise


def _table_height_m(table: tuple[tuple[float, float], ...], volume_m3: float) -> float:
    """Return a height from a table, drawn on in a straight line beyond its ends."""
    heights = [row[0] for row in table]
    volumes = [row[1] for row in table]
    if volumes[0] <= volume_m3 <= volumes[-1]:
        return float(np.interp(volume_m3, volumes, heights))
    i, j = (0, 1) if volume_m3 < volumes[0] else (-2, -1)
    slope = (heights[j] - heights[i]) / (volumes[j] - volumes[i])
    return heights[j] + (volume_m3 - volumes[j]) * slope
