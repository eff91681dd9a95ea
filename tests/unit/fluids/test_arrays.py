"""A formula gives for an array what it gives for each of its numbers."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from tests.unit.fluids.array_cases import CASES, OIL, Case
from ullage.errors import Contradiction, OutOfRange
from ullage.fluids.blend import blend_nu_m2_s, old_fraction_from_viscosity
from ullage.fluids.drain_fill import drains
from ullage.fluids.heat import time_to_temperature
from ullage.fluids.optics import old_share
from ullage.fluids.pipe_flow import pressure_loss, regime_of, reynolds
from ullage.fluids.reservoir import varying_volume
from ullage.fluids.residence import residence_time
from ullage.fluids.settling import settling
from ullage.fluids.washout import mixed

# Rounding of exp and log differs by a few of the last digits between math and numpy.
ROUNDING = 2e-12
# Where a slope is a small difference of two such figures, the share that is rounding is larger.
ROUNDING_OF_SLOPES = 1e-9


def label(case: Case) -> str:
    """Return a name for the test report."""
    return f"{case.name}-{'-'.join(str(value) for value in case.fixed.values())}"[:60]


def figures(answer: Any) -> dict[str, Any]:
    """Return the numbers of an answer by the name of their field."""
    if not dataclasses.is_dataclass(answer):
        return {"": answer}
    fields = {field.name: getattr(answer, field.name) for field in dataclasses.fields(answer)}
    return {name: value for name, value in fields.items() if name not in ("caveats", "rule")}


def from_slopes(name: str) -> bool:
    """Tell whether a figure is made of slopes: an uncertainty, or a change per change."""
    return name.startswith("u_") or "_per_" in name


def codes(answer: Any) -> set[str]:
    """Return the codes of the caveats of an answer."""
    return {caveat.code for caveat in getattr(answer, "caveats", ())}


def in_turn(case: Case) -> Iterator[tuple[tuple[int, ...], dict[str, float]]]:
    """Go through all combinations of a case's values, with their place in the outer product."""
    for place in itertools.product(*(range(len(values)) for values in case.values.values())):
        yield (
            place,
            {
                name: values[at]
                for (name, values), at in zip(case.values.items(), place, strict=True)
            },
        )


@pytest.mark.parametrize("case", CASES, ids=label)
def test_an_array_gives_what_its_numbers_give(case: Case) -> None:
    """Each parameter along an axis of its own: every combination is what the numbers alone give."""
    axes = np.ix_(*(np.array(values) for values in case.values.values()))
    found = case.work(**dict(zip(case.values, axes, strict=True)), **case.fixed)

    shape = tuple(len(values) for values in case.values.values())
    assert {np.shape(value) for value in figures(found).values()} == {shape}
    alone_codes: set[str] = set()
    for place, numbers in in_turn(case):
        alone = case.work(**numbers, **case.fixed)
        alone_codes |= codes(alone)
        for name, value in figures(alone).items():
            assert not isinstance(value, np.generic | np.ndarray), (case.name, name)
            one = figures(found)[name][place]
            if isinstance(value, float | int):
                near = ROUNDING_OF_SLOPES if from_slopes(name) else ROUNDING
                assert one == pytest.approx(value, rel=near, abs=1e-15), (name, numbers)
            else:
                assert one is value
    assert codes(found) == alone_codes


@pytest.mark.parametrize("case", CASES, ids=label)
def test_one_array_among_numbers_is_enough(case: Case) -> None:
    """Any one parameter may be an array while the others stay numbers."""
    first = {name: values[0] for name, values in case.values.items()}
    for name, values in case.values.items():
        found = case.work(**{**first, name: np.array(values)}, **case.fixed)

        assert {np.shape(value) for value in figures(found).values()} == {(len(values),)}


@pytest.mark.parametrize("case", CASES, ids=label)
def test_a_number_that_is_none_is_named_by_its_place(case: Case) -> None:
    """The refusal says which element of which parameter it was."""
    first = {name: values[0] for name, values in case.values.items()}
    is_ours = not case.name.startswith("blend.blend_nu") and case.name != "blend.mass_fractions"
    for name, values in case.values.items():
        wrong = np.array([values[0], float("nan"), float("nan")])

        with pytest.raises(OutOfRange, match="got nan") as refused:
            case.work(**{**first, name: wrong}, **case.fixed)
        assert refused.value.name.endswith("[1]")
        if is_ours:
            assert refused.value.name == f"{name}[1]"


def test_the_first_element_outside_is_named_with_its_value() -> None:
    """Index and value in one sentence, in the words that a number gets."""
    flows = np.array([[1e-4, 2e-4], [3e-4, -5e-4]])

    with pytest.raises(OutOfRange) as refused:
        reynolds(flow_m3_s=flows, bore_m=0.008, nu_m2_s=15e-6)
    assert str(refused.value) == "flow_m3_s[1, 1] must be at least 0 m3/s, got -0.0005 m3/s"


def test_a_limit_that_is_an_array_is_held_against_its_own_element() -> None:
    """Start and end of a warming differ from element to element."""
    with pytest.raises(OutOfRange) as refused:
        time_to_temperature(
            power_w=np.array([1500.0, 100.0]),
            ua_w_k=12.0,
            heat_capacity_j_k=60e3,
            ambient_k=288.15,
            start_k=288.15,
            target_k=333.15,
        )
    assert refused.value.name == "target_k[1]"
    assert "between 288.15 K and 296.483 K" in str(refused.value)


@pytest.mark.parametrize(
    ("work", "given", "said"),
    [
        (
            settling,
            {
                "diameter_m": np.array([1e-4, 1e-2]),
                "rho_particle_kg_m3": 7850.0,
                "rho_kg_m3": 870.0,
                "nu_m2_s": 46e-6,
            },
            r"diameter_m\[1\] .* got 0.01 m \(particle",
        ),
        (
            varying_volume,
            {
                "start_m3": 0.001,
                "in_m3_s": 0.0,
                "out_m3_s": 1e-4,
                "time_s": np.array([5.0, 9.0, 11.0]),
            },
            r"time_s\[2\] must be below 10 s, got 11 s",
        ),
        (
            old_share,
            {
                "old_absorbance": 1.2,
                "new_absorbance": 0.2,
                "mix_absorbance": np.array([0.5, 1.5, 0.0]),
            },
            r"mix_absorbance\[1\] .* got 1.5; darker than",
        ),
        (OIL.nu_m2_s, {"temperature_k": np.array([300.0, 30.0])}, r"temperature_k\[1\] .* 30 K"),
    ],
)
def test_what_only_physics_refuses_is_named_too(work: Any, given: Any, said: str) -> None:
    """Not only limits of one parameter, but what follows from several, has a place."""
    with pytest.raises(OutOfRange, match=said):
        work(**given)


def test_a_sample_of_a_third_fluid_is_named_among_many() -> None:
    """A contradiction says which reading it is."""
    with pytest.raises(Contradiction, match=r"mixture_m2_s\[2\] must lie between"):
        old_fraction_from_viscosity(
            mixture_m2_s=np.array([40e-6, 50e-6, 90e-6]), old_m2_s=32e-6, new_m2_s=68e-6
        )


def test_a_mixture_that_does_not_add_up_is_named_by_its_place() -> None:
    """The shares of one of several mixtures miss 1."""
    share = np.array([0.2, 0.5])

    with pytest.raises(OutOfRange, match=r"fractions\[1\] .* a sum of 0.9"):
        blend_nu_m2_s(nu_m2_s=[32e-6, 68e-6], fractions=[share, np.array([0.8, 0.4])])


def test_a_caveat_of_an_array_says_where() -> None:
    """How many elements it is about, and which is the first."""
    found = pressure_loss(
        flow_m3_s=np.array([1e-5, 2.4e-4, 2.5e-4]),
        bore_m=0.008,
        length_m=50.0,
        nu_m2_s=15e-6,
        rho_kg_m3=870.0,
    )

    (caveat,) = found.caveats
    assert caveat.code == "transitional-flow"
    assert caveat.text.endswith("(2 of 3 values, the first at [1])")


def test_fields_of_a_result_cannot_be_written() -> None:
    """A result stays what it was, and the reader's own array stays his."""
    turnovers = np.array([1.0, 2.0])
    found = mixed(turnovers=turnovers)

    with pytest.raises(ValueError, match="read-only"):
        found.inside_vfrac[0] = 0.0
    turnovers[0] = 3.0
    assert found.inside_vfrac[0] == pytest.approx(np.exp(-1.0))


def test_regimes_of_an_array_compare_element_by_element() -> None:
    """A regime array picks out elements as a mask."""
    re = np.array([1000.0, 3000.0, 5000.0])
    regimes = regime_of(re)

    assert list(re[regimes == regime_of(1.0)]) == [1000.0]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ([1e-4, 2e-4], "flow_m3_s must be a number or a numpy array, got list"),
        (np.array([1e-4], dtype=np.float32), "64-bit floats or whole numbers, got float32"),
        (np.array(["1e-4"]), "64-bit floats or whole numbers, got <U4"),
        (np.array([True]), "64-bit floats or whole numbers, got bool"),
    ],
)
def test_what_is_no_array_of_numbers_is_a_mistake_of_the_program(wrong: Any, said: str) -> None:
    """Lists, texts and short floats are refused with the way out, not half understood."""
    with pytest.raises(TypeError, match=said):
        reynolds(flow_m3_s=wrong, bore_m=0.008, nu_m2_s=15e-6)


def test_shapes_that_do_not_fit_are_a_mistake_of_the_program() -> None:
    """Three flows and two bores belong on axes of their own."""
    with pytest.raises(ValueError, match="broadcast"):
        reynolds(flow_m3_s=np.ones(3), bore_m=np.ones(2), nu_m2_s=15e-6)


def test_nothing_in_gives_nothing_out() -> None:
    """An empty array is an array."""
    assert reynolds(flow_m3_s=np.empty(0), bore_m=0.008, nu_m2_s=15e-6).shape == (0,)


def test_whole_numbers_and_numpy_numbers_are_numbers() -> None:
    """Arrays of integers, and a single number out of an array, are taken as they are."""
    assert reynolds(flow_m3_s=np.array([1, 2]), bore_m=1, nu_m2_s=1)[1] == pytest.approx(
        reynolds(flow_m3_s=2.0, bore_m=1.0, nu_m2_s=1.0)
    )
    assert isinstance(reynolds(flow_m3_s=np.float64(1.0), bore_m=1.0, nu_m2_s=1.0), float)


def test_a_curve_may_come_as_arrays() -> None:
    """What takes a list of readings takes an array of them, and gives the same plain numbers."""
    times_s, tracer = [0.0, 5.0, 10.0, 15.0], [0.0, 3.0, 5.0, 0.0]

    assert residence_time(
        times_s=np.array(times_s), concentrations=np.array(tracer)
    ) == residence_time(times_s=times_s, concentrations=tracer)
    assert drains(total_m3=0.01, drained_m3=np.array([0.004, 0.004])) == drains(
        total_m3=0.01, drained_m3=[0.004, 0.004]
    )
