"""Lanes: what a cross-section is cut into, and what stands for several pieces in a row."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.transport.circuits import LITRE, machine
from ullage.circuit.parts import Line
from ullage.circuit.uncertain import exact
from ullage.transport.lanes import LANES, Regime, lanes_of
from ullage.transport.layout import FAST, Resolution
from ullage.transport.recipe import Circulate, Exchange, Recipe
from ullage.transport.result import Run
from ullage.transport.solve import simulate


@pytest.mark.parametrize("pieces", [1, 2, 3, 7, 30])
def test_lanes_carry_the_flow_and_hold_the_volume(pieces: int) -> None:
    """Shares of flow and of volume add up to one, and nothing passes faster than the axis."""
    lanes = lanes_of(Regime.LAMINAR, LANES, pieces)

    assert lanes.flow.size == LANES
    assert lanes.flow.sum() == pytest.approx(1.0, abs=1e-14)
    assert lanes.flow @ lanes.delay == pytest.approx(1.0, abs=1e-14)
    assert np.all(lanes.flow > 0.0)
    assert np.all(lanes.delay > 0.5)
    assert np.all(np.diff(lanes.delay) > 0.0)


@pytest.mark.parametrize("pieces", [2, 5])
def test_pieces_in_a_row_spread_as_their_sum_does(pieces: int) -> None:
    """Variances of independent delays add up, and so do third central moments."""
    one, whole = lanes_of(Regime.LAMINAR), lanes_of(Regime.LAMINAR, LANES, pieces)

    for power in (2, 3):
        of_one = one.flow @ (one.delay - 1.0) ** power
        of_whole = whole.flow @ (whole.delay - 1.0) ** power
        assert of_whole == pytest.approx(of_one * pieces / pieces**power, rel=1e-9)


def _flushed(resolution: Resolution, fittings: int) -> Run:
    """Return a run of 3 L through a laminar line of 0.6 L."""
    small = machine()
    line = Line(id="supply", volume_m3=exact(0.6 * LITRE), bore_m=exact(0.01), fittings=fittings)
    circuit = replace(small, lines=(line, small.lines[1]))
    steps = (Exchange(litres_m3=3 * LITRE), Circulate(duration_s=20.0))
    return simulate(
        circuit,
        Recipe(name="flush", steps=steps),
        regime="laminar",
        resolution=resolution,
        bracket=False,
    )


@pytest.mark.parametrize("fittings", [1, 2, 6])
def test_lanes_for_all_pieces_leave_what_pieces_in_a_row_leave(fittings: int) -> None:
    """The short way and the long one agree on the total to a fifth of a point."""
    apart = _flushed(replace(FAST, pieces_apart=True), fittings)
    together = _flushed(FAST, fittings)

    gap = float(together.remaining_share[0] - apart.remaining_share[0])
    assert abs(gap) < 2e-3
    held = together.parts["supply"].old_m3[0] - apart.parts["supply"].old_m3[0]
    assert abs(float(held)) < 2e-3 * 0.6 * LITRE * math.sqrt(fittings + 1)
