"""The third stage: everything at hand, the machine made safe, the sheet printed.

Lists come from the plan that was kept with the recipe; a recipe without one gets lists of its own.
What a line is ticked by is its text, so a line that reads otherwise is to be ticked anew.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any

from ullage.errors import Conflict, NotFound
from ullage.jobs.answer import fingerprint_of
from ullage.jobs.as_found import found_circuit
from ullage.jobs.carry_out import finish
from ullage.jobs.event import Kind
from ullage.jobs.job import Job
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk, Forms
from ullage.jobs.propose_plan import chosen_answer, goal_of_table
from ullage.jobs.shelf import SheetOf, Stock
from ullage.jobs.stage import Stage
from ullage.planning.has import features
from ullage.planning.score import score
from ullage.planning.sheet import sheet_of
from ullage.planning.shopping import shopping, waste_of
from ullage.transport.solve import simulate

#: The list under which ticks of this stage are kept.
LIST = "prepare"
_MEMBERS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing to have or to do; ``item`` names it among the ticks, ``why`` may be empty.

    ``group`` is buy, have, do or safe. ``on_shelf`` says what the shelf has of it.
    """

    item: str
    group: str
    text: str
    why: str = ""
    on_shelf: str = ""
    is_done: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation:
    """The stage: what to buy, have and do, the cautions before anything is opened, and the waste.

    ``sheet`` has every line of the job sheet as ``plan --json`` writes it, and so has ``heat`` the
    warm-up, where one is known.
    """

    lines: tuple[Line, ...]
    cautions: tuple[str, ...]
    waste: Mapping[str, Any]
    sheet: tuple[Mapping[str, Any], ...]
    heat: Mapping[str, Any] | None
    temperature_degc: float

    @property
    def open_count(self) -> int:
        """Return how many lines are not ticked."""
        return sum(not line.is_done for line in self.lines)


def preparation(desk: Desk, job: Job) -> Preparation:
    """Return what has to be got ready for the recipe that was chosen.

    Raises
    ------
    Conflict
        If no recipe was chosen.
    """
    lists = _lists(desk, job)
    before = [line for line in lists["sheet"] if line["stage"] == "before"]
    lines = [_bought(desk, job, item) for item in lists["shopping"]]
    lines.append(
        _line(
            job,
            "have",
            f"cans for waste that hold {lists['waste']['cans_hold_l']:.1f} L, metal or rated",
            why=str(lists["waste"]["label"]),
        )
    )
    lines += [_line(job, "do", line["sentence"], why=line["accept"]) for line in before]
    lines += [_line(job, "safe", text, why=accept) for text, accept in _made_safe(desk, job)]
    return Preparation(
        lines=tuple(lines),
        cautions=tuple(dict.fromkeys(text for line in before for text in line["cautions"])),
        waste=lists["waste"],
        sheet=tuple(lists["sheet"]),
        heat=lists.get("heat"),
        temperature_degc=job.recipe_degc,
    )


# How a machine is made safe before anything is opened: what it must have, what to do, what to see.
# Common practice, no source.
_SAFE = (
    (
        "legs",
        "Stand the machine on firm ground, on supports rated for its weight, wheels chocked.",
        "it does not move when pushed from any side",
    ),
    (
        "engine",
        "Take keys and remotes away, and agree on who alone switches on.",
        "nobody else can start it, and the hand signal for stop is agreed",
    ),
    (
        "gas",
        "Keep every part closed until the recipe has let the pressure of the gas volumes go.",
        "whoever works at the machine knows at which step that is",
    ),
)


def _made_safe(desk: Desk, job: Job) -> Iterator[tuple[str, str]]:
    """Yield how this machine is made safe, and what to see when it is."""
    table = job.recipe_table
    if table is None:
        return
    has = features(found_circuit(desk, job).circuit, desk.forms.recipe(table, "recipe"))
    for word, text, accept in _SAFE:
        if word in has:
            yield text, accept


def _lists(desk: Desk, job: Job) -> Mapping[str, Any]:
    """Return sheet, shopping and waste as ``plan --json`` writes them."""
    if job.recipe is None or job.recipe_table is None:
        raise Conflict("no recipe was chosen yet; choose one in the plan first")
    answer = chosen_answer(desk, job)
    if answer is not None:
        return answer.body
    goal = {"target_pct": 10.0} if job.goal is None else job.goal.payload
    tables = {
        "circuit": dict(found_circuit(desk, job).table),
        "recipe": dict(job.recipe_table),
        "goal": dict(goal),
    }
    name = fingerprint_of(tables)
    with _LOCK:
        if name not in _KEPT:
            _KEPT[name] = _lists_of(desk.forms, tables)
            while len(_KEPT) > _MOST_KEPT:
                _KEPT.popitem(last=False)
        return _KEPT[name]


# Lists follow from circuit, recipe and goal alone, and the page shows them again and again.
_KEPT: OrderedDict[str, Mapping[str, Any]] = OrderedDict()
_LOCK = Lock()
_MOST_KEPT = 16


def _lists_of(forms: Forms, tables: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the lists of a recipe that no plan was kept for."""
    circuit = forms.circuit(tables["circuit"], "circuit")
    recipe = forms.recipe(tables["recipe"], "recipe")
    goal = goal_of_table(tables["goal"])
    run = simulate(circuit, recipe, members=_MEMBERS, bracket=False)
    made = score(circuit, goal, recipe, run)
    return forms.lists_table(
        sheet_of(circuit, goal, recipe, run),
        shopping(circuit, goal, recipe, made),
        waste_of(circuit, made),
    )


def _bought(desk: Desk, job: Job, item: Mapping[str, Any]) -> Line:
    """Return one thing to have at hand, with what the shelf has of it."""
    if item["kind"] != "buy":
        return _line(job, "have", str(item["what"]), why=str(item["why"]))
    text = f"{item['count']} \N{MULTIPLICATION SIGN} {item['what']}"
    shelf = _on_shelf(desk, job) if "new fluid" in item["what"] else ""
    return _line(job, "buy", text, why=str(item["why"]), on_shelf=shelf)


def _on_shelf(desk: Desk, job: Job) -> str:
    """Say what the shelf has of fluids of the new fluid's class."""
    table = desk.store.circuit_version(job.head.circuit_version_id).table
    wanted = table.get("new_fluid", table.get("fluid", {})).get("class")
    lots = [
        one
        for one in desk.store.stock()
        if one.sheet.of is SheetOf.FLUID and one.sheet.table.get("class") == wanted
    ]
    if not lots:
        return f"nothing of class {wanted} on the shelf"
    return "on the shelf: " + "; ".join(_lot(one.left, one.lot.container_m3, one) for one in lots)


def _lot(left: float, container_m3: float | None, one: Stock) -> str:
    size = "" if container_m3 is None else f" of {container_m3 * 1e3:g} L"
    until = "" if one.lot.expires_on is None else f", good until {one.lot.expires_on.isoformat()}"
    return f"{left:g}{size}, {one.sheet.name}, lot {one.lot.mark}{until}"


def _line(job: Job, group: str, text: str, *, why: str = "", on_shelf: str = "") -> Line:
    item = hashlib.sha256(f"{group}\n{text}".encode()).hexdigest()[:12]
    tick = job.ticks.get((LIST, item))
    return Line(
        item=item,
        group=group,
        text=text,
        why=why,
        on_shelf=on_shelf,
        is_done=tick is not None and bool(tick.payload["done"]),
    )


def tick_all(desk: Desk, job_id: str, items: Sequence[str], *, uid: str, group: str = "") -> None:
    """Tick the lines named and untick all others of the group, or of all where none is named.

    Raises
    ------
    NotFound
        If a line is not on the list.
    """
    job = load_job(desk, job_id)
    lines = [one for one in preparation(desk, job).lines if group in ("", one.group)]
    known = {line.item for line in lines}
    for item in items:
        if item not in known:
            raise NotFound("line", item)
    for line in lines:
        if line.is_done is not (line.item in items):
            payload = {"list": LIST, "item": line.item, "done": line.item in items}
            log(desk, job_id, Kind.TICKED, payload, uid=f"{uid}-{line.item}")


def finish_prepare(desk: Desk, job_id: str, *, uid: str) -> None:
    """Finish the stage; what was not ticked is told, and does not hold anybody up."""
    job = load_job(desk, job_id)
    missing = preparation(desk, job).open_count
    text = "all at hand" if missing == 0 else f"{missing} lines not ticked"
    finish(desk, job, Stage.PREPARE, text, uid=uid)
