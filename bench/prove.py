"""How good is a verdict? Synthetic machines whose truth is known, beside the goals.

``python -m bench.prove`` judges a few machines in about a minute; ``--machines 60 --seeds 3`` takes
about ten minutes of one core, ``--machines 200 --seeds 3`` is the full table (half an hour).

How far to trust it: choices were made on other seeds, but these were looked at twice. The four
corners were laid out in several tries while such figures were looked at, the last time so that four
bleeds may reach their goal; the row without noted heights is how it was before. "Mixes otherwise"
was defined three times; the built-in circuits were not chosen at all. "Best possible" is the error
of the best formula from readings to remainder that a fit over many other machines finds: no rule
beats it by much, whatever it is called. See docs/adr/0040 to 0042.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import time
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

import numpy as np
from scipy.special import ndtri

from bench.proved import (
    Case,
    as_read,
    built_in,
    cut_error,
    four_corners,
    noise,
    true_machines,
)
from ullage.evidence.emulator import fit
from ullage.evidence.likelihood import readings_of
from ullage.evidence.next_step import information, outlook
from ullage.evidence.reading import Reading
from ullage.evidence.samples import MIXING_U
from ullage.evidence.update import Posterior, Prover, predict, remaining
from ullage.evidence.verdict import groups_of, prover_of, share_of

SEEDS = (4101, 4102, 4103)
BINS = 8
# Machines of the best possible formula: to fit it, and to judge it.
FORMULA, FORMULA_JUDGED = 16_000, 8_000


@dataclass(frozen=True)
class Judged:
    """What many verdicts were worth."""

    covered: np.ndarray  # (machines, total and parts)
    off: np.ndarray  # estimate less truth of the total
    prior_sd: float
    seconds: float
    final: float
    rounds: float

    @property
    def ratio(self) -> float:
        """Return the error of the total over the spread before any reading."""
        return float(np.sqrt((self.off**2).mean())) / self.prior_sd


def judged(case: Case, seed: int, machines: int, *, strange: str = "") -> Judged:
    """Return how verdicts fare on machines of one seed."""
    prover = prover_of(case.circuit, case.recipe, case.evidence)
    before = prover.forward.run(prover.latents.drawn(seed=60_000, count=FORMULA))
    readings = readings_of(case.evidence, case.circuit, case.recipe)
    groups = {name: parts for name, parts in groups_of(case.circuit).items() if parts}
    totals, shares, shown = [], [], []
    for truth in true_machines(prover, seed, machines, strange=strange):
        totals.append(remaining(truth))
        shares.append([share_of(truth, parts)[0] for parts in groups.values()])
        shown.append(predict(readings, truth))
    total, part = np.concatenate(totals), np.concatenate(shares, axis=1)
    read = np.concatenate(shown, axis=1) + noise(readings, [seed, 1], machines)
    read = as_read(readings, read)
    covered, off, final, rounds = [], [], [], []
    started = time.process_time()
    for m in range(machines):
        found = posterior(prover, readings, read[:, m])
        covered.append(
            [
                _covers(found, total[m], None),
                *(_covers(found, part[i, m], parts) for i, parts in enumerate(groups.values())),
            ]
        )
        ensemble = found.ensemble
        off.append(ensemble.weights @ ensemble.old_share - total[m])
        final.append(found.is_final)
        rounds.append(found.rounds)
    return Judged(
        covered=np.array(covered),
        off=np.array(off),
        prior_sd=float(remaining(before).std()),
        seconds=(time.process_time() - started) / machines,
        final=float(np.mean(final)),
        rounds=float(np.mean(rounds)),
    )


def best_possible(case: Case) -> float:
    """Return the error of the best formula from readings to remainder, over the prior's spread.

    A polynomial of third degree in all readings, fitted by least squares to machines of the prior
    with a person's errors on their readings, judged on machines that it was not fitted to.
    """
    prover = prover_of(case.circuit, case.recipe, case.evidence, prior=50)
    readings = readings_of(case.evidence, case.circuit, case.recipe)
    shown, totals = [], []
    for part in range(0, FORMULA + FORMULA_JUDGED, 4000):
        run = prover.forward.run(prover.latents.drawn(seed=60_000 + part, count=4000))
        shown.append(predict(readings, run))
        totals.append(remaining(run))
    total = np.concatenate(totals)
    read = np.concatenate(shown, axis=1)
    read = as_read(readings, read + noise(readings, [97], total.size))
    spread = np.maximum(read.std(axis=1), 1e-12)[:, None]
    x = (read - read.mean(axis=1)[:, None]) / spread
    terms = np.array(
        [
            np.prod(x[list(which)], axis=0)
            for degree in range(4)
            for which in combinations_with_replacement(range(len(x)), degree)
        ]
    )
    held = terms[:, :FORMULA] @ terms[:, :FORMULA].T + 1e-6 * FORMULA * np.eye(len(terms))
    weights = np.linalg.solve(held, terms[:, :FORMULA] @ total[:FORMULA])
    off = total[FORMULA:] - weights @ terms[:, FORMULA:]
    return float(np.sqrt((off**2).mean()) / total.std())


def posterior(prover: Prover, readings: tuple[Reading, ...], read: np.ndarray) -> Posterior:
    """Return the posterior of one machine."""
    return prover.posterior(
        [replace(r, value=float(v)) for r, v in zip(readings, read, strict=True)]
    )


def _covers(found: Posterior, truth: float, parts: tuple[str, ...] | None) -> bool:
    """Tell whether the 90 % interval of a figure holds its truth."""
    ensemble = found.ensemble
    values = ensemble.old_share if parts is None else share_of(ensemble.shown, parts)[0]
    low, high = ensemble.quantiles(values, (0.05, 0.95))
    return bool(low <= truth <= high)


def nested(
    remainder: np.ndarray, shown: np.ndarray, u: float, random: np.random.Generator
) -> float:
    """Return the information of a reading by nested Monte Carlo: no Gaussian is assumed.

    Outer: a machine shows a reading. Inner: every machine is weighed by it, and the entropy of the
    remainder falls from that of a histogram of equal shares to that of the weighed one.
    """
    bins = np.digitize(remainder, np.quantile(remainder, np.linspace(0, 1, BINS + 1)[1:-1]))
    marks = np.eye(BINS)[bins]
    start = _entropy(marks.mean(axis=0), float(remainder.size))
    outer = random.integers(0, remainder.size, 400)
    read = shown[outer] + u * random.standard_normal(outer.size)
    weights = np.exp(-0.5 * ((read[:, None] - shown[None, :]) / u) ** 2)
    # The machine that showed the reading does not weigh itself: else noise reads as information.
    weights[np.arange(outer.size), outer] = 0.0
    weights /= weights.sum(axis=1, keepdims=True)
    worth = 1.0 / (weights**2).sum(axis=1)
    return start - float(
        np.mean([_entropy(w @ marks, n) for w, n in zip(weights, worth, strict=True)])
    )


def _entropy(p: np.ndarray, draws: float) -> float:
    """Return the entropy of shares [nat], put right for few draws (Miller and Madow)."""
    some = p[p > 0.0]
    return float((some.size - 1) / (2.0 * draws) - (some * np.log(some)).sum())


def ranking(machines: int, seed: int) -> tuple[int, int, float]:
    """Return in how many of how many pairs the quick formula and nested Monte Carlo agree.

    Pairs count where nested Monte Carlo tells them apart by more than its own noise. The third
    figure is the time of one ranking [s].
    """
    case = four_corners("few")
    prover = prover_of(case.circuit, case.recipe, case.evidence, answer=1200)
    readings = readings_of(case.evidence, case.circuit, case.recipe)
    shown = [predict(readings, truth) for truth in true_machines(prover, seed, machines)]
    read = np.concatenate(shown, axis=1) + noise(readings, [seed, 1], machines)
    read = as_read(readings, read)
    random = np.random.default_rng(seed)
    agree = counted = 0
    spent = []
    for m in range(machines):
        found = posterior(prover, readings, read[:, m])
        ahead = outlook(prover.forward, case.recipe, found.ensemble, machines=1000)
        started = time.perf_counter()
        ahead.ranked()
        spent.append(time.perf_counter() - started)
        quick = [
            information(ahead.remainder, c.shown, ahead.weights, c.u) for c in ahead.candidates
        ]
        slow = np.array(
            [
                [nested(ahead.remainder, c.shown, c.u, random) for _ in range(3)]
                for c in ahead.candidates
            ]
        )
        middle, wobble = slow.mean(axis=1), slow.std(axis=1).max()
        for i in range(len(quick)):
            for j in range(i):
                if abs(middle[i] - middle[j]) > max(2.0 * wobble, 0.015):
                    counted += 1
                    agree += (quick[i] > quick[j]) == (middle[i] > middle[j])
    return agree, counted, float(np.median(spent))


def model_errors() -> None:
    """Print what the emulator misses over the prior, and what the verdict's own runs miss."""
    case = four_corners("all")
    prover = prover_of(case.circuit, case.recipe, case.evidence)
    readings = readings_of(case.evidence, case.circuit, case.recipe)
    surface = fit(prover.latents, prover.normals, predict(readings, prover.shown))
    u = 100.0 * np.sqrt(np.diag(surface.error))
    fresh = np.asarray(ndtri(prover.latents.drawn(seed=99, count=4000)))
    started = time.process_time()
    surface(fresh)
    per_run = (time.process_time() - started) / 4000
    print(f"\nemulator: {per_run * 1e6:.1f} us a machine, goal <= 10; ", end="")
    print(f"misses {u.min():.2f} to {u.max():.2f} points, reading by reading")
    squares = []
    for one in (case, *built_in()):
        prover = prover_of(one.circuit, one.recipe, one.evidence, prior=50)
        readings = readings_of(one.evidence, one.circuit, one.recipe)
        samples = [i for i, r in enumerate(readings) if r.kind == "sample"]
        off = 100.0 * cut_error(prover, readings, 100)[samples]
        squares += [*(off**2)]
        print(f"cut into cells and steps, {one.name}: {off.min():.2f} to {off.max():.2f} points")
    print(
        f"root-mean-square over all these samples: {np.sqrt(np.mean(squares)):.2f} points, ", end=""
    )
    print(f"taken as {100.0 * MIXING_U:.2f}")


def four_corner_rows(kind: str, strange: str, seeds: tuple[int, ...], machines: int) -> None:
    """Print the rows of the four corners for one kind of evidence."""
    case = four_corners(kind)
    how = {
        "": "",
        "otherwise": ", mixes otherwise",
        "dead": ", and a reservoir beyond the prior",
    }
    print(f"\n{case.name}{how[strange]}: {machines} machines a seed")
    found = [judged(case, seed, machines, strange=strange) for seed in seeds]
    pooled = [float(one.covered.mean()) for one in found]
    _row("coverage of 90 % intervals, pooled", pooled, "" if strange else ".87-.93")
    covered = np.concatenate([one.covered for one in found])
    error = np.sqrt(0.09 / len(covered))
    names = ["total", *(name for name, parts in groups_of(case.circuit).items() if parts)]
    for name, share in zip(names, covered.mean(axis=0), strict=True):
        goal = ".84-.96" if not strange else ""
        if strange == "otherwise" and name == "total":
            goal = ">= .85"
        print(f"  coverage of {name:<32} {share:.3f} +- {error:.3f}   goal {goal}")
    goal = "" if strange else {"few": "<= .75", "all": "<= .28", "unnoted": ""}[kind]
    _row("RMSE of the total / prior sd", [one.ratio for one in found], goal)
    if not strange:
        print(f"  {'the same, best possible':<44} {best_possible(case):.3f}")
    _row("answers that are final", [one.final for one in found], "")
    _row("seconds of processor time, warm", [one.seconds for one in found], "<= 1")
    _row("rounds", [one.rounds for one in found], "")


def built_in_rows(seeds: tuple[int, ...], machines: int) -> None:
    """Print a row for each built-in circuit with all that can be read on it."""
    print(
        f"\nbuilt-in circuits as they are, all readings: {machines} machines a seed, {len(seeds)} ",
        end="",
    )
    print("seeds\n  circuit            pooled  total   worst part  RMSE   best possible  seconds")
    everything = []
    for case in built_in():
        found = [judged(case, seed, machines) for seed in seeds]
        covered = np.concatenate([one.covered for one in found])
        everything.append(covered)
        off = np.concatenate([one.off for one in found])
        names = ["total", *(name for name, parts in groups_of(case.circuit).items() if parts)]
        share = covered.mean(axis=0)
        worst = int(np.argmax(np.abs(share[1:] - 0.9))) + 1
        ratio = np.sqrt((off**2).mean()) / found[0].prior_sd
        print(
            f"  {case.name:<18} {covered.mean():.3f}   {share[0]:.3f}   {share[worst]:.3f} "
            f"{names[worst]:<16} {ratio:.3f}  {best_possible(case):.3f}   "
            f"{np.mean([one.seconds for one in found]):.2f}"
        )
    total = np.concatenate([c[:, 0] for c in everything]).mean()
    pooled = np.mean([c.mean() for c in everything])
    print(
        f"  all six: pooled {pooled:.3f}, goal .87-.93; total {total:.3f}, goal .84-.96; ", end=""
    )
    print("seconds: goal <= 2")


def main() -> None:
    """Print the table."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--machines", type=int, default=12)
    reader.add_argument("--seeds", type=int, default=1)
    reader.add_argument("--explore", type=int, help="another seed instead, to look for causes")
    reader.add_argument(
        "--only", choices=("few", "all", "unnoted", "strange", "built-in", "ranking", "errors")
    )
    asked = reader.parse_args()
    seeds = (asked.explore,) if asked.explore else SEEDS[: asked.seeds]
    rows = [(kind, "") for kind in ("few", "all", "unnoted")]
    for kind, strange in (*rows, ("few", "otherwise"), ("few", "dead")):
        if asked.only in (None, "strange" if strange else kind):
            count = max(asked.machines * 2 // 5, 8) if strange else asked.machines
            four_corner_rows(kind, strange, seeds, count)
    if asked.only in (None, "built-in"):
        built_in_rows(seeds, max(asked.machines // 4, 8))
    if asked.only in (None, "ranking"):
        agree, counted, seconds = ranking(max(asked.machines // 20, 2), seeds[0])
        print(f"\nnext step: quick and nested agree in {agree} of {counted} pairs", end="")
        print(f" ({agree / counted:.3f}, goal >= .95); {1e3 * seconds:.2f} ms, goal <= 5")
    if asked.only in (None, "errors"):
        model_errors()


def _row(what: str, values: list[float], goal: str) -> None:
    """Print a figure of every seed, their mean and its standard error."""
    error = np.std(values, ddof=1) / np.sqrt(len(values)) if len(values) > 1 else float("nan")
    shown = " ".join(f"{value:.3f}" for value in values)
    print(f"  {what:<44} {shown}   mean {np.mean(values):.3f} +- {error:.3f}   goal {goal}")


if __name__ == "__main__":
    main()
