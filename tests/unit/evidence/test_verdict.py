"""The verdict: what is left, whether it is enough, whether the readings fit, and what next."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.unit.evidence.cases import CONTRADICTION, SAMPLES, circuit, evidence, prover, recipe
from ullage.circuit.uncertain import Uncertain
from ullage.drawing.verdict_svg import verdict_picture
from ullage.errors import FileFaults, OutOfRange
from ullage.evidence.answer import Met, Verdict
from ullage.evidence.dilution import dilution_checks
from ullage.evidence.likelihood import readings_of
from ullage.evidence.mass_balance import mass_balance
from ullage.evidence.misfit import Fit, reasons
from ullage.evidence.next_step import outlook
from ullage.evidence.verdict import prove, prover_of
from ullage.formats.circuit_file import read_circuit
from ullage.formats.recipe_file import parse_recipe
from ullage.formats.verdict_json import verdict_to_json
from ullage.transport.solve import Solver

BENCH = Path(__file__).resolve().parents[3] / "bench"

LEGS = 'exercise = ["front", "rear"]\nperiod_s = 24'


@cache
def verdict(text: str = "", target_pct: float | None = None) -> Verdict:
    """Return the verdict over readings."""
    target = None if target_pct is None else target_pct / 100.0
    return prove(circuit(), recipe(), evidence(text), target_share=target, prover=prover())


def test_nothing_measured_leaves_the_prior() -> None:
    """Without a reading the answer is that of `simulate` on as many machines."""
    found = verdict()
    run = Solver(circuit()).run(recipe(), members=700, seed=0, bracket=False)
    low, middle, high = np.quantile(run.remaining_share, (0.05, 0.5, 0.95))

    assert (found.remaining.p05, found.remaining.p50, found.remaining.p95) == pytest.approx(
        (low, middle, high), abs=1e-3
    )
    assert found.remaining == found.remaining_before
    assert "Nothing was measured yet" in found.sentences[1]


def test_readings_narrow_what_they_speak_of() -> None:
    """A bleed sample narrows its own leg and hardly the other."""
    found = verdict(SAMPLES)

    def narrowed(part: str) -> float:
        band = found.parts[part]
        return (band.after.p95 - band.after.p05) / (band.before.p95 - band.before.p05)

    assert found.fit.fits
    assert found.trust.is_final
    assert narrowed("right") < 0.7
    assert narrowed("right") < narrowed("left")


@pytest.mark.parametrize(
    ("target_pct", "met", "says"),
    [
        (60.0, Met.YES, "is met: the chance is over 99 in 100"),
        (5.0, Met.NO, "is not met"),
        (31.0, Met.NOT_SHOWN, "is not shown yet: the chance is"),
    ],
)
def test_a_target_is_met_only_with_its_chance(target_pct: float, met: Met, says: str) -> None:
    """Yes and no are said where the chance is 95 in 100, and the chance always stands beside."""
    found = verdict(SAMPLES, target_pct)

    assert found.met is met
    assert found.p_met is not None
    assert says in found.sentences[1]


def test_contradictory_readings_are_not_averaged() -> None:
    """Two samples of one reservoir that cannot both be right give no figure of their own."""
    found = verdict(CONTRADICTION, 31.0)

    assert not found.fit.fits
    assert (found.p_met, found.met) == (None, Met.NOT_SHOWN)
    assert found.remaining == found.remaining_before
    assert found.sentences[0].startswith("The readings do not fit")


def test_two_readings_that_speak_against_each_other_are_both_named() -> None:
    """Each could be right by itself, so neither is blamed and no slip is made up."""
    found = verdict(CONTRADICTION.replace("= 5\n", "= 12\n").replace("= 60", "= 22"))

    assert found.fit.named is None
    assert sorted(r.value for r in found.fit.apart) == [0.12, 0.22]
    assert found.sentences[1].startswith("Two readings cannot both be right: ")
    assert all(shown in found.sentences[1] for shown in ("(12 %)", "(22 %)"))


def test_samples_of_one_place_and_time_are_never_called_swapped() -> None:
    """Their labels say the same, so there is nothing to swap."""
    found = verdict(CONTRADICTION).fit

    assert [h for h in found.hypotheses if h.code == "swapped-samples"] == []


def test_what_is_merely_less_impossible_is_no_reason() -> None:
    """Odds of many powers of ten are not enough where the readings do not fit the reason either."""
    odd = '[[sample]]\nwhere = "reservoir"\nafter_step = 4\nold_pct = 90\nu_pct = 2\n'
    found = verdict(SAMPLES + odd).fit

    assert found.hypotheses[0].odds > 1e3
    assert found.hypotheses[0].chance < 1e-4
    assert found.named is None


def test_a_reading_that_stands_apart_is_named() -> None:
    """One of three samples that no machine shows, and no slip explains, is the one to look at."""
    reservoir = 100.0 * verdict(SAMPLES).parts["reservoir"].after.p50
    text = SAMPLES + (
        f'[[sample]]\nwhere = "reservoir"\nafter_step = 4\nold_pct = {reservoir}\nu_pct = 2\n'
        '[[volume]]\nwhat = "drawn-off"\nstep = 1\nlitres = 9\nu_l = 0.05\n'
    )
    found = verdict(text, 31.0)

    assert [r.words for r in found.fit.apart] == ["the drawn-off volume in step 1"]
    assert found.fit.named is None
    assert "one reading stands apart: the drawn-off volume in step 1" in found.sentences[1]
    assert found.sentences[2].startswith("Look at that reading before anything else")


def test_a_sample_that_was_taken_is_not_asked_for_as_if_it_were_not() -> None:
    """Once more is said where it would be once more."""
    before = {step.code: step.do for step in verdict().next}
    text = SAMPLES.replace("leg:right", "reservoir").replace('ref = "right"\n', "")
    after = {step.code: step.do for step in verdict(text).next}

    assert before["sample-reservoir"] == "take a sample of the reservoir as it stands"
    assert after["sample-reservoir"].startswith("take one more sample of the reservoir")


@pytest.mark.parametrize("target_pct", [90.0, None])
def test_with_nothing_measured_something_is_to_be_measured(target_pct: float | None) -> None:
    """Figures of the circuit file alone never end with nothing to do."""
    found = verdict("", target_pct)

    assert "alone" in found.sentences[1]
    assert "is met" not in " ".join(found.sentences)
    assert re.match(r"(Next|Before you rely on that), ", found.sentences[2])


def test_a_leg_that_never_moved_is_named_with_the_reading_that_tells() -> None:
    """Its chamber is still all old although everything else is as expected."""
    text = "".join(
        f'[[sample]]\nwhere = "leg:{leg}"\nafter_step = 4\nold_pct = {old}\nu_pct = 2\n'
        f'ref = "{leg}"\n'
        for leg, old in (("left", 99), ("right", 65))
    )
    machine = circuit()
    legs = tuple(
        replace(leg, stroke_use_share=replace(leg.stroke_use_share, best=0.85, low=0.8))
        for leg in machine.legs
    )
    machine = replace(machine, legs=legs)
    mine = prover_of(machine, recipe(), evidence(text), prior=400, answer=200)
    readings = readings_of(evidence(text), machine, recipe())
    first = reasons(readings, mine.forward, mine.prior(readings))[0]

    assert (first.code, first.part) == ("leg-never-moved", "left")
    assert first.rests_on == "the sample of the chamber of left after step 4"
    assert Fit(fits=False, no_machine_p=0.0, strange_p=0.0, hypotheses=(first,)).named is first


def test_vials_that_were_swapped_are_named() -> None:
    """Readings that fit the other way round and not this way."""
    text = """
    [[sample]]
    where = "reservoir"
    after_step = 3
    old_pct = 97
    u_pct = 2
    [[sample]]
    where = "leg:right"
    after_step = 3
    old_pct = 2
    u_pct = 2
    ref = "right"
    """
    readings = readings_of(evidence(text), circuit(), recipe())
    mine = prover()

    first = reasons(readings, mine.forward, mine.prior(readings))[0]

    assert first.code == "swapped-samples"
    assert Fit(fits=False, no_machine_p=0.0, strange_p=0.0, hypotheses=(first,)).named is first


def test_the_books_close_with_a_jug_that_errs_alike_on_both_sides() -> None:
    """In less out less gain is unaccounted; a shared jug cancels in part, two jugs do not."""
    text = """
    [[volume]]
    what = "poured"
    litres = 5.8
    u_l = 0.10
    shares = "{}"
    [[volume]]
    what = "waste"
    litres = 5.8
    u_l = 0.10
    shares = "{}"
    """
    mine = prover()
    one, two = (
        mass_balance(r, mine.prior(r))
        for r in (
            readings_of(evidence(text.format(*jugs)), circuit(), recipe())
            for jugs in (("a", "a"), ("a", "b"))
        )
    )

    assert one.unaccounted_m3 == pytest.approx(0.0, abs=1e-6)
    assert one.closes
    assert one.u_m3 is not None
    assert two.u_m3 is not None
    assert one.u_m3 < two.u_m3


def test_a_litre_that_is_missing_is_missed() -> None:
    """The books say so where more went in than came out, stayed or can be misread."""
    text = '[[volume]]\nwhat = "poured"\nlitres = 6.8\n[[volume]]\nwhat = "waste"\nlitres = 5.8\n'
    readings = readings_of(evidence(text), circuit(), recipe())

    found = mass_balance(readings, prover().prior(readings))

    assert found.unaccounted_m3 == pytest.approx(1e-3, abs=2e-5)
    assert found.closes is False


def test_books_of_the_recipe_alone_claim_nothing() -> None:
    """Where no volume was measured there is nothing to miss."""
    found = verdict(SAMPLES).balance

    assert (found.unaccounted_m3, found.u_m3, found.closes) == (None, None, None)


def test_a_dilution_check_is_found_between_two_samples_of_the_reservoir() -> None:
    """Only where nothing was poured or taken in between, and as a lower bound."""
    text = """
    [[sample]]
    where = "reservoir"
    after_step = 3
    old_pct = 5
    u_pct = 1
    [[sample]]
    where = "reservoir"
    after_step = 4
    old_pct = 15
    u_pct = 1
    """
    (check,) = dilution_checks(evidence(text), recipe(), known_m3=3e-3)
    poured = 'format = "ullage-recipe/1"\nname = "x"\n[[step]]\ndo = "circulate"\nminutes = 1\n'
    poured += '[[step]]\ndo = "draw-off"\n[[step]]\ndo = "fill"\n[[step]]\ndo = "circulate"\n'
    poured += "minutes = 1\n"

    assert check.found is not None
    assert check.found.hidden_m3 == pytest.approx(3e-3 * 0.10 / 0.85)
    assert "at least 0.35 L" in check.sentence
    apart = evidence(text.replace("after_step = 3", "after_step = 1"))
    assert dilution_checks(apart, parse_recipe(poured, "p"), known_m3=3e-3) == ()


def test_what_tells_most_is_ranked_by_effort() -> None:
    """A leg of which nothing is known tells more than one more look at a reservoir run fresh."""
    found = {(step.code, step.part): step for step in verdict(SAMPLES).next}
    worth = [step.worth for step in verdict(SAMPLES).next]

    assert worth == sorted(worth, reverse=True)
    assert found["sample-outflow", None].gain < 0.02
    assert found["watch-travel", "left"].gain > 3.0 * found["sample-outflow", None].gain
    assert found["bleed-leg", "right"].lowers > 0.01
    assert found["bleed-leg", "right"].containers == 1
    assert found["level-extended", "reservoir"].litres_m3 == 0.0


@pytest.mark.slow
def test_what_is_known_to_tell_much_or_little_does() -> None:
    """On four legs that nobody watched, nor noted where they stood, after an exchange whose outflow
    was sampled.

    One more look at the outflow and a short run tell next to nothing; a long run with everything
    exercised tells more than any other look at the reservoir; the level on full extension is free
    and beats both for its minutes; a bleed sample beats every sample that is not from a leg.
    """
    machine = read_circuit(BENCH / "unwatched.circuit.toml")
    anywhere = Uncertain(best=0.5, low=0.35, high=0.65)
    legs = tuple(replace(leg, start_share=anywhere) for leg in machine.legs)
    machine = replace(machine, legs=legs)
    steps = ('"draw-off"', '"fill"', f'"exchange"\nlitres = 8\n{LEGS}', '"top-up"')
    text = "".join(f"[[step]]\ndo = {step}\n" for step in steps)
    done = parse_recipe(f'format = "ullage-recipe/1"\nname = "x"\n{text}', "x")
    read = evidence('[[sample]]\nwhere = "outflow"\nafter_step = 3\nold_pct = 20\nu_pct = 2\n')
    mine = prover_of(machine, done, read)
    readings = readings_of(read, machine, done)
    expected = float(mine.prior(readings).predicted.mean())
    readings = tuple(replace(r, value=expected) for r in readings)
    ahead = outlook(mine.forward, done, mine.posterior(readings).ensemble, machines=600).ranked()
    gain: dict[str, float] = {}
    for step in ahead:
        gain[step.code] = max(step.gain, gain.get(step.code, 0.0))
    worth = {step.code: step.worth for step in reversed(ahead)}

    assert gain["sample-outflow"] < 0.02
    assert gain["circulate-then-sample"] < 0.02
    assert gain["exercise-then-sample"] > 2.0 * gain["circulate-then-sample"]
    assert gain["exercise-then-sample"] > 2.0 * gain["sample-reservoir"]
    assert gain["sample-leg"] > 2.0 * gain["sample-outflow"]
    assert worth["level-extended"] > max(worth["exercise-then-sample"], worth["sample-outflow"])


def test_scripts_get_what_people_get() -> None:
    """Keys as promised, shares in percent."""
    found = verdict_to_json(verdict(SAMPLES, 31.0))
    broken = verdict_to_json(verdict(CONTRADICTION, 31.0))

    assert found["format"] == "ullage-verdict/1"
    assert set(found["remaining_pct"]) == {"p05", "p50", "p95"}  # type: ignore[call-overload]
    assert list(found["parts"]) == ["reservoir", "loop", "left", "right"]  # type: ignore[call-overload]
    assert (found["fits"], found["misfit"], found["met"]) == (True, None, "not shown")
    assert {"do", "gain", "minutes", "litres"} <= set(found["next"][0])  # type: ignore[index]
    assert broken["fits"] is False
    assert broken["misfit"] is not None
    assert broken["p_met"] is None


@pytest.mark.parametrize(("text", "bars"), [(SAMPLES, 5), (CONTRADICTION, 0)])
def test_the_picture_has_a_bar_a_part(text: str, bars: int) -> None:
    """Outlines always, bars only where the readings fit."""
    picture = ElementTree.fromstring(verdict_picture(verdict(text, 31.0), title="Two <struts>"))
    rectangles = [e for e in picture.iter() if e.tag.endswith("rect")]
    outlines = [e for e in rectangles if e.get("fill") == "none"]

    assert len(outlines) == 6  # five rows and the key
    assert len(rectangles) - len(outlines) - 1 == (bars + 1 if bars else 0)


def test_a_target_that_is_no_share_is_refused() -> None:
    """Zero and a hundred percent are no wish."""
    with pytest.raises(OutOfRange, match="above 0 and below 100"):
        prove(circuit(), recipe(), evidence(), target_share=1.0, prover=prover())


def test_readings_of_another_recipe_are_refused() -> None:
    """A step that is not there is a fault of the file."""
    with pytest.raises(FileFaults, match="no such step"):
        prove(circuit(), recipe(), evidence("[[turn]]\nstep = 9\nat_l = 1"), prover=prover())
