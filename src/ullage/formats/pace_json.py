"""Writes how to pour as a table, ready for JSON, in litres, seconds and litres a minute."""

from __future__ import annotations

from ullage.planning.pace import Pace

_LITRE, _L_MIN = 1e3, 60e3


def pace_to_json(found: Pace) -> dict[str, object]:
    """Return the figures of a pace; ``_sure`` means with everything at its worse end."""
    return {
        "draw_l_min": _rounded(found.draw_m3_s * _L_MIN),
        "draw_sure_l_min": _rounded(found.draw_sure_m3_s * _L_MIN),
        "usable_l": _rounded(found.usable_m3 * _LITRE),
        "litres": _rounded(found.litres_m3 * _LITRE),
        "seconds_to_minimum": _rounded(found.seconds_to_minimum),
        "seconds_to_minimum_sure": _rounded(found.seconds_to_minimum_sure),
        "seconds_to_minimum_p95": _rounded(found.seconds_to_minimum_p95),
        "continuous": found.continuous,
        "burst_s": _rounded(found.run_s),
        "burst_l": _rounded(found.run_m3 * _LITRE),
        "bursts": found.runs,
        "open_containers": found.open_containers,
        "needed_pour_l_min": _flow(found.needed_pour_m3_s),
        "needed_pour_sure_l_min": _flow(found.needed_pour_sure_m3_s),
        "stop_level_l": _rounded(found.stop_level_m3 * _LITRE),
        "lowest_l": _rounded(found.lowest_m3 * _LITRE),
        "highest_l": _rounded(found.highest_m3 * _LITRE),
        "lowest_sure_l": _rounded(found.lowest_sure_m3 * _LITRE),
        "total_s": _rounded(found.total_s),
        "advice": [caveat.text for caveat in found.advice],
    }


def _flow(flow_m3_s: float | None) -> float | None:
    """Return a flow in litres a minute; nothing stays nothing."""
    return None if flow_m3_s is None else _rounded(flow_m3_s * _L_MIN)


def _rounded(value: float) -> float:
    """Return a figure without the digits that only arithmetic put there."""
    return float(f"{value:.9g}")
