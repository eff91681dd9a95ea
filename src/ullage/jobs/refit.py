"""Putting the machine back: a checklist with this machine's numbers, and the levels read beside
their targets.

Which lines there are follows from the circuit and from what was carried out. Targets hold at the
temperature that the fluid has now. Leaves out the look after a week, which is the owner's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Leg, PumpKind, State
from ullage.circuit.volumes import Numbers, line_volume_m3
from ullage.errors import Conflict, NotFound
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import drafts_of, finish, write_down
from ullage.jobs.event import Event, Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log_all
from ullage.jobs.ports import Desk
from ullage.jobs.readings import steps_carried_out
from ullage.jobs.stage import Stage
from ullage.planning.function_check import FunctionCheck, function_check
from ullage.planning.has import concerning, features
from ullage.planning.level_target import LevelTarget, level_target
from ullage.planning.surface import has_heights
from ullage.transport.recipe import Recipe
from ullage.units.convert import ZERO_CELSIUS_K

#: The list that the ticks of this stage belong to.
LIST = "refit"
DIVERTER, FILTER, BLEED, LEVEL, FUNCTIONS, LEAKS, ROAD = (
    "diverter",
    "filter",
    "bleed",
    "level",
    "functions",
    "leaks",
    "road",
)
#: A level within this of its target is right: common practice, no source.
NEAR_M = 5e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A line of the checklist: what to do, what to see when it went right, and its tick."""

    id: str
    sentence: str
    accept: str
    cautions: tuple[str, ...]
    is_done: bool
    tick_uid: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelRead:
    """A level that was read, beside where it belongs in that state at that temperature [m].

    ``target_m`` is None where the reservoir has no heights; ``is_near`` then is too."""

    event: Event
    state: State
    at_k: float
    height_m: float | None
    target: LevelTarget
    is_near: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Refit:
    """All that the stage shows; ``targets`` in each state at ``at_k``, the state of the mark first.

    ``is_typed`` is False where nobody measured the temperature and the recipe's stands in."""

    at_k: float
    is_typed: bool
    mark: State
    targets: tuple[tuple[State, LevelTarget], ...]
    items: tuple[Item, ...]
    levels: tuple[LevelRead, ...]
    check: FunctionCheck
    last_step: int

    @property
    def open_items(self) -> tuple[Item, ...]:
        """Return the lines that are not ticked."""
        return tuple(item for item in self.items if not item.is_done)


def refit(desk: Desk, job: Job) -> Refit:
    """Return the checklist with the numbers that hold now."""
    circuit = found_circuit(desk, job).circuit
    recipe = _recipe(desk, job)
    at_k, is_typed = _temperature_k(job, recipe)
    mark = circuit.reservoir.mark
    states = (mark, *(state for state in _states(circuit) if state is not mark))
    targets = tuple((state, _target(circuit, at_k, state)) for state in states)
    check = function_check(circuit, temperature_k=at_k)
    return Refit(
        at_k=at_k,
        is_typed=is_typed,
        mark=mark,
        targets=targets,
        items=tuple(_items(circuit, recipe, job, targets[0][1], check)),
        levels=tuple(_levels(circuit, job, at_k)),
        check=check,
        last_step=0 if job.recipe_table is None else len(job.recipe_table["step"]),
    )


@lru_cache(maxsize=256)
def _target(circuit: Circuit, at_k: float, state: State) -> LevelTarget:
    """Return where the level belongs; every page of a job asks for the same few."""
    return level_target(circuit, temperature_k=at_k, state=state)


def _recipe(desk: Desk, job: Job) -> Recipe:
    """Return the recipe of a job; one without steps where there is none."""
    if job.recipe_table is None:
        return Recipe(name="none", steps=())
    return desk.forms.recipe(job.recipe_table, "recipe")


def _temperature_k(job: Job, recipe: Recipe) -> tuple[float, bool]:
    """Return the newest temperature that was read, and whether any was."""
    read = [
        event
        for event in job.of(Kind.TEMPERATURE, Kind.LEVEL)
        if event.payload.get("degc", event.payload.get("at_degc")) is not None
    ]
    if not read:
        return recipe.temperature_k, False
    payload = read[-1].payload
    return float(payload.get("degc", payload.get("at_degc"))) + ZERO_CELSIUS_K, True


def _states(circuit: Circuit) -> tuple[State, ...]:
    """Return the states in which this machine's level may be read."""
    has_gas = any(leg.gas for leg in circuit.legs)
    moves = any(leg.stroke_m3.best > 0.0 for leg in circuit.legs)
    return (
        State.CHARGED,
        *((State.RELEASED,) if has_gas else ()),
        *((State.RETRACTED, State.EXTENDED) if moves else ()),
    )


def _levels(circuit: Circuit, job: Job, at_k: float) -> Iterator[LevelRead]:
    """Yield the levels read at this stage, each beside its target."""
    for event in job.of(Kind.LEVEL):
        payload = event.payload
        if payload.get("stage") != Stage.REFIT:
            continue
        state = State(payload["state"])
        read_degc = payload.get("at_degc")
        read_k = at_k if read_degc is None else float(read_degc) + ZERO_CELSIUS_K
        target = _target(circuit, read_k, state)
        height_mm = payload.get("mm")
        height = None if height_mm is None else float(height_mm) * 1e-3
        near = None
        if height is not None and target.height_m is not None:
            near = abs(height - target.height_m) <= NEAR_M
        yield LevelRead(
            event=event, state=state, at_k=read_k, height_m=height, target=target, is_near=near
        )


def _items(
    circuit: Circuit, recipe: Recipe, job: Job, target: LevelTarget, check: FunctionCheck
) -> Iterator[Item]:
    """Yield the lines of the checklist."""
    has = features(circuit, recipe)
    cautions = tuple(str(row["text"]) for row in _cautions("after", has))
    lines: list[tuple[str, str, str, tuple[str, ...]]] = []
    if "exchange" in has:
        lines.append(
            (
                DIVERTER,
                "Take the diverter out and put the return hose back with new sealing rings.",
                "dry after a minute at idle, every spill wiped",
                cautions,
            )
        )
    if any(node.element for node in circuit.nodes):
        lines.append(_filter(circuit, job))
    bleeding = [leg for leg in circuit.legs if leg.bleed]
    if bleeding:
        lines.append(
            (
                BLEED,
                f"Bleed the air out at {_listed([leg.id for leg in _longest_first(bleeding)])}, in "
                "this order: the longest line first, unless the maker says otherwise.",
                "no bubble comes any more",
                tuple(str(row["text"]) for row in _cautions("bleed", has)),
            )
        )
    lines.append(
        (
            LEVEL,
            _level_sentence(circuit, target),
            f"within {NEAR_M * 1e3:.0f} mm of where it belongs, read in both end states",
            tuple(caveat.text for caveat in target.caveats),
        )
    )
    if circuit.pump.kind is not PumpKind.HAND:
        said = [f.text for f in check.findings if f.code != "level-again"]
        lines.append(
            (
                FUNCTIONS,
                " ".join(said),
                "everything moves to its ends, no foam, no howl",
                tuple(str(row["text"]) for row in _cautions("exercise", has)),
            )
        )
    lines.append(
        (
            LEAKS,
            "Look at every place that was opened with a light, engine running: "
            "never with the hand.",
            "nothing sweats",
            () if "exchange" in has else cautions,
        )
    )
    lines.append(
        (
            ROAD,
            "Move the machine as it is used, let it stand, and read the level once more.",
            "no foam; the level agrees with the first reading at its own temperature",
            (),
        )
    )
    for name, sentence, accept, said_with in lines:
        tick = job.ticks.get((LIST, name))
        yield Item(
            id=name,
            sentence=sentence,
            accept=accept,
            cautions=said_with,
            is_done=tick is not None and bool(tick.payload["done"]),
            tick_uid="" if tick is None else tick.uid,
        )


def _filter(circuit: Circuit, job: Job) -> tuple[str, str, str, tuple[str, ...]]:
    """Return the line of the filter: changed already, or to be changed now."""
    table = job.recipe_table
    done = [
        number
        for number in steps_carried_out(job)
        if table is not None and table["step"][number - 1]["do"] == "swap-filter"
    ]
    housings = [node for node in circuit.nodes if node.element]
    what = _listed([node.id for node in housings])
    litres = 1e3 * sum(node.volume_m3.best for node in housings)
    if done:
        return (
            FILTER,
            f"The element of {what} was changed in step {done[-1]}: look at the housing and at its "
            "new sealing rings once more.",
            "tight, and nothing sweats at idle",
            (),
        )
    return (
        FILTER,
        f"Change the element of {what} and its sealing rings; fill the housing with new fluid, "
        f"about {litres:.2f} L, before it is closed.",
        "rings oiled, housing tight, the old element draining warm over a tray",
        (),
    )


def _level_sentence(circuit: Circuit, target: LevelTarget) -> str:
    """Say where the level belongs in the state of the mark."""
    state = STATE_WORDS[circuit.reservoir.mark]
    if target.height_m is None:
        litres = target.volume_m3 * 1e3
        return f"Set the level with {state}: {litres:.2f} L belong into the reservoir now."
    return f"Set the level with {state}: at this temperature it belongs {_place(target.height_m)}."


def _place(height_m: float) -> str:
    """Return a height as above or below the mark."""
    mm = round(height_m * 1e3)
    return "at the mark" if mm == 0 else f"{abs(mm)} mm {'above' if mm > 0 else 'below'} the mark"


STATE_WORDS: Mapping[State, str] = {
    State.CHARGED: "pressure up, standing as found",
    State.RELEASED: "pressure let go",
    State.RETRACTED: "everything lowered",
    State.EXTENDED: "everything raised",
}


def _longest_first(legs: Sequence[Leg]) -> list[Leg]:
    """Return legs by the length of their lines, or by what these hold where no length is known."""
    numbers = Numbers()

    def reach(leg: Leg) -> tuple[float, float]:
        length = leg.line.length_m
        return (
            0.0 if length is None else length.best,
            float(line_volume_m3(leg.line, numbers)[0]),
        )

    return sorted(legs, key=reach, reverse=True)


def _cautions(word: str, has: frozenset[str]) -> tuple[Mapping[str, Any], ...]:
    """Return the cautions of a step, or of before and after."""
    return tuple(row for row in concerning("cautions", "caution", has) if word in row["at"])


def _listed(words: Sequence[str]) -> str:
    """Return words in a row as a sentence has them."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def tick(desk: Desk, job_id: str, item: str, *, done: bool, uid: str) -> None:
    """Tick a line off, or take the tick away.

    Raises
    ------
    NotFound
        If the list has no such line.
    """
    now = refit(desk, load_job(desk, job_id))
    names = [line.id for line in now.items]
    if item not in names:
        raise NotFound("line of the list", item, names)
    payload = {"list": LIST, "item": item, "done": done}
    log_all(desk, job_id, drafts_of(desk, uid, [(Kind.TICKED, payload)]))


def read_level(
    desk: Desk,
    job_id: str,
    *,
    mm: float | None,
    litres: float | None,
    state: State,
    at_degc: float | None,
    uid: str,
    note: str = "",
) -> None:
    """Write down the level as it stands now, with the machine's state and the temperature.

    Raises
    ------
    OutOfRange, Conflict
        As ``carry_out.write_down``.
    """
    job = load_job(desk, job_id)
    last = 0 if job.recipe_table is None else len(job.recipe_table["step"])
    payload: dict[str, Any] = {
        "after_step": last,
        "mm": mm,
        "litres": litres,
        "state": state.value,
        "at_degc": at_degc,
        "stage": Stage.REFIT.value,
        "note": note or None,
    }
    kept = {key: value for key, value in payload.items() if value is not None}
    write_down(desk, job_id, [(Kind.LEVEL, kept)], uid=uid)


def read_temperature(desk: Desk, job_id: str, degc: float, *, uid: str) -> None:
    """Write down how warm the fluid is now."""
    payload = {"degc": degc, "stage": Stage.REFIT.value}
    log_all(desk, job_id, drafts_of(desk, uid, [(Kind.TEMPERATURE, payload)]))


def pour(desk: Desk, job_id: str, litres: float, *, uid: str) -> None:
    """Write down what was poured at the refit."""
    write_down(
        desk, job_id, [(Kind.POURED, {"litres": litres, "stage": Stage.REFIT.value})], uid=uid
    )


def refit_result(now: Refit) -> str:
    """Return the refit in one line: the last level beside its target, and what was not ticked."""
    words = []
    read = [level for level in now.levels if level.height_m is not None]
    if read:
        last = read[-1]
        beside = "" if last.target.height_m is None else f", belongs {_place(last.target.height_m)}"
        at_degc = last.at_k - ZERO_CELSIUS_K
        words.append(
            f"level {_place(last.height_m or 0.0)}{beside} ({STATE_WORDS[last.state]}, "
            f"{at_degc:.0f} °C)"
        )
    else:
        words.append("no level read")
    open_items = now.open_items
    if open_items:
        words.append(f"not ticked: {', '.join(item.id for item in open_items)}")
    return "; ".join(words)


def finish_refit(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the stage with its result in one line.

    Raises
    ------
    Conflict
        If the level was never read, or another stage comes first.
    """
    job = load_job(desk, job_id)
    now = refit(desk, job)
    circuit = found_circuit(desk, job).circuit
    if not now.levels and has_heights(circuit.reservoir):
        raise Conflict("the level was not read at the refit; read it once, then finish")
    finish(desk, job, Stage.REFIT, refit_result(now), uid=uid)
