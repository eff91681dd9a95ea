"""Who pours, who stands at the switch, and how sure is each of their times?

People give one number for a habit: "I pour six litres a minute". That number is the best value; the
sure ends around it are ours, wide on purpose, and stand in one table here. Leaves out the machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ullage.circuit.uncertain import Uncertain
from ullage.units.bounds import bounded, whole
from ullage.units.convert import LITRE_M3, MINUTE_S

#: Standard deviations on either side of the best value that count as sure where only a standard
#: uncertainty is known: one normal draw in 2000 lies below them, one in 2000 above.
SURE_BY_DEVIATIONS = 3.3

MOST_PEOPLE = 9


class Habit(StrEnum):
    """What a person or an engine does in the same way each time, more or less."""

    POUR = "pour"
    CHANGE = "change"
    REACT = "react"
    RUNDOWN = "rundown"
    WALK = "walk"
    START_SPEED = "start-speed"
    START_TIME = "start-time"
    LEVEL = "level"


#: Sure ends as factors of the best value: common practice, no source. Hands are slower under stress
#: than on trial, so times reach further up than down.
SPREADS: dict[Habit, tuple[float, float]] = {
    Habit.POUR: (0.75, 1.25),
    Habit.CHANGE: (0.75, 1.75),
    Habit.REACT: (0.5, 1.5),
    Habit.RUNDOWN: (0.75, 1.25),
    Habit.WALK: (0.75, 1.75),
    Habit.START_SPEED: (0.95, 1.05),
    Habit.START_TIME: (0.7, 1.3),
    Habit.LEVEL: (0.97, 1.03),
}


def usual(habit: Habit, best: float) -> Uncertain:
    """Return a habit with the sure ends that are usual around one number.

    Parameters
    ----------
    habit : Habit
        Which habit.
    best : scalar
        What a person says, 0 or more, in the unit of the habit. [any]

    Returns
    -------
    number : Uncertain
        Best value and sure ends, in the same unit.

    Raises
    ------
    OutOfRange
        If the number is negative or not finite.

    Validity
    --------
    Somebody who has done it before. A stop-watch and two trials give better ends.

    Source
    ------
    Common practice, no source: the factors of ``SPREADS``.

    Examples
    --------
    >>> usual(Habit.REACT, 2.0).high
    3.0
    """
    bounded(habit.value, best, low=0.0)
    low, high = SPREADS[habit]
    return Uncertain(best=best, low=low * best, high=high * best)


def from_deviation(best: float, deviation: float) -> Uncertain:
    """Return sure ends where only a best value and a standard uncertainty are known.

    Parameters
    ----------
    best : scalar
        Mean, 0 or more. [any]
    deviation : scalar
        Standard uncertainty, 0 or more, in the same unit. [any]

    Returns
    -------
    number : Uncertain
        Best value, and ends ``SURE_BY_DEVIATIONS`` to either side, cut off at 0.

    Raises
    ------
    OutOfRange
        If a number is negative or not finite.

    Validity
    --------
    Normal draws. One end in 2000 is passed; a pace rests on several ends at once, so it fails less
    often than that.

    Source
    ------
    Normal distribution.

    Examples
    --------
    >>> from_deviation(2.0, 0.2).high
    2.66
    """
    bounded("best", best, low=0.0)
    bounded("deviation", deviation, low=0.0)
    reach = SURE_BY_DEVIATIONS * deviation
    return Uncertain(best=best, low=max(best - reach, 0.0), high=best + reach)


# A crew that nobody described: best values of common practice, no source.
_USUAL_POUR = usual(Habit.POUR, 6.0 * LITRE_M3 / MINUTE_S)
_USUAL_CHANGE = usual(Habit.CHANGE, 4.0)
_USUAL_REACT = usual(Habit.REACT, 2.0)
_USUAL_RUNDOWN = usual(Habit.RUNDOWN, 1.5)
_USUAL_WALK = usual(Habit.WALK, 5.0)
_USUAL_START_SPEED = usual(Habit.START_SPEED, 1200.0 / MINUTE_S)
_USUAL_START_TIME = usual(Habit.START_TIME, 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """The people and what they work with.

    One stands at the switch, the others take turns at pouring, one stream at a time. Somebody alone
    does both. ``walk_s`` is the way between reservoir and switch, and counts for nobody else.
    ``start_rev_s`` and ``start_s`` are how fast, and how long, the engine flares at a start.
    """

    people: int = 2
    container_m3: float = LITRE_M3
    pour_m3_s: Uncertain = _USUAL_POUR
    change_s: Uncertain = _USUAL_CHANGE
    react_s: Uncertain = _USUAL_REACT
    rundown_s: Uncertain = _USUAL_RUNDOWN
    walk_s: Uncertain = _USUAL_WALK
    start_rev_s: Uncertain = _USUAL_START_SPEED
    start_s: Uncertain = _USUAL_START_TIME

    def __post_init__(self) -> None:
        """Refuse a crew that cannot pour."""
        whole("people", self.people, low=1, high=MOST_PEOPLE)
        bounded("container_m3", self.container_m3, low=1e-5, high=1.0, unit="m3")
        bounded(
            "pour_m3_s",
            self.pour_m3_s.low,
            above=0.0,
            unit="m3/s",
            advice="the slowest sure pour must still pour; narrow its spread",
        )
        for name in ("change_s", "react_s", "rundown_s", "walk_s", "start_rev_s", "start_s"):
            number: Uncertain = getattr(self, name)
            bounded(name, number.low, low=0.0)
            bounded(name, number.high, low=0.0)

    @property
    def is_alone(self) -> bool:
        """Tell whether one person both pours and works the switch."""
        return self.people == 1

    @property
    def pourers(self) -> int:
        """Return how many take turns at pouring."""
        return max(self.people - 1, 1)
