"""What holds for every reading, whatever it shows?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.unit.evidence.cases import SAMPLES, circuit, evidence, prover, recipe
from ullage.evidence.likelihood import readings_of
from ullage.evidence.next_step import information
from ullage.evidence.reading import Reading, covariance
from ullage.evidence.update import predict

bounded = settings(
    derandomize=True,
    max_examples=60,
    deadline=None,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
SHARES = st.floats(0.0, 1.0)
UNCERTAINTIES = st.floats(0.005, 0.3)


def samples() -> tuple[Reading, ...]:
    """Return two readings of the small machine."""
    return readings_of(evidence(SAMPLES), circuit(), recipe())


@pytest.mark.slow
def test_readings_widen_nothing_on_average() -> None:
    """Averaged over what the prior itself would show, the spread of the remainder does not grow."""
    mine = prover()
    readings = samples()
    machines = mine.latents.drawn(seed=31, count=12)
    noise = np.random.default_rng(32).standard_normal((len(readings), 12))
    read = predict(readings, mine.forward.run(machines))
    read += np.linalg.cholesky(covariance(readings)) @ noise
    before = float(mine.prior(readings).old_share.var())
    after = []
    for column in read.T:
        values = [replace(r, value=float(v)) for r, v in zip(readings, column, strict=True)]
        found = mine.posterior(values).ensemble
        middle = found.weights @ found.old_share
        after.append(float(found.weights @ (found.old_share - middle) ** 2))

    assert np.mean(after) < before


@bounded
@given(u=st.lists(UNCERTAINTIES, min_size=2, max_size=6), name=st.sampled_from(["a", "b", None]))
def test_errors_in_common_are_errors_still(u: list[float], name: str | None) -> None:
    """Whatever shares what, the covariance of the errors is one, and no reading gets surer."""
    one = samples()[0]
    readings = [
        replace(one, u=value, shares=name if i % 2 else "a", u_shade=0.1 * (-1.0) ** i * value)
        for i, value in enumerate(u)
    ]

    found = covariance(readings)

    assert np.linalg.eigvalsh(found).min() > 0.0
    assert np.all(np.diag(found) >= np.square(u) * (1.0 - 1e-12))


@bounded
@given(
    shown=st.lists(SHARES, min_size=4, max_size=30),
    seed=st.integers(0, 99),
    u=UNCERTAINTIES,
)
def test_a_sharper_reading_tells_no_less(shown: list[float], seed: int, u: float) -> None:
    """Information is never negative and never falls as the reading gets sharper."""
    machines = np.array(shown)
    left = np.random.default_rng(seed).random(machines.size)
    weights = np.full(machines.size, 1.0 / machines.size)

    blunt, sharp = (information(left, machines, weights, u * f) for f in (2.0, 1.0))

    assert 0.0 <= blunt <= sharp + 1e-15


@bounded
@given(order=st.permutations(range(4)))
def test_the_order_of_readings_does_not_matter(order: list[int]) -> None:
    """Errors belong to readings, not to places in a file."""
    readings = [*samples(), *samples()]
    for i in (2, 3):
        readings[i] = replace(readings[i], shares=None)

    found = covariance([readings[i] for i in order])

    assert found == pytest.approx(covariance(readings)[np.ix_(order, order)])
