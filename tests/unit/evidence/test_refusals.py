"""Readings that cannot have been taken are refused, with the place and the reason."""

from __future__ import annotations

import pytest

from tests.unit.formats.texts import CIRCUIT, EVIDENCE, RECIPE, spoilt
from ullage.circuit.catalogue import circuit_template
from ullage.evidence.forward import Forward
from ullage.evidence.likelihood import carried_out, readings_of
from ullage.evidence.refusals import evidence_faults
from ullage.formats.circuit_file import parse_circuit
from ullage.formats.evidence_file import parse_evidence
from ullage.formats.recipe_file import parse_recipe
from ullage.transport.examples import recipe_template
from ullage.transport.latent import latents_of


def test_readings_that_fit_are_not_refused() -> None:
    """The example fits its circuit and its recipe."""
    found = evidence_faults(
        parse_evidence(EVIDENCE, "e"), parse_circuit(CIRCUIT, "c"), parse_recipe(RECIPE, "r")
    )

    assert found == ()


@pytest.mark.parametrize(
    ("old", "new", "key", "says"),
    [
        ("after_step = 9", "after_step = 13", "sample[2].after_step",
         ("13", "the recipe has 12", "from 1 to 12")),
        ("after_step = 3\nat_step_l = 2.0", "after_step = 1", "sample[1].where",
         ("nothing has run out", "a step that exchanges")),
        ("at_step_l = 2.0", "at_step_l = 4.5", "sample[1].at_step_l",
         ("4.5", "no more than 4.0 L", "of this step alone")),
        ("after_step = 3\n", "after_step = 4\n", "sample[1].at_step_l",
         ("step 4 sends nothing to waste", "leave at_step_l out")),
        ('"leg:strut"', '"leg:strud"', "sample[2].where",
         ("'leg:strud'", "no leg", 'did you mean "strut"?')),
        ('ref = "strut"', 'ref = "bucket"', "sample[1].ref", ("'bucket'", "there are: strut")),
        ("step = 1\n", "step = 20\n", "volume[1].step", ("20", "no such step")),
        ("after_step = 2\n", "after_step = 20\n", "level[1].after_step", ("20", "no such step")),
        ("step = 3\nat_l = 2.9", "step = 2\nat_l = 2.9", "turn[1].step",
         ("step 2 is fill", "only an exchange has an outflow")),
        ("at_l = 2.9", "at_l = 4.9", "turn[1].at_l", ("4.9", "no more than 4.0 L")),
        ('leg = "strut"\npct', 'leg = "accumulator"\npct', "travel[1].leg",
         ("'accumulator'", "has no stroke")),
        ('leg = "strut"\npct', 'leg = "nobody"\npct', "travel[1].leg", ("'nobody'", "no leg")),
        ('group = "front"', 'group = "rear"', "cycles[1].group",
         ("'rear'", "neither a group nor a leg")),
        ('group = "front"', 'group = "arm"', "cycles[1].group",
         ("'arm'", "step 3 (exchange) does not exercise it", "there are: front, arm-base")),
        ('step = 3\ngroup', 'step = 14\ngroup', "cycles[1].step", ("14", "no such step")),
        ("step = 1\n", "step = 3\n", "volume[1].what",
         ("step 3 (exchange) does not draw anything off", "step 1")),
        ('"drawn-off"\nstep = 1', '"poured"\nstep = 1', "volume[1].what",
         ("step 1 (draw-off) does not take in new fluid", "step 2 or 3")),
        ('"drawn-off"\nstep = 1', '"waste"\nstep = 2', "volume[1].what",
         ("step 2 (fill) does not send anything to waste", "step 1 or 3")),
        ("count = 1", 'count = 1\n[[cycles]]\nstep = 3\ngroup = "front"\ncount = 2',
         "cycles[2].group", ("counted for step 3 already", "one count for a group")),
    ],
)  # fmt: skip
def test_a_reading_is_refused(old: str, new: str, key: str, says: tuple[str, ...]) -> None:
    """Steps, legs, groups and litres must be there for a reading to have been taken."""
    evidence = parse_evidence(spoilt("evidence", old, new), "e")
    (fault,) = evidence_faults(evidence, parse_circuit(CIRCUIT, "c"), parse_recipe(RECIPE, "r"))

    assert fault.key == key
    assert [word for word in says if word not in fault.sentence()] == []


def test_a_sample_needs_a_bleed_point() -> None:
    """A chamber without one gives nothing, and the sentence says how to put the file right."""
    circuit = spoilt("circuit", "bleed = true", "bleed = false")
    faults = evidence_faults(parse_evidence(EVIDENCE, "e"), parse_circuit(circuit, "c"))

    assert [fault.key for fault in faults] == ["sample[2].where"]
    assert "has no bleed point" in faults[0].sentence()
    assert "set bleed = true for this leg" in faults[0].sentence()


def test_what_a_bleed_lets_out_is_an_outflow() -> None:
    """After a bleed the last of it can be sampled, on a circuit without any diverter too."""
    circuit = parse_circuit(circuit_template("wheel-brakes").text, "c")
    recipe = parse_recipe(recipe_template("wheel-brakes-bleed").text, "r")
    text = 'format = "ullage-evidence/1"\n[[sample]]\nwhere = "outflow"\nold_pct = 5\n'
    after = [parse_evidence(f"{text}after_step = {n}\n", "e") for n in (2, 3)]

    assert [fault.key for fault in evidence_faults(after[0], circuit, recipe)] == [
        "sample[1].where"
    ]
    assert evidence_faults(after[1], circuit, recipe) == ()
    (reading,) = readings_of(after[1], circuit, recipe)
    shown = Forward(circuit, carried_out(recipe, circuit, after[1])).run(
        latents_of(circuit).drawn(seed=1, count=4)
    )
    assert reading.predict(shown) == pytest.approx(shown.part(shown.after(3), "rear-right.chamber"))


def test_nothing_is_timed_at_a_diverter_that_is_not_there() -> None:
    """A pedal pump pushes fluid out at bleed points alone."""
    circuit = parse_circuit(circuit_template("wheel-brakes").text, "c")
    read = parse_evidence('format = "ullage-evidence/1"\n[[flow]]\nlitres = 1\nseconds = 90\n', "e")
    (fault,) = evidence_faults(read, circuit)

    assert fault.key == "flow[1].litres"
    assert "no path of the circuit has one" in fault.sentence()


def test_without_a_recipe_only_the_circuit_is_asked() -> None:
    """A step that may exist is not judged."""
    evidence = parse_evidence(spoilt("evidence", "after_step = 9", "after_step = 99"), "e")

    assert evidence_faults(evidence, parse_circuit(CIRCUIT, "c")) == ()
