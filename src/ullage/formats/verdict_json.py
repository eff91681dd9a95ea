"""Writes a verdict as a table, ready for JSON: percent, litres, minutes."""

from __future__ import annotations

from ullage.evidence.answer import Band, Verdict
from ullage.evidence.misfit import Hypothesis
from ullage.evidence.next_step import NextStep

FORMAT = "ullage-verdict/1"
_LITRE, _PERCENT = 1e3, 1e2
_MOST_OTHERS = 5


def verdict_to_json(verdict: Verdict) -> dict[str, object]:
    """Return a verdict as a table; shares in percent.

    Where the readings do not fit, ``remaining_pct`` and ``parts`` are those before the readings.
    """
    balance = verdict.balance
    return {
        "format": FORMAT,
        "remaining_pct": _band(verdict.remaining),
        "parts": {name: _band(part.after) for name, part in verdict.parts.items()},
        "before": {
            "remaining_pct": _band(verdict.remaining_before),
            "parts": {name: _band(part.before) for name, part in verdict.parts.items()},
        },
        "target_pct": None if verdict.target_share is None else _pct(verdict.target_share),
        "p_met": None if verdict.p_met is None else _number(verdict.p_met),
        "met": None if verdict.met is None else verdict.met.value,
        "fits": verdict.fit.fits,
        "misfit": None if verdict.fit.fits else _misfit(verdict),
        "next": [_next(step) for step in verdict.next],
        "balance": {
            "in_l": _number(balance.in_m3 * _LITRE),
            "out_l": _number(balance.out_m3 * _LITRE),
            "unaccounted_l": _litres(balance.unaccounted_m3),
            "u_l": _litres(balance.u_m3),
            "closes": balance.closes,
        },
        "dilution": [
            {
                "after_step": [check.before.after_step, check.after.after_step],
                "hidden_l": _litres(check.found.hidden_m3 if check.found else None),
                "u_l": _litres(check.found.u_m3 if check.found else None),
                "limit_l": _litres(check.found.limit_m3 if check.found else None),
                "sentence": check.sentence,
            }
            for check in verdict.dilution
        ],
        "sentences": list(verdict.sentences),
        "final": verdict.trust.is_final,
        "trust": {
            "k_hat": None if verdict.trust.rounds == 0 else _number(verdict.trust.k_hat),
            "effective": _number(verdict.trust.effective),
            "rounds": verdict.trust.rounds,
        },
    }


def _band(band: Band) -> dict[str, float]:
    """Return a band in percent."""
    return {"p05": _pct(band.p05), "p50": _pct(band.p50), "p95": _pct(band.p95)}


def _next(step: NextStep) -> dict[str, object]:
    """Return what could be done next."""
    return {
        "do": step.do,
        "gain": _number(step.gain),
        "minutes": _number(step.minutes),
        "litres": _number(step.litres_m3 * _LITRE),
        "containers": step.containers,
        "lowers_pct": _pct(step.lowers),
        "code": step.code,
        "part": step.part,
    }


def _misfit(verdict: Verdict) -> dict[str, object]:
    """Return why the readings may not fit: the named hypothesis first, others behind it."""
    named = verdict.fit.named
    others = [h for h in verdict.fit.hypotheses if h is not named][:_MOST_OTHERS]
    return {
        "named": None if named is None else _hypothesis(named),
        "if_named_pct": None if verdict.if_named is None else _band(verdict.if_named),
        "others": [_hypothesis(h) for h in others],
        "no_machine_p": _number(verdict.fit.no_machine_p),
        "strange_p": _number(verdict.fit.strange_p),
    }


def _hypothesis(hypothesis: Hypothesis) -> dict[str, object]:
    """Return one hypothesis."""
    return {
        "code": hypothesis.code,
        "what": hypothesis.words,
        "part": hypothesis.part,
        "odds": float(f"{hypothesis.odds:.3g}"),
        "rests_on": hypothesis.rests_on,
    }


def _litres(volume_m3: float | None) -> float | None:
    """Return a volume in litres, null where there is none."""
    return None if volume_m3 is None else _number(volume_m3 * _LITRE)


def _pct(share: float) -> float:
    """Return a share in percent."""
    return _number(share * _PERCENT)


def _number(value: float) -> float:
    """Return a number without the dust of unit conversion."""
    return float(f"{value:.10g}")
