"""``ullage demo``: three recipes on the built-in library van side by side, and a whole job, proved.

Says what it does while it does it. Everything that the page shows is simulated here and now on the
built-in circuit; files to go on with are written beside it.
"""

from __future__ import annotations

import json
import shlex
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ullage.circuit.catalogue import circuit_template
from ullage.circuit.network import Circuit
from ullage.cli.demo_job import WholeJob, whole_job
from ullage.cli.simulate import run_at_moment, shown_progress
from ullage.drawing.charts import compare_chart, remainder_chart
from ullage.drawing.circuit_svg import draw
from ullage.drawing.figures import litres, middle
from ullage.drawing.held import contents
from ullage.drawing.moment import moment_of
from ullage.drawing.page import Tried, page
from ullage.drawing.story import old_in_legs_share, story
from ullage.drawing.telling import end_sentence
from ullage.errors import FileFaults, OutOfRange
from ullage.formats.circuit_file import parse_circuit
from ullage.formats.plan_json import plan_to_json
from ullage.formats.recipe_file import parse_recipe, recipe_to_json
from ullage.formats.result_json import run_to_json
from ullage.formats.verdict_json import verdict_to_json
from ullage.transport.examples import recipe_template
from ullage.transport.recipe import Circulate, Exchange, Recipe
from ullage.transport.refusals import refusals
from ullage.transport.result import Run
from ullage.transport.solve import simulate

SUCCESS = 0

_CIRCUIT = "levelling-van"
_DRAIN, _IDLE, _AXLES = (
    "levelling-van-drain-fill",
    "levelling-van-divert-idle",
    "levelling-van-divert-axles",
)
_ON_AND_ON = "levelling-van-divert-on-and-on"
_MEMBERS = 2000
_SEED = 1
# Long enough for the outflow to look fresh and for nothing to happen behind that.
_ON_AND_ON_M3 = 0.020
_TEN_LITRES_M3 = 0.010
# Drains come in whole rounds, as near to an exchange of ten litres as they can; the exchanges then
# pour exactly what the drains do.
_ROUND_STEPS = 3
_DEFAULT_OUT = Path("ullage-demo")

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trial:
    """A recipe to try, and the name of its files."""

    stem: str
    recipe: Recipe


def run(*, out: Path | None, as_json: bool) -> int:
    """Carry out one ``ullage demo`` and return the exit code."""
    folder = out or _DEFAULT_OUT
    if folder.exists() and not folder.is_dir():
        raise OutOfRange("--out", folder, "a folder, or a name that is free", "choose another name")
    say: Say = (lambda words: None) if as_json else (lambda words: print(words, flush=True))
    circuit = parse_circuit(circuit_template(_CIRCUIT).text, f"{_CIRCUIT}.circuit.toml")
    held = contents(circuit, None)
    say(
        f"{circuit.name}: about {litres(held.fluid_m3)} of fluid, all of it old.\n"
        "Starting the solver (compiled once on a machine, which takes a minute or so)."
    )
    opening_trial, trials = _trials(circuit)
    say(f"Each recipe is tried on {_MEMBERS} machines that the van might be.\n")
    opening = _try(circuit, opening_trial, say)
    tried = [_try(circuit, trial, say) for trial in trials]
    job = whole_job(circuit, say)
    folder.mkdir(parents=True, exist_ok=True)
    files = _write(folder, circuit, (opening_trial, *trials), (opening, *tried), job)
    sheet = folder / "index.html"
    sheet.write_text(page(circuit, opening, tried, files, job.shown), encoding="utf-8")
    if as_json:
        print(
            json.dumps(_told(circuit, folder, files, opening, trials, tried, job), allow_nan=False)
        )
    else:
        say(f"Written to {folder}: index.html and {len(files)} files beside it.")
        say(f"Open the page in any browser: {sheet.resolve().as_uri()}")
        say(
            "Go on with your own numbers: ullage simulate "
            f"{shlex.quote(str(folder / f'{_CIRCUIT}.circuit.toml'))} "
            f"{shlex.quote(str(folder / f'{_AXLES}.recipe.json'))}"
        )
        say("Or open the app on an invented garage, with this van in it: ullage serve --demo")
    return SUCCESS


def _trials(circuit: Circuit) -> tuple[_Trial, tuple[_Trial, ...]]:
    """Return the recipe that goes on and on, and the three to compare, the same litres each."""
    idle, axles, drain = (
        parse_recipe(recipe_template(name).text, name) for name in (_IDLE, _AXLES, _DRAIN)
    )
    first_fill = _poured_m3(circuit, idle) - _TEN_LITRES_M3
    drains = _with_rounds(circuit, drain, first_fill + _TEN_LITRES_M3)
    fair_m3 = round(_poured_m3(circuit, drains) - first_fill, 4)
    on_and_on = _with_litres(idle, _ON_AND_ON_M3, "Divert at idle, on and on")
    trials = (
        _Trial(stem=_DRAIN, recipe=drains),
        _Trial(stem=_IDLE, recipe=_with_litres(idle, fair_m3, idle.name)),
        _Trial(stem=_AXLES, recipe=_with_litres(axles, fair_m3, axles.name)),
    )
    for trial in trials:
        faults = refusals(circuit, trial.recipe)
        if faults:
            raise FileFaults(f"{trial.stem}.recipe.toml", faults)
    return _Trial(stem=_ON_AND_ON, recipe=on_and_on), trials


def _with_litres(recipe: Recipe, litres_m3: float, name: str) -> Recipe:
    """Return a recipe whose exchange sends other litres to waste."""
    steps = tuple(
        replace(step, litres_m3=litres_m3) if isinstance(step, Exchange) else step
        for step in recipe.steps
    )
    return replace(recipe, name=name, steps=steps)


def _poured_m3(circuit: Circuit, recipe: Recipe) -> float:
    """Return what a recipe pours, at the best values."""
    answer = simulate(circuit, recipe, bracket=False)
    return sum(middle(step.poured_m3) for step in answer.steps)


def _with_rounds(circuit: Circuit, recipe: Recipe, most_m3: float) -> Recipe:
    """Return a recipe of rounds with as many more of them as come nearest to the litres given."""
    best, nearest = recipe, abs(_poured_m3(circuit, recipe) - most_m3)
    longer = recipe
    for _ in range(8):
        longer = replace(longer, steps=(*recipe.steps[:_ROUND_STEPS], *longer.steps))
        distance = abs(_poured_m3(circuit, longer) - most_m3)
        if distance >= nearest:
            break
        best, nearest = longer, distance
    rounds = 1 + sum(isinstance(step, Circulate) for step in best.steps)
    return replace(best, name=f"Drain and refill {rounds} times, run and exercised between")


def _try(circuit: Circuit, trial: _Trial, say: Say) -> Tried:
    """Simulate one recipe and say how it ends."""
    begun = time.monotonic()
    with shown_progress(_MEMBERS, trial.recipe.name) as progress:
        answer = simulate(circuit, trial.recipe, members=_MEMBERS, seed=_SEED, progress=progress)
        at_moment = run_at_moment(circuit, trial.recipe, answer)
    first, second = story(circuit, trial.recipe, answer, at_moment=at_moment)
    seconds = time.monotonic() - begun
    say(f"{trial.recipe.name} ({seconds:.1f} s)\n  {first}\n  {second}\n  {end_sentence(answer)}\n")
    return Tried(name=trial.recipe.name, recipe=trial.recipe, run=answer, at_moment=at_moment)


def _write(
    folder: Path,
    circuit: Circuit,
    trials: Sequence[_Trial],
    tried: Sequence[Tried],
    job: WholeJob,
) -> list[str]:
    """Write pictures, answers and the files to go on with; return their names."""
    texts = {f"{_CIRCUIT}.circuit.toml": circuit_template(_CIRCUIT).text}
    for trial, one in zip(trials, tried, strict=True):
        texts[f"{trial.stem}.recipe.json"] = _json(recipe_to_json(trial.recipe))
        texts[f"{trial.stem}.result.json"] = _json(run_to_json(one.run, circuit))
        texts[f"{trial.stem}.circuit.svg"] = draw(circuit, one.run)
        texts[f"{trial.stem}.chart.svg"] = remainder_chart(
            one.run, circuit=circuit, at_moment=one.at_moment
        )
    compared = {one.name: one.run for one in tried[1:]}
    texts["recipes-side-by-side.svg"] = compare_chart(compared, circuit=circuit)
    if tried[0].at_moment is not None:
        texts["when-the-outflow-looks-fresh.svg"] = draw(circuit, tried[0].at_moment)
    texts["the-job.plan.json"] = _json(plan_to_json(job.plan))
    texts["the-job.recipe.json"] = _json(recipe_to_json(job.plan.recipe))
    texts["the-job.evidence.json"] = _json(job.readings)
    texts["the-job.verdict.json"] = _json(verdict_to_json(job.verdict))
    texts["the-job.verdict.svg"] = job.picture
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return sorted(texts)


def _json(table: dict[str, object]) -> str:
    """Return a table as a file holds it."""
    return json.dumps(table, indent=1, allow_nan=False) + "\n"


def _told(
    circuit: Circuit,
    folder: Path,
    files: Sequence[str],
    opening: Tried,
    trials: Sequence[_Trial],
    tried: Sequence[Tried],
    job: WholeJob,
) -> dict[str, object]:
    """Return everything as one JSON object."""
    moment = moment_of(opening.run)
    stopped: Run | None = opening.at_moment
    return {
        "format": "ullage-demo/1",
        "out": str(folder),
        "page": str(folder / "index.html"),
        "files": list(files),
        "members": _MEMBERS,
        "seed": _SEED,
        "looks_fresh": None
        if moment is None or stopped is None or not moment.looks_fresh
        else {
            "poured_l": round(moment.poured_m3 * 1e3, 3),
            "outflow_old_pct": round(100.0 * moment.outflow_old_share, 2),
            "remaining_pct": round(100.0 * middle(stopped.remaining_share), 2),
            "of_that_in_legs_pct": round(100.0 * old_in_legs_share(circuit, stopped), 2),
        },
        "job": {
            "containers": job.plan.score.containers,
            "held_pct": round(100.0 * job.plan.score.held_share, 2),
            "verdict": verdict_to_json(job.verdict),
            "truth_pct": round(100.0 * job.truth_share, 3),
            "truth_parts_pct": {
                name: round(100.0 * share, 3) for name, share in job.truth_shares.items()
            },
        },
        "recipes": [
            {
                "name": one.name,
                "file": f"{trial.stem}.recipe.json",
                "result": run_to_json(one.run, circuit),
            }
            for trial, one in zip(trials, tried, strict=True)
        ],
    }
