"""Does the solver give the closed forms of chambers behind lines?"""

from __future__ import annotations

import itertools
import math

import pytest

from tests.outside.closed_forms import forms
from tests.outside.closed_forms.answers import share
from tests.outside.closed_forms.circuits import (
    LITRE,
    RENEWED,
    circuit,
    leg,
    line,
    node,
    recipe,
    reservoir,
)
from tests.outside.rows import OutsideRow, label
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Leg
from ullage.transport.layout import FAST, FINE
from ullage.transport.recipe import Bleed, Charge, Exchange, Exercise, Extend, Release, Retract
from ullage.transport.solve import simulate

FLUSH = Exchange(litres_m3=5.0 * LITRE)
"""Fifty volumes of the small nodes and more than the line back: new fluid alone from then on."""


def behind_new_fluid(*legs: Leg) -> Circuit:
    """Return legs fed from one node that give back to another, with a long way back."""
    return circuit(
        [node("feed", 0.05), node("gallery", 0.05), line("back", 2.0)],
        reservoir(60.0, brim_l=70.0),
        divert_after="back",
        legs=legs,
    )


def row(subject: str, ours: float, theirs: float, tolerance: float, source: str) -> OutsideRow:
    """Return a row about the old share of a part."""
    return OutsideRow(
        subject=f"washout run: {subject}",
        quantity="old share [-]",
        ours=ours,
        theirs=theirs,
        tolerance=tolerance,
        source=source,
        provenance="derived",
        kind="code",
        reason="exact but for the e^-50 left in the node"
        if tolerance < 1e-8
        else "a front inside a cell, or finite steps",
    )


def stroke_rows() -> list[OutsideRow]:
    """Return chambers after whole strokes, with lines below and above what the stroke holds."""
    found = []
    for line_l in (0.05, 0.1, 0.2, 0.24, 0.4):
        for strokes in (1, 3):
            machine = behind_new_fluid(
                leg("one", "feed", line_l=line_l, stroke_l=0.24, dead_l=0.06, returns_to="gallery")
            )
            exercise = Exercise(groups=("one",), period_s=60.0)
            work = recipe(*RENEWED, FLUSH, Exchange(litres_m3=strokes * LITRE, exercise=exercise))
            found.append(
                row(
                    f"line {line_l} L, stroke 0.24 L, {strokes} whole strokes",
                    share(simulate(machine, work, regime="plug"), "one.chamber"),
                    forms.chamber_after_strokes(
                        dead=0.06, line=line_l, stroke=0.24, strokes=strokes
                    ),
                    1e-9,
                    "((dead + line)/(dead + stroke))^n, 1 where the line holds the stroke or more",
                )
            )
    return found


def lane_rows() -> list[OutsideRow]:
    """Return laminar and plug legs after one stroke, lane by lane, at both resolutions."""
    found = []
    cases = [(v, s, k) for v in (0.05, 0.1, 0.2, 0.3) for s in (0.02, 0.08, 0.24) for k in (1, 8)]
    for (line_l, stroke_l, lanes), resolution in itertools.product(cases, (FAST, FINE)):
        machine = behind_new_fluid(
            leg("one", "feed", line_l=line_l, stroke_l=stroke_l, dead_l=0.06, returns_to="gallery")
        )
        # One lane is a plug.
        run = simulate(
            machine,
            recipe(*RENEWED, FLUSH, Extend(), Retract()),
            regime="laminar",
            lanes=lanes,
            resolution=resolution,
        )
        hand = forms.lanes_after_a_stroke(dead=0.06, line=line_l, stroke=stroke_l, lanes=lanes)
        name = "finely" if resolution == FINE else "fast"
        for part, theirs in (("chamber", hand.chamber), ("line", hand.line)):
            found.append(
                row(
                    f"{lanes} lanes, line {line_l} L, one stroke of {stroke_l} L, {name}, {part}",
                    share(run, f"one.{part}"),
                    theirs,
                    1e-9 if resolution == FINE else 5e-4,
                    "each lane pushed up and back by hand",
                )
            )
    return found


def once_rows() -> list[OutsideRow]:
    """Return extending and retracting on command, a pair, gas volumes, and bleeding."""
    pair = (
        leg(
            "up", "feed", line_l=0.1, stroke_l=0.4, dead_l=0.1, returns_to="gallery", opposes="down"
        ),
        leg(
            "down",
            "feed",
            line_l=0.1,
            stroke_l=0.3,
            dead_l=0.1,
            start_share=1.0,
            returns_to="gallery",
        ),
    )
    fresh = (*RENEWED, FLUSH)
    strokes = [*fresh, Extend(legs=("up",)), *fresh, Retract(legs=("up",))] * 2
    run = simulate(behind_new_fluid(*pair), recipe(*strokes), regime="plug")
    single = leg("one", "feed", line_l=0.1, stroke_l=0.24, dead_l=0.06, returns_to="gallery")
    steps = [*RENEWED, FLUSH, Extend(), Retract()] * 2
    alone = simulate(behind_new_fluid(single), recipe(*steps), regime="plug")
    gas = leg(
        "one", "feed", line_l=0.1, stroke_l=0.0, dead_l=0.05, gas_oil_l=0.3, returns_to="gallery"
    )
    work = recipe(Release(), *[*RENEWED, FLUSH, Charge(), Release()] * 2)
    gassed = simulate(behind_new_fluid(gas), work, regime="plug")
    dead_end = leg("one", "feed", line_l=0.2, stroke_l=0.0, dead_l=0.1)
    bled = simulate(
        behind_new_fluid(dead_end),
        recipe(*RENEWED, FLUSH, Bleed(leg="one", litres_m3=0.35 * LITRE)),
        regime="plug",
        resolution=FINE,
    )
    return [
        row(
            "extended and retracted twice on command",
            share(alone, "one.chamber"),
            (0.16 / 0.3) ** 2,
            1e-9,
            "((dead + line)/(dead + stroke))^n",
        ),
        row(
            "pair, the side that took new fluid twice",
            share(run, "up.chamber"),
            (0.2 / 0.5) ** 2,
            1e-9,
            "((dead + line)/(dead + stroke))^n",
        ),
        row(
            "pair, the mirrored side",
            share(run, "down.chamber"),
            (0.2 / 0.4) ** 2,
            1e-9,
            "((dead + line)/(dead + stroke))^n",
        ),
        row(
            "gas volume released and charged twice",
            share(gassed, "one.chamber"),
            (0.15 / 0.35) ** 2,
            1e-9,
            "((dead + line)/(dead + oil behind gas))^n",
        ),
        row(
            "bleeding 0.35 L through a line of 0.2 L and a chamber of 0.1 L",
            share(bled, "one.chamber"),
            math.exp(-1.5),
            2e-5,
            "a plug line, then a mixed chamber",
        ),
    ]


def rows() -> list[OutsideRow]:
    """Return every comparison of this module."""
    return [*stroke_rows(), *lane_rows(), *once_rows()]


@pytest.mark.parametrize("group", [stroke_rows, lane_rows, once_rows])
def test_legs_follow_their_closed_forms(group: object) -> None:
    """Every row of a group agrees within its tolerance."""
    found = group()  # type: ignore[operator]
    wrong = [
        f"{label(row)}: {row.ours:.9g} for {row.theirs:.9g}" for row in found if not row.agrees
    ]

    assert wrong == []


@pytest.mark.parametrize("cycles", [1, 7])
@pytest.mark.parametrize("line_l", [0.2399, 0.24, 0.31])
def test_a_shuttle_renews_nothing(cycles: int, line_l: float) -> None:
    """Where the line holds the stroke, no new fluid reaches the chamber; just below, it does."""
    machine = behind_new_fluid(
        leg("one", "feed", line_l=line_l, stroke_l=0.24, dead_l=0.06, returns_to="gallery")
    )
    exercise = Exercise(groups=("one",), period_s=60.0)
    work = recipe(*RENEWED, FLUSH, Exchange(litres_m3=cycles * LITRE, exercise=exercise))
    left = share(simulate(machine, work, regime="plug"), "one.chamber")

    if line_l >= 0.24:
        assert left == pytest.approx(1.0, abs=1e-12)
    else:
        assert left == pytest.approx((0.2999 / 0.3) ** cycles, abs=1e-9)
