"""A recipe that a circuit cannot carry out is refused, with the reason; what surprises is told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ullage.circuit.catalogue import Template, circuit_template, circuit_templates
from ullage.circuit.network import Circuit
from ullage.errors import Fault
from ullage.formats.circuit_file import parse_circuit
from ullage.formats.recipe_file import parse_recipe
from ullage.transport.examples import recipe_template, recipe_templates
from ullage.transport.recipe import Exchange, Exercise, Recipe, Step
from ullage.transport.refusals import refusals, warnings

HEAD = 'format = "ullage-recipe/1"\nname = "tried"\ntemperature_degc = 60\n'


def built_in(name: str) -> Circuit:
    """Return a built-in circuit."""
    return parse_circuit(circuit_template(name).text, name)


def recipe(*steps: str) -> Recipe:
    """Return a recipe of steps written as `do; key = value; ...`."""
    text = HEAD
    for step in steps:
        do, *keys = step.split("; ")
        text += "\n".join(["[[step]]", f'do = "{do}"', *keys, ""])
    return parse_recipe(text, "tried")


def only_fault(circuit: Circuit, tried: Recipe) -> Fault:
    """Return the one reason for which a recipe is refused."""
    (fault,) = refusals(circuit, tried)
    return fault


@pytest.mark.parametrize("template", recipe_templates(), ids=lambda template: template.name)
def test_built_in_recipes_can_be_carried_out(template: Template) -> None:
    """Each built-in recipe belongs to a built-in circuit, and runs on it without a refusal."""
    name = template.name
    owner = next(t for t in circuit_templates() if name.startswith(f"{t.name}-"))
    circuit = parse_circuit(owner.text, owner.name)
    found = parse_recipe(recipe_template(name).text, name)

    assert refusals(circuit, found) == ()
    # The lift's power pack must rest; nothing else in the built-in recipes is worth a warning.
    assert {note.code for note in warnings(circuit, found)} <= {"duty-exceeded"}


@pytest.mark.parametrize(
    ("machine", "steps", "key", "says"),
    [
        ("levelling-van", ["exchange; litres = 4; exercise = ['fornt']"], "step[1].exercise",
         ("'fornt'", "neither a group nor a leg", 'did you mean "front"?')),
        ("levelling-van", ["retract; legs = ['midle']"], "step[1].legs",
         ("'midle'", "there are: front, rear, front-left")),
        ("levelling-van", ["bleed; leg = 'front'; litres = 1"], "step[1].leg",
         ("'front'", "is no leg", "front-left")),
        ("rack-steering", ["bleed; leg = 'rack-left'; litres = 0.1"], "step[1].leg",
         ("'rack-left'", "has no bleed point", "bleed = true")),
        ("levelling-van", ["fill; to_l = 3.6"], "step[1].to_l",
         ("3.6", "above the brim", "at most brim_l = 3.45", "full_l = 2.8")),
        ("levelling-van", ["draw-off", "circulate; minutes = 1"], "step[2].do",
         ("'circulate'", "0.2 L in the reservoir", "minimum of 1.0 L", 'do = "fill" before')),
        ("levelling-van", ["draw-off", "extend"], "step[2].do", ("'extend'", "may draw air")),
        ("levelling-van", ["draw-off", "bleed; leg = 'front-left'; litres = 1"], "step[2].do",
         ("'bleed'", "0.2 L")),
        ("auto-gearbox", ["exchange; litres = 4"], "step[1].do",
         ("'exchange'", "closed by its thermostat at 60 degC", "from 75 degC", "warm the fluid")),
        ("auto-gearbox", ["circulate; minutes = 1; exercise = ['clutches']"], "step[1].exercise",
         ("'clutch-forward'", 'held by a "controller"', "counts as a floor")),
        ("auto-gearbox", ["retract; legs = ['clutch-reverse']"], "step[1].legs",
         ("'clutch-reverse'", "cannot retract")),
        ("wheel-brakes", ["exchange; litres = 0.1"], "step[1].do",
         ("'exchange'", "every path here is a dead end", 'do = "bleed"')),
        ("wheel-brakes", ["circulate; minutes = 1"], "step[1].do", ("'circulate'", "dead end")),
    ],
)  # fmt: skip
def test_a_recipe_is_refused(
    machine: str, steps: list[str], key: str, says: tuple[str, ...]
) -> None:
    """Step and key, the value, what is allowed and what to do."""
    faults = refusals(built_in(machine), recipe(*steps))
    sentence = faults[0].sentence()

    assert {fault.key for fault in faults} == {key}
    assert [word for word in says if word not in sentence] == []


def test_an_exchange_needs_a_diverter() -> None:
    """Without divert_after nothing can go to waste."""
    van = built_in("levelling-van")
    closed = replace(van, paths=tuple(replace(path, divert_after=None) for path in van.paths))
    fault = only_fault(closed, recipe("exchange; litres = 4"))

    assert fault.key == "step[1].do"
    assert "needs a diverter" in fault.sentence()


def test_a_leg_behind_the_diverter_stands_still() -> None:
    """It can be exercised while circulating, and not in an exchange."""
    van = built_in("levelling-van")
    early = replace(van, paths=tuple(replace(path, divert_after="supply") for path in van.paths))
    faults = refusals(early, recipe("exchange; litres = 4; exercise = ['front']"))

    assert {fault.value for fault in faults} == {"front-left", "front-right"}
    assert all("behind the diverter" in fault.sentence() for fault in faults)
    assert refusals(early, recipe("circulate; minutes = 2; exercise = ['front']")) == ()


def test_warm_enough_the_thermostat_opens() -> None:
    """The same exchange at 80 degC is no fault: a step may have its own temperature."""
    tried = recipe("exchange; litres = 4; temperature_degc = 80")

    assert refusals(built_in("auto-gearbox"), tried) == ()


def test_after_a_fill_the_pump_may_start() -> None:
    """The level is followed from step to step."""
    tried = recipe("draw-off", "fill", "circulate; minutes = 1")

    assert refusals(built_in("levelling-van"), tried) == ()


def test_what_the_legs_give_back_counts() -> None:
    """Retracting fills the reservoir enough for the pump to start."""
    van = built_in("levelling-van")
    low, run = "draw-off; leave_l = 0.5", "circulate; minutes = 1"

    assert refusals(van, recipe(low, "retract", run)) == ()
    assert refusals(van, recipe(low, run)) != ()


def test_all_refusals_come_at_once() -> None:
    """Three steps, three faults."""
    tried = recipe(
        "fill; to_l = 9", "bleed; leg = 'nowhere'; litres = 1", "extend; legs = ['nobody']"
    )

    assert [fault.key for fault in refusals(built_in("levelling-van"), tried)] == [
        "step[1].to_l",
        "step[2].leg",
        "step[3].legs",
    ]


@pytest.mark.parametrize(
    ("step", "key"),
    [
        (Exchange(litres_m3=-1e-3), "step[1].litres"),
        (Exchange(litres_m3=1e-3, rev_s=-1.0), "step[1].rev_min"),
        (Exchange(litres_m3=1e-3, exercise=Exercise(cycles=-1)), "step[1].cycles"),
        (Exchange(litres_m3=1e-3, exercise=Exercise(period_s=0.0)), "step[1].period_s"),
    ],
)
def test_a_recipe_made_by_a_program_is_looked_at_too(step: Step, key: str) -> None:
    """Numbers that no file would let through are refused here."""
    assert only_fault(built_in("levelling-van"), Recipe(name="made", steps=(step,))).key == key


@pytest.mark.parametrize(
    ("machine", "steps", "code", "says"),
    [
        ("levelling-van", ["exchange; litres = 1; exercise = ['front', 'rear']"], "no-cycle-fits",
         ("step 1 (exchange)", "not one whole cycle fits")),
        ("levelling-van", ["exchange; litres = 3; exercise = ['front', 'rear']; period_s = 17"],
         "group-left-out", ("no cycle is left for rear",)),
        ("levelling-van", ["exchange; litres = 4; exercise = ['front']; period_s = 10"],
         "window-shortened", ("in 10 s", "a period of 13 s would do")),
        ("levelling-van", ["fill; to_l = 3.2"], "above-full", ("above the full mark",)),
        ("levelling-van", ["draw-off; leave_l = 1.2", "extend"],
         "below-minimum", ("falls below the minimum of 1.00 L",)),
        ("scissor-lift", ["circulate; minutes = 3"], "duty-exceeded",
         ("180 s", "60 s that it may", "stop 2 times for 120 s")),
        ("levelling-van", ["circulate; minutes = 3; exercise = ['front', 'front-left']; "
                           "period_s = 17"], "named-twice", ("front-left is named twice",)),
        ("rack-steering", ["release"], "no-gas", ("no leg of this circuit has a gas volume",)),
        ("rack-steering", ["swap-filter"], "no-element", ("element = true",)),
    ],
)  # fmt: skip
def test_a_recipe_is_warned_about(
    machine: str, steps: list[str], code: str, says: tuple[str, ...]
) -> None:
    """It can be carried out, and will surprise: the step and the reason are told."""
    circuit, tried = built_in(machine), recipe(*steps)
    notes = [note.text for note in warnings(circuit, tried) if note.code == code]

    assert refusals(circuit, tried) == ()
    assert len(notes) == 1
    assert [word for word in says if word not in notes[0]] == []


def test_doubts_about_the_circuit_are_told_too() -> None:
    """A class that nobody knows is worth a warning in every recipe."""
    van = built_in("levelling-van")
    unknown = replace(van, fluid=replace(van.fluid, class_="unknown"))

    assert "class-unknown" in {note.code for note in warnings(unknown, recipe("fill"))}
