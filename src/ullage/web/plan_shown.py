"""A plan that is kept, ready to be shown: what it promises, its steps, what it was judged by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ullage.jobs.answer import Answer
from ullage.jobs.propose_plan import OWN
from ullage.planning.floor import named
from ullage.planning.plan_words import (
    NOTHING_HOLDS,
    counted,
    falls_short,
    holds_on,
    judged_on,
    level_read_hot,
    of_100,
    promise,
    stays,
    tried,
    warms_up,
    worth_measuring,
)
from ullage.web.forms import as_sentence
from ullage.web.plan_pictures import OWN_LABEL, moments_shown
from ullage.web.shown import EN_DASH, Units, amount, band, moment, money, pct, span

_MINUTE_S = 60.0
_MOST_ADVICE = 5
_FIRST = ("cannot-start", "out-of-bounds", "level-tight")


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodShown:
    """A method in the table: what it needs and leaves, and whether it may be chosen."""

    name: str
    label: str
    containers: str
    left: str
    took: str
    cost: str
    note: str
    can_choose: bool
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanShown:
    """A plan that was searched for, beside the usual methods."""

    lead: str
    reasons: tuple[str, ...]
    methods: tuple[MethodShown, ...]
    chart_wide_url: str
    chart_upright_url: str
    made: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """A step in plain sentences: what to do, what is right, how long it takes, what is left."""

    number: int
    sentence: str
    accept: str
    took: str
    left: str
    picture_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrub:
    """The circuit through a recipe: its moments in words, and where each one's picture is.

    ``upright_url`` and ``wide_url`` end where the number of the moment follows.
    """

    words: tuple[str, ...]
    upright_url: str
    wide_url: str
    last: int
    page_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedMatter:
    """A matter that was judged: its verdict, and each finding with whose word it is."""

    heading: str
    verdict: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeShown:
    """A recipe with all that goes with it; ``lead`` is empty for the plan's own.

    ``first`` is what can harm the pump: it stands before everything else.
    """

    heading: str
    lead: str
    first: tuple[str, ...]
    buy: tuple[str, ...]
    steps: tuple[PlanStep, ...]
    scrub: Scrub
    pace: tuple[str, ...]
    floor: str
    floor_parts: tuple[str, ...]
    moved_by: tuple[str, ...]
    judged: tuple[JudgedMatter, ...]
    measures: tuple[str, ...]
    caveats: tuple[str, ...]


def plan_shown(answer: Answer, units: Units, chosen: str) -> PlanShown:
    """Return a plan; ``chosen`` is the method that was chosen beside it."""
    address = f"/jobs/{answer.job_id}/plan/methods.svg?of={answer.id}&shape="
    body = answer.body
    return PlanShown(
        lead=lead_of(body, units),
        # How many machines it holds in stands in the lead; the second compares the methods.
        reasons=(*body["reasons"][1:2], _sure(body)),
        methods=_methods(body, units, chosen),
        chart_wide_url=f"{address}wide",
        chart_upright_url=f"{address}upright",
        made=f"Worked out {moment(answer.made_at)} by version {answer.code}, seed {answer.seed}, "
        f"inputs {answer.fingerprint[:12]}.",
    )


def recipe_shown(answer: Answer, method: str, units: Units) -> RecipeShown:
    """Return the recipe of a plan, or one that was judged beside it."""
    body = answer.body
    is_own = method == OWN
    return RecipeShown(
        heading="The recipe of this plan" if is_own else f"The recipe: {method}",
        lead="" if is_own else lead_of(body, units),
        first=tuple(one["text"] for one in body["caveats"] if one["code"] in _FIRST),
        buy=tuple(_bought(body, units)),
        steps=_steps(answer),
        scrub=_scrub(answer, units),
        pace=() if body["pace"] is None else tuple(body["pace"]["advice"][:_MOST_ADVICE]),
        floor=_floor(body),
        floor_parts=tuple(
            holds_on(named(part), share) for part, share in body["floor"].get("held", {}).items()
        ),
        moved_by=tuple(body["floor"]["moved_by"][:4]),
        judged=tuple(_judged(body, units)),
        measures=tuple(_measures(body)),
        caveats=tuple(one["text"] for one in body["caveats"] if one["code"] not in _FIRST),
    )


def lead_of(body: Mapping[str, Any], units: Units) -> str:
    """Say what a recipe needs and what it promises."""
    size = amount(body["container_l"], "l", units)
    buy = counted(body["containers"], f"container of {size}", f"containers of {size}")
    target = f"{body['target_pct']:.3g} %"
    people = int(body["people"])
    common = {
        "buy": buy,
        "target": target,
        "took": span(float(body["minutes"]) * _MINUTE_S),
        "who": counted(people, "person", "people"),
        "cost": money(float(body["cost"]), units),
    }
    if body["reached"]:
        return promise(
            steps=len(body["recipe"]["step"]), held=of_100(body["held_pct"] / 100.0), **common
        )
    return falls_short(
        sure=of_100(body["sure_pct"] / 100.0), comes_to=pct(body["expected"]["p95"]), **common
    )


def _band(found: Mapping[str, float]) -> str:
    """Return what is left with its band; where both ends read the same, one figure."""
    if round(found["p05"]) == round(found["p95"]):
        return pct(found["p50"])
    return band(found["p50"], found["p05"], found["p95"])


def _sure(body: Mapping[str, Any]) -> str:
    """Say what is expected, and how that was found out."""
    tries = [
        tried(one["held_pct"] / 100.0, one["containers"], one["seed"]) for one in body["tries"]
    ]
    return f"Expected: {_band(body['expected'])} left. {judged_on(body['members'], tries)}"


def _methods(body: Mapping[str, Any], units: Units, chosen: str) -> tuple[MethodShown, ...]:
    """Return the plan and the usual methods side by side."""
    rows = []
    for one in ({**body, "name": OWN}, *body["methods"]):
        found = one["expected"]
        note = "" if one["reached"] else one.get("why_not") or "does not reach it"
        is_own = one["name"] == OWN
        rows.append(
            MethodShown(
                name=one["name"],
                label=OWN_LABEL if is_own else one["name"],
                containers=EN_DASH if found is None else str(one["containers"]),
                left=EN_DASH if found is None else _band(found),
                took=EN_DASH if found is None else span(one["minutes"] * _MINUTE_S),
                cost=EN_DASH if found is None else money(one["cost"], units),
                note=note,
                can_choose=found is not None,
                is_chosen=one["name"] == chosen,
            )
        )
    return tuple(rows)


def _bought(body: Mapping[str, Any], units: Units) -> Iterator[str]:
    """Yield what to buy, and which cans take the waste."""
    for item in body["shopping"]:
        if item["kind"] == "buy":
            why = f" ({item['why']})" if item["why"] else ""
            yield f"{item['count']} \N{MULTIPLICATION SIGN} {item['what']}{why}"
    waste = body["waste"]
    yield (
        f"cans for waste that hold {amount(waste['cans_hold_l'], 'l', units)}: "
        f"{amount(waste['comes_out_l'], 'l', units)} come out, and a tenth more"
    )


def _steps(answer: Answer) -> tuple[PlanStep, ...]:
    """Return the steps of a recipe, each with what is left after it."""
    body = answer.body
    lines = [line for line in body["sheet"] if line["stage"] == "exchange"]
    moments = _moments_after_steps(body)
    address = f"/jobs/{answer.job_id}/plan/circuit?of={answer.id}&moment="
    return tuple(
        PlanStep(
            number=line["step"],
            sentence=line["sentence"],
            accept=line["accept"],
            took="" if line["seconds"] is None else f"pump runs {span(line['seconds'])}",
            left=f"{_band(left)} left",
            picture_url=f"{address}{moments[line['step']]}",
        )
        for line, left in zip(lines, body["after_steps"], strict=True)
    )


def _moments_after_steps(body: Mapping[str, Any]) -> dict[int, int]:
    """Return at which moment each step has ended."""
    from ullage.jobs.plan_moments import moments_of
    from ullage.wiring import FileForms

    found = moments_of(FileForms().recipe(body["recipe"], "recipe"))
    return {one.after_step: place for place, one in enumerate(found) if one.is_between_steps}


def _scrub(answer: Answer, units: Units) -> Scrub:
    """Return the way through the pictures of a recipe."""
    words = moments_shown(answer, units)
    address = f"/jobs/{answer.job_id}/plan/circuit.svg?of={answer.id}"
    return Scrub(
        words=tuple(f"{word[:1].upper()}{word[1:]}" for word in words),
        upright_url=f"{address}&shape=upright&moment=",
        wide_url=f"{address}&shape=wide&moment=",
        last=len(words) - 1,
        page_url=f"/jobs/{answer.job_id}/plan/circuit?of={answer.id}&moment=",
    )


def _floor(body: Mapping[str, Any]) -> str:
    """Say what more fluid cannot move, and why."""
    floor = body["floor"]
    if not floor["parts"]:
        return NOTHING_HOLDS
    sure = f"{body['sure_pct']:g} of 100 machines"
    return f"{stays(sure, pct(floor['remaining_pct']))} {as_sentence(floor['why'])}"


def _judged(body: Mapping[str, Any], units: Units) -> Iterator[JudgedMatter]:
    """Yield fluid, filter, warm-up and level as they were judged."""
    for heading, key in (("New fluid", "fluid"), ("Filter", "filter")):
        yield JudgedMatter(
            heading=heading,
            verdict=str(body[key]["verdict"]),
            lines=tuple((one["text"], one["source"]) for one in body[key]["findings"]),
        )
    heat = body["heat"]
    if heat is not None:
        minutes = heat["minutes"]
        to = amount(body["recipe"]["temperature_degc"], "degc", units, digits=0)
        yield JudgedMatter(
            heading="Warm-up",
            verdict=warms_up(to, None if minutes is None else span(minutes * _MINUTE_S)),
            lines=tuple((one["text"], one["source"]) for one in (*heat["buys"], *heat["exchange"])),
        )
    level = body["level"]
    if level["mm"] is not None:
        yield JudgedMatter(
            heading="Level",
            verdict=level_read_hot(
                amount(abs(level["mm"]), "mm", units, digits=0),
                level["mm"] >= 0.0,
                amount(abs(level["swell_l"]), "l", units),
            ),
            lines=tuple((one["text"], "") for one in level["caveats"]),
        )


def _measures(body: Mapping[str, Any]) -> Iterator[str]:
    """Yield what to measure first."""
    for one in body["measure_first"]:
        yield worth_measuring(
            name=f"{one['name'][:1].upper()}{one['name'][1:]}",
            doubt=pct(one["explains_pct"]),
            how=one["how"],
            took=span(one["minutes"] * _MINUTE_S),
            sure=f"{body['sure_pct']:g} of 100",
            now=one["sure_now_pct"] / 100.0,
            then=one["sure_then_pct"] / 100.0,
        )
