"""What is possible but doubtful is said, and what is not doubtful is not."""

from __future__ import annotations

import re

import pytest

from tests.unit.formats.texts import CIRCUIT
from ullage.circuit.catalogue import Template, circuit_templates
from ullage.circuit.doubts import doubts
from ullage.formats.circuit_file import parse_circuit


def codes(old: str, new: str) -> list[str]:
    """Return the doubts about the circuit that has everything, with one place changed."""
    assert old in CIRCUIT
    return [doubt.code for doubt in doubts(parse_circuit(CIRCUIT.replace(old, new, 1), "c"))]


@pytest.mark.parametrize("template", circuit_templates(), ids=lambda template: template.name)
def test_built_in_circuits_are_beyond_doubt(template: Template) -> None:
    """What people start from should not begin with a warning."""
    assert doubts(parse_circuit(template.text, template.name)) == ()


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('class = "HV"\nparticles_per_ml = [9000', "particles_per_ml = [9000", "class-unknown"),
        ('class = "HV"\nparticles_per_ml = [2500',
         'class = "HEES"\nparticles_per_ml = [2500', "families-differ"),
        ('divert_after = "return"\n', "", "no-diverter"),
        ("stroke_l = 0\ngas = { volume_l = 0.5, precharge_bar = 50, working_bar = 100 }",
         "stroke_l = 0\ndead_l = 0.1", "leg-never-moves"),
        ("dead_l = 0.06\n", "", "no-dead-volume"),
        ('group = "arm"', 'group = "lifting"', "pair-in-two-groups"),
        ("stroke_l = 0.5\n", "stroke_l = { best = 0.24, spread_pct = 25 }\n", "same-guess"),
        ("minimum_l = 2.0", "minimum_l = { best = 5.0, spread_pct = 30 }", "spreads-overlap"),
    ],
)  # fmt: skip
def test_a_doubt_is_said(old: str, new: str, code: str) -> None:
    """One change, one doubt."""
    assert codes(old, new) == [code]


def test_one_guess_with_a_name_is_no_doubt() -> None:
    """`as` on both is what the doubt asked for."""
    named = '{ best = 0.24, spread_pct = 25, as = "stroke" }'
    text = CIRCUIT.replace("{ best = 0.24, spread_pct = 25 }", named)
    text = text.replace("stroke_l = 0.5\n", f"stroke_l = {named}\n")

    assert doubts(parse_circuit(text, "c")) == ()


def test_a_circuit_known_exactly_is_doubted() -> None:
    """Nobody knows every volume to the last drop."""
    text = re.sub(r"\{ best = ([\d.]+)[^}]*\}", r"\1", CIRCUIT)

    assert [doubt.code for doubt in doubts(parse_circuit(text, "c"))] == ["no-spreads"]
