"""Codes through a recipe, and how long closed filtering takes, by solver and by closed form."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import bench, built_in
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Node, Path
from ullage.circuit.uncertain import exact
from ullage.circuit.volumes import Numbers, pump_flow_m3_s
from ullage.errors import OutOfRange
from ullage.fluids.cleanliness import parse_code
from ullage.fluids.filtration import FilterLoop, time_to_concentration
from ullage.formats.recipe_file import parse_recipe
from ullage.planning.element import Element
from ullage.planning.filtering import (
    bound_per_m3,
    cleaned_share,
    cleaning_time,
    cleaning_time_by_solver_s,
    dirt,
    ingress_per_s,
    loop_volume_m3,
)
from ullage.transport.examples import recipe_template
from ullage.transport.recipe import Circulate, Recipe


def small_housing() -> Circuit:
    """Return three litres that go round through a small housing with a tested element."""
    node = Node(
        id="filter", volume_m3=exact(2e-5), element=True, beta_um=10.0, beta=75.0, is_nominal=False
    )
    return replace(
        bench(),
        nodes=(node,),
        paths=(Path(id="main", through=("filter",), divert_after="filter"),),
        fluid=replace(bench().fluid, particles_per_m3=(9e9, 2.4e9, 1.8e8)),
    )


def closed_s(circuit: Circuit, size_um: float, first: float, target: float) -> float:
    """Return the time of the closed form without ingress."""
    loop = FilterLoop(
        volume_m3=loop_volume_m3(circuit),
        flow_m3_s=float(pump_flow_m3_s(circuit, Numbers())[0]),
        efficiency_share=cleaned_share(circuit, size_um=size_um),
    )
    return time_to_concentration(loop=loop, start_per_m3=first, target_per_m3=target).time_s


@pytest.mark.parametrize("size_um", [4.0, 6.0, 14.0])
def test_solver_and_closed_form_agree_in_a_mixed_loop(size_um: float) -> None:
    """A housing of less than a hundredth of the reservoir: within 2 %."""
    circuit = small_housing()
    ours = cleaning_time_by_solver_s(circuit, size_um=size_um, first_per_m3=8e9, target_per_m3=1e9)

    assert ours == pytest.approx(closed_s(circuit, size_um, 8e9, 1e9), rel=0.02)


def test_solver_and_closed_form_agree_on_the_loader() -> None:
    """Its reservoir is most of its loop: within 5 %."""
    loader = built_in("compact-loader")
    ours = cleaning_time_by_solver_s(loader, size_um=4.0, first_per_m3=9e9, target_per_m3=1.1e9)

    assert ours == pytest.approx(closed_s(loader, 4.0, 9e9, 1.1e9), rel=0.05)


def test_a_loop_of_long_lines_is_cleaned_sooner_than_the_closed_form_says() -> None:
    """In the van fluid passes the filter in turn and not at random: the closed form is cautious."""
    van = built_in("levelling-van")
    ours = cleaning_time_by_solver_s(van, size_um=4.0, first_per_m3=9e9, target_per_m3=1.1e9)

    assert 0.4 * closed_s(van, 4.0, 9e9, 1.1e9) < ours < closed_s(van, 4.0, 9e9, 1.1e9)


def test_time_to_a_code_is_that_of_its_slowest_size() -> None:
    """From 9000 to the bound of 18, 2500, at 4 um, where least is held back."""
    circuit = small_housing()
    found = cleaning_time(circuit, target=parse_code("18/16/13"))

    assert found.slowest_um == 4.0
    assert found.time_s == pytest.approx(closed_s(circuit, 4.0, 9e9, 2.5e9))


def test_dirt_that_gets_in_keeps_the_present_code() -> None:
    """With the ingress that made the fluid so dirty the same element never does better."""
    circuit = small_housing()
    found = cleaning_time(circuit, target=parse_code("18/16/13"), with_ingress=True)

    assert found.time_s is None
    assert found.steady.text == "20/18/15"
    assert ingress_per_s(circuit, size_um=14.0) == pytest.approx(1.8e8 * 1e-4 * (1 - 1 / 75))


def test_codes_through_a_recipe() -> None:
    """The van's fluid is 20/18/15 at first; an exchange through the element makes it cleaner."""
    van = built_in("levelling-van")
    recipe = parse_recipe(recipe_template("levelling-van-divert-axles").text, "axles")
    found = dirt(van, recipe)
    first, last = found.steps[0], found.steps[-1]

    assert first.code is not None
    assert last.code is not None
    assert first.code.text == "20/18/15"
    assert last.code.meets(first.code)
    assert last.parts["reservoir"].meets(last.parts["rear-left.chamber"])
    assert first.water_wfrac == pytest.approx(210e-6)
    assert last.water_wfrac is not None
    assert 60e-6 < last.water_wfrac < 210e-6
    assert all(run.error < 1e-11 for run in found.runs)


def test_a_nominal_element_cleans_less() -> None:
    """The same ten minutes with a nominal three in the housing leave more behind."""
    van = built_in("levelling-van")
    recipe = Recipe(name="closed", steps=(Circulate(duration_s=600.0),))
    tested = dirt(van, recipe)
    nominal = dirt(van, recipe, elements={"filter": Element(size_um=3.0, ratio=None)})

    assert nominal.runs[2].steps[0].mean > tested.runs[2].steps[0].mean


def test_nothing_counted_nothing_said() -> None:
    """Without counts and water there is a caveat and no code."""
    found = dirt(bench(), Recipe(name="closed", steps=(Circulate(duration_s=60.0),)))

    assert found.steps == ()
    assert [caveat.code for caveat in found.caveats] == ["particles-unknown"]


def test_bounds_are_those_of_the_table() -> None:
    """18 covers up to 2500 a millilitre."""
    assert bound_per_m3(18) == pytest.approx(2.5e9)


def test_uncounted_fluid_has_no_time() -> None:
    """Somebody has to count first."""
    with pytest.raises(OutOfRange, match="particles_per_ml"):
        cleaning_time(built_in("scissor-lift"))
