"""The machinery of the posterior: emulator, sampler, and the measure of trust in weights."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from tests.unit.evidence.cases import SAMPLES, circuit, evidence, prover, recipe
from ullage.evidence import emulator, sampler
from ullage.evidence.likelihood import readings_of
from ullage.evidence.update import predict


def test_surfaces_follow_a_polynomial_exactly() -> None:
    """What has the form of the surfaces is recovered, on machines not seen before."""
    latents = prover().latents
    normals = ndtri(latents.drawn(seed=4, count=900))
    fresh = ndtri(latents.drawn(seed=5, count=50))

    def truth(z: np.ndarray) -> np.ndarray:
        x = emulator.Scale(latents)(z).x
        return np.array([3.0 + x[0] - 0.5 * x[1] ** 2, 2.0 * x[2] + x[2] * x[3]])

    found = emulator.fit(latents, normals, truth(normals))

    assert found(fresh) == pytest.approx(truth(fresh), abs=0.02)
    assert np.sqrt(np.diag(found.error)) == pytest.approx([0.0, 0.0], abs=0.02)


def test_inputs_are_the_numbers_that_the_solver_gets() -> None:
    """All numbers at once are what each number says by itself, far out in the tails too."""
    latents = prover().latents
    normals = np.linspace(-4.0, 4.0, 41) * np.ones((len(latents.names), 1))
    uniforms = ndtr(normals)
    found = emulator.Scale(latents)(normals)

    for row, number in zip(found.x, latents.unknowns, strict=True):
        mean = (number.low + number.best + number.high) / 3.0
        assert mean + row * number.standard_uncertainty == pytest.approx(
            number.at_quantile(uniforms[0]), rel=1e-9, abs=1e-15
        )
    assert np.array_equal(found.classes, latents.classes(uniforms))


def test_surfaces_know_how_far_off_they_are() -> None:
    """The error that a fit states is the error on machines that it never saw."""
    mine = prover()
    readings = readings_of(evidence(SAMPLES), circuit(), recipe())
    found = emulator.fit(mine.latents, mine.normals, predict(readings, mine.shown))
    fresh = mine.latents.drawn(seed=9, count=300)

    missed = predict(readings, mine.forward.run(fresh)) - found(ndtri(fresh))

    assert missed.std(axis=1) == pytest.approx(np.sqrt(np.diag(found.error)), rel=0.35)


@pytest.mark.parametrize("shape", [0.2, 0.6, 1.2])
def test_the_tail_of_weights_is_measured(shape: float) -> None:
    """Weights drawn from a Pareto tail of a known shape show about that shape."""
    u = np.random.default_rng(6).random(20_000)
    weights = (u**-shape - 1.0) / shape

    assert sampler.pareto_k(np.log(weights)) == pytest.approx(shape, abs=0.12)


def test_equal_weights_are_good_and_a_single_one_is_not() -> None:
    """The two ends of the measure."""
    alone = np.full(500, -50.0)
    alone[:8] = -np.arange(8.0)

    assert sampler.pareto_k(np.zeros(500)) < 0.0
    assert sampler.effective(alone) < 2.5
    assert sampler.pareto_k(alone) > sampler.K_HAT_MOST


def test_two_bumps_are_both_found() -> None:
    """A posterior in two pieces keeps both in proportion: particles do not all run to one."""

    def log(x: np.ndarray) -> np.ndarray:
        return -0.5 * ((x[0] ** 2 - 1.0) / 0.1) ** 2

    start = np.random.default_rng(8).standard_normal((3, 2000))

    found = sampler.sample(log, start=start, seed=1).normals[0]

    assert np.abs(found) == pytest.approx(1.0, abs=0.3)
    assert 0.4 < (found > 0.0).mean() < 0.6


def test_the_same_seed_gives_the_same_machines() -> None:
    """Asking twice gives one answer."""
    readings = readings_of(evidence(SAMPLES), circuit(), recipe())

    one, two = (prover().posterior(readings).ensemble.normals for _ in range(2))

    assert np.array_equal(one, two)


def test_weights_without_a_tail_are_not_trusted_and_not_divided_by() -> None:
    """One machine that outweighs all others by far leaves nothing to measure a shape on."""
    weights = -np.geomspace(1e-3, 1e300, 600)[::-1]

    with np.errstate(divide="raise", invalid="raise"):
        assert sampler.pareto_k(weights) > sampler.K_HAT_MOST
