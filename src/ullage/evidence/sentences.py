"""The verdict in three sentences: what is left, whether that is enough, what to do next.

Each is one that a technician would say at the machine. Figures are whole percents.
"""

from __future__ import annotations

import math

from ullage.evidence.answer import Band, Verdict
from ullage.evidence.misfit import Fit
from ullage.evidence.next_step import NextStep
from ullage.evidence.reading import Reading

#: A reading that is expected to tell less than this is not worth its minutes [nat].
WORTHWHILE = 0.02
_CHECK_FIRST = {
    "leg-never-moved": "watch with tape at {part} whether it moves, then exercise it and take the "
    "sample again",
    "air-pocket": "bleed {part} until no bubbles come, then set the level and read it again",
    "cycles-miscounted": "ask who counted the cycles, and exercise once more with a count kept",
    "wrong-circuit": "measure lines and strokes and mend the circuit file",
    "swapped-samples": "look at the labels of the two samples, or draw both again",
    "jug": "weigh one jug full on a kitchen scale and put the volumes right",
}


def pct(share: float) -> str:
    """Return a share as a whole percent.

    >>> pct(0.137), pct(0.002), pct(0.0), pct(0.999)
    ('14 %', 'under 1 %', '0 %', 'over 99 %')
    """
    if 0.0 < share < 0.005:
        return "under 1 %"
    if 0.995 <= share < 1.0:
        return "over 99 %"
    return f"{math.floor(100.0 * share + 0.5)} %"


def between(band: Band) -> str:
    """Return the ends of a band in words."""
    low, high = (math.floor(100.0 * v + 0.5) for v in (band.p05, band.p95))
    return f"{low} %" if low == high else f"{low} to {high} %"


def chance(p: float) -> str:
    """Return a chance as so many in a hundred.

    >>> chance(0.93), chance(0.998), chance(0.001)
    ('93 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    if p > 0.995:
        return "over 99 in 100"
    if p < 0.005:
        return "under 1 in 100"
    return f"{math.floor(100.0 * p + 0.5)} in 100"


def sentences(verdict: Verdict) -> tuple[str, str, str]:
    """Return the three sentences of a verdict."""
    if not verdict.fit.fits:
        return _contradicted(verdict)
    return _what(verdict), _enough(verdict), _next(verdict)


def _what(verdict: Verdict) -> str:
    """Say how much is left and where."""
    band = verdict.remaining
    most = sorted(verdict.parts.items(), key=lambda item: -item[1].old_m3)
    total = sum(part.old_m3 for part in verdict.parts.values())
    named, held = [], 0.0
    for name, part in most:
        called = f"the {name}" if name in ("reservoir", "loop") else name
        named.append(f"{called} ({pct(part.after.p50)} old)")
        held += part.old_m3
        if held > 0.5 * total or len(named) == 3:
            break
    where = f"; most of it sits in {_listed(named)}" if total > 0.0 and band.p50 >= 0.005 else ""
    first = "" if verdict.trust.is_final else "Not final: "
    about = "about" if first else "About"
    figure = f"{pct(band.p50)} old fluid is left, nine times in ten {between(band)}"
    return f"{first}{about} {figure}{where}."


def _listed(words: list[str]) -> str:
    """Return words in a row as a sentence has them."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _enough(verdict: Verdict) -> str:
    """Say whether the target is met, or what the readings changed where there is none."""
    if verdict.target_share is None or verdict.p_met is None:
        if not verdict.readings:
            return (
                "Nothing was measured yet, so this is what the circuit file alone leads to expect."
            )
        return f"Without the readings it would have been {between(verdict.remaining_before)}."
    wish = f"{100.0 * verdict.target_share:.3g} %"
    odds = chance(verdict.p_met)
    if not verdict.readings:
        return f"By the circuit file alone the chance to meet the target of {wish} is {odds}."
    if verdict.met == "yes":
        return f"The target of {wish} is met: the chance is {odds}."
    if verdict.met == "no":
        return f"The target of {wish} is not met: the chance that it is, is {odds}."
    return f"Whether the target of {wish} is met is not shown yet: the chance is {odds}."


def _next(verdict: Verdict) -> str:
    """Say what to do next."""
    if verdict.met == "yes" and verdict.readings:
        return "Nothing more needs to be measured for that."
    telling = [step for step in verdict.next if step.gain >= WORTHWHILE]
    if not verdict.readings and verdict.met != "no" and verdict.next and not telling:
        first = max(verdict.next, key=lambda step: step.worth)
        return f"Before you rely on that, {first.do}: {cost(first)}."
    if verdict.met == "no":
        best = max(verdict.next, key=lambda step: step.lowers, default=None)
        if best is not None and best.lowers >= 0.005:
            return (
                f"More has to come out: to {best.do.split(' and look')[0]} takes {cost(best)} and "
                f"lowers it by about {100.0 * best.lowers:.0f} points."
            )
        how = "with the legs exercised, " if _has_moving_legs(verdict) else ""
        return f"More has to come out: put more new fluid through, {how}then measure again."
    if not telling:
        through = "through the legs " if _has_moving_legs(verdict) else ""
        return f"No further reading would tell much: only more new fluid {through}changes this."
    return f"Next, {telling[0].do}: that tells most for its effort, {cost(telling[0])}."


def _has_moving_legs(verdict: Verdict) -> bool:
    """Tell whether the circuit has legs that a person can exercise."""
    return any(step.code == "exercise-then-sample" for step in verdict.next)


def cost(step: NextStep) -> str:
    """Return what a step costs in words."""
    minutes = f"{step.minutes:.0f} min"
    if step.litres_m3 <= 0.0:
        return f"{minutes} and no fluid"
    containers = "one container" if step.containers == 1 else f"{step.containers} containers"
    return f"{minutes} and {step.litres_m3 * 1e3:.2g} L of new fluid ({containers})"


def _unexplained(fit: Fit) -> tuple[str, str]:
    """Say which readings stand apart where no usual slip explains them, and what to do about it."""
    words = [_shown(reading) for reading in fit.apart]
    if len(words) == 2:
        return (
            f"Two readings cannot both be right: {words[0]} and {words[1]}.",
            "Find out which of the two is wrong, or take both again, before anything else.",
        )
    if words:
        return (
            f"None of the usual slips explains it, and one reading stands apart: {words[0]}.",
            "Look at that reading before anything else: its label, its unit, its step; then take "
            "it again.",
        )
    return (
        "None of the usual slips explains them: more than one reading is wrong, or the circuit or "
        "the recipe is not this one.",
        "Check first that circuit and recipe are those of this job, then take the most doubtful "
        "reading again.",
    )


def _shown(reading: Reading) -> str:
    """Return a reading in words, with its share where it is a sample."""
    return f"{reading.words} ({pct(reading.value)})" if reading.kind == "sample" else reading.words


def _contradicted(verdict: Verdict) -> tuple[str, str, str]:
    """Say that the readings do not fit, why that may be, and what to look at first."""
    first = (
        "The readings do not fit this circuit and recipe, so they give no figure; without them it "
        f"is {between(verdict.remaining_before)} old."
    )
    named = verdict.fit.named
    if named is None:
        return first, *_unexplained(verdict.fit)
    more = "" if verdict.if_named is None else f"; if so, {between(verdict.if_named)} is old"
    second = f"The likeliest reason is that {named.words}, which rests on {named.rests_on}{more}."
    return first, second, f"First {_CHECK_FIRST[named.code].format(part=named.part)}."
