"""``ullage pace``: say how to pour so that the pump never runs dry.

People get the verdict, a handful of figures and sentences of advice; ``--json`` gives one object.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path

from ullage.circuit.uncertain import Uncertain
from ullage.errors import OutOfRange
from ullage.formats.circuit_file import read_circuit
from ullage.formats.pace_json import pace_to_json
from ullage.planning.crew import Crew, Habit, from_deviation, usual
from ullage.planning.pace import Pace, pace
from ullage.units.convert import LITRE_M3, MINUTE_S, kelvin_from_degc

SUCCESS = 0

_HOW = "one number, low,best,high or best+-deviation"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The options of one call, numbers with a spread still as they were typed."""

    litres: float | None
    container_l: float
    pour_l_min: str
    change_s: str
    react_s: str
    rundown_s: str
    walk_s: str
    start_rev_min: str
    start_s: str
    start_l: str | None
    people: int
    at_degc: float


def run(circuit: Path, asked: Asked, *, as_json: bool) -> int:
    """Carry out one ``ullage pace`` and return the exit code."""
    machine = read_circuit(circuit)
    crew = Crew(
        people=asked.people,
        container_m3=asked.container_l * LITRE_M3,
        pour_m3_s=spread("--pour-l-min", asked.pour_l_min, Habit.POUR).scaled(LITRE_M3 / MINUTE_S),
        change_s=spread("--change-s", asked.change_s, Habit.CHANGE),
        react_s=spread("--react-s", asked.react_s, Habit.REACT),
        rundown_s=spread("--rundown-s", asked.rundown_s, Habit.RUNDOWN),
        walk_s=spread("--walk-s", asked.walk_s, Habit.WALK),
        start_rev_s=spread("--start-rev-min", asked.start_rev_min, Habit.START_SPEED).scaled(
            1.0 / MINUTE_S
        ),
        start_s=spread("--start-s", asked.start_s, Habit.START_TIME),
    )
    start = (
        None
        if asked.start_l is None
        else spread("--start-l", asked.start_l, Habit.LEVEL).scaled(LITRE_M3)
    )
    found = pace(
        machine,
        crew=crew,
        litres_m3=None if asked.litres is None else asked.litres * LITRE_M3,
        start_m3=start,
        temperature_k=kelvin_from_degc(asked.at_degc),
    )
    if as_json:
        print(json.dumps(pace_to_json(found), allow_nan=False))
    else:
        print(_told(machine.name, found, crew))
    return SUCCESS


def spread(option: str, text: str, habit: Habit) -> Uncertain:
    """Return a number with its sure ends from what was typed.

    ``6`` takes the ends that are usual for the habit, ``5,6,8`` is low, best and high,
    ``6+-0.5`` a best value and its standard uncertainty.

    Raises
    ------
    OutOfRange
        If the text is none of the three, or its numbers are negative or out of order.

    Examples
    --------
    >>> spread("--react-s", "2", Habit.REACT).high
    3.0
    >>> spread("--react-s", "1.5,2,4", Habit.REACT).high
    4.0
    """
    parts = text.replace("±", "+-")
    pieces = parts.split("+-") if "+-" in parts else parts.split(",")
    try:
        numbers = [float(piece) for piece in pieces]
    except ValueError:
        raise OutOfRange(option, repr(text), _HOW, "such as 6 or 5,6,8 or 6+-0.5") from None
    if not all(math.isfinite(number) and number >= 0.0 for number in numbers):
        raise OutOfRange(option, repr(text), f"made of numbers from 0, as {_HOW}")
    if "+-" in parts and len(numbers) == 2:
        return from_deviation(numbers[0], numbers[1])
    if "+-" not in parts and len(numbers) == 1:
        return usual(habit, numbers[0])
    if "+-" not in parts and len(numbers) == 3:
        low, best, high = numbers
        if not low <= best <= high:
            raise OutOfRange(option, repr(text), "low, best and high in this order")
        return Uncertain(low=low, best=best, high=high)
    raise OutOfRange(option, repr(text), _HOW, "such as 6 or 5,6,8 or 6+-0.5")


def _told(name: str, found: Pace, crew: Crew) -> str:
    """Return the answer for a person."""
    rows = [
        f"{name}: {found.litres_m3 * 1e3:.1f} L, "
        + ("alone" if crew.is_alone else f"{crew.people} people"),
        f"  the pump takes {found.draw_m3_s * 60e3:.2f} L/min, at most "
        f"{found.draw_sure_m3_s * 60e3:.2f} L/min",
        f"  {found.usable_m3 * 1e3:.2f} L above the minimum last {found.seconds_to_minimum:.1f} s "
        f"without pouring, 95 of 100 times more than {found.seconds_to_minimum_p95:.1f} s, surely "
        f"{found.seconds_to_minimum_sure:.1f} s",
        f"  stop at {found.stop_level_m3 * 1e3:.2f} L; "
        + (
            f"run through, about {found.run_s:.0f} s"
            if found.continuous
            else f"run {found.run_s:.1f} s at a time, {found.runs} times, "
            f"in all about {found.total_s / 60.0:.0f} minutes"
        ),
        "",
        *(f"- {caveat.text}" for caveat in found.advice),
    ]
    return "\n".join(rows)
