"""What to measure or do next, ranked by what it tells for its minutes and its fluid.

Candidates are tried on the machines that fit the readings so far: what each would show there, next
to what is left there, gives the information that it is expected to bring. Costs in minutes are
judgement; fluid counts like the minutes that it takes to fetch, open and pour it. Leaves out what a
plan would do with the answer (``planning``)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ullage.evidence.candidates import (
    Candidate,
    after_bleeding,
    after_running,
    bleeds_of,
    now,
    running_steps,
)
from ullage.evidence.forward import Forward
from ullage.evidence.update import Ensemble, remaining
from ullage.evidence.waiting import ALONE, Waiting
from ullage.transport.recipe import Recipe, Step

Floats = NDArray[np.float64]

#: A litre of new fluid weighs as much as so many minutes.
LITRE_MINUTES = 3.0
#: New fluid comes in containers of this size where nobody says otherwise.
CONTAINER_M3 = 1e-3
_MACHINES = 200
#: What somebody who waits is told while next steps are tried.
AHEAD = "trying what could be done next"


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """A candidate with its worth: ``gain`` in nats about the remainder, minutes, fluid, containers.

    ``lowers`` is by how much the remainder would fall, 0 for a reading alone."""

    code: str
    do: str
    gain: float
    minutes: float
    litres_m3: float
    containers: int
    part: str | None = None
    lowers: float = 0.0

    @property
    def worth(self) -> float:
        """Return the gain per minute, fluid counted as minutes."""
        return self.gain / (self.minutes + LITRE_MINUTES * self.litres_m3 * 1e3)


def information(remainder: Floats, shown: Floats, weights: Floats, u: float) -> float:
    """Return the information that a reading is expected to bring about the remainder.

    Parameters
    ----------
    remainder, shown : (machines,)
        What is left, and what would be read, on each machine. [any]
    weights : (machines,)
        How much each counts, adding up to 1. [-]
    u : scalar
        Standard uncertainty of the reading. [any]

    Returns
    -------
    gain : scalar
        Expected fall of the entropy of the remainder, 0 or more. [nat]

    Validity
    --------
    Remainder and reading close to a joint Gaussian.

    Source
    ------
    Mutual information of two Gaussians, -1/2 ln(1 - rho^2); derived.

    Examples
    --------
    >>> x = np.array([-1.0, 0.0, 1.0])
    >>> information(x, x, np.full(3, 1 / 3), np.sqrt(2 / 3))
    0.34657
    """
    q = remainder - weights @ remainder
    h = shown - weights @ shown
    var_q, var_h, cov = float(weights @ q**2), float(weights @ h**2), float(weights @ (q * h))
    if var_q <= 0.0 or var_h <= 0.0:
        return 0.0
    rho2 = min(cov**2 / (var_q * (var_h + u**2)), 1.0 - 1e-12)
    return -0.5 * math.log1p(-rho2)


def ranked(
    candidates: Sequence[Candidate],
    remainder: Floats,
    weights: Floats,
    *,
    container_m3: float = CONTAINER_M3,
) -> tuple[NextStep, ...]:
    """Return what could be done, the most worth first.

    Parameters
    ----------
    candidates : values
        What could be done.
    remainder, weights : (machines,)
        What is left on each machine, and how much each counts. [-]
    container_m3 : scalar
        What one container of new fluid holds. [m3]

    Returns
    -------
    steps : NextStep
        By gain per minute, litres counted as minutes.

    Source
    ------
    ``information``.
    """
    found = [
        NextStep(
            code=one.code,
            do=one.do,
            gain=information(remainder, one.shown, weights, one.u),
            minutes=one.minutes,
            litres_m3=one.litres_m3,
            containers=math.ceil(one.litres_m3 / container_m3 - 1e-9),
            part=one.part,
            lowers=0.0 if one.lowers is None else float(weights @ one.lowers),
        )
        for one in candidates
    ]
    return tuple(sorted(found, key=lambda step: -step.worth))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Candidates on machines that fit, with what is left on each of these."""

    candidates: tuple[Candidate, ...]
    remainder: Floats
    weights: Floats

    def ranked(self, *, container_m3: float = CONTAINER_M3) -> tuple[NextStep, ...]:
        """Return what could be done, the most worth first."""
        return ranked(self.candidates, self.remainder, self.weights, container_m3=container_m3)


def outlook(
    forward: Forward,
    recipe: Recipe,
    ensemble: Ensemble,
    *,
    taken: frozenset[str] = frozenset(),
    machines: int = _MACHINES,
    waiting: Waiting = ALONE,
) -> Outlook:
    """Return everything worth considering after a recipe, tried on machines that fit.

    ``taken`` names where samples of the machine as it stands were drawn already: "reservoir" or a
    leg.
    """
    circuit = forward.circuit
    marks = (np.arange(machines) + 0.5) / machines
    chosen = np.searchsorted(np.cumsum(ensemble.weights), marks).clip(0, len(ensemble.weights) - 1)
    uniforms = ndtr(ensemble.normals[:, chosen])
    running = running_steps(circuit, recipe)
    bleeds = bleeds_of(circuit, recipe)
    whole = longer(forward, running)
    shown = whole.run(uniforms, waiting=waiting, what=AHEAD)
    found = [*now(circuit, recipe, shown, taken), *after_running(shown, running)]
    if bleeds:
        bled = longer(forward, bleeds).run(uniforms, waiting=waiting, what=AHEAD)
        found += after_bleeding(bled, bleeds, forward.replay.job_steps)
    return Outlook(
        candidates=tuple(found),
        remainder=remaining(shown),
        weights=np.full(machines, 1.0 / machines),
    )


def longer(forward: Forward, further: tuple[Step, ...]) -> Forward:
    """Return the same circuit and recipe with further steps behind it."""
    if not further:
        return forward
    return Forward(forward.circuit, forward.replay.with_further(further), change=forward.change)
