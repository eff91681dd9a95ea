"""Writes what a plan was judged by as tables, ready for JSON: fluid, filter, heat, level, due.

Units are those of people: degC, mm, litres, minutes, mm2/s. Infinite figures become null, because
JSON has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from ullage.planning.due import Due
from ullage.planning.filter_fit import FilterFit, Span
from ullage.planning.finding import Finding
from ullage.planning.fluid_fit import FluidFit
from ullage.planning.level_target import LevelTarget
from ullage.planning.trend import Next
from ullage.planning.warmth import Cooling, WarmUp
from ullage.units.caveat import Caveat
from ullage.units.convert import HOUR_S, MINUTE_S, ZERO_CELSIUS_K

_LITRE, _MM, _MM2_S, _KM_M, _DAY_S = 1e3, 1e3, 1e6, 1e3, 24.0 * HOUR_S


def fluid_to_json(fit: FluidFit) -> dict[str, object]:
    """Return whether the new fluid is right, and the mixtures on the way."""
    return {
        "verdict": fit.verdict.value,
        "findings": _findings(fit.findings),
        "assumed": list(fit.limits.assumed),
        "blends": [
            {
                "old_pct": _rounded(blend.old_vfrac * 100.0),
                "nu40_mm2_s": _rounded(blend.nu40_m2_s * _MM2_S),
                "nu_cold_mm2_s": _rounded(blend.nu_cold_m2_s * _MM2_S),
                "nu_hot_mm2_s": _rounded(blend.nu_hot_m2_s * _MM2_S),
            }
            for blend in fit.blends
        ],
        "caveats": _caveats(fit.caveats),
    }


def filter_to_json(fit: FilterFit) -> dict[str, object]:
    """Return whether a filter is right, and from which temperature on it filters."""
    return {
        "verdict": fit.verdict.value,
        "node": fit.node,
        "findings": _findings(fit.findings),
        "held_code": None
        if fit.successor is None
        else {"best": fit.successor.best.text, "worst": fit.successor.worst.text},
        "bypassed_below_degc": _span(fit.bypassed_below_k),
    }


def heat_to_json(
    warm: WarmUp, *, buys: Iterable[Finding] = (), exchange: Cooling | None = None
) -> dict[str, object]:
    """Return how long the warm-up takes, what it buys and how cold the exchange ends."""
    return {
        "minutes": _minutes(warm.time_s),
        "soonest_minutes": _minutes(warm.soonest_s),
        "latest_minutes": _minutes(warm.latest_s),
        "final_degc": _rounded(warm.final_k - ZERO_CELSIUS_K),
        "assumed": list(warm.lump.assumed),
        "buys": _findings(buys),
        "exchange_end_degc": None
        if exchange is None
        else _rounded(exchange.end_k - ZERO_CELSIUS_K),
        "exchange": [] if exchange is None else _findings(exchange.findings),
        "caveats": _caveats(warm.caveats),
    }


def level_to_json(target: LevelTarget) -> dict[str, object]:
    """Return where the level belongs, in millimetres from the full mark and in litres."""
    return {
        "litres": _rounded(target.volume_m3 * _LITRE),
        "mm": _scaled(target.height_m, _MM),
        "low_mm": _scaled(target.low_m, _MM),
        "high_mm": _scaled(target.high_m, _MM),
        "swell_l": _rounded(target.swell_m3 * _LITRE),
        "strokes_l": _rounded(target.strokes_m3 * _LITRE),
        "gas_l": _rounded(target.gas_m3 * _LITRE),
        "caveats": _caveats(target.caveats),
    }


def due_to_json(found: Due, *, then: Next | None = None) -> dict[str, object]:
    """Return whether the fluid is due, why, and when it is due again."""
    return {
        "verdict": found.answer.value,
        "reasons": list(found.reasons),
        "readings": [
            {
                "what": line.what,
                "value": _scaled(line.value, 1.0),
                "limit": _scaled(line.limit, 1.0),
                "unit": line.unit,
                "standing": line.standing.value,
                "text": line.text,
                "source": line.source,
            }
            for line in found.lines
        ],
        "next": None if then is None else _next(then),
        "caveats": _caveats(found.caveats),
    }


def _next(then: Next) -> dict[str, object]:
    """Return the next date as use of the new filling."""
    size, unit = {
        "distance": (_KM_M, "km"),
        "age": (_DAY_S, "days"),
        "running": (HOUR_S, "h"),
    }[then.what]
    return {
        "what": then.what,
        "value": _rounded(then.x / size),
        "unit": unit,
        "reason": then.reason,
        "source": then.source,
    }


def _findings(findings: Iterable[Finding]) -> list[dict[str, str]]:
    """Return findings with their weight and whose word they are."""
    return [
        {"code": f.code, "text": f.text, "weight": f.weight.value, "source": f.source}
        for f in findings
    ]


def _caveats(caveats: Iterable[Caveat]) -> list[dict[str, str]]:
    """Return caveats."""
    return [{"code": caveat.code, "text": caveat.text} for caveat in caveats]


def _span(span: Span | None) -> dict[str, object] | None:
    """Return a span of temperatures."""
    if span is None:
        return None
    return {
        "low": _rounded(span.low - ZERO_CELSIUS_K),
        "high": _rounded(span.high - ZERO_CELSIUS_K),
    }


def _minutes(time_s: float | None) -> float | None:
    """Return a time in minutes; never stays nothing."""
    return _scaled(time_s, 1.0 / MINUTE_S)


def _scaled(value: float | None, factor: float) -> float | None:
    """Return a figure in another unit; nothing stays nothing."""
    return None if value is None else _rounded(value * factor)


def _rounded(value: float) -> float | None:
    """Return a figure without the digits that only arithmetic put there."""
    return float(f"{value:.9g}") if math.isfinite(value) else None
