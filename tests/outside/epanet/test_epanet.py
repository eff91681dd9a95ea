"""Does the solver move fluid through lines and vessels as EPANET does?"""

from __future__ import annotations

import csv
import importlib.util
import warnings
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from tests.outside.closed_forms.circuits import (
    LITRE,
    RENEWED,
    circuit,
    line,
    node,
    recipe,
    reservoir,
)
from tests.outside.epanet import produce
from tests.outside.rows import OutsideRow
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Path as Way
from ullage.circuit.uncertain import exact
from ullage.transport.layout import FINE
from ullage.transport.recipe import Exchange
from ullage.transport.result import Run
from ullage.transport.solve import simulate

TOLERANCE = 0.001


def circuit_of(network: str) -> Circuit:
    """Return the circuit that a network of EPANET stands for, behind a great deal of new fluid."""
    lines, branch = produce.LINES_L, produce.BRANCH_L
    if network == "series":
        nodes = produce.NODES_L
        return circuit(
            [
                line("first", lines["first"]),
                node("block", nodes["block"]),
                line("second", lines["second"]),
                node("cooler", nodes["cooler"]),
                line("last", lines["last"]),
            ],
            reservoir(100.0),
        )
    ways = [
        Way(id=side, through=("first", side, "last"), share=exact(share), divert_after="last")
        for side, share in (("left", produce.LEFT_SHARE), ("right", 1.0 - produce.LEFT_SHARE))
    ]
    parts = [line("first", lines["first"]), line("last", lines["last"])]
    parts += [line(side, branch[side]) for side in branch]
    return circuit(parts, reservoir(100.0), paths=ways)


@cache
def run_of(network: str, through_l: float) -> Run:
    """Return the solver's run until so many litres have gone through."""
    work = recipe(*RENEWED, Exchange(litres_m3=through_l * LITRE))
    return simulate(circuit_of(network), work, regime="plug", resolution=FINE)


def share(network: str, part: str, through_l: float) -> float:
    """Return the old share of a part."""
    found = run_of(network, through_l).parts[part]
    return float(found.old_m3[0] / found.fluid_m3[0])


def stored() -> dict[tuple[str, str, float], float]:
    """Return the figures of ``expected.csv``."""
    with (Path(__file__).parent / "expected.csv").open(encoding="utf-8", newline="") as file:
        return {
            (found["network"], found["part"], float(found["through_l"])): float(found["old_share"])
            for found in csv.DictReader(file)
        }


def compared(figures: Mapping[tuple[str, str, float], float]) -> list[OutsideRow]:
    """Return a row for each figure."""
    return [
        OutsideRow(
            subject=f"washout run: {network}, {part} after {through_l} L",
            quantity="old share inside [-]",
            ours=share(network, part, through_l),
            theirs=theirs,
            tolerance=TOLERANCE,
            source="EPANET 2.2 through wntr 1.5.0, tests/outside/epanet/produce.py",
            provenance="library",
            kind="code",
            reason="EPANET steps by 1/300 L and merges segments closer than 0.05 %",
        )
        for (network, part, through_l), theirs in figures.items()
    ]


def rows() -> list[OutsideRow]:
    """Return every comparison with the stored figures."""
    return compared(stored())


def test_the_solver_agrees_with_epanet() -> None:
    """Every part at every moment is within 0.1 % of full scale of the stored figures."""
    wrong = [f"{row.subject}: {row.ours:.5f}, {row.theirs:.5f}" for row in rows() if not row.agrees]

    assert wrong == []


def test_a_live_run_of_epanet_gives_the_stored_figures() -> None:
    """Where EPANET can be run, it still says what is stored."""
    # wntr needs six and does not say so.
    if importlib.util.find_spec("wntr") is None or importlib.util.find_spec("six") is None:
        pytest.skip("wntr is not installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        live = produce.solve()

    assert live == pytest.approx(stored(), abs=1e-5)
