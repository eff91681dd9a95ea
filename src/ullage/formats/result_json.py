"""Writes the answer of a run as a table, ready for JSON: litres, percent, seconds.

An ensemble shows the run of the best values and, beside it, quantiles over its members. Members
that stopped early count up to where they stopped; where no member arrived there is null.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.transport.result import Note, PartResult, Run, StepResult

Floats = NDArray[np.float64]

FORMAT = "ullage-result/1"
_QUANTILES = {"p05": 0.05, "p50": 0.50, "p95": 0.95}
_LITRE, _PERCENT, _AS_IS = 1e3, 1e2, 1.0
# What of a step is shown, and the factor from SI to what is shown.
_STEP_FIGURES = {
    "poured_l": ("poured_m3", _LITRE),
    "waste_l": ("waste_m3", _LITRE),
    "waste_old_l": ("waste_old_m3", _LITRE),
    "spilled_l": ("spilled_m3", _LITRE),
    "remaining_pct": ("remaining_share", _PERCENT),
    "lowest_l": ("lowest_m3", _LITRE),
    "duration_s": ("duration_s", _AS_IS),
}


def run_to_json(run: Run, circuit: Circuit) -> dict[str, object]:
    """Return the answer of a run; parts come in the order in which fluid meets them."""
    shown = run if run.best is None else run.best
    order = _order(circuit)
    found: dict[str, object] = {
        "format": FORMAT,
        "members": run.members,
        "seed": run.seed,
        "steps": [_step(step) for step in shown.steps],
        "remaining_pct": _first(shown.remaining_share, _PERCENT),
        "parts": {name: _part(shown.parts[name]) for name in _ordered(shown.parts, order)},
        "outflow": [
            {
                "step": outflow.step,
                "waste_l": _number(float(waste_m3) * _LITRE),
                "old_pct": _number(float(old_share[0]) * _PERCENT),
            }
            for outflow in shown.outflow
            for waste_m3, old_share in zip(outflow.waste_m3, outflow.old_share, strict=True)
            if np.isfinite(old_share[0])
        ],
        "balance": {
            "old_before_l": _number(shown.balance.old_before_m3 * _LITRE),
            "old_out_l": _number(shown.balance.old_out_m3 * _LITRE),
            "old_left_l": _number(shown.balance.old_left_m3 * _LITRE),
            "old_error_l": shown.balance.old_error_m3 * _LITRE,
            "volume_error_l": shown.balance.volume_error_m3 * _LITRE,
            "poured_l": _number(shown.balance.poured_m3 * _LITRE),
            "waste_l": _number(shown.balance.waste_m3 * _LITRE),
            "spilled_l": _number(shown.balance.spilled_m3 * _LITRE),
        },
        "bracket": None
        if run.bracket is None
        else {
            "plug_pct": _number(run.bracket.plug_share * _PERCENT),
            "laminar_pct": _number(run.bracket.laminar_share * _PERCENT),
        },
        "stopped": None
        if run.stop is None
        else {
            "step": run.stop.step,
            "litres": _number(run.stop.waste_m3 * _LITRE),
            "poured_l": _number(run.stop.poured_m3 * _LITRE),
            "why": run.stop.why,
        },
    }
    if run.members > 1:
        found["stopped_members"] = run.stopped_members
        found["quantiles"] = {
            "remaining_pct": _quantiles(run.remaining_share, _PERCENT),
            "parts": {
                name: {
                    "fluid_l": _quantiles(run.parts[name].fluid_m3, _LITRE),
                    "old_l": _quantiles(run.parts[name].old_m3, _LITRE),
                }
                for name in _ordered(run.parts, order)
            },
            "steps": [
                {
                    "step": step.index + 1,
                    **{
                        key: _quantiles(getattr(step, field), factor)
                        for key, (field, factor) in _STEP_FIGURES.items()
                    },
                }
                for step in run.steps
            ],
        }
    return found


def _order(circuit: Circuit) -> list[str]:
    """Return the names of all parts, the reservoir first and the legs last."""
    legs = [f"{leg.id}.{half}" for leg in circuit.legs for half in ("line", "chamber")]
    return ["reservoir", *circuit.flow_order, *legs]


def _ordered(parts: Mapping[str, PartResult], order: list[str]) -> list[str]:
    """Return the names of a run's parts in the circuit's order, strangers last."""
    known = [name for name in order if name in parts]
    return known + [name for name in parts if name not in set(order)]


def _step(step: StepResult) -> dict[str, object]:
    """Return what one step did, at the best values."""
    return {
        "step": step.index + 1,
        "do": step.do,
        **{
            key: _first(getattr(step, field), factor)
            for key, (field, factor) in _STEP_FIGURES.items()
        },
        "cycles": dict(step.cycles),
        "notes": [note_to_json(note) for note in step.notes],
    }


def note_to_json(note: Note) -> dict[str, object]:
    """Return a note as a table."""
    return {"code": note.code, "text": note.text, "part": note.part}


def _part(part: PartResult) -> dict[str, object]:
    """Return what one part holds."""
    return {"fluid_l": _first(part.fluid_m3, _LITRE), "old_l": _first(part.old_m3, _LITRE)}


def _first(values: Floats, factor: float) -> float | None:
    """Return the value of the first member."""
    return _number(float(values[0]) * factor)


def _number(value: float) -> float | None:
    """Return a number without the dust of unit conversion, null for what is not there."""
    return float(f"{value:.12g}") if np.isfinite(value) else None


def _quantiles(values: Floats, factor: float) -> dict[str, float | None]:
    """Return the quantiles over the members that arrived."""
    arrived = values[np.isfinite(values)]
    if not arrived.size:
        return dict.fromkeys(_QUANTILES)
    found = np.quantile(arrived, list(_QUANTILES.values()))
    return {
        name: _number(float(value) * factor) for name, value in zip(_QUANTILES, found, strict=True)
    }
