"""Whatever the circuit, every part has its place and nothing lies on anything else."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings

import ullage.circuit
from tests.unit.drawing.circuits import ALL
from tests.unit.drawing.strategies import circuits
from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3
from ullage.drawing.layout import lay_out
from ullage.drawing.placed import Box, Kind, Layout, Shape, Wire
from ullage.formats.circuit_file import read_circuit

TEMPLATES = sorted((Path(ullage.circuit.__file__).parent / "data").glob("*.circuit.toml"))


def _all_circuits() -> list[Circuit]:
    """Return the templates and our own small circuits."""
    return [*(read_circuit(path) for path in TEMPLATES), *(make() for make in ALL)]


def _outside(box: Box, layout: Layout) -> bool:
    """Tell whether a box leaves the sheet."""
    return (
        box.x < -0.01
        or box.y < -0.01
        or box.right > layout.width + 0.01
        or box.bottom > layout.height + 0.01
    )


def _collisions(layout: Layout) -> list[str]:
    """Return what lies on what; figures may lie on the one part that they are about."""
    found: list[str] = []
    for one, other in combinations(layout.symbols, 2):
        if one.box.overlaps(other.box):
            found.append(f"{one.kind} {one.parts} on {other.kind} {other.parts}")
    for one, other in combinations(layout.labels, 2):
        if one.box.overlaps(other.box):
            found.append(f"label {one.rows} {one.part} on label {other.rows} {other.part}")
    for label in layout.labels:
        for symbol in layout.symbols:
            on_it = label.on in symbol.parts and bool(label.on)
            if label.box.overlaps(symbol.box) and not on_it:
                found.append(f"label {label.rows} {label.part} on {symbol.kind} {symbol.parts}")
    return found


def _crosses(wire: Wire, box: Box) -> bool:
    """Tell whether a wire runs through a rectangle."""
    for a, b in zip(wire.corners, wire.corners[1:], strict=False):
        stretch = Box(
            x=min(a.x, b.x),
            y=min(a.y, b.y),
            width=max(abs(a.x - b.x), 0.1),
            height=max(abs(a.y - b.y), 0.1),
        )
        if stretch.overlaps(box, slack=0.0):
            return True
    return False


def _struck_through(layout: Layout) -> list[str]:
    """Return the labels and symbols that a wire runs through, where it should end or go around."""
    entered = (Kind.RESERVOIR, Kind.WASTE)
    found = [
        f"{wire.corners} through label {label.rows} {label.part}"
        for label in layout.labels
        for wire in layout.wires
        if _crosses(wire, label.box)
    ]
    for symbol in layout.symbols:
        box = symbol.box
        inner = Box(x=box.x + 2.0, y=box.y + 2.0, width=box.width - 4.0, height=box.height - 4.0)
        if symbol.kind in entered or inner.width <= 0.0 or inner.height <= 0.0:
            continue
        found += [
            f"{wire.corners} through {symbol.kind} {symbol.parts}"
            for wire in layout.wires
            if _crosses(wire, inner)
        ]
    return found


def _held_parts(layout: Layout) -> list[str]:
    """Return every part whose fluid is drawn, gas volumes beside their chambers left out."""
    kinds = {Kind.GAS, Kind.CHECK, Kind.PILOT_CHECK, Kind.CONTROLLED}
    return sorted(
        part for symbol in layout.symbols if symbol.kind not in kinds for part in symbol.parts
    )


def _check(circuit: Circuit, shape: Shape, *, is_banded: bool) -> None:
    """Hold one drawing to everything that all of them promise."""
    layout = lay_out(circuit, shape, is_banded=is_banded, has_run=True)

    assert _collisions(layout) == []
    assert [s for s in layout.symbols if _outside(s.box, layout)] == []
    assert [label for label in layout.labels if _outside(label.box, layout)] == []
    assert _held_parts(layout) == sorted(content_m3(circuit, Numbers()))
    assert _struck_through(layout) == []


@pytest.mark.parametrize("shape", Shape)
@pytest.mark.parametrize("circuit", _all_circuits(), ids=lambda circuit: circuit.name)
def test_nothing_overlaps_and_nothing_is_missing(circuit: Circuit, shape: Shape) -> None:
    """All templates and each of our own circuits, with bands and without."""
    _check(circuit, shape, is_banded=False)
    _check(circuit, shape, is_banded=True)


@settings(max_examples=150)
@given(circuits())
def test_no_valid_circuit_overlaps(circuit: Circuit) -> None:
    """Any circuit that the rules let through is drawn whole, in both shapes."""
    for shape in Shape:
        _check(circuit, shape, is_banded=True)


def test_the_upright_templates_fit_a_phone() -> None:
    """Nobody has to turn the phone or to zoom for a template that comes with the program."""
    widths = {
        path.name: lay_out(read_circuit(path), Shape.UPRIGHT, is_banded=True, has_run=True).width
        for path in TEMPLATES
    }

    assert {name: width for name, width in widths.items() if width > 372.0} == {}


def test_pressure_goes_up_on_the_left_and_comes_down_on_the_right() -> None:
    """What the fluid meets first stands left of what it meets last, the reservoir below both."""
    for shape in Shape:
        layout = lay_out(ALL[0](), shape, is_banded=False, has_run=True)
        box = {symbol.parts[0]: symbol.box for symbol in layout.symbols if symbol.parts}

        assert box["suction"].y > box["pump-body"].y > box["supply"].y
        assert box["return"].y < box["filter"].y < box["reservoir"].y
        assert box["supply"].right < box["valve-block"].x < box["return"].x


def test_a_pair_of_legs_is_one_cylinder() -> None:
    """A double-acting actuator shows both chambers on the two sides of one piston."""
    layout = lay_out(ALL[1](), Shape.WIDE, is_banded=False, has_run=True)
    pairs = [symbol.parts for symbol in layout.symbols if symbol.kind is Kind.PAIR]

    assert pairs == [("rack-left.chamber", "rack-right.chamber")]
