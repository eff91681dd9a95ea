"""Our posterior beside the exact one of a linear model, and beside one of another sampler."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import emcee
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from tests.outside.rows import OutsideRow
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Leg, Line, Node, Path, Pump, Reservoir
from ullage.circuit.uncertain import Uncertain, exact
from ullage.evidence import sampler
from ullage.evidence.likelihood import readings_of
from ullage.evidence.observation import Evidence, Place, Sample
from ullage.evidence.reading import covariance
from ullage.evidence.update import Gaussian, predict, remaining
from ullage.evidence.verdict import prover_of
from ullage.fluids.liquid import Liquid
from ullage.transport.recipe import Circulate, Exchange, Exercise, Recipe

Floats = NDArray[np.float64]

_OIL = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0, class_="HV")


def rows() -> list[OutsideRow]:
    """Return all comparisons."""
    return [*_linear_rows(), *_walked_rows()]


def _linear_rows() -> list[OutsideRow]:
    """Compare with the closed form: six unknowns, four readings that share an error."""
    random = np.random.default_rng(11)
    slope = random.standard_normal((4, 6))
    cov = 0.05 * np.eye(4) + 0.04
    value = slope @ random.standard_normal(6) + 0.2 * random.standard_normal(4)
    precision = np.eye(6) + slope.T @ np.linalg.solve(cov, slope)
    spread = np.linalg.inv(precision)
    mean = spread @ slope.T @ np.linalg.solve(cov, value)
    whole = slope @ slope.T + cov
    _, size = np.linalg.slogdet(2.0 * math.pi * whole)
    evidence = -0.5 * (value @ np.linalg.solve(whole, value) + size)
    rule = Gaussian.of(value, cov)
    start = np.random.default_rng(12).standard_normal((6, 4000))
    ours = sampler.sample(lambda x: rule.log(slope @ x), start=start, seed=3)
    found = []
    for i in range(6):
        sd = math.sqrt(spread[i, i])
        for what, mine, theirs in (
            ("mean", float(ours.normals[i].mean()), float(mean[i])),
            ("spread", float(ours.normals[i].std()), sd),
        ):
            found.append(_row("linear model", f"{what} of unknown {i + 1}", mine, theirs, 0.1 * sd))
    found.append(_row("linear model", "log evidence", ours.log_evidence, float(evidence), 0.25))
    return found


def machine() -> Circuit:
    """Return a circuit of one leg with few unknowns."""

    def wide(best: float) -> Uncertain:
        return Uncertain(best=best, low=0.6 * best, high=1.4 * best)

    return Circuit(
        name="one leg",
        reservoir=Reservoir(
            full_m3=exact(2e-3),
            minimum_m3=exact(5e-4),
            brim_m3=exact(3e-3),
            heel_m3=exact(1e-4),
            start_m3=exact(2e-3),
        ),
        pump=Pump(displacement_m3_rev=exact(12e-6), idle_rev_s=12.5),
        fluid=_OIL,
        new_fluid=_OIL,
        lines=(Line(id="supply", volume_m3=wide(4e-4)),),
        nodes=(Node(id="block", volume_m3=wide(8e-4)),),
        paths=(Path(id="main", through=("supply", "block"), divert_after="block"),),
        legs=(
            Leg(
                id="leg",
                at="block",
                returns_to="block",
                line=Line(id="leg.line", volume_m3=exact(1.2e-4)),
                stroke_m3=exact(5e-4),
                dead_m3=wide(4e-4),
                stroke_use_share=Uncertain(best=0.5, low=0.05, high=1.0),
            ),
        ),
    )


def work() -> Recipe:
    """Return an exchange and a run with the leg exercised."""
    legs = Exercise(groups=("leg",), period_s=8.0)
    return Recipe(
        name="exchange and run",
        steps=(
            Exchange(litres_m3=3e-3, exercise=legs),
            Circulate(duration_s=32.0, exercise=legs),
        ),
    )


@cache
def _walked_rows() -> tuple[OutsideRow, ...]:
    """Compare with a walker that asks the solver for every step."""
    circuit, recipe = machine(), work()
    what = Evidence(
        samples=(
            Sample(place=Place.OUTFLOW, after_step=1, old_vfrac=0.14, u_vfrac=0.02, shares="a"),
            Sample(place=Place.RESERVOIR, after_step=2, old_vfrac=0.11, u_vfrac=0.02, shares="a"),
            Sample(
                place=Place.LEG, leg="leg", reference="leg", after_step=2, old_vfrac=0.35,
                u_vfrac=0.03,
            ),
        )
    )  # fmt: skip
    prover = prover_of(circuit, recipe, what, seed=5, answer=1500)
    readings = readings_of(what, circuit, recipe)
    # Take the middle of the prior where it is off, so that the problem is one of fitting.
    middle = prover.prior(readings).predicted.mean(axis=1)
    readings = tuple(
        replace(r, value=float(m + s))
        for r, m, s in zip(readings, middle, (0.03, -0.02, 0.15), strict=True)
    )
    ours = prover.posterior(readings).ensemble
    rule = Gaussian.of(np.array([r.value for r in readings]), covariance(readings))
    names = len(prover.latents.names)
    told: list[Floats] = []

    def log_probability(x: Floats) -> Floats:
        shown = prover.forward.run(ndtr(x.T))
        told.append(remaining(shown))
        return np.asarray(rule.log(predict(readings, shown)) - 0.5 * (x**2).sum(axis=1))

    random = np.random.RandomState(7)
    start = ours.normals.T[random.choice(ours.normals.shape[1], 40, replace=False)]
    walker = emcee.EnsembleSampler(
        40,
        names,
        log_probability,
        vectorize=True,
        moves=[(emcee.moves.DEMove(), 0.8), (emcee.moves.StretchMove(), 0.2)],
    )
    walker.random_state = random.get_state()
    walker.run_mcmc(start, 350, progress=False)
    chain = walker.get_chain(discard=60, flat=True, thin=4)
    theirs = remaining(prover.forward.run(ndtr(chain.T)))
    mine = ours.quantiles(ours.old_share)
    sd = float(theirs.std())
    found = [
        _row("one leg", f"{name} of the remainder", float(q), float(t), 0.25 * sd)
        for name, q, t in zip(
            ("5 %", "50 %", "95 %"), mine, np.quantile(theirs, (0.05, 0.5, 0.95)), strict=True
        )
    ]
    used = prover.latents.names.index("leg.use")
    found.append(
        _row(
            "one leg",
            "mean of the stroke in use, as a normal",
            float(ours.normals[used] @ ours.weights),
            float(chain[:, used].mean()),
            0.2,
        )
    )
    return tuple(found)


def _row(subject: str, quantity: str, ours: float, theirs: float, tolerance: float) -> OutsideRow:
    """Return one comparison of posteriors."""
    return OutsideRow(
        subject=f"posterior, {subject}",
        quantity=f"{quantity} [-]",
        ours=ours,
        theirs=theirs,
        tolerance=tolerance,
        source="emcee" if subject == "one leg" else "closed form",
        provenance="library" if subject == "one leg" else "derived",
        kind="code",
        reason="both are samples of some thousand draws: the errors of sampling",
    )


@pytest.mark.slow
def test_posteriors_agree() -> None:
    """Ours and theirs are the same posterior."""
    for row in rows():
        row.check()
