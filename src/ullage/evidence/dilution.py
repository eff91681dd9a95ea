"""What came out of hiding: two samples of the reservoir, and nothing but running in between.

A hand sum beside the verdict, so that a person can check it: the rise of the old share tells a
lower bound of what was hidden. Leaves out where it was hidden.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from ullage.errors import Contradiction, OutOfRange
from ullage.evidence.observation import Evidence, Place, Sample
from ullage.fluids.reservoir import HiddenVolume, dilution_check
from ullage.transport.recipe import (
    Charge,
    Circulate,
    Extend,
    Recipe,
    Release,
    Retract,
    Stand,
)

_QUIET = (Circulate, Stand, Extend, Retract, Charge, Release)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dilution:
    """A dilution check between two samples of the reservoir, and one sentence about it.

    ``found`` is None where the sum cannot be done; ``why`` then says so."""

    before: Sample
    after: Sample
    found: HiddenVolume | None
    why: str

    @property
    def sentence(self) -> str:
        """Return what it says, in one sentence."""
        if self.found is None:
            return f"The dilution check cannot be done: {self.why}"
        hidden, u, limit = (
            1e3 * v for v in (self.found.hidden_m3, self.found.u_m3, self.found.limit_m3)
        )
        if hidden < limit:
            return (
                "Running the circuit brought nothing out that the samples can show; less than "
                f"{limit:.2g} L would not be seen."
            )
        return (
            f"Running the circuit brought at least {hidden:.2g} L of old fluid out of hiding, give "
            f"or take {2.0 * u:.2g} L; what still hides does not show."
        )


def dilution_checks(evidence: Evidence, recipe: Recipe, *, known_m3: float) -> tuple[Dilution, ...]:
    """Return the dilution checks that the samples allow.

    Parameters
    ----------
    evidence : value
        What was read.
    recipe : value
        What was done between the samples.
    known_m3 : scalar
        Fluid that the first sample stood for: reservoir and loop. [m3]

    Returns
    -------
    checks : Dilution
        One for each pair of samples in a row with nothing poured or taken in between.

    Source
    ------
    ``fluids.reservoir.dilution_check``.
    """
    samples = sorted(
        (s for s in evidence.samples if s.place is Place.RESERVOIR and s.at_step_m3 is None),
        key=lambda s: s.after_step,
    )
    found: list[Dilution] = []
    for before, after in itertools.pairwise(samples):
        between = recipe.steps[before.after_step : after.after_step]
        if not any(isinstance(step, Circulate) for step in between):
            continue
        if all(isinstance(step, _QUIET) for step in between):
            found.append(_check(before, after, known_m3))
    return tuple(found)


def _check(before: Sample, after: Sample, known_m3: float) -> Dilution:
    """Return one check."""
    try:
        hidden = dilution_check(
            known_m3=known_m3,
            before_vfrac=before.old_vfrac,
            after_vfrac=after.old_vfrac,
            u_before_vfrac=before.u_vfrac,
            u_after_vfrac=after.u_vfrac,
        )
    except (Contradiction, OutOfRange) as refusal:
        return Dilution(before=before, after=after, found=None, why=f"{refusal}.")
    return Dilution(before=before, after=after, found=hidden, why="")
