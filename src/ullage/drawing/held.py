"""What does each part hold, and how is that told in figures?

The bridge from a run (or from a circuit before any run) to the words of a drawing: share, litres
and band of each part, of everything inside, and of what went to waste."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3
from ullage.drawing import figures
from ullage.drawing.figures import Spread, spread
from ullage.transport.result import Run


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What a part holds: its volume, and the old share of it (None where nothing is known)."""

    fluid_m3: float
    old: Spread | None

    def rows(self) -> tuple[str, ...]:
        """Return share, litres and band, as far as they are known and say something new."""
        volume = figures.litres(self.fluid_m3)
        if self.old is None:
            return (volume,)
        share, band = figures.percent(self.old.middle), figures.percent_band(self.old)
        return (share, volume) if band == share else (share, volume, band)

    def told(self) -> str:
        """Return everything in one row."""
        return " · ".join(self.rows())


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a whole circuit holds: its parts, everything together, and what left it as waste."""

    parts: dict[str, Held]
    fluid_m3: float
    old_m3: float
    remaining: Spread | None
    waste_m3: float
    waste_old_share: float | None

    def sentence(self) -> str:
        """Return what there is in all, and how sure that is."""
        if self.remaining is None:
            return f"{figures.litres(self.fluid_m3)} of fluid in all."
        said = (
            f"{figures.percent(self.remaining.middle)} of the fluid inside is still old: "
            f"{figures.litres(self.old_m3)} of {figures.litres(self.fluid_m3)}."
        )
        if not self.remaining.is_one:
            said += f" 90 of 100 simulated machines have {figures.percent_band(self.remaining)}."
        return said


def contents(circuit: Circuit, run: Run | None) -> Contents:
    """Return what a circuit holds after a run or, without one, when a job starts."""
    if run is None:
        parts = {
            part: Held(fluid_m3=float(volume[0]), old=None)
            for part, volume in content_m3(circuit, Numbers()).items()
        }
        return Contents(
            parts=parts,
            fluid_m3=sum(held.fluid_m3 for held in parts.values()),
            old_m3=0.0,
            remaining=None,
            waste_m3=0.0,
            waste_old_share=None,
        )
    fluid = np.sum([part.fluid_m3 for part in run.parts.values()], axis=0)
    old = np.sum([part.old_m3 for part in run.parts.values()], axis=0)
    waste = sum(figures.middle(step.waste_m3) for step in run.steps)
    waste_old = sum(figures.middle(step.waste_old_m3) for step in run.steps)
    return Contents(
        parts={name: _held(part.fluid_m3, part.old_m3) for name, part in run.parts.items()},
        fluid_m3=figures.middle(fluid),
        old_m3=figures.middle(old),
        remaining=spread(run.remaining_share),
        waste_m3=waste,
        waste_old_share=waste_old / waste if waste > 0.0 else None,
    )


def _held(fluid_m3: figures.Floats, old_m3: figures.Floats) -> Held:
    """Return what one part holds over all members."""
    if not np.any(fluid_m3 > 0.0):
        return Held(fluid_m3=0.0, old=None)
    share = np.divide(old_m3, fluid_m3, out=np.zeros_like(old_m3), where=fluid_m3 > 0.0)
    return Held(fluid_m3=figures.middle(fluid_m3), old=spread(share))
