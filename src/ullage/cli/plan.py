"""``ullage plan``: what to buy and what to do, how sure that is, what cannot be moved, and why.

People get it as a colleague would say it; ``--json`` gives one object and nothing else. Progress
goes to standard error, and only where somebody looks at it.
"""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from ullage.formats.circuit_file import read_circuit
from ullage.formats.plan_json import plan_to_json
from ullage.planning.costs import read_prices
from ullage.planning.due import Answer
from ullage.planning.finding import Finding, Weight
from ullage.planning.floor import named
from ullage.planning.goal import Goal
from ullage.planning.plan import Plan, make_plan
from ullage.planning.plan_words import (
    NOTHING_HOLDS,
    behind_colon,
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
from ullage.planning.sheet import Line
from ullage.planning.waiting import Progress
from ullage.transport.recipe import Bleed, Exchange
from ullage.units.convert import ZERO_CELSIUS_K

SUCCESS = 0
_WIDEST = 100
_LITRE = 1e3
# A rise of the level that nobody sees.
_SEEN_M = 1e-3


def run(
    circuit: Path,
    *,
    target_pct: float,
    sure_pct: float,
    container_l: float,
    reserve_l: float,
    most: int | None,
    without: Sequence[str],
    people: int,
    seed: int,
    members: int,
    as_json: bool,
) -> int:
    """Carry out one ``ullage plan`` and return the exit code."""
    goal = Goal(
        target_share=target_pct / 100.0,
        sure_share=sure_pct / 100.0,
        container_m3=container_l / _LITRE,
        reserve_m3=reserve_l / _LITRE,
        most=most,
        without=frozenset(without),
        people=people,
    )
    machine = read_circuit(circuit)
    with shown_progress() as progress:
        plan = make_plan(machine, goal, seed=seed, members=members, progress=progress)
    if as_json:
        print(json.dumps(plan_to_json(plan), allow_nan=False))
    else:
        print(told(plan))
    return SUCCESS


@contextmanager
def shown_progress() -> Iterator[Progress | None]:
    """Say what is under way, where a person looks at standard error."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("searching", total=1)
        yield lambda what, done, of: bar.update(task, description=what, completed=done, total=of)


def told(plan: Plan) -> str:
    """Return a plan as a colleague would say it."""
    blocks = (
        _verdict(plan),
        _buy(plan),
        _do(plan),
        _sure(plan),
        _stays(plan),
        _measure(plan),
        _methods(plan),
        _judged(plan),
        _cautions(plan),
    )
    return "\n\n".join("\n".join(lines) for lines in blocks if lines)


def _say(text: str, *, indent: int = 0, mark: str = "") -> list[str]:
    """Return text wrapped, the mark hanging before its first line."""
    head = " " * indent + mark
    return textwrap.wrap(
        text,
        width=_WIDEST,
        initial_indent=head,
        subsequent_indent=" " * len(head),
        break_long_words=False,
    )


def _verdict(plan: Plan) -> list[str]:
    """Say whether the target can be had, and at which price."""
    goal, made = plan.goal, plan.score
    size = _size(goal.container_m3)
    buy = counted(made.containers, f"container of {size}", f"containers of {size}")
    took = f"{made.effort.duration_s / 60.0:.0f} minutes"
    who = counted(goal.people, "person", "people")
    cost = f"{read_prices().currency} {made.cost:.0f} (prices invented: put yours in)"
    lines = [plan.name]
    if plan.reached:
        words = promise(
            steps=len(plan.recipe.steps),
            held=of_100(made.held_share),
            buy=buy,
            target=_pct(goal.target_share),
            took=took,
            who=who,
            cost=cost,
        )
    else:
        words = falls_short(
            sure=f"{goal.sure_share * 100:g} of 100 machines",
            comes_to=_pct(made.at_sure),
            buy=buy,
            target=_pct(goal.target_share),
            took=took,
            who=who,
            cost=cost,
        )
    return lines + _say(words)


def _buy(plan: Plan) -> list[str]:
    """Say what to have at hand."""
    lines = ["What to buy"]
    for item in plan.shopping:
        if item.kind == "buy":
            why = f" ({item.why})" if item.why else ""
            lines += _say(f"{item.count} x {item.what}{why}", indent=2, mark="- ")
    if plan.left_over_m3 > 5e-5:
        lines += _say(
            f"beside the reserve {_l(plan.left_over_m3)} stay in the containers",
            indent=2,
            mark="- ",
        )
    lines += _say(
        f"cans for waste: {_l(plan.waste.cans_hold_m3)} ({_l(plan.waste.comes_out_m3)} come out, "
        "and a tenth more)",
        indent=2,
        mark="- ",
    )
    tools = [item.what for item in plan.shopping if item.kind != "buy"]
    lines += _say(f"at hand: {'; '.join(tools)}", indent=2, mark="- ")
    return lines


def _do(plan: Plan) -> list[str]:
    """Say what to do, step by step."""
    lines = ["What to do"]
    for stage, words in (("before", "Before"), ("exchange", ""), ("after", "After")):
        for line in plan.sheet:
            if line.stage != stage:
                continue
            mark = f"{words}: " if line.step is None else f"{line.step}. "
            lines += _say(line.sentence, indent=2, mark=mark)
            if line.stage == "exchange":
                seconds = "" if line.duration_s is None else f", about {_time(line.duration_s)}"
                if seconds and _in_bursts(plan, line):
                    seconds += " of pump time in all, see how to pour"
                lines += _say(f"Right when: {line.accept}{seconds}.", indent=5)
    if plan.pace is not None:
        most = max(s.litres_m3 for s in plan.recipe.steps if isinstance(s, Bleed | Exchange))
        lines.append("")
        lines.append(f"How to pour (reckoned for the longest step, {_l(most)})")
        cannot = [c for c in plan.caveats if c.code == "cannot-start"]
        for caveat in (*cannot, *plan.pace.advice[:4]):
            lines += _say(caveat.text, indent=2, mark="- ")
    return lines


def _sure(plan: Plan) -> list[str]:
    """Say how sure it is, and how that was found."""
    lines = ["How sure"]
    for reason in plan.reasons[:2]:
        lines += _say(reason, indent=2)
    tries = [tried(one.held_share, one.containers, one.seed) for one in plan.tries]
    return lines + _say(judged_on(plan.members, tries), indent=2)


def _stays(plan: Plan) -> list[str]:
    """Say what cannot be moved, why, and what would."""
    if not plan.floor.parts:
        return [
            "What cannot be moved",
            *_say(NOTHING_HOLDS, indent=2),
        ]
    lines = ["What cannot be moved"]
    lines += _say(
        stays(f"{plan.goal.sure_share * 100:g} of 100 machines", _pct(plan.floor.share))
        + " On average there stay:",
        indent=2,
    )
    for part in plan.floor.parts[:6]:
        lines += _say(holds_on(named(part.part), part.share * 100.0, part.why), indent=2, mark="- ")
    for way in plan.floor.moved_by[:4]:
        lines += _say(f"would help: {way}", indent=2, mark="- ")
    return lines


def _measure(plan: Plan) -> list[str]:
    """Say what to measure first."""
    if not plan.measures:
        return []
    lines = ["What to measure first"]
    for one in plan.measures:
        lines += _say(
            worth_measuring(
                name=one.name,
                doubt=f"{one.explains * 100:.0f} %",
                how=one.how,
                took=f"{one.duration_s / 60.0:.0f} minutes",
                sure=f"{plan.goal.sure_share * 100:g} of 100",
                now=one.sure_now,
                then=one.sure_then,
            ),
            indent=2,
            mark="- ",
        )
    return lines


def _methods(plan: Plan) -> list[str]:
    """Return the usual methods side by side."""
    size = _size(plan.goal.container_m3)
    head = f"  {'method':<46}{'containers':>11}{'95 of 100':>11}{'minutes':>9}{'cost':>7}"
    lines = [f"The usual methods beside it (containers of {size})", head]
    made = plan.score
    rows = [("this plan", made, "" if plan.reached else "does not reach it")]
    for method in plan.methods:
        if method.score is None:
            continue
        note = "" if method.reached else method.why_not or "does not reach it"
        rows.append((method.name, method.score, note))
    for name, one, note in rows:
        lines.append(
            f"  {name:<46}{one.containers:>11}{one.p95 * 100:>9.1f} %"
            f"{one.effort.duration_s / 60.0:>9.0f}{one.cost:>7.0f}" + (f"  {note}" if note else "")
        )
    for method in plan.methods:
        if method.score is None:
            lines += _say(f"{method.name}: not here, {method.why_not}", indent=2)
    return lines


def _judged(plan: Plan) -> list[str]:
    """Say what was found about fluid, filter, heat, level, and whether it is due."""
    lines = ["Also judged"]
    fluid = [f for f in plan.fluid.findings if f.weight is not Weight.FINE]
    lines += _say(f"fluid: {plan.fluid.verdict.value}{_first(fluid)}", indent=2, mark="- ")
    filters = [f for f in plan.filter.findings if f.weight is not Weight.FINE]
    lines += _say(f"filter: {plan.filter.verdict.value}{_first(filters)}", indent=2, mark="- ")
    if plan.heat is not None:
        degc = plan.recipe.temperature_k - ZERO_CELSIUS_K
        took = plan.heat.time_s
        words = warms_up(f"{degc:.0f} degC", None if took is None else f"{took / 60.0:.0f} min")
        lines += _say(f"warm-up: {words}", indent=2, mark="- ")
        lines += [x for f in plan.warmth[:3] for x in _say(f.text, indent=4)]
    level = plan.level
    if level.height_m is not None and abs(level.height_m) < _SEEN_M:
        lines += _say("level: stands alike cold and hot here", indent=2, mark="- ")
    elif level.height_m is not None:
        height = f"{abs(level.height_m) * 1e3:.0f} mm"
        words = level_read_hot(height, level.height_m >= 0.0, _l(abs(level.swell_m3)))
        lines += _say(f"level: {words}", indent=2, mark="- ")
    due = f"{_DUE[plan.due.answer]}{_reason(plan.due.reasons)}"
    lines += _say(due, indent=2, mark="- ")
    told = [method.why_not for method in plan.methods if method.score is None]
    for caveat in plan.caveats:
        # Fluid and pace stand above; so does what a usual method says of itself.
        if caveat.code.startswith("fluid-") or caveat.code == "cannot-start":
            continue
        if caveat.code == "not-lowered" and any("no step brings them" in why for why in told):
            continue
        lines += _say(caveat.text, indent=2, mark="- ")
    return lines


def _cautions(plan: Plan) -> list[str]:
    """Return the cautions, each once, with the steps that it belongs to."""
    where: dict[str, list[str]] = {}
    for line in plan.sheet:
        for _, text in line.cautions:
            where.setdefault(text, []).append(line.stage if line.step is None else str(line.step))
    lines = ["Mind"]
    for text, places in where.items():
        steps = [place for place in dict.fromkeys(places) if place.isdigit()]
        at = f" (steps {', '.join(steps)})" if len(steps) > 1 else ""
        at = f" (step {steps[0]})" if len(steps) == 1 else at
        lines += _say(f"{text}{at}", indent=2, mark="- ")
    return lines if len(lines) > 1 else []


def _first(findings: list[Finding]) -> str:
    """Return the gravest findings as the tail of a sentence."""
    return "" if not findings else ": " + " ".join(f.text for f in findings[:2])


_DUE = {
    Answer.DUE: "the exchange was due",
    Answer.NOT_DUE: "the exchange was not due yet",
    Answer.CANNOT_TELL: "whether the exchange was due nobody can tell",
}


def _reason(reasons: Sequence[str]) -> str:
    if not reasons:
        return "."
    text = " ".join(f"{one.rstrip('.')}." for one in reasons[:2])
    return f": {behind_colon(text)}"


def _size(volume_m3: float) -> str:
    return f"{volume_m3 * _LITRE:g} L"


def _l(volume_m3: float) -> str:
    litres = volume_m3 * _LITRE
    return f"{litres:.1f} L" if litres >= 1.0 else f"{litres:.2f} L"


def _pct(share: float) -> str:
    pct = share * 100.0
    return f"{pct:.0f} %" if pct >= 9.95 and abs(pct - round(pct)) < 0.05 else f"{pct:.1f} %"


def _in_bursts(plan: Plan, line: Line) -> bool:
    """Tell whether a step pours while the pump runs, and pouring does not keep up with it."""
    if line.step is None or plan.pace is None or plan.pace.continuous:
        return False
    return isinstance(plan.recipe.steps[line.step - 1], Bleed | Exchange)


def _time(duration_s: float) -> str:
    if duration_s < 90.0:
        return f"{duration_s:.0f} s"
    return f"{duration_s / 60.0:.1f} min"
