"""Writes faults, notes and the screen of sanity figures as tables, ready for JSON."""

from __future__ import annotations

import json

from ullage.circuit.sanity import Sanity
from ullage.errors import Fault

_LITRE, _L_MIN = 1e3, 60e3


def fault_to_json(fault: Fault) -> dict[str, object]:
    """Return a fault with its sentence."""
    try:
        json.dumps(fault.value, allow_nan=False)
        value = fault.value
    except (TypeError, ValueError):  # a date, an infinity: JSON has neither
        value = str(fault.value)
    return {
        "key": fault.key,
        "value": value,
        "problem": fault.problem,
        "allowed": fault.allowed,
        "advice": fault.advice,
        "sentence": fault.sentence(),
    }


def sanity_to_json(sanity: Sanity) -> dict[str, object]:
    """Return the screen of figures in litres, litres a minute and percent."""
    return {
        "total_l": _rounded(sanity.total_m3 * _LITRE),
        "total_p05_l": _rounded(sanity.total_low_m3 * _LITRE),
        "total_p95_l": _rounded(sanity.total_high_m3 * _LITRE),
        "shares": [
            {
                "name": share.name,
                "volume_l": _rounded(share.volume_m3 * _LITRE),
                "share_pct": _rounded(share.share * 100.0),
            }
            for share in sanity.shares
        ],
        "idle_flow_l_min": _rounded(sanity.idle_flow_m3_s * _L_MIN),
        "usable_l": _rounded(sanity.usable_m3 * _LITRE),
        "seconds_to_minimum": _maybe(sanity.seconds_to_minimum),
        "seconds_to_minimum_sure": _maybe(sanity.seconds_to_minimum_sure),
        "legs": [
            {
                "leg": reach.leg,
                "line_l": _rounded(reach.line_m3 * _LITRE),
                "stroke_in_use_l": _rounded(reach.window_m3 * _LITRE),
                "dead_l": _rounded(reach.dead_m3 * _LITRE),
                "gas_oil_l": _rounded(reach.gas_m3 * _LITRE),
                "renewal": reach.renewal.value,
                "sentence": reach.sentence,
            }
            for reach in sanity.reaches
        ],
        "lines": [
            {
                "line": flow.line,
                "flow_l_min": _rounded(flow.flow_m3_s * _L_MIN),
                "re_20_degc": _maybe(flow.re_cool),
                "regime_20_degc": flow.regime_cool,
                "re_60_degc": _maybe(flow.re_warm),
                "regime_60_degc": flow.regime_warm,
            }
            for flow in sanity.line_flows
        ],
    }


def _rounded(value: float) -> float:
    """Return a figure with the digits that a person can use."""
    return float(f"{value:.6g}")


def _maybe(value: float | None) -> float | None:
    """Return a rounded figure, or null."""
    return None if value is None else _rounded(value)
